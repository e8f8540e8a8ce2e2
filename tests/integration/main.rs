//! Tests of the whole: the program's parts together, against closed forms and published numbers.

#![expect(clippy::unwrap_used, reason = "this is a test program: a panic is a failed test")]

mod balances;
mod board_levels;
mod boards;
mod broadcast;
mod cables;
mod causes;
mod check;
mod circuit_view;
mod clock;
mod closed_forms;
mod compare;
mod counts;
mod currents;
mod exponential;
mod follower;
mod hunt;
mod instant_pins;
mod knob;
mod layers;
mod ledger;
mod mishaps;
mod mixers;
mod networks;
mod page;
mod pin;
mod plain;
mod preferred;
mod program;
mod published;
mod ratings;
mod ratings_feed;
mod ratings_parts;
mod ratings_worked;
mod recall;
mod riff;
mod semiconductors;
mod stiff;
mod threads;
mod wave;
mod why;
mod witness;
mod worked;
