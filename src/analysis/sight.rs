//! What an eye makes of a level: light on the screen, and steps that can just be told apart.

use crate::base::math;
use crate::receiver::spec::ReceiverSpec;

/// What is seen of an element beside its surroundings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sight {
    /// Luminance of the element, with the room's light on the screen, cd/m².
    pub light: f64,
    /// Luminance of what surrounds it, cd/m².
    pub surround: f64,
    /// Just-noticeable differences between the two; below 0 where the element is the darker.
    pub steps: f64,
    /// Its level over that of its surroundings, as a multiple of the set's noise, rms; 0 or more.
    pub signal_to_noise: f64,
}

/// Least and greatest luminance of which the standard speaks, cd/m².
const RANGE: [f64; 2] = [0.05, 4000.0];
/// Numbers of the steps at its ends.
const STEPS: [f64; 2] = [1.0, 1023.0];

/// Luminance of step `j`, cd/m²; `j` from 1 to 1023.
///
/// # Source
///
/// DICOM PS3.14, clause 7.1: the grayscale standard display function, with its printed constants.
/// It holds for a target of 2° by 2° with a sine of 4 cycles a degree; a paddle is smaller and has
/// sharp edges, so that its steps are a measure and no promise.
#[must_use]
pub fn luminance_of_step(j: f64) -> f64 {
    const NUMERATOR: [f64; 5] =
        [-1.301_187_7, 8.024_263_6e-2, 1.364_669_9e-1, -2.546_840_4e-2, 1.363_533_4e-3];
    const DENOMINATOR: [f64; 6] =
        [1.0, -2.584_019_1e-2, -1.032_022_9e-1, 2.874_562_0e-2, -3.197_897_7e-3, 1.299_263_4e-4];
    let x = math::ln(j);
    let polynomial = |terms: &[f64]| terms.iter().rev().fold(0.0, |sum, term| sum * x + term);
    math::pow(10.0, polynomial(&NUMERATOR) / polynomial(&DENOMINATOR))
}

/// The step of a luminance in cd/m², a fraction; what lies beyond the standard's range is taken at
/// its end.
///
/// [`luminance_of_step`] is inverted by halving; the polynomial that the standard gives for this is
/// only good to a tenth of a step.
#[must_use]
pub fn step_of_luminance(luminance: f64) -> f64 {
    let luminance = luminance.clamp(RANGE[0], RANGE[1]);
    let [mut low, mut high] = STEPS;
    for _ in 0..48 {
        let middle = 0.5 * (low + high);
        if luminance_of_step(middle) < luminance {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// What is seen of an element that stands `delta_v` above its surroundings, themselves `surround_v`
/// above black at the picture amplifier; V.
#[must_use]
pub fn sight(set: &ReceiverSpec, surround_v: f64, delta_v: f64) -> Sight {
    let light = |volts: f64| {
        let drive = set.brightness + set.contrast * volts / set.span_v;
        set.viewing.white * set.transfer.luminance(drive) + set.viewing.room()
    };
    let (surround, light) = (light(surround_v), light(surround_v + delta_v));
    Sight {
        light,
        surround,
        steps: step_of_luminance(light) - step_of_luminance(surround),
        signal_to_noise: delta_v.abs() / set.viewing.noise_v,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_standard_function_gives_its_published_luminances() {
        // DICOM PS3.14, clause 7.1, evaluated with the printed constants; L(512) is the example of
        // the documentation of a reference library for colour.
        for (j, expected) in [
            (1.0, 0.049_982),
            (2.0, 0.0547),
            (10.0, 0.0991),
            (50.0, 0.5574),
            (100.0, 1.8508),
            (150.0, 4.2586),
            (200.0, 8.2179),
            (250.0, 14.3250),
            (300.0, 23.3989),
            (400.0, 55.3640),
            (500.0, 119.1318),
            (512.0, 130.065_284_0),
            (600.0, 243.0099),
            (700.0, 480.4999),
            (800.0, 933.1874),
            (1000.0, 3439.1590),
            (1023.0, 3993.3296),
        ] {
            let found = luminance_of_step(j);
            let last_digit = if j < 40.0 { 6e-4 } else { 5e-5 };
            assert!((found / expected - 1.0).abs() < last_digit, "{j}: {found} {expected}");
        }
    }

    #[test]
    fn steps_are_the_inverse_and_agree_with_the_standards_own_polynomial() {
        for j in [1.5, 7.0, 71.5, 300.0, 476.4, 1000.0] {
            assert!((step_of_luminance(luminance_of_step(j)) - j).abs() < 1e-6);
        }
        // Of the inverse in clause 7.1: 476.364 at 100 cd/m² and 71.498 at 1, to a tenth of a step.
        assert!((step_of_luminance(100.0) - 476.364).abs() < 0.1);
        assert!((step_of_luminance(1.0) - 71.498).abs() < 0.1);
        // One step is 0.737 % near 119 cd/m² and 9.4 % at 0.05.
        let one = |j: f64| luminance_of_step(j + 1.0) / luminance_of_step(j) - 1.0;
        assert!((one(500.0) - 0.007_37).abs() < 5e-6);
        assert!((one(1.0) - 0.094).abs() < 1e-3);
    }

    #[test]
    fn beyond_the_standards_range_its_ends_are_taken() {
        assert!((step_of_luminance(0.0) - step_of_luminance(0.05)).abs() < 1e-12);
        assert!((step_of_luminance(1e6) - 1023.0).abs() < 1e-6);
    }
}
