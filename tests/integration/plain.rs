//! A circuit's equations once more, written plainly: every part on its own, dense, from the
//! textbook laws and not from the product's, to hold its solutions against.
//!
//! What is taken over as given are the models themselves: that an output stage of transistors
//! leaks 1 nS to ground, that a driver changes from state to state along a straight mixture of
//! both, how far the corners of a regulator and a video driver are rounded, and the order of the
//! unknowns.

mod laws;

use backporch::base::math;
use backporch::network::amplifier::VideoDriver;
use backporch::network::bipolar::Polarity;
use backporch::network::bipolar::TransistorModel;
use backporch::network::cable::Cable;
use backporch::network::circuit::AnalogueSwitch;
use backporch::network::circuit::Circuit;
use backporch::network::circuit::Gate;
use backporch::network::circuit::NodeId;
use backporch::network::circuit::PartKind;
use backporch::network::circuit::Pin;
use backporch::network::circuit::PinStage;
use backporch::network::device::DiodeModel;
use backporch::network::field_effect::Channel;
use backporch::network::field_effect::FieldEffectModel;
use backporch::network::field_effect::FieldGate;
use backporch::network::passive::ContactState;
use backporch::network::passive::RealCapacitor;
use backporch::network::regulator::Regulator;
use backporch::network::ripple::Adapter;
use laws::Charge;
use laws::above_zero;
pub(crate) use laws::broken_line;
use laws::channel;
use laws::leaks;
use laws::open_volts;
use laws::regulated;
use laws::shockley;
use laws::square_law;

const GROUND: NodeId = NodeId::GROUND;
const LEAK_S: f64 = 1e-9;

/// The equations at one set of unknowns. Rows are ground, the circuit's nodes, the nodes inside
/// parts, and the currents of coils and ideal supplies; a row of a current is in volts and
/// webers, one of a voltage that only follows in volts.
pub(crate) struct Plain<'a> {
    x: &'a [f64],
    /// Current that leaves each node, A.
    pub(crate) amps: Vec<f64>,
    /// Sum of the sizes of those currents, A: what a residual is measured by.
    pub(crate) size: Vec<f64>,
    /// Charge at each node, C.
    pub(crate) coulombs: Vec<f64>,
    /// Capacitances between pairs of nodes, F.
    pub(crate) farads: Vec<(usize, usize, f64)>,
    /// What sources deliver, W.
    pub(crate) delivered_w: f64,
    /// What turns to heat, W.
    pub(crate) heat_w: f64,
    /// What is stored, J.
    pub(crate) stored_j: f64,
    /// The next node inside a part.
    inside: usize,
    /// The next current.
    branch: usize,
}

/// The coils' equations: ends, H, Ω.
pub(crate) fn coils(circuit: &Circuit) -> Vec<([NodeId; 2], f64, f64)> {
    let parts = circuit.parts.iter();
    parts
        .filter_map(|part| match part.kind {
            PartKind::Inductor { ends, henries, ohms } => Some((ends, henries, ohms)),
            _ => None,
        })
        .collect()
}

/// Nodes whose voltage is given: ground, and those with an ideal supply, V.
pub(crate) fn given(circuit: &Circuit) -> Vec<Option<f64>> {
    let mut given = vec![None; circuit.nodes.len()];
    given[0] = Some(0.0);
    for part in &circuit.parts {
        if let PartKind::Supply { node, volts, ohms } = part.kind
            && ohms <= 0.0
        {
            given[node.0] = Some(volts);
        }
    }
    given
}

/// All rows' unknowns of a circuit without nodes inside parts: voltages, ground included, and the
/// currents of its coils; those of ideal supplies are left at 0.
pub(crate) fn with_currents(circuit: &Circuit, mut volts: Vec<f64>, coil_amps: &[f64]) -> Vec<f64> {
    let mut coil_amps = coil_amps.iter();
    for part in &circuit.parts {
        match part.kind {
            PartKind::Inductor { .. } => volts.push(*coil_amps.next().unwrap()),
            PartKind::Supply { ohms, .. } if ohms <= 0.0 => volts.push(0.0),
            _ => {}
        }
    }
    volts
}

/// Number of nodes inside parts.
fn inside_nodes(circuit: &Circuit) -> usize {
    let behind = |ohms: &[f64]| ohms.iter().filter(|&&ohms| ohms > 0.0).count();
    let of = |kind: &PartKind| match kind {
        PartKind::Diode { model, .. } => behind(&[model.series_ohms]),
        PartKind::Transistor { model, .. } => {
            behind(&[model.collector_ohms, model.base_ohms, model.emitter_ohms])
        }
        PartKind::RealCapacitor(part) => behind(&[part.series_ohms * part.series_factor]),
        PartKind::Trimmer { contact_ohms, .. } => behind(&[*contact_ohms]),
        PartKind::LossyInductor { ohms, .. } => behind(&[*ohms]),
        PartKind::VideoDriver(_) => 1,
        PartKind::Cable(_) => 2,
        _ => 0,
    };
    circuit.parts.iter().map(|part| of(&part.kind)).sum()
}

/// Number of rows.
pub(crate) fn rows(circuit: &Circuit) -> usize {
    let branches = circuit.parts.iter().filter(|part| match part.kind {
        PartKind::Inductor { .. } | PartKind::LossyInductor { .. } => true,
        PartKind::Supply { ohms, .. } => ohms <= 0.0,
        _ => false,
    });
    circuit.nodes.len() + inside_nodes(circuit) + branches.count()
}

impl<'a> Plain<'a> {
    /// With `x` the unknowns of all rows; `mixture` holds the share of each state of the pins,
    /// gates, analogue switches and adapters, in the order of the parts.
    pub(crate) fn new<S: AsRef<[f64]>>(circuit: &'a Circuit, x: &'a [f64], mixture: &[S]) -> Self {
        let rows = x.len();
        let inside = circuit.nodes.len();
        let mut plain = Self {
            x,
            amps: vec![0.0; rows],
            size: vec![0.0; rows],
            coulombs: vec![0.0; rows],
            farads: Vec::new(),
            delivered_w: 0.0,
            heat_w: 0.0,
            stored_j: 0.0,
            inside,
            branch: inside + inside_nodes(circuit),
        };
        let mut mixture = mixture.iter().map(AsRef::as_ref);
        for part in &circuit.parts {
            match &part.kind {
                PartKind::Gate(gate) => plain.gate(gate, mixture.next().unwrap()),
                PartKind::Pin(pin) => plain.pin(pin, mixture.next().unwrap()),
                PartKind::AnalogueSwitch(part) => plain.switch(part, mixture.next().unwrap()),
                PartKind::Adapter(part) => plain.adapter(part, mixture.next().unwrap()),
                kind => plain.part(kind),
            }
        }
        assert!(plain.branch == rows, "rows and parts do not fit");
        plain
    }

    fn at(&self, node: NodeId) -> f64 {
        self.x[node.0]
    }

    fn between(&self, a: NodeId, b: NodeId) -> f64 {
        self.at(a) - self.at(b)
    }

    fn leave(&mut self, row: usize, amps: f64) {
        self.amps[row] += amps;
        self.size[row] += amps.abs();
    }

    /// A current out of one node into another, whose power turns to heat.
    fn flow(&mut self, from: NodeId, to: NodeId, amps: f64) {
        self.leave(from.0, amps);
        self.leave(to.0, -amps);
        self.heat_w += self.between(from, to) * amps;
    }

    /// A source of `volts` on its way from `back` to `node`, behind a resistance: what it
    /// delivers is no loss of heat.
    fn source(&mut self, [back, node]: [NodeId; 2], volts: f64, amps: f64) {
        self.flow(back, node, amps);
        self.delivered_w += volts * amps;
        self.heat_w += volts * amps;
    }

    fn charge(&mut self, a: NodeId, b: NodeId, kept: Charge) {
        self.farads.push((a.0, b.0, kept.farads));
        self.coulombs[a.0] += kept.coulombs;
        self.coulombs[b.0] -= kept.coulombs;
        self.stored_j += kept.joules;
    }

    fn capacitor(&mut self, a: NodeId, b: NodeId, farads: f64) {
        self.charge(a, b, Charge::linear(farads, self.between(a, b)));
    }

    fn resistor(&mut self, a: NodeId, b: NodeId, ohms: f64) {
        self.flow(a, b, self.between(a, b) / ohms);
    }

    /// The node behind a resistance at a terminal, if there is one.
    fn behind(&mut self, terminal: NodeId, ohms: f64) -> NodeId {
        if ohms <= 0.0 {
            return terminal;
        }
        let inner = NodeId(self.inside);
        self.inside += 1;
        self.resistor(terminal, inner, ohms);
        inner
    }

    fn part(&mut self, kind: &PartKind) {
        match kind {
            PartKind::Resistor { ends, ohms } => self.resistor(ends[0], ends[1], *ohms),
            PartKind::Contact { ends, ohms, state } => {
                let open = *state == ContactState::Open;
                self.resistor(ends[0], ends[1], if open { 1e9 } else { *ohms });
            }
            PartKind::Trimmer { ends, wiper, ohms, position, middle, contact_ohms } => {
                let track = self.behind(*wiper, *contact_ohms);
                let share = broken_line(&[(0.0, 0.0), (0.5, *middle), (1.0, 1.0)], *position);
                self.resistor(ends[0], track, (ohms * share).max(0.1));
                self.resistor(track, ends[1], (ohms * (1.0 - share)).max(0.1));
            }
            PartKind::Capacitor { ends, farads } => self.capacitor(ends[0], ends[1], *farads),
            PartKind::RealCapacitor(part) => self.real_capacitor(part),
            PartKind::Inductor { ends, henries, ohms } => self.coil(*ends, *henries, *ohms),
            PartKind::LossyInductor { ends, henries, ohms, parallel_ohms } => {
                let inner = self.behind(ends[0], *ohms);
                self.resistor(inner, ends[1], *parallel_ohms);
                self.coil([inner, ends[1]], *henries, 0.0);
            }
            PartKind::Diode { anode, cathode, model } => self.diode(*anode, *cathode, model),
            PartKind::Transistor { collector, base, emitter, model } => {
                self.transistor([*collector, *base, *emitter], model);
            }
            PartKind::FieldEffect { drain, gate, source, model } => {
                self.field_effect([*drain, *gate, *source], model);
            }
            PartKind::Supply { node, volts, ohms } if *ohms <= 0.0 => {
                let row = self.branch;
                self.branch += 1;
                self.source([GROUND, *node], *volts, -self.x[row]);
                self.leave(row, self.at(*node));
                self.leave(row, -volts);
            }
            PartKind::Supply { node, volts, ohms } => {
                self.source([GROUND, *node], *volts, (volts - self.at(*node)) / ohms);
            }
            PartKind::Draw { node, amps } => self.flow(*node, GROUND, *amps),
            PartKind::Consumption { node, amps } => {
                self.flow(*node, GROUND, drawn(*amps, self.at(*node)));
            }
            PartKind::Regulator(part) => self.regulator(part),
            PartKind::VideoDriver(part) => self.video_driver(part),
            PartKind::Cable(part) => self.cable(part),
            other => panic!("no plain equation for {other:?}"),
        }
    }

    fn real_capacitor(&mut self, part: &RealCapacitor) {
        let inner = self.behind(part.ends[0], part.series_ohms * part.series_factor);
        if let Some(ohms) = part.leakage_ohms {
            self.resistor(inner, part.ends[1], ohms);
        }
        self.capacitor(inner, part.ends[1], part.farads * part.farads_left);
    }

    /// Its row is that of its flux: v − R i − L di/dt = 0.
    fn coil(&mut self, ends: [NodeId; 2], henries: f64, ohms: f64) {
        let row = self.branch;
        self.branch += 1;
        let amps = self.x[row];
        for (end, sign) in ends.into_iter().zip([1.0, -1.0]) {
            self.leave(end.0, sign * amps);
            self.leave(row, sign * self.at(end));
        }
        self.leave(row, -ohms * amps);
        self.coulombs[row] -= henries * amps;
        self.heat_w += ohms * amps * amps;
        self.stored_j += henries * amps * amps / 2.0;
    }

    fn diode(&mut self, anode: NodeId, cathode: NodeId, model: &DiodeModel) {
        let anode = self.behind(anode, model.series_ohms);
        let scale = model.emission * model.thermal_volts;
        let volts = self.between(anode, cathode);
        self.flow(anode, cathode, shockley(model.saturation_current, scale, volts).0);
        if let Some(breakdown) = &model.breakdown {
            let back = |volts: f64| {
                let turns = (-volts - breakdown.volts) / breakdown.slope_volts;
                breakdown.amps * math::exp(turns)
            };
            self.flow(cathode, anode, back(volts) - back(0.0));
        }
        self.charge(anode, cathode, Charge::depletion(&model.junction, volts));
        let under_way =
            Charge::diffusion(model.transit_time, model.saturation_current, scale, volts);
        self.charge(anode, cathode, under_way);
    }

    fn transistor(&mut self, [collector, base, emitter]: [NodeId; 3], model: &TransistorModel) {
        let collector = self.behind(collector, model.collector_ohms);
        let base = self.behind(base, model.base_ohms);
        let emitter = self.behind(emitter, model.emitter_ohms);
        let (thermal, saturation) = (model.thermal_volts, model.saturation_current);
        let sign = if model.polarity == Polarity::Npn { 1.0 } else { -1.0 };
        let be = sign * self.between(base, emitter);
        let bc = sign * self.between(base, collector);
        let (forward, reverse) =
            (shockley(saturation, thermal, be).0, shockley(saturation, thermal, bc).0);
        self.flow(base, emitter, sign * forward / model.forward_gain);
        self.flow(base, collector, sign * reverse / model.reverse_gain);
        let leak_v = model.leakage_emission * thermal;
        self.flow(base, emitter, sign * shockley(model.base_leakage, leak_v, be).0);
        let crowd = 0.5 + 0.5 * (1.0 + 4.0 * forward / model.knee_amps).sqrt();
        let share = (1.0 - bc / model.early_volts) / crowd;
        self.flow(collector, emitter, sign * share * forward);
        self.flow(emitter, collector, sign * share * reverse);
        let sides = [
            (emitter, be, &model.base_emitter, model.forward_transit_time),
            (collector, bc, &model.base_collector, model.reverse_transit_time),
        ];
        for (end, volts, junction, transit) in sides {
            // A PNP's charges lie the other way round.
            let ends = if sign > 0.0 { [base, end] } else { [end, base] };
            self.charge(ends[0], ends[1], Charge::depletion(junction, volts));
            let under_way = Charge::diffusion(transit, saturation, thermal, volts);
            self.charge(ends[0], ends[1], under_way);
        }
    }

    fn field_effect(&mut self, [drain, gate, source]: [NodeId; 3], model: &FieldEffectModel) {
        self.resistor(drain, source, model.off_ohms);
        let n = model.channel == Channel::N;
        let sign = if n { 1.0 } else { -1.0 };
        // The end that carriers set out from is the lower one of an N channel.
        let drop = sign * self.between(drain, source);
        let start = if drop < 0.0 { drain } else { source };
        let drive = sign * self.between(gate, start) - model.threshold;
        self.flow(drain, source, sign * model.k * square_law(drop, drive));
        let junctions = match &model.gate {
            FieldGate::Junction(junction) => {
                vec![(gate, source, junction), (gate, drain, junction)]
            }
            FieldGate::Insulated { source_farads, drain_farads, body } => {
                self.capacitor(gate, source, *source_farads);
                self.capacitor(gate, drain, *drain_farads);
                vec![(source, drain, body)]
            }
        };
        for (p, n_side, junction) in junctions {
            let [anode, cathode] = if n { [p, n_side] } else { [n_side, p] };
            self.clamp(anode, cathode, junction);
        }
    }

    /// A diode whose series resistance is not used.
    fn clamp(&mut self, anode: NodeId, cathode: NodeId, model: &DiodeModel) {
        self.diode(anode, cathode, &DiodeModel { series_ohms: 0.0, ..*model });
    }

    fn input(&mut self, node: NodeId, supply: NodeId, clamp: Option<&DiodeModel>) {
        if let Some(clamp) = clamp {
            self.clamp(GROUND, node, clamp);
            self.clamp(node, supply, clamp);
        }
    }

    fn gate(&mut self, gate: &Gate, shares: &[f64]) {
        for &input in &gate.inputs {
            self.capacitor(input, GROUND, gate.input_farads);
            self.input(input, gate.supply, gate.clamp.as_ref());
        }
        let (node, supply) = (self.at(gate.output), self.at(gate.supply));
        self.flow(gate.output, GROUND, LEAK_S * node);
        let low = channel(&gate.low, node, supply);
        self.flow(gate.output, GROUND, shares[0] * low);
        let high = channel(&gate.high, supply - node, supply);
        self.flow(gate.supply, gate.output, shares[1] * high);
    }

    fn switch(&mut self, part: &AnalogueSwitch, shares: &[f64]) {
        let [a, b] = part.ends;
        self.resistor(a, b, part.off_ohms);
        self.capacitor(a, b, part.between_farads);
        for end in part.ends {
            self.capacitor(end, GROUND, part.end_farads);
            self.input(end, part.supply, part.clamp.as_ref());
        }
        self.capacitor(part.control, GROUND, part.control_farads);
        self.input(part.control, part.supply, part.clamp.as_ref());
        let on_ohms = broken_line(&part.on_ohms, self.at(part.supply));
        self.flow(a, b, shares[1] * self.between(a, b) / on_ohms);
    }

    fn adapter(&mut self, part: &Adapter, shares: &[f64]) {
        let volts = part.volts + part.ripple_volts * 0.5 * (shares[1] - shares[0]);
        self.source([GROUND, part.node], volts, (volts - self.at(part.node)) / part.ohms);
    }

    fn regulator(&mut self, part: &Regulator) {
        const DIVIDER_OHMS: f64 = 10e3;
        let Regulator { input, output, common, .. } = *part;
        let (high, low) = (self.between(input, common), self.between(output, common));
        self.flow(input, output, regulated(part, high, low));
        self.resistor(output, common, DIVIDER_OHMS);
        let awake = high / (1.0 + high * high).sqrt();
        let quiet = (part.quiescent_amps - part.volts / DIVIDER_OHMS).max(0.0);
        self.flow(input, common, quiet * awake);
    }

    /// An end is the arriving wave behind Z and half the loss. What goes into the cable is lost to
    /// the rest of the board, and what comes out of it is gained; the wave's own row has no current.
    fn cable(&mut self, part: &Cable) {
        let nepers = part.decibels_per_metre * part.metres * std::f64::consts::LN_10 / 20.0;
        let ohms = part.impedance_ohms * (1.0 + nepers);
        for end in part.ends {
            let arriving = self.x[self.inside];
            self.inside += 1;
            self.flow(end, GROUND, (self.at(end) - arriving) / ohms);
        }
    }

    /// The row of the voltage inside is y − limit(...) + dy/dt / (2π f) = 0, and no current.
    fn video_driver(&mut self, part: &VideoDriver) {
        const WIDTH_V: f64 = 0.02;
        let row = self.inside;
        self.inside += 1;
        let inner = self.x[row];
        let wanted = part.gain * self.at(part.input) + part.offset_volts;
        let above = part.lowest_volts + above_zero(wanted - part.lowest_volts, WIDTH_V);
        let most = above_zero(self.at(part.supply) - part.headroom_volts, WIDTH_V);
        let limited = most - above_zero(most - above, WIDTH_V);
        self.leave(row, inner);
        self.leave(row, -limited);
        self.coulombs[row] += inner / (std::f64::consts::TAU * part.pole_hertz);
        let amps = (inner - self.at(part.output)) / part.ohms;
        let out_of_supply = (amps + (amps * amps + 1e-8).sqrt()) / 2.0;
        let quiet = drawn(part.quiescent_amps, self.at(part.supply));
        self.flow(part.supply, GROUND, quiet + out_of_supply);
        self.flow(GROUND, part.output, amps);
        self.resistor(part.input, GROUND, part.input_ohms);
    }

    fn pin(&mut self, pin: &Pin, shares: &[f64]) {
        self.capacitor(pin.node, GROUND, pin.farads);
        let (node, supply) = (self.at(pin.node), self.at(pin.supply));
        for (stage, share) in pin.levels.iter().zip(shares).filter(|(_, share)| **share != 0.0) {
            match *stage {
                PinStage::Linear { offset, share: of_supply, ohms } => {
                    let back = if of_supply > 0.0 { pin.supply } else { GROUND };
                    let open = open_volts(offset, of_supply, supply);
                    let amps = share * (open - node) / ohms;
                    self.source([back, pin.node], open - self.at(back), amps);
                }
                PinStage::PullUp { k, threshold } => {
                    let drive = (supply - threshold - node).max(0.0);
                    self.flow(pin.supply, pin.node, share * k / 2.0 * drive * drive);
                }
                PinStage::PullDown { k, threshold } => {
                    let amps = k * square_law(node, supply - threshold);
                    self.flow(pin.node, GROUND, share * amps);
                }
                PinStage::Off { ohms } => self.flow(pin.node, GROUND, share * node / ohms),
            }
            if leaks(stage) {
                self.flow(pin.node, GROUND, share * LEAK_S * node);
            }
        }
    }

    /// How far the input lies above the gate's threshold, V.
    pub(crate) fn margin(gate: &Gate, input: usize, volts: &[f64]) -> f64 {
        volts[gate.inputs[input].0] - gate.threshold.typical(volts[gate.supply.0])
    }
}

/// What a chip or a driver takes from its rail: it fades over the last three quarters of a volt.
fn drawn(amps: f64, volts: f64) -> f64 {
    let share = volts / 0.75;
    let missing = 1.0 - share.clamp(0.0, 1.0);
    amps * if share < 0.0 { 3.0 * share } else { 1.0 - missing * missing * missing }
}
