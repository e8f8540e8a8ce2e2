//! The one kind of change that `--set`, variants and the analyses make to a resolved scenario.

use crate::network::circuit::Circuit;
use crate::network::circuit::Logic;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::circuit::PinStage;
use crate::network::device::DiodeModel;
use crate::network::passive::ContactState;
use crate::network::terminal::terminals;
use crate::network::terminal::terminals_mut;
use crate::scenario::Scenario;
use crate::scenario::limits::Limits;

/// What an open part leaves between its terminals, Ω: nodes never float.
pub const OPEN_OHMS: f64 = 1e9;
/// What a short leaves, Ω.
pub const SHORT_OHMS: f64 = 1.0;

/// A change to one part or node.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// Another main value: ohms, farads, henries, volts or amps.
    Value {
        /// The part.
        part: PartId,
        /// The value in SI base units.
        value: f64,
    },
    /// Another position of a trimmer's wiper, 0 to 1.
    Position {
        /// The trimmer.
        part: PartId,
        /// Share of the track.
        position: f64,
    },
    /// The part takes no current.
    Open(PartId),
    /// The part's two terminals are joined; a pin or a supply is joined to ground.
    Short(PartId),
    /// Two nodes are joined.
    Join(NodeId, NodeId),
    /// Two terminals of a part are exchanged.
    Swap {
        /// The part.
        part: PartId,
        /// The terminals, by their index in [`terminals`].
        terminals: [usize; 2],
    },
    /// A terminal of a part is tied to another node.
    Tie {
        /// The part.
        part: PartId,
        /// The terminal, by its index in [`terminals`].
        terminal: usize,
        /// The node.
        node: NodeId,
    },
    /// A part more.
    Add(Part),
    /// Another part under the same name.
    Replace {
        /// The part.
        part: PartId,
        /// What takes its place.
        kind: Box<PartKind>,
    },
    /// A resistance in series with one terminal of a part, on a node of its own behind all others.
    Series {
        /// The part.
        part: PartId,
        /// The terminal, by its index in [`terminals`].
        terminal: usize,
        /// The resistance, Ω, above 0.
        ohms: f64,
    },
    /// A gate fed from a supply of its own, on a node of its own behind all others.
    Feed {
        /// The gate.
        part: PartId,
        /// Its supply, V, above 0.
        volts: f64,
    },
    /// A gate of another function.
    Logic {
        /// The gate.
        part: PartId,
        /// Its new function.
        logic: Logic,
    },
}

/// Why a change cannot be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ChangeError {
    /// The part is not there.
    #[error("there is no such part")]
    NoPart,
    /// The node is not there.
    #[error("there is no such node")]
    NoNode,
    /// The part has no main value.
    #[error("`{part}` has no value to change")]
    NoValue {
        /// The part's name.
        part: String,
    },
    /// The value is impossible.
    #[error("`{part}` cannot have a value of {value}")]
    Impossible {
        /// The part's name.
        part: String,
        /// The value.
        value: f64,
    },
    /// A short needs two terminals.
    #[error("`{part}` has {count} terminals: say which of them are joined")]
    WhichTerminals {
        /// The part's name.
        part: String,
        /// How many it has.
        count: usize,
    },
    /// The part has no such terminal.
    #[error("`{part}` has no terminal {terminal}")]
    NoTerminal {
        /// The part's name.
        part: String,
        /// The index.
        terminal: usize,
    },
    /// The part is not a gate.
    #[error("`{part}` is not a gate")]
    NotGate {
        /// The part's name.
        part: String,
    },
}

impl Scenario {
    /// This scenario with one change made. Parts keep their ids; new parts go to the end.
    ///
    /// # Errors
    ///
    /// [`ChangeError`] if the part or node is not there or cannot be changed so.
    pub fn changed(&self, change: &Change) -> Result<Self, ChangeError> {
        let mut result = self.clone();
        result.circuit.apply(change)?;
        // What is broken or another part has no tolerance of the part that stood there.
        if let Change::Open(part) | Change::Short(part) | Change::Replace { part, .. } = change {
            result.spread.retain(|factor| factor.part() != Some(*part));
        }
        result.part_spans.resize(result.circuit.parts.len(), None);
        result.limits.resize(result.circuit.parts.len(), Limits::None);
        result.node_spans.resize(result.circuit.nodes.len(), None);
        Ok(result.with_clock_pulled())
    }
}

impl Circuit {
    /// Makes the change, as [`Scenario::changed`] does.
    pub(crate) fn apply(&mut self, change: &Change) -> Result<(), ChangeError> {
        match change {
            Change::Value { part, value } => self.part_mut(*part)?.set_value(*value),
            Change::Position { part, position } => self.part_mut(*part)?.set_position(*position),
            Change::Open(part) => self.open(*part),
            Change::Short(part) => self.short(*part),
            Change::Join(first, second) => self.join(*first, *second),
            Change::Swap { part, terminals } => self.part_mut(*part)?.swap(*terminals),
            Change::Tie { part, terminal, node } => {
                self.check_node(*node)?;
                *self.part_mut(*part)?.terminal_mut(*terminal)? = *node;
                Ok(())
            }
            Change::Add(part) => {
                for (_, node) in terminals(&part.kind) {
                    self.check_node(node)?;
                }
                self.parts.push(part.clone());
                Ok(())
            }
            Change::Replace { part, kind } => {
                self.part_mut(*part)?.kind = kind.as_ref().clone();
                Ok(())
            }
            Change::Series { part, terminal, ohms } => self.series(*part, *terminal, *ohms),
            Change::Feed { part, volts } => self.feed(*part, *volts),
            Change::Logic { part, logic } => self.part_mut(*part)?.set_logic(*logic),
        }
    }

    fn part_mut(&mut self, part: PartId) -> Result<&mut Part, ChangeError> {
        self.parts.get_mut(part.0).ok_or(ChangeError::NoPart)
    }

    fn check_node(&self, node: NodeId) -> Result<(), ChangeError> {
        if node.0 < self.nodes.len() { Ok(()) } else { Err(ChangeError::NoNode) }
    }

    fn series(&mut self, id: PartId, terminal: usize, ohms: f64) -> Result<(), ChangeError> {
        let inner = NodeId(self.nodes.len());
        let part = self.part_mut(id)?;
        let name = part.name.clone();
        if !ohms.is_finite() || ohms <= 0.0 {
            return Err(ChangeError::Impossible { part: name, value: ohms });
        }
        let tied = part.terminal_mut(terminal)?;
        let outer = std::mem::replace(tied, inner);
        let name = format!("{name} joint {terminal}");
        self.nodes.push(name.clone());
        let kind = PartKind::Resistor { ends: [outer, inner], ohms };
        self.parts.push(Part { name, kind });
        Ok(())
    }

    fn feed(&mut self, id: PartId, volts: f64) -> Result<(), ChangeError> {
        let node = NodeId(self.nodes.len());
        let part = self.part_mut(id)?;
        let name = part.name.clone();
        if !volts.is_finite() || volts <= 0.0 {
            return Err(ChangeError::Impossible { part: name, value: volts });
        }
        let PartKind::Gate(gate) = &mut part.kind else {
            return Err(ChangeError::NotGate { part: name });
        };
        gate.supply = node;
        self.nodes.push(format!("{name} supply"));
        let kind = PartKind::Supply { node, volts, ohms: 0.0 };
        self.parts.push(Part { name: format!("{name} feed"), kind });
        Ok(())
    }

    fn open(&mut self, id: PartId) -> Result<(), ChangeError> {
        let part = self.part_mut(id)?;
        let name = part.name.clone();
        let mut left_alone = Vec::new();
        match &mut part.kind {
            PartKind::Resistor { ohms, .. } => *ohms = OPEN_OHMS,
            PartKind::Draw { amps, .. } | PartKind::Consumption { amps, .. } => *amps = 0.0,
            // A pin stays a pin, because the trains are given to the pins in their order.
            PartKind::Pin(pin) => {
                pin.levels.fill(PinStage::Off { ohms: OPEN_OHMS });
                pin.farads = 0.0;
            }
            PartKind::Contact { state, .. } => *state = ContactState::Open,
            PartKind::RealCapacitor(real) => {
                part.kind = PartKind::Resistor { ends: real.ends, ohms: OPEN_OHMS };
            }
            PartKind::Cable(cable) => {
                part.kind = PartKind::Resistor { ends: cable.ends, ohms: OPEN_OHMS };
            }
            PartKind::Capacitor { ends, .. }
            | PartKind::Inductor { ends, .. }
            | PartKind::LossyInductor { ends, .. } => {
                part.kind = PartKind::Resistor { ends: *ends, ohms: OPEN_OHMS };
            }
            PartKind::Diode { anode, cathode, .. } => {
                let ends = [*anode, *cathode];
                part.kind = PartKind::Resistor { ends, ohms: OPEN_OHMS };
            }
            PartKind::Adapter(adapter) => {
                let ends = [adapter.node, NodeId::GROUND];
                part.kind = PartKind::Resistor { ends, ohms: OPEN_OHMS };
            }
            PartKind::Sounder(sounder) => {
                let ends = [sounder.node, NodeId::GROUND];
                part.kind = PartKind::Resistor { ends, ohms: OPEN_OHMS };
            }
            PartKind::Supply { node, .. } => {
                let ends = [*node, NodeId::GROUND];
                part.kind = PartKind::Resistor { ends, ohms: OPEN_OHMS };
            }
            PartKind::Trimmer { .. }
            | PartKind::Transistor { .. }
            | PartKind::Regulator(_)
            | PartKind::VideoDriver(_)
            | PartKind::FieldEffect { .. }
            | PartKind::AnalogueSwitch(_)
            | PartKind::Gate(_) => {
                left_alone = terminals(&part.kind).into_iter().map(|(_, node)| node).collect();
                left_alone.sort();
                left_alone.dedup();
                left_alone.retain(|node| *node != NodeId::GROUND);
                let first = left_alone.pop().unwrap_or(NodeId::GROUND);
                part.kind = PartKind::Draw { node: first, amps: 0.0 };
                left_alone.push(first);
            }
        }
        for node in left_alone {
            let leak = format!("{name} leak at {}", self.nodes[node.0]);
            self.tie_to_ground(leak, node, OPEN_OHMS);
        }
        Ok(())
    }

    fn short(&mut self, id: PartId) -> Result<(), ChangeError> {
        let part = self.part_mut(id)?;
        let name = part.name.clone();
        match part.kind {
            PartKind::RealCapacitor(ref real) => {
                part.kind = PartKind::Resistor { ends: real.ends, ohms: SHORT_OHMS };
            }
            PartKind::Resistor { ends, .. }
            | PartKind::Capacitor { ends, .. }
            | PartKind::Inductor { ends, .. }
            | PartKind::LossyInductor { ends, .. }
            | PartKind::Contact { ends, .. } => {
                part.kind = PartKind::Resistor { ends, ohms: SHORT_OHMS };
            }
            PartKind::Diode { anode, cathode, .. } => {
                part.kind = PartKind::Resistor { ends: [anode, cathode], ohms: SHORT_OHMS };
            }
            // Inner conductor to screen.
            PartKind::Cable(ref cable) => {
                let node = cable.ends[0];
                self.tie_to_ground(format!("{name} short"), node, SHORT_OHMS);
            }
            // What has failed is the switch between its ends, not its control.
            PartKind::AnalogueSwitch(ref mut switch) => {
                switch.off_ohms = SHORT_OHMS;
            }
            PartKind::Supply { node, .. }
            | PartKind::Consumption { node, .. }
            | PartKind::Draw { node, .. } => {
                self.tie_to_ground(format!("{name} short"), node, SHORT_OHMS);
            }
            PartKind::Sounder(ref sounder) => {
                let node = sounder.node;
                self.tie_to_ground(format!("{name} short"), node, SHORT_OHMS);
            }
            PartKind::Adapter(ref adapter) => {
                let node = adapter.node;
                self.tie_to_ground(format!("{name} short"), node, SHORT_OHMS);
            }
            PartKind::Pin(ref pin) => {
                let node = pin.node;
                self.tie_to_ground(format!("{name} short"), node, SHORT_OHMS);
            }
            PartKind::Trimmer { .. }
            | PartKind::Transistor { .. }
            | PartKind::Regulator(_)
            | PartKind::VideoDriver(_)
            | PartKind::FieldEffect { .. }
            | PartKind::Gate(_) => {
                let count = terminals(&part.kind).len();
                return Err(ChangeError::WhichTerminals { part: name, count });
            }
        }
        Ok(())
    }

    fn join(&mut self, first: NodeId, second: NodeId) -> Result<(), ChangeError> {
        self.check_node(first)?;
        self.check_node(second)?;
        if first != second {
            let name = format!("join {} {}", self.nodes[first.0], self.nodes[second.0]);
            let kind = PartKind::Resistor { ends: [first, second], ohms: SHORT_OHMS };
            self.parts.push(Part { name, kind });
        }
        Ok(())
    }

    fn tie_to_ground(&mut self, name: String, node: NodeId, ohms: f64) {
        if node != NodeId::GROUND {
            let kind = PartKind::Resistor { ends: [node, NodeId::GROUND], ohms };
            self.parts.push(Part { name, kind });
        }
    }
}

impl Part {
    /// Gives it another main value; see [`Change::Value`].
    pub(crate) fn set_value(&mut self, value: f64) -> Result<(), ChangeError> {
        let slot = match &mut self.kind {
            PartKind::Resistor { ohms, .. }
            | PartKind::Trimmer { ohms, .. }
            | PartKind::Contact { ohms, .. } => ohms,
            PartKind::RealCapacitor(part) => &mut part.farads,
            PartKind::Cable(part) => &mut part.metres,
            PartKind::Capacitor { farads, .. } => farads,
            PartKind::Inductor { henries, .. } | PartKind::LossyInductor { henries, .. } => henries,
            PartKind::Supply { volts, .. } => volts,
            PartKind::Adapter(part) => &mut part.volts,
            PartKind::Sounder(part) => &mut part.ohms,
            PartKind::Regulator(part) => &mut part.volts,
            PartKind::VideoDriver(part) => &mut part.gain,
            PartKind::Draw { amps, .. } | PartKind::Consumption { amps, .. } => amps,
            PartKind::Diode { model: DiodeModel { breakdown: Some(breakdown), .. }, .. } => {
                &mut breakdown.volts
            }
            PartKind::Diode { .. }
            | PartKind::Transistor { .. }
            | PartKind::FieldEffect { .. }
            | PartKind::AnalogueSwitch(_)
            | PartKind::Gate(_)
            | PartKind::Pin(_) => return Err(ChangeError::NoValue { part: self.name.clone() }),
        };
        if !value.is_finite() || value <= 0.0 {
            return Err(ChangeError::Impossible { part: self.name.clone(), value });
        }
        *slot = value;
        Ok(())
    }

    fn set_position(&mut self, share: f64) -> Result<(), ChangeError> {
        let PartKind::Trimmer { position, .. } = &mut self.kind else {
            return Err(ChangeError::NoValue { part: self.name.clone() });
        };
        if !(0.0..=1.0).contains(&share) {
            return Err(ChangeError::Impossible { part: self.name.clone(), value: share });
        }
        *position = share;
        Ok(())
    }

    fn set_logic(&mut self, logic: Logic) -> Result<(), ChangeError> {
        let PartKind::Gate(gate) = &mut self.kind else {
            return Err(ChangeError::NotGate { part: self.name.clone() });
        };
        gate.logic = logic;
        Ok(())
    }

    fn terminal_mut(&mut self, terminal: usize) -> Result<&mut NodeId, ChangeError> {
        let missing = ChangeError::NoTerminal { part: self.name.clone(), terminal };
        let mut all = terminals_mut(&mut self.kind);
        if terminal < all.len() { Ok(all.swap_remove(terminal).1) } else { Err(missing) }
    }

    fn swap(&mut self, [first, second]: [usize; 2]) -> Result<(), ChangeError> {
        let first_node = *self.terminal_mut(first)?;
        let second_node = *self.terminal_mut(second)?;
        *self.terminal_mut(first)? = second_node;
        *self.terminal_mut(second)? = first_node;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::load;

    /// A transistor follower under a gate, without a chip's help.
    fn scenario() -> Scenario {
        let text = include_str!("../../scenarios/chapel-follower.toml");
        load("t.toml", &[], &mut |_| Ok(text.to_owned())).unwrap()
    }

    fn id(scenario: &Scenario, name: &str) -> PartId {
        scenario.circuit.part(name).unwrap()
    }

    fn kind<'a>(scenario: &'a Scenario, name: &str) -> &'a PartKind {
        &scenario.circuit.parts[id(scenario, name).0].kind
    }

    #[test]
    fn a_clock_that_follows_its_supply_follows_a_change_of_it() {
        let text = include_str!("../../scenarios/chapel-follower.toml");
        let set = ["coil=25.5uH", "capacitor=220pF", "supply_drift=1000 ppm"];
        let set = set.map(|entry| format!("chip.clock.{entry}"));
        let before = load("t.toml", &set, &mut |_| Ok(text.to_owned())).unwrap();
        let part = id(&before, "V1");
        let PartKind::Supply { volts, .. } = *kind(&before, "V1") else { panic!("a supply") };
        let after = before.changed(&Change::Value { part, value: volts - 1.0 }).unwrap();
        let hertz = |one: &Scenario| one.raster.timing.clock.hertz();
        // A thousandth for a volt less; behind 10 Ω the rail falls by a little less than its source.
        let ratio = hertz(&after) / hertz(&before);
        assert!((ratio - 0.999).abs() < 2e-5, "{ratio}");
    }

    #[test]
    fn a_value_is_changed_and_nothing_else() {
        let before = scenario();
        let part = id(&before, "R1");
        let after = before.changed(&Change::Value { part, value: 2200.0 }).unwrap();
        let PartKind::Resistor { ohms, .. } = kind(&after, "R1") else { panic!("a resistor") };
        assert!((ohms - 2200.0).abs() < 1e-9);
        let back = after.changed(&Change::Value { part, value: 1500.0 }).unwrap();
        assert_eq!(before, back);
    }

    #[test]
    fn an_open_part_leaves_no_node_floating_and_moves_no_id() {
        let before = scenario();
        for (index, part) in before.circuit.parts.iter().enumerate() {
            let after = before.changed(&Change::Open(PartId(index))).unwrap();
            assert_eq!(after.part_spans.len(), after.circuit.parts.len());
            for (old, new) in before.circuit.parts.iter().zip(&after.circuit.parts) {
                assert_eq!(old.name, new.name);
            }
            let touched = |scenario: &Scenario| {
                let mut nodes: Vec<NodeId> = scenario
                    .circuit
                    .parts
                    .iter()
                    .flat_map(|part| terminals(&part.kind))
                    .map(|(_, node)| node)
                    .collect();
                nodes.sort();
                nodes.dedup();
                nodes
            };
            assert_eq!(touched(&before), touched(&after), "{}", part.name);
            assert_eq!(before.circuit.pins().count(), after.circuit.pins().count());
        }
    }

    #[test]
    fn emitter_and_base_can_be_exchanged() {
        let before = scenario();
        let part = id(&before, "Q1");
        let after = before.changed(&Change::Swap { part, terminals: [1, 2] }).unwrap();
        let (
            PartKind::Transistor { base, emitter, .. },
            PartKind::Transistor { base: b, emitter: e, .. },
        ) = (kind(&before, "Q1"), kind(&after, "Q1"))
        else {
            panic!("a transistor")
        };
        assert_eq!((base, emitter), (e, b));
    }

    #[test]
    fn joined_nodes_are_a_part_that_can_be_named() {
        let before = scenario();
        let [left, right] = ["left", "right"].map(|name| before.circuit.node(name).unwrap());
        let after = before.changed(&Change::Join(left, right)).unwrap();
        let PartKind::Resistor { ends, ohms } = kind(&after, "join left right") else {
            panic!("a resistor")
        };
        assert_eq!(*ends, [left, right]);
        assert!((ohms - SHORT_OHMS).abs() < 1e-9);
    }

    #[test]
    fn a_change_that_cannot_be_made_says_why() {
        let board = scenario();
        let [q1, r1] = ["Q1", "R1"].map(|name| id(&board, name));
        for (change, words) in [
            (Change::Short(q1), "`Q1` has 3 terminals: say which of them are joined"),
            (Change::Value { part: q1, value: 1.0 }, "`Q1` has no value to change"),
            (Change::Value { part: r1, value: -1.0 }, "`R1` cannot have a value of -1"),
            (Change::Logic { part: r1, logic: Logic::Nor }, "`R1` is not a gate"),
            (Change::Swap { part: r1, terminals: [0, 2] }, "`R1` has no terminal 2"),
            (Change::Open(PartId(999)), "there is no such part"),
            (Change::Join(NodeId(0), NodeId(999)), "there is no such node"),
        ] {
            assert_eq!(board.changed(&change).unwrap_err().to_string(), words);
        }
    }
}
