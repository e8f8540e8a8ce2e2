//! Volts at every node: the board as a charge-based system of equations, its standing levels and
//! its waveforms.

pub mod bipolar;
mod check;
pub mod circuit;
pub mod device;
pub mod error;
mod evaluation;
mod junctions;
mod matrix;
pub mod operating_point;
mod sampler;
mod semiconductor;
mod slew;
mod stage;
mod step;
mod system;
mod tableau;
pub mod terminal;
pub mod transient;
