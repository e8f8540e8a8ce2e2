//! Tests of the whole: the program's parts together, against closed forms and published numbers.

mod boards;
mod closed_forms;
mod exponential;
mod follower;
mod layers;
mod mixers;
mod published;
mod worked;
