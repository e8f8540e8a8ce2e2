//! Three-terminal regulators: headroom, heat, what they bear, the capacitors beside them.

use crate::analysis::rating::COMMON;
use crate::analysis::rating::judged::Judged;
use crate::analysis::rating::judged::Subject;
use crate::analysis::rating::judged::Unit;
use crate::analysis::rating::judged::Word;
use crate::analysis::rating::judged::stop_above;
use crate::analysis::rating::standing::Standing;
use crate::analysis::rating::tally::Finding;
use crate::analysis::rating::tally::Place;
use crate::analysis::rating::tally::Tally;
use crate::analysis::rating::words::amount;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::regulator::Regulator;
use crate::scenario::Scenario;
use crate::scenario::limits::Limits;
use crate::scenario::limits::RegulatorLimits;
use crate::scenario::limits::Sourced;

/// Input below which a regulator gets nothing, V.
const NOTHING_VOLTS: f64 = 0.5;
/// Share of its output that a regulator may fall short by: the tolerance of a 7805 over all.
const SHORT_OF_OUTPUT: f64 = 0.05;
/// Air inside a closed case in a warm room, °C; common practice, no source.
const AIR_CELSIUS: f64 = 40.0;
/// Junction temperature up to which data sheets state anything, °C.
const JUNCTION_CELSIUS: f64 = 125.0;
const JUNCTION_SOURCE: &str = "regulators' data sheets, from memory";
/// Capacitance at input and output, F: data sheets show 0.1 to 0.33 µF and 0.1 µF. A little less
/// passes, for what is marked 100 n may have been written so.
const NEAR_FARADS: f64 = 0.1e-6;

pub(super) fn rate(at: &Standing<'_>, tally: &mut Tally) {
    for (id, part, limits) in at.parts() {
        let (PartKind::Regulator(regulator), Limits::Regulator(limits)) = (&part.kind, limits)
        else {
            continue;
        };
        let mut add = |subject, unit, judged, sentence| {
            let (place, part) = (Place::part(id), part.name.clone());
            tally.add(Finding { place, part, subject, unit, judged, sentence }, Some(at.state));
        };
        let (judged, sentence) = headroom(at, &part.name, regulator, limits);
        add(Subject::Headroom, Unit::Volt, judged, sentence);
        let (judged, sentence) = heat(at, (id, &part.name), limits);
        add(Subject::Junction, Unit::Celsius, judged, sentence);
        let input = at.volts(regulator.input) - at.volts(regulator.common);
        let most = limits.input_volts;
        let judged = Judged::at_most(input, stop_above(most.value, most.source));
        let sentence = format!(
            "{} gets {input:.1} V at its input; {} V is the most it bears.",
            part.name, most.value
        );
        add(Subject::RegulatorInput, Unit::Volt, judged, sentence);
    }
}

/// Input above the output that it should give, against what its data sheet asks for.
fn headroom(
    at: &Standing<'_>,
    name: &str,
    regulator: &Regulator,
    limits: RegulatorLimits,
) -> (Judged, String) {
    let common = at.volts(regulator.common);
    let input = at.volts(regulator.input) - common;
    let output = (at.volts(regulator.output) - common).max(0.0);
    let over = input - regulator.volts;
    let Sourced { value: wanted, source } = limits.headroom_volts;
    let mut judged = Judged::at_least(over, wanted, Word::Look, source);
    let is_short = output < (1.0 - SHORT_OF_OUTPUT) * regulator.volts;
    if is_short {
        judged.word = Word::Look;
    }
    let sentence = if input < NOTHING_VOLTS {
        format!("{name} gets nothing at its input and gives {output:.1} V.")
    } else if is_short {
        let what =
            if over < wanted { "it needs more" } else { "more is drawn from it than it gives" };
        format!(
            "{name} gets {input:.1} V at its input and gives {output:.1} V in place of {:.1} V: \
             {what}.",
            regulator.volts
        )
    } else if over < wanted {
        format!(
            "{name} gets {} at its input, {} too little to regulate for certain.",
            amount(input, Unit::Volt),
            amount(wanted - over, Unit::Volt)
        )
    } else {
        format!("{name} has {} to regulate with.", amount(over, Unit::Volt))
    };
    (judged, sentence)
}

/// Junction temperature: heat times thermal resistance above the air.
fn heat(
    at: &Standing<'_>,
    (id, name): (PartId, &str),
    limits: RegulatorLimits,
) -> (Judged, String) {
    let watts = at.heat_w(id);
    let Sourced { value: per_watt, source } = limits.kelvin_per_watt;
    let rise = watts * per_watt;
    let bound = stop_above(JUNCTION_CELSIUS, JUNCTION_SOURCE);
    let judged = Judged::at_most(AIR_CELSIUS + rise, bound);
    let sentence = format!(
        "{name} turns {} into heat, which is {rise:+.0} K at {per_watt} K/W ({source}), in \
         air of {AIR_CELSIUS} °C.",
        amount(watts, Unit::Watt)
    );
    (judged, sentence)
}

/// Capacitors from input and output to common.
pub(super) fn capacitors(scenario: &Scenario, tally: &mut Tally) {
    for (index, part) in scenario.circuit.parts.iter().enumerate() {
        let PartKind::Regulator(regulator) = &part.kind else { continue };
        let sides = [
            (Subject::InputCapacitor, regulator.input, "input"),
            (Subject::OutputCapacitor, regulator.output, "output"),
        ];
        for (subject, node, side) in sides {
            // A regulator whose common terminal is lifted has its capacitors to ground.
            let mut farads = farads_between(scenario, [node, regulator.common]);
            if regulator.common != NodeId::GROUND {
                farads += farads_between(scenario, [node, NodeId::GROUND]);
            }
            let judged = Judged::at_least(farads, NEAR_FARADS, Word::Look, COMMON);
            let judged = if farads > 0.999 * NEAR_FARADS {
                Judged { word: Word::Ok, ..judged }
            } else {
                judged
            };
            let sentence = format!(
                "{} has {} at its {side}: it wants {} close by, or it may oscillate.",
                part.name,
                amount(farads, Unit::Farad),
                amount(NEAR_FARADS, Unit::Farad)
            );
            let (place, unit) = (Place::part(PartId(index)), Unit::Farad);
            let part = part.name.clone();
            tally.add(Finding { place, part, subject, unit, judged, sentence }, None);
        }
    }
}

fn farads_between(scenario: &Scenario, nodes: [NodeId; 2]) -> f64 {
    let between = |ends: [NodeId; 2]| ends == nodes || ends == [nodes[1], nodes[0]];
    let farads = scenario.circuit.parts.iter().map(|part| match &part.kind {
        PartKind::Capacitor { ends, farads } if between(*ends) => *farads,
        PartKind::RealCapacitor(real) if between(real.ends) => real.present_farads(),
        _ => 0.0,
    });
    farads.sum()
}
