//! What the volts mean: levels, words, causes. Everything here edits the resolved scenario and runs
//! the same path again; nothing re-reads a file and nothing is formatted.

pub mod band;
pub mod board_levels;
pub mod cause;
pub mod check;
pub mod choose;
pub mod clock;
pub mod compare;
pub mod examine;
mod feed;
pub mod feed_table;
pub mod hunt;
pub mod knob;
pub mod ladder;
pub mod lesson;
pub mod modulation;
pub mod node_levels;
pub mod pin;
pub mod rating;
pub mod reading;
pub mod sight;
pub mod source;
pub mod spread;
pub mod stages;
pub mod supply;
pub mod vary;
pub mod verdict;
pub mod why;
