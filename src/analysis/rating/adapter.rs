//! Plug-in adapters the wrong way round, and nodes that feed something and stand at nothing.

use crate::analysis::feed;
use crate::analysis::ladder::Levels;
use crate::analysis::rating::COMMON;
use crate::analysis::rating::judged::Judged;
use crate::analysis::rating::judged::Subject;
use crate::analysis::rating::judged::Unit;
use crate::analysis::rating::judged::Word;
use crate::analysis::rating::standing::Feed;
use crate::analysis::rating::standing::Plugged;
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
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::scenario::limits::Centre;
use crate::scenario::limits::Limits;

/// Volts below ground that a chip, a regulator or an electrolytic bears: a diode's.
const BORNE_VOLTS: f64 = -0.8;

/// Nodes without a supply, once, with nothing lit.
pub(super) fn feeds(at: &Standing<'_>, tally: &mut Tally) {
    let state = at.state;
    let is_first = state.plugged == Plugged::Set
        && state.feed == Feed::Mean
        && state.on.is_empty()
        && state.part == LinePart::Active;
    if !is_first {
        return;
    }
    for (node, sentence) in feed::cautions(at.scenario, at.point) {
        let volts = at.volts(node);
        let judged = Judged::at_least(volts, feed::NOTHING_VOLTS, Word::Stop, COMMON);
        let (place, part) = (Place::Node(node), at.node_name(node).to_owned());
        let (subject, unit) = (Subject::NoSupply, Unit::Volt);
        tally.add(Finding { place, part, subject, unit, judged, sentence }, Some(state));
    }
}

/// Every adapter, turned round and tried.
pub(super) fn rate(scenario: &Scenario, tally: &mut Tally) {
    for (index, (part, limits)) in scenario.circuit.parts.iter().zip(&scenario.limits).enumerate() {
        let Limits::Adapter(centre) = limits else { continue };
        let lowest = turned_round(scenario, index);
        let stated = match centre {
            Centre::Plus => Some("plus"),
            Centre::Minus => Some("minus"),
            Centre::Unknown => None,
        };
        let volts = lowest.map_or(f64::NEG_INFINITY, |(volts, _)| volts);
        let below = if stated.is_some() { Word::Ok } else { Word::Stop };
        let mut judged = Judged::at_least(volts, BORNE_VOLTS, below, COMMON);
        let name = &part.name;
        let sentence = match (lowest, stated) {
            (Some((volts, _)), _) if volts >= BORNE_VOLTS => {
                format!("{name} does no harm the wrong way round: a diode holds it off.")
            }
            (_, Some(word)) => format!("{name} is stated to have its {word} at the centre."),
            (Some((volts, node)), None) => format!(
                "{name} turned round puts {} on `{}`: state its `centre`, measure it, or put a \
                 diode in series.",
                amount(volts, Unit::Volt),
                scenario.circuit.node_name(node)
            ),
            (None, None) => format!(
                "{name} turned round leaves a board that cannot be solved: state its `centre`, \
                 measure it, or put a diode in series."
            ),
        };
        // What cannot be solved has no figure of its own: the adapter's own volts stand for it.
        if !judged.figure.is_finite() {
            judged.figure = -source_volts(&part.kind);
        }
        let (place, part) = (Place::part(PartId(index)), name.clone());
        let (subject, unit) = (Subject::Reversal, Unit::Volt);
        tally.add(Finding { place, part, subject, unit, judged, sentence }, None);
    }
}

fn source_volts(kind: &PartKind) -> f64 {
    match kind {
        PartKind::Supply { volts, .. } => *volts,
        PartKind::Adapter(adapter) => adapter.volts,
        _ => 0.0,
    }
}

/// The lowest volts at a node that bears none, and which, with an adapter's plug turned round; what
/// cannot be solved has none.
fn turned_round(scenario: &Scenario, index: usize) -> Option<(f64, NodeId)> {
    let mut circuit = scenario.circuit.clone();
    match &mut circuit.parts[index].kind {
        PartKind::Supply { volts, .. } => *volts = -*volts,
        PartKind::Adapter(adapter) => adapter.volts = -adapter.volts,
        _ => return None,
    }
    let levels = Levels::new(scenario, &circuit).ok()?;
    let tender = tender(&circuit).into_iter();
    let volts = tender.map(|node| (levels.black().volts(node), node));
    Some(
        volts
            .fold((0.0, NodeId::GROUND), |least, next| if next.0 < least.0 { next } else { least }),
    )
}

/// Nodes that should not go below ground.
fn tender(circuit: &Circuit) -> Vec<NodeId> {
    let nodes = circuit.parts.iter().filter_map(|part| match &part.kind {
        PartKind::Gate(gate) => Some(gate.supply),
        PartKind::AnalogueSwitch(switch) => Some(switch.supply),
        PartKind::VideoDriver(driver) => Some(driver.supply),
        PartKind::Pin(pin) => Some(pin.supply),
        PartKind::Consumption { node, .. } => Some(*node),
        PartKind::Regulator(regulator) => Some(regulator.input),
        PartKind::RealCapacitor(real) if real.polarity == CapacitorPolarity::Polar => {
            Some(real.ends[0])
        }
        _ => None,
    });
    nodes.collect()
}
