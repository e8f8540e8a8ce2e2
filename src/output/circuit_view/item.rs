//! Which part stands in which gap, and which of its ends is wired to what.

use crate::analysis::stages::stages;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::terminal::terminals;
use crate::scenario::Scenario;

/// A side of a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    Left,
    Right,
}

/// How an end meets its node.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Reach {
    /// By a wire to the node's bar.
    Wired,
    /// By the node's name.
    Flag,
}

/// An end of a part.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct End {
    /// What stands beside it in the box; empty where the symbol says it.
    pub(super) label: &'static str,
    pub(super) node: NodeId,
    pub(super) side: Side,
    pub(super) reach: Reach,
    /// Which of its side's rows it has.
    pub(super) row: usize,
}

/// A part on the sheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Item {
    pub(super) part: PartId,
    /// The gap it stands in, left of the column of that number; `None` below the rest.
    pub(super) gap: Option<usize>,
    pub(super) ends: Vec<End>,
    /// Whether its inputs may be exchanged.
    pub(super) is_gate: bool,
    /// The node that supplies it, if that is no end of its own.
    pub(super) supply: Option<NodeId>,
}

impl Item {
    /// Rows that its ends take.
    pub(super) fn rows(&self) -> usize {
        self.ends.iter().map(|end| end.row + 1).max().unwrap_or(1)
    }
}

/// A board, sorted into columns and gaps.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Sheet {
    /// Nodes of each column; the socket is in the last.
    pub(super) columns: Vec<Vec<NodeId>>,
    /// Parts on the pulses' ways or tied to them.
    pub(super) items: Vec<Item>,
    /// All others.
    pub(super) rest: Vec<Item>,
}

impl Sheet {
    pub(super) fn new(scenario: &Scenario) -> Self {
        let circuit = &scenario.circuit;
        let stages = stages(circuit, scenario.output.node);
        let last = stages.iter().flatten().copied().max().unwrap_or(0);
        let column: Vec<Option<usize>> =
            stages.iter().map(|stage| stage.map(|stage| last - stage)).collect();
        let mut columns = vec![Vec::new(); last + 1];
        for (node, column) in column.iter().enumerate() {
            if let Some(column) = *column {
                columns[column].push(NodeId(node));
            }
        }
        let (mut items, mut rest) = (Vec::new(), Vec::new());
        for (index, part) in circuit.parts.iter().enumerate() {
            let written = scenario.part_spans.get(index).is_some_and(Option::is_some);
            if !written && matches!(part.kind, PartKind::Capacitor { .. }) {
                // The wiring's own.
                continue;
            }
            let gap = gap(&part.kind, &column);
            let item = item(PartId(index), &part.kind, (gap, &column));
            if gap.is_some() { &mut items } else { &mut rest }.push(item);
        }
        Self { columns, items, rest }
    }
}

/// Ends that are drawn: supplies of gates and the like are said beside them.
fn drawn_ends(kind: &PartKind) -> Vec<(&'static str, NodeId)> {
    let mut ends = terminals(kind);
    ends.retain(|(name, _)| *name != "supply");
    if let PartKind::Trimmer { ends: [from, to], wiper, .. } = kind {
        // A wiper that is joined to an end is no end of its own.
        if wiper == from || wiper == to {
            ends.retain(|(name, _)| *name != "wiper");
        }
    }
    ends
}

/// Where a part stands: between two columns that it joins, else right of the first that it is tied
/// to; `None` for one that is tied to none.
fn gap(kind: &PartKind, column: &[Option<usize>]) -> Option<usize> {
    // The pulses of a part that drives a node leave it there and nowhere else.
    if let Some(gap) = kind.driven().and_then(|node| column[node.0]) {
        return Some(gap);
    }
    let tied: Vec<usize> = drawn_ends(kind).iter().filter_map(|(_, node)| column[node.0]).collect();
    let least = *tied.iter().min()?;
    let joining = tied.iter().filter(|&&right| right > 0 && tied.contains(&(right - 1))).min();
    Some(joining.copied().unwrap_or(least + 1))
}

fn item(part: PartId, kind: &PartKind, (gap, column): (Option<usize>, &[Option<usize>])) -> Item {
    let supply = terminals(kind).into_iter().find(|(name, _)| *name == "supply");
    let mut rows = [0, 0];
    let mut ends = Vec::new();
    let all = drawn_ends(kind);
    for (index, &(name, node)) in all.iter().enumerate() {
        let (side, reach) = match (column[node.0], gap) {
            // An input looks to the left, whatever it is tied to.
            (Some(column), Some(gap)) if column == gap && !name.starts_with("input") => {
                (Side::Right, Reach::Wired)
            }
            (Some(column), Some(gap)) if column + 1 == gap => (Side::Left, Reach::Wired),
            _ => (flag_side(name, (index, all.len()), gap), Reach::Flag),
        };
        let row = &mut rows[usize::from(side == Side::Right)];
        ends.push(End { label: label(kind, name), node, side, reach, row: *row });
        *row += 1;
    }
    Item {
        part,
        gap,
        ends,
        is_gate: matches!(kind, PartKind::Gate(_)),
        supply: supply.map(|(_, node)| node),
    }
}

/// Where an end without a wire looks to.
fn flag_side(name: &str, (index, count): (usize, usize), gap: Option<usize>) -> Side {
    let is_input = name.starts_with("input");
    let leads_in = gap.is_none() && index == 0 && count > 1 && name != "output";
    if is_input || leads_in { Side::Left } else { Side::Right }
}

/// The letter at an end, as drawings have it.
fn label(kind: &PartKind, name: &str) -> &'static str {
    match (kind, name) {
        (PartKind::Gate(_), _) => "",
        (_, "collector") => "c",
        (_, "base") => "b",
        (_, "emitter") => "e",
        (_, "drain") => "d",
        (_, "gate") => "g",
        (_, "source") => "s",
        (_, "wiper") => "w",
        (_, "control") => "ctl",
        (_, "input") => "in",
        (_, "output") => "out",
        (_, "common") => "com",
        _ => "",
    }
}
