//! The currents at every node once more, from the models' documented laws and not from the
//! product's code: what is left over, and how much may be.

use crate::networks::laws;
use crate::networks::laws::Flow;
use crate::networks::laws::Watch;
use crate::plain::broken_line;
use backporch::network::bipolar::Polarity;
use backporch::network::bipolar::TransistorModel;
use backporch::network::circuit::Circuit;
use backporch::network::circuit::Gate;
use backporch::network::circuit::NodeId;
use backporch::network::circuit::PartKind;
use backporch::network::circuit::Pin;
use backporch::network::circuit::PinStage;
use backporch::network::circuit::Threshold;
use backporch::network::device::DiodeModel;
use backporch::network::field_effect::Channel;
use backporch::network::field_effect::FieldEffectModel;
use backporch::network::field_effect::FieldGate;
use backporch::network::operating_point::Network;
use backporch::network::operating_point::OperatingPoint;
use backporch::network::passive::ContactState;
use backporch::network::passive::OPEN_CONTACT_OHMS;
use backporch::network::passive::track_share;
use backporch::network::regulator::Regulator;
use backporch::signal::pulse_train::Level;

/// A leftover may be this share of the currents that meet at the node,
const RELATIVE: f64 = 1e-9;
/// and this much besides, A: a millivolt over the largest resistor drawn, a gigaohm's worth of
/// a millivolt,
const ABSOLUTE: f64 = 1e-12;
/// and what one last bit of the voltages does to those currents, so many times over: a voltage of
/// 5 V is known to 0.9 fV, which is 0.9 pA through a milliohm.
const LAST_BITS: f64 = 32.0;
/// Leak of an output stage made of transistors, S; part of the model.
const LEAK_S: f64 = 1e-9;
/// An input this close to its switching level, relative to 1 V and its own, counts as either.
const ON_THE_LINE: f64 = 1e-8;

/// Currents that leave each node, those inside parts among them.
struct Balance<'a> {
    names: Vec<&'a str>,
    volts: Vec<f64>,
    amps: Vec<f64>,
    /// Sizes of the currents, A, and of what a last bit does to them.
    size: Vec<f64>,
    noise: Vec<f64>,
    /// Nodes tied by ideal parts, with the voltage from the first to the second.
    tied: Vec<[usize; 2]>,
    faults: Vec<String>,
}

/// Everything that is wrong with a standing point, in words; nothing if it is right.
pub(crate) fn faults(
    circuit: &Circuit,
    network: &Network,
    point: &OperatingPoint,
    levels: &[Level],
) -> Vec<String> {
    let (names, volts): (Vec<&str>, Vec<f64>) = network.standing(point).unzip();
    let nothing = vec![0.0; volts.len()];
    let mut balance = Balance {
        names,
        volts,
        amps: nothing.clone(),
        size: nothing.clone(),
        noise: nothing,
        tied: Vec::new(),
        faults: Vec::new(),
    };
    let (mut gates, mut levels) = (point.gates.iter(), levels.iter());
    for part in &circuit.parts {
        match &part.kind {
            PartKind::Gate(gate) => balance.gate(gate, *gates.next().unwrap()),
            PartKind::AnalogueSwitch(switch) => {
                let supply = balance.at(switch.supply);
                let closed = *gates.next().unwrap();
                balance
                    .watch(&[switch.control], switch.threshold, supply, |high| high[0] == closed);
                let [a, b] = switch.ends;
                balance.clamps(&[a, b, switch.control], switch.supply, switch.clamp.as_ref());
                let on_s = if closed { 1.0 / broken_line(&switch.on_ohms, supply) } else { 0.0 };
                balance.resistor(a.0, b.0, 1.0 / (on_s + 1.0 / switch.off_ohms));
            }
            PartKind::Pin(pin) => balance.pin(pin, usize::from(levels.next().unwrap().0)),
            kind => balance.part(&part.name, kind),
        }
    }
    balance.close()
}

impl Balance<'_> {
    fn at(&self, node: NodeId) -> f64 {
        self.volts[node.0]
    }

    /// A current from one node to another that follows the voltages of some nodes.
    fn flow(&mut self, [from, to]: [usize; 2], flow: Flow, on: &[usize]) {
        let volts: f64 = on.iter().map(|&node| self.volts[node].abs()).sum();
        for (node, sign) in [(from, 1.0), (to, -1.0)] {
            self.amps[node] += sign * flow.amps;
            self.size[node] += flow.amps.abs();
            self.noise[node] += f64::EPSILON * (flow.siemens.abs() * volts + flow.lost_amps);
        }
    }

    fn branch(&mut self, from: usize, to: usize, law: impl Fn(f64) -> Flow) {
        let flow = law(self.volts[from] - self.volts[to]);
        self.flow([from, to], flow, &[from, to]);
    }

    fn resistor(&mut self, from: usize, to: usize, ohms: f64) {
        self.branch(from, to, |volts| Flow::linear(volts, 1.0 / ohms));
    }

    /// The node inside a part behind a resistance at one terminal, whose current is added.
    fn behind(&mut self, part: &str, terminal: (&str, NodeId), ohms: f64) -> usize {
        let (name, node) = terminal;
        if ohms <= 0.0 {
            return node.0;
        }
        let wanted = format!("inside `{part}`, behind its {name}");
        let inner = self.names.iter().position(|&name| name == wanted).unwrap();
        self.resistor(node.0, inner, ohms);
        inner
    }

    fn part(&mut self, name: &str, kind: &PartKind) {
        match kind {
            PartKind::Resistor { ends, ohms } => self.resistor(ends[0].0, ends[1].0, *ohms),
            PartKind::Contact { ends, ohms, state } => {
                let open = *state == ContactState::Open;
                self.resistor(ends[0].0, ends[1].0, if open { OPEN_CONTACT_OHMS } else { *ohms });
            }
            PartKind::Trimmer { ends, wiper, ohms, position, middle, contact_ohms } => {
                let track = self.behind(name, ("wiper", *wiper), *contact_ohms);
                let share = track_share(*position, *middle);
                self.resistor(ends[0].0, track, (share * ohms).max(0.1));
                self.resistor(track, ends[1].0, ((1.0 - share) * ohms).max(0.1));
            }
            PartKind::Capacitor { .. } => {}
            PartKind::RealCapacitor(part) => {
                let series_ohms = part.series_ohms * part.series_factor;
                let inner = self.behind(name, ("plus end", part.ends[0]), series_ohms);
                if let Some(ohms) = part.leakage_ohms {
                    self.resistor(inner, part.ends[1].0, ohms);
                }
            }
            PartKind::Inductor { ends, ohms, .. } if *ohms <= 0.0 => {
                self.tie(name, ends.map(|end| end.0), 0.0);
            }
            PartKind::Inductor { ends, ohms, .. } => self.resistor(ends[0].0, ends[1].0, *ohms),
            PartKind::LossyInductor { ends, ohms, .. } => {
                let inner = self.behind(name, ("first end", ends[0]), *ohms);
                self.tie(name, [inner, ends[1].0], 0.0);
            }
            PartKind::Supply { node, volts, ohms } if *ohms <= 0.0 => {
                self.tie(name, [node.0, 0], *volts);
            }
            PartKind::Supply { node, volts, ohms } => self.source(*node, *volts, *ohms),
            PartKind::Adapter(part) => self.source(part.node, part.volts, part.ohms),
            PartKind::Draw { node, amps } => {
                self.flow([node.0, 0], Flow { amps: *amps, ..Flow::default() }, &[]);
            }
            PartKind::Consumption { node, amps } => {
                self.branch(node.0, 0, |volts| laws::consumption(*amps, volts));
            }
            other => self.semiconductor(name, other),
        }
    }

    fn semiconductor(&mut self, name: &str, kind: &PartKind) {
        match kind {
            PartKind::Diode { anode, cathode, model } => {
                let inner = self.behind(name, ("anode", *anode), model.series_ohms);
                self.diode(inner, cathode.0, model);
            }
            PartKind::Transistor { collector, base, emitter, model } => {
                let terminals = [
                    self.behind(name, ("collector", *collector), model.collector_ohms),
                    self.behind(name, ("base", *base), model.base_ohms),
                    self.behind(name, ("emitter", *emitter), model.emitter_ohms),
                ];
                self.transistor(terminals, model);
            }
            PartKind::FieldEffect { drain, gate, source, model } => {
                self.field_effect([drain.0, gate.0, source.0], model);
            }
            PartKind::Regulator(part) => self.regulator(part),
            other => panic!("no equation for {other:?}"),
        }
    }

    /// An ideal source: the voltage has to be right, and its current may be anything.
    fn tie(&mut self, name: &str, [plus, minus]: [usize; 2], volts: f64) {
        let off = (self.volts[plus] - self.volts[minus] - volts).abs();
        if off.is_nan() || off > 1e-9 * (volts.abs() + self.volts[minus].abs()) + 1e-12 {
            self.faults.push(format!("`{name}` is off by {off:e} V"));
        }
        self.tied.push([plus, minus]);
    }

    fn source(&mut self, node: NodeId, volts: f64, ohms: f64) {
        let lost_amps = volts.abs() / ohms;
        let over = self.at(node) - volts;
        self.flow([node.0, 0], Flow { lost_amps, ..Flow::linear(over, 1.0 / ohms) }, &[node.0]);
    }

    fn diode(&mut self, anode: usize, cathode: usize, model: &DiodeModel) {
        self.branch(anode, cathode, |volts| laws::diode(model, volts));
    }

    fn transistor(&mut self, [c, b, e]: [usize; 3], model: &TransistorModel) {
        let sign = if model.polarity == Polarity::Npn { 1.0 } else { -1.0 };
        let be = sign * (self.volts[b] - self.volts[e]);
        let bc = sign * (self.volts[b] - self.volts[c]);
        let turned = |flow: Flow| Flow { amps: sign * flow.amps, ..flow };
        let [to_emitter, to_collector, across] = laws::transistor(model, be, bc);
        self.flow([b, e], turned(to_emitter), &[b, e]);
        self.flow([b, c], turned(to_collector), &[b, c]);
        self.flow([c, e], turned(across), &[c, b, e]);
    }

    fn field_effect(&mut self, [drain, gate, source]: [usize; 3], model: &FieldEffectModel) {
        let sign = if model.channel == Channel::N { 1.0 } else { -1.0 };
        let over = |end: usize| sign * (self.volts[gate] - self.volts[end]);
        let flow = laws::channel(model, over(source), over(drain));
        let flow = Flow { amps: sign * flow.amps, ..flow };
        self.flow([drain, source], flow, &[drain, gate, source]);
        self.resistor(drain, source, model.off_ohms);
        let (pairs, junction) = match &model.gate {
            FieldGate::Junction(junction) => (vec![[gate, source], [gate, drain]], junction),
            FieldGate::Insulated { body, .. } => (vec![[source, drain]], body),
        };
        for [p, n] in pairs {
            let (anode, cathode) = if sign > 0.0 { (p, n) } else { (n, p) };
            self.diode(anode, cathode, junction);
        }
    }

    fn regulator(&mut self, part: &Regulator) {
        let [input, output, common] = [part.input.0, part.output.0, part.common.0];
        let (u, w) =
            (self.volts[input] - self.volts[common], self.volts[output] - self.volts[common]);
        self.flow([input, output], laws::regulated(part, u, w), &[input, output, common]);
        self.resistor(output, common, 10e3);
        self.branch(input, common, |volts| laws::quiescent(part, volts));
    }

    fn clamps(&mut self, inputs: &[NodeId], supply: NodeId, clamp: Option<&DiodeModel>) {
        for (input, model) in inputs.iter().filter_map(|input| Some((input, clamp?))) {
            self.diode(0, input.0, model);
            self.diode(input.0, supply.0, model);
        }
    }

    /// Holds what the inputs say against what the output does.
    fn watch(
        &mut self,
        inputs: &[NodeId],
        threshold: Threshold,
        supply: f64,
        agrees: impl Fn(&[bool]) -> bool,
    ) {
        let inputs = inputs.iter().map(|&input| self.at(input)).collect();
        let watch = Watch { inputs, threshold, supply, doubt: ON_THE_LINE };
        if !watch.allows(agrees) {
            self.faults.push(format!("an output is not what {watch:?} makes of its inputs"));
        }
    }

    fn gate(&mut self, gate: &Gate, is_high: bool) {
        let (node, supply) = (self.at(gate.output), self.at(gate.supply));
        self.watch(&gate.inputs, gate.threshold, supply, |high| {
            laws::output(gate.logic, high) == is_high
        });
        self.clamps(&gate.inputs, gate.supply, gate.clamp.as_ref());
        let [o, s] = [gate.output.0, gate.supply.0];
        let leak = Flow::linear(node, LEAK_S);
        self.flow([o, 0], leak, &[o]);
        if is_high {
            self.flow([s, o], laws::stage(&gate.high, supply - node, supply), &[o, s]);
        } else {
            self.flow([o, 0], laws::stage(&gate.low, node, supply), &[o, s]);
        }
    }

    fn pin(&mut self, pin: &Pin, level: usize) {
        let [o, s] = [pin.node.0, pin.supply.0];
        let (node, supply) = (self.at(pin.node), self.at(pin.supply));
        let leak = Flow::linear(node, LEAK_S);
        match pin.levels[level] {
            PinStage::Linear { offset, share, ohms } => {
                let back = if share > 0.0 { s } else { 0 };
                let lost_amps = (offset.abs() + node.abs()) / ohms;
                let flow = Flow::linear(node - laws::open_volts(offset, share, supply), 1.0 / ohms);
                self.flow([o, back], Flow { lost_amps, ..flow }, &[o, s]);
            }
            PinStage::PullUp { k, threshold } => {
                self.flow([o, 0], leak, &[o]);
                self.flow([s, o], laws::pull_up(k, supply - threshold - node), &[o, s]);
            }
            PinStage::PullDown { k, threshold } => {
                self.flow([o, 0], leak, &[o]);
                self.flow([o, 0], laws::pull_down(k, node, supply - threshold), &[o, s]);
            }
            PinStage::Off { ohms } => self.resistor(o, 0, ohms),
        }
    }

    /// Adds up what ideal parts tie together and says where too much is left over.
    fn close(mut self) -> Vec<String> {
        let mut root: Vec<usize> = (0..self.volts.len()).collect();
        for &[a, b] in &self.tied {
            let (from, to) = (root[a].max(root[b]), root[a].min(root[b]));
            for entry in root.iter_mut().filter(|entry| **entry == from) {
                *entry = to;
            }
        }
        for set in 1..self.volts.len() {
            let members: Vec<usize> = (0..root.len()).filter(|&node| root[node] == set).collect();
            let sum = |of: &[f64]| members.iter().map(|&node| of[node]).sum::<f64>();
            let left = sum(&self.amps).abs();
            let most = RELATIVE * sum(&self.size) + ABSOLUTE + LAST_BITS * sum(&self.noise);
            if left.is_nan() || left > most {
                let name = self.names[set];
                self.faults.push(format!("{left:e} A left over at {name}, {most:e} allowed"));
            }
        }
        self.faults
    }
}
