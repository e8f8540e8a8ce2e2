//! What cannot be solved, and where.

use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use thiserror::Error;

/// Why a board could not be solved.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum NetworkError {
    /// No part holds the node at any standing level.
    #[error(
        "nothing holds node `{name}` at a standing level: no path for direct current to ground"
    )]
    Floating {
        /// The node.
        node: NodeId,
        /// Its name.
        name: String,
        /// Parts that touch it.
        parts: Vec<PartId>,
    },
    /// Two ideal sources fight, or a source is shorted by an ideal coil.
    #[error(
        "`{name}` closes a loop of ideal sources at node `{node}`: give one of them a resistance"
    )]
    SourceLoop {
        /// The part that closes the loop.
        part: PartId,
        /// Its name.
        name: String,
        /// A node of the loop.
        node: String,
    },
    /// A driver has more states than the solver keeps.
    #[error("pin `{name}` has {states} levels; at most {most} are possible")]
    TooManyStates {
        /// The pin.
        name: String,
        /// Its levels.
        states: usize,
        /// The limit.
        most: usize,
    },
    /// The matrix is singular: the node is not determined.
    #[error("node `{node}` is not determined by the parts around it")]
    Undetermined {
        /// The node, or the part whose current is not determined.
        node: String,
    },
    /// Newton's method did not settle on standing levels.
    #[error(
        "no standing levels found: node `{node}` still misses balance by {residual_amps:.3e} A \
         after {iterations} iterations"
    )]
    NoOperatingPoint {
        /// The worst node.
        node: String,
        /// Current left over there, A.
        residual_amps: f64,
        /// Iterations spent.
        iterations: u32,
    },
    /// Gates drive one another round and round.
    #[error("gate `{gate}` finds no standing state: its output changes its own input")]
    GatesUnsettled {
        /// One gate of the ring.
        gate: String,
    },
    /// The step had to become too small.
    #[error(
        "the waveform could not be followed past {time_s:.9} s at node `{node}`: \
         step {step_s:.1e} s, residual {residual_amps:.3e} A"
    )]
    StepTooSmall {
        /// The worst node.
        node: String,
        /// When, s after the start of the field.
        time_s: f64,
        /// The step that failed, s.
        step_s: f64,
        /// Current left over, A.
        residual_amps: f64,
    },
    /// The field does not repeat.
    #[error(
        "the field does not repeat after {fields} fields: node `{node}` still moves by {volts:.2e} V \
         a field; start from `idle` to see it as it is"
    )]
    NeverSettles {
        /// Fields run.
        fields: u32,
        /// The node that moves most.
        node: String,
        /// How far it moves from field to field, V.
        volts: f64,
    },
}

impl NetworkError {
    /// The same for a stretch that begins so much later, s.
    pub(crate) fn later(mut self, by_s: f64) -> Self {
        if let Self::StepTooSmall { time_s, .. } = &mut self {
            *time_s += by_s;
        }
        self
    }
}
