//! The values that flow between the stages.

pub mod element;
pub mod picture;
pub mod pulse_train;
pub mod tank;
pub mod timing;
pub mod trace;
