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
        | PartKind::Inductor { ends: [from, to], .. }
        | PartKind::LossyInductor { ends: [from, to], .. }
        | PartKind::Contact { ends: [from, to], .. } => vec![("from", from), ("to", to)],
        PartKind::Cable(part) => {
            let [from, to] = &mut part.ends;
            vec![("from", from), ("to", to)]
        }
        PartKind::RealCapacitor(part) => {
            let [from, to] = &mut part.ends;
            vec![("from", from), ("to", to)]
        }
        PartKind::Trimmer { ends: [from, to], wiper, .. } => {
            vec![("from", from), ("to", to), ("wiper", wiper)]
        }
        PartKind::Diode { anode, cathode, .. } => vec![("anode", anode), ("cathode", cathode)],
        PartKind::Transistor { collector, base, emitter, .. } => {
            vec![("collector", collector), ("base", base), ("emitter", emitter)]
        }
        PartKind::FieldEffect { drain, gate, source, .. } => {
            vec![("drain", drain), ("gate", gate), ("source", source)]
        }
        PartKind::Gate(gate) => {
            let mut all = vec![("output", &mut gate.output), ("supply", &mut gate.supply)];
            all.extend(INPUTS.into_iter().zip(&mut gate.inputs));
            all
        }
        PartKind::Adapter(part) => vec![("node", &mut part.node)],
        PartKind::Sounder(part) => vec![("node", &mut part.node)],
        PartKind::Regulator(part) => vec![
            ("input", &mut part.input),
            ("output", &mut part.output),
            ("common", &mut part.common),
        ],
        PartKind::VideoDriver(part) => vec![
            ("input", &mut part.input),
            ("output", &mut part.output),
            ("supply", &mut part.supply),
        ],
        PartKind::AnalogueSwitch(switch) => {
            let [from, to] = &mut switch.ends;
            vec![
                ("from", from),
                ("to", to),
                ("control", &mut switch.control),
                ("supply", &mut switch.supply),
            ]
        }
        PartKind::Pin(pin) => vec![("node", &mut pin.node), ("supply", &mut pin.supply)],
        PartKind::Supply { node, .. }
        | PartKind::Consumption { node, .. }
        | PartKind::Draw { node, .. } => vec![("node", node)],
    }
}
