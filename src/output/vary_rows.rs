//! Levels against one or two settings, as a table, as CSV and as JSON.

use crate::analysis::spread::ABOVE_BLACK;
use crate::analysis::spread::level_names;
use crate::analysis::vary::Point;
use crate::analysis::verdict::Seen;
use crate::base::choices::Choice;
use crate::base::choices::Choices;
use crate::output::axis::number;
use crate::output::json::FORMAT;
use crate::output::json::milli;
use crate::output::json::write;
use crate::output::table::Column;
use crate::output::table::Table;
use crate::output::table::seen_shape;
use crate::scenario::Scenario;
use serde::Serialize;
use std::collections::BTreeMap;
use std::io::Write;

/// What was varied and what came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct VaryRows {
    /// The scenario's title.
    pub title: String,
    /// One setting or two.
    pub settings: Vec<Choices>,
    /// Names of the levels: tip, black, depth, the elements.
    pub levels: Vec<String>,
    /// By value of the first setting, then of the second; the reason for a board that cannot be solved.
    pub points: Vec<Result<Point, String>>,
    /// Whether a set's waveform was read, and not standing levels.
    pub in_time: bool,
}

impl VaryRows {
    /// The rows of a run over the boards of `settings`.
    #[must_use]
    pub fn new(
        scenario: &Scenario,
        settings: Vec<Choices>,
        points: Vec<Result<Point, String>>,
        in_time: bool,
    ) -> Self {
        let levels = level_names(scenario);
        Self { title: scenario.title.clone(), settings, levels, points, in_time }
    }

    /// A point in a few words: "P1.position 0.3: left faint".
    #[must_use]
    pub fn caption(&self, index: usize) -> String {
        let paths = self.settings.iter().map(|setting| setting.path.as_str());
        let pairs = paths.zip(self.labels(index));
        let values: Vec<String> = pairs.map(|(path, label)| format!("{path} {label}")).collect();
        let values = values.join(", ");
        let Ok(point) = &self.points[index] else { return values };
        let words =
            self.levels.iter().skip(ABOVE_BLACK).zip(&point.seen).filter_map(|(name, seen)| {
                seen.filter(|seen| *seen != Seen::Clear)
                    .map(|seen| format!("{name} {}", seen.word()))
            });
        let words: Vec<String> = words.collect();
        if words.is_empty() { values } else { format!("{values}: {}", words.join(", ")) }
    }

    /// The values of a point, in the order of the settings.
    fn values(&self, index: usize) -> impl Iterator<Item = &Choice> {
        let seconds = self.settings.get(1).map_or(1, |second| second.values.len());
        let places = [index / seconds, index % seconds];
        self.settings.iter().zip(places).map(|(setting, place)| &setting.values[place])
    }

    /// The same for people.
    fn labels(&self, index: usize) -> Vec<&str> {
        self.values(index).map(|value| value.label.as_str()).collect()
    }

    /// The same as settings take them.
    fn texts(&self, index: usize) -> Vec<&str> {
        self.values(index).map(|value| value.text.as_str()).collect()
    }
}

/// The table for the terminal.
#[must_use]
pub fn vary_table(rows: &VaryRows) -> String {
    let mut text = format!("{}\n\nmV; elements above black; ", rows.title);
    text += if rows.in_time { "as received\n\n" } else { "standing levels\n\n" };
    let mut columns: Vec<Column> =
        rows.settings.iter().map(|setting| Column::left(&setting.path)).collect();
    for (index, name) in rows.levels.iter().enumerate() {
        columns.push(Column::right(name));
        if index >= ABOVE_BLACK {
            columns.push(Column::left(""));
        }
    }
    columns.extend([Column::left("sync"), Column::left("not as expected")]);
    let mut table = Table::new(columns);
    for (index, point) in rows.points.iter().enumerate() {
        let mut cells: Vec<String> =
            rows.labels(index).into_iter().map(ToOwned::to_owned).collect();
        match point {
            Ok(point) => cells.extend(row(point)),
            // In the column of "not as expected", so that the others stay in their places.
            Err(reason) => {
                cells.resize(table.columns.len() - 1, String::new());
                cells.push(reason.clone());
            }
        }
        table.push(cells);
    }
    text + &table.text() + "\n● clear  ◐ faint  ○ missing\n"
}

/// Levels, those of elements with their marks, sync and what is not as expected.
fn row(point: &Point) -> Vec<String> {
    let mut cells = Vec::new();
    for (index, level) in point.levels.iter().enumerate() {
        cells.push(level.map_or("?".to_owned(), |volts| number(1e3 * volts, 0)));
        if let Some(element) = index.checked_sub(ABOVE_BLACK) {
            cells.push(point.seen[element].map_or('?', seen_shape).to_string());
        }
    }
    cells.extend([point.sync.word().to_owned(), point.unmet.join(", ")]);
    cells
}

/// Writes a row for each point as CSV (RFC 4180).
///
/// # Errors
///
/// If `out` fails.
pub fn write_csv(rows: &VaryRows, out: &mut impl Write) -> std::io::Result<()> {
    let mut out = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(out);
    let settings = rows.settings.iter().map(|setting| setting.path.clone());
    let levels = rows.levels.iter().map(|name| format!("{name} mV"));
    let words = rows.levels.iter().skip(ABOVE_BLACK).map(|name| format!("{name} seen"));
    let more = ["sync".to_owned(), "not as expected".to_owned()];
    out.write_record(settings.chain(levels).chain(words).chain(more))?;
    for (index, point) in rows.points.iter().enumerate() {
        let mut row: Vec<String> = rows.texts(index).into_iter().map(str::to_owned).collect();
        if let Ok(point) = point {
            let level =
                |volts: &Option<f64>| volts.map_or(String::new(), |v| format!("{:.3}", 1e3 * v));
            row.extend(point.levels.iter().map(level));
            row.extend(point.seen.iter().map(|seen| seen.map_or("", Seen::word).to_owned()));
            row.push(point.sync.word().to_owned());
            row.push(point.unmet.join(" "));
        } else {
            let blank = 2 * rows.levels.len() - 3 + 1;
            row.extend(std::iter::repeat_n(String::new(), blank));
            row.push("cannot be solved".to_owned());
        }
        out.write_record(row)?;
    }
    out.flush()
}

#[derive(Serialize)]
struct Report<'a> {
    format: u32,
    title: &'a str,
    in_time: bool,
    points: Vec<PointReport<'a>>,
}

#[derive(Serialize)]
struct PointReport<'a> {
    settings: BTreeMap<&'a str, &'a str>,
    /// mV by name; absent if the board cannot be solved.
    #[serde(skip_serializing_if = "Option::is_none")]
    levels_mv: Option<BTreeMap<&'a str, Option<f64>>>,
    /// mV above black, by element.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    elements_mv: BTreeMap<&'a str, Option<f64>>,
    seen: BTreeMap<&'a str, &'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    sync: Option<&'a str>,
    not_as_expected: &'a [String],
}

/// Writes the rows as JSON.
///
/// # Errors
///
/// If `out` fails.
pub fn write_json(rows: &VaryRows, out: &mut impl Write) -> std::io::Result<()> {
    let all = rows.points.iter().enumerate();
    let points = all.map(|(index, point)| report(rows, index, point.as_ref().ok())).collect();
    write(&Report { format: FORMAT, title: &rows.title, in_time: rows.in_time, points }, out)
}

fn report<'a>(rows: &'a VaryRows, index: usize, point: Option<&'a Point>) -> PointReport<'a> {
    let paths = rows.settings.iter().map(|setting| setting.path.as_str());
    let names = || rows.levels.iter().map(String::as_str);
    PointReport {
        settings: paths.zip(rows.texts(index)).collect(),
        levels_mv: point.map(|point| {
            names().take(3).zip(point.levels.iter().map(|level| level.map(milli))).collect()
        }),
        elements_mv: point.map_or_else(BTreeMap::new, |point| {
            let deltas = point.levels.iter().skip(ABOVE_BLACK).map(|level| level.map(milli));
            names().skip(ABOVE_BLACK).zip(deltas).collect()
        }),
        seen: point.map_or_else(BTreeMap::new, |point| {
            let words = point.seen.iter().map(|seen| seen.map_or("not measured", Seen::word));
            names().skip(ABOVE_BLACK).zip(words).collect()
        }),
        sync: point.map(|point| point.sync.word()),
        not_as_expected: point.map_or(&[], |point| &point.unmet),
    }
}
