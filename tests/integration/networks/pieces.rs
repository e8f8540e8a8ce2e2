//! Pieces of boards: single parts, and small circuits that solvers find hard.

use crate::networks::models;
use crate::networks::random_boards::Sketch;
use backporch::network::bipolar::Polarity;
use backporch::network::circuit::AnalogueSwitch;
use backporch::network::circuit::Gate;
use backporch::network::circuit::GateSpeed;
use backporch::network::circuit::Logic;
use backporch::network::circuit::NodeId;
use backporch::network::circuit::PartKind;
use backporch::network::circuit::Pin;
use backporch::network::passive::CapacitorPolarity;
use backporch::network::passive::ContactState;
use backporch::network::passive::RealCapacitor;
use backporch::network::regulator::Regulator;
use backporch::network::ripple::Adapter;

const GROUND: NodeId = NodeId::GROUND;
const RAIL: NodeId = NodeId(1);

/// One of the small circuits, on the first rail.
pub(crate) fn add(sketch: &mut Sketch) {
    match sketch.chance.below(10) {
        0 => mesh(sketch),
        1 => diode_string(sketch),
        2 => zener_rail(sketch),
        3 => amplifier(sketch),
        4 => flip_flop(sketch),
        5 => darlington(sketch),
        6 => ring(sketch),
        7 => latch(sketch),
        8 => bridge(sketch),
        _ => pin_adder(sketch),
    }
}

pub(crate) fn transistor(sketch: &mut Sketch, [collector, base, emitter]: [NodeId; 3]) {
    let polarity = if sketch.chance.percent(50) { Polarity::Npn } else { Polarity::Pnp };
    transistor_of(sketch, polarity, [collector, base, emitter]);
}

fn transistor_of(sketch: &mut Sketch, polarity: Polarity, terminals: [NodeId; 3]) {
    let [collector, base, emitter] = terminals;
    let model = models::transistor(&mut sketch.chance, polarity);
    sketch.add(PartKind::Transistor { collector, base, emitter, model });
}

fn diode(sketch: &mut Sketch, anode: NodeId, cathode: NodeId) {
    let model = models::diode(&mut sketch.chance);
    sketch.add(PartKind::Diode { anode, cathode, model });
}

const SPEED: GateSpeed = GateSpeed { supply_volts: 5.0, delay_s: 1e-8, transition_s: 1e-8 };

/// A gate that watches `inputs` and perhaps any other node besides.
pub(crate) fn gate(sketch: &mut Sketch, inputs: &[NodeId], output: NodeId, supply: NodeId) {
    let logic = sketch.chance.pick(&[
        Logic::Or,
        Logic::Nor,
        Logic::And,
        Logic::Nand,
        Logic::Xor,
        Logic::Not,
        Logic::Buffer,
    ]);
    let mut inputs = inputs.to_vec();
    if !matches!(logic, Logic::Not | Logic::Buffer) {
        inputs.push(sketch.any());
    }
    gate_of(sketch, logic, inputs, [output, supply]);
}

fn gate_of(sketch: &mut Sketch, logic: Logic, inputs: Vec<NodeId>, to: [NodeId; 2]) {
    let chance = &mut sketch.chance;
    let clamp = chance.percent(50).then(|| models::clamp(chance));
    let gate = Gate {
        logic,
        inputs,
        output: to[0],
        supply: to[1],
        threshold: models::threshold(chance),
        input_farads: 5e-12,
        clamp,
        high: models::output_curve(chance),
        low: models::output_curve(chance),
        speed: vec![SPEED],
    };
    sketch.add(PartKind::Gate(Box::new(gate)));
}

pub(crate) fn pin(sketch: &mut Sketch, node: NodeId, supply: NodeId) {
    let chance = &mut sketch.chance;
    let levels = (0..chance.count(2, 3)).map(|_| models::pin_stage(chance)).collect();
    let (delay_s, rise_s, fall_s, farads) = (0.0, 0.0, 0.0, 1e-12);
    sketch.add(PartKind::Pin(Box::new(Pin {
        node,
        supply,
        levels,
        delay_s,
        rise_s,
        fall_s,
        farads,
    })));
}

pub(crate) fn analogue_switch(sketch: &mut Sketch, ends: [NodeId; 2], control: NodeId) {
    let supply = sketch.any();
    let chance = &mut sketch.chance;
    let clamp = chance.percent(30).then(|| models::clamp(chance));
    let switch = AnalogueSwitch {
        ends,
        control,
        supply,
        threshold: models::threshold(chance),
        on_ohms: vec![(3.0, 2e3), (5.0, 470.0), (15.0, 125.0)],
        off_ohms: chance.decades(1e8, 1e12),
        end_farads: 0.0,
        between_farads: 0.0,
        control_farads: 0.0,
        clamp,
        speed: vec![SPEED],
    };
    sketch.add(PartKind::AnalogueSwitch(Box::new(switch)));
}

/// Parts that are resistors, shorts or nothing to a standing current.
pub(crate) fn passive(sketch: &mut Sketch, ends: [NodeId; 2], third: NodeId) {
    let ohms = sketch.ohms();
    let chance = &mut sketch.chance;
    let some = |yes: bool, value: f64| if yes { value } else { 0.0 };
    let kind = match chance.below(9) {
        0 => PartKind::Capacitor { ends, farads: chance.decades(1e-12, 1e-3) },
        1 => PartKind::RealCapacitor(Box::new(RealCapacitor {
            ends,
            farads: 1e-6,
            farads_left: 0.7,
            series_ohms: some(chance.percent(50), chance.decades(0.01, 10.0)),
            series_factor: 2.0,
            leakage_ohms: chance.percent(50).then(|| chance.decades(1e4, 1e9)),
            rated_volts: None,
            polarity: CapacitorPolarity::Polar,
        })),
        2 => PartKind::Inductor { ends, henries: 1e-3, ohms: some(chance.percent(60), ohms) },
        3 => PartKind::LossyInductor {
            ends,
            henries: 1e-3,
            ohms: some(chance.percent(60), ohms),
            parallel_ohms: chance.decades(100.0, 1e6),
        },
        4 | 5 => PartKind::Trimmer {
            ends,
            wiper: third,
            ohms,
            position: chance.pick(&[0.0, 0.1, 0.5, 0.77, 1.0]),
            middle: chance.pick(&[0.5, 0.1, 0.9]),
            contact_ohms: some(chance.percent(50), chance.decades(0.1, 1e9)),
        },
        6 => PartKind::Adapter(Box::new(Adapter {
            node: ends[0],
            volts: chance.between(5.0, 15.0),
            ohms: chance.decades(0.1, 100.0),
            ripple_volts: 0.5,
            ripple_hertz: 100.0,
            phase: 0.0,
            conduction: 0.3,
            openings: None,
        })),
        7 => PartKind::Regulator(Box::new(Regulator {
            input: ends[0],
            output: ends[1],
            common: if chance.percent(80) { GROUND } else { third },
            volts: 5.0,
            dropout_volts: 1.5,
            dropout_ohms: 0.5,
            output_ohms: 6e-3,
            limit_amps: 2.2,
            quiescent_amps: some(chance.percent(80), 5e-3),
            line_ratio: 4e-3 / 18.0,
        })),
        _ => {
            let state = if chance.percent(50) { ContactState::Closed } else { ContactState::Open };
            PartKind::Contact { ends, ohms: chance.decades(1e-3, 1.0), state }
        }
    };
    sketch.add(kind);
}

/// Resistors from node to node, and across.
fn mesh(sketch: &mut Sketch) {
    let mut last = RAIL;
    for _ in 0..sketch.chance.count(2, 5) {
        let node = sketch.node();
        sketch.resistor(last, node);
        if sketch.chance.percent(60) {
            let across = sketch.any();
            sketch.resistor(node, across);
        }
        last = node;
    }
    sketch.resistor(last, GROUND);
}

fn diode_string(sketch: &mut Sketch) {
    let mut last = RAIL;
    for _ in 0..sketch.chance.count(1, 6) {
        let node = sketch.node();
        if sketch.chance.percent(70) {
            diode(sketch, last, node);
        } else {
            diode(sketch, node, last);
        }
        last = node;
    }
    if sketch.chance.percent(80) {
        sketch.resistor(last, GROUND);
    } else {
        diode(sketch, last, GROUND);
    }
}

fn zener_rail(sketch: &mut Sketch) {
    let (out, base) = (sketch.node(), sketch.node());
    sketch.resistor(RAIL, base);
    diode(sketch, GROUND, base);
    transistor_of(sketch, Polarity::Npn, [RAIL, base, out]);
    sketch.resistor(out, GROUND);
}

/// One transistor with resistors, a divider at its base.
fn amplifier(sketch: &mut Sketch) {
    let [collector, base, emitter] = [sketch.node(), sketch.node(), sketch.node()];
    sketch.resistor(RAIL, base);
    let foot = if sketch.chance.percent(70) { GROUND } else { collector };
    sketch.resistor(base, foot);
    sketch.resistor(RAIL, collector);
    sketch.resistor(emitter, GROUND);
    transistor(sketch, [collector, base, emitter]);
}

/// Two transistors, each at the other's collector.
fn flip_flop(sketch: &mut Sketch) {
    let [left, right] = [sketch.node(), sketch.node()];
    let [left_base, right_base] = [sketch.node(), sketch.node()];
    for (collector, base, other) in [(left, left_base, right_base), (right, right_base, left_base)]
    {
        sketch.resistor(RAIL, collector);
        sketch.resistor(collector, other);
        transistor_of(sketch, Polarity::Npn, [collector, base, GROUND]);
    }
}

/// Two or three transistors, each at the emitter of the one before.
fn darlington(sketch: &mut Sketch) {
    let mut base = sketch.node();
    let polarity = if sketch.chance.percent(50) { Polarity::Npn } else { Polarity::Pnp };
    let (feed, from) = if sketch.chance.percent(50) { (RAIL, GROUND) } else { (GROUND, RAIL) };
    sketch.resistor(feed, base);
    let collector = sketch.node();
    sketch.resistor(feed, collector);
    for _ in 0..sketch.chance.count(2, 3) {
        let emitter = sketch.node();
        transistor_of(sketch, polarity, [collector, base, emitter]);
        base = emitter;
    }
    sketch.resistor(base, from);
}

/// Inverters in a ring, perhaps with resistors between them.
fn ring(sketch: &mut Sketch) {
    let count = sketch.chance.count(1, 4);
    if !sketch.may_drive(count) {
        return mesh(sketch);
    }
    let start = sketch.node();
    let mut input = start;
    for index in 0..count {
        let output = if index + 1 == count { start } else { sketch.node() };
        let mut driven = output;
        if sketch.chance.percent(40) {
            driven = sketch.node();
            sketch.resistor(driven, output);
        }
        let logic = if sketch.chance.percent(80) { Logic::Not } else { Logic::Buffer };
        gate_of(sketch, logic, vec![input], [driven, RAIL]);
        input = output;
    }
}

/// Two gates that hold each other, set and reset from somewhere.
fn latch(sketch: &mut Sketch) {
    if !sketch.may_drive(2) {
        return mesh(sketch);
    }
    let logic = sketch.chance.pick(&[Logic::Nor, Logic::Nand, Logic::Xor, Logic::Or]);
    let (q, not_q) = (sketch.node(), sketch.node());
    for (output, other) in [(q, not_q), (not_q, q)] {
        let from = sketch.any();
        gate_of(sketch, logic, vec![from, other], [output, RAIL]);
    }
}

/// Four diodes, a load across.
fn bridge(sketch: &mut Sketch) {
    let [plus, minus, tap] = [sketch.node(), sketch.node(), sketch.node()];
    sketch.resistor(RAIL, tap);
    for end in [tap, GROUND] {
        diode(sketch, end, plus);
        diode(sketch, minus, end);
    }
    sketch.resistor(plus, minus);
}

/// Pins into a summing node.
fn pin_adder(sketch: &mut Sketch) {
    let sum = sketch.node();
    sketch.resistor(sum, GROUND);
    for _ in 0..sketch.chance.count(1, 3) {
        if !sketch.may_drive(1) {
            return;
        }
        let node = sketch.node();
        pin(sketch, node, RAIL);
        sketch.resistor(node, sum);
    }
}
