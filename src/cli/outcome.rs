//! How a run ended, as its exit status says it.

use std::process::ExitCode;

/// What the exit status says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Outcome {
    /// Answered; where a yes or no was asked for, yes.
    Answered,
    /// The answer is no.
    No,
    /// No answer, to some of what was asked at least.
    NoAnswer,
}

impl Outcome {
    /// The exit status.
    pub(crate) fn status(self) -> ExitCode {
        ExitCode::from(match self {
            Self::Answered => 0,
            Self::No => 1,
            Self::NoAnswer => 2,
        })
    }
}
