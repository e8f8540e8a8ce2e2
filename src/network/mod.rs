//! Volts at every node: the board as a charge-based system of equations, its standing levels and
//! its waveforms.

pub mod amplifier;
pub mod bipolar;
pub(crate) mod blocks;
pub mod cable;
mod check;
pub mod circuit;
mod condensed;
pub mod currents;
pub mod device;
mod elimination;
pub mod error;
pub(crate) mod evaluation;
mod family;
pub mod field_effect;
mod junctions;
mod linear_part;
mod matrix;
mod newton;
pub mod operating_point;
pub mod passive;
pub mod recall;
pub mod regulator;
mod rest;
#[cfg(test)]
pub(crate) mod rig;
mod ring;
pub mod ripple;
mod sampler;
pub mod schedule;
mod search;
mod semiconductor;
mod slew;
pub(crate) mod stage;
mod state;
mod step;
mod stretch;
mod switch;
mod system;
mod tableau;
pub mod terminal;
pub mod transient;
mod unknowns;
pub mod watch;
mod waves;
mod whole;
