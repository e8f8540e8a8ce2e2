//! What every node of a board stands at, as it would be written on the drawing.

use crate::analysis::ladder::Levels;
use crate::network::circuit::NodeId;
use crate::network::error::NetworkError;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::signal::element::ElementSet;

/// The standing volts of every node, with the scenario's own load and nothing lit.
///
/// As in the ladder, a capacitor that holds its voltage through a line is held at what it has with
/// sync released.
#[derive(Clone, Debug, PartialEq)]
pub struct NodeLevels {
    /// Sync released, V, by [`NodeId`] index.
    pub black_v: Vec<f64>,
    /// In the sync pulse, V, by [`NodeId`] index.
    pub tip_v: Vec<f64>,
}

/// Solves a board at rest.
///
/// # Errors
///
/// A board that cannot be solved.
pub fn node_levels(scenario: &Scenario) -> Result<NodeLevels, NetworkError> {
    let levels = Levels::new(scenario, &scenario.circuit)?;
    let tip = levels.solve(ElementSet::EMPTY, LinePart::Sync)?;
    let nodes = || (0..scenario.circuit.nodes.len()).map(NodeId);
    Ok(NodeLevels {
        black_v: nodes().map(|node| levels.black().volts(node)).collect(),
        tip_v: nodes().map(|node| tip.volts(node)).collect(),
    })
}
