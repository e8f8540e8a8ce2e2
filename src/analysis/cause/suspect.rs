//! What may be to blame.

use crate::analysis::cause::candidate::left;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::scenario::change::Change;
use std::cmp::Ordering;

/// What a suspect does to the pulse.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SuspectKind {
    /// Another output, or a transistor, tied to the same node holds it.
    Rival,
    /// A resistor joins a gate's input to another output.
    JoinedInput,
    /// A pin that only pulls one way, with nothing to pull the other.
    NoPull,
    /// A pin that gives nothing at all.
    DeadPin,
    /// The element is taken from a pin that also carries it, but its own pin leads nowhere.
    WrongPin,
    /// What feeds a gate stands near ground.
    DeadRail,
    /// A diode or transistor fitted the wrong way round, or of the wrong polarity.
    Turned,
    /// A gate of the wrong kind.
    Logic,
    /// Another input of the gate holds its output.
    StuckInput,
    /// The pulse stays within a junction's dead zone.
    Junction,
    /// The gate's switching level lies outside the pulse it should be given.
    Threshold,
    /// A capacitor in the way, too small to carry the pulse.
    Blocked,
    /// Too large in the way.
    Series,
    /// Too small beside the way.
    Shunt,
    /// Too large between the way and a supply that should lift it.
    Bias,
    /// The load at the socket is too heavy.
    Load,
    /// The chip's pin or a gate is too weak for what hangs on it.
    WeakOutput,
}

/// One thing that may lose the pulse, tried.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspect {
    /// What it does.
    pub kind: SuspectKind,
    /// The part.
    pub part: PartId,
    /// The node where the pulse suffers.
    pub node: NodeId,
    /// The part's other end.
    pub other: NodeId,
    /// Size of the pulse before it, V.
    pub pulse_in_v: f64,
    /// Size of the pulse after it, V.
    pub pulse_out_v: f64,
    /// What puts it right: the smallest change that does, or the largest that was tried.
    pub remedy: Change,
    /// Whether that makes the element clear.
    pub cures: bool,
    /// Whether its value is one that nobody would fit there on purpose.
    pub is_unusual: bool,
    /// How much has to be believed to blame it: 0 for a plain fault that explains all that is
    /// wrong, more for a matter of degree, for a large change, and for every element that would
    /// still not be clear.
    pub cost: f64,
}

impl Suspect {
    /// The order of likelihood: the least cost first; as costly, what takes most of the pulse.
    pub(super) fn by_cost(&self, other: &Self) -> Ordering {
        let left = |suspect: &Self| left(suspect.pulse_in_v, suspect.pulse_out_v);
        self.cost.total_cmp(&other.cost).then(left(self).total_cmp(&left(other)))
    }

    /// Whether putting it right brings the element on without making it clear.
    pub(super) fn helps(&self) -> bool {
        !self.cures && self.cost.is_finite()
    }
}
