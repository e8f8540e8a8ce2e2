//! The board as equations: dq(x)/dt + f(x) = 0.
//!
//! Unknowns `x` are the node voltages (ground left out), those inside parts, and the currents of
//! ideal sources and inductors. A node's row says that the currents leaving it, resistive `f` and
//! capacitive `dq/dt`, add to nothing (Kirchhoff); a source's or inductor's row is its own equation.
//! The charge of curved parts is kept as charge, so that it is conserved whatever the step; that of
//! capacitors is C times a rate of voltage.
//!
//! # Source
//!
//! C.-W. Ho, A. E. Ruehli and P. A. Brennan, "The modified nodal approach to network analysis",
//! IEEE Trans. Circuits and Systems 22 (1975); in charge form as in texts on circuit equations.

use crate::network::amplifier::VideoDriver;
use crate::network::bipolar::TransistorModel;
use crate::network::cable::Line;
use crate::network::circuit::AnalogueSwitch;
use crate::network::circuit::Circuit;
use crate::network::circuit::Gate;
use crate::network::circuit::Logic;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::circuit::Pin;
use crate::network::circuit::PinStage;
use crate::network::device::DiodeModel;
use crate::network::device::OutputCurve;
use crate::network::device::consumption;
use crate::network::evaluation::Evaluation;
use crate::network::evaluation::Mix;
use crate::network::evaluation::Unknown;
use crate::network::evaluation::Weights;
use crate::network::evaluation::add_to;
use crate::network::evaluation::at;
use crate::network::field_effect::Channel;
use crate::network::field_effect::FieldEffectModel;
use crate::network::field_effect::FieldGate;
use crate::network::junctions::Junctions;
use crate::network::passive::OPEN_CONTACT_OHMS;
use crate::network::passive::RealCapacitor;
use crate::network::passive::contact_ohms;
use crate::network::passive::track_share;
use crate::network::regulator::Regulator;
use crate::network::ripple::Adapter;
use crate::network::ripple::Ripple;
use crate::network::schedule::Schedule;
use crate::network::schedule::Sounder;
use crate::network::semiconductor::Semiconductor;
use crate::network::stage::Stage;
use crate::network::stage::Straight;
use crate::network::switch::Switch;
use crate::network::unknowns::branches;
use crate::network::unknowns::inside;
use crate::network::unknowns::take;
use std::collections::BTreeSet;

/// A chip pin or a gate output: a node pushed by a mixture of stages.
#[derive(Debug)]
pub(crate) struct Driver {
    pub(crate) node: Unknown,
    pub(crate) supply: Unknown,
    pub(crate) stages: Vec<Stage>,
}

impl Driver {
    /// Its present mixture of states as a straight line; `None` if one of them is curved.
    pub(crate) fn straight(&self, weights: &Weights) -> Option<Straight> {
        let mut mixture = self.stages.iter().zip(weights).filter(|(_, weight)| **weight != 0.0);
        mixture.try_fold(Straight::NOTHING, |line, (stage, &weight)| line.with(stage, weight))
    }

    /// The resistance by which it holds its node in the worst of its states, its supply being held by so
    /// many ohms; infinity if it pushes nothing.
    pub(crate) fn held_ohms(&self, supply_ohms: f64) -> f64 {
        let stage = |stage: &Stage| {
            stage.held_ohms() + if stage.returns_to_supply() { supply_ohms } else { 0.0 }
        };
        self.stages.iter().map(stage).reduce(f64::max).unwrap_or(f64::INFINITY)
    }

    /// Adds the currents of its present mixture of states.
    fn evaluate(&self, weights: &Weights, x: &[f64], out: &mut Evaluation) {
        let (node, supply) = (at(x, self.node), at(x, self.supply));
        for (stage, &weight) in
            self.stages.iter().zip(weights).filter(|(_, weight)| **weight != 0.0)
        {
            let load = stage.load(node, supply);
            let (amps, per_node, per_supply) =
                (weight * load.amps, weight * load.per_node, weight * load.per_supply);
            let leakage = weight * stage.leakage_siemens();
            out.add_current(self.node, amps + leakage * node);
            out.add_slope(self.node, self.node, per_node + leakage, 0.0);
            out.add_slope(self.node, self.supply, per_supply, 0.0);
            if stage.returns_to_supply() {
                out.add_current(self.supply, -amps);
                out.add_slope(self.supply, self.node, -per_node, 0.0);
                out.add_slope(self.supply, self.supply, -per_supply, 0.0);
            }
        }
    }
}

/// Which drivers, chips and semiconductors are taken as they are; the others count as linear.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Curved {
    pub(crate) drivers: Vec<usize>,
    pub(crate) chips: Vec<usize>,
    pub(crate) semiconductors: Vec<usize>,
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
    /// The switching level at a supply, V; without supply no input counts as high.
    pub(crate) fn switching_volts(&self, supply: f64) -> f64 {
        const DEAD_VOLTS: f64 = 0.05;
        self.gate.threshold.typical(supply).max(DEAD_VOLTS)
    }

    /// How far input `input` lies above its switching level, V.
    pub(crate) fn margin(&self, x: &[f64], input: usize) -> f64 {
        at(x, self.inputs[input]) - self.switching_volts(at(x, self.supply))
    }
}

/// One entry of the linear part of the equations.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Entry {
    pub(crate) row: usize,
    pub(crate) column: usize,
    pub(crate) siemens: f64,
    pub(crate) farads: f64,
}

/// A capacitor of the board.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Store {
    pub(crate) ends: [Unknown; 2],
    pub(crate) farads: f64,
}

impl Store {
    /// Whether this is that capacitor, or one of the same size beside it.
    pub(crate) fn is(&self, other: &Self) -> bool {
        self.ends == other.ends && self.farads.total_cmp(&other.farads).is_eq()
    }

    /// The voltage across it.
    pub(crate) fn volts(&self, x: &[f64]) -> f64 {
        at(x, self.ends[0]) - at(x, self.ends[1])
    }
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
    pub(crate) linear: Vec<Entry>,
    pub(crate) source: Vec<f64>,
    pub(crate) semiconductors: Vec<Semiconductor>,
    /// The board's capacitors.
    pub(crate) stores: Vec<Store>,
    /// The unknowns that are currents of coils.
    pub(crate) coils: Vec<usize>,
    pub(crate) chips: Vec<(Unknown, f64)>,
    pub(crate) switches: Vec<Switch>,
    pub(crate) regulators: Vec<Regulator>,
    pub(crate) amplifiers: Vec<(VideoDriver, usize)>,
    /// Cables; their weights come after those of the drivers.
    pub(crate) cables: Vec<Line>,
    /// Drivers: the chip's pins in the circuit's order, then gates and analogue switches, then what
    /// turns by itself, then the adapters.
    pub(crate) drivers: Vec<Driver>,
    /// Gates, and the controls of analogue switches.
    pub(crate) gates: Vec<Logical>,
    /// Number of chip pins.
    pub(crate) pins: usize,
    /// What turns by itself, in the order of its drivers.
    pub(crate) timed: Vec<Schedule>,
    /// How each adapter sets out.
    pub(crate) ripples: Vec<Ripple>,
}

impl System {
    /// The equations of a circuit.
    pub(crate) fn new(circuit: &Circuit) -> Self {
        let outside = circuit.nodes.len() - 1;
        let nodes = outside + circuit.parts.iter().map(|part| inside(part).len()).sum::<usize>();
        let kinds = || circuit.parts.iter().map(|part| &part.kind);
        let order = nodes + kinds().map(branches).sum::<usize>();
        let mut system = Self::empty(order, nodes, outside);
        for (_, pin) in circuit.pins() {
            system.add_pin(pin);
        }
        system.pins = system.drivers.len();
        let mut branch = nodes;
        for (index, part) in circuit.parts.iter().enumerate() {
            system.add_part(PartId(index), &part.kind, &mut branch);
        }
        let mut contacts: Vec<Option<usize>> = Vec::new();
        for kind in kinds() {
            match kind {
                PartKind::Adapter(adapter) => contacts.push(system.add_contact(adapter)),
                PartKind::Sounder(sounder) => system.add_sounder(sounder),
                _ => {}
            }
        }
        let adapters = kinds().filter_map(|kind| match kind {
            PartKind::Adapter(adapter) => Some(adapter),
            _ => None,
        });
        for (adapter, contact) in adapters.zip(contacts) {
            system.add_adapter(adapter, contact);
        }
        system
    }

    /// No part yet, for so many unknowns of which so many are node voltages; those inside parts are
    /// counted from `inside` on.
    pub(crate) fn empty(order: usize, nodes: usize, inside: usize) -> Self {
        Self {
            order,
            nodes,
            inside,
            linear: Vec::new(),
            source: vec![0.0; order],
            semiconductors: Vec::new(),
            stores: Vec::new(),
            coils: Vec::new(),
            chips: Vec::new(),
            regulators: Vec::new(),
            amplifiers: Vec::new(),
            cables: Vec::new(),
            timed: Vec::new(),
            ripples: Vec::new(),
            switches: Vec::new(),
            drivers: Vec::new(),
            gates: Vec::new(),
            pins: 0,
        }
    }

    /// One part of a circuit alone, by the unknowns that it has in the whole.
    pub(crate) fn of_part(circuit: &Circuit, part: PartId) -> Self {
        let (before, own) = (&circuit.parts[..part.0], &circuit.parts[part.0]);
        let whole = |parts: &[Part]| {
            let inner: usize = parts.iter().map(|part| inside(part).len()).sum();
            (inner, parts.iter().map(|part| branches(&part.kind)).sum::<usize>())
        };
        let (inner, currents) = whole(&circuit.parts);
        let outside = circuit.nodes.len() - 1;
        let nodes = outside + inner;
        let (inner_before, currents_before) = whole(before);
        let mut system = Self::empty(nodes + currents, nodes, outside + inner_before);
        match &own.kind {
            PartKind::Pin(pin) => system.add_pin(pin),
            PartKind::Adapter(adapter) => system.add_adapter(adapter, None),
            PartKind::Sounder(sounder) => system.add_sounder(sounder),
            kind => system.add_part(part, kind, &mut (nodes + currents_before)),
        }
        system
    }

    fn add_pin(&mut self, pin: &Pin) {
        self.add_shunt_capacitor(unknown(pin.node), pin.farads);
        let stages = pin.levels.iter().copied().map(Stage::Pin).collect();
        let (node, supply) = (unknown(pin.node), unknown(pin.supply));
        self.drivers.push(Driver { node, supply, stages });
    }

    fn add_part(&mut self, part: PartId, kind: &PartKind, branch: &mut usize) {
        match kind {
            PartKind::Resistor { ends, ohms } => self.add_resistor(*ends, *ohms),
            PartKind::Trimmer { ends, wiper, ohms, position, middle, contact_ohms } => {
                let track = self.behind(unknown(*wiper), *contact_ohms);
                // A wiper at the end of its track still has the contact's own fraction of an ohm.
                let siemens = |share: f64| 1.0 / (share * ohms).max(0.1);
                let share = track_share(*position, *middle);
                self.stamp([unknown(ends[0]), track], siemens(share), 0.0);
                self.stamp([track, unknown(ends[1])], siemens(1.0 - share), 0.0);
            }
            PartKind::Contact { ends, ohms, state } => {
                self.add_resistor(*ends, contact_ohms(*state, *ohms));
            }
            PartKind::Capacitor { ends, farads } => self.add_store(ends.map(unknown), *farads),
            PartKind::RealCapacitor(part) => self.add_real_capacitor(part),
            PartKind::Inductor { ends, henries, ohms } => {
                self.add_inductor(ends.map(unknown), *henries, *ohms, take(branch));
            }
            PartKind::LossyInductor { ends, henries, ohms, parallel_ohms } => {
                let [first, last] = ends.map(unknown);
                let inner = self.behind(first, *ohms);
                self.stamp([inner, last], 1.0 / parallel_ohms, 0.0);
                self.add_inductor([inner, last], *henries, 0.0, take(branch));
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
            PartKind::Consumption { node, amps } => self.chips.push((unknown(*node), *amps)),
            PartKind::Diode { anode, cathode, model } => {
                self.add_diode([unknown(*anode), unknown(*cathode)], *model);
            }
            PartKind::Transistor { collector, base, emitter, model } => {
                self.add_transistor([*collector, *base, *emitter], model);
            }
            PartKind::FieldEffect { drain, gate, source, model } => {
                self.add_field_effect([*drain, *gate, *source].map(unknown), model);
            }
            PartKind::Gate(gate) => self.add_gate(part, gate),
            PartKind::AnalogueSwitch(switch) => self.add_switch(part, switch),
            PartKind::Regulator(part) => self.regulators.push(part.as_ref().clone()),
            PartKind::Cable(part) => {
                let arriving = [take(&mut self.inside), take(&mut self.inside)];
                self.cables.push(Line::new(part, part.ends.map(unknown), arriving));
            }
            PartKind::VideoDriver(part) => {
                let inner = take(&mut self.inside);
                self.amplifiers.push((part.as_ref().clone(), inner));
            }
            PartKind::Pin(_) | PartKind::Adapter(_) | PartKind::Sounder(_) => {}
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

    /// By drain, gate and source.
    fn add_field_effect(&mut self, terminals: [Unknown; 3], model: &FieldEffectModel) {
        let [drain, gate, source] = terminals;
        self.stamp([drain, source], 1.0 / model.off_ohms, 0.0);
        self.semiconductors.push(Semiconductor::Channel { drain, gate, source, model: *model });
        // A P channel's junctions point the other way.
        let mut add_junction = |ends: [Unknown; 2], junction: DiodeModel| {
            let [anode, cathode] = ends;
            let ends = if model.channel == Channel::N { ends } else { [cathode, anode] };
            self.semiconductors.push(Semiconductor::diode(ends, junction));
        };
        match model.gate {
            FieldGate::Junction(junction) => {
                add_junction([gate, source], junction);
                add_junction([gate, drain], junction);
            }
            FieldGate::Insulated { source_farads, drain_farads, body } => {
                add_junction([source, drain], body);
                self.stamp([gate, source], 0.0, source_farads);
                self.stamp([gate, drain], 0.0, drain_farads);
            }
        }
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
            self.add_clamps(input, supply, gate.clamp);
        }
        let stages = vec![Stage::GateLow(gate.low.clone()), Stage::GateHigh(gate.high.clone())];
        let driver = self.drivers.len();
        self.drivers.push(Driver { node: unknown(gate.output), supply, stages });
        self.gates.push(Logical { part, gate: gate.clone(), inputs, supply, driver });
    }

    /// A loudspeaker that its driver switches to ground.
    fn add_sounder(&mut self, sounder: &Sounder) {
        let stages = [
            PinStage::Off { ohms: OPEN_CONTACT_OHMS },
            PinStage::Linear { offset: 0.0, share: 0.0, ohms: sounder.ohms },
        ];
        let stages = stages.map(Stage::Pin).into();
        self.drivers.push(Driver { node: unknown(sounder.node), supply: None, stages });
        self.timed.push(Schedule::Beeps(*sounder));
    }

    /// A driver that pushes nothing into any node and tells whether a source's contact is open.
    fn add_contact(&mut self, adapter: &Adapter) -> Option<usize> {
        let openings = adapter.openings?;
        let driver = self.drivers.len();
        self.drivers.push(Driver { node: None, supply: None, stages: Vec::new() });
        self.timed.push(Schedule::Contact(openings));
        Some(driver)
    }

    /// A driver between the trough and the crest of its ripple, and nothing while its contact is open.
    fn add_adapter(&mut self, adapter: &Adapter, contact: Option<usize>) {
        let stage = |share: f64| {
            let offset = adapter.volts + share * adapter.ripple_volts;
            Stage::Pin(PinStage::Linear { offset, share: 0.0, ohms: adapter.ohms })
        };
        let node = unknown(adapter.node);
        let opened = Stage::Pin(PinStage::Off { ohms: OPEN_CONTACT_OHMS });
        let stages = vec![stage(-0.5), stage(0.5), opened];
        self.drivers.push(Driver { node, supply: None, stages });
        self.ripples.push(Ripple::new(adapter, contact));
    }

    fn add_clamps(&mut self, node: Unknown, supply: Unknown, clamp: Option<DiodeModel>) {
        if let Some(model) = clamp {
            self.semiconductors.push(Semiconductor::diode([None, node], model));
            self.semiconductors.push(Semiconductor::diode([node, supply], model));
        }
    }

    /// The control is the input of a buffer whose output is the switch itself.
    fn add_switch(&mut self, part: PartId, switch: &AnalogueSwitch) {
        let ends = switch.ends.map(unknown);
        self.stamp(ends, 1.0 / switch.off_ohms, switch.between_farads);
        for end in ends {
            self.add_shunt_capacitor(end, switch.end_farads);
            self.add_clamps(end, unknown(switch.supply), switch.clamp);
        }
        let driver = self.drivers.len();
        let on_ohms = switch.on_ohms.clone();
        self.switches.push(Switch { ends, supply: unknown(switch.supply), on_ohms, driver });
        self.add_gate(
            part,
            &Gate {
                logic: Logic::Buffer,
                inputs: vec![switch.control],
                output: NodeId::GROUND,
                supply: switch.supply,
                threshold: switch.threshold,
                input_farads: switch.control_farads,
                clamp: switch.clamp,
                high: OutputCurve::Resistance(1.0),
                low: OutputCurve::Resistance(1.0),
                speed: switch.speed.clone(),
            },
        );
        // It pushes nothing into any node.
        self.drivers[driver].stages.clear();
    }

    fn add_resistor(&mut self, ends: [NodeId; 2], ohms: f64) {
        self.stamp(ends.map(unknown), 1.0 / ohms, 0.0);
    }

    fn add_store(&mut self, ends: [Unknown; 2], farads: f64) {
        self.stores.push(Store { ends, farads });
    }

    fn add_real_capacitor(&mut self, part: &RealCapacitor) {
        let [first, last] = part.ends.map(unknown);
        let inner = self.behind(first, part.present_series_ohms());
        if let Some(ohms) = part.leakage_ohms {
            self.stamp([inner, last], 1.0 / ohms, 0.0);
        }
        self.add_store([inner, last], part.present_farads());
    }

    fn add_inductor(&mut self, ends: [Unknown; 2], henries: f64, ohms: f64, row: usize) {
        self.coils.push(row);
        self.add_series_branch(row, ends);
        self.enter(row, row, -ohms, -henries);
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
    pub(crate) fn hold(&mut self, ends: [Unknown; 2], volts: f64) {
        const SIEMENS: f64 = 1e3;
        self.stamp(ends, SIEMENS, 0.0);
        add_to(&mut self.source, ends[0], -SIEMENS * volts);
        add_to(&mut self.source, ends[1], SIEMENS * volts);
    }

    /// Sets the junction voltages as they stand in `x`, to start an approach from.
    pub(crate) fn start_junctions(&self, x: &[f64], junctions: &mut Junctions) {
        let all = self.semiconductors.iter().flat_map(|part| part.junction_volts(x));
        let corners = self.regulators.iter().map(|part| part.corner_volts(x));
        junctions.start_from(all.flatten().chain(corners));
    }

    /// Evaluates currents and charges at `x`, and the mixed matrix if a mix is given.
    pub(crate) fn evaluate(
        &self,
        (x, weights): (&[f64], &[Weights]),
        mix: Option<Mix>,
        junctions: &mut Junctions,
        out: &mut Evaluation,
    ) {
        out.begin(mix);
        out.f.copy_from_slice(&self.source);
        for entry in &self.linear {
            let volts = x[entry.column];
            out.f[entry.row] += entry.siemens * volts;
            out.q[entry.row] += entry.farads * volts;
            out.add_slope(Some(entry.row), Some(entry.column), entry.siemens, entry.farads);
        }
        for store in &self.stores {
            out.add_branch(store.ends, 0.0, store.farads * store.volts(x));
            out.add_branch_slope(store.ends, 0.0, store.farads);
        }
        for (driver, weights) in self.drivers.iter().zip(weights) {
            driver.evaluate(weights, x, out);
        }
        for chip in 0..self.chips.len() {
            self.add_chip(chip, x, out);
        }
        junctions.rewind();
        for part in &self.semiconductors {
            part.evaluate(x, junctions, out);
        }
        self.add_parts((x, weights), junctions, out);
    }

    /// All of them.
    pub(crate) fn all_curved(&self) -> Curved {
        Curved {
            drivers: (0..self.drivers.len()).collect(),
            chips: (0..self.chips.len()).collect(),
            semiconductors: (0..self.semiconductors.len()).collect(),
        }
    }

    /// Evaluates what is not linear.
    pub(crate) fn evaluate_curved(
        &self,
        (x, weights): (&[f64], &[Weights]),
        (curved, mix): (&Curved, Option<Mix>),
        junctions: &mut Junctions,
        out: &mut Evaluation,
    ) {
        out.begin(mix);
        out.f.fill(0.0);
        for &driver in &curved.drivers {
            self.drivers[driver].evaluate(&weights[driver], x, out);
        }
        for &chip in &curved.chips {
            self.add_chip(chip, x, out);
        }
        junctions.rewind();
        for &part in &curved.semiconductors {
            self.semiconductors[part].evaluate(x, junctions, out);
        }
        self.add_parts((x, weights), junctions, out);
    }

    fn add_chip(&self, chip: usize, x: &[f64], out: &mut Evaluation) {
        let (node, amps) = self.chips[chip];
        let drawn = consumption(amps, at(x, node));
        out.add_current(node, drawn.value);
        out.add_slope(node, node, drawn.slope, 0.0);
    }

    /// Adds all parts but linear ones, drivers, chips and semiconductors.
    fn add_parts(
        &self,
        (x, weights): (&[f64], &[Weights]),
        junctions: &mut Junctions,
        out: &mut Evaluation,
    ) {
        for switch in &self.switches {
            switch.evaluate(weights, x, out);
        }
        for part in &self.regulators {
            part.evaluate(x, junctions, out);
        }
        for (part, inside) in &self.amplifiers {
            part.evaluate(x, *inside, out);
        }
        for (cable, weights) in self.cables.iter().zip(&weights[self.drivers.len()..]) {
            cable.evaluate(weights, x, out);
        }
    }

    /// The unknowns with which parts have to do that are not linear.
    pub(crate) fn curved_unknowns(&self, all: &Curved) -> BTreeSet<usize> {
        let semiconductors = all.semiconductors.iter().map(|&part| &self.semiconductors[part]);
        let mut curved: BTreeSet<usize> =
            semiconductors.flat_map(Semiconductor::unknowns).collect();
        let drivers = all.drivers.iter().map(|&driver| &self.drivers[driver]);
        curved.extend(drivers.flat_map(|driver| [driver.node, driver.supply]).flatten());
        curved.extend(all.chips.iter().filter_map(|&chip| self.chips[chip].0));
        let switches = self.switches.iter();
        curved
            .extend(switches.flat_map(|part| [part.ends[0], part.ends[1], part.supply]).flatten());
        curved.extend(self.regulators.iter().flat_map(Regulator::terminals).flatten());
        for (part, inside) in &self.amplifiers {
            curved.insert(*inside);
            curved.extend([part.input, part.output, part.supply].into_iter().filter_map(unknown));
        }
        curved.extend(self.cables.iter().flat_map(Line::unknowns));
        curved
    }

    /// The rows in which parts that are not linear keep charge.
    pub(crate) fn charged_rows(&self) -> BTreeSet<usize> {
        let semiconductors = self.semiconductors.iter().filter(|part| part.has_charge());
        let mut rows: BTreeSet<usize> = semiconductors.flat_map(Semiconductor::unknowns).collect();
        rows.extend(self.amplifiers.iter().map(|(_, inside)| *inside));
        rows.extend(self.cables.iter().flat_map(Line::arriving));
        rows
    }

    /// ∂f/∂t while drivers move between states at `rates` (weights per second).
    pub(crate) fn drift(&self, x: &[f64], rates: &[Weights], out: &mut [f64]) {
        out.fill(0.0);
        for (driver, rates) in self.drivers.iter().zip(rates) {
            let (node, supply) = (at(x, driver.node), at(x, driver.supply));
            for (stage, &rate) in driver.stages.iter().zip(rates).filter(|(_, rate)| **rate != 0.0)
            {
                let amps = rate * stage.load(node, supply).amps;
                add_to(out, driver.node, amps + rate * stage.leakage_siemens() * node);
                if stage.returns_to_supply() {
                    add_to(out, driver.supply, -amps);
                }
            }
        }
        for switch in &self.switches {
            switch.drift(rates, x, out);
        }
        for (cable, rates) in self.cables.iter().zip(&rates[self.drivers.len()..]) {
            cable.drift(rates, out);
        }
    }
}

/// The unknown of a node's voltage.
pub(crate) fn unknown(node: NodeId) -> Unknown {
    node.0.checked_sub(1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::network::bipolar::Polarity;
    use crate::network::circuit::Threshold;
    use crate::network::device::Breakdown;
    use crate::network::device::Junction;
    use crate::network::evaluation::all_on;

    const CHARGE: Junction = Junction { farads: 5e-12, potential: 0.7, grading: 0.4 };

    /// Every curved part between four nodes, none of which is ground.
    fn every_semiconductor(sense: Polarity, channel: Channel) -> Circuit {
        let [a, b, c, d] = [1, 2, 3, 4].map(NodeId);
        let diode = DiodeModel {
            transit_time: 4e-9,
            junction: CHARGE,
            series_ohms: 3.0,
            breakdown: Some(Breakdown { volts: 3.3, amps: 5e-3, slope_volts: 0.4 }),
            ..DiodeModel::ideal(1e-9, 1.7)
        };
        let transistor = TransistorModel {
            early_volts: 60.0,
            knee_amps: 0.1,
            base_leakage: 1e-12,
            base_ohms: 20.0,
            collector_ohms: 3.0,
            emitter_ohms: 0.5,
            forward_transit_time: 0.4e-9,
            reverse_transit_time: 50e-9,
            base_emitter: CHARGE,
            base_collector: CHARGE,
            ..TransistorModel::ideal(sense, 1e-13, [150.0, 3.0])
        };
        let field_effect = |gate, threshold| {
            let model = FieldEffectModel { channel, k: 5e-3, threshold, off_ohms: 1e9, gate };
            PartKind::FieldEffect { drain: a, gate: b, source: c, model }
        };
        let (source_farads, drain_farads) = (20e-12, 3e-12);
        let switch = AnalogueSwitch {
            ends: [b, d],
            control: c,
            supply: a,
            threshold: Threshold::Share { low: 0.5, typical: 0.5, high: 0.5 },
            on_ohms: vec![(0.5, 900.0), (5.0, 400.0)],
            off_ohms: 1e9,
            end_farads: 0.0,
            between_farads: 1e-12,
            control_farads: 0.0,
            clamp: None,
            speed: Vec::new(),
        };
        let kinds = [
            PartKind::Diode { anode: a, cathode: b, model: diode },
            PartKind::Transistor { collector: c, base: b, emitter: a, model: transistor },
            field_effect(FieldGate::Junction(diode), -1.2),
            field_effect(FieldGate::Insulated { source_farads, drain_farads, body: diode }, 0.2),
            PartKind::AnalogueSwitch(Box::new(switch)),
        ];
        let part = |(index, kind)| Part { name: format!("X{index}"), kind };
        Circuit {
            nodes: ["ground", "a", "b", "c", "d"].map(str::to_owned).to_vec(),
            parts: kinds.into_iter().enumerate().map(part).collect(),
        }
    }

    /// Points spread over junctions that block, conduct and break down; unknowns inside parts lie
    /// near their terminals by chance only.
    fn points(order: usize) -> Vec<Vec<f64>> {
        let spread = |at: usize, row: usize| {
            let turn = (at * 37 + row * 101) % 97;
            0.02 * crate::base::math::from_usize(turn) - 0.9
        };
        let wide = |at: usize| if at.is_multiple_of(3) { 2.5 } else { 0.6 };
        (0..24).map(|at| (0..order).map(|row| wide(at) * spread(at, row)).collect()).collect()
    }

    fn evaluated(system: &System, x: &[f64], mix: Option<Mix>) -> Evaluation {
        let mut junctions = Junctions::default();
        system.start_junctions(x, &mut junctions);
        let mut out = Evaluation::new(system.order);
        let weights: Vec<Weights> = system.drivers.iter().map(|_| all_on(1)).collect();
        system.evaluate((x, &weights), mix, &mut junctions, &mut out);
        assert!(!out.limited);
        out
    }

    fn systems() -> Vec<System> {
        [(Polarity::Npn, Channel::N), (Polarity::Pnp, Channel::P)]
            .map(|(sense, channel)| System::new(&every_semiconductor(sense, channel)))
            .into()
    }

    #[test]
    fn every_part_gives_the_slopes_of_its_currents_and_charges() {
        const STEP: f64 = 1e-7;
        for system in systems() {
            for x in points(system.order) {
                for column in 0..system.order {
                    let moved = |by: f64| {
                        let mut x = x.clone();
                        x[column] += by;
                        evaluated(&system, &x, None)
                    };
                    let (up, down) = (moved(STEP), moved(-STEP));
                    let current = Some(Mix { charge: 0.0, current: 1.0 });
                    let charge = Some(Mix { charge: 1.0, current: 0.0 });
                    for row in 0..system.order {
                        let by_f = (up.f[row] - down.f[row]) / (2.0 * STEP);
                        let by_q = (up.q[row] - down.q[row]) / (2.0 * STEP);
                        let f = evaluated(&system, &x, current).jacobian.get(row, column);
                        let q = evaluated(&system, &x, charge).jacobian.get(row, column);
                        let f_size = up.f[row].abs() / STEP * 1e-14 + f.abs() * 1e-5 + 1e-9;
                        let q_size = up.q[row].abs() / STEP * 1e-14 + q.abs() * 1e-5 + 1e-18;
                        assert!((by_f - f).abs() < f_size, "f {row} {column}: {by_f} {f}");
                        assert!((by_q - q).abs() < q_size, "q {row} {column}: {by_q} {q}");
                    }
                }
            }
        }
    }

    #[test]
    fn what_enters_a_part_leaves_it_current_and_charge_alike() {
        for system in systems() {
            for x in points(system.order) {
                let out = evaluated(&system, &x, None);
                for rows in [&out.f, &out.q] {
                    let size: f64 = rows.iter().map(|row| row.abs()).sum();
                    assert!(rows.iter().sum::<f64>().abs() <= 1e-13 * size);
                }
            }
        }
    }

    #[test]
    fn nodes_inside_parts_have_names_and_come_after_the_circuits_own() {
        let circuit = every_semiconductor(Polarity::Npn, Channel::N);
        let names: Vec<String> = circuit.parts.iter().flat_map(inside).collect();
        assert_eq!(names[0], "inside `X0`, behind its anode");
        assert_eq!(names[2], "inside `X1`, behind its base");
        let system = System::new(&circuit);
        assert_eq!(system.nodes, 4 + names.len());
        assert_eq!(system.inside, system.nodes);
    }
}
