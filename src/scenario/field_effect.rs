//! Junction and MOS transistors: the types by name, and any parameter overridden by name.

use crate::document::fields::Fields;
use crate::document::quantity::CAPACITANCE;
use crate::document::quantity::CURRENT;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::quantity::RESISTANCE;
use crate::document::quantity::TRANSCONDUCTANCE;
use crate::network::circuit::PartKind;
use crate::network::device::DiodeModel;
use crate::network::device::Junction;
use crate::network::field_effect::Channel;
use crate::network::field_effect::FieldEffectModel;
use crate::network::field_effect::FieldGate;
use crate::scenario::library::Entry;
use crate::scenario::nodes::Nodes;
use crate::scenario::nodes::Role;
use crate::scenario::parts::unknown_type;

/// Leakage of a channel: 1 nA at 10 V, from memory of data sheets of small switches.
const OFF_OHMS: f64 = 1e10;

/// A junction transistor by its current at vgs = 0 and the gate voltage that pinches it off.
const fn junction_type(
    channel: Channel,
    idss: f64,
    pinch_off: f64,
    farads: f64,
) -> FieldEffectModel {
    let junction = Junction { farads, potential: 0.8, grading: 0.4 };
    FieldEffectModel {
        channel,
        k: 2.0 * idss / (pinch_off * pinch_off),
        threshold: -pinch_off,
        off_ohms: OFF_OHMS,
        gate: FieldGate::Junction(DiodeModel { junction, ..DiodeModel::ideal(1e-14, 1.0) }),
    }
}

/// 2N5457 data sheet, from memory: IDSS 1 to 5 mA, typically 3; VGS(off) 0.5 to 6 V;
/// transconductance 1 to 5 mS at vgs = 0; Ciss at most 7 pF and Crss at most 3 pF at 15 V.
const T_2N5457: FieldEffectModel = junction_type(Channel::N, 3e-3, 1.8, 4.9e-12);

/// 2N5460 data sheet, from memory: P channel, IDSS 1 to 5 mA, VGS(off) 0.75 to 6 V,
/// transconductance 1 to 4 mS at vgs = 0.
const T_2N5460: FieldEffectModel = junction_type(Channel::P, 3e-3, 2.0, 4.9e-12);

/// J113 data sheet, from memory: a switch of at most 100 Ω; IDSS at least 2 mA, VGS(off) 0.5 to 3
/// V; at most 28 pF on for both junctions, at most 5 pF each off at 10 V.
const T_J113: FieldEffectModel = junction_type(Channel::N, 12e-3, 1.5, 10e-12);

/// Junction transistors.
const JUNCTION_TYPES: [Entry<FieldEffectModel>; 5] = [
    Entry { name: "small N-channel", model: T_2N5457 },
    Entry { name: "small P-channel", model: T_2N5460 },
    Entry { name: "2N5457", model: T_2N5457 },
    Entry { name: "2N5460", model: T_2N5460 },
    Entry { name: "J113", model: T_J113 },
];

const fn body(farads: f64) -> DiodeModel {
    let junction = Junction { farads, potential: 0.7, grading: 0.4 };
    DiodeModel { junction, ..DiodeModel::ideal(1e-13, 1.0) }
}

/// 2N7000 data sheet, from memory: VGS(th) 0.8 to 3 V; at most 5 Ω at 10 V, 0.5 A; at most 0.4 V at
/// 4.5 V, 75 mA; Ciss at most 50 pF, Crss at most 5 pF, Coss at most 25 pF at 25 V.
const T_2N7000: FieldEffectModel = FieldEffectModel {
    channel: Channel::N,
    k: 0.1,
    threshold: 2.1,
    off_ohms: OFF_OHMS,
    gate: FieldGate::Insulated { source_farads: 20e-12, drain_farads: 3e-12, body: body(42e-12) },
};

/// BS250 data sheet, from memory: P channel, VGS(th) 1 to 3.5 V; at most 14 Ω at 10 V, 0.2 A; Ciss
/// 60 pF, Crss 5 pF.
const T_BS250: FieldEffectModel = FieldEffectModel {
    channel: Channel::P,
    k: 0.015,
    threshold: 2.2,
    off_ohms: OFF_OHMS,
    gate: FieldGate::Insulated { source_farads: 55e-12, drain_farads: 5e-12, body: body(42e-12) },
};

/// MOS transistors.
const MOS_TYPES: [Entry<FieldEffectModel>; 4] = [
    Entry { name: "small N-channel", model: T_2N7000 },
    Entry { name: "small P-channel", model: T_BS250 },
    Entry { name: "2N7000", model: T_2N7000 },
    Entry { name: "BS250", model: T_BS250 },
];

/// The types under a part's main key that have the same channel.
pub(crate) fn names(main: &str, channel: Channel) -> Vec<&'static str> {
    let types: &[Entry<FieldEffectModel>] =
        if main == "mos_fet" { &MOS_TYPES } else { &JUNCTION_TYPES };
    types.iter().filter(|one| one.model.channel == channel).map(|one| one.name).collect()
}

pub(crate) fn junction(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let model = find(fields, "junction_fet", &JUNCTION_TYPES).map(|model| {
        let pinch_off = fields.quantity_or("pinch_off", &POSITIVE_VOLTAGE, -model.threshold);
        let idss = 0.5 * model.k * model.threshold * model.threshold;
        let idss = fields.quantity_or("idss", &CURRENT.within(1e-9, 10.0), idss);
        let FieldGate::Junction(junction) = model.gate else { return model };
        let farads =
            fields.quantity_or("capacitance", &CAPACITANCE.or_zero(), junction.junction.farads);
        let charge = Junction { farads, ..junction.junction };
        FieldEffectModel {
            k: 2.0 * idss / (pinch_off * pinch_off),
            threshold: -pinch_off,
            off_ohms: fields.quantity_or("off_resistance", &RESISTANCE, model.off_ohms),
            gate: FieldGate::Junction(DiodeModel { junction: charge, ..junction }),
            ..model
        }
    });
    tied(fields, nodes, model)
}

pub(crate) fn mos(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let model = find(fields, "mos_fet", &MOS_TYPES).map(|model| {
        let FieldGate::Insulated { source_farads, drain_farads, body } = model.gate else {
            return model;
        };
        let farads = |key, default| fields.quantity_or(key, &CAPACITANCE.or_zero(), default);
        FieldEffectModel {
            k: fields.quantity_or("k", &TRANSCONDUCTANCE, model.k),
            threshold: fields.quantity_or("threshold", &POSITIVE_VOLTAGE, model.threshold),
            off_ohms: fields.quantity_or("off_resistance", &RESISTANCE, model.off_ohms),
            gate: FieldGate::Insulated {
                source_farads: farads("gate_source_capacitance", source_farads),
                drain_farads: farads("gate_drain_capacitance", drain_farads),
                body,
            },
            ..model
        }
    });
    tied(fields, nodes, model)
}

fn find(
    fields: &Fields<'_>,
    key: &str,
    types: &[Entry<FieldEffectModel>],
) -> Option<FieldEffectModel> {
    let (word, _) = fields.text(key)?;
    let found = types.iter().find(|entry| entry.name == word);
    if found.is_none() {
        let names: Vec<&str> = types.iter().map(|entry| entry.name).collect();
        unknown_type(fields, key, word, &names);
    }
    found.map(|entry| entry.model)
}

fn tied(
    fields: &Fields<'_>,
    nodes: &mut Nodes,
    model: Option<FieldEffectModel>,
) -> Option<PartKind> {
    let drain = nodes.tie_key(fields, "drain", Role::End);
    let gate = nodes.tie_key(fields, "gate", Role::Control);
    let source = nodes.tie_key(fields, "source", Role::End);
    let (drain, gate, source) = (drain?, gate?, source?);
    if drain == source {
        let message = format!("drain and source of {} are tied to the same node", fields.what());
        fields.problems().add(fields.place("source"), message, "expected another node");
        return None;
    }
    Some(PartKind::FieldEffect { drain, gate, source, model: model? })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Drain voltage at which an N channel of this model carries a current.
    fn drain_volts(model: &FieldEffectModel, gate: f64, amps: f64) -> f64 {
        let (mut low, mut high) = (0.0, 20.0);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if model.current(gate, gate - middle).amps < amps {
                low = middle;
            } else {
                high = middle;
            }
        }
        low
    }

    #[test]
    fn mos_types_meet_what_is_remembered_of_their_data_sheets() {
        assert!((0.8..=3.0).contains(&T_2N7000.threshold));
        assert!(drain_volts(&T_2N7000, 10.0, 0.5) <= 0.5 * 5.0);
        assert!(drain_volts(&T_2N7000, 4.5, 75e-3) <= 0.4);
        assert!((1.0..=3.5).contains(&T_BS250.threshold));
        assert!(drain_volts(&T_BS250, 10.0, 0.2) <= 0.2 * 14.0);
        for (model, input, reverse) in [(T_2N7000, 50e-12, 5e-12), (T_BS250, 60e-12, 5e-12)] {
            let FieldGate::Insulated { source_farads, drain_farads, body } = model.gate else {
                panic!("it is insulated")
            };
            assert!(source_farads + drain_farads <= input && drain_farads <= reverse);
            assert!(drain_farads + body.junction.charge(-25.0).slope <= 25e-12);
        }
    }

    #[test]
    fn junction_types_meet_what_is_remembered_of_their_data_sheets() {
        for (model, transconductance) in [(T_2N5457, 1e-3..=5e-3), (T_2N5460, 1e-3..=4e-3)] {
            let at_zero = model.current(0.0, -15.0);
            assert!((1e-3..=5e-3).contains(&at_zero.amps));
            assert!(transconductance.contains(&at_zero.per_source_volt));
            let FieldGate::Junction(junction) = model.gate else { panic!("a junction") };
            let [source, drain] = [0.0, -15.0].map(|v| junction.junction.charge(v).slope);
            assert!(source + drain <= 7e-12 && drain <= 3e-12);
        }
        assert!(drain_volts(&T_J113, 0.0, 0.1e-3) <= 0.1e-3 * 100.0);
        assert!(T_J113.current(0.0, -15.0).amps >= 2e-3);
        assert!((0.5..=3.0).contains(&-T_J113.threshold));
        let FieldGate::Junction(junction) = T_J113.gate else { panic!("a junction") };
        assert!(2.0 * junction.junction.charge(0.0).slope <= 28e-12);
        assert!(junction.junction.charge(-10.0).slope <= 5e-12);
    }
}
