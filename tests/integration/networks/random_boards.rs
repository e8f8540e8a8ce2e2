//! Boards drawn at random, each from its number: sound ones, odd ones and spoilt ones.

use crate::networks::chance::Chance;
use crate::networks::models;
use crate::networks::pieces;
use backporch::network::circuit::Circuit;
use backporch::network::circuit::NodeId;
use backporch::network::circuit::Part;
use backporch::network::circuit::PartKind;
use backporch::network::terminal::terminals_mut;
use backporch::signal::pulse_train::Level;

/// A board being drawn.
pub(crate) struct Sketch {
    pub(crate) chance: Chance,
    /// Nodes so far, ground among them.
    pub(crate) nodes: usize,
    pub(crate) kinds: Vec<PartKind>,
    /// Whether its resistors go from a milliohm to a teraohm.
    pub(crate) wide: bool,
}

/// A board, and two states of its chip.
#[derive(Debug)]
pub(crate) struct Drawn {
    pub(crate) circuit: Circuit,
    pub(crate) levels: [Vec<Level>; 2],
}

/// Most gates and pins on a board: the checks try every state of them.
const MOST_DRIVERS: usize = 6;

impl Sketch {
    pub(crate) fn node(&mut self) -> NodeId {
        self.nodes += 1;
        NodeId(self.nodes - 1)
    }

    /// Any node there is, ground more often than others.
    pub(crate) fn any(&mut self) -> NodeId {
        if self.chance.percent(15) { NodeId::GROUND } else { NodeId(self.chance.below(self.nodes)) }
    }

    pub(crate) fn add(&mut self, kind: PartKind) {
        self.kinds.push(kind);
    }

    pub(crate) fn ohms(&mut self) -> f64 {
        if self.wide && self.chance.percent(50) {
            self.chance.decades(1e-3, 1e12)
        } else {
            self.chance.decades(10.0, 1e6)
        }
    }

    pub(crate) fn resistor(&mut self, from: NodeId, to: NodeId) {
        let ohms = self.ohms();
        self.add(PartKind::Resistor { ends: [from, to], ohms });
    }

    pub(crate) fn supply(&mut self, node: NodeId) {
        let chance = &mut self.chance;
        let volts = match chance.below(20) {
            0 => chance.sign() * chance.decades(1e-9, 1e-3),
            1 => chance.sign() * chance.decades(30.0, 1e3),
            2 | 3 => -chance.between(1.0, 24.0),
            _ => chance.between(1.0, 24.0),
        };
        let ohms = if chance.percent(60) { 0.0 } else { chance.decades(1e-3, 1e4) };
        self.add(PartKind::Supply { node, volts, ohms });
    }

    pub(crate) fn drivers(&self) -> usize {
        let drives = |kind: &&PartKind| {
            matches!(kind, PartKind::Gate(_) | PartKind::Pin(_) | PartKind::AnalogueSwitch(_))
        };
        self.kinds.iter().filter(drives).count()
    }

    pub(crate) fn may_drive(&self, more: usize) -> bool {
        self.drivers() + more <= MOST_DRIVERS
    }

    fn finish(mut self) -> Drawn {
        let kinds = std::mem::take(&mut self.kinds);
        let parts = (0..)
            .zip(kinds)
            .map(|(index, kind): (usize, _)| Part { name: format!("X{index}"), kind });
        let circuit = Circuit {
            nodes: (0..self.nodes)
                .map(|node| if node == 0 { "ground".to_owned() } else { format!("n{node}") })
                .collect(),
            parts: parts.collect(),
        };
        let mut levels = || {
            let pins = circuit.pins();
            pins.map(|(_, pin)| Level(u8::try_from(self.chance.below(pin.levels.len())).unwrap()))
                .collect()
        };
        let levels = [levels(), levels()];
        Drawn { circuit, levels }
    }
}

/// The board of that number.
pub(crate) fn draw(number: u64) -> Drawn {
    let mut chance = Chance::new(number);
    let wide = chance.percent(50);
    let mut sketch = Sketch { chance, nodes: 1, kinds: Vec::new(), wide };
    for _ in 0..sketch.chance.count(1, 2) {
        let rail = sketch.node();
        sketch.supply(rail);
    }
    for _ in 0..sketch.chance.count(0, 2) {
        pieces::add(&mut sketch);
    }
    for _ in 0..sketch.chance.count(0, 5) {
        // A new node, held by a resistor as a rule.
        let other = sketch.any();
        let node = sketch.node();
        if sketch.chance.percent(93) {
            sketch.resistor(node, other);
        }
    }
    for _ in 0..sketch.chance.count(0, 6) {
        scatter(&mut sketch);
    }
    if sketch.chance.percent(30) {
        spoil(&mut sketch);
    }
    sketch.finish()
}

/// A part between any nodes whatever.
fn scatter(sketch: &mut Sketch) {
    let [a, b, c] = [sketch.any(), sketch.any(), sketch.any()];
    match sketch.chance.below(20) {
        0..=2 => sketch.resistor(a, b),
        3..=5 => {
            let model = models::diode(&mut sketch.chance);
            sketch.add(PartKind::Diode { anode: a, cathode: b, model });
        }
        6 | 7 => pieces::transistor(sketch, [a, b, c]),
        8 => {
            let model = models::field_effect(&mut sketch.chance);
            sketch.add(PartKind::FieldEffect { drain: a, gate: b, source: c, model });
        }
        9 => sketch.supply(a),
        10 => {
            let amps = sketch.chance.sign() * sketch.chance.decades(1e-9, 0.1);
            sketch.add(PartKind::Draw { node: a, amps });
        }
        11 => {
            let amps = sketch.chance.decades(1e-6, 0.1);
            sketch.add(PartKind::Consumption { node: a, amps });
        }
        12 | 13 if sketch.may_drive(1) => pieces::gate(sketch, &[a], b, c),
        14 if sketch.may_drive(1) => pieces::pin(sketch, a, b),
        15 if sketch.may_drive(1) => pieces::analogue_switch(sketch, [a, b], c),
        _ => pieces::passive(sketch, [a, b], c),
    }
}

/// What people do to boards.
fn spoil(sketch: &mut Sketch) {
    for _ in 0..sketch.chance.count(1, 2) {
        if sketch.kinds.is_empty() {
            return;
        }
        let at = sketch.chance.below(sketch.kinds.len());
        match sketch.chance.below(6) {
            // A part left out.
            0 | 1 => drop(sketch.kinds.swap_remove(at)),
            // A part tied to itself.
            2 => {
                let node = sketch.any();
                for (_, terminal) in terminals_mut(&mut sketch.kinds[at]) {
                    *terminal = node;
                }
            }
            // A terminal in the wrong hole.
            3 => {
                let node = sketch.any();
                let mut terminals = terminals_mut(&mut sketch.kinds[at]);
                let terminal = sketch.chance.below(terminals.len());
                *terminals[terminal].1 = node;
            }
            // A part the wrong way round.
            4 => {
                let mut terminals = terminals_mut(&mut sketch.kinds[at]);
                let nodes: Vec<NodeId> = terminals.iter().rev().map(|(_, node)| **node).collect();
                for ((_, terminal), node) in terminals.iter_mut().zip(nodes) {
                    **terminal = node;
                }
            }
            // Two nodes on one strip.
            _ => {
                let (from, to) = (sketch.any(), sketch.any());
                for kind in &mut sketch.kinds {
                    for (_, terminal) in terminals_mut(kind) {
                        if *terminal == from && from != NodeId::GROUND {
                            *terminal = to;
                        }
                    }
                }
            }
        }
    }
}
