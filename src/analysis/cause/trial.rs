//! A suspect is tried: the board is solved again with that one thing put right.

use crate::analysis::cause::candidate::Candidate;
use crate::analysis::cause::remedy;
use crate::analysis::cause::remedy::Remedy;
use crate::analysis::cause::scene::Scene;
use crate::analysis::cause::subject::Subject;
use crate::analysis::cause::suspect::Suspect;
use crate::analysis::cause::suspect::SuspectKind;
use crate::analysis::ladder::Levels;
use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;
use crate::base::math;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::circuit::PinStage;
use crate::network::error::NetworkError;
use crate::raster::plan::LinePart;
use crate::scenario::change::Change;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;

/// What it costs a suspect that putting it right leaves one more thing wrong.
const STILL_WRONG: f64 = 0.5;
/// What a decade costs by which an element stays below half of the span, beyond that line.
const STILL_DIM: f64 = 0.5;
/// The same if it is the sync, without which nothing is seen.
const NO_SYNC: f64 = 1.0;
/// What it costs that the element itself is only better, not clear; and how much better it must be.
const STILL_FAINT: f64 = 1.25;
const MUCH_BETTER: f64 = 2.0;
/// What it costs that an element which left no trace comes out dark.
const DARK: f64 = 0.3;
/// What a value costs that no mixer is likely to have on purpose.
const UNUSUAL: f64 = 0.1;
/// What it costs that the bias of a transistor which is cut off is too small, by however much.
const LOST_BIAS: f64 = 0.25;
/// What it costs to change a resistor at the socket that matches the cable: one that is right.
const MATCHED: f64 = 0.5;
/// Between the chip and the socket a resistor above this is as good as open, Ω; common practice.
const AS_GOOD_AS_OPEN: f64 = 100e3;
/// Beside the way one below this is as good as a short, Ω; common practice.
const AS_GOOD_AS_SHORT: f64 = 40.0;
/// A set's input is 75 Ω, which nobody can change; less is two sets or a wrong resistor, and much
/// more is an input of another kind, Ω.
const SET_OHMS: [f64; 2] = [70.0, 80.0];
/// A pin is about 3 kΩ when high; common practice, no source. More than twice that is weak, Ω.
const WEAK_PIN: f64 = 6e3;

/// What comes of a change.
#[derive(Clone, Copy, Debug)]
struct Outcome {
    cures: bool,
    cost: f64,
}

impl Outcome {
    const FUTILE: Self = Self { cures: false, cost: f64::INFINITY };
}

impl Scene<'_> {
    /// Tries one suspect with larger and larger changes, and keeps the one that costs least; what
    /// must cost more than `limit` is not tried.
    pub(super) fn tried(&self, candidate: &Candidate, before_v: f64, limit: f64) -> Suspect {
        let remedies = self.remedies(candidate);
        let (least, per_decade) = self.costs(candidate);
        let own_cost = |decades: f64| least + per_decade * decades;
        let affordable = remedies.iter().take_while(|(decades, _)| own_cost(*decades) <= limit);
        let affordable: Vec<&Remedy> = affordable.collect();
        let mut best: Option<(Outcome, &Change)> = None;
        let worth_it = self.promises(&affordable, before_v);
        for (decades, change) in affordable.into_iter().filter(|_| worth_it) {
            let cost = own_cost(*decades);
            // Nothing further on can cost less.
            if best.is_some_and(|(least, _)| least.cost <= cost) {
                break;
            }
            // A board that cannot be solved speaks for nothing.
            let Ok(Some(outcome)) = self.outcome(change, before_v) else { continue };
            let outcome = Outcome { cost: cost + outcome.cost, ..outcome };
            if best.is_none_or(|(least, _)| outcome.cost < least.cost) {
                best = Some((outcome, change));
            }
        }
        let Candidate { kind, part, node, other, pulse_in_v, pulse_out_v } = *candidate;
        let furthest = remedies.last().map(|(_, change)| change);
        let remedy = best.map(|(_, change)| change).or(furthest).cloned();
        let remedy = remedy.unwrap_or(Change::Open(part));
        let Outcome { cures, cost } = best.map_or(Outcome::FUTILE, |(outcome, _)| outcome);
        Suspect {
            kind,
            part,
            node,
            other,
            pulse_in_v,
            pulse_out_v,
            remedy,
            cures,
            is_unusual: self.is_unusual(candidate),
            cost,
        }
    }

    /// Whether the load is a set's own input.
    fn feeds_a_set(&self) -> bool {
        match self.part(self.scenario.output.load).kind {
            PartKind::Resistor { ohms, .. } => (SET_OHMS[0]..=SET_OHMS[1]).contains(&ohms),
            _ => false,
        }
    }

    /// How reluctantly a matter of degree is blamed: a chip's pin, a gate and a set's input cannot be
    /// changed with an iron, a resistor can.
    fn reluctance(&self, kind: SuspectKind) -> f64 {
        match kind {
            SuspectKind::Load if !self.feeds_a_set() => 1.0,
            SuspectKind::Load | SuspectKind::WeakOutput => 2.0,
            _ => 1.0,
        }
    }

    /// Whether a long row of changes is worth trying one by one: the furthest, the middle or the
    /// quarter of it does something.
    fn promises(&self, row: &[&Remedy], before_v: f64) -> bool {
        const SHORT: usize = 4;
        let does = |index: usize| matches!(self.outcome(&row[index].1, before_v), Ok(Some(_)));
        let count = row.len();
        count <= SHORT || [count - 1, count / 2, count / 4].into_iter().any(does)
    }

    fn remedies(&self, candidate: &Candidate) -> Vec<Remedy> {
        let (circuit, part) = (self.circuit(), candidate.part);
        let kind = &self.part(part).kind;
        let branch = remedy::branch_between(circuit, part, candidate.node, candidate.other);
        match (candidate.kind, kind, branch) {
            (SuspectKind::Series | SuspectKind::Bias, _, Some(branch)) => {
                remedy::resistances(circuit, &branch, false)
            }
            (SuspectKind::Shunt | SuspectKind::JoinedInput, _, Some(branch)) => {
                remedy::resistances(circuit, &branch, true)
            }
            (SuspectKind::Load, _, Some(branch)) => remedy::loads(circuit, &branch),
            (SuspectKind::Rival | SuspectKind::Shunt, ..) => vec![(0.0, Change::Open(part))],
            (SuspectKind::NoPull, PartKind::Pin(pin), _) => remedy::pulled(pin, self.rail()),
            (SuspectKind::DeadPin, PartKind::Pin(pin), _) => {
                let volts = (self.black_v[pin.supply.0] - 1.1).max(3.9);
                // The higher index is the higher level.
                let high = self.level(part).max(self.idle_level(part));
                remedy::alive(part, pin, high, volts)
            }
            (SuspectKind::WrongPin, kind, _) => {
                remedy::tied(part, kind, candidate.other, candidate.node)
            }
            (SuspectKind::DeadRail, ..) => remedy::fed(candidate.node),
            (SuspectKind::Junction, PartKind::Transistor { base, model, .. }, _) => {
                remedy::biased(*base, model.polarity, self.rail())
            }
            (SuspectKind::Turned, kind, _) => remedy::turned(part, kind),
            (SuspectKind::Junction, kind, _) => remedy::softened(part, kind),
            (SuspectKind::WeakOutput, kind, _) => {
                remedy::stronger(part, kind, self.carrying_level(part))
            }
            (SuspectKind::Blocked, ..) => remedy::larger(part),
            (SuspectKind::Logic, PartKind::Gate(gate), _) => remedy::other_logic(part, gate),
            (SuspectKind::StuckInput, PartKind::Gate(gate), _) => {
                remedy::freed(part, gate, candidate.node, candidate.other)
            }
            (SuspectKind::Threshold, PartKind::Gate(gate), _) => {
                let middle = self.fair_level(part, candidate.node);
                middle.map_or(Vec::new(), |volts| remedy::switching_at(circuit, part, gate, volts))
            }
            _ => Vec::new(),
        }
    }

    /// The middle of what drives a gate's input swings between, V.
    pub(super) fn fair_level(&self, gate: PartId, input: NodeId) -> Option<f64> {
        self.ways.iter().find_map(|way| {
            let index = way.hops.iter().position(|hop| hop.part == gate && hop.from == input)?;
            let [low, high] = self.driving_swing(way, index);
            Some(0.5 * (low + high))
        })
    }

    /// What a change does; `None` if the element is no better for it, or turns from light to dark.
    fn outcome(&self, change: &Change, before_v: f64) -> Result<Option<Outcome>, NetworkError> {
        let mut circuit = self.circuit().clone();
        if circuit.apply(change).is_err() {
            return Ok(None);
        }
        let (scenario, subject) = (self.scenario, self.subject);
        let levels = Levels::near(scenario, &circuit, Some(self.levels.black()))?;
        let after_v = levels.against_black(subject.state(), scenario.output.node)?;
        let is_element = subject != Subject::Sync;
        // What is missing is neither light nor dark.
        let missing_v = scenario.verdict.missing * scenario.verdict.span_v;
        let turns = is_element && before_v.abs() > missing_v && before_v * after_v < 0.0;
        let seen = subject.seen(&scenario.verdict, after_v);
        let is_better = subject.size_v(after_v) > MUCH_BETTER * subject.size_v(before_v);
        if turns || seen == Seen::Missing || (seen == Seen::Faint && !is_better) {
            return Ok(None);
        }
        let mut cost = self.still_wrong(&levels)?;
        if is_element && after_v < 0.0 && before_v > -missing_v {
            cost += DARK;
        }
        if seen == Seen::Faint {
            let clear_v = subject.clear_v(&scenario.verdict);
            cost += STILL_FAINT + math::log10(clear_v / subject.size_v(after_v));
        }
        Ok(Some(Outcome { cures: seen == Seen::Clear, cost }))
    }

    /// What else is not as it should be, elements that are not clear and the sync, as a cost.
    fn still_wrong(&self, levels: &Levels<'_>) -> Result<f64, NetworkError> {
        let (scenario, socket) = (self.scenario, self.scenario.output.node);
        let verdict = &scenario.verdict;
        let mut wrong = 0.0;
        for (_, index) in scenario.raster.elements.iter().zip(0..) {
            let delta_v = levels.delta(ElementId(index), socket)?.abs();
            if self.subject != ElementId(index).into() && verdict.seen(delta_v) != Seen::Clear {
                wrong += STILL_WRONG;
            }
            // What is not clear has been counted; it is not dimmer than that.
            let seen_v = delta_v.max(verdict.faint * verdict.span_v);
            wrong += STILL_DIM * math::log10(0.5 * verdict.span_v / seen_v).max(0.0);
        }
        let tip = levels.solve(ElementSet::EMPTY, LinePart::Sync)?.volts(socket);
        if scenario.verdict.sync(levels.black().volts(socket) - tip) == SyncState::Failing {
            wrong += NO_SYNC;
        }
        Ok(wrong)
    }

    /// Whether it is the resistor that should bias a transistor which is cut off: likelier than that
    /// there should be one more.
    fn is_lost_bias(&self, candidate: &Candidate) -> bool {
        candidate.kind == SuspectKind::Bias && self.is_cut_off(candidate.node)
    }

    /// What a suspect costs at least.
    pub(super) fn least_cost(&self, candidate: &Candidate) -> f64 {
        self.costs(candidate).0
    }

    /// What a suspect costs at least, and for every decade that its remedy goes.
    fn costs(&self, candidate: &Candidate) -> (f64, f64) {
        if self.is_unusual(candidate) {
            (UNUSUAL, 0.0)
        } else if self.is_lost_bias(candidate) {
            (LOST_BIAS, 0.0)
        } else {
            let match_cost = if self.is_source_match(candidate) { MATCHED } else { 0.0 };
            (base_cost(candidate.kind) + match_cost, self.reluctance(candidate.kind))
        }
    }

    /// Whether it is the resistor at the socket that gives a set's cable its own impedance to come from.
    fn is_source_match(&self, candidate: &Candidate) -> bool {
        let Candidate { part, node, other, .. } = *candidate;
        let at_socket = [node, other].contains(&self.scenario.output.node);
        let branch = remedy::branch_between(self.circuit(), part, node, other);
        candidate.kind == SuspectKind::Series
            && at_socket
            && self.feeds_a_set()
            && branch.is_some_and(|branch| (SET_OHMS[0]..=SET_OHMS[1]).contains(&branch.ohms))
    }

    /// Whether a value is one that nobody would fit on purpose.
    fn is_unusual(&self, candidate: &Candidate) -> bool {
        let part = candidate.part;
        let branch = remedy::branch_between(self.circuit(), part, candidate.node, candidate.other);
        match (candidate.kind, &self.part(part).kind, branch) {
            (SuspectKind::JoinedInput, ..) => true,
            (SuspectKind::Series | SuspectKind::Bias, _, Some(branch)) => {
                branch.ohms > AS_GOOD_AS_OPEN
            }
            (SuspectKind::Shunt, _, Some(branch)) => branch.ohms < AS_GOOD_AS_SHORT,
            (SuspectKind::Load, _, Some(branch)) => branch.ohms < SET_OHMS[0],
            (SuspectKind::WeakOutput, PartKind::Pin(pin), _) => {
                let stage = &pin.levels[self.carrying_level(part)];
                stage_ohms(stage, self.black_v[pin.supply.0]) > WEAK_PIN
            }
            _ => false,
        }
    }
}

/// What a stage amounts to: for a square law, its resistance when it is loaded to half its volts,
/// Ω; 0 for one that lets go.
pub(in crate::analysis) fn stage_ohms(stage: &PinStage, supply: f64) -> f64 {
    match *stage {
        PinStage::Linear { ohms, .. } => ohms,
        PinStage::PullUp { k, threshold } => 4.0 / (k * (supply - threshold).max(0.1)),
        PinStage::PullDown { k, threshold } => 1.0 / (k * (supply - threshold).max(0.1)),
        PinStage::Off { .. } => 0.0,
    }
}

/// What is believed against a suspect before it is tried: nothing against plain faults, something
/// against matters of degree.
fn base_cost(kind: SuspectKind) -> f64 {
    match kind {
        SuspectKind::Rival | SuspectKind::DeadRail | SuspectKind::DeadPin => 0.0,
        SuspectKind::NoPull | SuspectKind::WrongPin => 0.2,
        SuspectKind::JoinedInput
        | SuspectKind::Turned
        | SuspectKind::Logic
        | SuspectKind::StuckInput
        | SuspectKind::Threshold
        | SuspectKind::Blocked => 0.1,
        SuspectKind::Series | SuspectKind::Shunt | SuspectKind::Bias => 0.3,
        SuspectKind::WeakOutput => 0.4,
        SuspectKind::Load => 0.5,
        SuspectKind::Junction => 0.3,
    }
}
