//! Every single fault of a board, and how common each kind is.

use crate::analysis::hunt::fault::Fault;
use crate::network::bipolar::Polarity;
use crate::network::circuit::Logic;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::circuit::PinStage;
use crate::network::device::OutputCurve;
use crate::network::terminal::terminals;
use crate::scenario::Scenario;
use crate::scenario::change::Change;

/// How common each kind of fault is against the others: common practice, no source, but for the
/// order in which the trade's symptom lists name them (joined pins and what is left of the old
/// network before a gate's threshold, a trimmer before a resistor).
mod weight {
    pub(super) const OPEN: f64 = 3.0;
    pub(super) const SHORT: f64 = 1.5;
    pub(super) const WRONG_VALUE: f64 = 1.5;
    pub(super) const TRIMMER: f64 = 4.0;
    pub(super) const SWAPPED_LEGS: f64 = 2.0;
    pub(super) const WRONG_KIND: f64 = 1.0;
    pub(super) const FLOATING: f64 = 3.0;
    pub(super) const COLD_JOINT: f64 = 1.0;
    pub(super) const WEAK: f64 = 1.5;
    pub(super) const OLD_NETWORK: f64 = 3.0;
    pub(super) const JOINED_PINS: f64 = 4.0;
    pub(super) const JOINED_NODES: f64 = 0.5;
    pub(super) const SUPPLY: f64 = 1.5;
    pub(super) const WRONG_WIRE: f64 = 1.0;
    pub(super) const LOAD: f64 = 2.0;
    pub(super) const CONTROLLER: f64 = 4.0;
}

/// Resistance of a cold joint, Ω: common practice, no source.
const COLD_OHMS: f64 = 10e3;

/// What is left of a lifted leg, Ω: common practice, no source.
const LIFTED_OHMS: f64 = 10e6;

/// What an adapter or battery gives before any regulator, V: common practice, no source.
const RAW_VOLTS: f64 = 9.0;

struct List<'a> {
    scenario: &'a Scenario,
    faults: Vec<Fault>,
}

/// The board as drawn, then every single fault, part by part.
#[must_use]
pub fn single_faults(scenario: &Scenario) -> Vec<Fault> {
    let mut list = List { scenario, faults: vec![Fault::none()] };
    for (index, part) in scenario.circuit.parts.iter().enumerate() {
        list.part(PartId(index), part);
    }
    list.joins();
    list.exchanged_pins();
    list.flat_battery();
    list.all_pins();
    list.loads();
    list.faults
}

impl List<'_> {
    fn add(&mut self, name: String, weight: f64, changes: Vec<Change>, parts: Vec<PartId>) {
        self.faults.push(Fault { name, changes, weight, controller: false, parts });
    }

    fn one(&mut self, id: PartId, what: &str, weight: f64, change: Change) {
        let name = format!("{} {what}", self.scenario.circuit.parts[id.0].name);
        self.add(name, weight, vec![change], vec![id]);
    }

    fn part(&mut self, id: PartId, part: &Part) {
        let written = self.scenario.part_spans[id.0].is_some();
        match &part.kind {
            PartKind::Pin(_) => self.pin(id, part),
            _ if id == self.scenario.output.load => {}
            // Strays and what a profile brings along are not parts anyone could have fitted wrong.
            _ if !written => {}
            PartKind::Resistor { ohms, .. } => self.two_legs(id, *ohms),
            PartKind::Capacitor { farads, .. } => self.two_legs(id, *farads),
            PartKind::RealCapacitor(real) => self.two_legs(id, real.farads),
            PartKind::Inductor { henries, .. } | PartKind::LossyInductor { henries, .. } => {
                self.two_legs(id, *henries);
            }
            PartKind::Diode { .. } => {
                self.one(id, "open", weight::OPEN, Change::Open(id));
                self.one(id, "shorted", weight::SHORT, Change::Short(id));
                let swap = Change::Swap { part: id, terminals: [0, 1] };
                self.one(id, "fitted the wrong way round", weight::SWAPPED_LEGS, swap);
                self.cold_joint(id, "", 0);
            }
            PartKind::Contact { .. } => {
                self.one(id, "open", weight::OPEN, Change::Open(id));
                self.one(id, "stuck closed", weight::SHORT, Change::Short(id));
            }
            PartKind::Trimmer { ohms, .. } => self.trimmer(id, *ohms),
            PartKind::Transistor { .. } | PartKind::FieldEffect { .. } => {
                self.three_legs(id, part);
            }
            PartKind::Gate(_) => self.gate(id, part),
            PartKind::Supply { volts, .. } => self.supply(id, *volts),
            PartKind::Adapter(adapter) => self.supply(id, adapter.volts),
            PartKind::Regulator(_) => {
                self.one(id, "dead (open)", weight::OPEN, Change::Open(id));
                let lifted = Change::Series { part: id, terminal: 2, ohms: LIFTED_OHMS };
                self.one(id, "without ground", weight::SUPPLY, lifted);
            }
            PartKind::AnalogueSwitch(_) | PartKind::VideoDriver(_) | PartKind::Cable(_) => {
                self.one(id, "dead (open)", weight::OPEN, Change::Open(id));
            }
            PartKind::Consumption { .. } | PartKind::Draw { .. } | PartKind::Sounder(_) => {}
        }
    }

    fn two_legs(&mut self, id: PartId, value: f64) {
        self.one(id, "open or dead", weight::OPEN, Change::Open(id));
        self.one(id, "shorted", weight::SHORT, Change::Short(id));
        for (what, factor) in [("ten times too large", 10.0), ("ten times too small", 0.1)] {
            let change = Change::Value { part: id, value: value * factor };
            self.one(id, what, weight::WRONG_VALUE, change);
        }
        if let PartKind::Resistor { ends, ohms } = self.scenario.circuit.parts[id.0].kind {
            let kind = Box::new(PartKind::Resistor { ends, ohms: ohms + COLD_OHMS });
            let change = Change::Replace { part: id, kind };
            self.one(id, "cold joint (10 k in series)", weight::COLD_JOINT, change);
        }
    }

    /// A joint that has cracked at one terminal of a part.
    fn cold_joint(&mut self, id: PartId, terminal_name: &str, terminal: usize) {
        let change = Change::Series { part: id, terminal, ohms: COLD_OHMS };
        let at = if terminal_name.is_empty() {
            String::new()
        } else {
            format!(" at its {terminal_name}")
        };
        let what = format!("cold joint{at} (10 k in series)");
        self.one(id, &what, weight::COLD_JOINT, change);
    }

    fn trimmer(&mut self, id: PartId, ohms: f64) {
        for (what, position) in [("at one end", 0.0), ("at the other end", 1.0)] {
            self.one(id, what, weight::TRIMMER, Change::Position { part: id, position });
        }
        self.one(id, "open (wiper or track)", weight::OPEN, Change::Open(id));
        for (what, factor) in [("ten times too large", 10.0), ("ten times too small", 0.1)] {
            let change = Change::Value { part: id, value: ohms * factor };
            self.one(id, what, weight::WRONG_VALUE, change);
        }
    }

    fn three_legs(&mut self, id: PartId, part: &Part) {
        let ends = terminals(&part.kind);
        self.one(id, "open or missing", weight::OPEN, Change::Open(id));
        for [a, b] in [[0, 1], [0, 2], [1, 2]] {
            let ((first, first_node), (second, second_node)) = (ends[a], ends[b]);
            let swap = Change::Swap { part: id, terminals: [a, b] };
            let swapped = format!("with {first} and {second} exchanged");
            self.one(id, &swapped, weight::SWAPPED_LEGS, swap);
            let shorted = format!("shorted from {first} to {second}");
            self.one(id, &shorted, weight::SHORT, Change::Join(first_node, second_node));
        }
        for (terminal, (name, _)) in ends.into_iter().enumerate() {
            self.cold_joint(id, name, terminal);
        }
        if let PartKind::Transistor { collector, base, emitter, model } = &part.kind {
            let with = |model| PartKind::Transistor {
                collector: *collector,
                base: *base,
                emitter: *emitter,
                model,
            };
            let mut other = *model;
            other.polarity = match model.polarity {
                Polarity::Npn => Polarity::Pnp,
                Polarity::Pnp => Polarity::Npn,
            };
            let kind = Box::new(with(other));
            let change = Change::Replace { part: id, kind };
            self.one(id, "of the other polarity (PNP for NPN)", weight::WRONG_KIND, change);
            let mut weak = *model;
            weak.forward_gain /= 5.0;
            let change = Change::Replace { part: id, kind: Box::new(with(weak)) };
            self.one(id, "with a fifth of its gain", weight::WEAK, change);
        }
    }

    fn gate(&mut self, id: PartId, part: &Part) {
        let PartKind::Gate(gate) = &part.kind else { return };
        self.one(id, "dead or unpowered", weight::SUPPLY, Change::Open(id));
        let kinds = [
            (Logic::Or, "OR"),
            (Logic::Nor, "NOR"),
            (Logic::And, "AND"),
            (Logic::Nand, "NAND"),
            (Logic::Xor, "XOR"),
        ];
        let single = [(Logic::Not, "an inverter"), (Logic::Buffer, "a buffer")];
        let others = if gate.inputs.len() == 1 { single.iter() } else { kinds.iter() };
        for &(logic, word) in others.filter(|(logic, _)| *logic != gate.logic) {
            let what = format!("is {word} by mistake");
            self.one(id, &what, weight::WRONG_KIND, Change::Logic { part: id, logic });
        }
        let nodes = &self.scenario.circuit.nodes;
        let inputs: Vec<String> = gate.inputs.iter().map(|node| nodes[node.0].clone()).collect();
        for (index, name) in inputs.iter().enumerate() {
            for (word, node) in [("low", NodeId::GROUND), ("high", gate.supply)] {
                let what = format!("input for {name} floating or unwired, reads {word}");
                let change = Change::Tie { part: id, terminal: 2 + index, node };
                self.one(id, &what, weight::FLOATING, change);
            }
        }
        // Without its ground leg it can pull its output up and no longer down; what comes back
        // through its inputs' diodes is left out.
        let mut lifted = gate.clone();
        lifted.low = OutputCurve::Resistance(LIFTED_OHMS);
        let change = Change::Replace { part: id, kind: Box::new(PartKind::Gate(lifted)) };
        self.one(id, "without ground", weight::SUPPLY, change);
        self.cold_joint(id, "output", 0);
        let output = gate.output;
        let short = Change::Join(output, NodeId::GROUND);
        self.one(id, "output shorted to ground", weight::SHORT, short);
        self.wrong_rail(id, gate.supply);
        self.player_in_gate(id, gate.inputs.len(), &gate.inputs);
    }

    /// The gate fed from another supply of the board.
    fn wrong_rail(&mut self, id: PartId, own: NodeId) {
        let circuit = &self.scenario.circuit;
        let feeds: Vec<usize> = circuit
            .parts
            .iter()
            .enumerate()
            .filter(|(_, part)| matches!(part.kind, PartKind::Supply { node, .. } if node != own))
            .map(|(index, _)| index)
            .collect();
        for feed in feeds {
            let PartKind::Supply { node, .. } = self.scenario.circuit.parts[feed].kind else {
                continue;
            };
            let what = format!("fed from {}", self.scenario.circuit.node_name(node));
            self.one(id, &what, weight::SUPPLY, Change::Tie { part: id, terminal: 1, node });
        }
        let change = Change::Feed { part: id, volts: RAW_VOLTS };
        self.one(id, "on a raw 9 V supply", weight::SUPPLY, change);
    }

    /// Another pin wired to the gate as well.
    fn player_in_gate(&mut self, id: PartId, count: usize, inputs: &[NodeId]) {
        let pins: Vec<(String, NodeId)> = self
            .scenario
            .circuit
            .pins()
            .map(|(part, pin)| (self.scenario.circuit.parts[part.0].name.clone(), pin.node))
            .filter(|(_, node)| !inputs.contains(node))
            .collect();
        let PartKind::Gate(gate) = &self.scenario.circuit.parts[id.0].kind else { return };
        for (name, node) in pins.into_iter().filter(|_| (2..4).contains(&count)) {
            let mut more = gate.clone();
            more.inputs.push(node);
            let change = Change::Replace { part: id, kind: Box::new(PartKind::Gate(more)) };
            let both = format!("has {name} wired to it too");
            self.one(id, &both, weight::WRONG_WIRE, change.clone());
            let mut changes = vec![change];
            let mut parts = vec![id];
            for (index, part) in self.scenario.circuit.parts.iter().enumerate() {
                let ends = terminals(&part.kind);
                let own = matches!(
                    part.kind,
                    PartKind::Resistor { .. } | PartKind::Trimmer { .. } | PartKind::Diode { .. }
                );
                if own && ends.iter().any(|(_, end)| *end == node) {
                    changes.push(Change::Open(PartId(index)));
                    parts.push(PartId(index));
                }
            }
            let gate_name = &self.scenario.circuit.parts[id.0].name;
            let name = format!("{gate_name} has {name} wired to it and nowhere else");
            self.add(name, weight::WRONG_WIRE, changes, parts);
        }
    }

    fn supply(&mut self, id: PartId, volts: f64) {
        self.one(id, "missing", weight::SUPPLY, Change::Open(id));
        for share in [0.8, 0.65] {
            let change = Change::Value { part: id, value: volts * share };
            let what = format!("low: {:.1} V (flat battery, dropout)", volts * share);
            self.one(id, &what, weight::SUPPLY, change);
        }
    }

    fn pin(&mut self, id: PartId, part: &Part) {
        let PartKind::Pin(pin) = &part.kind else { return };
        let node = pin.node;
        self.one(id, "pin broken off or unwired", weight::OPEN, Change::Open(id));
        self.one(id, "pin shorted to ground", weight::SHORT, Change::Join(node, NodeId::GROUND));
        let mut weak = pin.clone();
        weak.levels.iter_mut().for_each(|level| weaken(level, 3.0));
        let kind = Box::new(PartKind::Pin(weak));
        self.one(id, "pin weak", weight::WEAK, Change::Replace { part: id, kind });
        if pin.levels.len() == 2 {
            let mut inverted = pin.clone();
            inverted.levels.reverse();
            let change = Change::Replace { part: id, kind: Box::new(PartKind::Pin(inverted)) };
            self.one(id, "upside down (sense wrong)", weight::WRONG_KIND, change);
        }
        for ohms in [1e3, 3.3e3, 10e3] {
            let name = format!("{} still loaded", part.name);
            let kind = PartKind::Resistor { ends: [node, NodeId::GROUND], ohms };
            let change = Change::Add(Part { name, kind });
            let what = format!("still loaded by {} k of the old network", ohms / 1e3);
            self.one(id, &what, weight::OLD_NETWORK, change);
        }
        let player = part.name.contains("left") || part.name.contains("right");
        if player && let Some(low) = pin.levels.first() {
            let mut silent = pin.clone();
            let low = *low;
            silent.levels.fill(low);
            let change = Change::Replace { part: id, kind: Box::new(PartKind::Pin(silent)) };
            let what = "paddle parked off the screen: its pot, plug or timing capacitor";
            self.one(id, what, weight::CONTROLLER, change);
            if let Some(last) = self.faults.last_mut() {
                last.controller = true;
            }
        }
    }

    /// Every two nodes joined by a blob or whisker of solder.
    fn joins(&mut self) {
        let circuit = &self.scenario.circuit;
        let pins: Vec<NodeId> = circuit.pins().map(|(_, pin)| pin.node).collect();
        let count = circuit.nodes.len();
        let shorts: Vec<[NodeId; 2]> =
            self.faults.iter().filter_map(|fault| self.short(fault)).collect();
        for first in 0..count {
            for second in first + 1..count {
                let [a, b] = [NodeId(first), NodeId(second)];
                // A short of a part or a pin is in the list under its own name.
                if shorts.contains(&[a, b]) || shorts.contains(&[b, a]) {
                    continue;
                }
                let both_pins = pins.contains(&a) && pins.contains(&b);
                let weight = if both_pins { weight::JOINED_PINS } else { weight::JOINED_NODES };
                let name = format!(
                    "{} and {} joined",
                    self.scenario.circuit.nodes[first], self.scenario.circuit.nodes[second]
                );
                self.add(name, weight, vec![Change::Join(a, b)], Vec::new());
            }
        }
    }

    /// The two nodes that a fault joins and nothing else.
    fn short(&self, fault: &Fault) -> Option<[NodeId; 2]> {
        match fault.changes.as_slice() {
            [Change::Join(a, b)] => Some([*a, *b]),
            [Change::Short(part)] => {
                match terminals(&self.scenario.circuit.parts[part.0].kind).as_slice() {
                    [(_, a), (_, b)] => Some([*a, *b]),
                    _ => None,
                }
            }
            _ => None,
        }
    }

    /// Two pins' wires exchanged.
    fn exchanged_pins(&mut self) {
        let pins: Vec<(PartId, NodeId)> =
            self.scenario.circuit.pins().map(|(part, pin)| (part, pin.node)).collect();
        for (at, &(first, first_node)) in pins.iter().enumerate() {
            for &(second, second_node) in &pins[at + 1..] {
                let parts = &self.scenario.circuit.parts;
                let name = format!(
                    "wires of {} and {} exchanged",
                    parts[first.0].name, parts[second.0].name
                );
                let changes = vec![
                    Change::Tie { part: first, terminal: 0, node: second_node },
                    Change::Tie { part: second, terminal: 0, node: first_node },
                ];
                self.add(name, weight::WRONG_WIRE, changes, vec![first, second]);
            }
        }
    }

    /// All pins at once: an aged chip.
    fn all_pins(&mut self) {
        let mut changes = Vec::new();
        let mut parts = Vec::new();
        for (part, pin) in self.scenario.circuit.pins() {
            let mut weak = pin.clone();
            if let Some(high) = weak.levels.last_mut() {
                weaken(high, 8.0 / 3.0);
            }
            let kind = Box::new(PartKind::Pin(Box::new(weak)));
            changes.push(Change::Replace { part, kind });
            parts.push(part);
        }
        let name = "chip aged: every high level weak".to_owned();
        self.add(name, weight::WEAK, changes, parts);
    }

    /// Every supply down to two thirds, and the pins with them: their highs sink faster than the
    /// supply, because a pull-up stops about a volt short of it.
    fn flat_battery(&mut self) {
        const SUPPLY: f64 = 0.66;
        const HIGH: f64 = 0.56;
        const OHMS: f64 = 1.5;
        let mut changes = Vec::new();
        let mut parts = Vec::new();
        for (index, part) in self.scenario.circuit.parts.iter().enumerate() {
            let id = PartId(index);
            let kind = match &part.kind {
                PartKind::Supply { node, volts, ohms } => {
                    PartKind::Supply { node: *node, volts: volts * SUPPLY, ohms: *ohms }
                }
                PartKind::Pin(pin) => {
                    let mut pin = pin.clone();
                    for level in &mut pin.levels {
                        weaken(level, OHMS);
                        if let PinStage::Linear { offset, .. } = level {
                            *offset *= HIGH;
                        }
                    }
                    PartKind::Pin(pin)
                }
                _ => continue,
            };
            changes.push(Change::Replace { part: id, kind: Box::new(kind) });
            parts.push(id);
        }
        self.add("battery flat: supplies and pins down".to_owned(), weight::SUPPLY, changes, parts);
    }

    fn loads(&mut self) {
        let load = self.scenario.output.load;
        let ohms = match self.scenario.circuit.parts[load.0].kind {
            PartKind::Resistor { ohms, .. } => ohms,
            _ => 75.0,
        };
        for (name, value, weight) in [
            ("two terminations at the socket", ohms / 2.0, weight::LOAD),
            ("no termination at the socket", 1e6, weight::LOAD),
            ("socket or cable shorted to ground", 0.1, weight::SHORT),
        ] {
            let change = Change::Value { part: load, value };
            self.add(name.to_owned(), weight, vec![change], vec![load]);
        }
    }
}

/// A driver with its resistance multiplied.
pub(crate) fn weaken(stage: &mut PinStage, factor: f64) {
    match stage {
        PinStage::Linear { ohms, .. } => *ohms *= factor,
        PinStage::PullUp { k, .. } | PinStage::PullDown { k, .. } => *k /= factor,
        PinStage::Off { .. } => {}
    }
}
