//! The current of every part, once the board is solved.

use crate::network::cable;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::evaluation::Evaluation;
use crate::network::evaluation::Weights;
use crate::network::evaluation::all_on;
use crate::network::junctions::Junctions;
use crate::network::operating_point::Network;
use crate::network::operating_point::OperatingPoint;
use crate::network::ripple;
use crate::network::system::System;
use crate::network::system::unknown;
use crate::network::terminal::terminals;
use crate::signal::pulse_train::Level;

/// What flows from a board's nodes into its parts while it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct PartCurrents {
    /// By part: each node that it touches, ground among them if it does, and the current from
    /// there into the part, A.
    parts: Vec<Vec<(NodeId, f64)>>,
}

impl PartCurrents {
    /// Current from a node into a part, A; below 0 the part delivers it. What enters by several
    /// terminals at one node counts as one.
    #[must_use]
    pub fn into_part(&self, part: PartId, node: NodeId) -> f64 {
        let own = self.parts[part.0].iter();
        own.filter(|(touched, _)| *touched == node).map(|(_, amps)| amps).sum()
    }

    /// The nodes that a part touches, each once, with the current into it, A.
    #[must_use]
    pub fn of_part(&self, part: PartId) -> &[(NodeId, f64)] {
        &self.parts[part.0]
    }

    /// Power that a part turns into heat, W; below 0 it feeds the board.
    ///
    /// # Source
    ///
    /// P = Σ v i over the terminals, any text on circuits.
    #[must_use]
    pub fn heat_w(&self, part: PartId, point: &OperatingPoint) -> f64 {
        self.parts[part.0].iter().map(|&(node, amps)| point.volts(node) * amps).sum()
    }
}

impl Network {
    /// The current of every part of `circuit`, of which this network was made, at `point`, which
    /// was solved with the pins at `levels`. A capacitor takes current only if it is held.
    ///
    /// Each part's own equations are evaluated at the solved voltages. What comes back through
    /// ground is what the other terminals leave over, as every part lets out what it takes in.
    ///
    /// # Panics
    ///
    /// If `circuit`, `levels` or `point` are not this network's.
    #[must_use]
    pub fn currents(
        &self,
        circuit: &Circuit,
        levels: &[Level],
        point: &OperatingPoint,
    ) -> PartCurrents {
        let mut levels = levels.iter();
        let mut gates = point.gates.iter();
        let parts = circuit.parts.iter().enumerate().map(|(index, part)| {
            let weights: Option<Weights> = match &part.kind {
                PartKind::Pin(_) => levels.next().map(|level| all_on(usize::from(level.0))),
                PartKind::Gate(_) | PartKind::AnalogueSwitch(_) => {
                    gates.next().map(|&high| all_on(usize::from(high)))
                }
                PartKind::Adapter(_) => Some(ripple::mean()),
                PartKind::Sounder(_) => Some(all_on(0)),
                PartKind::Cable(_) => Some(cable::gentle()),
                _ => None,
            };
            let leaving = self.leaving(circuit, PartId(index), weights, point);
            let mut touched: Vec<(NodeId, f64)> = Vec::new();
            for (_, node) in terminals(&part.kind) {
                if node != NodeId::GROUND && !touched.iter().any(|(known, _)| *known == node) {
                    touched.push((node, unknown(node).map_or(0.0, |row| leaving[row])));
                }
            }
            let back: f64 = touched.iter().map(|(_, amps)| amps).sum();
            touched.push((NodeId::GROUND, -back));
            touched
        });
        PartCurrents { parts: parts.collect() }
    }

    /// The current out of every unknown's node into one part, A.
    fn leaving(
        &self,
        circuit: &Circuit,
        part: PartId,
        weights: Option<Weights>,
        point: &OperatingPoint,
    ) -> Vec<f64> {
        let mut alone = System::of_part(circuit, part);
        for store in alone.stores.clone() {
            if let Some((_, volts)) = self.held.iter().find(|(held, _)| held.is(&store)) {
                alone.hold(store.ends, *volts);
            }
        }
        let weights: Vec<Weights> = weights.into_iter().collect();
        let mut junctions = Junctions::default();
        alone.start_junctions(&point.x, &mut junctions);
        let mut out = Evaluation::new(alone.order);
        alone.evaluate((&point.x, &weights), None, &mut junctions, &mut out);
        out.f
    }
}
