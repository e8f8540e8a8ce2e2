//! Two boards side by side as JSON for other programs.

use crate::analysis::compare::Board;
use crate::analysis::compare::Comparison;
use crate::analysis::compare::Move;
use crate::output::json::FORMAT;
use crate::output::json::milli;
use crate::output::json::thousandth;
use crate::output::json::write;
use serde::Serialize;
use std::collections::BTreeMap;
use std::io::Write;

/// Writes the comparison, indented, with a line end.
///
/// # Errors
///
/// If `out` fails.
pub fn write_comparison(
    comparison: &Comparison,
    elements: &[String],
    out: &mut impl Write,
) -> std::io::Result<()> {
    let boards = comparison.boards.each_ref().map(|board| BoardReport::new(board, elements));
    let report = ComparisonReport {
        format: FORMAT,
        boards,
        better: &comparison.better,
        worse: &comparison.worse,
        change: MoveReport::new(&comparison.total, elements),
        differences: comparison
            .shares
            .iter()
            .map(|share| ShareReport {
                difference: &share.words,
                alone: share.alone.as_ref().map(|moved| MoveReport::new(moved, elements)),
                left_out: share.last.as_ref().map(|moved| MoveReport::new(moved, elements)),
            })
            .collect(),
        unexplained: MoveReport::new(&comparison.unexplained, elements),
    };
    write(&report, out)
}

/// The comparison.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ComparisonReport<'a> {
    /// [`FORMAT`].
    pub format: u32,
    /// The first and the second board.
    pub boards: [BoardReport<'a>; 2],
    /// What is seen better on the second.
    pub better: &'a [String],
    /// What is seen worse on the second.
    pub worse: &'a [String],
    /// From the first to the second.
    pub change: MoveReport<'a>,
    /// What each difference does.
    pub differences: Vec<ShareReport<'a>>,
    /// What the differences, each alone on the first board, leave over.
    pub unexplained: MoveReport<'a>,
}

/// One board.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BoardReport<'a> {
    /// Its title.
    pub title: &'a str,
    /// Nothing lit, mV.
    pub black_mv: f64,
    /// In the sync pulse, mV.
    pub tip_mv: f64,
    /// "good", "weak" or "failing".
    pub sync: &'static str,
    /// Element to its level against black, mV, and its word.
    pub elements: BTreeMap<&'a str, (f64, &'static str)>,
}

/// A difference.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ShareReport<'a> {
    /// In words.
    pub difference: &'a str,
    /// Alone on the first board; null if that cannot be solved.
    pub alone: Option<MoveReport<'a>>,
    /// What is missing if it alone is left out of the second.
    pub left_out: Option<MoveReport<'a>>,
}

/// By how much figures move.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MoveReport<'a> {
    /// Black, mV.
    pub black_mv: f64,
    /// Sync depth, mV.
    pub depth_mv: f64,
    /// Each element against black, mV.
    pub deltas_mv: BTreeMap<&'a str, f64>,
    /// Each element's edge, ns, where both could be measured.
    pub edges_ns: BTreeMap<&'a str, f64>,
}

impl<'a> BoardReport<'a> {
    fn new(board: &'a Board, elements: &'a [String]) -> Self {
        let levels = elements.iter().zip(&board.figures.elements);
        Self {
            title: &board.title,
            black_mv: milli(board.figures.sync.black_v),
            tip_mv: milli(board.figures.sync.tip_v),
            sync: board.reading.sync.word(),
            elements: levels
                .map(|(name, level)| (name.as_str(), (milli(level.delta_v), level.seen.word())))
                .collect(),
        }
    }
}

impl<'a> MoveReport<'a> {
    fn new(moved: &Move, elements: &'a [String]) -> Self {
        let names = || elements.iter().map(String::as_str);
        let edges = names().zip(&moved.rises_s);
        Self {
            black_mv: milli(moved.black_v),
            depth_mv: milli(moved.depth_v),
            deltas_mv: names().zip(moved.deltas_v.iter().map(|&delta_v| milli(delta_v))).collect(),
            edges_ns: edges
                .filter_map(|(name, edge_s)| Some((name, thousandth(1e9 * (*edge_s)?))))
                .collect(),
        }
    }
}
