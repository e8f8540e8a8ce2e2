//! Resistors, capacitors, inductors, potentiometers, contacts and leads, as they are written.

use crate::base::math;
use crate::document::fields::Fields;
use crate::document::quantity::CAPACITANCE;
use crate::document::quantity::FACTOR;
use crate::document::quantity::FREQUENCY;
use crate::document::quantity::INDUCTANCE;
use crate::document::quantity::LENGTH;
use crate::document::quantity::LOSS;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::quantity::RESISTANCE;
use crate::document::quantity::SHARE;
use crate::document::tree::Value;
use crate::network::cable::Cable;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartKind;
use crate::network::passive::CapacitorPolarity;
use crate::network::passive::ContactState;
use crate::network::passive::OPEN_CONTACT_OHMS;
use crate::network::passive::RealCapacitor;
use crate::raster::controller::track::AUDIO_MIDDLE;
use crate::scenario::nodes::Nodes;
use crate::scenario::nodes::Role;
use crate::scenario::parts::ends;
use std::f64::consts::TAU;

/// Dissipation factor of a new electrolytic at 120 Hz; from memory: makers' tables for 10 to 16 V.
const DISSIPATION: f64 = 0.15;
const DISSIPATION_HZ: f64 = 120.0;
/// Resistance of a closed contact, Ω; from memory: makers' limits for new switches.
const CONTACT_OHMS: f64 = 0.05;
/// Capacitance of a screened lead, F/m; common practice, no source.
const LEAD_FARADS: f64 = 100e-12;
/// Impedance of television cable, Ω, and speed of a wave in solid polyethylene as a share of that of
/// light, which is 1/√2.25; both common practice.
const CABLE_OHMS: f64 = 75.0;
const CABLE_VELOCITY: f64 = 0.66;
/// Loss of 100 m, dB: that of some 17 Ω around the loop, both conductors; from memory: makers'
/// tables of thin 75 Ω cable.
const CABLE_LOSS: f64 = 1.0;

/// Laws of a track, by the share of it at half travel.
pub(super) const LAWS: [(&str, f64); 3] =
    [("linear", 0.5), ("audio", AUDIO_MIDDLE), ("reverse-audio", 1.0 - AUDIO_MIDDLE)];
const CAPACITOR_KINDS: [(&str, CapacitorPolarity); 2] =
    [("plain", CapacitorPolarity::None), ("electrolytic", CapacitorPolarity::Polar)];
/// Share of the capacitance that is left and factor of the series resistance. Worn is the end of
/// life in makers' endurance tests: 70 % of rated, twice the resistance.
pub(super) const CONDITIONS: [(&str, (f64, f64)); 2] = [("new", (1.0, 1.0)), ("worn", (0.7, 2.0))];
const CONTACTS: [(&str, ContactState); 2] =
    [("closed", ContactState::Closed), ("open", ContactState::Open)];

pub(crate) fn resistor(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let ohms = fields.quantity("resistor", &RESISTANCE);
    let ends = ends(fields, nodes, ["from", "to"])?;
    Some(PartKind::Resistor { ends, ohms: ohms? })
}

/// A capacitor, plain if nothing is said of its losses, its age or its ratings.
pub(crate) fn capacitor(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    const MORE: [&str; 7] = [
        "kind",
        "condition",
        "capacitance_left",
        "series_resistance",
        "series_factor",
        "leakage",
        "rated",
    ];
    let farads = fields.quantity("capacitor", &CAPACITANCE);
    let is_real = MORE.into_iter().filter(|key| fields.has(key)).count() > 0;
    let polarity = fields.choice("kind", &CAPACITOR_KINDS).unwrap_or(CapacitorPolarity::None);
    let (left, factor) = fields.choice("condition", &CONDITIONS).unwrap_or((1.0, 1.0));
    let farads_left = fields.quantity_or("capacitance_left", &SHARE.within(1e-3, 1.0), left);
    let series_factor = fields.quantity_or("series_factor", &FACTOR, factor);
    let new_ohms = match polarity {
        CapacitorPolarity::Polar => farads.map_or(0.0, series_ohms),
        CapacitorPolarity::None => 0.0,
    };
    let series_ohms = fields.quantity_or("series_resistance", &RESISTANCE.or_zero(), new_ohms);
    let leakage_ohms = fields.quantity("leakage", &RESISTANCE);
    let rated_volts = fields.quantity("rated", &POSITIVE_VOLTAGE);
    let ends = ends(fields, nodes, ["from", "to"])?;
    let farads = farads?;
    if !is_real {
        return Some(PartKind::Capacitor { ends, farads });
    }
    Some(PartKind::RealCapacitor(Box::new(RealCapacitor {
        ends,
        farads,
        farads_left,
        series_ohms,
        series_factor,
        leakage_ohms,
        rated_volts,
        polarity,
    })))
}

/// Series resistance of a new electrolytic, tan δ / (2π f C), Ω.
fn series_ohms(farads: f64) -> f64 {
    DISSIPATION / (TAU * DISSIPATION_HZ * farads)
}

pub(crate) fn inductor(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let henries = fields.quantity("inductor", &INDUCTANCE);
    let ohms = fields.quantity_or("resistance", &RESISTANCE.or_zero(), 0.0);
    let across = fields.quantity("parallel_resistance", &RESISTANCE);
    let loss = henries.and_then(|henries| quality(fields, henries, ohms));
    let ends = ends(fields, nodes, ["from", "to"])?;
    let henries = henries?;
    Some(match across.or(loss) {
        Some(parallel_ohms) => PartKind::LossyInductor { ends, henries, ohms, parallel_ohms },
        None => PartKind::Inductor { ends, henries, ohms },
    })
}

/// The parallel resistance that gives a coil its Q at a frequency, beside its series resistance:
/// 1/Q = R / ωL + ωL / Rp for small losses.
fn quality(fields: &Fields<'_>, henries: f64, series_ohms: f64) -> Option<f64> {
    let expected = "expected a frequency such as `2 MHz` at which the coil has its `quality`";
    let quality = fields.quantity("quality", &FACTOR);
    let hertz = fields.quantity("quality_at", &FREQUENCY);
    let quality = quality?;
    let hertz = fields.needed("quality_at", expected, hertz)?;
    let reactance = TAU * hertz * henries;
    let rest = 1.0 / quality - series_ohms / reactance;
    if rest <= 0.0 {
        let best = math::floor(reactance / series_ohms);
        let message = format!("a coil of this series resistance has a quality below {best}");
        fields.problems().add(fields.place("quality"), message, "expected less");
        return None;
    }
    Some(reactance / rest)
}

/// A trimmer or a potentiometer: the same part under the word that `key` is.
pub(crate) fn trimmer(fields: &Fields<'_>, nodes: &mut Nodes, key: &str) -> Option<PartKind> {
    let ohms = fields.quantity(key, &RESISTANCE);
    let position = fields.quantity_or("position", &SHARE, 0.5);
    let law = fields.choice("law", &LAWS).unwrap_or(0.5);
    let middle = fields.quantity_or("middle", &SHARE.within(1e-3, 0.999), law);
    let contact_ohms = match fields.item("wiper_contact").map(|item| &item.value) {
        Some(Value::Text(word)) if word == "open" => OPEN_CONTACT_OHMS,
        _ => fields.quantity_or("wiper_contact", &RESISTANCE.or_zero(), 0.0),
    };
    let ends = ends(fields, nodes, ["from", "to"]);
    let wiper = nodes.tie_key(fields, "wiper", Role::End);
    let (ends, wiper, ohms) = (ends?, wiper?, ohms?);
    Some(PartKind::Trimmer { ends, wiper, ohms, position, middle, contact_ohms })
}

/// A switch or a jumper.
pub(crate) fn contact(fields: &Fields<'_>, nodes: &mut Nodes, key: &str) -> Option<PartKind> {
    let state = fields.needed_choice(key, &CONTACTS);
    let ohms = fields.quantity_or("contact_resistance", &RESISTANCE, CONTACT_OHMS);
    let ends = ends(fields, nodes, ["from", "to"])?;
    Some(PartKind::Contact { ends, ohms, state: state? })
}

/// A length of lead: its capacitance to ground, and nothing of its delay.
pub(crate) fn lead(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let metres = fields.quantity("lead", &LENGTH);
    let farads = fields.quantity_or("per_metre", &CAPACITANCE, LEAD_FARADS);
    let node = nodes.tie_key(fields, "node", Role::End);
    let node = node?;
    if node == NodeId::GROUND {
        let message = format!("{} leads from ground to ground", fields.what());
        fields.problems().add(fields.place("node"), message, "expected a node of the board");
        return None;
    }
    let ends = [node, NodeId::GROUND];
    Some(PartKind::Capacitor { ends, farads: metres? * farads })
}

/// A coaxial cable, its screen at ground at both ends.
pub(crate) fn cable(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let metres = fields.quantity("cable", &LENGTH.within(0.01, 1e4));
    let impedance_ohms = fields.quantity_or("impedance", &RESISTANCE.within(1.0, 1e3), CABLE_OHMS);
    let velocity = fields.quantity_or("velocity", &SHARE.within(0.1, 1.0), CABLE_VELOCITY);
    let loss = fields.quantity_or("loss", &LOSS, CABLE_LOSS);
    let ends = ends(fields, nodes, ["from", "to"])?;
    Some(PartKind::Cable(Box::new(Cable {
        ends,
        impedance_ohms,
        metres: metres?,
        velocity,
        decibels_per_metre: 0.01 * loss,
    })))
}
