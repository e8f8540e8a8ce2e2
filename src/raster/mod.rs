//! Pulse trains from a chip's timing and the state of its game: exact, in clock periods, line by
//! line. Nothing is sampled and no voltage is known here.

mod check;
pub mod controller;
mod court;
mod digits;
#[cfg(test)]
mod example;
mod flight;
pub mod generate;
mod line;
mod motion;
pub mod plan;
pub mod plan_error;
mod player;
mod rectangle;
pub mod rules;
mod sync;
pub mod tone;
