//! A waveform as equally spaced samples.

use crate::base::math;
use crate::base::ticks::ClockRate;

/// Volts at one node, equally spaced in time from time 0.
///
/// Samples are `f32`, as the WAV file keeps them, so that a waveform read back from a file is the
/// same signal.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    /// Node the samples were taken at.
    pub node: String,
    /// Samples per second, exact.
    pub rate: ClockRate,
    /// Sample `k` is the voltage at `k / rate`, V.
    pub volts: Vec<f32>,
}

impl Trace {
    /// Time between samples, s.
    #[must_use]
    pub fn step_s(&self) -> f64 {
        self.rate.seconds(1)
    }

    /// Length, s.
    #[must_use]
    pub fn duration_s(&self) -> f64 {
        math::from_usize(self.volts.len()) * self.step_s()
    }
}
