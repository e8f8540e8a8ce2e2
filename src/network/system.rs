//! The board as equations: dq(x)/dt + f(x) = 0.
//!
//! Unknowns `x` are the node voltages (ground left out) and the currents of ideal sources and
//! inductors. A node's row says that the currents leaving it, resistive `f` and capacitive `dq/dt`,
//! add to nothing (Kirchhoff); a source's or inductor's row is its own equation. Charge is kept as
//! charge, so that it is conserved whatever the step.
//!
//! # Source
//!
//! C.-W. Ho, A. E. Ruehli and P. A. Brennan, "The modified nodal approach to network analysis",
//! IEEE Trans. Circuits and Systems 22 (1975); in charge form as in texts on circuit equations.

use crate::network::circuit::Circuit;
use crate::network::circuit::Gate;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::device::DiodeModel;
use crate::network::device::Sloped;
use crate::network::device::THERMAL_VOLTS;
use crate::network::device::TransistorModel;
use crate::network::device::junction_knee;
use crate::network::matrix::Matrix;
use crate::network::stage::Stage;

/// Row or column of an unknown; `None` is ground.
pub(crate) type Unknown = Option<usize>;

/// Most states a driver can have; a combined pin has five.
pub(crate) const MAX_STATES: usize = 8;

/// Share of each state in a driver's present output; they add to 1.
pub(crate) type Weights = [f64; MAX_STATES];

/// All weight on one state.
pub(crate) fn all_on(state: usize) -> Weights {
    let mut weights = [0.0; MAX_STATES];
    weights[state] = 1.0;
    weights
}

/// A chip pin or a gate output: a node pushed by a mixture of stages.
#[derive(Debug)]
pub(crate) struct Driver {
    pub(crate) node: Unknown,
    pub(crate) supply: Unknown,
    pub(crate) stages: Vec<Stage>,
}

/// A gate's logic: which inputs it watches, and the driver it sets.
#[derive(Debug)]
pub(crate) struct Logical {
    pub(crate) part: PartId,
    pub(crate) gate: Gate,
    pub(crate) inputs: Vec<Unknown>,
    pub(crate) supply: Unknown,
    pub(crate) driver: usize,
}

impl Logical {
    /// How far input `input` lies above its switching level, V.
    pub(crate) fn margin(&self, x: &[f64], input: usize) -> f64 {
        at(x, self.inputs[input]) - self.gate.threshold.typical(at(x, self.supply))
    }
}

/// One entry of the linear part of the equations.
#[derive(Clone, Copy, Debug)]
struct Entry {
    row: usize,
    column: usize,
    siemens: f64,
    farads: f64,
}

#[derive(Debug)]
enum Device {
    Diode {
        anode: Unknown,
        cathode: Unknown,
        model: DiodeModel,
        turn: Turn,
    },
    Transistor {
        collector: Unknown,
        base: Unknown,
        emitter: Unknown,
        model: TransistorModel,
        turn: Turn,
    },
}

/// The equations of one board.
#[derive(Debug)]
pub(crate) struct System {
    /// Number of unknowns.
    pub(crate) order: usize,
    /// Number of those that are node voltages; they come first.
    pub(crate) nodes: usize,
    linear: Vec<Entry>,
    source: Vec<f64>,
    devices: Vec<Device>,
    /// Drivers: the chip's pins in the circuit's order, then the gates.
    pub(crate) drivers: Vec<Driver>,
    /// Gates.
    pub(crate) gates: Vec<Logical>,
    /// Number of chip pins.
    pub(crate) pins: usize,
    /// Number of junctions of the devices.
    junctions: usize,
}

/// The equations evaluated at one point.
#[derive(Clone, Debug)]
pub(crate) struct Evaluation {
    /// Currents leaving, by row.
    pub(crate) f: Vec<f64>,
    /// Charge, by row.
    pub(crate) q: Vec<f64>,
    /// `charge_weight` dq/dx + `current_weight` df/dx.
    pub(crate) jacobian: Matrix,
    /// Whether a junction was evaluated short of the voltage asked for.
    pub(crate) limited: bool,
}

/// What to evaluate.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Mix {
    /// Weight of dq/dx in the matrix.
    pub(crate) charge: f64,
    /// Weight of df/dx.
    pub(crate) current: f64,
}

/// Voltage of an unknown; ground is 0.
pub(crate) fn at(x: &[f64], unknown: Unknown) -> f64 {
    unknown.map_or(0.0, |index| x[index])
}

fn add_to(rows: &mut [f64], unknown: Unknown, value: f64) {
    if let Some(row) = unknown {
        rows[row] += value;
    }
}

impl Evaluation {
    pub(crate) fn new(order: usize) -> Self {
        Self {
            f: vec![0.0; order],
            q: vec![0.0; order],
            jacobian: Matrix::new(order),
            limited: false,
        }
    }

    fn add_current(&mut self, row: Unknown, amps: f64) {
        add_to(&mut self.f, row, amps);
    }

    fn add_slope(&mut self, row: Unknown, column: Unknown, value: f64) {
        if let (Some(row), Some(column)) = (row, column) {
            self.jacobian.add(row, column, value);
        }
    }

    /// A conductance-like term between `plus` and `minus`, controlled by the voltage between them.
    fn add_branch(&mut self, plus: Unknown, minus: Unknown, current: f64, charge: f64) {
        self.add_current(plus, current);
        self.add_current(minus, -current);
        add_to(&mut self.q, plus, charge);
        add_to(&mut self.q, minus, -charge);
    }

    fn add_branch_slope(&mut self, plus: Unknown, minus: Unknown, slope: f64) {
        self.add_slope(plus, plus, slope);
        self.add_slope(minus, minus, slope);
        self.add_slope(plus, minus, -slope);
        self.add_slope(minus, plus, -slope);
    }
}

/// The junction voltages of the last evaluation, from which the next may move only so far.
#[derive(Clone, Debug, Default)]
pub(crate) struct Junctions {
    volts: Vec<f64>,
}

/// Where and how steeply a junction turns on.
#[derive(Clone, Copy, Debug)]
struct Turn {
    /// See [`junction_knee`], V.
    knee: f64,
    /// Scale of the exponential, V.
    vt: f64,
}

impl Turn {
    fn of(saturation_current: f64, vt: f64) -> Self {
        Self { knee: junction_knee(saturation_current, vt), vt }
    }
}

impl Junctions {
    /// A junction's voltage moved towards `asked`, no further than Newton's method can be trusted
    /// with an exponential: above the knee it may go up by the logarithm of what is asked for.
    fn approach(&mut self, slot: usize, asked: f64, turn: Turn) -> (f64, bool) {
        let last = self.volts[slot];
        let Turn { knee, vt } = turn;
        let volts = if asked > knee && (asked - last).abs() > 2.0 * vt {
            if last > knee - 2.0 * vt {
                let ahead = (asked - last) / vt;
                if ahead > 0.0 {
                    last + vt * (1.0 + crate::base::math::ln(ahead))
                } else {
                    last - vt * (1.0 + crate::base::math::ln(-ahead))
                }
            } else {
                knee
            }
        } else {
            asked
        };
        self.volts[slot] = volts;
        (volts, (volts - asked).abs() > 1e-12)
    }
}

impl System {
    /// The equations of a circuit.
    pub(crate) fn new(circuit: &Circuit) -> Self {
        let nodes = circuit.nodes.len() - 1;
        let branches = circuit.parts.iter().filter(|part| has_branch(&part.kind)).count();
        let order = nodes + branches;
        let mut system = Self {
            order,
            nodes,
            linear: Vec::new(),
            source: vec![0.0; order],
            devices: Vec::new(),
            drivers: Vec::new(),
            gates: Vec::new(),
            pins: 0,
            junctions: 0,
        };
        for (_, pin) in circuit.pins() {
            system.add_shunt_capacitor(unknown(pin.node), pin.farads);
            let stages = pin.levels.iter().copied().map(Stage::Pin).collect();
            let (node, supply) = (unknown(pin.node), unknown(pin.supply));
            system.drivers.push(Driver { node, supply, stages });
        }
        system.pins = system.drivers.len();
        let mut branch = nodes;
        for (index, part) in circuit.parts.iter().enumerate() {
            system.add_part(PartId(index), &part.kind, &mut branch);
        }
        system.junctions = system.devices.iter().map(Device::junctions).sum();
        system
    }

    fn add_part(&mut self, part: PartId, kind: &PartKind, branch: &mut usize) {
        match kind {
            PartKind::Resistor { ends, ohms } => self.add_resistor(*ends, *ohms),
            PartKind::Trimmer { ends, wiper, ohms, position } => {
                // A wiper at the end of its track still has the contact's own fraction of an ohm.
                let share = |share: f64| (share * ohms).max(0.1);
                self.add_resistor([ends[0], *wiper], share(*position));
                self.add_resistor([*wiper, ends[1]], share(1.0 - position));
            }
            PartKind::Capacitor { ends, farads } => {
                self.stamp(ends.map(unknown), 0.0, *farads);
            }
            PartKind::Inductor { ends, henries, ohms } => {
                let row = take(branch);
                self.add_series_branch(row, ends.map(unknown));
                self.enter(row, row, -ohms, -henries);
            }
            PartKind::Supply { node, volts, ohms } if *ohms > 0.0 => {
                self.add_resistor([*node, NodeId::GROUND], *ohms);
                add_to(&mut self.source, unknown(*node), -volts / ohms);
            }
            PartKind::Supply { node, volts, .. } => {
                let row = take(branch);
                self.add_series_branch(row, [unknown(*node), None]);
                self.source[row] -= volts;
            }
            PartKind::Draw { node, amps } => add_to(&mut self.source, unknown(*node), *amps),
            PartKind::Diode { anode, cathode, model } => {
                let (anode, cathode) = (unknown(*anode), unknown(*cathode));
                self.add_diode(anode, cathode, *model);
            }
            PartKind::Transistor { collector, base, emitter, model } => {
                self.devices.push(Device::Transistor {
                    collector: unknown(*collector),
                    base: unknown(*base),
                    emitter: unknown(*emitter),
                    model: *model,
                    turn: Turn::of(model.saturation_current, THERMAL_VOLTS),
                });
            }
            PartKind::Gate(gate) => self.add_gate(part, gate),
            PartKind::Pin(_) => {}
        }
    }

    fn add_gate(&mut self, part: PartId, gate: &Gate) {
        let supply = unknown(gate.supply);
        let inputs: Vec<Unknown> = gate.inputs.iter().copied().map(unknown).collect();
        for &input in &inputs {
            self.add_shunt_capacitor(input, gate.input_farads);
            if let Some(model) = gate.clamp {
                self.add_diode(None, input, model);
                self.add_diode(input, supply, model);
            }
        }
        let stages = vec![Stage::GateLow(gate.low.clone()), Stage::GateHigh(gate.high.clone())];
        let driver = self.drivers.len();
        self.drivers.push(Driver { node: unknown(gate.output), supply, stages });
        self.gates.push(Logical { part, gate: gate.clone(), inputs, supply, driver });
    }

    fn add_diode(&mut self, anode: Unknown, cathode: Unknown, model: DiodeModel) {
        let turn = Turn::of(model.saturation_current, model.vt());
        self.devices.push(Device::Diode { anode, cathode, model, turn });
    }

    fn add_resistor(&mut self, ends: [NodeId; 2], ohms: f64) {
        self.stamp(ends.map(unknown), 1.0 / ohms, 0.0);
    }

    fn add_shunt_capacitor(&mut self, node: Unknown, farads: f64) {
        self.stamp([node, None], 0.0, farads);
    }

    /// Adds to one entry of the linear part.
    fn enter(&mut self, row: usize, column: usize, siemens: f64, farads: f64) {
        let known = self.linear.iter_mut().find(|entry| entry.row == row && entry.column == column);
        match known {
            Some(entry) => {
                entry.siemens += siemens;
                entry.farads += farads;
            }
            None => self.linear.push(Entry { row, column, siemens, farads }),
        }
    }

    /// A two-terminal linear part.
    fn stamp(&mut self, ends: [Unknown; 2], siemens: f64, farads: f64) {
        for (row, row_sign) in ends.into_iter().zip([1.0, -1.0]) {
            for (column, column_sign) in ends.into_iter().zip([1.0, -1.0]) {
                if let (Some(row), Some(column)) = (row, column) {
                    let sign = row_sign * column_sign;
                    self.enter(row, column, sign * siemens, sign * farads);
                }
            }
        }
    }

    /// A branch whose current is the unknown `row`: it leaves the first end, enters the second, and
    /// the row itself holds the voltage between them.
    fn add_series_branch(&mut self, row: usize, ends: [Unknown; 2]) {
        for (end, sign) in ends.into_iter().zip([1.0, -1.0]) {
            if let Some(node) = end {
                self.enter(node, row, sign, 0.0);
                self.enter(row, node, sign, 0.0);
            }
        }
    }

    /// Ties two unknowns by a source of `volts` behind a milliohm: a large capacitor that has no
    /// time to change its charge.
    pub(crate) fn hold(&mut self, ends: [NodeId; 2], volts: f64) {
        const SIEMENS: f64 = 1e3;
        let ends = ends.map(unknown);
        self.stamp(ends, SIEMENS, 0.0);
        add_to(&mut self.source, ends[0], -SIEMENS * volts);
        add_to(&mut self.source, ends[1], SIEMENS * volts);
    }

    /// Junction voltages as they stand in `x`, to start an approach from.
    pub(crate) fn junctions(&self, x: &[f64]) -> Junctions {
        let mut junctions = Junctions::default();
        self.set_junctions(x, &mut junctions);
        junctions
    }

    /// The same, into a place that exists.
    pub(crate) fn set_junctions(&self, x: &[f64], junctions: &mut Junctions) {
        junctions.volts.clear();
        for device in &self.devices {
            device.push_junction_volts(x, &mut junctions.volts);
        }
    }

    /// Junction voltages all at 0.
    pub(crate) fn cold_junctions(&self) -> Junctions {
        Junctions { volts: vec![0.0; self.junctions] }
    }

    /// Evaluates currents and charges at `x`, and the mixed matrix if a mix is given.
    pub(crate) fn evaluate(
        &self,
        x: &[f64],
        weights: &[Weights],
        mix: Option<Mix>,
        junctions: &mut Junctions,
        out: &mut Evaluation,
    ) {
        self.evaluate_linear(x, mix, out);
        for (driver, weights) in self.drivers.iter().zip(weights) {
            evaluate_driver(driver, weights, x, mix, out);
        }
        let mut slot = 0;
        out.limited = false;
        for device in &self.devices {
            device.evaluate(x, mix, junctions, slot, out);
            slot += device.junctions();
        }
    }

    fn evaluate_linear(&self, x: &[f64], mix: Option<Mix>, out: &mut Evaluation) {
        out.f.copy_from_slice(&self.source);
        out.q.fill(0.0);
        for entry in &self.linear {
            let volts = x[entry.column];
            out.f[entry.row] += entry.siemens * volts;
            out.q[entry.row] += entry.farads * volts;
        }
        if let Some(mix) = mix {
            out.jacobian.clear();
            for entry in &self.linear {
                let value = mix.current * entry.siemens + mix.charge * entry.farads;
                out.jacobian.add(entry.row, entry.column, value);
            }
        }
    }

    /// ∂f/∂t while drivers move between states at `rates` (weights per second).
    pub(crate) fn drift(&self, x: &[f64], rates: &[Weights], out: &mut [f64]) {
        out.fill(0.0);
        for (driver, rates) in self.drivers.iter().zip(rates) {
            let (node, supply) = (at(x, driver.node), at(x, driver.supply));
            for (stage, &rate) in driver.stages.iter().zip(rates).filter(|(_, rate)| **rate != 0.0)
            {
                let amps = rate * stage.load(node, supply).amps;
                add_to(out, driver.node, amps);
                if stage.returns_to_supply() {
                    add_to(out, driver.supply, -amps);
                }
            }
        }
    }
}

fn evaluate_driver(
    driver: &Driver,
    weights: &Weights,
    x: &[f64],
    mix: Option<Mix>,
    out: &mut Evaluation,
) {
    let (node, supply) = (at(x, driver.node), at(x, driver.supply));
    for (stage, &weight) in driver.stages.iter().zip(weights).filter(|(_, weight)| **weight != 0.0)
    {
        let load = stage.load(node, supply);
        let amps = weight * load.amps;
        out.add_current(driver.node, amps);
        let returns = stage.returns_to_supply();
        if returns {
            out.add_current(driver.supply, -amps);
        }
        let Some(mix) = mix else { continue };
        let per_node = weight * mix.current * load.per_node;
        let per_supply = weight * mix.current * load.per_supply;
        out.add_slope(driver.node, driver.node, per_node);
        out.add_slope(driver.node, driver.supply, per_supply);
        if returns {
            out.add_slope(driver.supply, driver.node, -per_node);
            out.add_slope(driver.supply, driver.supply, -per_supply);
        }
    }
}

/// A value and slope taken at `used`, carried along its tangent to `asked`.
fn extend(sloped: Sloped, used: f64, asked: f64) -> f64 {
    sloped.value + sloped.slope * (asked - used)
}

impl Device {
    fn junctions(&self) -> usize {
        match self {
            Self::Diode { .. } => 1,
            Self::Transistor { .. } => 2,
        }
    }

    fn push_junction_volts(&self, x: &[f64], volts: &mut Vec<f64>) {
        match self {
            Self::Diode { anode, cathode, .. } => volts.push(at(x, *anode) - at(x, *cathode)),
            Self::Transistor { collector, base, emitter, model, .. } => {
                let sign = model.polarity.sign();
                let base = at(x, *base);
                volts.push(sign * (base - at(x, *emitter)));
                volts.push(sign * (base - at(x, *collector)));
            }
        }
    }

    fn evaluate(
        &self,
        x: &[f64],
        mix: Option<Mix>,
        junctions: &mut Junctions,
        slot: usize,
        out: &mut Evaluation,
    ) {
        match self {
            Self::Diode { anode, cathode, model, turn } => {
                let asked = at(x, *anode) - at(x, *cathode);
                let (volts, short) = junctions.approach(slot, asked, *turn);
                out.limited |= short;
                let current = model.current(volts);
                let charge = model.charge(volts, current);
                out.add_branch(
                    *anode,
                    *cathode,
                    extend(current, volts, asked),
                    extend(charge, volts, asked),
                );
                if let Some(mix) = mix {
                    let slope = mix.current * current.slope + mix.charge * charge.slope;
                    out.add_branch_slope(*anode, *cathode, slope);
                }
            }
            Self::Transistor { collector, base, emitter, model, turn } => {
                let terminals = [*collector, *base, *emitter];
                let mut slots = Slots { junctions, slot, turn: *turn };
                evaluate_transistor(model, terminals, x, mix, &mut slots, out);
            }
        }
    }
}

/// Where a device's junction voltages are kept.
struct Slots<'a> {
    junctions: &'a mut Junctions,
    slot: usize,
    turn: Turn,
}

fn evaluate_transistor(
    model: &TransistorModel,
    [collector, base, emitter]: [Unknown; 3],
    x: &[f64],
    mix: Option<Mix>,
    slots: &mut Slots,
    out: &mut Evaluation,
) {
    let sign = model.polarity.sign();
    let asked_be = sign * (at(x, base) - at(x, emitter));
    let asked_bc = sign * (at(x, base) - at(x, collector));
    let (be, short_be) = slots.junctions.approach(slots.slot, asked_be, slots.turn);
    let (bc, short_bc) = slots.junctions.approach(slots.slot + 1, asked_bc, slots.turn);
    out.limited |= short_be || short_bc;
    let (forward, reverse) = (model.transport(be), model.transport(bc));
    let (forward_amps, reverse_amps) =
        (extend(forward, be, asked_be), extend(reverse, bc, asked_bc));

    // Between base and emitter and between base and collector: the base currents and the charges.
    let mut junction = |other, transport: Sloped, amps: f64, side: Side, used, asked| {
        let depletion = side.depletion.charge(used);
        let charge = side.transit_time * amps + extend(depletion, used, asked);
        out.add_branch(base, other, sign * amps / side.gain, sign * charge);
        if let Some(mix) = mix {
            let slope = mix.current * transport.slope / side.gain
                + mix.charge * (side.transit_time * transport.slope + depletion.slope);
            out.add_branch_slope(base, other, slope);
        }
    };
    junction(emitter, forward, forward_amps, Side::emitter(model), be, asked_be);
    junction(collector, reverse, reverse_amps, Side::collector(model), bc, asked_bc);

    // From collector to emitter: the transport current, controlled by both junctions.
    out.add_branch(collector, emitter, sign * (forward_amps - reverse_amps), 0.0);
    let Some(mix) = mix else { return };
    let (per_be, per_bc) = (mix.current * forward.slope, mix.current * reverse.slope);
    for (row, direction) in [(collector, 1.0), (emitter, -1.0)] {
        out.add_slope(row, base, direction * (per_be - per_bc));
        out.add_slope(row, emitter, -direction * per_be);
        out.add_slope(row, collector, direction * per_bc);
    }
}

/// One side of a transistor: its gain, its transit time and its depletion charge.
struct Side {
    gain: f64,
    transit_time: f64,
    depletion: crate::network::device::Junction,
}

impl Side {
    fn emitter(model: &TransistorModel) -> Self {
        Self {
            gain: model.forward_gain,
            transit_time: model.forward_transit_time,
            depletion: model.base_emitter,
        }
    }

    fn collector(model: &TransistorModel) -> Self {
        Self {
            gain: model.reverse_gain,
            transit_time: model.reverse_transit_time,
            depletion: model.base_collector,
        }
    }
}

/// The unknown of a node's voltage.
pub(crate) fn unknown(node: NodeId) -> Unknown {
    node.0.checked_sub(1)
}

fn has_branch(kind: &PartKind) -> bool {
    match kind {
        PartKind::Inductor { .. } => true,
        PartKind::Supply { ohms, .. } => *ohms <= 0.0,
        _ => false,
    }
}

fn take(branch: &mut usize) -> usize {
    *branch += 1;
    *branch - 1
}
