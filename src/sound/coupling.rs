//! What a loudspeaker and its coupling do not pass: whatever stands still.

use crate::base::math;
use std::f64::consts::TAU;

/// Where the coupling of a set's sound ends downwards, Hz; common practice, no source.
const LOWEST_HZ: f64 = 20.0;

/// A capacitor's high pass of the first order, sample by sample.
#[derive(Clone, Copy, Debug)]
pub struct Coupling {
    keep: f64,
    before: f64,
    held: f64,
}

impl Coupling {
    /// A coupling that has settled on `standing`, for so many samples a second.
    #[must_use]
    pub fn new(standing: f64, samples_hz: f64) -> Self {
        Self { keep: math::exp(-TAU * LOWEST_HZ / samples_hz), before: standing, held: 0.0 }
    }

    /// The next sample.
    pub fn pass(&mut self, sample: f64) -> f64 {
        self.held = self.keep * (self.held + sample - self.before);
        self.before = sample;
        self.held
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A step falls as exp(−2π 20 Hz t): to 1/e after 1 / (2π 20) s, 382 samples of 48 kHz.
    #[test]
    fn a_step_dies_away_and_what_stands_is_not_heard() {
        let mut coupling = Coupling::new(0.5, 48_000.0);
        assert!(coupling.pass(0.5).abs() < 1e-15);
        let step: Vec<f64> = (0..382).map(|_| coupling.pass(1.5)).collect();
        assert!((step[381] - math::exp(-1.0)).abs() < 1e-3, "{}", step[381]);
    }
}
