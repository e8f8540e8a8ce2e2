//! Whether a board has one set of standing levels, told from its parts alone: every conductance a
//! random number in a prime field, and the rank of what comes of it, in every state that its gates
//! and pins can take.
//!
//! Protection diodes at the inputs of gates and switches do not count: an input that nothing else
//! reaches floats.
//!
//! # Source
//!
//! That random values show the rank but for a chance of about order over field: J. T. Schwartz, "Fast
//! probabilistic algorithms for verification of polynomial identities", Journal of the ACM 27 (1980);
//! from memory.

use crate::networks::chance::Chance;
use crate::networks::field::Square;
use crate::networks::field::reduce;
use backporch::network::circuit::Circuit;
use backporch::network::circuit::NodeId;
use backporch::network::circuit::PartKind;
use backporch::network::circuit::PinStage;
use backporch::network::field_effect::FieldGate;
use backporch::network::passive::RealCapacitor;
use std::collections::BTreeSet;

/// What the parts say of a board.
#[derive(Debug, PartialEq)]
pub(crate) enum Verdict {
    /// As many independent equations as unknowns, and every drawn current has a way to go.
    WellPosed,
    /// As many equations, but a current is drawn from where only junctions and channels lead: it
    /// may be more than they let through, and then nothing balances.
    Hungry,
    /// Nodes whose voltage, or around which a source's current, is not determined.
    IllPosed(BTreeSet<usize>),
}

const GROUND: NodeId = NodeId::GROUND;

pub(crate) fn judge(circuit: &Circuit, number: u64) -> Verdict {
    let mut bad = BTreeSet::new();
    let drivers = circuit.parts.iter().filter(|part| has_two_ways(&part.kind)).count();
    for state in 0..1_u32 << drivers {
        bad.extend(open_nodes(circuit, state, number));
    }
    if !bad.is_empty() {
        return Verdict::IllPosed(bad);
    }
    let drawn = |kind: &PartKind| match kind {
        PartKind::Draw { node, .. } => Some(*node),
        _ => None,
    };
    let ohmic = ohmic(circuit);
    let hungry =
        circuit.parts.iter().filter_map(|part| drawn(&part.kind)).any(|node| !ohmic[node.0]);
    if hungry { Verdict::Hungry } else { Verdict::WellPosed }
}

/// Whether it may take its current from ground or from its supply, by its state. A stage that
/// pushes may also be cut off: nothing is fed through the output of what it feeds.
fn has_two_ways(kind: &PartKind) -> bool {
    match kind {
        PartKind::Gate(_) => true,
        PartKind::Pin(pin) => pin.levels.iter().any(is_from_supply),
        _ => false,
    }
}

fn is_from_supply(stage: &PinStage) -> bool {
    match stage {
        PinStage::Linear { share, .. } => *share > 0.0,
        PinStage::PullUp { .. } => true,
        PinStage::PullDown { .. } | PinStage::Off { .. } => false,
    }
}

/// Nodes that one state of the drivers leaves open.
fn open_nodes(circuit: &Circuit, state: u32, number: u64) -> Vec<usize> {
    let nodes = circuit.nodes.len() - 1;
    let extra: Vec<(usize, [NodeId; 2])> =
        (0..).zip(circuit.parts.iter().filter_map(shorted)).collect();
    let lag = circuit.parts.iter().filter(|part| matches!(part.kind, PartKind::VideoDriver(_)));
    let mut stamps = Stamps {
        square: Square::new(nodes + extra.len() + lag.count()),
        chance: Chance::new(!number),
        state,
        inside: nodes + extra.len(),
    };
    for &(branch, ends) in &extra {
        stamps.source(nodes + branch, ends);
    }
    for part in &circuit.parts {
        stamps.part(&part.kind);
    }
    let open = stamps.square.open();
    open.into_iter()
        .flat_map(|unknown| match extra.get(unknown.wrapping_sub(nodes)) {
            Some((_, ends)) => vec![ends[0].0, ends[1].0],
            None => vec![unknown + 1],
        })
        .collect()
}

/// The ends of a part that fixes the voltage between them.
fn shorted(part: &backporch::network::circuit::Part) -> Option<[NodeId; 2]> {
    match &part.kind {
        PartKind::Supply { node, ohms, .. } if *ohms <= 0.0 => Some([*node, GROUND]),
        PartKind::Inductor { ends, ohms, .. } | PartKind::LossyInductor { ends, ohms, .. }
            if *ohms <= 0.0 =>
        {
            Some(*ends)
        }
        _ => None,
    }
}

/// The matrix as it grows.
struct Stamps {
    square: Square,
    chance: Chance,
    /// Bit by bit, which way each driver that has two goes.
    state: u32,
    inside: usize,
}

fn index(node: NodeId) -> Option<usize> {
    node.0.checked_sub(1)
}

impl Stamps {
    fn any(&mut self) -> u64 {
        reduce(self.chance.bits())
    }

    fn next_way(&mut self) -> bool {
        let way = self.state & 1 == 1;
        self.state >>= 1;
        way
    }

    fn source(&mut self, branch: usize, [plus, minus]: [NodeId; 2]) {
        let row = Some(branch);
        for (row, column) in [(index(plus), row), (row, index(plus))] {
            self.square.add(row, column, 1);
        }
        for (row, column) in [(index(minus), row), (row, index(minus))] {
            self.square.subtract(row, column, 1);
        }
    }

    /// A current from `from` to `to` that follows the voltage of `plus` over `minus`.
    fn follow(&mut self, [from, to]: [NodeId; 2], [plus, minus]: [NodeId; 2]) {
        let siemens = self.any();
        let [from, to, plus, minus] = [from, to, plus, minus].map(index);
        self.square.add(from, plus, siemens);
        self.square.subtract(from, minus, siemens);
        self.square.subtract(to, plus, siemens);
        self.square.add(to, minus, siemens);
    }

    fn conductance(&mut self, a: NodeId, b: NodeId) {
        self.follow([a, b], [a, b]);
    }

    /// An output that is pulled to ground, or pushed from its supply; its leak to ground holds nothing.
    fn driver(&mut self, output: NodeId, supply: NodeId, from_supply: bool) {
        let back = if from_supply { supply } else { GROUND };
        self.follow([output, back], [output, GROUND]);
        self.follow([output, back], [output, supply]);
    }

    fn part(&mut self, kind: &PartKind) {
        match kind {
            PartKind::Resistor { ends, .. } | PartKind::Contact { ends, .. } => {
                self.conductance(ends[0], ends[1]);
            }
            PartKind::Inductor { ends, ohms, .. } | PartKind::LossyInductor { ends, ohms, .. } => {
                if *ohms > 0.0 {
                    self.conductance(ends[0], ends[1]);
                }
            }
            PartKind::RealCapacitor(part) if part.leakage_ohms.is_some() => {
                self.conductance(part.ends[0], part.ends[1]);
            }
            PartKind::Trimmer { ends, wiper, .. } => {
                self.conductance(ends[0], *wiper);
                self.conductance(*wiper, ends[1]);
            }
            PartKind::Diode { anode, cathode, .. } => self.conductance(*anode, *cathode),
            PartKind::Supply { node, ohms, .. } if *ohms > 0.0 => self.conductance(*node, GROUND),
            PartKind::Adapter(part) => self.conductance(part.node, GROUND),
            PartKind::Gate(gate) => {
                let high = self.next_way();
                self.driver(gate.output, gate.supply, high);
            }
            PartKind::Pin(pin) => {
                let from_supply = has_two_ways(kind) && self.next_way();
                self.driver(pin.node, pin.supply, from_supply);
            }
            PartKind::AnalogueSwitch(switch) => {
                let [a, b] = switch.ends;
                self.conductance(a, b);
            }
            other => self.controlled(other),
        }
    }

    /// Parts with three ends.
    fn controlled(&mut self, kind: &PartKind) {
        match kind {
            PartKind::Transistor { collector, base, emitter, .. } => {
                self.conductance(*base, *emitter);
                self.conductance(*base, *collector);
                self.follow([*collector, *emitter], [*base, *emitter]);
                self.follow([*collector, *emitter], [*base, *collector]);
            }
            PartKind::FieldEffect { drain, gate, source, model } => {
                self.conductance(*drain, *source);
                self.follow([*drain, *source], [*gate, *source]);
                self.follow([*drain, *source], [*gate, *drain]);
                if let FieldGate::Junction(_) = model.gate {
                    self.conductance(*gate, *source);
                    self.conductance(*gate, *drain);
                }
            }
            PartKind::Regulator(part) => {
                self.conductance(part.input, part.common);
                self.conductance(part.output, part.common);
                self.follow([part.input, part.output], [part.input, part.common]);
                self.follow([part.input, part.output], [part.output, part.common]);
            }
            PartKind::VideoDriver(part) => {
                self.conductance(part.input, GROUND);
                let inside = NodeId(self.inside + 1);
                self.inside += 1;
                self.follow([inside, GROUND], [inside, GROUND]);
                self.follow([inside, GROUND], [part.input, GROUND]);
                self.follow([inside, GROUND], [part.supply, GROUND]);
                let siemens = self.any();
                let output = index(part.output);
                self.square.add(output, output, siemens);
                self.square.subtract(output, index(inside), siemens);
                self.follow([part.supply, GROUND], [inside, part.output]);
            }
            // A capacitor lets nothing through; what a chip takes or is drawn holds no voltage.
            _ => {}
        }
    }
}

/// Nodes with a way to ground through resistance and ideal sources alone.
fn ohmic(circuit: &Circuit) -> Vec<bool> {
    let mut reached = vec![false; circuit.nodes.len()];
    reached[0] = true;
    let ways: Vec<(NodeId, NodeId)> =
        circuit.parts.iter().flat_map(|part| ohmic_ways(&part.kind)).collect();
    for _ in 0..circuit.nodes.len() {
        for &(a, b) in &ways {
            let either = reached[a.0] || reached[b.0];
            (reached[a.0], reached[b.0]) = (either, either);
        }
    }
    reached
}

fn leak(part: &RealCapacitor) -> Option<(NodeId, NodeId)> {
    part.leakage_ohms.map(|_| (part.ends[0], part.ends[1]))
}

fn ohmic_ways(kind: &PartKind) -> Vec<(NodeId, NodeId)> {
    match kind {
        PartKind::Resistor { ends, .. }
        | PartKind::Contact { ends, .. }
        | PartKind::Inductor { ends, .. }
        | PartKind::LossyInductor { ends, .. } => vec![(ends[0], ends[1])],
        PartKind::Trimmer { ends, wiper, .. } => vec![(ends[0], *wiper), (*wiper, ends[1])],
        PartKind::RealCapacitor(part) => leak(part).into_iter().collect(),
        PartKind::Supply { node, .. } => vec![(*node, GROUND)],
        PartKind::Adapter(part) => vec![(part.node, GROUND)],
        PartKind::FieldEffect { drain, source, .. } => vec![(*drain, *source)],
        PartKind::AnalogueSwitch(switch) => vec![(switch.ends[0], switch.ends[1])],
        _ => Vec::new(),
    }
}
