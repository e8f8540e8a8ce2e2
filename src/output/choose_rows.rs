//! The boards that `choose` found, as a table and as JSON.

use crate::analysis::choose::Search;
use crate::analysis::spread::tally::Tally;
use crate::base::choices::Choice;
use crate::output::json::FORMAT;
use crate::output::json::milli;
use crate::output::json::thousandth;
use crate::output::json::write;
use crate::output::spread_file::in_a_thousand;
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io::Write;

/// What was searched and found.
#[derive(Clone, Debug, PartialEq)]
pub struct ChooseRows {
    /// Each scenario that was searched: its title, its moves with how many values each has, and how it
    /// went.
    pub searched: Vec<Searched>,
    /// The best boards of all, those first that come out right most often.
    pub found: Vec<Found>,
    /// Boards that were passed over because a rating of theirs is *stop*, with the first such.
    pub stopped: Vec<String>,
    /// The seed.
    pub seed: u64,
}

/// One scenario's search.
#[derive(Clone, Debug, PartialEq)]
pub struct Searched {
    /// The file.
    pub file: String,
    /// Its title.
    pub title: String,
    /// Each move: what is set, and how many values it has.
    pub moves: Vec<(String, usize)>,
    /// How it went.
    pub search: Search,
    /// Expectations that standing levels do not tell, by name.
    pub not_judged: Vec<String>,
}

/// A board that was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// Place in [`ChooseRows::searched`].
    pub of: usize,
    /// What is set, and to what; one for each move.
    pub settings: Vec<(String, Choice)>,
    /// How far off in all: root mean square over what is expected, in half widths of each range.
    pub off: f64,
    /// The expectation that is furthest off, and how far.
    pub worst: Option<(String, f64)>,
    /// Levels, V, by name.
    pub levels: Vec<(String, f64)>,
    /// What came of boards with parts off by their tolerances.
    pub tally: Tally,
    /// What those boards miss most, with the number of boards.
    pub missed: Vec<(String, u64)>,
    /// Which factor decides most of what is missed most, and its share of that level's variance.
    pub because: Option<(String, f64)>,
}

/// The table for the terminal.
#[must_use]
pub fn choose_table(rows: &ChooseRows) -> String {
    let mut text: String = rows.searched.iter().map(|one| how(rows, one)).collect();
    text.push('\n');
    for (place, found) in rows.found.iter().enumerate() {
        let _ = write!(text, "{:>2}  {}", place + 1, board(rows, found));
    }
    if rows.found.is_empty() {
        text +=
            "No such board: every one that was tried has a rating at stop, or cannot be solved.\n";
    }
    if let Some(first) = rows.stopped.first() {
        let _ = writeln!(text, "\n{} nearer boards were passed over: {first}.", rows.stopped.len());
    }
    text += "\nOff: 0 is the middle of every range in `[expect]`, 1 its end. Pins, gains and tolerances \
             are those of\n`[spread]`; what is common practice there is a guess until it is measured.\n";
    text
}

/// What was moved in a scenario, and how it was searched.
fn how(rows: &ChooseRows, searched: &Searched) -> String {
    let Searched { title, moves, search, .. } = searched;
    let moves: Vec<String> =
        moves.iter().map(|(path, count)| format!("{path} ({count} values)")).collect();
    let how = match (search.exhaustive, search.ended) {
        (true, _) => format!("all {} combinations solved: nothing is nearer", search.of),
        (_, true) => format!("ended early, as asked, after {} of {}", search.tried, search.of),
        _ => format!(
            "{} of {} solved, climbing from many places by lot, seed {}: there may be nearer ones",
            search.tried, search.of, rows.seed
        ),
    };
    let mut text = format!("{title}\n    moved: {}\n    {how}\n", moves.join(", "));
    if !searched.not_judged.is_empty() {
        let _ =
            writeln!(text, "    not judged by standing levels: {}", searched.not_judged.join(", "));
    }
    text
}

/// A board that was found.
fn board(rows: &ChooseRows, found: &Found) -> String {
    let settings: Vec<String> =
        found.settings.iter().map(|(path, value)| format!("{path}={}", value.label)).collect();
    let mut text = settings.join("  ") + "\n";
    if rows.searched.len() > 1 {
        let _ = writeln!(text, "    {}", rows.searched[found.of].file);
    }
    let levels: Vec<String> =
        found.levels.iter().map(|(name, volts)| format!("{name} {:.0}", 1e3 * volts)).collect();
    let _ = writeln!(text, "    mV: {}", levels.join(", "));
    let worst = match &found.worst {
        Some((name, off)) => format!("; furthest: {name}, {off:.2}"),
        None => String::new(),
    };
    let _ = writeln!(text, "    off by {:.2} of what is allowed{worst}", found.off);
    let thousand = |count| in_a_thousand(count, found.tally.boards);
    let _ = write!(
        text,
        "    over tolerances, of 1000 boards: {:.0} as expected, {:.0} show everything",
        thousand(found.tally.good),
        thousand(found.tally.shows_all)
    );
    let missed = found.missed.iter();
    let missed: Vec<String> =
        missed.map(|(name, count)| format!("{name} {:.0}", thousand(*count))).collect();
    let because = match &found.because {
        Some((name, share)) => format!(" ({name}: {:.0} %)", 100.0 * share),
        None => String::new(),
    };
    if missed.is_empty() {
        return text + "\n";
    }
    format!("{text}; not met: {}{because}\n", missed.join(", "))
}

#[derive(Serialize)]
struct Report<'a> {
    format: u32,
    seed: u64,
    searched: Vec<SearchedReport<'a>>,
    found: Vec<FoundReport<'a>>,
    passed_over: usize,
}

#[derive(Serialize)]
struct SearchedReport<'a> {
    file: &'a str,
    tried: u64,
    of: String,
    exhaustive: bool,
}

#[derive(Serialize)]
struct FoundReport<'a> {
    file: &'a str,
    settings: BTreeMap<&'a str, &'a str>,
    off: f64,
    levels_mv: BTreeMap<&'a str, f64>,
    boards: u64,
    good: u64,
    shows_all: u64,
    not_met: BTreeMap<&'a str, u64>,
}

/// Writes the rows as JSON.
///
/// # Errors
///
/// If `out` fails.
pub fn write_json(rows: &ChooseRows, out: &mut impl Write) -> std::io::Result<()> {
    let searched = rows.searched.iter().map(|one| SearchedReport {
        file: &one.file,
        tried: one.search.tried,
        of: one.search.of.to_string(),
        exhaustive: one.search.exhaustive,
    });
    let found = rows.found.iter().map(|one| FoundReport {
        file: &rows.searched[one.of].file,
        settings: one.settings.iter().map(|(path, value)| (&**path, &*value.text)).collect(),
        off: thousandth(one.off),
        levels_mv: one.levels.iter().map(|(name, volts)| (&**name, milli(*volts))).collect(),
        boards: one.tally.boards,
        good: one.tally.good,
        shows_all: one.tally.shows_all,
        not_met: one.missed.iter().map(|(name, count)| (&**name, *count)).collect(),
    });
    let report = Report {
        format: FORMAT,
        seed: rows.seed,
        searched: searched.collect(),
        found: found.collect(),
        passed_over: rows.stopped.len(),
    };
    write(&report, out)
}
