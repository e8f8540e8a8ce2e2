//! A bench supply clipped on at a node: what the board then does, what flows where, and which
//! protection it goes round.

use crate::analysis::ladder::Levels;
use crate::analysis::rating::Rating;
use crate::analysis::rating::Word;
use crate::analysis::rating::ratings;
use crate::analysis::supply::Feed;
use crate::analysis::supply::SupplyError;
use crate::analysis::supply::look::Look;
use crate::analysis::supply::with_part;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::error::NetworkError;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::scenario::change::OPEN_OHMS;
use crate::signal::element::ElementSet;
use std::collections::VecDeque;

/// What a bench supply and its leads have in series, Ω; common practice, no source.
const LEAD_OHMS: f64 = 0.1;
/// Currents below this are not worth a word, A.
const WORTH_A: f64 = 1e-4;
/// A regulator's output this far above its input conducts backwards, V; from memory.
const BACKWARD_VOLTS: f64 = 0.1;

/// A bench supply.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clip {
    /// Where its plus is; its minus is at ground.
    pub node: NodeId,
    /// What it is set to, V.
    pub volts: f64,
    /// What it is limited to, A.
    pub limit_a: f64,
}

/// The board with a bench supply, and without its own source.
#[derive(Clone, Debug, PartialEq)]
pub struct BenchFeed {
    /// The supply.
    pub clip: Clip,
    /// With the board's own source taken off.
    pub alone: Clipped,
    /// With it left in.
    pub together: Clipped,
    /// What lies between the board's own source and that node, source first: all of it is gone round.
    pub bypassed: Vec<PartId>,
    /// Ratings that are not ok with the bench supply alone, and were ok, or better, before.
    pub ratings: Vec<Rating>,
}

/// A board on a bench supply.
#[derive(Clone, Debug, PartialEq)]
pub struct Clipped {
    /// What the bench supply delivers with nothing lit, A.
    pub amps: f64,
    /// Whether its limit holds it there.
    pub is_limited: bool,
    /// What the node stands at, V.
    pub node_v: f64,
    /// The board; its source's current is that of the board's own.
    pub look: Look,
    /// What flows from the node into each part there, A, those worth a word.
    pub flows: Vec<(PartId, f64)>,
    /// Sources that are fed, with the current into them, A.
    pub fed: Vec<(PartId, f64)>,
    /// Regulators whose output stands above their input, and how far, V: they would conduct backwards,
    /// which is not modelled.
    pub backward: Vec<(PartId, f64)>,
}

/// Clips a bench supply on.
pub(crate) fn clipped(feed: &Feed<'_>, clip: &Clip) -> Result<BenchFeed, SupplyError> {
    let without = without_source(feed);
    let alone_board = on_bench(&without, clip)?;
    let together_board = on_bench(feed.scenario, clip)?;
    let before = ratings(feed.scenario)?;
    // What has been taken off has no plug to turn round.
    let source = &feed.scenario.circuit.parts[feed.source.0].name;
    let after = ratings(&alone_board.0)?;
    let new = after.into_iter().filter(|rating| rating.word != Word::Ok && is_new(&before, rating));
    Ok(BenchFeed {
        clip: *clip,
        alone: look(feed, clip, &alone_board)?,
        together: look(feed, clip, &together_board)?,
        bypassed: between(&feed.scenario.circuit, feed.node(), clip.node),
        ratings: new.filter(|rating| rating.part != BENCH && rating.part != *source).collect(),
    })
}

fn is_new(before: &[Rating], rating: &Rating) -> bool {
    let same = |old: &&Rating| old.part == rating.part && old.subject == rating.subject;
    before.iter().find(same).is_none_or(|old| old.word < rating.word)
}

/// The name of the part that stands for the bench supply.
const BENCH: &str = "bench supply";

/// The source's lead unclipped: what is left conducts nothing.
fn without_source(feed: &Feed<'_>) -> Scenario {
    let mut board = feed.scenario.clone();
    let ends = [feed.node(), NodeId::GROUND];
    board.circuit.parts[feed.source.0].kind = PartKind::Resistor { ends, ohms: OPEN_OHMS };
    board
}

/// The board on a bench supply that holds its volts, or its limit if that is less; whether it does.
fn on_bench(board: &Scenario, clip: &Clip) -> Result<(Scenario, bool), NetworkError> {
    let holds = PartKind::Supply { node: clip.node, volts: clip.volts, ohms: LEAD_OHMS };
    let held = with_bench(board, holds);
    let levels = Levels::new(&held, &held.circuit)?;
    let amps = (clip.volts - levels.black().volts(clip.node)) / LEAD_OHMS;
    if amps < 0.0 {
        // It takes nothing back: the node stands as high as the board holds it.
        return Ok((with_bench(board, PartKind::Draw { node: clip.node, amps: 0.0 }), false));
    }
    if amps <= clip.limit_a {
        return Ok((held, false));
    }
    Ok((with_bench(board, PartKind::Draw { node: clip.node, amps: -clip.limit_a }), true))
}

fn with_bench(board: &Scenario, kind: PartKind) -> Scenario {
    with_part(board, BENCH, kind)
}

fn look(
    feed: &Feed<'_>,
    clip: &Clip,
    (board, is_limited): &(Scenario, bool),
) -> Result<Clipped, NetworkError> {
    let look = feed.look(board)?;
    let levels = Levels::new(board, &board.circuit)?;
    let state = (ElementSet::EMPTY, LinePart::Active);
    let currents = levels.currents(&board.circuit, state, levels.black());
    let bench = PartId(board.circuit.parts.len() - 1);
    let own = (0..bench.0).map(PartId);
    let into = |part: PartId, node: NodeId| currents.into_part(part, node);
    let mut flows: Vec<(PartId, f64)> = own
        .clone()
        .map(|part| (part, into(part, clip.node)))
        .filter(|(_, amps)| amps.abs() > WORTH_A)
        .collect();
    flows.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
    let kind = |part: PartId| &board.circuit.parts[part.0].kind;
    let is_source =
        |part: PartId| matches!(kind(part), PartKind::Supply { .. } | PartKind::Adapter(_));
    let fed = own.clone().filter(|&part| is_source(part)).filter_map(|part| {
        let amps = into(part, kind(part).fed()?);
        (amps > WORTH_A).then_some((part, amps))
    });
    let backward = own.filter_map(|part| match kind(part) {
        PartKind::Regulator(regulator) => {
            let black = levels.black();
            let above_v = black.volts(regulator.output) - black.volts(regulator.input);
            (above_v > BACKWARD_VOLTS).then_some((part, above_v))
        }
        _ => None,
    });
    Ok(Clipped {
        amps: -into(bench, clip.node),
        is_limited: *is_limited,
        node_v: levels.black().volts(clip.node),
        flows,
        fed: fed.collect(),
        backward: backward.collect(),
        look,
    })
}

/// The parts on the shortest way that current can take from one node to another through resistors,
/// contacts, coils, diodes, regulators and transistors, none if there is no such way.
fn between(circuit: &Circuit, from: NodeId, to: NodeId) -> Vec<PartId> {
    let mut came: Vec<Option<(PartId, NodeId)>> = vec![None; circuit.nodes.len()];
    let mut waiting = VecDeque::from([from]);
    while let Some(node) = waiting.pop_front() {
        for (index, part) in circuit.parts.iter().enumerate() {
            let Some(next) = across(&part.kind, node).filter(|&next| next != NodeId::GROUND) else {
                continue;
            };
            if next != from && came[next.0].is_none() {
                came[next.0] = Some((PartId(index), node));
                waiting.push_back(next);
            }
        }
    }
    let mut way = Vec::new();
    let mut node = to;
    while let Some((part, before)) = came[node.0] {
        way.push(part);
        node = before;
    }
    way.reverse();
    way
}

/// Where current goes on from a node through a part that passes it.
fn across(kind: &PartKind, node: NodeId) -> Option<NodeId> {
    let either = |[first, second]: [NodeId; 2]| match node {
        node if node == first => Some(second),
        node if node == second => Some(first),
        _ => None,
    };
    match kind {
        PartKind::Resistor { ends, .. }
        | PartKind::Contact { ends, .. }
        | PartKind::Inductor { ends, .. }
        | PartKind::LossyInductor { ends, .. } => either(*ends),
        PartKind::Diode { anode, cathode, .. } => (node == *anode).then_some(*cathode),
        PartKind::Regulator(part) => (node == part.input).then_some(part.output),
        PartKind::Transistor { collector, emitter, .. } => either([*collector, *emitter]),
        _ => None,
    }
}
