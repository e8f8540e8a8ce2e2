//! The socket: what a short draws, the DC on it, how large the picture is.

use crate::analysis::ladder::Levels;
use crate::analysis::ladder::single_levels;
use crate::analysis::rating::COMMON;
use crate::analysis::rating::judged::Judged;
use crate::analysis::rating::judged::Subject;
use crate::analysis::rating::judged::Unit;
use crate::analysis::rating::judged::Word;
use crate::analysis::rating::judged::look_above;
use crate::analysis::rating::semiconductors::main_node;
use crate::analysis::rating::standing::Standing;
use crate::analysis::rating::tally::Finding;
use crate::analysis::rating::tally::Place;
use crate::analysis::rating::tally::Tally;
use crate::analysis::rating::words::amount;
use crate::network::circuit::PartKind;
use crate::network::error::NetworkError;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::scenario::limits::Limits;
use crate::signal::element::ElementSet;

/// Most DC that a set takes on its back porch, V.
const DC_VOLTS: f64 = 1.0;
const DC_SOURCE: &str = "data sheets of video inputs, from memory";
/// White above tip, V.
const WHITE: [f64; 2] = [0.7, 1.2];
/// Black above tip, V.
const DEPTH: [f64; 2] = [0.2, 0.4];
/// Loads that are one set, Ω.
const ONE_SET: [f64; 2] = [70.0, 80.0];

/// The current into a shorted socket, against the share of it that the hardest pressed part bears.
/// A short is an accident: parts may be worked up to their full ratings by it.
pub(super) fn short(at: &Standing<'_>, tally: &mut Tally) {
    let socket = at.scenario.output.node;
    let amps = at.amps_into(at.scenario.output.load, socket).abs();
    let Some((strain, name, source)) = hardest_pressed(at) else { return };
    // Currents go as the short's, heat as its square.
    let borne = if strain > 0.0 { amps / strain } else { f64::INFINITY };
    let judged = Judged::at_most(amps, look_above(borne, source));
    let judged = Judged { strain, ..judged };
    let sentence = format!(
        "A short at the socket draws {}; {name} is pressed hardest and bears {}.",
        amount(amps, Unit::Ampere),
        amount(borne, Unit::Ampere)
    );
    if strain > 0.0 && amps > 0.0 {
        add(tally, at, (Subject::Short, Unit::Ampere), judged, sentence);
    }
}

/// The share of its full rating that a part is worked to, as a share of current, the greatest of
/// all; its name and where its rating comes from.
fn hardest_pressed<'a>(at: &'a Standing<'_>) -> Option<(f64, &'a str, &'static str)> {
    let mut most: Option<(f64, &str, &'static str)> = None;
    let mut offer = |share: f64, name: &'a str, source| {
        if most.is_none_or(|(known, ..)| share > known) {
            most = Some((share, name, source));
        }
    };
    for (id, part, limits) in at.parts() {
        let heat = |watts: f64| (at.heat_w(id).max(0.0) / watts).sqrt();
        match limits {
            Limits::Heat(bound) if !matches!(part.kind, PartKind::Supply { .. }) => {
                offer(heat(bound.stop), part.name.as_str(), bound.source);
            }
            Limits::Semiconductor(limits) => {
                if let Some(bound) = limits.watts {
                    offer(heat(bound.stop), part.name.as_str(), bound.source);
                }
                if let (Some(bound), Some(node)) = (limits.amps, main_node(part)) {
                    let share = at.amps_into(id, node).abs() / bound.stop;
                    offer(share, part.name.as_str(), bound.source);
                }
            }
            Limits::Gate(limits) => {
                if let PartKind::Gate(gate) = &part.kind {
                    let share = at.amps_into(id, gate.output).abs() / limits.output.stop;
                    offer(share, part.name.as_str(), limits.output.source);
                }
            }
            _ => {}
        }
    }
    most
}

fn add(
    tally: &mut Tally,
    at: &Standing<'_>,
    (subject, unit): (Subject, Unit),
    judged: Judged,
    sentence: String,
) {
    let (place, part) = (Place::Socket, "socket".to_owned());
    tally.add(Finding { place, part, subject, unit, judged, sentence }, Some(at.state));
}

/// The back porch, white and the depth of sync, under the scenario's own load; the two last only if
/// that is one set, for a modulator has levels of its own.
pub(super) fn levels(scenario: &Scenario, tally: &mut Tally) -> Result<(), NetworkError> {
    let levels = Levels::new(scenario, &scenario.circuit)?;
    let socket = scenario.output.node;
    let porch = levels.solve(ElementSet::EMPTY, LinePart::Blanking)?.volts(socket);
    let mut told = |subject, judged, sentence| {
        let (place, part, unit) = (Place::Socket, "socket".to_owned(), Unit::Volt);
        tally.add(Finding { place, part, subject, unit, judged, sentence }, None);
    };
    let judged = Judged::at_most(porch.abs(), look_above(DC_VOLTS, DC_SOURCE));
    let judged = Judged { figure: porch, ..judged };
    let sentence = format!("The back porch stands at {} of DC.", amount(porch, Unit::Volt));
    told(Subject::Dc, judged, sentence);
    let PartKind::Resistor { ohms, .. } = scenario.circuit.parts[scenario.output.load.0].kind
    else {
        return Ok(());
    };
    if !(ONE_SET[0]..=ONE_SET[1]).contains(&ohms) {
        return Ok(());
    }
    let (sync, elements) = single_levels(scenario, &scenario.circuit)?;
    let above_black = elements.iter().map(|level| level.delta_v).fold(0.0, f64::max);
    let [white, depth] = [sync.depth_v + above_black, sync.depth_v];
    let words = |name: &str, value: f64, [least, most]: [f64; 2]| {
        let value = amount(value, Unit::Volt);
        format!("{name} lies {value} above tip; a set expects {least} to {most} V.")
    };
    told(Subject::White, within(white, WHITE), words("White", white, WHITE));
    told(Subject::Depth, within(depth, DEPTH), words("Black", depth, DEPTH));
    Ok(())
}

/// Against the nearer end of a window.
fn within(figure: f64, [least, most]: [f64; 2]) -> Judged {
    if figure < 0.5 * (least + most) {
        Judged::at_least(figure, least, Word::Look, COMMON)
    } else {
        Judged::at_most(figure, look_above(most, COMMON))
    }
}
