//! Two boards side by side as text.

use crate::analysis::compare::Board;
use crate::analysis::compare::Comparison;
use crate::analysis::compare::Move;
use crate::output::axis::number;
use crate::output::table::Column;
use crate::output::table::Table;
use crate::output::table::millivolts;
use crate::output::table::seen_words;
use crate::output::table::signed;
use crate::output::table::signed_millivolts;
use crate::output::table::wrapped;

/// Levels of both, what is better and worse, and what each difference does.
#[must_use]
pub fn compare_table(comparison: &Comparison, elements: &[String]) -> String {
    let [first, second] = &comparison.boards;
    let mut text = format!("first:  {}\nsecond: {}\n\n", first.title, second.title);
    text += &levels(comparison, elements).text();
    text.push('\n');
    text += &list("Worse on the second:", &comparison.worse);
    text += &list("Better on the second:", &comparison.better);
    if comparison.better.is_empty() && comparison.worse.is_empty() {
        text += "Every word is the same on both.\n";
    }
    text.push('\n');
    if comparison.shares.is_empty() {
        text += "The boards do not differ.\n";
        return text;
    }
    text += "What each difference does, alone on the first board and, in brackets, what is missing if \
             it\nalone is left out of the second; mV, edges in ns:\n\n";
    text += &shares(comparison, elements).text();
    let most = movers(comparison, elements);
    if !most.is_empty() {
        text += &format!("\nWhat moves each most, alone:\n{most}");
    }
    text
}

/// For everything that moves: the difference that moves it most by itself.
fn movers(comparison: &Comparison, elements: &[String]) -> String {
    /// What moves less is left out, V.
    const LEAST_V: f64 = 5e-3;
    let figure = |moved: &Move, index: usize| match index {
        0 => moved.black_v,
        1 => moved.depth_v,
        index => moved.deltas_v[index - 2],
    };
    let names = ["black", "sync depth"].into_iter().chain(elements.iter().map(String::as_str));
    let mut text = String::new();
    for (index, name) in names.enumerate() {
        let total_v = figure(&comparison.total, index);
        let alone = |at: &usize| {
            let moved = comparison.shares[*at].alone.as_ref();
            moved.map_or(0.0, |moved| figure(moved, index))
        };
        let all = 0..comparison.shares.len();
        let most = all.max_by(|a, b| alone(a).abs().total_cmp(&alone(b).abs()).then(b.cmp(a)));
        let Some(most) = most.filter(|_| total_v.abs() >= LEAST_V) else { continue };
        let words = format!(
            "{name} {} mV of {} mV by {}. {}",
            signed_millivolts(alone(&most)),
            signed_millivolts(total_v),
            most + 1,
            comparison.shares[most].words
        );
        text += &wrapped(&words);
    }
    text
}

fn list(heading: &str, words: &[String]) -> String {
    if words.is_empty() {
        return String::new();
    }
    words.iter().fold(format!("{heading}\n"), |text, words| text + &wrapped(words))
}

fn levels(comparison: &Comparison, elements: &[String]) -> Table {
    let mut table = Table::new(vec![
        Column::left("at rest"),
        Column::right("first mV"),
        Column::left(""),
        Column::right("second mV"),
        Column::left(""),
        Column::right("change mV"),
        Column::right("first edge ns"),
        Column::right("second edge ns"),
    ]);
    let [first, second] = &comparison.boards;
    let mut row = |name: &str, volts: [f64; 2], words: [String; 2], edges: [String; 2]| {
        let [first_words, second_words] = words;
        let [first_edge, second_edge] = edges;
        table.push(vec![
            name.to_owned(),
            millivolts(volts[0]),
            first_words,
            millivolts(volts[1]),
            second_words,
            signed_millivolts(volts[1] - volts[0]),
            first_edge,
            second_edge,
        ]);
    };
    let none = || [String::new(), String::new()];
    let (a, b) = (first.figures.sync, second.figures.sync);
    row("black", [a.black_v, b.black_v], none(), none());
    row("sync tip", [a.tip_v, b.tip_v], none(), none());
    let words = [a.state.word().to_owned(), b.state.word().to_owned()];
    row("sync depth", [a.depth_v, b.depth_v], words, none());
    for (index, name) in elements.iter().enumerate() {
        let level = |board: &Board| board.figures.elements.get(index).cloned();
        let (Some(a), Some(b)) = (level(first), level(second)) else { continue };
        let edge = |board: &Board| {
            let rise_s = board.figures.rises_s.get(index).copied().flatten();
            rise_s.map_or_else(|| "–".to_owned(), |rise_s| number(1e9 * rise_s, 0))
        };
        let words = [seen_words(a.seen), seen_words(b.seen)];
        row(name, [a.delta_v, b.delta_v], words, [edge(first), edge(second)]);
    }
    table
}

fn shares(comparison: &Comparison, elements: &[String]) -> Table {
    let mut columns = vec![Column::left(""), Column::right("black"), Column::right("depth")];
    columns.extend(elements.iter().map(|name| Column::right(name)));
    columns.push(Column::right("edge"));
    let mut table = Table::new(columns);
    let edge = widest_edge(comparison);
    for (index, share) in comparison.shares.iter().enumerate() {
        let alone = cells(share.alone.as_ref(), comparison, edge);
        let both = alone.into_iter().zip(cells(share.last.as_ref(), comparison, edge));
        let cells = both.map(|(alone, last)| format!("{alone} ({last})"));
        let number = format!("{}.", index + 1);
        table.push(std::iter::once(number).chain(cells).collect());
        table.prose(Some(&share.words));
    }
    let mut total = |name: &str, moved: &Move| {
        table.push(std::iter::once(name.to_owned()).chain(figures(moved, edge)).collect());
    };
    total("all", &comparison.total);
    total("not explained one by one", &comparison.unexplained);
    table
}

/// The figures, or dashes where a board between the two cannot be solved.
fn cells(moved: Option<&Move>, comparison: &Comparison, edge: usize) -> Vec<String> {
    let blank = || figures(&comparison.total, edge).iter().map(|_| "–".to_owned()).collect();
    moved.map_or_else(blank, |moved| figures(moved, edge))
}

/// The element whose edge changes most.
fn widest_edge(comparison: &Comparison) -> usize {
    let size = |index: &usize| comparison.total.rises_s[*index].map_or(-1.0, f64::abs);
    let all = 0..comparison.total.rises_s.len();
    all.max_by(|a, b| size(a).total_cmp(&size(b)).then(b.cmp(a))).unwrap_or(0)
}

fn figures(moved: &Move, edge: usize) -> Vec<String> {
    let edge = moved.rises_s.get(edge).copied().flatten();
    let volts = [moved.black_v, moved.depth_v].into_iter().chain(moved.deltas_v.iter().copied());
    let edge = edge.map_or_else(|| "–".to_owned(), |edge_s| signed(number(1e9 * edge_s, 0)));
    volts.map(|volts| signed(number(1e3 * volts, 0))).chain([edge]).collect()
}
