//! How far each node lies from the socket, in parts.

use crate::analysis::cause::route::held;
use crate::analysis::cause::route::passages;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;

/// For every node, by [`NodeId`] index, the least number of parts that a pulse has to pass from it
/// to `socket`; `None` for ground, for what a supply holds, and where no part leads on.
///
/// A transistor is passed as it is meant to be (base to emitter or collector, emitter to
/// collector) where that leads anywhere, and only from what is left over the other way. So a part
/// with two ends lies between neighbouring stages or within one, and no part leads more than one
/// stage on.
#[must_use]
pub fn stages(circuit: &Circuit, socket: NodeId) -> Vec<Option<usize>> {
    let held = held(circuit);
    let mut stages = vec![None; circuit.nodes.len()];
    stages[socket.0] = Some(0);
    let all = circuit.parts.iter().flat_map(|part| passages(&part.kind));
    let mut steps: Vec<_> =
        all.filter(|(from, to, _)| !held[from.0] && (!held[to.0] || *to == socket)).collect();
    // The plain ways first, then those against the grain too.
    steps.sort_by(|a, b| a.2.total_cmp(&b.2));
    let plain = steps.iter().take_while(|(.., extra)| *extra <= 0.0).count();
    for count in [plain, steps.len()] {
        spread(&steps[..count], &mut stages);
    }
    stages
}

/// From the nodes that have a stage, to all that lead to them.
fn spread(steps: &[(NodeId, NodeId, f64)], stages: &mut [Option<usize>]) {
    for _ in 0..stages.len() {
        for &(from, to, _) in steps {
            let through = stages[to.0].map(|stage| stage + 1);
            if let Some(through) = through
                && stages[from.0].is_none_or(|stage| through < stage)
            {
                stages[from.0] = Some(through);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::network::circuit::Part;
    use crate::network::circuit::PartKind;

    #[test]
    fn stages_are_counted_from_the_socket_and_rails_have_none() {
        let nodes = ["ground", "rail", "pin", "mix", "plug", "off"].map(String::from).into();
        let resistor = |name: &str, ends: [usize; 2]| Part {
            name: name.into(),
            kind: PartKind::Resistor { ends: ends.map(NodeId), ohms: 1e3 },
        };
        let rail = PartKind::Supply { node: NodeId(1), volts: 5.0, ohms: 0.0 };
        let parts = vec![
            Part { name: "V1".into(), kind: rail },
            resistor("R1", [2, 3]),
            resistor("R2", [3, 4]),
            resistor("R3", [1, 3]),
            resistor("R4", [1, 5]),
        ];
        let circuit = Circuit { nodes, parts };
        let found = stages(&circuit, NodeId(4));
        assert_eq!(found, [None, None, Some(2), Some(1), Some(0), None]);
    }
}
