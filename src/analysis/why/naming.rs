//! Parts as a ledger names them.

use crate::analysis::cause::scene::Scene;
use crate::analysis::cause::trial::stage_ohms;
use crate::analysis::cause::words::article;
use crate::analysis::cause::words::farads;
use crate::analysis::cause::words::ohms;
use crate::network::bipolar::Polarity;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::circuit::Pin;
use crate::network::circuit::PinStage;
use crate::network::terminal::terminals;
use crate::scenario::change::OPEN_OHMS;

/// "R5 (2 kΩ)", "U1 (an OR gate)", "Q1 (a PNP transistor)", "pin LEFT".
pub(in crate::analysis) fn part_words(part: &Part) -> String {
    let what = match &part.kind {
        PartKind::Resistor { ohms: value, .. } if *value >= OPEN_OHMS => "open".to_owned(),
        PartKind::Resistor { ohms: value, .. } => ohms(*value),
        PartKind::Trimmer { ohms: value, .. } => format!("a trimmer of {}", ohms(*value)),
        PartKind::Capacitor { farads: value, .. } => farads(*value),
        PartKind::RealCapacitor(real) => farads(real.present_farads()),
        PartKind::Inductor { .. } | PartKind::LossyInductor { .. } => "a coil".to_owned(),
        PartKind::Contact { .. } => "a contact".to_owned(),
        PartKind::Diode { .. } => "a diode".to_owned(),
        PartKind::Transistor { model, .. } => match model.polarity {
            Polarity::Npn => "an NPN transistor".to_owned(),
            Polarity::Pnp => "a PNP transistor".to_owned(),
        },
        PartKind::FieldEffect { .. } => "a field-effect transistor".to_owned(),
        PartKind::Gate(gate) => article(gate.logic).to_owned(),
        PartKind::AnalogueSwitch(_) => "an analogue switch".to_owned(),
        PartKind::Cable(_) => "a cable".to_owned(),
        PartKind::VideoDriver(_) => "a video driver".to_owned(),
        PartKind::Regulator(_) => "a regulator".to_owned(),
        PartKind::Pin(_) => return format!("pin {}", part.name.to_uppercase()),
        PartKind::Supply { .. } | PartKind::Adapter(_) => "a supply".to_owned(),
        PartKind::Sounder(_) => "a loudspeaker".to_owned(),
        PartKind::Consumption { .. } => return "the chip's own current".to_owned(),
        PartKind::Draw { .. } => return part.name.clone(),
    };
    format!("{} ({what})", part.name)
}

/// What hangs on a node: "R9 (1 kΩ) to ground", "pin RIGHT (800 Ω when low)", "U1's input".
pub(super) fn hanging_words(scene: &Scene<'_>, id: PartId, node: NodeId) -> String {
    let part = scene.part(id);
    match &part.kind {
        PartKind::Pin(pin) => pin_words(scene, id, pin),
        PartKind::Gate(gate) if gate.output == node => format!("{}'s output", part.name),
        PartKind::Gate(_) => format!("{}'s input", part.name),
        PartKind::Transistor { base, emitter, .. } => {
            let terminal = match node {
                node if node == *base => "base",
                node if node == *emitter => "emitter",
                _ => "collector",
            };
            format!("{}'s {terminal}", part.name)
        }
        _ => match terminals(&part.kind).iter().find(|(_, other)| *other != node) {
            Some((_, other)) => {
                format!("{} to {}", part_words(part), node_words(scene, *other))
            }
            None => part_words(part),
        },
    }
}

fn pin_words(scene: &Scene<'_>, id: PartId, pin: &Pin) -> String {
    let part = scene.part(id);
    let level = scene.level(id);
    if matches!(pin.levels[level], PinStage::Off { .. }) {
        return format!("{} (lets go)", part_words(part));
    }
    let ohms = ohms(stage_ohms(&pin.levels[level], scene.black_v[pin.supply.0]));
    let name = part_words(part);
    match level {
        0 => format!("{name} ({ohms} when low)"),
        1 => format!("{name} ({ohms} when high)"),
        _ => format!("{name} ({ohms})"),
    }
}

/// "ground", "`mix`".
pub(super) fn node_words(scene: &Scene<'_>, node: NodeId) -> String {
    if node == NodeId::GROUND {
        "ground".to_owned()
    } else {
        format!("`{}`", scene.circuit().node_name(node))
    }
}
