//! The way from a modulator's input through the air to a tuner's detector.
//!
//! ```text
//! spec       how volts become carrier, and carrier becomes volts again
//! system     what the standards say: levels, sidebands, channels
//! filter     vestigial sideband and the receiver's Nyquist slope
//! noise      what the tuner adds
//! gain       gain control on the sync tip
//! link       all of it, field by field
//! ```

pub mod filter;
pub mod gain;
pub mod link;
pub mod noise;
pub mod spec;
pub mod system;

use thiserror::Error;

/// Why a waveform cannot be sent through the air.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum PathError {
    /// The sidebands do not fit between the samples.
    #[error(
        "a modulator of system {system} needs more than {needed_hz:.0} samples a second, and there \
         are {found_hz:.0}: set `solve.samples_per_clock` higher"
    )]
    TooFewSamples {
        /// The system's name.
        system: &'static str,
        /// Twice the distance of its sound carrier, Hz.
        needed_hz: f64,
        /// What there is, Hz.
        found_hz: f64,
    },
    /// There is nothing to send.
    #[error("the waveform at the modulator has no samples, or is not a number")]
    NoSignal,
}
