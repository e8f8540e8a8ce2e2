//! A pulse's size from node to node, and what hangs on each of them.

use crate::analysis::cause::Subject;
use crate::analysis::cause::route::Hop;
use crate::analysis::cause::scene::Scene;
use crate::analysis::cause::scene::Way;
use crate::analysis::cause::words::volts;
use crate::analysis::why::naming::hanging_words;
use crate::analysis::why::naming::part_words;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::currents::PartCurrents;
use crate::network::error::NetworkError;
use crate::raster::plan::LinePart;
use crate::signal::element::ElementSet;

/// One line of the ledger: a node, and what came before it.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// The node; "open pin" for what the pin would give with nothing on it.
    pub node: String,
    /// Volts there with nothing lit.
    pub black_v: f64,
    /// Volts there with the element lit.
    pub lit_v: f64,
    /// What made the pulse so large, in words.
    pub words: String,
    /// What hangs there beside the way and takes current because of the element, the most first.
    pub pulls: Vec<Pull>,
}

impl Step {
    /// Size of the pulse, V; below 0 if the element takes the node down.
    #[must_use]
    pub fn pulse_v(&self) -> f64 {
        self.lit_v - self.black_v
    }
}

/// A part that hangs on a node of the way.
#[derive(Clone, Debug, PartialEq)]
pub struct Pull {
    /// The part's name.
    pub part: String,
    /// It with its value and its other end.
    pub words: String,
    /// What it takes from the node with nothing lit, A; below 0 it feeds it.
    pub black_amps: f64,
    /// What it takes with the element lit, A.
    pub lit_amps: f64,
}

impl Pull {
    /// What it takes more because of the element, A.
    #[must_use]
    pub fn more_amps(&self) -> f64 {
        self.lit_amps - self.black_amps
    }
}

/// Below this a part does not count, A: strays and inputs.
const LEAST_AMPS: f64 = 1e-6;
/// Below this share of what counts most on a node a part does not count.
const LEAST_SHARE: f64 = 0.03;

/// The ledger of a way.
pub(super) fn ledger(scene: &Scene<'_>, way: &Way) -> Result<Vec<Step>, NetworkError> {
    let [low, high] = scene.open_swing(way.pin);
    let open = Step {
        node: "open pin".to_owned(),
        black_v: low,
        lit_v: high,
        words: format!("{} with nothing on it", part_words(scene.part(way.pin))),
        pulls: Vec::new(),
    };
    let currents = Currents::new(scene)?;
    let first = way.hops.first().map_or(scene.scenario.output.node, |hop| hop.from);
    let mut steps = vec![open];
    let mut before_v = high - low;
    let nodes = std::iter::once((None, first))
        .chain(way.hops.iter().map(|hop| (Some((hop.part, hop.from)), hop.to)));
    for (by, node) in nodes {
        let after_v = scene.pulse_v(node);
        let words = match by {
            None => loaded(before_v, after_v),
            Some((part, from)) => passed(scene, part, [from, node], [before_v, after_v]),
        };
        steps.push(Step {
            node: scene.circuit().node_name(node).to_owned(),
            black_v: scene.black_v[node.0],
            lit_v: scene.lit_v[node.0],
            words,
            pulls: currents.pulls(scene, way, node),
        });
        before_v = after_v;
    }
    Ok(steps)
}

/// What a pin loses to what it drives.
fn loaded(before_v: f64, after_v: f64) -> String {
    let lost_v = before_v.abs() - after_v.abs();
    format!("what the pin drives takes {}", volts(lost_v.max(0.0)))
}

/// What a part does to the pulse.
fn passed(
    scene: &Scene<'_>,
    part: PartId,
    [from, to]: [NodeId; 2],
    [before_v, after_v]: [f64; 2],
) -> String {
    /// Nothing can be taken of less, V.
    const NOTHING_V: f64 = 1e-3;
    let name = part_words(scene.part(part));
    if before_v.abs() < NOTHING_V && after_v.abs() < NOTHING_V {
        return format!("{name}: nothing of it is left before it");
    }
    match &scene.part(part).kind {
        PartKind::Gate(gate) => {
            let level = gate.threshold.typical(scene.black_v[gate.supply.0]);
            let margin_v = scene.lit_v[from.0] - level;
            let side = if margin_v >= 0.0 { "above" } else { "below" };
            let when = match scene.subject {
                Subject::Element(_) => "lit",
                Subject::Sync => "in the pulse",
            };
            format!(
                "{name} makes {} of {}; its input, {when}, stands {} {side} the {} at which it \
                 switches",
                volts(after_v),
                volts(before_v),
                volts(margin_v.abs()),
                volts(level)
            )
        }
        PartKind::Transistor { base, emitter, .. } if *base == from && *emitter == to => {
            format!("{name} takes {}", volts(before_v.abs() - after_v.abs()))
        }
        PartKind::Diode { .. } if scene.blocking(part, [from, to]).is_some() => {
            let does = scene.blocking(part, [from, to]).unwrap_or_default();
            format!("{name} {does}: {} of {} passes", volts(after_v.abs()), volts(before_v.abs()))
        }
        _ if after_v.abs() > before_v.abs() => {
            format!("{name} makes {} of {}", volts(after_v), volts(before_v))
        }
        _ => {
            let lost_v = before_v.abs() - after_v.abs();
            let share = 100.0 * lost_v / before_v.abs().max(1e-9);
            let kept = if scene.pulse_v(to).signum() == before_v.signum() || lost_v <= 0.0 {
                String::new()
            } else {
                " and turns it over".to_owned()
            };
            format!("{name} takes {} ({share:.0} %){kept}", volts(lost_v))
        }
    }
}

/// Every part's current with nothing lit and with the element lit.
struct Currents {
    black: PartCurrents,
    lit: PartCurrents,
}

impl Currents {
    fn new(scene: &Scene<'_>) -> Result<Self, NetworkError> {
        let (lit, part) = scene.subject.state();
        let point = scene.levels.solve(lit, part)?;
        let (levels, circuit) = (scene.levels, scene.circuit());
        let black = (ElementSet::EMPTY, LinePart::Active);
        Ok(Self {
            black: levels.currents(circuit, black, levels.black()),
            lit: levels.currents(circuit, (lit, part), &point),
        })
    }

    /// What hangs on a node without being on the way there.
    fn pulls(&self, scene: &Scene<'_>, way: &Way, node: NodeId) -> Vec<Pull> {
        let on_way = |part: PartId| {
            let hop = |hop: &Hop| hop.part == part && (hop.from == node || hop.to == node);
            part == way.pin || way.hops.iter().any(hop)
        };
        let parts = (0..scene.circuit().parts.len()).map(PartId);
        let hanging = parts.filter(|&part| !on_way(part)).filter_map(|part| {
            let [black_amps, lit_amps] =
                [&self.black, &self.lit].map(|currents| currents.into_part(part, node));
            let counts = black_amps.abs().max(lit_amps.abs()) >= LEAST_AMPS;
            counts.then(|| Pull {
                part: scene.part(part).name.clone(),
                words: hanging_words(scene, part, node),
                black_amps,
                lit_amps,
            })
        });
        let mut all: Vec<Pull> = hanging.collect();
        all.sort_by(|a, b| b.more_amps().abs().total_cmp(&a.more_amps().abs()));
        let most = all.first().map_or(0.0, |pull| pull.more_amps().abs());
        all.retain(|pull| pull.more_amps().abs() >= (LEAST_SHARE * most).max(LEAST_AMPS));
        all
    }
}
