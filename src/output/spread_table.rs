//! A run over boards on the terminal.

use crate::analysis::spread::ABOVE_BLACK;
use crate::analysis::spread::Board;
use crate::analysis::spread::level_names;
use crate::base::math;
use crate::output::axis::number;
use crate::output::spread_file::SpreadFile;
use crate::output::spread_file::in_a_thousand;
use crate::output::table::Column;
use crate::output::table::Table;
use crate::scenario::Scenario;
use crate::scenario::spread::Varies;
use std::fmt::Write;

/// Factors told of each level.
const MOST_FACTORS: usize = 3;
/// A factor with less of a level's variance is not told of.
const LEAST_SHARE: f64 = 0.01;

/// The run in words and figures; `not_judged` are expectations that were left to time.
#[must_use]
pub fn spread_table(file: &SpreadFile, not_judged: &[&str]) -> String {
    let tally = &file.tally;
    let mut text = format!("{}\n\n", file.title);
    let part = if file.is_whole() { String::new() } else { format!(" of {}", file.of) };
    let _ = writeln!(
        text,
        "{} boards{part}, seed {}, {}; {} things differ: {}.",
        tally.boards,
        file.seed,
        file.look,
        file.factors.len(),
        file.factors.join(", "),
    );
    let thousand = |count: u64| in_a_thousand(count, tally.boards);
    let good = if file.judged.is_empty() { "show everything" } else { "are as expected" };
    let _ = writeln!(
        text,
        "\nOf 1000 boards {:.1} {good}; {:.1} show every element.",
        thousand(tally.good),
        thousand(tally.shows_all)
    );
    if tally.unsolved > 0 {
        let _ = writeln!(text, "{} could not be solved and count as bad.", tally.unsolved);
    }
    text += &words(file);
    text += &levels(file);
    text += &unmet(file);
    if !not_judged.is_empty() {
        let names = not_judged.join(", ");
        let _ = writeln!(text, "\nNot judged (--in-time does): {names}.");
    }
    text += "\nWhat decides: share of a level's variance that goes with each part (squared \
             correlation).\nHow far pins, gains and parts lie apart is common practice unless the \
             file says it: measure yours.\n";
    text
}

/// One board of a run: its values, its levels, and what it was judged by.
#[must_use]
pub fn board_table(scenario: &Scenario, board: &Board, judged: &[&str]) -> String {
    let mut text = format!("{}\n\nBoard {}\n\n", scenario.title, board.number);
    let mut factors = Table::new(vec![Column::left("differs"), Column::left("drawn")]);
    for (factor, value) in scenario.spread.iter().zip(&board.draws) {
        factors.push(vec![factor.name.clone(), drawn(&factor.what, *value)]);
    }
    text += &factors.text();
    let Some(measured) = &board.measured else {
        return text + "\nIt could not be solved.\n";
    };
    let mut levels =
        Table::new(vec![Column::left("level"), Column::right("mV"), Column::left("seen")]);
    for (index, (name, volts)) in level_names(scenario).iter().zip(&measured.levels).enumerate() {
        let seen = index.checked_sub(ABOVE_BLACK).map_or("", |at| measured.seen[at].word());
        levels.push(vec![name.clone(), number(1e3 * volts, 3), seen.to_owned()]);
    }
    let _ = writeln!(text, "\n{}\nsync {}", levels.text(), measured.sync.word());
    for (name, _) in judged.iter().zip(&measured.met).filter(|(_, met)| !**met) {
        let _ = writeln!(text, "{name} is not as expected");
    }
    text += if measured.is_good() { "good\n" } else { "not good\n" };
    text
}

fn drawn(what: &Varies, value: f64) -> String {
    match what {
        Varies::Value(_) => format!("{value:.6e}"),
        Varies::Gain(_) => format!("{value:.1}"),
        Varies::Pins => format!("{value:+.4}  (weak −1, typical 0, strong +1)"),
        Varies::Temperature => format!("{value:.2} °C"),
    }
}

fn words(file: &SpreadFile) -> String {
    let tally = &file.tally;
    let thousand = |count: u64| in_a_thousand(count, tally.boards);
    let mut table = Table::new(vec![
        Column::left("in 1000"),
        Column::right("clear"),
        Column::right("faint"),
        Column::right("missing"),
    ]);
    for (name, counts) in file.levels.iter().skip(ABOVE_BLACK).zip(&tally.seen) {
        let counts = counts.map(|count| number(thousand(count), 1));
        table.push(std::iter::once(name.clone()).chain(counts).collect());
    }
    let mut text = format!("\n{}", table.text());
    let [good, weak, failing] = tally.sync.map(thousand);
    let _ = writeln!(text, "sync: {good:.1} good, {weak:.1} weak, {failing:.1} failing");
    text
}

fn levels(file: &SpreadFile) -> String {
    let tally = &file.tally;
    let mut table = Table::new(vec![
        Column::left("mV"),
        Column::right("mean"),
        Column::right("sigma"),
        Column::right("nine in ten"),
        Column::right("least, greatest"),
        Column::left("what decides"),
    ]);
    let millivolts = |volts: f64| number(1e3 * volts, 0);
    let pair = |[low, high]: [f64; 2]| format!("{} to {}", millivolts(low), millivolts(high));
    for (index, name) in file.levels.iter().enumerate() {
        let Some(figures) = tally.figures(index) else { continue };
        table.push(vec![
            name.clone(),
            millivolts(figures.mean_v),
            number(1e3 * figures.deviation_v, 1),
            pair(figures.nine_in_ten_v),
            pair(figures.ends_v),
            deciding(file, index),
        ]);
    }
    format!("\n{}", table.text())
}

/// "pins 71 %, R2 12 %".
fn deciding(file: &SpreadFile, level: usize) -> String {
    let mut shares: Vec<(&str, f64)> =
        file.factors.iter().map(String::as_str).zip(file.tally.shares(level)).collect();
    shares.sort_by(|a, b| b.1.total_cmp(&a.1));
    // Between things that have nothing to do with one another chance makes a share of about one in the
    // number of boards; seven times that is more than one in a hundred such would have.
    let least = LEAST_SHARE.max(7.0 / math::from_u64(file.tally.boards.max(1)));
    let told = shares.iter().filter(|(_, share)| *share >= least).take(MOST_FACTORS);
    let told: Vec<String> =
        told.map(|(name, share)| format!("{name} {} %", math::round(100.0 * share))).collect();
    if told.is_empty() { "nothing".to_owned() } else { told.join(", ") }
}

fn unmet(file: &SpreadFile) -> String {
    let tally = &file.tally;
    let mut all: Vec<(&String, u64)> =
        file.judged.iter().zip(tally.unmet.iter().copied()).filter(|(_, n)| *n > 0).collect();
    if all.is_empty() {
        return String::new();
    }
    all.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    let one = |(name, count): &(&String, u64)| {
        format!("{name} {:.1}", in_a_thousand(*count, tally.boards))
    };
    let all: Vec<String> = all.iter().map(one).collect();
    format!("\nNot met, in 1000 boards: {}.\n", all.join(", "))
}
