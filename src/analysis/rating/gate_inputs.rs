//! Inputs of gates and controls of analogue switches: above their supply, near their switching
//! level, held by nothing.

use crate::analysis::rating::COMMON;
use crate::analysis::rating::judged::Judged;
use crate::analysis::rating::judged::Subject;
use crate::analysis::rating::judged::Unit;
use crate::analysis::rating::judged::Word;
use crate::analysis::rating::judged::look_above;
use crate::analysis::rating::judged::stop_above;
use crate::analysis::rating::standing::Standing;
use crate::analysis::rating::tally::Finding;
use crate::analysis::rating::tally::Place;
use crate::analysis::rating::tally::Tally;
use crate::analysis::rating::words::amount;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::circuit::PinStage;
use crate::network::circuit::Threshold;
use crate::network::device::DiodeModel;
use crate::network::error::NetworkError;
use crate::scenario::limits::Bound;
use crate::scenario::limits::Limits;

/// Volts above its supply, or below ground, from which an input's diodes conduct: data sheets of
/// both families allow 0.5 V.
const BEYOND_VOLTS: f64 = 0.5;
const BEYOND_SOURCE: &str = "4000B and 74HC32 data sheets";
/// Distance that an input should keep from its switching level, V.
const MARGIN_VOLTS: f64 = 0.5;
/// Drop of a protection diode when a series resistor is chosen, V.
const CLAMP_VOLTS: f64 = 0.6;
/// Resistance through which nothing is held: the 0.1 µA that an input of the 4000B family may leak
/// makes 1 V of it.
const FLOATING_OHMS: f64 = 10e6;
/// Current with which the resistance is tried, A.
const TRIAL_AMPS: f64 = 1e-9;
/// The high level that the class of chips guarantees lies this far below its supply, V.
pub(super) const CHIP_DROP_VOLTS: f64 = 2.0;

/// What has inputs with protection diodes.
pub(super) struct Inputs<'a> {
    pub(super) id: PartId,
    pub(super) name: &'a str,
    /// Inputs that are logic, each node once.
    pub(super) logic: Vec<NodeId>,
    /// Everything with diodes, each node once.
    pub(super) clamped: Vec<NodeId>,
    pub(super) supply: NodeId,
    pub(super) threshold: Threshold,
    pub(super) clamp: Option<DiodeModel>,
}

impl<'a> Inputs<'a> {
    pub(super) fn of(id: PartId, part: &'a Part) -> Option<Self> {
        let name = part.name.as_str();
        match &part.kind {
            PartKind::Gate(gate) => {
                let logic = once(&gate.inputs);
                let (clamped, supply) = (logic.clone(), gate.supply);
                let (threshold, clamp) = (gate.threshold, gate.clamp);
                Some(Self { id, name, logic, clamped, supply, threshold, clamp })
            }
            PartKind::AnalogueSwitch(switch) => {
                let [from, to] = switch.ends;
                let clamped = once(&[switch.control, from, to]);
                let (logic, supply) = (vec![switch.control], switch.supply);
                let (threshold, clamp) = (switch.threshold, switch.clamp);
                Some(Self { id, name, logic, clamped, supply, threshold, clamp })
            }
            _ => None,
        }
    }

    /// Current through the diode from a node to the supply, A; of all inputs at that node.
    pub(super) fn clamp_amps(&self, part: &Part, node: NodeId, at: &Standing<'_>) -> f64 {
        let times = match &part.kind {
            PartKind::Gate(gate) => gate.inputs.iter().filter(|input| **input == node).count(),
            _ => 1,
        };
        let above = at.volts(node) - at.volts(self.supply);
        let amps = self.clamp.map_or(0.0, |clamp| clamp.forward_current(above).value);
        crate::base::math::from_usize(times) * amps.max(0.0)
    }
}

fn once(nodes: &[NodeId]) -> Vec<NodeId> {
    let mut all = nodes.to_vec();
    all.sort_unstable();
    all.dedup();
    all.retain(|node| *node != NodeId::GROUND);
    all
}

pub(super) fn rate(at: &Standing<'_>, tally: &mut Tally) -> Result<(), NetworkError> {
    for (id, part, limits) in at.parts() {
        let (Some(inputs), Limits::Gate(limits)) = (Inputs::of(id, part), limits) else { continue };
        for &node in &inputs.clamped {
            beyond(at, &inputs, node, tally);
            if let Some(bound) = limits.clamp {
                clamped(at, &inputs, (node, bound), tally)?;
            }
        }
        for &node in &inputs.logic {
            margin(at, &inputs, node, tally);
            floating(at, &inputs, node, tally)?;
        }
    }
    Ok(())
}

fn finding(
    inputs: &Inputs<'_>,
    node: NodeId,
    (subject, unit): (Subject, Unit),
    judged: Judged,
    sentence: String,
) -> Finding {
    let place = Place::Part(inputs.id, node);
    Finding { place, part: inputs.name.to_owned(), subject, unit, judged, sentence }
}

/// Volts above the supply or below ground, whichever is more.
fn beyond(at: &Standing<'_>, inputs: &Inputs<'_>, node: NodeId, tally: &mut Tally) {
    let (volts, supply) = (at.volts(node), at.volts(inputs.supply));
    let (over, side) = if volts - supply > -volts {
        (volts - supply, "above its supply")
    } else {
        (-volts, "below ground")
    };
    let judged = Judged::at_most(over, look_above(BEYOND_VOLTS, BEYOND_SOURCE));
    let name = at.node_name(node);
    let sentence = if over > 0.0 {
        format!(
            "{}: its input `{name}` stands at {}, {} {side}.",
            inputs.name,
            amount(volts, Unit::Volt),
            amount(over, Unit::Volt)
        )
    } else {
        format!("{}: its input `{name}` stays within its supply.", inputs.name)
    };
    tally.add(
        finding(inputs, node, (Subject::InputVolts, Unit::Volt), judged, sentence),
        Some(at.state),
    );
}

/// Current through the protection diodes; if it is too much, the resistor that would limit it.
fn clamped(
    at: &Standing<'_>,
    inputs: &Inputs<'_>,
    (node, bound): (NodeId, Bound),
    tally: &mut Tally,
) -> Result<(), NetworkError> {
    let Some(clamp) = inputs.clamp else { return Ok(()) };
    let above = at.volts(node) - at.volts(inputs.supply);
    let [up, down] = [above, -at.volts(node)].map(|volts| clamp.forward_current(volts).value);
    let amps = up.max(down).max(0.0);
    let judged = Judged::at_most(amps, bound);
    let name = at.node_name(node);
    let mut sentence = format!(
        "{}: {} flows through the diodes of its input `{name}`",
        inputs.name,
        amount(amps, Unit::Ampere)
    );
    if judged.word != Word::Ok && up > down {
        let free = at.solve_edited(&without_clamps(at.circuit, node))?.volts(node);
        let over = free - at.volts(inputs.supply) - CLAMP_VOLTS;
        if over > 0.0 {
            let ohms = over / bound.look;
            sentence += &format!(
                "; {} in series with it keep that below {}",
                amount(ohms, Unit::Ohm),
                amount(bound.look, Unit::Ampere)
            );
        }
    }
    sentence.push('.');
    tally.add(
        finding(inputs, node, (Subject::ClampCurrent, Unit::Ampere), judged, sentence),
        Some(at.state),
    );
    Ok(())
}

/// The board with no diodes at a node, which then stands where its drivers put it.
fn without_clamps(circuit: &Circuit, node: NodeId) -> Circuit {
    let mut circuit = circuit.clone();
    for part in &mut circuit.parts {
        match &mut part.kind {
            PartKind::Gate(gate) if gate.inputs.contains(&node) => gate.clamp = None,
            PartKind::AnalogueSwitch(switch)
                if switch.control == node || switch.ends.contains(&node) =>
            {
                switch.clamp = None;
            }
            _ => {}
        }
    }
    circuit
}

/// How far the input is from where it switches.
fn margin(at: &Standing<'_>, inputs: &Inputs<'_>, node: NodeId, tally: &mut Tally) {
    let (volts, supply) = (at.volts(node), at.volts(inputs.supply));
    let [low, typical, high] = inputs.threshold.levels(supply);
    let is_high = volts > typical;
    let distance = (volts - typical).abs();
    let guaranteed = if is_high { volts >= high } else { volts <= low };
    let mut judged = Judged::at_least(distance, MARGIN_VOLTS, Word::Look, COMMON);
    if !guaranteed {
        judged.word = Word::Look;
        // What counts then is the guaranteed level, from which the input is this far.
        judged.limit = if is_high { high - typical } else { typical - low };
    }
    let word = if is_high { "high" } else { "low" };
    let mut sentence = format!(
        "{}: its input `{}` is {word} at {}, {} from {} where it switches",
        inputs.name,
        at.node_name(node),
        amount(volts, Unit::Volt),
        amount(distance, Unit::Volt),
        amount(typical, Unit::Volt)
    );
    if !guaranteed {
        let level = if is_high { high } else { low };
        sentence +=
            &format!("; the data sheet guarantees {word} only from {}", amount(level, Unit::Volt));
    }
    sentence.push('.');
    tally.add(
        finding(inputs, node, (Subject::ThresholdMargin, Unit::Volt), judged, sentence),
        Some(at.state),
    );
}

/// Whether an output drives a node in this state, so that it need not be tried.
fn is_driven(at: &Standing<'_>, node: NodeId) -> bool {
    let pins = at.scenario.pin_levels(at.state.on, at.state.part);
    let mut levels = pins.iter();
    at.circuit.parts.iter().any(|part| match &part.kind {
        PartKind::Pin(pin) => {
            let level = levels.next().map_or(0, |level| usize::from(level.0));
            let stage = pin.levels.get(level);
            pin.node == node && !matches!(stage, Some(PinStage::Off { .. }) | None)
        }
        PartKind::Gate(gate) => gate.output == node,
        PartKind::VideoDriver(driver) => driver.output == node,
        PartKind::Supply { node: fed, .. } => *fed == node,
        PartKind::Regulator(regulator) => regulator.output == node,
        _ => false,
    })
}

/// The resistance that holds an input, found by drawing a little current from it.
fn floating(
    at: &Standing<'_>,
    inputs: &Inputs<'_>,
    node: NodeId,
    tally: &mut Tally,
) -> Result<(), NetworkError> {
    let ohms = if is_driven(at, node) {
        0.0
    } else {
        let mut circuit = at.circuit.clone();
        let kind = PartKind::Draw { node, amps: TRIAL_AMPS };
        circuit.parts.push(Part { name: "trial current".to_owned(), kind });
        let moved = at.solve_edited(&circuit)?.volts(node) - at.volts(node);
        moved.abs() / TRIAL_AMPS
    };
    let judged = Judged::at_most(ohms, stop_above(FLOATING_OHMS, "4000B data sheets"));
    let name = at.node_name(node);
    let sentence = if judged.word == Word::Ok {
        format!("{}: its input `{name}` is held.", inputs.name)
    } else {
        format!(
            "{}: its input `{name}` floats, held through {} only: tie it to a rail, to ground or to \
             an output.",
            inputs.name,
            amount(ohms, Unit::Ohm)
        )
    };
    tally.add(
        finding(inputs, node, (Subject::FloatingInput, Unit::Ohm), judged, sentence),
        Some(at.state),
    );
    Ok(())
}
