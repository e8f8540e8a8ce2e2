//! A finding in plain words, with its numbers.

use crate::analysis::cause::Cause;
use crate::analysis::cause::scene::Scene;
use crate::analysis::cause::sentence::Teller;
use crate::analysis::cause::subject::Subject;
use crate::analysis::cause::suspect::Suspect;
use crate::network::circuit::Logic;

/// "1.14 V", "320 mV", "0.4 mV".
pub(in crate::analysis) fn volts(value: f64) -> String {
    let millivolts = 1e3 * value;
    if value.abs() >= 0.9995 {
        format!("{value:.2} V")
    } else if millivolts.abs() >= 9.95 || millivolts.abs() < 0.05 {
        // No "-0 mV".
        format!("{:.0} mV", millivolts + 0.0).replace("-0 mV", "0 mV")
    } else {
        format!("{millivolts:.1} mV")
    }
}

/// "47 pF", "100 nF".
pub(crate) fn farads(value: f64) -> String {
    let (scaled, unit) = match value {
        value if value >= 0.9995e-6 => (value * 1e6, "µF"),
        value if value >= 0.9995e-9 => (value * 1e9, "nF"),
        value => (value * 1e12, "pF"),
    };
    format!("{} {unit}", (scaled * 10.0).round() / 10.0)
}

/// "4.7 kΩ".
pub(crate) fn ohms(value: f64) -> String {
    let (scaled, unit) = match value {
        value if value >= 1e9 => (value / 1e9, "GΩ"),
        value if value >= 1e6 => (value / 1e6, "MΩ"),
        value if value >= 1e3 => (value / 1e3, "kΩ"),
        value => (value, "Ω"),
    };
    let digits = if scaled < 9.995 { 100.0 } else { 10.0 };
    format!("{} {unit}", (scaled * digits).round() / digits)
}

/// Nothing joins the pins that carry it to the socket.
pub(super) fn no_way(scene: &Scene<'_>) -> Cause {
    let circuit = scene.circuit();
    let (name, socket) = (name_of(scene), scene.scenario.output.node);
    let words = |node| {
        format!(
            "{name} gets as far as `{}`, where it amounts to {}, and no part leads on from there \
             to `{}`.",
            circuit.node_name(node),
            volts(scene.pulse_v(node)),
            circuit.node_name(socket),
        )
    };
    let (part, node, words) = match scene.dead_end() {
        Some((part, node)) => match scene.open_part(node) {
            Some(open) => {
                (open.name.clone(), node, format!("{} {} is open.", words(node), open.name))
            }
            None => (scene.part(part).name.clone(), node, words(node)),
        },
        None => (name.clone(), socket, format!("No pin of the chip carries {name}.")),
    };
    let node = circuit.node_name(node).to_owned();
    Cause { part, node, words, suspect: None, cures: false }
}

/// The finding about one suspect.
pub(super) fn finding(scene: &Scene<'_>, delta_v: f64, suspect: Suspect) -> Cause {
    let teller = Teller::new(scene, &suspect);
    let mut words = teller.sentence();
    if suspect.cures {
        words.push_str(&teller.remedy());
    } else {
        words.push_str(&format!(
            " {} of {} is left at the socket, and no change to one part alone makes it {}.",
            volts(if scene.subject == Subject::Sync { -delta_v } else { delta_v }),
            teller.name,
            scene.subject.well(),
        ));
    }
    let (part, node) = (teller.part.clone(), teller.node.to_owned());
    let cures = suspect.cures;
    Cause { part, node, words, suspect: Some(suspect), cures }
}

/// Elements and pins are written as on a drawing: in capitals.
pub(super) fn name_of(scene: &Scene<'_>) -> String {
    scene.subject.name(scene.scenario).to_uppercase()
}

/// "an OR gate".
pub(in crate::analysis) fn article(logic: Logic) -> &'static str {
    match logic {
        Logic::Or => "an OR gate",
        Logic::Nor => "a NOR gate",
        Logic::And => "an AND gate",
        Logic::Nand => "a NAND gate",
        Logic::Xor => "an exclusive-OR gate",
        Logic::Not => "an inverter",
        Logic::Buffer => "a buffer",
    }
}
