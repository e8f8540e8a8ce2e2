//! Diodes, zeners and transistors: a type from the library, with any parameter overridden by name.

use crate::document::fields::Fields;
use crate::document::quantity::CAPACITANCE;
use crate::document::quantity::CURRENT;
use crate::document::quantity::FACTOR;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::quantity::Quantity;
use crate::document::quantity::RESISTANCE;
use crate::document::quantity::SHARE;
use crate::document::quantity::TIME;
use crate::document::quantity::Zero;
use crate::network::bipolar::TransistorModel;
use crate::network::circuit::PartKind;
use crate::network::device::Breakdown;
use crate::network::device::DiodeModel;
use crate::network::device::Junction;
use crate::scenario::library;
use crate::scenario::library::Transistor;
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

const LEAKAGE: Quantity = SATURATION.within(1e-22, 1e-3).or_zero();
const EARLY: Quantity = POSITIVE_VOLTAGE.within(2.0, 1e6);
const KNEE: Quantity = CURRENT.within(1e-4, 1e3);
/// Zener voltages with a breakdown, and slopes that the solver can follow.
pub(crate) const ZENER: Quantity = POSITIVE_VOLTAGE.within(1.0, 400.0);
const LEAST_SLOPE_VOLTS: f64 = 1e-3;

/// The words for a specimen's gain.
pub(super) const GAINS: [(&str, Gain); 3] =
    [("low", Gain::Low), ("typical", Gain::Typical), ("high", Gain::High)];

#[derive(Clone, Copy)]
pub(super) enum Gain {
    Low,
    Typical,
    High,
}

pub(crate) fn diode(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let model = diode_type(fields).map(|model| overridden_diode(fields, model));
    let [anode, cathode] = ends(fields, nodes, ["anode", "cathode"])?;
    Some(PartKind::Diode { anode, cathode, model: model? })
}

/// A zener by its voltage: the test current and the dynamic resistance there give its curve.
pub(crate) fn zener(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let volts = fields.quantity("zener", &ZENER);
    let amps = fields.quantity_or("test_current", &CURRENT.within(1e-6, 10.0), library::ZENER_AMPS);
    let typical = library::zener_ohms(volts.unwrap_or(1.0));
    let ohms = fields.quantity_or("dynamic_resistance", &RESISTANCE, typical);
    let slope_volts = |series_ohms: f64| ((ohms - series_ohms) * amps).max(LEAST_SLOPE_VOLTS);
    let breakdown = Breakdown { volts: volts.unwrap_or(1.0), amps, slope_volts: slope_volts(0.0) };
    let mut model = overridden_diode(fields, library::zener(breakdown));
    // What is stated for the whole diode includes its series resistance.
    model.breakdown = Some(Breakdown {
        volts: breakdown.volts - model.series_ohms * amps,
        slope_volts: slope_volts(model.series_ohms),
        ..breakdown
    });
    if model.series_ohms > ohms {
        let message = format!("{} has more series resistance than in all", fields.what());
        let expected = "expected it below `dynamic_resistance`";
        fields.problems().add(fields.place("series_resistance"), message, expected);
    }
    let [anode, cathode] = ends(fields, nodes, ["anode", "cathode"])?;
    let _ = volts?;
    Some(PartKind::Diode { anode, cathode, model })
}

fn overridden_diode(fields: &Fields<'_>, model: DiodeModel) -> DiodeModel {
    let number = |key, quantity, default| fields.quantity_or(key, quantity, default);
    DiodeModel {
        saturation_current: number("saturation_current", &SATURATION, model.saturation_current),
        emission: number("emission", &EMISSION, model.emission),
        transit_time: number("transit_time", &TIME, model.transit_time),
        series_ohms: number("series_resistance", &RESISTANCE.or_zero(), model.series_ohms),
        junction: junction(fields, ["capacitance", "potential", "grading"], model.junction),
        ..model
    }
}

pub(crate) fn transistor(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let model = transistor_type(fields).map(|entry| {
        let [least, most] = entry.base_share;
        let share = match fields.choice("gain", &GAINS).unwrap_or(Gain::Typical) {
            Gain::Low => least,
            Gain::Typical => 1.0,
            Gain::High => most,
        };
        overridden(fields, with_base_share(entry.model, share))
    });
    let collector = nodes.tie_key(fields, "collector", Role::End);
    let base = nodes.tie_key(fields, "base", Role::Control);
    let emitter = nodes.tie_key(fields, "emitter", Role::End);
    let (collector, base, emitter) = (collector?, base?, emitter?);
    if collector == emitter {
        let message =
            format!("collector and emitter of {} are tied to the same node", fields.what());
        fields.problems().add(fields.place("emitter"), message, "expected another node");
        return None;
    }
    Some(PartKind::Transistor { collector, base, emitter, model: model? })
}

/// A specimen of the same type whose base takes `share` of the current.
pub(crate) fn with_base_share(model: TransistorModel, share: f64) -> TransistorModel {
    TransistorModel {
        forward_gain: model.forward_gain / share,
        base_leakage: model.base_leakage * share,
        ..model
    }
}

fn overridden(fields: &Fields<'_>, model: TransistorModel) -> TransistorModel {
    let number = |key, quantity, default| fields.quantity_or(key, quantity, default);
    let ohms = |key, default| fields.quantity_or(key, &RESISTANCE.or_zero(), default);
    TransistorModel {
        saturation_current: number("saturation_current", &SATURATION, model.saturation_current),
        forward_gain: number("forward_gain", &GAIN, model.forward_gain),
        reverse_gain: number("reverse_gain", &GAIN, model.reverse_gain),
        early_volts: number("early_voltage", &EARLY, model.early_volts),
        knee_amps: number("knee_current", &KNEE, model.knee_amps),
        base_leakage: number("base_leakage", &LEAKAGE, model.base_leakage),
        leakage_emission: number("leakage_emission", &EMISSION, model.leakage_emission),
        base_ohms: ohms("base_resistance", model.base_ohms),
        collector_ohms: ohms("collector_resistance", model.collector_ohms),
        emitter_ohms: ohms("emitter_resistance", model.emitter_ohms),
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
        ..model
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

fn transistor_type(fields: &Fields<'_>) -> Option<Transistor> {
    let (word, _) = fields.text("transistor")?;
    let found = library::TRANSISTORS.iter().find(|entry| entry.name == word);
    if found.is_none() {
        let names: Vec<&str> = library::TRANSISTORS.iter().map(|entry| entry.name).collect();
        unknown_type(fields, "transistor", word, &names);
    }
    found.map(|entry| entry.model)
}
