//! Mistakes that are made when a mixer is built, tried on the board.

use crate::analysis::ladder::ElementLevel;
use crate::analysis::ladder::SyncLevels;
use crate::analysis::ladder::single_levels;
use crate::analysis::lesson::sum::own_load;
use crate::analysis::reading::FieldReading;
use crate::analysis::reading::read_field;
use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;
use crate::base::parallel;
use crate::network::circuit::Logic;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::error::NetworkError;
use crate::scenario::Scenario;
use crate::scenario::change::Change;
use crate::simulate::FieldRun;
use crate::simulate::first_field;
use std::cmp::Ordering;

/// What was done wrongly.
#[derive(Clone, Debug, PartialEq)]
pub enum Error {
    /// A resistor that holds a node down or up was left out.
    Missing {
        /// Its value, Ω.
        ohms: f64,
        /// The node it holds.
        node: String,
        /// What it leads to: ground, or the node of a supply.
        to: String,
    },
    /// A gate of another function.
    Gate {
        /// As it should be.
        from: Logic,
        /// As it is.
        to: Logic,
    },
    /// A resistor wrong by ten.
    Value {
        /// As it should be, Ω.
        from: f64,
        /// As it is, Ω.
        to: f64,
    },
    /// Two sets on one lead.
    TwoSets {
        /// One, Ω.
        from: f64,
        /// Both, Ω.
        to: f64,
    },
}

/// A mistake and what comes of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Mistake {
    /// What was done wrongly.
    pub error: Error,
    /// The part.
    pub part: String,
    /// The field as it then is.
    pub field: FieldRun,
    /// What it amounts to.
    pub reading: FieldReading,
}

/// How many words get worse, and how far the levels move, as a share of the span.
type Harm = (u32, f64);

/// A pull-down that does less than this when it is missing makes no lesson.
const LEAST_HARM: Harm = (0, 0.1);

struct Candidate {
    error: Error,
    part: PartId,
    change: Change,
}

/// One mistake of each sort that the board has a part for, of those the one that does most harm to
/// the standing levels: a missing pull-down or, if none does any, any part that holds a node; a wrong
/// gate or, without gates, a wrong value; a second set.
pub(super) fn mistakes(scenario: &Scenario) -> Result<Vec<Mistake>, NetworkError> {
    let before = single_levels(scenario, &scenario.circuit)?;
    let (down, up): (Vec<Candidate>, Vec<Candidate>) = left_out(scenario)
        .into_iter()
        .partition(|one| matches!(&one.error, Error::Missing { to, .. } if to == "ground"));
    let gates = wrong_gates(scenario);
    let wrong = if gates.is_empty() { wrong_values(scenario) } else { gates };
    let rank = |sort: Vec<Candidate>| ranked(scenario, &before, sort);
    let mut missing = rank(down);
    if missing.first().is_none_or(|(harm, _)| *harm < LEAST_HARM) {
        missing.extend(rank(up));
        missing.sort_by(|(a, _), (b, _)| order(b, a));
    }
    let sorts = [missing, rank(wrong), rank(vec![second_set(scenario)])];
    Ok(sorts.into_iter().filter_map(|sort| worst(scenario, sort)).collect())
}

/// Candidates with what each does to the standing levels, the worst first; without those with which
/// the board cannot be solved.
fn ranked(
    scenario: &Scenario,
    before: &(SyncLevels, Vec<ElementLevel>),
    candidates: Vec<Candidate>,
) -> Vec<(Harm, Candidate)> {
    let harms = parallel::map(&candidates, |one| {
        let board = scenario.changed(&one.change).ok()?;
        Some(harm(scenario, before, &single_levels(scenario, &board.circuit).ok()?))
    });
    let solved = harms.into_iter().zip(candidates);
    let mut ranked: Vec<(Harm, Candidate)> =
        solved.filter_map(|(harm, one)| Some((harm?, one))).collect();
    ranked.sort_by(|(a, _), (b, _)| order(b, a));
    ranked
}

fn order(a: &Harm, b: &Harm) -> Ordering {
    a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
}

/// The first of the candidates that can be run.
fn worst(scenario: &Scenario, ranked: Vec<(Harm, Candidate)>) -> Option<Mistake> {
    ranked.into_iter().find_map(|(_, one)| {
        let board = scenario.changed(&one.change).ok()?;
        let field = first_field(&board).ok()?;
        let (trains, signal) = (&field.trains, &field.traces[0]);
        let reading = read_field(trains, signal, &field.reception, &board.received, None);
        let part = scenario.circuit.parts[one.part.0].name.clone();
        Some(Mistake { error: one.error, part, field, reading })
    })
}

/// What became of the words and the levels.
fn harm(
    scenario: &Scenario,
    (sync, elements): &(SyncLevels, Vec<ElementLevel>),
    (sync_after, elements_after): &(SyncLevels, Vec<ElementLevel>),
) -> Harm {
    let lost = |before: u32, after: u32| before.saturating_sub(after);
    let mut words = lost(sync_rank(sync.state), sync_rank(sync_after.state));
    let mut moved = (sync.depth_v - sync_after.depth_v).abs();
    for (before, after) in elements.iter().zip(elements_after) {
        words += lost(rank(before), rank(after));
        moved += (before.delta_v - after.delta_v).abs();
    }
    (words, moved / scenario.verdict.span_v)
}

/// What is darker than black is as good as lost.
fn rank(element: &ElementLevel) -> u32 {
    match element.seen {
        _ if element.delta_v < 0.0 => 0,
        Seen::Missing => 0,
        Seen::Faint => 1,
        Seen::Clear => 2,
    }
}

fn sync_rank(state: SyncState) -> u32 {
    match state {
        SyncState::Failing => 0,
        SyncState::Weak => 1,
        SyncState::Good => 2,
    }
}

/// The resistors that somebody put on the board.
fn resistors(scenario: &Scenario) -> impl Iterator<Item = (PartId, [NodeId; 2], f64)> + '_ {
    let parts = scenario.circuit.parts.iter().zip(&scenario.part_spans).enumerate();
    parts.filter_map(|(index, (part, written))| match part.kind {
        PartKind::Resistor { ends, ohms } if written.is_some() => {
            Some((PartId(index), ends, ohms)).filter(|(id, ..)| *id != scenario.output.load)
        }
        _ => None,
    })
}

/// Resistors from ground or a supply to a node that is neither.
fn left_out(scenario: &Scenario) -> Vec<Candidate> {
    let circuit = &scenario.circuit;
    let mut firm: Vec<NodeId> = circuit.parts.iter().filter_map(|part| part.kind.fed()).collect();
    firm.push(NodeId::GROUND);
    let candidate = |(part, [from, to], ohms): (PartId, [NodeId; 2], f64)| {
        let (node, to) = match (firm.contains(&from), firm.contains(&to)) {
            (true, false) => (to, from),
            (false, true) => (from, to),
            _ => return None,
        };
        let name = |node| circuit.node_name(node).to_owned();
        let error = Error::Missing { ohms, node: name(node), to: name(to) };
        Some(Candidate { error, part, change: Change::Open(part) })
    };
    resistors(scenario).filter_map(candidate).collect()
}

fn wrong_gates(scenario: &Scenario) -> Vec<Candidate> {
    let parts = scenario.circuit.parts.iter().enumerate();
    parts
        .filter_map(|(index, part)| {
            let PartKind::Gate(gate) = &part.kind else { return None };
            let (part, logic) = (PartId(index), inverse(gate.logic));
            let error = Error::Gate { from: gate.logic, to: logic };
            Some(Candidate { error, part, change: Change::Logic { part, logic } })
        })
        .collect()
}

/// The gate whose output is the other one.
fn inverse(logic: Logic) -> Logic {
    match logic {
        Logic::Or => Logic::Nor,
        Logic::Nor | Logic::Xor => Logic::Or,
        Logic::And => Logic::Nand,
        Logic::Nand => Logic::And,
        Logic::Not => Logic::Buffer,
        Logic::Buffer => Logic::Not,
    }
}

fn wrong_values(scenario: &Scenario) -> Vec<Candidate> {
    let wrong = |(part, _, from): (PartId, [NodeId; 2], f64)| {
        [10.0 * from, 0.1 * from].map(|to| Candidate {
            error: Error::Value { from, to },
            part,
            change: Change::Value { part, value: to },
        })
    };
    resistors(scenario).flat_map(wrong).collect()
}

fn second_set(scenario: &Scenario) -> Candidate {
    let (part, from) = (scenario.output.load, own_load(scenario));
    let to = 0.5 * from;
    let error = Error::TwoSets { from, to };
    Candidate { error, part, change: Change::Value { part, value: to } }
}
