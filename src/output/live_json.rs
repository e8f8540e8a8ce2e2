//! A board as the live page shows it: the words of a render in their order, the ladder, one line as
//! a drawing, and the controls of the parts. The page sets what it is given and works nothing out.
//!
//! Every word comes from the functions that print it on the terminal.

use crate::analysis::ladder::Ladder;
use crate::analysis::modulation::Modulation;
use crate::analysis::rating::Rating;
use crate::analysis::reading::FieldReading;
use crate::analysis::verdict::Seen;
use crate::network::circuit::PartKind;
use crate::output::lock_words::answer_rows;
use crate::output::lock_words::lock_words;
use crate::output::modulation_table::CAUTION;
use crate::output::modulation_table::carrier_table;
use crate::output::modulation_table::heading;
use crate::output::modulation_table::words as carrier_words;
use crate::output::panel::blanking_v;
use crate::output::part_words::kind_words;
use crate::output::part_words::ties;
use crate::output::rating_table::rating_table;
use crate::output::table::Column;
use crate::output::table::LEVELS_ONLY;
use crate::output::table::Row;
use crate::output::table::Side;
use crate::output::table::Table;
use crate::output::table::combination_table;
use crate::output::table::element_table;
use crate::output::table::seen_shape;
use crate::output::table::shape_rows;
use crate::output::table::sync_words;
use crate::receiver::spec::Reception;
use crate::scenario::Scenario;
use crate::scenario::control::Control;
use crate::scenario::control::ControlKind;
use crate::scenario::control::Group;
use crate::scenario::control::Step;
use serde::Serialize;

/// Elements up to which every combination has its row.
const MOST_ELEMENTS: usize = 6;

/// What was found out about a board.
#[derive(Clone, Copy, Debug)]
pub struct LiveParts<'a> {
    /// What the field amounts to.
    pub reading: &'a FieldReading,
    /// What the set made of it.
    pub reception: &'a Reception,
    /// What becomes of the carrier, if there is a modulator.
    pub modulation: Option<&'a Modulation>,
    /// What each part is worked to.
    pub ratings: &'a [Rating],
    /// What the user should know, in sentences, and how the run settled.
    pub sentences: &'a [String],
    /// The ladder, or in a sentence why there is none.
    pub ladder: Result<&'a Ladder, &'a str>,
}

/// All that the page says about a board.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LiveReport {
    /// Sync and lock in a word or two each.
    pub state: Vec<String>,
    /// The worst word of each element, in the chip's order.
    pub seen: Vec<SeenReport>,
    /// What `render` prints, but for the title and the files.
    pub words: Vec<Block>,
    /// What `ladder` prints.
    pub ladder: Vec<Block>,
}

/// An element and the word for it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SeenReport {
    /// Its name.
    pub element: String,
    /// ●, ◐, ○, or – for what cannot be measured.
    pub shape: char,
    /// "clear", "faint", "missing" or "not measured".
    pub word: &'static str,
}

/// A piece of text.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "lowercase", tag = "is")]
pub enum Block {
    /// A line that says something.
    Line {
        /// What.
        text: String,
    },
    /// A sentence that explains what is above it.
    Prose {
        /// It.
        text: String,
    },
    /// Lines whose columns stand below one another.
    Plain {
        /// They.
        text: String,
    },
    /// A table.
    Table {
        /// Headings; columns without an entry are left out.
        columns: Vec<ColumnReport>,
        /// Cells, or one sentence.
        rows: Vec<RowReport>,
    },
}

/// A column.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ColumnReport {
    /// Its heading.
    pub heading: String,
    /// Whether it holds numbers, which stand to the right.
    pub right: bool,
}

/// A row.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum RowReport {
    /// A cell for each column.
    Cells(Vec<String>),
    /// A sentence.
    Prose(String),
}

impl LiveReport {
    /// Says it.
    #[must_use]
    pub fn new(parts: &LiveParts<'_>) -> Self {
        let reading = parts.reading;
        let lock: Vec<&str> = reading.lock.iter().map(|state| state.word()).collect();
        Self {
            state: vec![
                format!("sync {}", reading.sync.word()),
                format!("picture {}", lock.join(", ")),
            ],
            seen: seen(reading),
            words: words(parts),
            ladder: match parts.ladder {
                Ok(ladder) => ladder_blocks(ladder),
                Err(reason) => vec![Block::Line { text: format!("There is no ladder: {reason}.") }],
            },
        }
    }
}

fn seen(reading: &FieldReading) -> Vec<SeenReport> {
    let mut all: Vec<(&str, Option<Seen>)> = Vec::new();
    for shape in &reading.shapes {
        match all.iter_mut().find(|(element, _)| *element == shape.element) {
            // What cannot be measured is no worse than what is clear.
            Some((_, worst)) => *worst = worst.iter().chain(&shape.seen).min().copied(),
            None => all.push((&shape.element, shape.seen)),
        }
    }
    let report = |(element, seen): (&str, Option<Seen>)| SeenReport {
        element: element.to_owned(),
        shape: seen.map_or('–', seen_shape),
        word: seen.map_or("not measured", Seen::word),
    };
    all.into_iter().map(report).collect()
}

fn line(text: impl Into<String>) -> Block {
    Block::Line { text: text.into() }
}

fn words(parts: &LiveParts<'_>) -> Vec<Block> {
    let (reading, reception) = (parts.reading, parts.reception);
    let mut blocks = vec![line(sync_words(reading))];
    if let Some(cause) = &reading.sync_cause {
        blocks.push(Block::Prose { text: cause.words.clone() });
    }
    blocks.push(line(lock_words(reading, &reception.lock)));
    if !reading.sync_found {
        blocks.push(Block::Prose { text: LEVELS_ONLY.to_owned() });
    }
    blocks.push(table(&shape_rows(reading, blanking_v(reception, reading))));
    if !reception.answers.is_empty() {
        blocks.push(line("What the set asks of the signal:"));
        blocks.push(table(&answer_rows(&reception.answers)));
    }
    if let Some(modulation) = parts.modulation {
        blocks.push(line(heading(modulation)));
        blocks.push(table(&carrier_table(modulation)));
        blocks.extend(carrier_words(modulation).lines().map(line));
        blocks.push(line(CAUTION));
    }
    blocks.push(Block::Plain { text: rating_table(parts.ratings) });
    blocks.extend(parts.sentences.iter().map(line));
    blocks
}

fn ladder_blocks(ladder: &Ladder) -> Vec<Block> {
    let mut blocks = vec![line(format!("Levels at {}, mV", ladder.node))];
    blocks.push(table(&element_table(ladder)));
    let count = ladder.elements.len();
    blocks.push(if count <= MOST_ELEMENTS {
        table(&combination_table(ladder))
    } else {
        line(format!(
            "{count} elements have too many combinations for a page: `backporch ladder` lists them."
        ))
    });
    blocks
}

fn table(table: &Table) -> Block {
    let shown: Vec<usize> =
        (0..table.columns.len()).filter(|&index| table.width(index) > 0).collect();
    let column = |&index: &usize| {
        let Column { heading, side } = &table.columns[index];
        ColumnReport { heading: heading.clone(), right: *side == Side::Right }
    };
    let row = |row: &Row| match row {
        Row::Cells(cells) => {
            let cell = |&index: &usize| cells.get(index).cloned().unwrap_or_default();
            RowReport::Cells(shown.iter().map(cell).collect())
        }
        Row::Prose(words) => RowReport::Prose(words.clone()),
    };
    Block::Table {
        columns: shown.iter().map(column).collect(),
        rows: table.rows.iter().map(row).collect(),
    }
}

/// A group of controls.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GroupReport {
    /// The part's name, or what the table is about.
    pub name: String,
    /// What the part is and what it is tied to; empty for what is no part.
    pub about: String,
    /// Its controls.
    pub controls: Vec<ControlReport>,
}

/// A control.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ControlReport {
    /// What `--set` calls it.
    pub path: String,
    /// What it is; two for a pair.
    pub labels: Vec<&'static str>,
    /// "steps", "pair", "words" or "fault".
    pub kind: &'static str,
    /// The texts that it steps or chooses through.
    pub texts: Vec<String>,
}

/// The controls of a board, as the page lays them out.
#[must_use]
pub fn group_reports(scenario: &Scenario, groups: &[Group]) -> Vec<GroupReport> {
    let about = |group: &Group| match group.part {
        Some(id) => {
            let part = &scenario.circuit.parts[id.0];
            // What kind of gate it is can be turned, so that it is not said here.
            let kind = match part.kind {
                PartKind::Gate(_) => "gate",
                _ => kind_words(&part.kind),
            };
            format!("{kind}, {}", ties(&scenario.circuit, &part.kind))
        }
        None => String::new(),
    };
    let report = |group: &Group| GroupReport {
        name: group.name.clone(),
        about: about(group),
        controls: group.controls.iter().map(control_report).collect(),
    };
    groups.iter().map(report).collect()
}

fn control_report(control: &Control) -> ControlReport {
    let one = vec![control.label];
    let (kind, labels, texts) = match &control.kind {
        ControlKind::Steps { steps, .. } => ("steps", one, texts(steps)),
        ControlKind::Pair { labels, steps, .. } => ("pair", labels.to_vec(), texts(steps)),
        ControlKind::Words(words) => ("words", one, words.clone()),
        ControlKind::Fault(words) => ("fault", one, words.clone()),
    };
    ControlReport { path: control.path.clone(), labels, kind, texts }
}

fn texts(steps: &[Step]) -> Vec<String> {
    steps.iter().map(|step| step.text.clone()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::ladder::ladder;
    use crate::analysis::rating::ratings;
    use crate::output::lock_words::answer_table;
    use crate::output::table::ladder_table;
    use crate::output::table::reading_table;
    use crate::scenario::load;
    use crate::simulate::first_field;

    /// All words of some blocks, in their order.
    fn said(blocks: &[Block]) -> String {
        let mut all = Vec::new();
        for block in blocks {
            match block {
                Block::Line { text } | Block::Prose { text } | Block::Plain { text } => {
                    all.push(text.clone());
                }
                Block::Table { columns, rows } => {
                    all.extend(columns.iter().map(|column| column.heading.clone()));
                    for row in rows {
                        match row {
                            RowReport::Cells(cells) => all.extend(cells.iter().cloned()),
                            RowReport::Prose(words) => all.push(words.clone()),
                        }
                    }
                }
            }
        }
        squeezed(&all.join(" "))
    }

    fn squeezed(text: &str) -> String {
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn the_page_says_what_the_terminal_says() {
        let text = include_str!("../../scenarios/lodge-joined.toml");
        for set in ["receiver.kind=tube-set", "receiver.kind=flat-panel", "output.load=open"] {
            let board = load("t.toml", &[set.to_owned()], &mut |_| Ok(text.to_owned())).unwrap();
            let field = first_field(&board).unwrap();
            let reading = crate::analysis::examine::examine(&board, &field).unwrap();
            let (ratings, ladder) = (ratings(&board).unwrap(), ladder(&board).unwrap());
            let sentences = ["A sentence.".to_owned()];
            let report = LiveReport::new(&LiveParts {
                reading: &reading,
                reception: &field.reception,
                modulation: None,
                ratings: &ratings,
                sentences: &sentences,
                ladder: Ok(&ladder),
            });
            let blanking_v = blanking_v(&field.reception, &reading);
            let printed = [
                reading_table(&reading, &field.reception.lock, blanking_v),
                answer_table(&field.reception),
                rating_table(&ratings),
                "A sentence.".to_owned(),
            ];
            assert_eq!(said(&report.words), squeezed(&printed.join("\n")));
            assert_eq!(said(&report.ladder), squeezed(&ladder_table(&ladder)));
            let left = report.seen.iter().find(|seen| seen.element == "left").unwrap();
            assert_eq!((left.shape, left.word), ('○', "missing"));
        }
    }
}
