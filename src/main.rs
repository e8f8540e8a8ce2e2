//! The program: see [`backporch`] for what it does and `--help` for how to ask.

mod cli;
mod serve;

fn main() -> std::process::ExitCode {
    cli::run()
}
