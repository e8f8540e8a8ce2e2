//! A finding in plain words, with its numbers.

use crate::analysis::cause::Cause;
use crate::analysis::cause::suspect::Scene;
use crate::analysis::cause::suspect::Suspect;
use crate::analysis::cause::suspect::SuspectKind;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartKind;
use crate::network::passive::ContactState;
use crate::network::passive::OPEN_CONTACT_OHMS;
use crate::scenario::Scenario;
use crate::signal::element::ElementId;

/// "1.14 V", "320 mV".
pub(super) fn volts(value: f64) -> String {
    if value.abs() >= 0.9995 { format!("{value:.2} V") } else { format!("{:.0} mV", 1e3 * value) }
}

/// "47 pF".
pub(super) fn picofarads(farads: f64) -> String {
    format!("{:.0} pF", 1e12 * farads)
}

/// "4.7 kΩ".
pub(super) fn ohms(value: f64) -> String {
    if value >= 1e6 {
        format!("{:.3} MΩ", value / 1e6).replace(".000", "")
    } else if value >= 1e3 {
        format!("{} kΩ", (value / 10.0).round() / 100.0)
    } else {
        format!("{} Ω", (value * 10.0).round() / 10.0)
    }
}

/// Nothing joins the element's pins to the socket.
pub(super) fn no_way(scenario: &Scenario, element: ElementId) -> Cause {
    let name = &scenario.raster.elements[usize::from(element.0)];
    let socket = scenario.circuit.node_name(scenario.output.node);
    Cause {
        part: name.clone(),
        node: socket.to_owned(),
        words: format!("no part leads from a pin that carries {name} to `{socket}`."),
        suspect: None,
        cures: false,
    }
}

/// The finding about one suspect.
pub(super) fn finding(
    scenario: &Scenario,
    scene: &Scene,
    element: ElementId,
    delta_v: f64,
    suspect: Suspect,
    cures: bool,
) -> Cause {
    let circuit = &scenario.circuit;
    let part = circuit.parts[suspect.part.0].name.clone();
    let node = circuit.node_name(suspect.node).to_owned();
    let name = &scenario.raster.elements[usize::from(element.0)];
    let mut words = sentence(scene, &suspect, name, &part, &node);
    if !cures {
        words.push_str(&format!(
            " No single part brings {name} back: {} is left at the socket.",
            volts(delta_v)
        ));
    }
    Cause { part, node, words, suspect: Some(suspect), cures }
}

fn sentence(scene: &Scene, suspect: &Suspect, name: &str, part: &str, node: &str) -> String {
    let (before, after) = (volts(suspect.pulse_in_v), volts(suspect.pulse_out_v));
    let value = value(scene, suspect);
    match suspect.kind {
        SuspectKind::Rival => format!(
            "{name} reaches {after} at `{node}` instead of {before}{}: {part}, tied to the same \
             node, holds it.",
            needed(scene, suspect.node)
        ),
        SuspectKind::JoinedInput => format!(
            "{name} reaches {after} at `{node}` instead of {before}{}: {part}{value} joins the \
             node to another output, which holds it.",
            needed(scene, suspect.node)
        ),
        SuspectKind::NoPull => format!(
            "pin {part} only pulls `{node}` one way and nothing pulls it back: {after} of pulse. \
             A pull-up resistor is missing."
        ),
        SuspectKind::Logic => format!(
            "{name} reaches {part} as {before}, well across its switching level, but {part} is of \
             a kind whose output does not follow that input alone: {after} at `{node}`."
        ),
        SuspectKind::StuckInput => format!(
            "{name} reaches {part} as {before}, but the other input `{node}` stands high all the \
             time and holds the output: {after} comes out."
        ),
        SuspectKind::Junction => format!(
            "{name} reaches {part} as {before}, but stays within its junction's dead zone: only \
             {after} comes out at `{node}`. It lacks a bias of about 0.65 V."
        ),
        SuspectKind::Threshold { volts: level, .. } => format!(
            "{name} moves `{node}` from {} to {} only; {part} switches at {}.",
            volts(scene.black_v[suspect.node.0]),
            volts(scene.lit_v[suspect.node.0]),
            volts(level)
        ),
        SuspectKind::Series => format!(
            "{name} reaches {part}{value} as {before} and leaves it as {after} at `{node}`: too \
             much is lost across {part} against what hangs on `{node}`."
        ),
        SuspectKind::Shunt => format!(
            "{name} is pulled down to {after} at `{node}`, from {before} before it{}: {part}{value} \
             takes it.",
            needed(scene, suspect.node)
        ),
        SuspectKind::Load => format!(
            "{name} is pulled down to {after} at `{node}`, from {before} before it: the load{value} \
             is too heavy for what drives it."
        ),
        SuspectKind::WeakPin => format!(
            "the chip's pin {part} gives {before} open but only {after} at `{node}`{}: too weak \
             for what hangs on it.",
            needed(scene, suspect.node)
        ),
    }
}

/// ", where U1 needs 2.50 V" if a gate on the way listens at the node.
fn needed(scene: &Scene, node: NodeId) -> String {
    let gate = scene.way.iter().filter(|hop| hop.from == node).find_map(|hop| {
        let part = &scene.scenario.circuit.parts[hop.part.0];
        match &part.kind {
            PartKind::Gate(gate) => Some((part, gate)),
            _ => None,
        }
    });
    gate.map_or(String::new(), |(part, gate)| {
        let level = gate.threshold.typical(scene.black_v[gate.supply.0]);
        format!(", where {} needs {}", part.name, volts(level))
    })
}

fn value(scene: &Scene, suspect: &Suspect) -> String {
    match scene.scenario.circuit.parts[suspect.part.0].kind {
        PartKind::Trimmer { contact_ohms, .. } if contact_ohms >= OPEN_CONTACT_OHMS => {
            " (its wiper is off the track)".to_owned()
        }
        PartKind::Contact { state: ContactState::Open, .. } => " (open)".to_owned(),
        PartKind::Resistor { ohms: value, .. } | PartKind::Trimmer { ohms: value, .. } => {
            format!(" ({})", ohms(value))
        }
        _ => String::new(),
    }
}
