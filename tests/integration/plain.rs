//! A circuit's equations once more, written plainly: every part on its own, dense, from the
//! textbook laws and not from the product's, to hold its solutions against.
//!
//! What is taken over as given are the models themselves: that an output stage of transistors
//! leaks 1 nS to ground, and that a driver changes from state to state along a straight mixture of
//! both.

use backporch::base::math;
use backporch::network::bipolar::Polarity;
use backporch::network::bipolar::TransistorModel;
use backporch::network::circuit::Circuit;
use backporch::network::circuit::Gate;
use backporch::network::circuit::NodeId;
use backporch::network::circuit::PartKind;
use backporch::network::circuit::Pin;
use backporch::network::circuit::PinStage;
use backporch::network::device::DiodeModel;
use backporch::network::device::Junction;
use backporch::network::device::OutputCurve;

/// kT/q at 300 K, V.
const THERMAL_V: f64 = 0.025_851_999_786;
const LEAK_S: f64 = 1e-9;

/// Currents and capacitances at one set of node voltages.
pub(crate) struct Plain<'a> {
    volts: &'a [f64],
    /// Current that leaves each node, A.
    pub(crate) amps: Vec<f64>,
    /// Sum of the sizes of those currents, A: what a residual is measured by.
    pub(crate) size: Vec<f64>,
    /// Capacitances between pairs of nodes, F.
    pub(crate) farads: Vec<(usize, usize, f64)>,
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

impl<'a> Plain<'a> {
    /// With every node at `volts`, ground included; `mixture` holds the share of each state of the
    /// pins and gates, in the order of the parts; `coil_amps` the currents of the coils.
    pub(crate) fn new(
        circuit: &'a Circuit,
        volts: &'a [f64],
        mixture: &[Vec<f64>],
        coil_amps: &[f64],
    ) -> Self {
        let nodes = circuit.nodes.len();
        let (amps, size) = (vec![0.0; nodes], vec![0.0; nodes]);
        let mut plain = Self { volts, amps, size, farads: Vec::new() };
        let (mut mixture, mut coil_amps) = (mixture.iter(), coil_amps.iter());
        for part in &circuit.parts {
            match &part.kind {
                PartKind::Gate(gate) => plain.gate(gate, mixture.next().unwrap()),
                PartKind::Pin(pin) => plain.pin(pin, mixture.next().unwrap()),
                PartKind::Inductor { ends, .. } => {
                    plain.flow(ends[0], ends[1], *coil_amps.next().unwrap());
                }
                kind => plain.part(kind),
            }
        }
        plain
    }

    fn at(&self, node: NodeId) -> f64 {
        self.volts[node.0]
    }

    /// A current out of one node into another.
    fn flow(&mut self, from: NodeId, to: NodeId, amps: f64) {
        self.amps[from.0] += amps;
        self.amps[to.0] -= amps;
        self.size[from.0] += amps.abs();
        self.size[to.0] += amps.abs();
    }

    fn capacitor(&mut self, a: NodeId, b: NodeId, farads: f64) {
        self.farads.push((a.0, b.0, farads));
    }

    fn resistor(&mut self, a: NodeId, b: NodeId, ohms: f64) {
        self.flow(a, b, (self.at(a) - self.at(b)) / ohms);
    }

    fn part(&mut self, kind: &PartKind) {
        match kind {
            PartKind::Resistor { ends, ohms } => self.resistor(ends[0], ends[1], *ohms),
            PartKind::Trimmer { ends, wiper, ohms, position, .. } => {
                self.resistor(ends[0], *wiper, (ohms * position).max(0.1));
                self.resistor(*wiper, ends[1], (ohms * (1.0 - position)).max(0.1));
            }
            PartKind::Capacitor { ends, farads } => self.capacitor(ends[0], ends[1], *farads),
            PartKind::Diode { anode, cathode, model } => self.diode(*anode, *cathode, model),
            PartKind::Transistor { collector, base, emitter, model } => {
                self.transistor([*collector, *base, *emitter], model);
            }
            // An ideal one gives its node's voltage, not a current.
            PartKind::Supply { ohms, .. } if *ohms <= 0.0 => {}
            PartKind::Supply { node, volts, ohms } => {
                let amps = (self.at(*node) - volts) / ohms;
                self.flow(*node, NodeId::GROUND, amps);
            }
            other => panic!("no plain equation for {other:?}"),
        }
    }

    fn diode(&mut self, anode: NodeId, cathode: NodeId, model: &DiodeModel) {
        assert!(model.series_ohms <= 0.0 && model.breakdown.is_none(), "no plain equation");
        let scale = model.emission * THERMAL_V;
        let volts = self.at(anode) - self.at(cathode);
        let (amps, siemens) = shockley(model.saturation_current, scale, volts);
        self.flow(anode, cathode, amps);
        let farads = depletion(&model.junction, volts) + model.transit_time * siemens;
        self.capacitor(anode, cathode, farads);
    }

    fn transistor(&mut self, [collector, base, emitter]: [NodeId; 3], model: &TransistorModel) {
        let inner_ohms = model.base_ohms + model.collector_ohms + model.emitter_ohms;
        assert!(inner_ohms <= 0.0, "no plain equation");
        let sign = if model.polarity == Polarity::Npn { 1.0 } else { -1.0 };
        let be = sign * (self.at(base) - self.at(emitter));
        let bc = sign * (self.at(base) - self.at(collector));
        let (forward, forward_s) = shockley(model.saturation_current, THERMAL_V, be);
        let (reverse, reverse_s) = shockley(model.saturation_current, THERMAL_V, bc);
        self.flow(base, emitter, sign * forward / model.forward_gain);
        self.flow(base, collector, sign * reverse / model.reverse_gain);
        let leak_v = model.leakage_emission * THERMAL_V;
        self.flow(base, emitter, sign * shockley(model.base_leakage, leak_v, be).0);
        let crowd = 0.5 + 0.5 * (1.0 + 4.0 * forward / model.knee_amps).sqrt();
        let share = (1.0 - bc / model.early_volts) / crowd;
        self.flow(collector, emitter, sign * share * forward);
        self.flow(emitter, collector, sign * share * reverse);
        let be_f = depletion(&model.base_emitter, be) + model.forward_transit_time * forward_s;
        let bc_f = depletion(&model.base_collector, bc) + model.reverse_transit_time * reverse_s;
        self.capacitor(base, emitter, be_f);
        self.capacitor(base, collector, bc_f);
    }

    fn gate(&mut self, gate: &Gate, shares: &[f64]) {
        for &input in &gate.inputs {
            self.capacitor(input, NodeId::GROUND, gate.input_farads);
            if let Some(clamp) = &gate.clamp {
                self.diode(NodeId::GROUND, input, clamp);
                self.diode(input, gate.supply, clamp);
            }
        }
        let (node, supply) = (self.at(gate.output), self.at(gate.supply));
        self.flow(gate.output, NodeId::GROUND, LEAK_S * node);
        let low = channel(&gate.low, node, supply);
        self.flow(gate.output, NodeId::GROUND, shares[0] * low);
        let high = channel(&gate.high, supply - node, supply);
        self.flow(gate.supply, gate.output, shares[1] * high);
    }

    fn pin(&mut self, pin: &Pin, shares: &[f64]) {
        self.capacitor(pin.node, NodeId::GROUND, pin.farads);
        let (node, supply) = (self.at(pin.node), self.at(pin.supply));
        for (stage, share) in pin.levels.iter().zip(shares) {
            let (back, amps) = match *stage {
                PinStage::Linear { offset, share, ohms } => {
                    let back = if share > 0.0 { pin.supply } else { NodeId::GROUND };
                    (back, (node - offset - share * supply) / ohms)
                }
                PinStage::PullUp { k, threshold } => {
                    let drive = (supply - threshold - node).max(0.0);
                    (pin.supply, -k / 2.0 * drive * drive)
                }
                PinStage::PullDown { k, threshold } => {
                    (NodeId::GROUND, k * square_law(node, supply - threshold))
                }
                PinStage::Off { ohms } => (NodeId::GROUND, node / ohms),
            };
            if matches!(stage, PinStage::PullUp { .. } | PinStage::PullDown { .. }) {
                self.flow(pin.node, NodeId::GROUND, share * LEAK_S * node);
            }
            self.flow(pin.node, back, share * amps);
        }
    }

    /// How far the input lies above the gate's threshold, V.
    pub(crate) fn margin(gate: &Gate, input: usize, volts: &[f64]) -> f64 {
        volts[gate.inputs[input].0] - gate.threshold.typical(volts[gate.supply.0])
    }
}

/// Current and conductance of a junction.
fn shockley(saturation: f64, scale: f64, volts: f64) -> (f64, f64) {
    let power = math::exp(volts / scale);
    (saturation * math::expm1(volts / scale), saturation * power / scale)
}

/// Capacitance of a graded junction; from half its potential on along its tangent, F.
fn depletion(junction: &Junction, volts: f64) -> f64 {
    if junction.farads <= 0.0 {
        return 0.0;
    }
    let Junction { farads, potential, grading } = *junction;
    let half = potential / 2.0;
    if volts <= half {
        return farads * math::pow(1.0 - volts / potential, -grading);
    }
    let at_half = farads * math::pow(2.0, grading);
    at_half * (1.0 + 2.0 * grading / potential * (volts - half))
}

/// Channel current for 1 A/V², odd about 0.
fn square_law(drop: f64, drive: f64) -> f64 {
    if drive <= 0.0 {
        0.0
    } else if drop < 0.0 {
        -square_law(-drop, drive)
    } else if drop < drive {
        drop * drive - drop * drop / 2.0
    } else {
        drive * drive / 2.0
    }
}

fn channel(curve: &OutputCurve, drop: f64, supply: f64) -> f64 {
    match curve {
        OutputCurve::Resistance(ohms) => drop / ohms,
        OutputCurve::Saturating { threshold, k } => {
            broken_line(k, supply) * square_law(drop, supply - threshold)
        }
    }
}

/// The line through the points, held at its ends.
pub(crate) fn broken_line(points: &[(f64, f64)], x: f64) -> f64 {
    for pair in points.windows(2) {
        let [(x0, y0), (x1, y1)] = [pair[0], pair[1]];
        if (x0..x1).contains(&x) {
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0);
        }
    }
    let end = if x < points[0].0 { points[0] } else { points[points.len() - 1] };
    end.1
}
