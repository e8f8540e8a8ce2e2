//! The program: everything that touches files, the terminal or the environment.

mod cli;

fn main() {}
