//! A suspect is tried: the board is solved again with that one thing put right.

use crate::analysis::cause::remedy;
use crate::analysis::cause::remedy::Remedy;
use crate::analysis::cause::scene::Candidate;
use crate::analysis::cause::scene::Scene;
use crate::analysis::cause::suspect::Suspect;
use crate::analysis::cause::suspect::SuspectKind;
use crate::analysis::ladder::Levels;
use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;
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
/// What a value costs that no mixer is likely to have on purpose.
const UNUSUAL: f64 = 0.1;
/// Between the chip and the socket a resistor above this is as good as open, Ω; common practice.
const AS_GOOD_AS_OPEN: f64 = 100e3;
/// Beside the way one below this is as good as a short, Ω; common practice.
const AS_GOOD_AS_SHORT: f64 = 10.0;
/// A set's input is 75 Ω; less is two sets or a wrong resistor, Ω.
const LEAST_LOAD: f64 = 70.0;
/// A pin is about 3 kΩ when high; common practice, no source. More than twice that is weak, Ω.
const WEAK_PIN: f64 = 6e3;

impl Scene<'_> {
    /// Tries one suspect with larger and larger changes, and keeps the one that costs least.
    pub(super) fn tried(&self, candidate: &Candidate, before_v: f64) -> Suspect {
        let remedies = self.remedies(candidate);
        let is_unusual = self.is_unusual(candidate);
        let reluctance = match candidate.kind {
            SuspectKind::Load | SuspectKind::WeakOutput => 2.0,
            _ => 1.0,
        };
        let mut best: Option<(f64, &Change)> = None;
        for (decades, change) in &remedies {
            let cost = if is_unusual {
                UNUSUAL
            } else {
                remedy::base_cost(candidate.kind) + reluctance * decades
            };
            // Nothing further on can cost less.
            if best.is_some_and(|(least, _)| least <= cost) {
                break;
            }
            let Ok(Some(wrong)) = self.still_wrong(change, before_v) else { continue };
            let cost = cost + STILL_WRONG * wrong;
            if best.is_none_or(|(least, _)| cost < least) {
                best = Some((cost, change));
            }
        }
        let Candidate { kind, part, node, other, pulse_in_v, pulse_out_v } = *candidate;
        let furthest = remedies.last().map(|(_, change)| change);
        let (cost, change) = best.map_or((f64::INFINITY, furthest), |(cost, change)| (cost, Some(change)));
        let remedy = change.cloned().unwrap_or(Change::Open(part));
        let cures = best.is_some();
        Suspect { kind, part, node, other, pulse_in_v, pulse_out_v, remedy, cures, cost }
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
            (SuspectKind::NoPull, PartKind::Pin(pin), _) => remedy::pulled(part, pin),
            (SuspectKind::Turned, kind, _) => remedy::turned(part, kind),
            (SuspectKind::Junction, kind, _) => remedy::softened(part, kind),
            (SuspectKind::WeakOutput, kind, _) => remedy::stronger(part, kind),
            (SuspectKind::Blocked, ..) => remedy::larger(part),
            (SuspectKind::Logic, PartKind::Gate(gate), _) => remedy::other_logic(part, gate),
            (SuspectKind::StuckInput, PartKind::Gate(gate), _) => {
                remedy::freed(part, gate, candidate.node, candidate.other)
            }
            (SuspectKind::Threshold, PartKind::Gate(gate), _) => {
                let middle = self.fair_level(part, candidate.node);
                middle.map_or(Vec::new(), |volts| remedy::switching_at(part, gate, volts))
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

    /// How many things are not as they should be after a change; `None` if the element is not
    /// clear, or turns from light to dark.
    fn still_wrong(&self, change: &Change, before_v: f64) -> Result<Option<f64>, NetworkError> {
        const SIGNED_V: f64 = 5e-3;
        let mut circuit = self.circuit().clone();
        if circuit.apply(change).is_err() {
            return Ok(None);
        }
        let scenario = self.scenario;
        let levels = Levels::near(scenario, &circuit, Some(self.levels.black()))?;
        let is_clear = |delta_v: f64| scenario.verdict.seen(delta_v) == Seen::Clear;
        let socket = scenario.output.node;
        let after_v = levels.delta(self.element, socket)?;
        let turns = before_v.abs() > SIGNED_V && before_v * after_v < 0.0;
        if turns || !is_clear(after_v) {
            return Ok(None);
        }
        let mut wrong = 0.0;
        for (_, index) in scenario.raster.elements.iter().zip(0..) {
            if ElementId(index) != self.element && !is_clear(levels.delta(ElementId(index), socket)?) {
                wrong += 1.0;
            }
        }
        let tip = levels.solve(ElementSet::EMPTY, LinePart::Sync)?.volts(socket);
        let depth_v = levels.black().volts(socket) - tip;
        if scenario.verdict.sync(depth_v) == SyncState::Failing {
            wrong += 1.0;
        }
        Ok(Some(wrong))
    }

    /// Whether a value is one that nobody would fit on purpose.
    fn is_unusual(&self, candidate: &Candidate) -> bool {
        let part = candidate.part;
        let branch =
            remedy::branch_between(self.circuit(), part, candidate.node, candidate.other);
        match (candidate.kind, &self.part(part).kind, branch) {
            (SuspectKind::JoinedInput, ..) => true,
            (SuspectKind::Series | SuspectKind::Bias, _, Some(branch)) => {
                branch.ohms > AS_GOOD_AS_OPEN
            }
            (SuspectKind::Shunt, _, Some(branch)) => branch.ohms < AS_GOOD_AS_SHORT,
            (SuspectKind::Load, _, Some(branch)) => branch.ohms < LEAST_LOAD,
            (SuspectKind::WeakOutput, PartKind::Pin(pin), _) => {
                let supply = self.black_v[pin.supply.0];
                pin.levels.iter().any(|stage| stage_ohms(stage, supply) > WEAK_PIN)
            }
            _ => false,
        }
    }
}

/// What a stage amounts to: for a square law, its resistance when it is loaded to half its volts,
/// Ω; 0 for one that lets go.
pub(super) fn stage_ohms(stage: &PinStage, supply: f64) -> f64 {
    match *stage {
        PinStage::Linear { ohms, .. } => ohms,
        PinStage::PullUp { k, threshold } => 4.0 / (k * (supply - threshold).max(0.1)),
        PinStage::PullDown { k, threshold } => 1.0 / (k * (supply - threshold).max(0.1)),
        PinStage::Off { .. } => 0.0,
    }
}
