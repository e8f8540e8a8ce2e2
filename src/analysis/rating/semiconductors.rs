//! Transistors, diodes and resistors: current, heat, what stands the wrong way round.

use crate::analysis::rating::judged::Judged;
use crate::analysis::rating::judged::Subject;
use crate::analysis::rating::judged::Unit;
use crate::analysis::rating::judged::look_above;
use crate::analysis::rating::standing::Standing;
use crate::analysis::rating::tally::Finding;
use crate::analysis::rating::tally::Place;
use crate::analysis::rating::tally::Tally;
use crate::analysis::rating::words::amount;
use crate::network::bipolar::Polarity;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::scenario::limits::Bound;
use crate::scenario::limits::Limits;

/// Beyond this, V, an emitter stands on its collector's side.
const EXCHANGED_VOLTS: f64 = 0.2;

/// The node whose current a semiconductor's rating is for.
pub(super) fn main_node(part: &Part) -> Option<NodeId> {
    match &part.kind {
        PartKind::Transistor { collector, emitter, .. } => {
            // At ground the current is known as well as anywhere, but what returns there counts.
            Some(if *collector == NodeId::GROUND { *emitter } else { *collector })
        }
        PartKind::FieldEffect { drain, source, .. } => {
            Some(if *drain == NodeId::GROUND { *source } else { *drain })
        }
        PartKind::Diode { anode, cathode, .. } => {
            Some(if *anode == NodeId::GROUND { *cathode } else { *anode })
        }
        _ => None,
    }
}

pub(super) fn rate(at: &Standing<'_>, tally: &mut Tally) {
    for (id, part, limits) in at.parts() {
        match limits {
            Limits::Semiconductor(limits) => {
                let Some(node) = main_node(part) else { continue };
                let amps = at.amps_into(id, node).abs();
                if let Some(bound) = limits.amps {
                    let judged = Judged::at_most(amps, bound);
                    let words = format!("{} carries {}.", part.name, amount(amps, Unit::Ampere));
                    add(at, (id, part), (Subject::Current, Unit::Ampere), (judged, words), tally);
                }
                let watts = at.heat_w(id);
                if let Some(bound) = limits.watts {
                    let judged = Judged::at_most(watts, bound);
                    let words = format!(
                        "{} turns {} into heat while it carries {}.",
                        part.name,
                        amount(watts, Unit::Watt),
                        amount(amps, Unit::Ampere)
                    );
                    add(at, (id, part), (Subject::Heat, Unit::Watt), (judged, words), tally);
                }
                turned(at, (id, part), limits.reverse_volts, tally);
            }
            Limits::Heat(bound)
                if matches!(part.kind, PartKind::Resistor { .. } | PartKind::Trimmer { .. }) =>
            {
                let watts = at.heat_w(id);
                let judged = Judged::at_most(watts, bound);
                let words = format!(
                    "{} takes {} and is rated for {}, of which one uses half.",
                    part.name,
                    amount(watts, Unit::Watt),
                    amount(bound.stop, Unit::Watt)
                );
                add(at, (id, part), (Subject::Heat, Unit::Watt), (judged, words), tally);
            }
            _ => {}
        }
    }
}

fn add(
    at: &Standing<'_>,
    (id, part): (PartId, &Part),
    (subject, unit): (Subject, Unit),
    (judged, sentence): (Judged, String),
    tally: &mut Tally,
) {
    let (place, part) = (Place::part(id), part.name.clone());
    tally.add(Finding { place, part, subject, unit, judged, sentence }, Some(at.state));
}

/// The emitter against base and collector. A transistor wired as a diode has neither.
fn turned(
    at: &Standing<'_>,
    (id, part): (PartId, &Part),
    reverse: Option<Bound>,
    tally: &mut Tally,
) {
    let PartKind::Transistor { collector, base, emitter, model } = &part.kind else { return };
    if base == collector || base == emitter {
        return;
    }
    let name = &part.name;
    let [collector, base, emitter] = [*collector, *base, *emitter].map(|node| at.volts(node));
    let sign = model.polarity.sign();
    if let Some(bound) = reverse {
        let most = bound.look;
        let volts = sign * (emitter - base);
        let judged = Judged::at_most(volts, bound);
        let sentence = if volts > most {
            format!(
                "{name} stands reversed by {volts:.1} V between base and emitter: most transistors \
                 break down at 5 to 6 V, which is not modelled."
            )
        } else {
            format!("{name} bears {most} V reversed between base and emitter.")
        };
        let told = (judged, sentence);
        add(at, (id, part), (Subject::ReverseVolts, Unit::Volt), told, tally);
    }
    let exchanged = sign * (emitter - collector);
    let (kind, other, side) = match model.polarity {
        Polarity::Npn => ("an NPN", "a PNP", "above"),
        Polarity::Pnp => ("a PNP", "an NPN", "below"),
    };
    let bound = look_above(EXCHANGED_VOLTS, super::COMMON);
    // Only if it does at all levels: the least of them counts.
    let judged = Judged::at_most(exchanged, bound);
    let sentence = if exchanged > EXCHANGED_VOLTS {
        format!(
            "{name} stands the wrong way round: {kind} whose emitter is {exchanged:.1} V {side} its \
             collector. Exchange the two, or fit {other}."
        )
    } else {
        format!("{name} has its collector and emitter the right way round.")
    };
    let (place, part, unit) = (Place::part(id), name.clone(), Unit::Volt);
    let subject = Subject::Exchanged;
    tally.add_least(Finding { place, part, subject, unit, judged, sentence }, at.state);
}
