//! Volts at every node: the board as a charge-based system of equations, its standing levels and
//! its waveforms.

pub mod circuit;
pub mod device;
