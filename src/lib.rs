//! Backporch shows what a television would make of a ball-and-paddle game board, before anyone
//! touches it with an iron.
//!
//! # The path of a signal
//!
//! ```text
//! scenario   what the user wrote, resolved: nothing left open
//!   raster   pulse trains: edges in clock ticks, a train for every chip pin
//!   network  volts at every node: standing levels, then time
//!   path     modulator, air and tuner, where there is one
//!   receiver what the set makes of the waveform at the socket
//!   sound    what can be heard, where it is asked for
//!   analysis what it means: levels, words, causes
//!   output   PNG, WAV, CSV, VCD, JSON, text
//! ```
//!
//! A stage takes and gives plain values of [`base`] and [`signal`] and its own settings. It never
//! imports another stage; [`simulate`] alone knows their order. Only the program (`cli`) touches
//! files, the terminal or the environment.

pub mod analysis;
pub mod base;
pub mod document;
pub mod network;
pub mod output;
pub mod path;
pub mod profile;
pub mod raster;
pub mod receiver;
pub mod scenario;
pub mod signal;
pub mod simulate;
pub mod sound;
