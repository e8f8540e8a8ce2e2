//! What is known: words and volts.

use crate::analysis::hunt::predict::State;
use crate::analysis::verdict::Note;
use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;
use crate::network::circuit::NodeId;
use crate::signal::element::ElementId;

/// A word for an element, as a ladder has it: the word for its level, and "dark" for one below its
/// surroundings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Look {
    /// Plainly seen.
    Clear,
    /// To be seen by who looks for it.
    Faint,
    /// Not to be seen.
    Missing,
    /// Darker than its surroundings.
    Dark,
}

impl Look {
    /// The word, as verdicts have it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Clear => Seen::Clear.word(),
            Self::Faint => Seen::Faint.word(),
            Self::Missing => Seen::Missing.word(),
            Self::Dark => Note::Dark.words(),
        }
    }
}

/// A reading of a meter or a scope.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// Where.
    pub node: NodeId,
    /// When.
    pub state: State,
    /// V.
    pub volts: f64,
}

/// Everything that is known.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Observation {
    /// Elements and their words.
    pub seen: Vec<(ElementId, Look)>,
    /// How the set holds on to the sync.
    pub sync: Option<SyncState>,
    /// Whether the ball still bounces off the paddles.
    pub bounces: Option<bool>,
    /// Readings.
    pub measured: Vec<Measured>,
}
