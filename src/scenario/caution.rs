//! What is odd about a board that can be solved all the same.

use crate::document::near;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartKind;
use crate::network::terminal::terminals;
use crate::path::system::OUTPUT_LIMIT_V;
use crate::raster::plan::Content;
use crate::scenario::Scenario;

impl Scenario {
    /// What is probably not tied as it was meant, a sentence each.
    #[must_use]
    pub fn cautions(&self) -> Vec<String> {
        let mut all = zeners_turned_round(&self.circuit);
        all.extend(self.loose_ends());
        all.extend(self.no_ground());
        all.extend(self.too_loud());
        all.extend(self.pistol_before_a_panel());
        all.extend(bases_tied_to_emitters(&self.circuit));
        all
    }

    /// A panel shows the target a field or more too late, and never as a bright flying spot: common
    /// practice, no source.
    fn pistol_before_a_panel(&self) -> Option<String> {
        let Content::Game(court, _) = &self.raster.content else { return None };
        let late = !court.rules.shots.is_empty() && !self.receiver.demands.is_empty();
        late.then(|| {
            "the shots are taken as if the pistol stood before a tube: a panel shows the target too \
             late for it"
                .to_owned()
        })
    }

    /// Ends that no current can leave by, since nothing else is tied there.
    fn loose_ends(&self) -> Vec<String> {
        // What the scenario does not write itself and is a capacitor is the wiring's own.
        let parts = self.circuit.parts.iter().zip(&self.part_spans);
        let parts: Vec<_> = parts
            .filter(|(part, span)| {
                span.is_some() || !matches!(part.kind, PartKind::Capacitor { .. })
            })
            .collect();
        let ends: Vec<(&str, &PartKind, &str, NodeId)> = parts
            .iter()
            .filter(|(_, span)| span.is_some())
            .flat_map(|(part, _)| {
                let ends = terminals(&part.kind).into_iter();
                ends.map(|(end, node)| (part.name.as_str(), &part.kind, end, node))
            })
            .collect();
        let touched = |node: NodeId| {
            let all = parts.iter().flat_map(|(part, _)| terminals(&part.kind));
            all.filter(|(_, tied)| *tied == node).count()
        };
        ends.into_iter()
            .filter(|(_, kind, end, node)| {
                *node != NodeId::GROUND && needs_company(kind, end) && touched(*node) == 1
            })
            .map(|(name, _, _, node)| self.loose_end(name, node))
            .collect()
    }

    fn loose_end(&self, name: &str, node: NodeId) -> String {
        let node = self.circuit.node_name(node);
        let others = self.circuit.nodes.iter().map(String::as_str);
        let near = near::nearest(node, others)
            .map_or_else(String::new, |near| format!("; {}", near::did_you_mean(near)));
        format!(
            "`{name}` ends at node `{node}`, to which nothing else is tied: no current flows \
             there{near}"
        )
    }

    /// A modulator above what a TV interface device may put out.
    fn too_loud(&self) -> Option<String> {
        let level_v = self.modulator.as_ref()?.path.level_v;
        (level_v > OUTPUT_LIMIT_V * (1.0 + 1e-9)).then(|| {
            format!(
                "{:.1} mV at the tuner are above the {:.1} mV rms into 75 Ω that a TV interface \
                 device may put out in the USA (47 CFR 15.115)",
                1e3 * level_v,
                1e3 * OUTPUT_LIMIT_V
            )
        })
    }

    /// A board that amplifies or regulates and has no part of its own at the reference node.
    fn no_ground(&self) -> Option<String> {
        let written =
            || self.circuit.parts.iter().zip(&self.part_spans).filter(|(_, s)| s.is_some());
        let needs = written().any(|(part, _)| {
            matches!(
                part.kind,
                PartKind::Transistor { .. }
                    | PartKind::FieldEffect { .. }
                    | PartKind::VideoDriver(_)
                    | PartKind::RealCapacitor(_)
            )
        });
        let tied = written()
            .any(|(part, _)| terminals(&part.kind).iter().any(|(_, node)| *node == NodeId::GROUND));
        (needs && !tied).then(|| {
            "no part of the board is tied to `ground`: only its supplies, the chip and the set \
             return there"
                .to_owned()
        })
    }
}

/// Whether an end is good for nothing alone: not an output, nor the unused end of a track.
fn needs_company(kind: &PartKind, end: &str) -> bool {
    match kind {
        PartKind::Trimmer { .. } => end == "wiper",
        PartKind::Supply { .. } | PartKind::Adapter(_) | PartKind::Regulator(_) => end == "common",
        _ => end != "output",
    }
}

/// Such a transistor is cut off for good.
fn bases_tied_to_emitters(circuit: &Circuit) -> Vec<String> {
    let tied = circuit.parts.iter().filter(|part| match &part.kind {
        PartKind::Transistor { base, emitter, .. } => base == emitter,
        _ => false,
    });
    tied.map(|part| {
        format!("`{}` has base and emitter at one node: it is cut off for good", part.name)
    })
    .collect()
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
