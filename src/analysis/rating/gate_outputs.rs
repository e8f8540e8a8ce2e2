//! Supplies and outputs of gates, rails that are fed through their inputs, outputs that fight.

use crate::analysis::rating::COMMON;
use crate::analysis::rating::gate_inputs::Inputs;
use crate::analysis::rating::judged::Judged;
use crate::analysis::rating::judged::Side;
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
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::scenario::limits::GateLimits;
use crate::scenario::limits::Limits;
use crate::scenario::limits::Window;

/// Clamp currents below this feed no rail, A.
const FEEDING_AMPS: f64 = 0.1e-3;
/// Share of what a rail draws that has to come through inputs for it to count as fed by them: a
/// supply that is off gives nothing, but rounding leaves a little.
const FED_SHARE: f64 = 0.999;
/// Outputs that push less than this against each other only leak, A.
const FIGHTING_AMPS: f64 = 0.1e-3;

pub(super) fn rate(at: &Standing<'_>, tally: &mut Tally) {
    for (id, part, limits) in at.parts() {
        let Limits::Gate(limits) = limits else { continue };
        let (supply, output) = match &part.kind {
            PartKind::Gate(gate) => (gate.supply, Some(gate.output)),
            PartKind::AnalogueSwitch(switch) => (switch.supply, None),
            _ => continue,
        };
        if let Some(window) = limits.supply {
            supplied(at, (id, &part.name), (supply, window), tally);
        }
        if let Some(output) = output {
            loaded(at, (id, &part.name), (output, limits), tally);
        }
    }
    back_fed(at, tally);
    contention(at, tally);
}

fn supplied(
    at: &Standing<'_>,
    (id, name): (PartId, &str),
    (supply, window): (NodeId, Window),
    tally: &mut Tally,
) {
    let volts = at.volts(supply);
    let judged = if volts < 0.5 * (window.least + window.most) {
        Judged::at_least(volts, window.least, Word::Stop, window.source)
    } else {
        Judged::at_most(volts, stop_above(window.most, window.source))
    };
    // Below or above, the distance from the limit counts.
    let strain = match judged.side {
        Side::AtMost => volts - window.most,
        Side::AtLeast => window.least - volts,
    };
    let sentence = format!(
        "{name} is fed with {} at `{}`; its family works from {} to {} V.",
        amount(volts, Unit::Volt),
        at.node_name(supply),
        window.least,
        window.most
    );
    let (subject, unit) = (Subject::GateSupply, Unit::Volt);
    let judged = Judged { strain, ..judged };
    let part = name.to_owned();
    tally.add(
        Finding { place: Place::part(id), part, subject, unit, judged, sentence },
        Some(at.state),
    );
}

fn loaded(
    at: &Standing<'_>,
    (id, name): (PartId, &str),
    (output, limits): (NodeId, GateLimits),
    tally: &mut Tally,
) {
    let PartKind::Gate(gate) = &at.circuit.parts[id.0].kind else { return };
    let amps = at.amps_into(id, output);
    let (volts, supply) = (at.volts(output), at.volts(gate.supply));
    let sag = if amps < 0.0 {
        format!("its high level sags by {}", amount(supply - volts, Unit::Volt))
    } else {
        format!("its low level rises to {}", amount(volts, Unit::Volt))
    };
    let sentence = format!("{name} drives {}: {sag}.", amount(amps.abs(), Unit::Ampere));
    let judged = Judged::at_most(amps.abs(), limits.output);
    let (subject, unit, part) = (Subject::GateOutput, Unit::Ampere, name.to_owned());
    tally.add(
        Finding { place: Place::part(id), part, subject, unit, judged, sentence },
        Some(at.state),
    );
}

/// Whether a part is what a rail is fed by, so that what it swallows is no load: a source, a
/// regulator's output, a resistance or a diode from a source.
fn feeds(circuit: &Circuit, kind: &PartKind, rail: NodeId) -> bool {
    let other = match kind {
        PartKind::Supply { .. } | PartKind::Adapter(_) => return true,
        PartKind::Regulator(regulator) => return regulator.output == rail,
        PartKind::Resistor { ends: [from, to], .. }
        | PartKind::Contact { ends: [from, to], .. } => {
            if *from == rail {
                *to
            } else {
                *from
            }
        }
        PartKind::Diode { anode, cathode, .. } if *cathode == rail => *anode,
        _ => return false,
    };
    circuit.parts.iter().any(|part| part.kind.fed() == Some(other))
}

/// What inputs push into each rail through their diodes, against what the rail draws.
fn back_fed(at: &Standing<'_>, tally: &mut Tally) {
    let inputs: Vec<Inputs<'_>> =
        at.parts().filter_map(|(id, part, _)| Inputs::of(id, part)).collect();
    let mut rails: Vec<NodeId> = inputs.iter().map(|inputs| inputs.supply).collect();
    rails.sort_unstable();
    rails.dedup();
    for rail in rails {
        let pushed = |id: PartId| {
            let of_part = inputs.iter().filter(|inputs| inputs.id == id && inputs.supply == rail);
            let part = &at.circuit.parts[id.0];
            of_part
                .flat_map(|inputs| {
                    let clamped = inputs.clamped.iter();
                    clamped.map(|&node| inputs.clamp_amps(part, node, at))
                })
                .sum::<f64>()
        };
        let clamps: f64 = inputs.iter().map(|inputs| pushed(inputs.id)).sum();
        let load: f64 = at
            .parts()
            .filter(|(_, part, _)| !feeds(at.circuit, &part.kind, rail))
            .map(|(id, _, _)| (at.amps_into(id, rail) + pushed(id)).max(0.0))
            .sum();
        let most = (FED_SHARE * load).max(FEEDING_AMPS);
        let judged = Judged::at_most(clamps, look_above(most, COMMON));
        let sentence = format!(
            "The inputs fed from `{}` push {} into it, and it draws {}.",
            at.node_name(rail),
            amount(clamps, Unit::Ampere),
            amount(load, Unit::Ampere)
        );
        let part = at.node_name(rail).to_owned();
        let (subject, unit) = (Subject::BackFeed, Unit::Ampere);
        tally.add(
            Finding { place: Place::Node(rail), part, subject, unit, judged, sentence },
            Some(at.state),
        );
    }
}

/// Outputs of one node: what some deliver and others swallow.
fn contention(at: &Standing<'_>, tally: &mut Tally) {
    for index in 1..at.circuit.nodes.len() {
        let node = NodeId(index);
        let outputs: Vec<(&str, f64)> = at
            .parts()
            .filter(|(_, part, _)| part.kind.driven() == Some(node))
            .map(|(id, part, _)| (part.name.as_str(), at.amps_into(id, node)))
            .collect();
        if outputs.len() < 2 {
            continue;
        }
        let sum = |sign: f64| outputs.iter().map(|(_, amps)| (sign * amps).max(0.0)).sum::<f64>();
        let amps = sum(1.0).min(sum(-1.0));
        let names: Vec<&str> = outputs.iter().map(|(name, _)| *name).collect();
        let names = names.join(", ");
        let judged = Judged::at_most(amps, stop_above(FIGHTING_AMPS, COMMON));
        let sentence = if judged.word == Word::Ok {
            format!("{names} share `{}` without a fight.", at.node_name(node))
        } else {
            format!(
                "{names} fight at `{}` with {}: it stands at {}.",
                at.node_name(node),
                amount(amps, Unit::Ampere),
                amount(at.volts(node), Unit::Volt)
            )
        };
        let (subject, unit) = (Subject::Contention, Unit::Ampere);
        let part = at.node_name(node).to_owned();
        tally.add(
            Finding { place: Place::Node(node), part, subject, unit, judged, sentence },
            Some(at.state),
        );
    }
}
