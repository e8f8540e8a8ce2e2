//! What is wrong with a circuit before any equation is solved: nodes that nothing holds, and ideal
//! sources in a loop.

use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::error::NetworkError;
use crate::network::field_effect::FieldGate;
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

/// Pairs of nodes between which a part can carry a standing current.
fn conducting(part: &Part) -> Vec<(NodeId, NodeId)> {
    const GROUND: NodeId = NodeId::GROUND;
    match &part.kind {
        PartKind::Resistor { ends, .. }
        | PartKind::Inductor { ends, .. }
        | PartKind::LossyInductor { ends, .. }
        | PartKind::Contact { ends, .. } => vec![(ends[0], ends[1])],
        PartKind::RealCapacitor(part) if part.leakage_ohms.is_some() => {
            vec![(part.ends[0], part.ends[1])]
        }
        PartKind::Cable(part) => vec![(part.ends[0], part.ends[1])],
        PartKind::Trimmer { ends, wiper, .. } => vec![(ends[0], *wiper), (*wiper, ends[1])],
        PartKind::Diode { anode, cathode, .. } => vec![(*anode, *cathode)],
        PartKind::Transistor { collector, base, emitter, .. } => {
            vec![(*base, *emitter), (*base, *collector)]
        }
        PartKind::FieldEffect { drain, gate, source, model } => match model.gate {
            FieldGate::Junction(_) => vec![(*drain, *source), (*gate, *source)],
            FieldGate::Insulated { .. } => vec![(*drain, *source)],
        },
        PartKind::Gate(gate) => vec![(gate.output, GROUND), (gate.output, gate.supply)],
        PartKind::AnalogueSwitch(switch) => vec![(switch.ends[0], switch.ends[1])],
        PartKind::Pin(pin) => vec![(pin.node, GROUND)],
        PartKind::Supply { node, .. } => vec![(*node, GROUND)],
        PartKind::Adapter(part) => vec![(part.node, GROUND)],
        PartKind::Regulator(part) => {
            vec![(part.input, part.common), (part.output, part.common)]
        }
        PartKind::VideoDriver(part) => vec![(part.input, GROUND), (part.output, GROUND)],
        PartKind::Capacitor { .. }
        | PartKind::RealCapacitor(_)
        | PartKind::Consumption { .. }
        | PartKind::Draw { .. } => Vec::new(),
    }
}

fn check_floating(circuit: &Circuit) -> Result<(), NetworkError> {
    let mut groups = Groups::new(circuit.nodes.len());
    for (a, b) in circuit.parts.iter().flat_map(conducting) {
        groups.join(a, b);
    }
    let ground = groups.find(NodeId::GROUND);
    for index in 1..circuit.nodes.len() {
        let node = NodeId(index);
        if groups.find(node) != ground {
            let touching = circuit.parts.iter().enumerate();
            let parts = touching
                .filter(|(_, part)| terminals(&part.kind).iter().any(|&(_, tied)| tied == node))
                .map(|(index, _)| PartId(index))
                .collect();
            return Err(NetworkError::Floating {
                node,
                name: circuit.node_name(node).to_owned(),
                parts,
            });
        }
    }
    Ok(())
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
