//! What a way is followed for: an element, or the sync pulse.

use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::scenario::VerdictLines;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;

/// An element, or the sync pulse: both are the way a node stands while they last against black.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Subject {
    /// One element, alone on black.
    Element(ElementId),
    /// The sync pulse with nothing lit.
    Sync,
}

/// What the sync is called where elements are named.
pub const SYNC: &str = "sync";

impl From<ElementId> for Subject {
    fn from(element: ElementId) -> Self {
        Self::Element(element)
    }
}

impl Subject {
    /// What the chip is told while it lasts.
    pub(in crate::analysis) fn state(self) -> (ElementSet, LinePart) {
        match self {
            Self::Element(element) => (ElementSet::only(element), LinePart::Active),
            Self::Sync => (ElementSet::EMPTY, LinePart::Sync),
        }
    }

    /// Its name.
    #[must_use]
    pub fn name(self, scenario: &Scenario) -> &str {
        match self {
            Self::Element(element) => &scenario.raster.elements[usize::from(element.0)],
            Self::Sync => SYNC,
        }
    }

    /// The word for so much against black at the socket, V; a sync pulse lies below it.
    pub(in crate::analysis) fn seen(self, lines: &VerdictLines, delta_v: f64) -> Seen {
        match self {
            Self::Element(_) => lines.seen(delta_v),
            Self::Sync => lines.sync(-delta_v).seen(),
        }
    }

    /// How much of it there is for so much against black, V: depth, for the sync.
    pub(in crate::analysis) fn size_v(self, delta_v: f64) -> f64 {
        match self {
            Self::Element(_) => delta_v.abs(),
            Self::Sync => (-delta_v).max(0.0),
        }
    }

    /// From how much on it is clear, or good, V.
    pub(in crate::analysis) fn clear_v(self, lines: &VerdictLines) -> f64 {
        match self {
            Self::Element(_) => lines.faint * lines.span_v,
            Self::Sync => lines.sync_good_v,
        }
    }

    /// What it is called when all is well with it.
    pub(in crate::analysis) fn well(self) -> &'static str {
        match self {
            Self::Element(_) => Seen::Clear.word(),
            Self::Sync => SyncState::Good.word(),
        }
    }
}
