//! What the set makes of the waveform. It sees samples and nothing else.
//!
//! ```text
//! amplifier  the input capacitor, and the picture amplifier
//! bandwidth  its filter
//! slicer, sync  where sync lies
//! line_oscillator, field_oscillator  where the set's own lines and fields start
//! catch      to which line rates such an oscillator pulls in
//! screen, scan, clamp, transfer  the picture on the screen
//! time_base  where lines and fields start by the sync itself, for who measures the waveform
//! demands    what a set asks of a signal before it shows anything
//! set        all of it, carried from field to field
//! ```

mod amplifier;
pub mod bandwidth;
pub mod catch;
pub mod clamp;
pub mod demands;
pub mod field_oscillator;
pub mod line_oscillator;
pub mod lock;
#[cfg(test)]
pub(crate) mod sample;
pub mod scan;
pub mod screen;
pub mod set;
pub mod slicer;
pub mod spec;
pub mod sync;
pub mod tape;
pub mod time_base;
pub mod transfer;

use crate::receiver::set::Set;
use crate::receiver::spec::ReceiverSpec;
use crate::receiver::spec::Reception;
use crate::signal::trace::Trace;

/// Why a waveform cannot be received. Anything that has samples can be: without sync the set runs
/// free, and that is its picture.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum ReceiverError {
    /// No samples.
    #[error("the waveform has no samples")]
    NoSamples,
    /// A sample is no number.
    #[error("the waveform is not a number at {at_s} s")]
    NotANumber {
        /// When, s.
        at_s: f64,
    },
}

/// What a set makes of a waveform that it has been receiving over and over.
///
/// # Errors
///
/// [`ReceiverError`] if there are no samples or one of them is infinite or not a number.
pub fn receive(signal: &Trace, spec: &ReceiverSpec) -> Result<Reception, ReceiverError> {
    Set::new(spec).receive(signal)
}

#[cfg(test)]
mod tests;
