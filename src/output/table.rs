//! Tables for the terminal: what a render found, and the ladder side by side for every load.

use crate::analysis::ladder::Ladder;
use crate::analysis::ladder::LoadLadder;
use crate::analysis::ladder::SyncSide;
use crate::analysis::reading::FieldReading;
use crate::analysis::reading::ShapeReading;
use crate::analysis::verdict::Note;
use crate::analysis::verdict::Seen;
use crate::base::math;
use crate::output::axis::number;
use crate::output::axis::trimmed;
use crate::output::ladder_json::names;
use crate::output::lock_words::lock_words;
use crate::output::panel::ire;
use crate::receiver::lock::Lock;
use crate::signal::element::ElementSet;

/// Columns a line of prose may take.
const PROSE: usize = 100;
const GAP: &str = "  ";

/// The table of a render: sync, how the picture stands, then every element with its level, word, notes and cause.
///
/// `blanking_v` is the level from which IRE are counted
/// ([`blanking_v`](crate::output::panel::blanking_v)). A level that could not be measured is "–".
#[must_use]
pub fn reading_table(reading: &FieldReading, lock: &Lock, blanking_v: f64) -> String {
    let cause = reading.sync_cause.as_ref().map(|cause| wrapped(&cause.words));
    let sync = format!(
        "{}\n{}{}\n{}\n",
        sync_words(reading),
        cause.unwrap_or_default(),
        lock_words(reading, lock),
        unseen(reading)
    );
    sync + &shape_rows(reading, blanking_v).text()
}

/// What the words are worth where the set finds no sync.
fn unseen(reading: &FieldReading) -> String {
    if reading.sync_found { String::new() } else { wrapped(LEVELS_ONLY) }
}

/// Said where no picture stands.
pub(crate) const LEVELS_ONLY: &str = "The set finds no sync: no picture stands, and clear, faint and missing \
     below are of levels only.";

/// "sync good: black 334.1 mV, tip 34.1 mV, depth 300.0 mV".
pub(crate) fn sync_words(reading: &FieldReading) -> String {
    format!(
        "sync {}: black {} mV, tip {} mV, depth {} mV",
        reading.sync.word(),
        millivolts(reading.black_v),
        millivolts(reading.tip_v),
        millivolts(reading.black_v - reading.tip_v),
    )
}

/// A row for each shape, and the causes between them.
pub(crate) fn shape_rows(reading: &FieldReading, blanking_v: f64) -> Table {
    let mut table = Table::new(vec![
        Column::left("element"),
        Column::left("shape"),
        Column::right("level mV"),
        Column::right("IRE"),
        Column::right("against black mV"),
        Column::right("edges ns"),
        Column::right("cd/m²"),
        Column::right("JND"),
        Column::right("S/N dB"),
        Column::left(if reading.sync_found { "seen" } else { "by level only" }),
        Column::left("notes"),
    ]);
    // What is true of several shapes in a row is said once, after the last of them.
    let mut shapes = reading.shapes.iter().peekable();
    while let Some(shape) = shapes.next() {
        table.push(shape_cells(shape, blanking_v));
        let next = shapes.peek().and_then(|next| cause_words(next));
        table.prose(cause_words(shape).filter(|words| next != Some(*words)));
    }
    table
}

fn cause_words(shape: &ShapeReading) -> Option<&str> {
    shape.cause.as_ref().map(|cause| cause.words.as_str())
}

fn shape_cells(shape: &ShapeReading, blanking_v: f64) -> Vec<String> {
    let own_name = shape.shape == shape.element;
    vec![
        shape.element.clone(),
        if own_name { String::new() } else { shape.shape.clone() },
        measured(shape.level_v.map(millivolts)),
        measured(shape.level_v.map(|level_v| number(ire(level_v, blanking_v).0, 1))),
        measured(shape.delta_v.map(signed_millivolts)),
        edges(shape),
        measured(shape.sight.map(|sight| number(sight.light, 1))),
        measured(shape.sight.map(|sight| number(sight.steps, 0))),
        measured(shape.sight.map(|sight| decibels(sight.signal_to_noise))),
        shape.seen.map_or("not measured".into(), seen_words),
        all_notes(shape),
    ]
}

/// Both edges, 10 to 90 and 90 to 10 %; nothing where neither could be measured.
fn edges(shape: &ShapeReading) -> String {
    let edge = |edge_s: Option<f64>| measured(edge_s.map(|edge_s| number(1e9 * edge_s, 0)));
    if shape.rise_s.or(shape.fall_s).is_none() {
        return "–".into();
    }
    format!("{}/{}", edge(shape.rise_s), edge(shape.fall_s))
}

/// A ratio of voltages in dB; what the noise covers is no more than that.
fn decibels(ratio: f64) -> String {
    if ratio < 1.0 { "<0".into() } else { number(20.0 * math::log10(ratio), 0) }
}

/// The notes, and what the word would be with other pins: "faint with weak pins".
fn all_notes(shape: &ShapeReading) -> String {
    let mut words: Vec<String> = shape.notes.iter().map(|note| note.words().to_owned()).collect();
    let others = shape.band.iter().filter(|(_, seen)| Some(*seen) != shape.seen);
    words.extend(
        others.map(|(strength, seen)| format!("{} with {} pins", seen.word(), strength.word())),
    );
    words.join(", ")
}

fn measured(number: Option<String>) -> String {
    number.unwrap_or_else(|| "–".into())
}

/// The ladder: for every load black, tip, depth and each element, then every combination.
#[must_use]
pub fn ladder_table(ladder: &Ladder) -> String {
    let mut text = format!("Levels at {}, mV\n\n", ladder.node);
    text += &element_table(ladder).text();
    text.push('\n');
    text += &combination_table(ladder).text();
    text
}

/// Two columns for each load: a level, and a word.
pub(crate) fn element_table(ladder: &Ladder) -> Table {
    let mut columns = vec![Column::left("load")];
    for load in &ladder.loads {
        columns.extend([Column::right(&load_name(load.load_ohms)), Column::left("")]);
    }
    let mut table = Table::new(columns);
    let mut row = |name: &str, cells: &dyn Fn(&LoadLadder) -> [String; 2]| {
        let values = ladder.loads.iter().flat_map(cells);
        table.push(std::iter::once(name.to_owned()).chain(values).collect());
    };
    row("black", &|load| [millivolts(load.sync.black_v), String::new()]);
    row("sync tip", &|load| [millivolts(load.sync.tip_v), String::new()]);
    row("sync depth", &|load| [millivolts(load.sync.depth_v), load.sync.state.word().into()]);
    for (index, element) in ladder.elements.iter().enumerate() {
        row(element, &|load| match load.elements.get(index) {
            Some(level) => [signed_millivolts(level.delta_v), seen_words(level.seen)],
            None => ["–".into(), String::new()],
        });
    }
    for (index, element) in ladder.elements.iter().enumerate() {
        for words in element_notes(ladder, index) {
            table.prose(Some(&format!("{element}: {words}")));
        }
    }
    table
}

/// Each note on an element with the loads it holds for: "dark (75 Ω, open)".
fn element_notes(ladder: &Ladder, index: usize) -> Vec<String> {
    let has = |load: &&LoadLadder, note: Note| {
        load.elements.get(index).is_some_and(|level| level.notes.contains(&note))
    };
    // A ladder knows no time: nothing in it is smeared or drawn out.
    let all = [Note::Dark, Note::SameShade, Note::BrighterThanWhite];
    all.into_iter()
        .filter_map(|note| {
            let loads = ladder.loads.iter().filter(|load| has(load, note));
            let loads: Vec<String> = loads.map(|load| load_name(load.load_ohms)).collect();
            (!loads.is_empty()).then(|| format!("{} ({})", note.words(), loads.join(", ")))
        })
        .collect()
}

/// A row for each combination; picture and pulse columns for each load.
pub(crate) fn combination_table(ladder: &Ladder) -> Table {
    let mut columns = vec![Column::left("lit")];
    for load in &ladder.loads {
        let name = load_name(load.load_ohms);
        columns.push(Column::right(&format!("{name} picture")));
        columns.push(Column::right("pulse"));
    }
    let mut table = Table::new(columns);
    let sets: Vec<ElementSet> = ladder.loads.first().map_or_else(Vec::new, |load| {
        let picture = load.levels.iter().filter(|level| level.sync == SyncSide::Picture);
        picture.map(|level| level.on).collect()
    });
    for on in sets {
        let levels = ladder.loads.iter().flat_map(|load| {
            [SyncSide::Picture, SyncSide::Pulse].map(|side| measured(level(load, side, on)))
        });
        table.push(std::iter::once(set_name(&ladder.elements, on)).chain(levels).collect());
    }
    table
}

fn level(load: &LoadLadder, sync: SyncSide, on: ElementSet) -> Option<String> {
    let level = load.levels.iter().find(|level| level.sync == sync && level.on == on);
    level.map(|level| millivolts(level.volts))
}

fn set_name(elements: &[String], set: ElementSet) -> String {
    if set.is_empty() {
        return "nothing lit".into();
    }
    names(elements, set).join("+")
}

/// Ohms in words; from a megohm on nothing is connected but a meter.
fn load_name(ohms: f64) -> String {
    if ohms >= 1e6 { "open".into() } else { format!("{} Ω", trimmed(ohms, 3)) }
}

/// The word with its shape: ● clear, ◐ faint, ○ missing.
pub(crate) fn seen_words(seen: Seen) -> String {
    format!("{} {}", seen_shape(seen), seen.word())
}

pub(crate) fn seen_shape(seen: Seen) -> char {
    match seen {
        Seen::Clear => '●',
        Seen::Faint => '◐',
        Seen::Missing => '○',
    }
}

pub(crate) fn millivolts(volts: f64) -> String {
    number(1e3 * volts, 1)
}

/// With its sign, as a difference has one.
pub(crate) fn signed_millivolts(volts: f64) -> String {
    signed(millivolts(volts))
}

/// A number with its sign, unless it is nothing.
pub(crate) fn signed(number: String) -> String {
    let is_nothing = number.chars().all(|one| matches!(one, '0' | '.'));
    if number.starts_with('−') || is_nothing { number } else { format!("+{number}") }
}

/// A column's heading and side.
pub(crate) struct Column {
    pub(crate) heading: String,
    pub(crate) side: Side,
}

/// Which end of its column a cell stands at.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Side {
    Left,
    Right,
}

impl Column {
    pub(crate) fn left(heading: &str) -> Self {
        Self { heading: heading.into(), side: Side::Left }
    }

    pub(crate) fn right(heading: &str) -> Self {
        Self { heading: heading.into(), side: Side::Right }
    }
}

/// Rows of cells, and prose between them.
pub(crate) struct Table {
    pub(crate) columns: Vec<Column>,
    pub(crate) rows: Vec<Row>,
}

/// A row.
pub(crate) enum Row {
    Cells(Vec<String>),
    Prose(String),
}

impl Table {
    pub(crate) fn new(columns: Vec<Column>) -> Self {
        Self { columns, rows: Vec::new() }
    }

    pub(crate) fn push(&mut self, cells: Vec<String>) {
        self.rows.push(Row::Cells(cells));
    }

    pub(crate) fn prose(&mut self, words: Option<&str>) {
        self.rows.extend(words.map(|words| Row::Prose(words.into())));
    }

    /// Every line with its end; no blanks at the ends of lines. A column without a single entry is
    /// left out with its heading.
    pub(crate) fn text(&self) -> String {
        let headings: Vec<String> =
            self.columns.iter().map(|column| column.heading.clone()).collect();
        let widths: Vec<usize> = (0..self.columns.len()).map(|index| self.width(index)).collect();
        let mut text = self.line(&headings, &widths);
        for row in &self.rows {
            match row {
                Row::Cells(cells) => text += &self.line(cells, &widths),
                Row::Prose(words) => text += &wrapped(words),
            }
        }
        text
    }

    /// Widest entry of a column or its heading, characters; 0 if no row has an entry.
    pub(crate) fn width(&self, index: usize) -> usize {
        let cells = self.rows.iter().filter_map(|row| match row {
            Row::Cells(cells) => cells.get(index),
            Row::Prose(_) => None,
        });
        let widest = cells.map(|cell| cell.chars().count()).max().unwrap_or(0);
        if widest == 0 { 0 } else { widest.max(self.columns[index].heading.chars().count()) }
    }

    fn line(&self, cells: &[String], widths: &[usize]) -> String {
        let mut line = String::new();
        for ((cell, &width), column) in cells.iter().zip(widths).zip(&self.columns) {
            if width == 0 {
                continue;
            }
            if !line.is_empty() {
                line += GAP;
            }
            let blanks = " ".repeat(width.saturating_sub(cell.chars().count()));
            line += &match column.side {
                Side::Left => format!("{cell}{blanks}"),
                Side::Right => format!("{blanks}{cell}"),
            };
        }
        line.truncate(line.trim_end().len());
        line + "\n"
    }
}

/// Prose set in by four columns, and six from its second line on, broken between words.
pub(crate) fn wrapped(words: &str) -> String {
    let mut text = String::new();
    let mut line = String::from("   ");
    for word in words.split_whitespace() {
        if line.chars().count() + 1 + word.chars().count() > PROSE && !line.trim().is_empty() {
            text += &line;
            text.push('\n');
            line = String::from("     ");
        }
        line.push(' ');
        line += word;
    }
    text + &line + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::cause::Cause;
    use crate::analysis::sight::Sight;
    use crate::analysis::verdict::LockState;
    use crate::analysis::verdict::SyncState;
    use crate::output::sample;
    use crate::profile::pins::Strength;
    use crate::receiver::lock::Phase;

    fn shape(element: &str, shape: &str, delta_v: Option<f64>, seen: Option<Seen>) -> ShapeReading {
        ShapeReading {
            element: element.into(),
            shape: shape.into(),
            level_v: delta_v.map(|delta_v| 0.3341 + delta_v),
            delta_v,
            surround_v: delta_v.map(|_| 0.0),
            rise_s: delta_v.map(|_| 180e-9),
            fall_s: None,
            sight: delta_v.map(|delta_v| Sight {
                light: 21.47,
                surround: 0.5,
                steps: 100.0 * delta_v,
                signal_to_noise: 1e3 * delta_v.abs(),
            }),
            seen,
            notes: Vec::new(),
            band: Vec::new(),
            cause: None,
        }
    }

    fn lock() -> Lock {
        let phase = Phase { mean_s: 0.04e-6, low_s: -0.02e-6, high_s: 0.06e-6, top_s: -0.02e-6 };
        Lock { phase: Some(phase), slips: Some(0.0), ..Lock::default() }
    }

    fn reading() -> FieldReading {
        let cause = Cause {
            suspect: None,
            cures: true,
            part: "U1".into(),
            node: "b".into(),
            words: "LEFT reaches 1.14 V at U1 pin b, the gate needs 2.50 V: the low pin of RIGHT \
                    pulls the joined node down, and nothing of the pulse is left behind the gate."
                .into(),
        };
        let left = shape("left", "left", Some(-0.002), Some(Seen::Missing));
        let right = shape("right", "right", Some(0.29), Some(Seen::Clear));
        FieldReading {
            black_v: 0.3341,
            tip_v: 0.0341,
            sync: SyncState::Good,
            sync_cause: None,
            sync_found: true,
            lock: vec![LockState::Locked],
            span_v: 0.7,
            shapes: vec![
                shape("field", "net", Some(0.7), Some(Seen::Clear)),
                shape("field", "left score", Some(0.1), Some(Seen::Faint)),
                ShapeReading { cause: Some(cause), ..left },
                ShapeReading {
                    notes: vec![Note::SameShade, Note::Smeared],
                    band: vec![(Strength::Weak, Seen::Faint), (Strength::Strong, Seen::Clear)],
                    ..right
                },
                shape("ball", "ball", None, None),
            ],
        }
    }

    #[test]
    fn the_table_of_a_reading_stands_in_columns() {
        let expected = "\
sync good: black 334.1 mV, tip 34.1 mV, depth 300.0 mV
picture locked: lines start +0.04 µs against their sync (−0.02 to +0.06, −0.02 at the top)

element  shape       level mV   IRE  against black mV  edges ns  cd/m²  JND  S/N dB  seen          notes
field    net           1034.1  98.0            +700.0     180/–   21.5   70      57  ● clear
field    left score     434.1  14.0            +100.0     180/–   21.5   10      40  ◐ faint
left                    332.1  −0.3              −2.0     180/–   21.5    0       6  ○ missing
    LEFT reaches 1.14 V at U1 pin b, the gate needs 2.50 V: the low pin of RIGHT pulls the joined
      node down, and nothing of the pulse is left behind the gate.
right                   624.1  40.6            +290.0     180/–   21.5   29      49  ● clear       same shade as the field lines, smeared, faint with weak pins
ball                        –     –                 –         –      –    –       –  not measured
";
        assert_eq!(reading_table(&reading(), &lock(), 0.3341), expected);
    }

    #[test]
    fn a_cause_that_several_shapes_share_is_said_once_after_the_last() {
        let mut reading = reading();
        let cause = reading.shapes[2].cause.clone();
        for shape in &mut reading.shapes[..2] {
            shape.cause.clone_from(&cause);
        }
        reading.shapes[2].cause = None;
        let table = reading_table(&reading, &lock(), 0.3341);
        assert_eq!(table.matches("LEFT reaches").count(), 1);
        let place = |words: &str| table.find(words).expect("in the table");
        assert!(place("left score") < place("LEFT reaches"));
    }

    #[test]
    fn the_ladder_stands_side_by_side_for_every_load() {
        let expected = "\
Levels at plug, mV

load          75 Ω           37.5 Ω              open
black        334.1            167.1             668.2
sync tip      34.1             17.1              68.2
sync depth   300.0  good      150.0  weak       600.0  good
field       +700.0  ● clear  +350.0  ● clear  +1400.0  ● clear
ball        +690.0  ● clear  +345.0  ◐ faint  +1380.0  ● clear
    ball: same shade as the field lines (75 Ω, 37.5 Ω, open)

lit          75 Ω picture  pulse  37.5 Ω picture  pulse  open picture   pulse
nothing lit         334.1   34.1           167.1   17.1         668.2    68.2
field              1034.1  734.1           517.0  367.1        2068.2  1468.2
ball               1024.1  724.1           512.0  362.0        2048.2  1448.2
field+ball         1034.1  734.1           517.1  367.1        2068.2  1468.2
";
        assert_eq!(ladder_table(&sample::ladder()), expected);
    }

    #[test]
    fn where_the_set_finds_no_sync_the_words_are_said_to_be_of_levels_only() {
        let found = reading_table(&reading(), &lock(), 0.3341);
        assert!(!found.contains(LEVELS_ONLY) && !found.contains("by level only"));
        let lost = FieldReading { sync_found: false, ..reading() };
        let lost = reading_table(&lost, &lock(), 0.3341);
        assert!(lost.contains("  by level only  notes\n") && !lost.contains("  seen  "), "{lost}");
        let words: Vec<&str> = LEVELS_ONLY.split_whitespace().collect();
        let said: Vec<&str> = lost.split_whitespace().collect();
        assert!(said.windows(words.len()).any(|some| some == words), "{lost}");
    }

    #[test]
    fn the_cause_of_a_shallow_sync_stands_below_it() {
        let cause = Cause {
            suspect: None,
            cures: true,
            part: "R2".into(),
            node: "mix".into(),
            words: "SYNC enters R2.".into(),
        };
        let weak = FieldReading { sync_cause: Some(cause), sync: SyncState::Weak, ..reading() };
        let table = reading_table(&weak, &lock(), 0.3341);
        assert!(table.contains("depth 300.0 mV\n    SYNC enters R2.\npicture locked"), "{table}");
    }

    #[test]
    fn prose_is_broken_between_words_and_never_wider_than_a_hundred_columns() {
        let text = wrapped(&"a wordy finding ".repeat(30));
        assert!(text.lines().count() > 3);
        assert!(text.lines().all(|line| line.chars().count() <= PROSE && line.starts_with("    ")));
        assert_eq!(text.split_whitespace().count(), 90);
    }

    #[test]
    fn a_column_nobody_has_an_entry_in_is_left_out() {
        let mut reading = reading();
        reading.shapes.retain(|shape| shape.element == "left");
        let heading = reading_table(&reading, &lock(), 0.3341);
        assert!(!heading.contains("shape") && !heading.contains("notes"));
    }
}
