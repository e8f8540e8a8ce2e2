//! The command line: with `serve` the only part that touches files, the terminal and the clock.

mod accept;
pub(crate) mod args;
mod check;
mod choose;
mod clock;
mod clock_args;
mod compare;
mod controller_args;
mod design_args;
pub(crate) mod failure;
mod feed;
pub(crate) mod files;
mod hunt;
pub(crate) mod interrupt;
mod knob;
mod ladder;
mod lesson;
mod live;
mod motion;
mod observed;
mod outcome;
mod page;
mod pin;
mod progress;
pub(crate) mod render;
mod report_diagnostics;
mod said;
mod spread;
mod supply;
mod vary;
mod why;

use crate::cli::args::Args;
use crate::cli::args::Command;
use crate::cli::failure::Failure;
use crate::cli::outcome::Outcome;
use clap::Parser;
use std::process::ExitCode;

/// Reads the command line, does what it asks, and says how it went.
pub(crate) fn run() -> ExitCode {
    let command = Args::parse().command;
    interrupt::guard();
    let done = match command {
        Command::Render(args) => render::run(&args).map(|()| Outcome::Answered),
        Command::Ladder(args) => ladder::run(&args).map(|()| Outcome::Answered),
        Command::Lesson(args) => lesson::run(&args).map(|()| Outcome::Answered),
        Command::Live(args) => live::run(&args).map(|()| Outcome::Answered),
        Command::Why(args) => why::run(&args).map(|()| Outcome::Answered),
        Command::Compare(args) => compare::run(&args),
        Command::Hunt(args) => hunt::run(&args).map(|()| Outcome::Answered),
        Command::Clock(args) => clock::run(&args).map(|()| Outcome::Answered),
        Command::Check(args) => check::run(&args),
        Command::Vary(args) => vary::run(&args).map(|()| Outcome::Answered),
        Command::Choose(args) => choose::run(&args).map(|()| Outcome::Answered),
        Command::Spread(args) => spread::run(&args).map(|()| Outcome::Answered),
        Command::Supply(args) => supply::run(&args).map(|()| Outcome::Answered),
        Command::Feed(args) => feed::run(&args).map(|()| Outcome::Answered),
        Command::Pin(args) => pin::run(&args).map(|()| Outcome::Answered),
        Command::Knob(args) => knob::run(&args).map(|()| Outcome::Answered),
    };
    let outcome = done.unwrap_or_else(|failure| {
        failure.report();
        Outcome::NoAnswer
    });
    outcome.status()
}

/// Writes to standard output; a reader that has left is no error.
pub(crate) fn print(text: &str) -> Result<(), Failure> {
    use std::io::Write;
    match std::io::stdout().write_all(text.as_bytes()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            Err(Failure::world("standard output", &error))
        }
        _ => Ok(()),
    }
}
