//! How well a fault's levels agree with what is known.
//!
//! A reading speaks for a fault as a normal law would have it: the square of its distance from the
//! level, in deviations, halved, and the logarithm of the deviation, so that a level that may be
//! anywhere gains nothing from hitting the mark. A word speaks against a fault by how far the level
//! lies outside the word's range, and not at all inside. All of it is added up for each strength
//! that the pins may have, and over the strengths by how likely they are: nobody knows them, but
//! they are the same for every reading. Two readings are held to err apart from each other although
//! one resistor moves both; that makes the shares bolder than they should be and leaves the order.

use crate::analysis::hunt::fault::Fault;
use crate::analysis::hunt::observe::Look;
use crate::analysis::hunt::observe::Measured;
use crate::analysis::hunt::observe::Observation;
use crate::analysis::hunt::predict::Prediction;
use crate::analysis::hunt::predict::STRENGTHS;
use crate::analysis::hunt::predict::State;
use crate::analysis::hunt::predict::Volts;
use crate::analysis::verdict::SyncState;
use crate::base::math;
use crate::network::circuit::NodeId;
use crate::scenario::Scenario;
use crate::signal::element::ElementId;

/// A meter's own doubt, V: common practice, no source.
const METER_V: f64 = 0.005;
/// The same as a share of what it reads: common practice, no source.
const METER: f64 = 0.01;
/// Doubt about where an eye draws the line between two words, V: common practice, no source.
const EYE_V: f64 = 0.02;
/// Most deviations by which anything may be off in a fault that fits.
const MOST_DEVIATIONS: f64 = 4.0;

/// On less no chip of this class counts, V: common practice, no source.
const NO_SUPPLY_V: f64 = 2.0;

/// What is known and speaks against a fault.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Against {
    /// The word for an element.
    Seen(ElementId, Look),
    /// The word for the sync.
    Sync(SyncState),
    /// A reading.
    Measured(Measured),
    /// Whether the ball bounces.
    Bounces(bool),
}

/// A disagreement: what it is with, how large in deviations, and one deviation, V, of a reading.
struct Off {
    with: Against,
    deviations: f64,
    spread: f64,
}

/// How well a fault fits.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// Over all pin strengths, natural logarithm.
    pub log_likelihood: f64,
    /// Deviations of the worst disagreement at the best pin strength.
    pub worst: f64,
    /// What that is with; `None` if nothing is known.
    pub against: Option<Against>,
    /// How likely each of [`STRENGTHS`] is, given the fault; the sum is 1.
    pub strengths: Vec<f64>,
}

impl Fit {
    /// Whether nothing speaks plainly against it.
    #[must_use]
    pub fn matches(&self) -> bool {
        self.worst <= MOST_DEVIATIONS
    }

    /// The likeliest pin strength, by its index.
    #[must_use]
    pub fn best_strength(&self) -> usize {
        best_of(&self.strengths)
    }
}

/// One deviation of a reading under a fault, V.
#[must_use]
pub fn deviation_v(levels: &Prediction, strength: usize, state: State, node: NodeId) -> f64 {
    let doubt_v = levels.doubt_v(strength, |volts| volts[state.index()][node.0]);
    hypot(hypot(METER_V, METER * levels.at(strength, state, node)), doubt_v)
}

/// Weighs a fault against what is known.
#[must_use]
pub fn fit(scenario: &Scenario, fault: &Fault, levels: &Prediction, known: &Observation) -> Fit {
    let mut logs = Vec::new();
    let mut best = (f64::NEG_INFINITY, 0.0, None);
    for (strength, (_, prior)) in STRENGTHS.into_iter().enumerate() {
        let off = deviations(scenario, levels, strength, known);
        let of = |one: &Off| 0.5 * one.deviations * one.deviations + math::ln(one.spread);
        let misfit: f64 = off.iter().map(of).sum();
        let log = math::ln(prior) - misfit;
        if log > best.0 {
            let size = |one: &Off| one.deviations.abs();
            let worst = off.iter().max_by(|a, b| size(a).total_cmp(&size(b)));
            best = (log, worst.map_or(0.0, size), worst.map(|one| one.with));
        }
        logs.push(log);
    }
    let shares: Vec<f64> = logs.iter().map(|log| math::exp(log - best.0)).collect();
    let sum: f64 = shares.iter().sum();
    // A paddle off the screen lets the ball through, and a chip without supply plays nothing; a
    // paddle that is only unseen sends it back.
    let strength = best_of(&shares);
    let silent = fault.controller || is_unfed(scenario, levels, strength);
    let against = match known.bounces {
        Some(bounces) if bounces == silent => MOST_DEVIATIONS + 1.0,
        _ => 0.0,
    };
    let bounces = known.bounces.filter(|_| against > best.1).map(Against::Bounces);
    Fit {
        log_likelihood: best.0 + math::ln(sum) - 0.5 * against * against,
        worst: best.1.max(against),
        against: bounces.or(best.2),
        strengths: shares.iter().map(|share| share / sum).collect(),
    }
}

/// The largest, by its index, the first of equals.
fn best_of(shares: &[f64]) -> usize {
    let all = shares.iter().enumerate();
    all.max_by(|a, b| a.1.total_cmp(b.1).then(b.0.cmp(&a.0))).map_or(0, |(index, _)| index)
}

/// Whether a chip of which the supply is known is left without.
fn is_unfed(scenario: &Scenario, levels: &Prediction, strength: usize) -> bool {
    let mut supplies = scenario.circuit.pins().map(|(_, pin)| pin.supply);
    let supply = supplies.find(|node| *node != NodeId::GROUND);
    supply.is_some_and(|node| levels.at(strength, State::Black, node) < NO_SUPPLY_V)
}

/// Every disagreement.
fn deviations(
    scenario: &Scenario,
    levels: &Prediction,
    strength: usize,
    known: &Observation,
) -> Vec<Off> {
    let socket = scenario.output.node.0;
    let lines = &scenario.verdict;
    let (missing_v, faint_v) = (lines.missing * lines.span_v, lines.faint * lines.span_v);
    let mut all: Vec<Off> = Vec::new();
    let word = |with, deviations| Off { with, deviations, spread: 1.0 };
    for &(element, look) in &known.seen {
        let range = match look {
            Look::Clear => [faint_v, f64::INFINITY],
            Look::Faint => [missing_v, faint_v],
            Look::Missing => [-missing_v, missing_v],
            Look::Dark => [f64::NEG_INFINITY, -missing_v],
            Look::Brighter { above_mv } => [1e-3 * f64::from(above_mv), f64::INFINITY],
        };
        let lit = State::Lit(element).index();
        let above = |volts: &Volts| volts[lit][socket] - volts[State::Black.index()][socket];
        let with = Against::Seen(element, look);
        all.push(word(with, outside(levels, strength, above, range)));
    }
    if let Some(sync) = known.sync {
        let range = match sync {
            SyncState::Good => [lines.sync_good_v, f64::INFINITY],
            SyncState::Weak => [lines.sync_weak_v, lines.sync_good_v],
            SyncState::Failing => [f64::NEG_INFINITY, lines.sync_weak_v],
        };
        let depth =
            |volts: &Volts| volts[State::Black.index()][socket] - volts[State::Tip.index()][socket];
        all.push(word(Against::Sync(sync), outside(levels, strength, depth, range)));
    }
    for &measured in &known.measured {
        let volts = levels.at(strength, measured.state, measured.node);
        let spread = deviation_v(levels, strength, measured.state, measured.node);
        let (with, deviations) = (Against::Measured(measured), (measured.volts - volts) / spread);
        all.push(Off { with, deviations, spread });
    }
    all
}

/// How far something read off the levels lies outside the range of a word, in deviations.
fn outside(
    levels: &Prediction,
    strength: usize,
    of: impl Fn(&Volts) -> f64,
    [low, high]: [f64; 2],
) -> f64 {
    let volts = of(&levels.volts[strength]);
    let short = (low - volts).max(volts - high).max(0.0);
    short / hypot(EYE_V, levels.doubt_v(strength, of))
}

fn hypot(a: f64, b: f64) -> f64 {
    (a * a + b * b).sqrt()
}
