//! How a suspect is put right, as changes to be tried one after another.

use crate::base::math;
use crate::network::bipolar::Polarity;
use crate::network::circuit::Circuit;
use crate::network::circuit::Gate;
use crate::network::circuit::Logic;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::circuit::Pin;
use crate::network::circuit::PinStage;
use crate::network::circuit::Threshold;
use crate::network::device::OutputCurve;
use crate::network::passive::ContactState;
use crate::network::passive::contact_ohms;
use crate::network::passive::track_share;
use crate::network::terminal::terminals;
use crate::scenario::change::Change;

/// A change and how far it goes, in decades; 0 for what is no matter of degree.
pub(super) type Remedy = (f64, Change);

/// Preferred values of resistors within a decade: E12, IEC 60063.
const E12: [f64; 12] = [1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2];
/// Loads that a socket may see, from one set to a meter, Ω.
const LOADS: [f64; 12] =
    [75.0, 150.0, 300.0, 470.0, 680.0, 1e3, 1.5e3, 2.2e3, 3.3e3, 4.7e3, 1e4, 1e6];
/// By how much an output may be too weak.
const STRONGER: [f64; 9] = [1.25, 1.6, 2.0, 3.0, 5.0, 10.0, 30.0, 100.0, 1e4];
/// A pull resistor as it is usually fitted, Ω; common practice, no source.
const PULL_OHMS: f64 = 4.7e3;

/// A resistance between two nodes: a resistor, an inductor's winding, one side of a trimmer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Branch {
    pub(super) part: PartId,
    pub(super) ends: [NodeId; 2],
    pub(super) ohms: f64,
}

impl Branch {
    /// The end that is not `node`.
    pub(super) fn other(&self, node: NodeId) -> NodeId {
        if self.ends[0] == node { self.ends[1] } else { self.ends[0] }
    }
}

/// The resistances of a part.
pub(super) fn branches(circuit: &Circuit, part: PartId) -> Vec<Branch> {
    let branch = |ends, ohms| Branch { part, ends, ohms };
    let all = match circuit.parts[part.0].kind {
        PartKind::Resistor { ends, ohms }
        | PartKind::Inductor { ends, ohms, .. }
        | PartKind::LossyInductor { ends, ohms, .. } => vec![branch(ends, ohms)],
        PartKind::Contact { ends, ohms, state } => vec![branch(ends, contact_ohms(state, ohms))],
        PartKind::Trimmer { ends, wiper, ohms, position, middle, contact_ohms } => {
            let share = track_share(position, middle);
            vec![
                branch([ends[0], wiper], ohms * share + contact_ohms),
                branch([wiper, ends[1]], ohms * (1.0 - share) + contact_ohms),
            ]
        }
        _ => Vec::new(),
    };
    all.into_iter().filter(|branch| branch.ends[0] != branch.ends[1]).collect()
}

/// The resistance of a part between two nodes.
pub(super) fn branch_between(
    circuit: &Circuit,
    part: PartId,
    a: NodeId,
    b: NodeId,
) -> Option<Branch> {
    let all = branches(circuit, part);
    all.into_iter().find(|branch| branch.ends == [a, b] || branch.ends == [b, a])
}

/// The change that gives a resistance another value.
fn with_ohms(circuit: &Circuit, branch: &Branch, value: f64) -> Change {
    let part = branch.part;
    let kind = match circuit.parts[part.0].kind {
        PartKind::Contact { ends, .. } => {
            PartKind::Contact { ends, ohms: value, state: ContactState::Closed }
        }
        PartKind::LossyInductor { ends, henries, parallel_ohms, .. } => {
            PartKind::LossyInductor { ends, henries, ohms: value, parallel_ohms }
        }
        PartKind::Trimmer { ends, wiper, ohms, position, middle, .. } => {
            let share = track_share(position, middle);
            let (mut near, mut far) = (ohms * share, ohms * (1.0 - share));
            *(if branch.ends == [ends[0], wiper] { &mut near } else { &mut far }) = value;
            let ohms = near + far;
            let position = near / ohms;
            PartKind::Trimmer { ends, wiper, ohms, position, middle: 0.5, contact_ohms: 0.0 }
        }
        PartKind::Inductor { ends, henries, .. } => {
            PartKind::Inductor { ends, henries, ohms: value }
        }
        _ => return Change::Value { part, value },
    };
    Change::Replace { part, kind: Box::new(kind) }
}

/// Preferred values from the one next to `ohms`, further and further from it: every one of the
/// first decade, then three a decade, upwards or downwards, from 1 Ω to 100 MΩ.
fn preferred(ohms: f64, upwards: bool) -> Vec<f64> {
    let sign = if upwards { 1.0 } else { -1.0 };
    let decades = (0..8).flat_map(|decade| {
        E12.iter()
            .enumerate()
            .map(move |(at, &value)| (at, value * math::pow(10.0, f64::from(decade))))
    });
    let beyond = |value: f64| sign * math::log10(value / ohms.max(1e-3));
    let mut values: Vec<f64> = decades
        .filter(|&(at, value)| beyond(value) > 0.01 && (beyond(value) < 1.0 || at % 4 == 0))
        .map(|(_, value)| value)
        .collect();
    values.sort_by(|a, b| beyond(*a).total_cmp(&beyond(*b)));
    values
}

/// Changes that make a resistance larger or smaller, little by little.
pub(super) fn resistances(circuit: &Circuit, branch: &Branch, upwards: bool) -> Vec<Remedy> {
    let ohms = branch.ohms.max(1e-3);
    let values = preferred(ohms, upwards).into_iter();
    values
        .map(|value| (math::log10(value / ohms).abs(), with_ohms(circuit, branch, value)))
        .collect()
}

/// Lighter and lighter loads.
pub(super) fn loads(circuit: &Circuit, branch: &Branch) -> Vec<Remedy> {
    let lighter = LOADS.iter().filter(|&&ohms| ohms > 1.01 * branch.ohms);
    lighter
        .map(|&ohms| (math::log10(ohms / branch.ohms), with_ohms(circuit, branch, ohms)))
        .collect()
}

/// Other ways to fit a diode or a transistor.
pub(super) fn turned(part: PartId, kind: &PartKind) -> Vec<Remedy> {
    match kind {
        PartKind::Diode { .. } => vec![(0.0, Change::Swap { part, terminals: [0, 1] })],
        PartKind::Transistor { collector, base, emitter, model } => {
            let mut model = *model;
            model.polarity = match model.polarity {
                Polarity::Npn => Polarity::Pnp,
                Polarity::Pnp => Polarity::Npn,
            };
            let (collector, base, emitter) = (*collector, *base, *emitter);
            let kind = Box::new(PartKind::Transistor { collector, base, emitter, model });
            let swaps = [[0, 2], [1, 2], [0, 1]];
            let mut all: Vec<Remedy> =
                swaps.map(|terminals| (0.0, Change::Swap { part, terminals })).to_vec();
            all.push((0.0, Change::Replace { part, kind }));
            all
        }
        _ => Vec::new(),
    }
}

/// Other kinds of gate with the same inputs: first those of the same polarity.
pub(super) fn other_logic(part: PartId, gate: &Gate) -> Vec<Remedy> {
    const PLAIN: [Logic; 3] = [Logic::Or, Logic::And, Logic::Xor];
    const INVERTING: [Logic; 2] = [Logic::Nor, Logic::Nand];
    let (first, second): (Vec<Logic>, Vec<Logic>) = match gate.logic {
        Logic::Buffer => (vec![], vec![Logic::Not]),
        Logic::Not => (vec![], vec![Logic::Buffer]),
        Logic::Or | Logic::And | Logic::Xor => (PLAIN.to_vec(), INVERTING.to_vec()),
        // The inverse of the same function is the likelier mistake.
        Logic::Nor => (vec![Logic::Nand, Logic::Or], vec![Logic::And]),
        Logic::Nand => (vec![Logic::Nor, Logic::And], vec![Logic::Or]),
    };
    let other = |logic: &Logic| *logic != gate.logic;
    let first = first.into_iter().filter(other).map(|logic| (0.0, Change::Logic { part, logic }));
    let second = second.into_iter().map(|logic| (0.05, Change::Logic { part, logic }));
    first.chain(second).collect()
}

/// The inputs of a gate that are tied to `stuck`, tied to `moving` instead.
pub(super) fn freed(part: PartId, gate: &Gate, stuck: NodeId, moving: NodeId) -> Vec<Remedy> {
    let mut gate = gate.clone();
    for input in gate.inputs.iter_mut().filter(|input| **input == stuck) {
        *input = moving;
    }
    vec![(0.0, Change::Replace { part, kind: Box::new(PartKind::Gate(Box::new(gate))) })]
}

/// A diode with about 0.4 V less of forward drop; with less than that left it would leak backwards.
pub(super) fn softened(part: PartId, kind: &PartKind) -> Vec<Remedy> {
    const SOFTER: f64 = 1e4;
    let PartKind::Diode { anode, cathode, mut model } = *kind else { return Vec::new() };
    model.saturation_current *= SOFTER;
    let kind = Box::new(PartKind::Diode { anode, cathode, model });
    vec![(0.0, Change::Replace { part, kind })]
}

/// A resistor that lifts a transistor's base out of the dead zone, smaller and smaller: from the
/// rail for an NPN, from ground for a PNP.
pub(super) fn biased(base: NodeId, polarity: Polarity, rail: NodeId) -> Vec<Remedy> {
    let from = match polarity {
        Polarity::Npn => rail,
        Polarity::Pnp => NodeId::GROUND,
    };
    let values = [47e3, 22e3, 10e3, 6.8e3, 4.7e3, 3.3e3, 2.7e3, 2.2e3, 1.5e3, 1e3];
    values.map(|value| (0.0, added("bias", [from, base], value))).to_vec()
}

fn added(name: &str, ends: [NodeId; 2], ohms: f64) -> Change {
    Change::Add(Part { name: name.to_owned(), kind: PartKind::Resistor { ends, ohms } })
}

/// A gate that switches at `volts`: on another rail if its level follows the rail, or by itself.
pub(super) fn switching_at(
    circuit: &Circuit,
    part: PartId,
    gate: &Gate,
    volts: f64,
) -> Vec<Remedy> {
    let mut all = Vec::new();
    if let Threshold::Share { typical, .. } = gate.threshold {
        let feeds = |other: &Part| match other.kind {
            PartKind::Supply { node, .. } => node == gate.supply,
            _ => false,
        };
        let supply = circuit.parts.iter().position(feeds).map(PartId);
        let value = volts / typical;
        all.extend(supply.map(|part| (0.0, Change::Value { part, value })));
    }
    let mut gate = gate.clone();
    gate.threshold = Threshold::Fixed { low: volts, typical: volts, high: volts };
    let kind = Box::new(PartKind::Gate(Box::new(gate)));
    all.push((0.0, Change::Replace { part, kind }));
    all
}

/// Stronger and stronger outputs; a pin at the level that carries the pulse.
pub(super) fn stronger(part: PartId, kind: &PartKind, level: usize) -> Vec<Remedy> {
    let change = |factor: f64| {
        let mut kind = kind.clone();
        match &mut kind {
            PartKind::Pin(pin) => strengthen(&mut pin.levels[level], factor),
            PartKind::Gate(gate) => {
                for curve in [&mut gate.high, &mut gate.low] {
                    match curve {
                        OutputCurve::Resistance(ohms) => *ohms /= factor,
                        OutputCurve::Saturating { k, .. } => {
                            k.iter_mut().for_each(|(_, k)| *k *= factor);
                        }
                    }
                }
            }
            _ => {}
        }
        Change::Replace { part, kind: Box::new(kind) }
    };
    STRONGER.map(|factor| (math::log10(factor), change(factor))).to_vec()
}

fn strengthen(stage: &mut PinStage, factor: f64) {
    match stage {
        PinStage::Linear { ohms, .. } => *ohms /= factor,
        PinStage::PullUp { k, .. } | PinStage::PullDown { k, .. } => *k *= factor,
        PinStage::Off { .. } => {}
    }
}

/// Whether a stage pulls its pin down.
pub(super) fn pulls_down(stage: &PinStage) -> bool {
    match *stage {
        PinStage::Linear { offset, share, .. } => offset <= 0.0 && share <= 0.0,
        PinStage::PullDown { .. } => true,
        PinStage::PullUp { .. } | PinStage::Off { .. } => false,
    }
}

/// The resistor that a pin lacks which only pulls one way: to the chip's supply, or to a rail if
/// the chip's is not on the board.
pub(super) fn pulled(pin: &Pin, rail: NodeId) -> Vec<Remedy> {
    let supply = if pin.supply == NodeId::GROUND { rail } else { pin.supply };
    let up = pin.levels.iter().any(pulls_down);
    let end = if up { supply } else { NodeId::GROUND };
    vec![(0.0, added("pull", [end, pin.node], PULL_OHMS))]
}

/// A pin that drives as pins do: 1.1 V short of its supply behind 3 kΩ, or 0.8 kΩ to ground; common
/// practice, no source.
pub(super) fn alive(part: PartId, pin: &Pin, high: usize, volts: f64) -> Vec<Remedy> {
    let mut pin = pin.clone();
    for (level, stage) in pin.levels.iter_mut().enumerate() {
        *stage = if level == high {
            PinStage::Linear { offset: volts, share: 0.0, ohms: 3e3 }
        } else {
            PinStage::Linear { offset: 0.0, share: 0.0, ohms: 800.0 }
        };
    }
    vec![(0.0, Change::Replace { part, kind: Box::new(PartKind::Pin(Box::new(pin))) })]
}

/// A terminal of a part tied to another node.
pub(super) fn tied(part: PartId, kind: &PartKind, from: NodeId, to: NodeId) -> Vec<Remedy> {
    let terminals = terminals(kind);
    let terminal = terminals.iter().position(|&(_, node)| node == from);
    terminal.map(|terminal| (0.0, Change::Tie { part, terminal, node: to })).into_iter().collect()
}

/// A rail fed with 5 V.
pub(super) fn fed(rail: NodeId) -> Vec<Remedy> {
    let kind = PartKind::Supply { node: rail, volts: 5.0, ohms: 0.0 };
    vec![(0.0, Change::Add(Part { name: "feed".to_owned(), kind }))]
}

/// A capacitor large enough for anything.
pub(super) fn larger(part: PartId) -> Vec<Remedy> {
    vec![(0.0, Change::Value { part, value: 100e-6 })]
}
