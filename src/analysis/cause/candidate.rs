//! Everything on a pulse's ways and beside them that may be to blame.

use crate::analysis::cause::remedy;
use crate::analysis::cause::remedy::Branch;
use crate::analysis::cause::route::Hop;
use crate::analysis::cause::scene::DEAD_RAIL_V;
use crate::analysis::cause::scene::LOST_V;
use crate::analysis::cause::scene::Scene;
use crate::analysis::cause::scene::Way;
use crate::analysis::cause::suspect::SuspectKind;
use crate::network::circuit::Gate;
use crate::network::circuit::Logic;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::circuit::Pin;
use crate::network::circuit::PinStage;
use crate::network::terminal::terminals;

/// A suspect before it is tried.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Candidate {
    pub(super) kind: SuspectKind,
    pub(super) part: PartId,
    pub(super) node: NodeId,
    pub(super) other: NodeId,
    pub(super) pulse_in_v: f64,
    pub(super) pulse_out_v: f64,
}

/// A pulse that keeps less than this share of itself has been lost in part.
const KEPT: f64 = 0.6;

impl Candidate {
    /// What is left of the pulse after it.
    pub(super) fn left(&self) -> f64 {
        left(self.pulse_in_v, self.pulse_out_v)
    }
}

/// The share of a pulse that is left.
pub(super) fn left(pulse_in_v: f64, pulse_out_v: f64) -> f64 {
    const FLOOR_V: f64 = 1e-6;
    pulse_out_v.abs().max(FLOOR_V) / pulse_in_v.abs().max(FLOOR_V)
}

impl Scene<'_> {
    /// Every suspect, in the order of the ways, each once.
    pub(super) fn candidates(&self) -> Vec<Candidate> {
        let mut all: Vec<Candidate> = Vec::new();
        for way in &self.ways {
            for next in self.along(way) {
                let known = |old: &Candidate| {
                    (old.kind, old.part, old.node, old.other)
                        == (next.kind, next.part, next.node, next.other)
                };
                if !all.iter().any(known) {
                    all.push(next);
                }
            }
        }
        all
    }

    fn along(&self, way: &Way) -> Vec<Candidate> {
        let mut all = Vec::new();
        let first = way.hops.first().map_or(self.scenario.output.node, |hop| hop.from);
        let [low, high] = self.open_swing(way.pin);
        if let PartKind::Pin(pin) = &self.part(way.pin).kind {
            all.extend(self.at_the_pin(way, pin));
        }
        all.extend(self.beside(way, first, high - low));
        for (index, hop) in way.hops.iter().enumerate() {
            all.extend(self.in_the_way(way, index));
            let before_v = match &self.part(hop.part).kind {
                PartKind::Gate(gate) => self.black_v[gate.supply.0],
                _ => self.pulse_v(hop.from),
            };
            all.extend(self.beside(way, hop.to, before_v));
        }
        all
    }

    fn at_the_pin(&self, way: &Way, pin: &Pin) -> Vec<Candidate> {
        let [low, high] = self.open_swing(way.pin);
        let (pulse_in_v, pulse_out_v) = (high - low, self.pulse_v(pin.node));
        let suspect = |kind, part, node, other| Candidate {
            kind,
            part,
            node,
            other,
            pulse_in_v,
            pulse_out_v,
        };
        if self.is_dead_rail(pin.supply) {
            return vec![suspect(SuspectKind::DeadRail, way.pin, pin.supply, pin.node)];
        }
        let mut all = vec![suspect(SuspectKind::WeakOutput, way.pin, pin.node, pin.node)];
        if pulse_out_v.abs() < 0.5 * pulse_in_v.abs() || pulse_in_v == 0.0 {
            let kind = self.one_way(pin);
            all.extend(kind.map(|kind| suspect(kind, way.pin, pin.node, pin.node)));
        }
        if let (Some(hop), Some(own)) = (way.hops.first(), self.unused_pin()) {
            all.push(suspect(SuspectKind::WrongPin, hop.part, own, hop.from));
        }
        all
    }

    /// What a part on the way may do to the pulse.
    fn in_the_way(&self, way: &Way, index: usize) -> Vec<Candidate> {
        let hop = &way.hops[index];
        let (pulse_in_v, pulse_out_v) = (self.pulse_v(hop.from), self.pulse_v(hop.to));
        let suspect = |kind| Candidate {
            kind,
            part: hop.part,
            node: hop.to,
            other: hop.from,
            pulse_in_v,
            pulse_out_v,
        };
        let is_lost = pulse_out_v.abs() < KEPT * pulse_in_v.abs();
        match &self.part(hop.part).kind {
            PartKind::Gate(gate) => self.gate_suspects(way, index, gate),
            PartKind::Diode { .. } if is_lost => {
                vec![suspect(SuspectKind::Turned), suspect(SuspectKind::Junction)]
            }
            kind @ PartKind::Transistor { base, collector, .. } => {
                let mut all = Vec::new();
                if self.is_dead_rail(*collector) {
                    let (node, other) = (*collector, hop.from);
                    all.push(Candidate { node, other, ..suspect(SuspectKind::DeadRail) });
                }
                if *base == hop.from && is_lost {
                    all.push(suspect(SuspectKind::Junction));
                }
                if *base != hop.from || self.works_backwards(kind) {
                    all.push(suspect(SuspectKind::Turned));
                }
                all
            }
            PartKind::Resistor { .. }
            | PartKind::Trimmer { .. }
            | PartKind::Inductor { .. }
            | PartKind::LossyInductor { .. }
            | PartKind::Contact { .. } => {
                // A resistor on the best way may also be the one that bridges the right one.
                vec![suspect(SuspectKind::Series), suspect(SuspectKind::Shunt)]
            }
            PartKind::Capacitor { .. } | PartKind::RealCapacitor(_) if is_lost => {
                vec![suspect(SuspectKind::Blocked)]
            }
            _ => Vec::new(),
        }
    }

    fn gate_suspects(&self, way: &Way, index: usize, gate: &Gate) -> Vec<Candidate> {
        let hop = &way.hops[index];
        let level = gate.threshold.typical(self.black_v[gate.supply.0]);
        let is_high = |volts: &[f64], node: NodeId| volts[node.0] >= level;
        let suspect = |kind, part, node, other| {
            let (pulse_in_v, pulse_out_v) = (self.pulse_v(hop.from), self.pulse_v(hop.to));
            Candidate { kind, part, node, other, pulse_in_v, pulse_out_v }
        };
        if self.black_v[gate.supply.0] < DEAD_RAIL_V {
            return vec![suspect(SuspectKind::DeadRail, hop.part, gate.supply, hop.from)];
        }
        let weak = suspect(SuspectKind::WeakOutput, hop.part, hop.to, hop.to);
        if is_high(&self.black_v, hop.from) == is_high(&self.lit_v, hop.from) {
            return vec![suspect(SuspectKind::Threshold, hop.part, hop.from, hop.from), weak];
        }
        if self.pulse_v(hop.to).abs() > LOST_V {
            let turned = suspect(SuspectKind::Logic, hop.part, hop.to, hop.from);
            return [weak].into_iter().chain(self.is_upside_down().then_some(turned)).collect();
        }
        let mut all = vec![];
        for &input in gate.inputs.iter().filter(|&&input| input != hop.from) {
            let state = is_high(&self.black_v, input);
            let idle_is_wrong =
                state == dominates(gate.logic) && (state || self.stands(input, level));
            if !idle_is_wrong {
                continue;
            }
            // Where a gate of the wrong kind is what holds the input, that gate is to blame.
            if let Some(driver) = self.driven_by_gate(input) {
                all.push(suspect(SuspectKind::Logic, driver, input, hop.from));
            }
            all.push(suspect(SuspectKind::StuckInput, hop.part, input, hop.from));
            all.extend(self.holding(way, input));
        }
        all.push(suspect(SuspectKind::Logic, hop.part, hop.to, hop.from));
        all.push(weak);
        all
    }

    /// What may hold a gate's input that stands where it should not.
    fn holding(&self, way: &Way, input: NodeId) -> Vec<Candidate> {
        let mut all = self.beside(way, input, 0.0);
        for (part, pin) in self.circuit().pins().filter(|(_, pin)| pin.node == input) {
            let pulse_out_v = self.pulse_v(input);
            all.extend(self.one_way(pin).map(|kind| Candidate {
                kind,
                part,
                node: input,
                other: input,
                pulse_in_v: 0.0,
                pulse_out_v,
            }));
        }
        all
    }

    /// What a pin lacks that lets go at some level.
    fn one_way(&self, pin: &Pin) -> Option<SuspectKind> {
        let lets_go = |stage: &PinStage| matches!(stage, PinStage::Off { .. });
        if pin.levels.iter().all(lets_go) {
            Some(SuspectKind::DeadPin)
        } else if pin.levels.iter().any(lets_go) {
            Some(SuspectKind::NoPull)
        } else {
            None
        }
    }

    /// What hangs on a node of the way without being on it there.
    fn beside(&self, way: &Way, node: NodeId, pulse_in_v: f64) -> Vec<Candidate> {
        let pulse_out_v = self.pulse_v(node);
        let suspect =
            |kind, part, other| Candidate { kind, part, node, other, pulse_in_v, pulse_out_v };
        let on_way = |part: PartId| way.hops.iter().any(|hop| hop.part == part);
        let mut found = Vec::new();
        for (index, part) in self.circuit().parts.iter().enumerate() {
            let id = PartId(index);
            let others: Vec<NodeId> = touching(part, node);
            if others.is_empty() {
                continue;
            }
            match &part.kind {
                PartKind::Pin(pin) => {
                    let idle = !self.starts.contains(&(id, pin.node));
                    found.extend(idle.then(|| suspect(SuspectKind::Rival, id, node)));
                }
                PartKind::Gate(_) if on_way(id) => {}
                PartKind::Gate(gate) => {
                    let drives = gate.output == node;
                    found.extend(drives.then(|| suspect(SuspectKind::Rival, id, node)));
                }
                PartKind::Transistor { .. } if !on_way(id) => {
                    found.push(suspect(SuspectKind::Rival, id, node));
                }
                PartKind::Diode { .. } if !on_way(id) => {
                    found.push(suspect(SuspectKind::Turned, id, others[0]));
                    found.push(suspect(SuspectKind::Shunt, id, others[0]));
                }
                _ => {
                    for branch in remedy::branches(self.circuit(), id) {
                        let taken = way.hops.iter().any(|hop| is_through(&branch, hop));
                        if branch.ends.contains(&node) && !taken {
                            let other = branch.other(node);
                            if self.is_dead_rail(other) {
                                let rail = suspect(SuspectKind::DeadRail, id, node);
                                found.push(Candidate { node: other, ..rail });
                            }
                            let kinds = self.branch_kinds(id, node, other);
                            found.extend(kinds.into_iter().map(|kind| suspect(kind, id, other)));
                            if let Some(gate) = self.driven_by_gate(other).filter(|&g| !on_way(g)) {
                                found.extend(self.gate_beside(gate));
                            }
                        }
                    }
                }
            }
        }
        found
    }

    /// What may be wrong with a gate that only weighs on the way, and with the gates before it: its
    /// kind, or an input that holds it.
    fn gate_beside(&self, id: PartId) -> Vec<Candidate> {
        let mut all = Vec::new();
        let mut gates = vec![id];
        let mut next = 0;
        while let Some(&id) = gates.get(next) {
            next += 1;
            let PartKind::Gate(gate) = &self.part(id).kind else { continue };
            let suspect = |kind, node, other| Candidate {
                kind,
                part: id,
                node,
                other,
                pulse_in_v: 0.0,
                pulse_out_v: self.pulse_v(gate.output),
            };
            let level = gate.threshold.typical(self.black_v[gate.supply.0]);
            for &input in &gate.inputs {
                let free = gate.inputs.iter().find(|&&other| other != input);
                let holds = dominates(gate.logic) && self.black_v[input.0] >= level;
                let before = self.driven_by_gate(input);
                if let (true, None, Some(&free)) = (holds, before, free) {
                    all.push(suspect(SuspectKind::StuckInput, input, free));
                }
                gates.extend(before.filter(|before| !gates.contains(before)));
            }
            // An output that idles low and answers to its inputs is that of a gate of a right kind.
            let half = 0.5 * self.black_v[gate.supply.0];
            if self.black_v[gate.output.0] >= half || self.stands(gate.output, half) {
                all.push(suspect(SuspectKind::Logic, gate.output, gate.output));
            }
        }
        all
    }

    fn branch_kinds(&self, part: PartId, node: NodeId, other: NodeId) -> Vec<SuspectKind> {
        if part == self.scenario.output.load {
            vec![SuspectKind::Load]
        } else if self.listener(node).is_some() && self.is_output(other) {
            vec![SuspectKind::JoinedInput]
        } else if self.lifts(other) {
            vec![SuspectKind::Shunt, SuspectKind::Bias]
        } else {
            vec![SuspectKind::Shunt]
        }
    }
}

/// The other terminals of a part that touches `node`.
fn touching(part: &Part, node: NodeId) -> Vec<NodeId> {
    let mut all: Vec<NodeId> = terminals(&part.kind).into_iter().map(|(_, tied)| tied).collect();
    if !all.contains(&node) {
        return Vec::new();
    }
    all.retain(|&tied| tied != node);
    all
}

fn is_through(branch: &Branch, hop: &Hop) -> bool {
    branch.part == hop.part && branch.ends.contains(&hop.from) && branch.ends.contains(&hop.to)
}

/// The input state that alone decides a gate's output: high for OR and NOR. Nothing decides an XOR.
fn dominates(logic: Logic) -> bool {
    matches!(logic, Logic::Or | Logic::Nor)
}
