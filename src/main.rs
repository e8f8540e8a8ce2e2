//! The program: see [`backporch`] for what it does and `--help` for how to ask.

mod cli;

fn main() -> std::process::ExitCode {
    cli::run()
}
