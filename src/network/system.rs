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

use crate::network::bipolar::TransistorModel;
use crate::network::circuit::Circuit;
use crate::network::circuit::Gate;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::device::DiodeModel;
use crate::network::evaluation::Evaluation;
use crate::network::evaluation::Mix;
use crate::network::evaluation::Unknown;
use crate::network::evaluation::Weights;
use crate::network::evaluation::add_to;
use crate::network::evaluation::at;
use crate::network::junctions::Junctions;
use crate::network::semiconductor::Semiconductor;
use crate::network::stage::Stage;

/// A chip pin or a gate output: a node pushed by a mixture of stages.
#[derive(Debug)]
pub(crate) struct Driver {
    pub(crate) node: Unknown,
    pub(crate) supply: Unknown,
    pub(crate) stages: Vec<Stage>,
}

impl Driver {
    /// Adds the currents of its present mixture of states.
    fn evaluate(&self, weights: &Weights, x: &[f64], out: &mut Evaluation) {
        let (node, supply) = (at(x, self.node), at(x, self.supply));
        for (stage, &weight) in
            self.stages.iter().zip(weights).filter(|(_, weight)| **weight != 0.0)
        {
            let load = stage.load(node, supply);
            let (amps, per_node, per_supply) =
                (weight * load.amps, weight * load.per_node, weight * load.per_supply);
            out.add_current(self.node, amps);
            out.add_slope(self.node, self.node, per_node, 0.0);
            out.add_slope(self.node, self.supply, per_supply, 0.0);
            if stage.returns_to_supply() {
                out.add_current(self.supply, -amps);
                out.add_slope(self.supply, self.node, -per_node, 0.0);
                out.add_slope(self.supply, self.supply, -per_supply, 0.0);
            }
        }
    }
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

/// The equations of one board.
#[derive(Debug)]
pub(crate) struct System {
    /// Number of unknowns.
    pub(crate) order: usize,
    /// Number of those that are node voltages; they come first, the circuit's own before those
    /// inside parts.
    pub(crate) nodes: usize,
    /// The next unknown inside a part.
    inside: usize,
    linear: Vec<Entry>,
    source: Vec<f64>,
    semiconductors: Vec<Semiconductor>,
    /// Drivers: the chip's pins in the circuit's order, then the gates.
    pub(crate) drivers: Vec<Driver>,
    /// Gates.
    pub(crate) gates: Vec<Logical>,
    /// Number of chip pins.
    pub(crate) pins: usize,
}

impl System {
    /// The equations of a circuit.
    pub(crate) fn new(circuit: &Circuit) -> Self {
        let outside = circuit.nodes.len() - 1;
        let nodes = outside + circuit.parts.iter().map(|part| inside(part).len()).sum::<usize>();
        let branches = circuit.parts.iter().filter(|part| has_branch(&part.kind)).count();
        let order = nodes + branches;
        let mut system = Self {
            order,
            nodes,
            inside: outside,
            linear: Vec::new(),
            source: vec![0.0; order],
            semiconductors: Vec::new(),
            drivers: Vec::new(),
            gates: Vec::new(),
            pins: 0,
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
                self.add_diode([unknown(*anode), unknown(*cathode)], *model);
            }
            PartKind::Transistor { collector, base, emitter, model } => {
                self.add_transistor([*collector, *base, *emitter], model);
            }
            PartKind::Gate(gate) => self.add_gate(part, gate),
            PartKind::Pin(_) => {}
        }
    }

    fn add_diode(&mut self, [anode, cathode]: [Unknown; 2], model: DiodeModel) {
        let junction = self.behind(anode, model.series_ohms);
        self.semiconductors.push(Semiconductor::diode([junction, cathode], model));
    }

    /// By collector, base and emitter.
    fn add_transistor(&mut self, terminals: [NodeId; 3], model: &TransistorModel) {
        let [collector, base, emitter] = terminals.map(unknown);
        let inner = [
            self.behind(collector, model.collector_ohms),
            self.behind(base, model.base_ohms),
            self.behind(emitter, model.emitter_ohms),
        ];
        self.semiconductors.push(Semiconductor::transistor(inner, *model));
    }

    /// The node inside a part behind a resistance at its terminal: the terminal itself if there is
    /// none.
    fn behind(&mut self, terminal: Unknown, ohms: f64) -> Unknown {
        if ohms <= 0.0 {
            return terminal;
        }
        let inner = Some(take(&mut self.inside));
        self.stamp([terminal, inner], 1.0 / ohms, 0.0);
        inner
    }

    fn add_gate(&mut self, part: PartId, gate: &Gate) {
        let supply = unknown(gate.supply);
        let inputs: Vec<Unknown> = gate.inputs.iter().copied().map(unknown).collect();
        for &input in &inputs {
            self.add_shunt_capacitor(input, gate.input_farads);
            if let Some(model) = gate.clamp {
                self.semiconductors.push(Semiconductor::diode([None, input], model));
                self.semiconductors.push(Semiconductor::diode([input, supply], model));
            }
        }
        let stages = vec![Stage::GateLow(gate.low.clone()), Stage::GateHigh(gate.high.clone())];
        let driver = self.drivers.len();
        self.drivers.push(Driver { node: unknown(gate.output), supply, stages });
        self.gates.push(Logical { part, gate: gate.clone(), inputs, supply, driver });
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

    /// Sets the junction voltages as they stand in `x`, to start an approach from.
    pub(crate) fn start_junctions(&self, x: &[f64], junctions: &mut Junctions) {
        let all = self.semiconductors.iter().flat_map(|part| part.junction_volts(x));
        junctions.start_from(all.flatten());
    }

    /// Evaluates currents and charges at `x`, and the mixed matrix if a mix is given.
    pub(crate) fn evaluate(
        &self,
        (x, weights): (&[f64], &[Weights]),
        mix: Option<Mix>,
        junctions: &mut Junctions,
        out: &mut Evaluation,
    ) {
        out.begin(&self.source, mix);
        for entry in &self.linear {
            let volts = x[entry.column];
            out.f[entry.row] += entry.siemens * volts;
            out.q[entry.row] += entry.farads * volts;
            out.add_slope(Some(entry.row), Some(entry.column), entry.siemens, entry.farads);
        }
        for (driver, weights) in self.drivers.iter().zip(weights) {
            driver.evaluate(weights, x, out);
        }
        junctions.rewind();
        for part in &self.semiconductors {
            part.evaluate(x, junctions, out);
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

/// The unknown of a node's voltage.
pub(crate) fn unknown(node: NodeId) -> Unknown {
    node.0.checked_sub(1)
}

/// Names of the nodes inside a part, in the order in which [`System::new`] takes them.
pub(crate) fn inside(part: &Part) -> Vec<String> {
    let name = &part.name;
    let behind = |(ohms, terminal): (f64, &str)| {
        (ohms > 0.0).then(|| format!("inside `{name}`, behind its {terminal}"))
    };
    match &part.kind {
        PartKind::Diode { model, .. } => behind((model.series_ohms, "anode")).into_iter().collect(),
        PartKind::Transistor { model, .. } => [
            (model.collector_ohms, "collector"),
            (model.base_ohms, "base"),
            (model.emitter_ohms, "emitter"),
        ]
        .into_iter()
        .filter_map(behind)
        .collect(),
        _ => Vec::new(),
    }
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
