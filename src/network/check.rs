//! What is wrong with a circuit before any equation is solved: nodes that nothing holds, and ideal
//! sources in a loop.

use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::circuit::PinStage;
use crate::network::error::NetworkError;
use crate::network::field_effect::FieldGate;
use crate::network::stage::Stage;
use crate::network::terminal::terminals;

/// Finds the first structural fault.
pub(crate) fn check(circuit: &Circuit) -> Result<(), NetworkError> {
    check_sources(circuit)?;
    check_floating(circuit)
}

/// Sets of nodes that are joined, each known by one of its members.
struct Groups(Vec<usize>);

impl Groups {
    fn new(nodes: usize) -> Self {
        Self((0..nodes).collect())
    }

    fn find(&self, node: NodeId) -> usize {
        let mut root = node.0;
        while self.0[root] != root {
            root = self.0[root];
        }
        root
    }

    /// Joins two groups; `false` if they were one already.
    fn join(&mut self, a: NodeId, b: NodeId) -> bool {
        let (a, b) = (self.find(a), self.find(b));
        self.0[a.max(b)] = a.min(b);
        a != b
    }
}

/// Who holds whom: the second node of each pair is held if the first one is.
fn holds(part: &Part) -> Vec<(NodeId, NodeId)> {
    const GROUND: NodeId = NodeId::GROUND;
    let both = |pairs: &[(NodeId, NodeId)]| {
        pairs.iter().flat_map(|&(a, b)| [(a, b), (b, a)]).collect::<Vec<_>>()
    };
    match &part.kind {
        PartKind::Resistor { ends, .. }
        | PartKind::Inductor { ends, .. }
        | PartKind::LossyInductor { ends, .. }
        | PartKind::Contact { ends, .. } => both(&[(ends[0], ends[1])]),
        PartKind::RealCapacitor(part) if part.leakage_ohms.is_some() => {
            both(&[(part.ends[0], part.ends[1])])
        }
        PartKind::Cable(part) => both(&[(part.ends[0], part.ends[1])]),
        PartKind::Trimmer { ends, wiper, .. } => both(&[(ends[0], *wiper), (*wiper, ends[1])]),
        PartKind::Diode { anode, cathode, .. } => both(&[(*anode, *cathode)]),
        PartKind::Transistor { collector, base, emitter, .. } => {
            both(&[(*base, *emitter), (*base, *collector)])
        }
        PartKind::FieldEffect { drain, gate, source, model } => match model.gate {
            FieldGate::Junction(_) => both(&[(*drain, *source), (*gate, *source)]),
            FieldGate::Insulated { .. } => both(&[(*drain, *source)]),
        },
        // Low it is held by ground, high by its supply, which it does not hold in return. The
        // protection diodes of inputs hold nothing: an input that only they reach floats.
        PartKind::Gate(gate) => vec![(gate.supply, gate.output)],
        PartKind::AnalogueSwitch(switch) => both(&[(switch.ends[0], switch.ends[1])]),
        PartKind::Pin(pin) => {
            let by_supply = |stage: &PinStage| Stage::Pin(*stage).returns_to_supply();
            let holder = if pin.levels.iter().any(by_supply) { pin.supply } else { GROUND };
            vec![(holder, pin.node)]
        }
        PartKind::Supply { node, .. } => vec![(GROUND, *node)],
        PartKind::Adapter(part) => vec![(GROUND, part.node)],
        PartKind::Regulator(part) => both(&[(part.input, part.common), (part.output, part.common)]),
        PartKind::VideoDriver(part) => vec![(GROUND, part.input), (GROUND, part.output)],
        PartKind::Capacitor { .. }
        | PartKind::RealCapacitor(_)
        | PartKind::Consumption { .. }
        | PartKind::Sounder(_)
        | PartKind::Draw { .. } => Vec::new(),
    }
}

/// Nodes whose voltage something fixes, whatever the states of gates and pins.
fn held(circuit: &Circuit) -> Vec<bool> {
    let holds: Vec<(NodeId, NodeId)> = circuit.parts.iter().flat_map(holds).collect();
    let mut held = vec![false; circuit.nodes.len()];
    held[NodeId::GROUND.0] = true;
    loop {
        let before = held.clone();
        for &(holder, node) in &holds {
            held[node.0] |= held[holder.0];
        }
        if held == before {
            return held;
        }
    }
}

fn check_floating(circuit: &Circuit) -> Result<(), NetworkError> {
    let Some(index) = held(circuit).iter().position(|held| !held) else { return Ok(()) };
    let node = NodeId(index);
    let touching = circuit.parts.iter().enumerate();
    let parts = touching
        .filter(|(_, part)| terminals(&part.kind).iter().any(|&(_, tied)| tied == node))
        .map(|(index, _)| PartId(index))
        .collect();
    Err(NetworkError::Floating { node, name: circuit.node_name(node).to_owned(), parts })
}

fn check_sources(circuit: &Circuit) -> Result<(), NetworkError> {
    let mut groups = Groups::new(circuit.nodes.len());
    for (index, part) in circuit.parts.iter().enumerate() {
        let ends = match &part.kind {
            PartKind::Supply { node, ohms, .. } if *ohms <= 0.0 => [*node, NodeId::GROUND],
            PartKind::Inductor { ends, ohms, .. } if *ohms <= 0.0 => *ends,
            PartKind::Cable(part) if part.decibels_per_metre <= 0.0 => part.ends,
            PartKind::LossyInductor { ends, ohms, .. } if *ohms <= 0.0 => *ends,
            _ => continue,
        };
        if !groups.join(ends[0], ends[1]) {
            return Err(NetworkError::SourceLoop {
                part: PartId(index),
                name: part.name.clone(),
                node: circuit.node_name(ends[0]).to_owned(),
            });
        }
    }
    Ok(())
}
