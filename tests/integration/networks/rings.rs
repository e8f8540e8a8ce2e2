//! Whether gates that drive one another have a standing state at all: every state is forced, the
//! board solved with it, the solution checked, and its inputs read.

use crate::networks::laws;
use crate::networks::laws::Watch;
use crate::networks::residual;
use backporch::network::circuit::Circuit;
use backporch::network::circuit::Logic;
use backporch::network::circuit::NodeId;
use backporch::network::circuit::Part;
use backporch::network::circuit::PartKind;
use backporch::network::circuit::Threshold;
use backporch::network::device::DiodeModel;
use backporch::network::operating_point::Network;
use backporch::network::operating_point::OperatingPoint;
use backporch::signal::pulse_train::Level;

/// Parts and a node that force a state.
struct Force {
    state: u32,
    high: NodeId,
    more: Vec<PartKind>,
}

impl Force {
    fn next(&mut self) -> bool {
        let is_high = self.state & 1 == 1;
        self.state >>= 1;
        is_high
    }

    fn keep_clamps(&mut self, nodes: &[NodeId], supply: NodeId, clamp: Option<DiodeModel>) {
        let ends = nodes.iter().flat_map(|&node| [(NodeId::GROUND, node), (node, supply)]);
        for ((anode, cathode), model) in ends.filter_map(|ends| Some((ends, clamp?))) {
            self.more.push(PartKind::Diode { anode, cathode, model });
        }
    }

    fn hold(&mut self, kind: &mut PartKind) {
        match kind {
            PartKind::Gate(gate) => {
                self.keep_clamps(&gate.inputs, gate.supply, gate.clamp.take());
                gate.inputs.clear();
                gate.logic = if self.next() { Logic::Nor } else { Logic::Or };
            }
            PartKind::AnalogueSwitch(switch) => {
                let ends = [switch.ends[0], switch.ends[1], switch.control];
                self.keep_clamps(&ends, switch.supply, switch.clamp.take());
                switch.control = if self.next() { self.high } else { NodeId::GROUND };
                switch.threshold = Threshold::Fixed { low: 1.0, typical: 1.0, high: 1.0 };
            }
            _ => {}
        }
    }
}

/// The board with every gate and switch held in one state, bit by bit: a gate without inputs stands
/// where its logic puts it, and a switch is given a control of its own. What their inputs load
/// their nodes with is kept.
fn forced(circuit: &Circuit, state: u32) -> Circuit {
    let mut board = circuit.clone();
    let mut force = Force { state, high: NodeId(board.nodes.len()), more: Vec::new() };
    board.nodes.push("forced".to_owned());
    for part in &mut board.parts {
        force.hold(&mut part.kind);
    }
    force.more.push(PartKind::Supply { node: force.high, volts: 9.0, ohms: 0.0 });
    let more = force.more.into_iter().enumerate();
    board.parts.extend(more.map(|(at, kind)| Part { name: format!("more {at}"), kind }));
    board
}

/// A state in which every gate makes of its inputs what it puts out, if there is one.
///
/// # Panics
///
/// If a forced board is not solved: it has no rings.
pub(crate) fn standing_state(circuit: &Circuit, levels: &[Level]) -> Option<u32> {
    let drives =
        |part: &&Part| matches!(part.kind, PartKind::Gate(_) | PartKind::AnalogueSwitch(_));
    let gates = circuit.parts.iter().filter(drives).count();
    (0..1_u32 << gates).find(|&state| {
        let board = forced(circuit, state);
        let network = Network::new(&board).unwrap();
        let point = network.operating_point(levels).unwrap();
        let faults = residual::faults(&board, &network, &point, levels);
        assert!(faults.is_empty(), "forced to {state}: {faults:?}");
        stands(circuit, &point, state)
    })
}

/// Whether every gate's inputs ask for the state it is in.
fn stands(circuit: &Circuit, point: &OperatingPoint, mut state: u32) -> bool {
    circuit.parts.iter().all(|part| {
        let is_high = state & 1 == 1;
        match &part.kind {
            PartKind::Gate(gate) => {
                state >>= 1;
                let supply = point.volts(gate.supply);
                let inputs: Vec<f64> = gate.inputs.iter().map(|&node| point.volts(node)).collect();
                let watch = Watch { inputs, threshold: gate.threshold, supply, doubt: 0.0 };
                watch.allows(|high| laws::output(gate.logic, high) == is_high)
            }
            PartKind::AnalogueSwitch(switch) => {
                state >>= 1;
                let supply = point.volts(switch.supply);
                let inputs = vec![point.volts(switch.control)];
                let watch = Watch { inputs, threshold: switch.threshold, supply, doubt: 0.0 };
                watch.allows(|high| high[0] == is_high)
            }
            _ => true,
        }
    })
}
