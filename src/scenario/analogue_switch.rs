//! Analogue switches of the 4000B family.

use crate::document::fields::Fields;
use crate::document::quantity::RESISTANCE;
use crate::network::circuit::AnalogueSwitch;
use crate::network::circuit::GateSpeed;
use crate::network::circuit::PartKind;
use crate::network::circuit::Threshold;
use crate::scenario::gate;
use crate::scenario::gate_library::GRADES;
use crate::scenario::gate_library::Grade;
use crate::scenario::library::INPUT_CLAMP;
use crate::scenario::nodes::Nodes;
use crate::scenario::nodes::Role;
use crate::scenario::parts::ends;
use crate::scenario::parts::unknown_type;

/// On resistance over supply, V and Ω: typical and greatest.
struct Kind {
    name: &'static str,
    typical: [(f64, f64); 3],
    worst: [(f64, f64); 3],
}

/// Data sheets, from memory: on resistance at 5, 10 and 15 V, 25 °C. The old kind (4016) is four
/// times the newer one's (4066) at low supply.
const KINDS: [Kind; 3] = [
    Kind {
        name: "4000B",
        typical: [(5.0, 470.0), (10.0, 180.0), (15.0, 125.0)],
        worst: [(5.0, 1050.0), (10.0, 400.0), (15.0, 240.0)],
    },
    Kind {
        name: "4066B",
        typical: [(5.0, 470.0), (10.0, 180.0), (15.0, 125.0)],
        worst: [(5.0, 1050.0), (10.0, 400.0), (15.0, 240.0)],
    },
    Kind {
        name: "4016B",
        typical: [(5.0, 1500.0), (10.0, 250.0), (15.0, 200.0)],
        worst: [(5.0, 6000.0), (10.0, 660.0), (15.0, 400.0)],
    },
];

/// Control levels of the 4066B data sheet, from memory: off below 1 V of 5, on above 3.5 V of 5;
/// half the supply between them is common practice.
const THRESHOLD: Threshold = Threshold::Share { low: 0.2, typical: 0.5, high: 0.7 };
/// Leakage of an open switch, typically 0.1 nA at 10 V: 4066B data sheet, from memory.
const OFF_OHMS: f64 = 1e11;
/// Capacitance of each end, 8 pF, from end to end, 0.5 pF, and of the control, 5 pF: 4066B data
/// sheet, typical, from memory.
const END_FARADS: f64 = 8e-12;
const BETWEEN_FARADS: f64 = 0.5e-12;
const CONTROL_FARADS: f64 = 5e-12;

/// Turn-on delay from the control, typically 35, 20 and 15 ns: 4066B data sheet, from memory. It
/// states no duration of the turn itself; half the delay is taken.
const SPEED: [GateSpeed; 3] = [
    GateSpeed { supply_volts: 5.0, delay_s: 35e-9, transition_s: 17e-9 },
    GateSpeed { supply_volts: 10.0, delay_s: 20e-9, transition_s: 10e-9 },
    GateSpeed { supply_volts: 15.0, delay_s: 15e-9, transition_s: 7e-9 },
];

/// The types.
pub(crate) fn names() -> [&'static str; 3] {
    KINDS.each_ref().map(|kind| kind.name)
}

pub(crate) fn read(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let kind = find(fields);
    let grade = fields.choice("grade", &GRADES).unwrap_or(Grade::Typical);
    let stated = fields.quantity("on_resistance", &RESISTANCE);
    let off_ohms = fields.quantity_or("off_resistance", &RESISTANCE, OFF_OHMS);
    let threshold = gate::threshold(fields).unwrap_or(THRESHOLD);
    let ends = ends(fields, nodes, ["from", "to"]);
    let control = nodes.tie_key(fields, "control", Role::Control);
    let supply = gate::supply(fields, nodes);
    let kind = kind?;
    let on_ohms = match (stated, grade) {
        (Some(ohms), _) => vec![(5.0, ohms)],
        (None, Grade::Typical) => kind.typical.to_vec(),
        (None, Grade::Worst) => kind.worst.to_vec(),
    };
    Some(PartKind::AnalogueSwitch(Box::new(AnalogueSwitch {
        ends: ends?,
        control: control?,
        supply: supply?,
        threshold,
        on_ohms,
        off_ohms,
        end_farads: END_FARADS,
        between_farads: BETWEEN_FARADS,
        control_farads: CONTROL_FARADS,
        clamp: Some(INPUT_CLAMP),
        speed: SPEED.to_vec(),
    })))
}

fn find(fields: &Fields<'_>) -> Option<&'static Kind> {
    let (word, _) = fields.text("analogue_switch").or_else(|| {
        fields.missing("analogue_switch", "expected its type");
        None
    })?;
    let found = KINDS.iter().find(|kind| kind.name == word);
    if found.is_none() {
        let names: Vec<&str> = KINDS.iter().map(|kind| kind.name).collect();
        unknown_type(fields, "analogue_switch", word, &names);
    }
    found
}
