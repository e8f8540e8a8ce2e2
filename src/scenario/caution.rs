//! What is odd about a board that can be solved all the same.

use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartKind;
use crate::scenario::Scenario;

impl Scenario {
    /// Parts that are probably tied the wrong way round, a sentence each.
    #[must_use]
    pub fn cautions(&self) -> Vec<String> {
        zeners_turned_round(&self.circuit)
    }
}

/// A zener that works in breakdown has its cathode at the higher node, and no supply lies below
/// ground.
fn zeners_turned_round(circuit: &Circuit) -> Vec<String> {
    let turned = circuit.parts.iter().filter_map(|part| match &part.kind {
        PartKind::Diode { anode, cathode: NodeId::GROUND, model } if model.breakdown.is_some() => {
            Some((&part.name, circuit.node_name(*anode)))
        }
        _ => None,
    });
    turned
        .map(|(name, node)| {
            format!(
                "zener `{name}` has its cathode at ground: turned so it conducts forwards and \
                 holds `{node}` at about 0.7 V; its ring belongs at `{node}`"
            )
        })
        .collect()
}
