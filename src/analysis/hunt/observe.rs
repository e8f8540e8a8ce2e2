//! What is known: words and volts.

use crate::analysis::hunt::predict::State;
use crate::analysis::ladder::Levels;
use crate::analysis::verdict::Note;
use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;
use crate::base::math;
use crate::network::circuit::NodeId;
use crate::network::error::NetworkError;
use crate::scenario::Scenario;
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
    /// Brighter than it should be: this much above black or more.
    Brighter {
        /// mV.
        above_mv: u32,
    },
}

impl Look {
    /// The word for an element that is brighter than it should be.
    pub const BRIGHTER: &'static str = "brighter";

    /// Brighter than on the board as drawn, by at least what makes another shade of it.
    ///
    /// # Errors
    ///
    /// A board that cannot be solved.
    pub fn brighter(scenario: &Scenario, element: ElementId) -> Result<Self, NetworkError> {
        let levels = Levels::new(scenario, &scenario.circuit)?;
        let lines = &scenario.verdict;
        let drawn_v = levels.delta(element, scenario.output.node)?.max(0.0);
        let above_mv = math::floor_u32(1e3 * (drawn_v + lines.same_shade * lines.span_v));
        Ok(Self::Brighter { above_mv })
    }

    /// The word, as verdicts have it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Clear => Seen::Clear.word(),
            Self::Faint => Seen::Faint.word(),
            Self::Missing => Seen::Missing.word(),
            Self::Dark => Note::Dark.words(),
            Self::Brighter { .. } => Self::BRIGHTER,
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
