//! Nodes that feed something and stand at nothing, and the diode that may be to blame.

use crate::analysis::ladder::Levels;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::operating_point::OperatingPoint;
use crate::scenario::Scenario;
use crate::scenario::change::Change;

/// A supply below this feeds nothing, V: no logic works from it.
pub(super) const NOTHING_VOLTS: f64 = 1.0;

/// Who is fed from where, by name.
fn fed(circuit: &Circuit) -> Vec<(NodeId, &str)> {
    let taps = circuit.parts.iter().filter_map(|part| match &part.kind {
        PartKind::Gate(gate) => Some((gate.supply, part.name.as_str())),
        PartKind::AnalogueSwitch(switch) => Some((switch.supply, part.name.as_str())),
        PartKind::VideoDriver(driver) => Some((driver.supply, part.name.as_str())),
        PartKind::Pin(pin) => Some((pin.supply, "the chip")),
        _ => None,
    });
    taps.filter(|(node, _)| *node != NodeId::GROUND).collect()
}

/// Each node that ought to feed something and does not, with a sentence.
///
/// If it would with a diode turned round, that is tried and said.
pub(super) fn cautions(scenario: &Scenario, black: &OperatingPoint) -> Vec<(NodeId, String)> {
    let circuit = &scenario.circuit;
    let taps = fed(circuit);
    let mut dead: Vec<NodeId> = taps.iter().map(|(node, _)| *node).collect();
    dead.sort_unstable();
    dead.dedup();
    dead.retain(|&node| black.volts(node) < NOTHING_VOLTS);
    dead.into_iter()
        .map(|node| {
            let mut names: Vec<&str> =
                taps.iter().filter(|tap| tap.0 == node).map(|tap| tap.1).collect();
            names.dedup();
            let mut words = format!(
                "`{}` stands at {:.1} V: no supply for {}.",
                circuit.node_name(node),
                tenths(black.volts(node)),
                names.join(", ")
            );
            if let Some((diode, volts)) = turned(scenario, node) {
                let name = &circuit.parts[diode.0].name;
                words += &format!(" With {name} turned round it stands at {volts:.1} V.");
            }
            (node, words)
        })
        .collect()
}

/// Volts to one place, without a minus before nothing.
fn tenths(volts: f64) -> f64 {
    (10.0 * volts).round() / 10.0 + 0.0
}

/// The first diode that, turned round, lets a node stand at something, and at what.
fn turned(scenario: &Scenario, node: NodeId) -> Option<(PartId, f64)> {
    let parts = scenario.circuit.parts.iter().enumerate();
    let diodes = parts
        .filter(|(_, part)| matches!(part.kind, PartKind::Diode { .. }))
        .map(|(index, _)| PartId(index));
    diodes
        .filter_map(|part| {
            let changed = scenario.changed(&Change::Swap { part, terminals: [0, 1] }).ok()?;
            let levels = Levels::new(scenario, &changed.circuit).ok()?;
            Some((part, levels.black().volts(node)))
        })
        .find(|(_, volts)| *volts > NOTHING_VOLTS)
}
