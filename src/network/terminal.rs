//! The terminals of a part, by name.

use crate::network::circuit::NodeId;
use crate::network::circuit::PartKind;

const INPUTS: [&str; 4] = ["input 1", "input 2", "input 3", "input 4"];

/// Every terminal of a part: its name and its node, always in the same order.
#[must_use]
pub fn terminals(kind: &PartKind) -> Vec<(&'static str, NodeId)> {
    let mut kind = kind.clone();
    terminals_mut(&mut kind).into_iter().map(|(name, node)| (name, *node)).collect()
}

/// As [`terminals`], to be tied elsewhere. A chip's or a gate's supply counts as a terminal.
pub fn terminals_mut(kind: &mut PartKind) -> Vec<(&'static str, &mut NodeId)> {
    match kind {
        PartKind::Resistor { ends: [from, to], .. }
        | PartKind::Capacitor { ends: [from, to], .. }
        | PartKind::Inductor { ends: [from, to], .. } => vec![("from", from), ("to", to)],
        PartKind::Trimmer { ends: [from, to], wiper, .. } => {
            vec![("from", from), ("to", to), ("wiper", wiper)]
        }
        PartKind::Diode { anode, cathode, .. } => vec![("anode", anode), ("cathode", cathode)],
        PartKind::Transistor { collector, base, emitter, .. } => {
            vec![("collector", collector), ("base", base), ("emitter", emitter)]
        }
        PartKind::Gate(gate) => {
            let mut all = vec![("output", &mut gate.output), ("supply", &mut gate.supply)];
            all.extend(INPUTS.into_iter().zip(&mut gate.inputs));
            all
        }
        PartKind::Pin(pin) => vec![("node", &mut pin.node), ("supply", &mut pin.supply)],
        PartKind::Supply { node, .. } | PartKind::Draw { node, .. } => vec![("node", node)],
    }
}
