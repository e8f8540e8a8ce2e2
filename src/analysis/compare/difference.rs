//! One thing in which two boards differ, and how it is made on the first.

use crate::analysis::compare::twin::Aspect;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::circuit::Pin;
use crate::network::circuit::PinStage;
use crate::raster::plan::PinPlan;

/// A difference.
#[derive(Clone, Debug)]
pub(super) struct Difference {
    pub(super) words: String,
    pub(super) edit: Edit,
}

/// What is done to the first board.
#[derive(Clone, Debug)]
pub(super) enum Edit {
    /// Parts become others.
    Parts(Vec<(PartId, PartKind)>),
    /// A part more.
    Add(Box<Part>),
    /// A part is taken off.
    Open(PartId),
    /// One property of a pin.
    Pin(PartId, PinAspect, Box<Pin>),
    /// What a pin carries.
    Plan(usize, Box<PinPlan>),
    /// What the pin that a part is moved to has otherwise than the one it comes from.
    Twin(usize, Aspect),
    /// The socket is another node.
    Socket(NodeId),
    /// Clock and lines.
    Timing,
    /// What is played.
    Content,
    /// The set.
    Receiver,
    /// Modulator and tuner.
    Modulator,
    /// Where the words begin.
    Verdict,
}

/// A property of a pin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum PinAspect {
    /// The node it is tied to.
    Tie,
    /// Its volts.
    Volts,
    /// Its resistance, or the strength of its transistors.
    Loading,
    /// Its delay and edges.
    Delay,
    /// Its capacitance, or its supply.
    Rest,
}

impl PinAspect {
    pub(super) const ALL: [Self; 5] =
        [Self::Tie, Self::Volts, Self::Loading, Self::Delay, Self::Rest];

    /// A pin with one property of another.
    pub(super) fn applied(self, pin: &Pin, other: &Pin) -> Pin {
        let mut pin = pin.clone();
        match self {
            Self::Tie => pin.node = other.node,
            Self::Delay => {
                (pin.delay_s, pin.rise_s, pin.fall_s) = (other.delay_s, other.rise_s, other.fall_s);
            }
            Self::Rest => (pin.farads, pin.supply) = (other.farads, other.supply),
            // Stages of another kind have nothing in common: all of it counts as volts.
            Self::Volts => pin.levels = mixed(&pin.levels, &other.levels, false),
            Self::Loading => pin.levels = mixed(&pin.levels, &other.levels, true),
        }
        pin
    }

    pub(super) fn words(self) -> &'static str {
        match self {
            Self::Tie => "the node it is tied to",
            Self::Volts => "its volts",
            Self::Loading => "its resistance",
            Self::Delay => "its delay and edges",
            Self::Rest => "its capacitance or supply",
        }
    }
}

/// Stages with the resistances, or with all but the resistances, of others.
fn mixed(own: &[PinStage], other: &[PinStage], loading: bool) -> Vec<PinStage> {
    if own.len() != other.len() {
        return if loading { own.to_vec() } else { other.to_vec() };
    }
    own.iter().zip(other).map(|(own, other)| mixed_stage(own, other, loading)).collect()
}

fn mixed_stage(own: &PinStage, other: &PinStage, loading: bool) -> PinStage {
    match (*own, *other) {
        (
            PinStage::Linear { offset, share, ohms },
            PinStage::Linear { offset: other_offset, share: other_share, ohms: other_ohms },
        ) => {
            if loading {
                PinStage::Linear { offset, share, ohms: other_ohms }
            } else {
                PinStage::Linear { offset: other_offset, share: other_share, ohms }
            }
        }
        (
            PinStage::PullUp { k, threshold },
            PinStage::PullUp { k: other_k, threshold: other_threshold },
        ) => {
            if loading {
                PinStage::PullUp { k: other_k, threshold }
            } else {
                PinStage::PullUp { k, threshold: other_threshold }
            }
        }
        (
            PinStage::PullDown { k, threshold },
            PinStage::PullDown { k: other_k, threshold: other_threshold },
        ) => {
            if loading {
                PinStage::PullDown { k: other_k, threshold }
            } else {
                PinStage::PullDown { k, threshold: other_threshold }
            }
        }
        (own, other) => {
            if loading {
                own
            } else {
                other
            }
        }
    }
}
