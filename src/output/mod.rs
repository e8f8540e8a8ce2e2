//! Results into bytes: one file for each format, into `impl Write`.

pub mod csv;
pub mod vcd;
pub mod wav;
