//! Display transfer: light from drive.

use crate::base::math;
use crate::receiver::spec::Transfer;

/// Exponent of ITU-R BT.1886.
const BT1886: f64 = 2.4;

impl Transfer {
    /// Luminance relative to white, for a picture drive of 0 at black and 1 at white.
    ///
    /// Not clipped at white: a brighter drive gives more light. A drive so low that the beam is
    /// cut off gives 0.
    ///
    /// # Source
    ///
    /// ITU-R BT.1886, Annex 1: L = a max(V + b, 0)^2.4, here divided by the luminance of white.
    /// Plain powers: ITU-R BT.470 assumes 2.2 (system M) and 2.8 (systems B, G).
    #[must_use]
    pub fn luminance(self, drive: f64) -> f64 {
        match self {
            // a and b of the standard, multiplied out: (max(V + b, 0) / (1 + b))^2.4.
            Self::Bt1886 { black } => {
                let root = math::pow(black, 1.0 / BT1886);
                math::pow((drive * (1.0 - root) + root).max(0.0), BT1886)
            }
            Self::Gamma(power) => math::pow(drive.max(0.0), power),
        }
    }
}

/// A transfer as a table, for the many samples of a picture: straight lines between entries, less
/// than a thousandth of an 8-bit step away from [`Transfer::luminance`].
#[derive(Clone, Debug)]
pub struct Curve {
    transfer: Transfer,
    /// Value and rise to the next entry.
    table: Vec<(f64, f64)>,
}

impl Curve {
    const LOWEST: f64 = -0.5;
    const HIGHEST: f64 = 1.75;
    const PER_UNIT: f64 = 512.0;

    /// The table of a transfer.
    #[must_use]
    pub fn new(transfer: Transfer) -> Self {
        let entries = math::floor_index((Self::HIGHEST - Self::LOWEST) * Self::PER_UNIT) + 1;
        let drive = |entry| Self::LOWEST + math::from_usize(entry) / Self::PER_UNIT;
        let values: Vec<f64> = (0..entries).map(|at| transfer.luminance(drive(at))).collect();
        let table = values.windows(2).map(|pair| (pair[0], pair[1] - pair[0])).collect();
        Self { transfer, table }
    }

    /// [`Transfer::luminance`], nearly.
    #[must_use]
    #[inline]
    pub fn luminance(&self, drive: f64) -> f64 {
        let place = (drive - Self::LOWEST) * Self::PER_UNIT;
        let entry = math::floor_u32(place);
        match self.table.get(entry as usize) {
            Some((value, rise)) if place >= 0.0 => value + rise * (place - f64::from(entry)),
            _ => self.beyond(drive),
        }
    }

    /// What lies outside the table.
    #[cold]
    #[inline(never)]
    fn beyond(&self, drive: f64) -> f64 {
        self.transfer.luminance(drive)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(value: f64, expected: f64) {
        assert!((value / expected - 1.0).abs() < 3e-6, "{value} is not {expected}");
    }

    #[test]
    fn bt_1886_gives_the_published_luminances() {
        // cd/m² for white 100 and black 0 or 0.1, from the formula of ITU-R BT.1886.
        let dark = Transfer::Bt1886 { black: 0.0 };
        let lit = Transfer::Bt1886 { black: 0.001 };
        for (drive, zero, tenth) in [
            (0.10, 0.398_107, 1.063_786),
            (0.25, 3.589_682, 5.218_497),
            (0.50, 18.946_457, 21.604_911),
            (0.75, 50.135_694, 52.420_832),
            (0.90, 77.657_253, 78.826_881),
        ] {
            near(100.0 * dark.luminance(drive), zero);
            near(100.0 * lit.luminance(drive), tenth);
        }
        near(lit.luminance(1.0), 1.0);
        near(lit.luminance(0.0), 0.001);
    }

    #[test]
    fn plain_powers_are_plain_powers() {
        near(Transfer::Gamma(2.2).luminance(0.5), 0.217_638);
        near(Transfer::Gamma(2.8).luminance(0.5), 0.143_587);
        assert!(Transfer::Gamma(2.8).luminance(-0.1) <= 0.0);
    }

    #[test]
    fn the_table_follows_the_formula_inside_and_outside_its_range() {
        for transfer in [Transfer::Bt1886 { black: 0.001 }, Transfer::Gamma(2.8)] {
            let curve = Curve::new(transfer);
            for step in -4000_i32..4000 {
                let drive = f64::from(step) * 0.001_37;
                let difference = curve.luminance(drive) - transfer.luminance(drive);
                assert!(difference.abs() < 3.9e-6, "{drive}: {difference}");
            }
        }
    }
}
