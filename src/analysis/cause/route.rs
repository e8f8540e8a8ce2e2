//! The way of an element's pulse from the chip to the socket.

use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;

/// One part on the way: the pulse goes in at `from` and out at `to`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Hop {
    pub(super) part: PartId,
    pub(super) from: NodeId,
    pub(super) to: NodeId,
}

/// Ways through a part that a pulse can take.
fn passages(kind: &PartKind) -> Vec<(NodeId, NodeId)> {
    let both = |a: NodeId, b: NodeId| vec![(a, b), (b, a)];
    match kind {
        PartKind::Resistor { ends, .. }
        | PartKind::Capacitor { ends, .. }
        | PartKind::Inductor { ends, .. } => both(ends[0], ends[1]),
        PartKind::Trimmer { ends, wiper, .. } => {
            let mut ways = both(ends[0], *wiper);
            ways.extend(both(*wiper, ends[1]));
            ways
        }
        PartKind::Diode { anode, cathode, .. } => both(*anode, *cathode),
        PartKind::Transistor { collector, base, emitter, .. } => {
            vec![(*base, *emitter), (*base, *collector), (*emitter, *collector)]
        }
        PartKind::FieldEffect { drain, gate, source, .. } => {
            let mut ways = both(*source, *drain);
            ways.extend([(*gate, *source), (*gate, *drain)]);
            ways
        }
        PartKind::Gate(gate) => gate.inputs.iter().map(|&input| (input, gate.output)).collect(),
        PartKind::Pin(_) | PartKind::Supply { .. } | PartKind::Draw { .. } => Vec::new(),
    }
}

/// Nodes that a pulse cannot travel through: ground and whatever a supply holds.
fn held(circuit: &Circuit) -> Vec<bool> {
    let mut held = vec![false; circuit.nodes.len()];
    held[NodeId::GROUND.0] = true;
    for part in &circuit.parts {
        match &part.kind {
            PartKind::Supply { node, .. } => held[node.0] = true,
            PartKind::Gate(gate) => held[gate.supply.0] = true,
            PartKind::Pin(pin) => held[pin.supply.0] = true,
            _ => {}
        }
    }
    held
}

/// The best way from any of `starts` to `end`: the one on which the pulse, whose size at every node
/// is given, stays largest; among those as good, the one with the fewest parts.
///
/// A node where nothing of the pulse is left counts as a hundredth of a millivolt, so that a way
/// on which it is lost late is preferred to one on which it never sets out.
pub(super) fn best(
    circuit: &Circuit,
    pulse_v: &[f64],
    starts: &[NodeId],
    end: NodeId,
) -> Option<Vec<Hop>> {
    const FLOOR_V: f64 = 1e-5;
    let held = held(circuit);
    let ways: Vec<Hop> = circuit
        .parts
        .iter()
        .enumerate()
        .flat_map(|(index, part)| {
            let part_id = PartId(index);
            passages(&part.kind).into_iter().map(move |(from, to)| Hop { part: part_id, from, to })
        })
        .filter(|hop| hop.from != hop.to && !held[hop.from.0] && (!held[hop.to.0] || hop.to == end))
        .collect();
    // Cost of a way: the sum over its nodes of the decades the pulse there lies below 10 V, plus
    // one a part; relaxed until nothing improves (Bellman and Ford), since boards are small.
    let cost_of = |node: NodeId| {
        1.0 + (-crate::base::math::log10(pulse_v[node.0].abs().max(FLOOR_V) / 10.0)).max(0.0)
    };
    let mut cost = vec![f64::INFINITY; circuit.nodes.len()];
    let mut came_by: Vec<Option<Hop>> = vec![None; circuit.nodes.len()];
    for start in starts {
        cost[start.0] = 0.0;
    }
    for _ in 0..circuit.nodes.len() {
        for &hop in &ways {
            let through = cost[hop.from.0] + cost_of(hop.to);
            if through + 1e-12 < cost[hop.to.0] {
                cost[hop.to.0] = through;
                came_by[hop.to.0] = Some(hop);
            }
        }
    }
    let mut way = Vec::new();
    let mut node = end;
    while let Some(hop) = came_by[node.0] {
        way.push(hop);
        node = hop.from;
    }
    way.reverse();
    starts.contains(&node).then_some(way)
}
