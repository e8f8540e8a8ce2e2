//! The chip: its supply, the load of its pins, and what they guarantee to a gate.

use crate::analysis::rating::COMMON;
use crate::analysis::rating::gate_inputs::CHIP_DROP_VOLTS;
use crate::analysis::rating::gate_inputs::Inputs;
use crate::analysis::rating::judged::Judged;
use crate::analysis::rating::judged::Subject;
use crate::analysis::rating::judged::Unit;
use crate::analysis::rating::judged::Word;
use crate::analysis::rating::judged::look_above;
use crate::analysis::rating::standing::Standing;
use crate::analysis::rating::tally::Finding;
use crate::analysis::rating::tally::Place;
use crate::analysis::rating::tally::Tally;
use crate::analysis::rating::words::amount;
use crate::network::circuit::PartKind;
use crate::network::circuit::Pin;
use crate::network::circuit::PinStage;
use crate::scenario::limits::Bound;

/// Margin between what a chip guarantees and what a gate asks for, V.
const MARGIN_VOLTS: f64 = 0.5;

pub(super) fn rate(at: &Standing<'_>, tally: &mut Tally) {
    supplied(at, tally);
    let limits = at.scenario.chip_limits;
    for (id, part, _) in at.parts() {
        let PartKind::Pin(pin) = &part.kind else { continue };
        let amps = at.amps_into(id, pin.node);
        let (subject, limit, verb) = if amps < 0.0 {
            (Subject::PinSource, limits.source_amps, "gives")
        } else {
            (Subject::PinSink, limits.sink_amps, "takes")
        };
        let judged = Judged::at_most(amps.abs(), look_above(limit, limits.source));
        let sentence = format!(
            "Pin {} {verb} {} at {}.",
            part.name,
            amount(amps.abs(), Unit::Ampere),
            amount(at.volts(pin.node), Unit::Volt)
        );
        let (place, name) = (Place::part(id), part.name.clone());
        let unit = Unit::Ampere;
        tally.add(Finding { place, part: name, subject, unit, judged, sentence }, Some(at.state));
        guaranteed(at, pin, tally);
    }
}

/// The chip's supply, against its window and what breaks it.
fn supplied(at: &Standing<'_>, tally: &mut Tally) {
    let Some(node) = at.scenario.chip_supply else { return };
    let limits = at.scenario.chip_limits;
    let volts = at.volts(node);
    let middle = 0.5 * (limits.least_volts + limits.most_volts);
    let judged = if volts < middle {
        Judged::at_least(volts, limits.least_volts, Word::Look, limits.source)
    } else {
        let bound =
            Bound { look: limits.most_volts, stop: limits.breaking_volts, source: limits.source };
        Judged::at_most(volts, bound)
    };
    let judged = Judged { strain: (volts - middle).abs(), ..judged };
    let sentence = format!(
        "The chip is fed with {} at `{}`; it wants {} to {} V.",
        amount(volts, Unit::Volt),
        at.node_name(node),
        limits.least_volts,
        limits.most_volts
    );
    let (place, subject, unit) = (Place::Chip, Subject::ChipSupply, Unit::Volt);
    let part = "chip".to_owned();
    tally.add(Finding { place, part, subject, unit, judged, sentence }, Some(at.state));
}

/// What a gate at the pin itself asks for, against the supply less 2 V that the class guarantees at
/// 0.1 mA.
fn guaranteed(at: &Standing<'_>, pin: &Pin, tally: &mut Tally) {
    let pulls_up = pin.levels.iter().any(|stage| match stage {
        PinStage::Linear { share, .. } => *share > 0.0,
        PinStage::PullUp { .. } => true,
        PinStage::PullDown { .. } | PinStage::Off { .. } => false,
    });
    if !pulls_up || at.scenario.chip_supply.is_none() {
        return;
    }
    let high = at.volts(pin.supply) - CHIP_DROP_VOLTS;
    for (id, part, _) in at.parts() {
        let Some(inputs) = Inputs::of(id, part).filter(|inputs| inputs.logic.contains(&pin.node))
        else {
            continue;
        };
        let [.., asked] = inputs.threshold.levels(at.volts(inputs.supply));
        let judged = Judged::at_least(high - asked, MARGIN_VOLTS, Word::Look, COMMON);
        let sentence = format!(
            "{}: a high of {} is all that the chip guarantees at `{}`, and {} is asked for.",
            inputs.name,
            amount(high, Unit::Volt),
            at.node_name(pin.node),
            amount(asked, Unit::Volt)
        );
        let (place, part) = (Place::Part(id, pin.node), inputs.name.to_owned());
        let (subject, unit) = (Subject::GuaranteedMargin, Unit::Volt);
        tally.add(Finding { place, part, subject, unit, judged, sentence }, Some(at.state));
    }
}
