//! Diodes and transistors: a type from the library, with any parameter overridden by name.

use crate::document::fields::Fields;
use crate::document::quantity::CAPACITANCE;
use crate::document::quantity::CURRENT;
use crate::document::quantity::FACTOR;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::quantity::Quantity;
use crate::document::quantity::SHARE;
use crate::document::quantity::TIME;
use crate::document::quantity::Zero;
use crate::network::circuit::PartKind;
use crate::network::device::DiodeModel;
use crate::network::device::Junction;
use crate::network::device::TransistorModel;
use crate::scenario::library;
use crate::scenario::nodes::Nodes;
use crate::scenario::nodes::Role;
use crate::scenario::parts::ends;
use crate::scenario::parts::unknown_type;

/// Saturation currents of anything that can be called a junction, A.
const SATURATION: Quantity = Quantity {
    zero: Zero::Impossible,
    examples: "`1e-14` or `2.5 nA`",
    ..CURRENT.within(1e-20, 1e-3)
};
/// Emission coefficients, and grading coefficients below.
const EMISSION: Quantity = FACTOR.within(0.5, 10.0);
const GRADING: Quantity = SHARE.within(1e-6, 0.95);
const GAIN: Quantity = FACTOR.within(1e-3, 1e5);

pub(crate) fn diode(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let model = diode_type(fields).map(|model| DiodeModel {
        saturation_current: fields.quantity_or(
            "saturation_current",
            &SATURATION,
            model.saturation_current,
        ),
        emission: fields.quantity_or("emission", &EMISSION, model.emission),
        transit_time: fields.quantity_or("transit_time", &TIME, model.transit_time),
        junction: junction(fields, ["capacitance", "potential", "grading"], model.junction),
    });
    let [anode, cathode] = ends(fields, nodes, ["anode", "cathode"])?;
    Some(PartKind::Diode { anode, cathode, model: model? })
}

pub(crate) fn transistor(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let model = transistor_type(fields).map(|model| overridden(fields, model));
    let collector = nodes.tie_key(fields, "collector", Role::End);
    let base = nodes.tie_key(fields, "base", Role::End);
    let emitter = nodes.tie_key(fields, "emitter", Role::End);
    Some(PartKind::Transistor {
        collector: collector?,
        base: base?,
        emitter: emitter?,
        model: model?,
    })
}

fn overridden(fields: &Fields<'_>, model: TransistorModel) -> TransistorModel {
    let number = |key, quantity, default| fields.quantity_or(key, quantity, default);
    TransistorModel {
        polarity: model.polarity,
        saturation_current: number("saturation_current", &SATURATION, model.saturation_current),
        forward_gain: number("forward_gain", &GAIN, model.forward_gain),
        reverse_gain: number("reverse_gain", &GAIN, model.reverse_gain),
        forward_transit_time: number("transit_time", &TIME, model.forward_transit_time),
        reverse_transit_time: number("reverse_transit_time", &TIME, model.reverse_transit_time),
        base_emitter: junction(
            fields,
            ["base_emitter_capacitance", "base_emitter_potential", "base_emitter_grading"],
            model.base_emitter,
        ),
        base_collector: junction(
            fields,
            ["base_collector_capacitance", "base_collector_potential", "base_collector_grading"],
            model.base_collector,
        ),
    }
}

/// A junction whose capacitance, potential and grading stand under `keys`.
fn junction(fields: &Fields<'_>, keys: [&str; 3], default: Junction) -> Junction {
    let [farads, potential, grading] = keys;
    Junction {
        farads: fields.quantity_or(farads, &CAPACITANCE.or_zero(), default.farads),
        potential: fields.quantity_or(potential, &POSITIVE_VOLTAGE, default.potential),
        grading: fields.quantity_or(grading, &GRADING, default.grading),
    }
}

fn diode_type(fields: &Fields<'_>) -> Option<DiodeModel> {
    let (word, _) = fields.text("diode")?;
    let found = library::DIODES.iter().find(|entry| entry.name == word);
    if found.is_none() {
        let names: Vec<&str> = library::DIODES.iter().map(|entry| entry.name).collect();
        unknown_type(fields, "diode", word, &names);
    }
    found.map(|entry| entry.model)
}

fn transistor_type(fields: &Fields<'_>) -> Option<TransistorModel> {
    let (word, _) = fields.text("transistor")?;
    let found = library::TRANSISTORS.iter().find(|entry| entry.name == word);
    if found.is_none() {
        let names: Vec<&str> = library::TRANSISTORS.iter().map(|entry| entry.name).collect();
        unknown_type(fields, "transistor", word, &names);
    }
    found.map(|entry| entry.model)
}
