//! The lengths that steps take: powers of 2 and three between each and the next, evenly spaced.
//!
//! What a step's length decides about the equations is then worked out once for each rung.

/// Rungs from one power of 2 to the next.
const ROOTS: [f64; 4] =
    [1.0, 1.189_207_115_002_721, std::f64::consts::SQRT_2, 1.681_792_830_507_429];
/// The bits of an `f64` after its power of 2.
const FRACTION_BITS: u32 = 52;
/// Bits of the power that belongs to 1.
const BIAS: u64 = 1023;

/// The power of 2 not above a positive length, and how many times that the length is.
fn split(seconds: f64) -> (u64, f64) {
    let power = seconds.to_bits() >> FRACTION_BITS;
    let fraction = (seconds.to_bits() & ((1 << FRACTION_BITS) - 1)) | (BIAS << FRACTION_BITS);
    (power, f64::from_bits(fraction))
}

/// The longest rung not above a length of any normal size, s.
pub(crate) fn floor(seconds: f64) -> f64 {
    let (power, times) = split(seconds);
    let root = ROOTS.iter().rfind(|root| **root <= times).copied().unwrap_or(1.0);
    f64::from_bits(power << FRACTION_BITS) * root
}

/// The number of a rung, rising with its length; `None` of a length between two.
pub(crate) fn rung(seconds: f64) -> Option<u64> {
    let (power, times) = split(seconds);
    let place = (0..).zip(ROOTS).find(|(_, root)| root.total_cmp(&times).is_eq());
    place.map(|(place, _)| 4 * power + place)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rungs_lie_below_what_is_asked_for_by_no_more_than_a_fourth_of_an_octave() {
        let mut asked = 1.3e-17;
        while asked < 1e-3 {
            let found = floor(asked);
            assert!(found <= asked && asked < found * 1.1893, "{asked}: {found}");
            assert!(rung(found).is_some() && rung(found) == rung(floor(found)));
            let next = rung(floor(asked * 1.1893));
            assert!(next.is_some() && next != rung(found), "{asked}");
            asked *= 1.037;
        }
        assert_eq!(rung(1.1e-9), None);
    }
}
