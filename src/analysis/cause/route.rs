//! The ways of an element's pulse from the chip to the socket.

use crate::base::math;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::passive::ContactState;
use crate::scenario::change::OPEN_OHMS;

/// One part on the way: the pulse goes in at `from` and out at `to`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::analysis) struct Hop {
    pub(in crate::analysis) part: PartId,
    pub(in crate::analysis) from: NodeId,
    pub(in crate::analysis) to: NodeId,
}

/// A way and what it costs.
struct Priced {
    hops: Vec<Hop>,
    cost: f64,
}

/// What a step costs that a transistor does not take when it is fitted as it should be, in decades.
const AGAINST_THE_GRAIN: f64 = 5.0;

/// Ways through a part that a pulse can take, and what each costs beyond the plain step.
pub(in crate::analysis) fn passages(kind: &PartKind) -> Vec<(NodeId, NodeId, f64)> {
    let both = |a: NodeId, b: NodeId| vec![(a, b, 0.0), (b, a, 0.0)];
    match kind {
        PartKind::Resistor { ends, .. }
        | PartKind::Capacitor { ends, .. }
        | PartKind::Inductor { ends, .. }
        | PartKind::LossyInductor { ends, .. }
        | PartKind::Contact { ends, .. } => both(ends[0], ends[1]),
        PartKind::RealCapacitor(part) => both(part.ends[0], part.ends[1]),
        PartKind::Cable(part) => both(part.ends[0], part.ends[1]),
        PartKind::Trimmer { ends, wiper, .. } => {
            let mut ways = both(ends[0], *wiper);
            ways.extend(both(*wiper, ends[1]));
            ways
        }
        PartKind::Diode { anode, cathode, .. } => both(*anode, *cathode),
        PartKind::Transistor { collector, base, emitter, .. } => vec![
            (*base, *emitter, 0.0),
            (*base, *collector, 0.0),
            (*emitter, *collector, 0.0),
            (*emitter, *base, AGAINST_THE_GRAIN),
            (*collector, *emitter, AGAINST_THE_GRAIN),
            (*collector, *base, AGAINST_THE_GRAIN),
        ],
        PartKind::FieldEffect { drain, gate, source, .. } => {
            let mut ways = both(*source, *drain);
            ways.extend([(*gate, *source, 0.0), (*gate, *drain, 0.0)]);
            ways
        }
        PartKind::AnalogueSwitch(switch) => {
            let [first, second] = switch.ends;
            let mut ways = both(first, second);
            ways.extend([(switch.control, first, 0.0), (switch.control, second, 0.0)]);
            ways
        }
        PartKind::Gate(gate) => gate.inputs.iter().map(|&i| (i, gate.output, 0.0)).collect(),
        PartKind::VideoDriver(part) => vec![(part.input, part.output, 0.0)],
        PartKind::Pin(_)
        | PartKind::Supply { .. }
        | PartKind::Adapter(_)
        | PartKind::Sounder(_)
        | PartKind::Regulator(_)
        | PartKind::Consumption { .. }
        | PartKind::Draw { .. } => Vec::new(),
    }
}

/// Nodes that a pulse cannot travel through: ground and whatever a supply holds.
pub(in crate::analysis) fn held(circuit: &Circuit) -> Vec<bool> {
    let mut held = vec![false; circuit.nodes.len()];
    for part in &circuit.parts {
        match &part.kind {
            PartKind::Supply { node, .. } => held[node.0] = true,
            PartKind::Adapter(part) => held[part.node.0] = true,
            PartKind::Regulator(part) => held[part.output.0] = true,
            PartKind::VideoDriver(part) => held[part.supply.0] = true,
            PartKind::Gate(gate) => held[gate.supply.0] = true,
            PartKind::AnalogueSwitch(switch) => held[switch.supply.0] = true,
            PartKind::Pin(pin) => held[pin.supply.0] = true,
            _ => {}
        }
    }
    held[NodeId::GROUND.0] = true;
    held
}

/// The best way by each part that leads on from one of `starts` to `end`, the best of all first:
/// the one on which the pulse, whose size at every node is given, stays largest.
///
/// A node where nothing of the pulse is left counts as a hundredth of a millivolt, so that a way
/// on which it is lost late is preferred to one on which it never sets out; each part counts as
/// one decade, so that of two ways as good the shorter is taken.
pub(in crate::analysis) fn ways(
    circuit: &Circuit,
    pulse_v: &[f64],
    starts: &[NodeId],
    end: NodeId,
) -> Vec<Vec<Hop>> {
    if starts.contains(&end) {
        return vec![Vec::new()];
    }
    let steps = steps(circuit, pulse_v, end);
    let onward = onward(circuit.nodes.len(), &steps, end);
    let mut found: Vec<Priced> = steps
        .iter()
        .filter(|(hop, _)| starts.contains(&hop.from))
        .filter_map(|&(hop, cost)| follow(hop, cost, &onward, end))
        .filter(|way| !way.hops.iter().any(|hop| starts.contains(&hop.to)))
        .collect();
    found.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    found.into_iter().map(|way| way.hops).collect()
}

/// Every step a pulse can take, with its cost in decades: how far the pulse at its end lies below
/// 10 V, and one for the part.
fn steps(circuit: &Circuit, pulse_v: &[f64], end: NodeId) -> Vec<(Hop, f64)> {
    const FLOOR_V: f64 = 1e-5;
    let held = held(circuit);
    let below_10 = |node: NodeId| -math::log10(pulse_v[node.0].abs().max(FLOOR_V) / 10.0);
    let mut all = Vec::new();
    for (index, part) in circuit.parts.iter().enumerate() {
        for (from, to, extra) in passages(&part.kind) {
            if from != to && from != end && !held[from.0] && (!held[to.0] || to == end) {
                let hop = Hop { part: PartId(index), from, to };
                all.push((hop, 1.0 + extra + below_10(to).max(0.0)));
            }
        }
    }
    all
}

/// The cheapest way onward from every node: its cost and first hop. Relaxed until nothing improves
/// (Bellman and Ford), for boards are small.
fn onward(nodes: usize, steps: &[(Hop, f64)], end: NodeId) -> Vec<(f64, Option<Hop>)> {
    let mut best = vec![(f64::INFINITY, None); nodes];
    best[end.0].0 = 0.0;
    for _ in 0..nodes {
        for &(hop, step) in steps {
            let through = step + best[hop.to.0].0;
            if through + 1e-12 < best[hop.from.0].0 {
                best[hop.from.0] = (through, Some(hop));
            }
        }
    }
    best
}

fn follow(first: Hop, step: f64, onward: &[(f64, Option<Hop>)], end: NodeId) -> Option<Priced> {
    let cost = step + onward[first.to.0].0;
    let mut hops = vec![first];
    let mut node = first.to;
    while node != end {
        let hop = onward[node.0].1?;
        hops.push(hop);
        node = hop.to;
    }
    Some(Priced { hops, cost })
}

/// The nodes that a pulse can get to from a start and that no output drives, each with the part
/// before it, the furthest, in parts, last. Nothing leads through a part that has been opened.
pub(in crate::analysis) fn ends(
    circuit: &Circuit,
    start: (PartId, NodeId),
    end: NodeId,
) -> Vec<(PartId, NodeId)> {
    let nowhere = vec![0.0; circuit.nodes.len()];
    let mut steps = steps(circuit, &nowhere, end);
    steps.retain(|(hop, _)| match circuit.parts[hop.part.0].kind {
        PartKind::Resistor { ohms, .. } => ohms < OPEN_OHMS,
        PartKind::Contact { state, .. } => state == ContactState::Closed,
        _ => true,
    });
    let mut reached = vec![start];
    let mut next = 0;
    while let Some(&(_, node)) = reached.get(next) {
        next += 1;
        for (hop, _) in steps.iter().filter(|(hop, _)| hop.from == node) {
            if !reached.iter().any(|&(_, known)| known == hop.to) {
                reached.push((hop.part, hop.to));
            }
        }
    }
    let driven = |node: NodeId| {
        circuit.parts.iter().any(|part| match &part.kind {
            PartKind::Pin(pin) => pin.node == node,
            PartKind::Gate(gate) => gate.output == node,
            _ => false,
        })
    };
    reached.retain(|&(_, node)| !driven(node));
    reached
}
