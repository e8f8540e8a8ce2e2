//! The worst of every rule, over all states.

use crate::analysis::rating::judged::Judged;
use crate::analysis::rating::judged::Rating;
use crate::analysis::rating::judged::Subject;
use crate::analysis::rating::judged::Unit;
use crate::analysis::rating::standing::State;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use std::collections::BTreeMap;

/// What is rated, in the order in which it is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Place {
    /// A part, or one of its inputs at a node.
    Part(PartId, NodeId),
    Chip,
    Node(NodeId),
    Socket,
}

impl Place {
    pub(super) fn part(id: PartId) -> Self {
        Self::Part(id, NodeId::GROUND)
    }
}

/// What a rule found in one state.
pub(super) struct Finding {
    pub(super) place: Place,
    pub(super) part: String,
    pub(super) subject: Subject,
    pub(super) unit: Unit,
    pub(super) judged: Judged,
    pub(super) sentence: String,
}

/// The worst of every rule so far. Of equals the first is kept.
#[derive(Default)]
pub(super) struct Tally {
    worst: BTreeMap<(Place, Subject), (Judged, Rating)>,
}

impl Tally {
    pub(super) fn add(&mut self, finding: Finding, state: Option<&State>) {
        let Finding { place, part, subject, unit, judged, sentence } = finding;
        let key = (place, subject);
        if let Some((known, _)) = self.worst.get(&key) {
            let worse = judged.word > known.word
                || judged.word == known.word && judged.strain > known.strain * (1.0 + 1e-9) + 1e-15;
            if !worse {
                return;
            }
        }
        let Judged { figure, limit, side, word, source, .. } = judged;
        let state = state.cloned();
        let rating =
            Rating { part, subject, state, figure, limit, side, unit, source, word, sentence };
        self.worst.insert(key, (judged, rating));
    }

    /// As [`Tally::add`], for a rule that is broken only if it is in all states: the best counts.
    pub(super) fn add_least(&mut self, finding: Finding, state: &State) {
        let key = (finding.place, finding.subject);
        let better = match self.worst.get(&key) {
            Some((known, _)) => finding.judged.strain < known.strain * (1.0 - 1e-9) - 1e-15,
            None => true,
        };
        if better {
            self.worst.remove(&key);
            self.add(finding, Some(state));
        }
    }

    pub(super) fn ratings(self) -> Vec<Rating> {
        self.worst.into_values().map(|(_, rating)| rating).collect()
    }
}
