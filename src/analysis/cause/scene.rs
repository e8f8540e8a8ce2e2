//! The solved board with the pulse's ways through it, and everything on and beside them.

use crate::analysis::cause::remedy;
use crate::analysis::cause::remedy::Branch;
use crate::analysis::cause::route;
use crate::analysis::cause::route::Hop;
use crate::analysis::cause::suspect::SuspectKind;
use crate::analysis::ladder::Levels;
use crate::network::circuit::Circuit;
use crate::network::circuit::Gate;
use crate::network::circuit::Logic;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::circuit::Pin;
use crate::network::circuit::PinStage;
use crate::network::error::NetworkError;
use crate::network::terminal::terminals;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::scenario::change::OPEN_OHMS;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;

/// A way of the pulse, and the pin from which it starts.
pub(super) struct Way {
    pub(super) pin: PartId,
    pub(super) hops: Vec<Hop>,
}

/// The solved board and the pulse's ways through it.
pub(super) struct Scene<'a> {
    pub(super) scenario: &'a Scenario,
    pub(super) element: ElementId,
    pub(super) levels: &'a Levels<'a>,
    /// The pins that carry the element, and their nodes.
    pub(super) starts: Vec<(PartId, NodeId)>,
    /// The best way first.
    pub(super) ways: Vec<Way>,
    /// Node voltages with nothing lit.
    pub(super) black_v: Vec<f64>,
    /// Node voltages with the element lit.
    pub(super) lit_v: Vec<f64>,
    /// The least and the most of each node over black and every element alone, V.
    range_v: Vec<[f64; 2]>,
    held: Vec<bool>,
}

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
/// No gate works on less, V: the lowest supply of the families here is 2 V.
const DEAD_RAIL_V: f64 = 1.9;
/// A pulse below this has been lost altogether, V.
const LOST_V: f64 = 0.1;

impl<'a> Scene<'a> {
    /// Follows an element's pulse over the board.
    pub(super) fn new(
        scenario: &'a Scenario,
        levels: &'a Levels<'a>,
        element: ElementId,
    ) -> Result<Self, NetworkError> {
        let circuit = &scenario.circuit;
        let nodes = circuit.nodes.len();
        let black_v: Vec<f64> = (0..nodes).map(|node| levels.black().volts(NodeId(node))).collect();
        let mut lit_v = black_v.clone();
        let mut range_v: Vec<[f64; 2]> = black_v.iter().map(|&volts| [volts; 2]).collect();
        for (_, index) in scenario.raster.elements.iter().zip(0..) {
            let solved = levels.solve(ElementSet::only(ElementId(index)), LinePart::Active)?;
            for node in 0..nodes {
                let volts = solved.volts(NodeId(node));
                range_v[node] = [range_v[node][0].min(volts), range_v[node][1].max(volts)];
                if ElementId(index) == element {
                    lit_v[node] = volts;
                }
            }
        }
        let pulse_v: Vec<f64> =
            lit_v.iter().zip(&black_v).map(|(lit, black)| lit - black).collect();
        let starts = carrying(scenario, element);
        let nodes: Vec<NodeId> = starts.iter().map(|&(_, node)| node).collect();
        let ways = route::ways(circuit, &pulse_v, &nodes, scenario.output.node);
        let ways = ways.into_iter().filter_map(|hops| {
            let first = hops.first().map_or(scenario.output.node, |hop| hop.from);
            let pin = starts.iter().find(|&&(_, node)| node == first)?.0;
            Some(Way { pin, hops })
        });
        let (ways, held) = (ways.collect(), route::held(circuit));
        Ok(Self { scenario, element, levels, starts, ways, black_v, lit_v, range_v, held })
    }

    pub(super) fn circuit(&self) -> &Circuit {
        &self.scenario.circuit
    }

    pub(super) fn part(&self, part: PartId) -> &Part {
        &self.circuit().parts[part.0]
    }

    pub(super) fn pulse_v(&self, node: NodeId) -> f64 {
        self.lit_v[node.0] - self.black_v[node.0]
    }

    /// Where a pulse that does not reach the socket ends: the furthest node it can get to, and the
    /// part that brings it there.
    pub(super) fn dead_end(&self) -> Option<(PartId, NodeId)> {
        let &start = self.starts.first()?;
        Some(route::furthest(self.circuit(), start, self.scenario.output.node))
    }

    /// The part with an end at `node` that has been opened: what is left of it draws nothing.
    pub(super) fn open_part(&self, node: NodeId) -> Option<&Part> {
        let parts = &self.circuit().parts;
        let leaks = format!(" leak at {}", self.circuit().node_name(node));
        parts.iter().find(|part| {
            matches!(part.kind, PartKind::Draw { amps, .. } if amps <= 0.0)
                && parts.iter().any(|leak| leak.name == format!("{}{leaks}", part.name))
        })
    }

    /// What is left of an opened supply at a node.
    pub(super) fn open_feed(&self, node: NodeId) -> Option<&Part> {
        self.circuit().parts.iter().find(|part| match part.kind {
            PartKind::Resistor { ends, ohms } => {
                ends == [node, NodeId::GROUND] && ohms >= OPEN_OHMS
            }
            _ => false,
        })
    }

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

    /// The pin's volts with nothing on it, unlit and lit.
    pub(super) fn open_swing(&self, part: PartId) -> [f64; 2] {
        let PartKind::Pin(pin) = &self.part(part).kind else { return [0.0; 2] };
        let supply = self.black_v[pin.supply.0];
        let position = self.circuit().pins().position(|(id, _)| id == part).unwrap_or(0);
        [ElementSet::EMPTY, ElementSet::only(self.element)].map(|lit| {
            let level = self.scenario.pin_levels(lit, LinePart::Active)[position];
            open_volts(pin, &pin.levels[usize::from(level.0)], supply)
        })
    }

    /// The level of a pin with the element lit, as an index.
    pub(super) fn level(&self, part: PartId) -> usize {
        self.level_with(part, ElementSet::only(self.element))
    }

    /// The level of a pin with nothing lit, as an index.
    pub(super) fn idle_level(&self, part: PartId) -> usize {
        self.level_with(part, ElementSet::EMPTY)
    }

    fn level_with(&self, part: PartId, lit: ElementSet) -> usize {
        let levels = self.scenario.pin_levels(lit, LinePart::Active);
        let position = self.circuit().pins().position(|(id, _)| id == part);
        position.map_or(0, |position| usize::from(levels[position].0))
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

    /// The node of a pin that carries the element and leads nowhere.
    fn unused_pin(&self) -> Option<NodeId> {
        let used = |part: PartId| self.ways.iter().any(|way| way.pin == part);
        self.starts.iter().find(|&&(part, _)| !used(part)).map(|&(_, node)| node)
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
            kind @ PartKind::Transistor { base, .. } => {
                let mut all = Vec::new();
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

    /// Whether a transistor's collector junction conducts better than its emitter junction.
    fn works_backwards(&self, kind: &PartKind) -> bool {
        let PartKind::Transistor { collector, base, emitter, model } = kind else { return false };
        let sign = model.polarity.sign();
        let forward = |node: &NodeId| sign * (self.lit_v[base.0] - self.lit_v[node.0]);
        forward(collector) > forward(emitter)
    }

    /// What the output that drives the way before a hop swings between, V.
    pub(super) fn driving_swing(&self, way: &Way, index: usize) -> [f64; 2] {
        let gates =
            way.hops[..index].iter().rev().find_map(|hop| match &self.part(hop.part).kind {
                PartKind::Gate(gate) => Some(gate),
                _ => None,
            });
        gates.map_or_else(|| self.open_swing(way.pin), |gate| [0.0, self.black_v[gate.supply.0]])
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
            return vec![weak];
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

    /// Whether no element takes the node across a level.
    fn stands(&self, node: NodeId, level: f64) -> bool {
        let [least, most] = self.range_v[node.0];
        least >= level || most < level
    }

    /// A node that a supply lifts: the first.
    pub(super) fn rail(&self) -> NodeId {
        let supplies = self.circuit().parts.iter().filter_map(|part| match part.kind {
            PartKind::Supply { node, .. } => Some(node),
            PartKind::Adapter(ref adapter) => Some(adapter.node),
            PartKind::Regulator(ref regulator) => Some(regulator.output),
            _ => None,
        });
        let followers = self.circuit().parts.iter().filter_map(|part| match part.kind {
            PartKind::Transistor { collector, .. } if self.black_v[collector.0] > 2.0 => {
                self.held[collector.0].then_some(collector)
            }
            _ => None,
        });
        followers.chain(supplies).next().unwrap_or(NodeId::GROUND)
    }

    fn driven_by_gate(&self, node: NodeId) -> Option<PartId> {
        let mut parts = self.circuit().parts.iter();
        let position = parts.position(|part| match &part.kind {
            PartKind::Gate(gate) => gate.output == node,
            _ => false,
        });
        position.map(PartId)
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
                    found.push(suspect(SuspectKind::Shunt, id, others[0]));
                }
                _ => {
                    for branch in remedy::branches(self.circuit(), id) {
                        let taken = way.hops.iter().any(|hop| is_through(&branch, hop));
                        if branch.ends.contains(&node) && !taken {
                            let other = branch.other(node);
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

    /// Whether a node stands still, above ground: a supply, or an output that is high in the picture.
    fn lifts(&self, node: NodeId) -> bool {
        let [least, most] = self.range_v[node.0];
        self.held[node.0] && node != NodeId::GROUND
            || self.is_output(node) && most - least < LOST_V && least > LOST_V
    }

    /// The gate on a way that listens at a node.
    pub(super) fn listener(&self, node: NodeId) -> Option<(&Part, &Gate)> {
        let hops = self.ways.iter().flat_map(|way| &way.hops);
        hops.filter(|hop| hop.from == node).find_map(|hop| match &self.part(hop.part).kind {
            PartKind::Gate(gate) => Some((self.part(hop.part), gate.as_ref())),
            _ => None,
        })
    }

    /// Whether a chip pin or a gate drives the node.
    fn is_output(&self, node: NodeId) -> bool {
        self.output_at(node).is_some()
    }

    /// The chip pin or the gate that drives the node.
    pub(super) fn output_at(&self, node: NodeId) -> Option<&Part> {
        self.circuit().parts.iter().find(|part| match &part.kind {
            PartKind::Pin(pin) => pin.node == node,
            PartKind::Gate(gate) => gate.output == node,
            PartKind::VideoDriver(driver) => driver.output == node,
            _ => false,
        })
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

/// Volts of a pin's stage with nothing on it.
fn open_volts(pin: &Pin, stage: &PinStage, supply: f64) -> f64 {
    match stage {
        PinStage::Linear { offset, share, .. } => offset + share * supply,
        PinStage::PullUp { threshold, .. } => supply - threshold,
        PinStage::PullDown { .. } => 0.0,
        PinStage::Off { .. } if pin.levels.iter().any(remedy::pulls_down) => supply,
        PinStage::Off { .. } => 0.0,
    }
}

/// The pins whose level changes with the element, and their nodes.
fn carrying(scenario: &Scenario, element: ElementId) -> Vec<(PartId, NodeId)> {
    let idle = scenario.pin_levels(ElementSet::EMPTY, LinePart::Active);
    let lit = scenario.pin_levels(ElementSet::only(element), LinePart::Active);
    let pins = scenario.circuit.pins().zip(idle.iter().zip(&lit));
    pins.filter(|(_, (idle, lit))| idle != lit).map(|((part, pin), _)| (part, pin.node)).collect()
}
