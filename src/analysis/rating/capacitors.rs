//! Capacitors: which way round they stand, what they bear, and the one in series with the socket.

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
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::passive::CapacitorPolarity;
use crate::network::passive::RealCapacitor;
use crate::scenario::limits::Bound;

/// Standing reverse voltage that an electrolytic is held to bear, V; makers' notes allow about 1 V
/// at most, and not for long.
const REVERSE_VOLTS: f64 = 0.5;
/// Share of its rating at which one works it.
const WORKING_SHARE: f64 = 0.8;
/// Least capacitance in series with the socket, F.
const COUPLING_FARADS: f64 = 220e-6;
/// What is smaller couples no field, F.
const LARGE_FARADS: f64 = 1e-6;
/// Resistances up to this lead on to the socket, Ω.
const LEAD_OHMS: f64 = 1e3;
/// A coupling capacitor is rated for so many times the rail.
const TIMES_RAIL: f64 = 2.0;

pub(super) fn rate(at: &Standing<'_>, tally: &mut Tally) {
    for (id, part, _) in at.parts() {
        if let PartKind::RealCapacitor(real) = &part.kind {
            worked(at, (id, &part.name), real, tally);
        }
        coupling(at, id, tally);
    }
}

fn add(
    at: &Standing<'_>,
    id: PartId,
    (subject, unit): (Subject, Unit),
    (judged, sentence): (Judged, String),
    tally: &mut Tally,
) {
    let (place, part) = (Place::part(id), at.circuit.parts[id.0].name.clone());
    tally.add(Finding { place, part, subject, unit, judged, sentence }, Some(at.state));
}

fn worked(at: &Standing<'_>, (id, name): (PartId, &str), real: &RealCapacitor, tally: &mut Tally) {
    let volts = at.volts(real.ends[0]) - at.volts(real.ends[1]);
    if real.polarity == CapacitorPolarity::Polar {
        let rated = real.rated_volts.map_or(String::new(), |rated| {
            format!(", and is rated for {rated} V with its plus end up")
        });
        let source = "makers' notes, from memory";
        let judged = Judged::at_most(-volts, stop_above(REVERSE_VOLTS, source));
        let sentence = if judged.word == Word::Ok {
            format!("{name} has its plus end up.")
        } else {
            format!(
                "{name} stands reversed by {:.1} V{rated}. An electrolytic so used leaks, swells or \
                 bursts: turn it round.",
                -volts
            )
        };
        add(at, id, (Subject::Polarity, Unit::Volt), (judged, sentence), tally);
    }
    if let Some(rated) = real.rated_volts {
        let bound = Bound { look: WORKING_SHARE * rated, stop: rated, source: COMMON };
        let judged = Judged::at_most(volts.abs(), bound);
        let only = if judged.word == Word::Stop { " only" } else { "" };
        let sentence =
            format!("{name} stands at {:.1} V and is rated for {rated} V{only}.", volts.abs());
        add(at, id, (Subject::CapacitorVolts, Unit::Volt), (judged, sentence), tally);
    }
}

/// The capacitor that takes the DC off the socket: how large, and for what voltage. Which way round
/// it stands is rated as anywhere on the board, and only if it is polar: a large capacitor that is
/// not said to be electrolytic may have no plus end.
fn coupling(at: &Standing<'_>, id: PartId, tally: &mut Tally) {
    let part = &at.circuit.parts[id.0];
    let (ends, farads, rated) = match &part.kind {
        PartKind::Capacitor { ends, farads } => (*ends, *farads, None),
        PartKind::RealCapacitor(real) => (real.ends, real.present_farads(), real.rated_volts),
        _ => return,
    };
    if farads < LARGE_FARADS || ends.contains(&NodeId::GROUND) {
        return;
    }
    let socket = socket_side(at);
    if socket.contains(&ends[0]) == socket.contains(&ends[1]) {
        return;
    }
    let name = &part.name;
    let judged = Judged::at_least(farads, COUPLING_FARADS, Word::Look, COMMON);
    let sentence = format!(
        "{name} couples the socket with {}: less than {} shades the field.",
        amount(farads, Unit::Farad),
        amount(COUPLING_FARADS, Unit::Farad)
    );
    add(at, id, (Subject::Coupling, Unit::Farad), (judged, sentence), tally);
    let rail = rail_volts(at);
    if let (Some(rated), true) = (rated, rail > 0.0) {
        let judged = Judged::at_least(rated, TIMES_RAIL * rail, Word::Look, COMMON);
        let sentence = format!(
            "{name} is rated for {rated} V; twice the rail is {}.",
            amount(TIMES_RAIL * rail, Unit::Volt)
        );
        add(at, id, (Subject::CouplingRating, Unit::Volt), (judged, sentence), tally);
    }
}

/// The nodes that small resistances, coils, contacts and cables tie to the socket.
fn socket_side(at: &Standing<'_>) -> Vec<NodeId> {
    let mut side = vec![at.scenario.output.node];
    let leads: Vec<[NodeId; 2]> = leads(at.circuit);
    loop {
        let more =
            leads.iter().find_map(|&[from, to]| match (side.contains(&from), side.contains(&to)) {
                (true, false) => Some(to),
                (false, true) => Some(from),
                _ => None,
            });
        match more {
            Some(node) => side.push(node),
            None => return side,
        }
    }
}

fn leads(circuit: &Circuit) -> Vec<[NodeId; 2]> {
    let ends = circuit.parts.iter().filter_map(|part| match &part.kind {
        PartKind::Resistor { ends, ohms } if *ohms <= LEAD_OHMS => Some(*ends),
        PartKind::Inductor { ends, .. }
        | PartKind::LossyInductor { ends, .. }
        | PartKind::Contact { ends, .. } => Some(*ends),
        PartKind::Cable(cable) => Some(cable.ends),
        _ => None,
    });
    ends.filter(|ends| !ends.contains(&NodeId::GROUND)).collect()
}

/// The highest source that feeds a transistor, directly or through a resistor, a gate or a driver.
fn rail_volts(at: &Standing<'_>) -> f64 {
    let mut taps: Vec<NodeId> = Vec::new();
    for part in &at.circuit.parts {
        match &part.kind {
            PartKind::Transistor { collector, emitter, .. } => taps.extend([*collector, *emitter]),
            PartKind::Gate(gate) => taps.push(gate.supply),
            PartKind::VideoDriver(driver) => taps.push(driver.supply),
            _ => {}
        }
    }
    let behind: Vec<NodeId> = at
        .circuit
        .parts
        .iter()
        .filter_map(|part| match &part.kind {
            PartKind::Resistor { ends: [from, to], .. } if taps.contains(from) => Some(*to),
            PartKind::Resistor { ends: [from, to], .. } if taps.contains(to) => Some(*from),
            _ => None,
        })
        .collect();
    let feeds = |node: NodeId| taps.contains(&node) || behind.contains(&node);
    let sources = at.circuit.parts.iter().filter_map(|part| part.kind.fed());
    sources.filter(|node| feeds(*node)).map(|node| at.volts(node)).fold(0.0, f64::max)
}
