//! Pulse trains from a chip's timing and the state of its game: exact, in clock periods, line by
//! line. Nothing is sampled and no voltage is known here.

pub mod plan;
