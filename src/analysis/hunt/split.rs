//! The measurement that tells the likeliest suspects apart.

use crate::analysis::hunt::Suspect;
use crate::analysis::hunt::fit::deviation_v;
use crate::analysis::hunt::lasting;
use crate::analysis::hunt::lasting::METER_SHARE;
use crate::analysis::hunt::observe::Observation;
use crate::analysis::hunt::predict::State;
use crate::base::math;
use crate::network::circuit::NodeId;
use crate::scenario::Scenario;

/// Most suspects that a measurement is chosen for.
const MOST_SUSPECTS: usize = 60;
/// A pin strength less likely than this, given the fault, does not widen its band.
const LIKELY: f64 = 0.05;
/// The least share that a measurement must be expected to clear away to be worth the probe.
const WORTH: f64 = 1e-3;
/// A meter is proposed beside a scope if it clears away this much of what the scope does.
const BY_METER: f64 = 0.5;
/// How finely a probe on a strange board is read when it comes to choosing where to put it, V:
/// common practice, no source. Without it, millivolts beside ground would be as good as volts.
const READ_V: f64 = 0.05;
/// Two levels closer than this many deviations are one.
const APART: f64 = 2.0;

/// A measurement worth making.
#[derive(Clone, Debug, PartialEq)]
pub struct Split {
    /// Where.
    pub node: NodeId,
    /// When.
    pub state: State,
    /// Share of a field that the state lasts.
    pub share: f64,
    /// Expected share of the likelihood that is left with what cannot be told from the culprit.
    pub left: f64,
    /// Lowest and highest volts expected under each suspect, in the order of the suspects.
    pub expected: Vec<[f64; 2]>,
}

impl Split {
    /// Whether it takes a scope: a meter shows the mean of a field.
    #[must_use]
    pub fn needs_scope(&self) -> bool {
        self.share < METER_SHARE
    }
}

/// What a suspect lets expect: lowest and highest volts, and one deviation beyond them, V.
struct Band {
    low: f64,
    high: f64,
    spread: f64,
}

/// The best of all nodes and states that have not been measured, and the best of those that a meter
/// can read, if that is another and does half as well; `None` where none splits.
#[must_use]
pub fn best_splits(
    scenario: &Scenario,
    known: &Observation,
    suspects: &[Suspect],
) -> [Option<Split>; 2] {
    let suspects = &suspects[..suspects.len().min(MOST_SUSPECTS)];
    let total: f64 = suspects.iter().map(|one| one.share).sum();
    let shares = lasting::shares(scenario);
    let (mut best, mut by_meter): (Option<Split>, Option<Split>) = (None, None);
    for node in (1..scenario.circuit.nodes.len()).map(NodeId) {
        for state in State::all(scenario) {
            if known.measured.iter().any(|one| one.node == node && one.state == state) {
                continue;
            }
            let bands: Vec<Band> = suspects.iter().map(|one| band(one, state, node)).collect();
            let left = left_over(suspects, &bands, total);
            let expected = bands.iter().map(|band| [band.low, band.high]).collect();
            let split = Split { node, state, share: shares[state.index()], left, expected };
            let is_better =
                |than: &Option<Split>| than.as_ref().is_none_or(|than| left < than.left - 1e-9);
            if !split.needs_scope() && is_better(&by_meter) {
                by_meter = Some(split.clone());
            }
            if is_better(&best) {
                best = Some(split);
            }
        }
    }
    let worth = |split: &Split| split.left < 1.0 - WORTH;
    let best = best.filter(worth);
    let is_other = |other: &Split| {
        let enough = |best: &Split| 1.0 - other.left >= BY_METER * (1.0 - best.left);
        best.as_ref().is_some_and(|best| best != other && enough(best))
    };
    let by_meter = by_meter.filter(is_other);
    [best, by_meter]
}

fn likely(suspect: &Suspect) -> impl Iterator<Item = usize> {
    let all = suspect.fit.strengths.iter().enumerate();
    all.filter(|(_, share)| **share > LIKELY).map(|(index, _)| index)
}

fn band(suspect: &Suspect, state: State, node: NodeId) -> Band {
    let none = Band { low: f64::INFINITY, high: f64::NEG_INFINITY, spread: 0.0 };
    likely(suspect).fold(none, |band, strength| {
        let volts = suspect.prediction.at(strength, state, node);
        let spread = deviation_v(&suspect.prediction, strength, state, node);
        Band {
            low: band.low.min(volts),
            high: band.high.max(volts),
            spread: band.spread.max(spread),
        }
    })
}

/// Σ p p' × how alike the two bands are: what is left, on average, beside the culprit.
fn left_over(suspects: &[Suspect], bands: &[Band], total: f64) -> f64 {
    let mut left = 0.0;
    for (one, a) in suspects.iter().zip(bands) {
        for (other, b) in suspects.iter().zip(bands) {
            let gap = (a.low - b.high).max(b.low - a.high).max(0.0);
            let spread = a.spread * a.spread + b.spread * b.spread + READ_V * READ_V;
            let alike = math::exp(-0.5 * gap * gap / spread);
            left += one.share * other.share * alike / (total * total);
        }
    }
    left
}

/// Whether no level at any node, in any state, tells two suspects apart: for some strength of the
/// pins that is likely under each, all levels lie within two deviations.
#[must_use]
pub fn alike(scenario: &Scenario, a: &Suspect, b: &Suspect) -> bool {
    let within = |strength_a: usize, strength_b: usize, state: State, node: NodeId| {
        let [(levels_a, volts_a), (levels_b, volts_b)] = [(a, strength_a), (b, strength_b)]
            .map(|(one, at)| (&one.prediction, one.prediction.at(at, state, node)));
        let spread_a = deviation_v(levels_a, strength_a, state, node);
        let spread_b = deviation_v(levels_b, strength_b, state, node);
        let off = volts_a - volts_b;
        off * off <= APART * APART * (spread_a * spread_a + spread_b * spread_b)
    };
    likely(a).any(|strength_a| {
        likely(b).any(|strength_b| {
            State::all(scenario).into_iter().all(|state| {
                let mut nodes = (1..scenario.circuit.nodes.len()).map(NodeId);
                nodes.all(|node| within(strength_a, strength_b, state, node))
            })
        })
    })
}
