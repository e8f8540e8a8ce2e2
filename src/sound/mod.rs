//! What can be heard: from volts at the chip's clock to sound samples in step with the fields.

pub mod band;

use thiserror::Error;

/// Sound samples a second.
pub const SOUND_HZ: u32 = 48_000;
/// Where the coupling of a set's sound ends downwards, Hz; common practice, no source.
pub const LOWEST_HZ: f64 = 20.0;

/// Why nothing can be heard.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum SoundError {
    /// A clock too slow to take sound samples from.
    #[error("sound needs a clock of {least_hz} Hz or more, but this one runs at {hz} Hz")]
    SlowClock {
        /// The clock, Hz.
        hz: f64,
        /// The least, Hz.
        least_hz: f64,
    },
}
