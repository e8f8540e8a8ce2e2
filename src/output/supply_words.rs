//! What a supply does to a board, in words that table, picture and JSON share.

use crate::analysis::supply::Follows;
use crate::analysis::supply::SupplyReport;
use crate::analysis::supply::discharge::Lost;
use crate::analysis::verdict::LockState;
use crate::analysis::verdict::SyncState;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::output::axis::trimmed;
use crate::output::part_words::kind_words;
use crate::output::table::seen_shape;
use crate::scenario::Scenario;
use crate::scenario::battery::Battery;
use crate::scenario::battery::Pack;

/// The name of a part.
pub(crate) fn part(scenario: &Scenario, part: PartId) -> &str {
    scenario.circuit.parts.get(part.0).map_or("bench supply", |part| part.name.as_str())
}

/// The name of a node.
pub(crate) fn node(scenario: &Scenario, node: NodeId) -> &str {
    scenario.circuit.node_name(node)
}

/// What is lost: "left faint", "sync failing", "U2 drops out".
pub(crate) fn lost(scenario: &Scenario, what: Lost) -> String {
    match what {
        Lost::Element(element, seen) => {
            format!("{} {}", scenario.raster.elements[element], seen.word())
        }
        Lost::Sync(state) => format!("sync {}", state.word()),
        Lost::Dropout(regulator) => format!("{} drops out", part(scenario, regulator)),
        Lost::Chip => {
            format!("chip fed with less than {} V", trimmed(scenario.chip_limits.least_volts, 2))
        }
        Lost::Lock => "the set lets go".to_owned(),
    }
}

/// How a picture stands, in a word or several.
pub(crate) fn lock(states: &[LockState]) -> String {
    states.iter().map(|state| state.word()).collect::<Vec<_>>().join(", ")
}

/// The sync's word with a shape.
pub(crate) fn sync(state: SyncState) -> String {
    format!("{} {}", seen_shape(state.seen()), state.word())
}

/// "6 AA cells, alkaline".
#[must_use]
pub fn battery(battery: &Battery) -> String {
    let chemistry = battery.chemistry.word();
    match battery.pack {
        Pack::Cells(count, size) => format!("{count} {} cells, {chemistry}", size.word()),
        Pack::Block(volts) => format!("a {} V block, {chemistry}", trimmed(volts, 2)),
    }
}

/// What the source is: "V1, 6 AA cells, alkaline", "V1, adapter".
#[must_use]
pub fn source(scenario: &Scenario, report: &SupplyReport) -> String {
    let name = part(scenario, report.source);
    match &report.battery {
        Some(own) => format!("{name}, {}", battery(own)),
        None => format!("{name}, {}", kind_words(&scenario.circuit.parts[report.source.0].kind)),
    }
}

/// Whether the clock follows the supply.
#[must_use]
pub fn clock(follows: Follows) -> String {
    match follows {
        Follows::Number => "The clock is stated as a number: it does not follow the supply.".into(),
        Follows::Tank => {
            "The clock is made by a tank of which no `supply_drift` is stated: it does \
                          not follow the supply."
                .into()
        }
        Follows::By(per_volt) => format!(
            "The clock is made by a tank and moves by {} ppm for each volt of the chip's supply.",
            trimmed(1e6 * per_volt, 1)
        ),
    }
}

/// What is lost when a bench feed goes round a part.
pub(crate) fn bypassed(scenario: &Scenario, id: PartId) -> String {
    let name = part(scenario, id);
    match &scenario.circuit.parts[id.0].kind {
        PartKind::Diode { model, .. } if model.breakdown.is_none() => format!(
            "{name} (diode): nothing stops a lead that is the wrong way round, nor current back"
        ),
        PartKind::Regulator(_) => {
            format!("{name} (regulator): neither its volts nor its current limit holds here")
        }
        PartKind::Contact { .. } => format!("{name} (switch or jumper): it switches nothing off"),
        PartKind::Resistor { .. } => format!("{name} (resistor): it limits no current"),
        kind => format!("{name} ({})", kind_words(kind)),
    }
}
