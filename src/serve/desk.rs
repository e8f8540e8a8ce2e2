//! The board on the bench: from settings to pictures and words, by what `render` and `ladder` use.

use crate::cli::args::ScenarioArgs;
use crate::cli::failure::Failure;
use crate::cli::files::Library;
use crate::cli::render::frame;
use crate::cli::render::how_settled;
use crate::cli::render::warnings;
use crate::serve::session::Settings;
use backporch::analysis::examine::examine;
use backporch::analysis::ladder::Ladder;
use backporch::analysis::ladder::LadderError;
use backporch::analysis::ladder::ladder;
use backporch::analysis::modulation::modulation;
use backporch::analysis::rating::ratings;
use backporch::analysis::reading::FieldReading;
use backporch::base::parallel;
use backporch::output::line_view;
use backporch::output::line_view::LineView;
use backporch::output::live_json::GroupReport;
use backporch::output::live_json::LiveParts;
use backporch::output::live_json::LiveReport;
use backporch::output::live_json::group_reports;
use backporch::scenario::Scenario;
use backporch::scenario::control::Control;
use backporch::scenario::control::Group;
use backporch::scenario::control::controls;
use backporch::scenario::entries::Entry;
use backporch::scenario::entries::entries;
use backporch::scenario::entries::main_path;
use backporch::simulate::Bench;
use backporch::simulate::FieldRun;
use serde::Serialize;
use std::path::Path;
use std::path::PathBuf;
use std::sync::Mutex;
use std::sync::PoisonError;

/// A scenario with its controls.
#[derive(Debug)]
pub(crate) struct Desk {
    path: PathBuf,
    library: Mutex<Library>,
    groups: Vec<Group>,
    /// The controls as the page lays them out.
    pub(crate) reports: Vec<GroupReport>,
    /// One line about the board.
    pub(crate) title: String,
    /// What it was opened with.
    pub(crate) start: Settings,
}

/// A board and its picture.
#[derive(Debug)]
pub(crate) struct Seen {
    scenario: Scenario,
    field: FieldRun,
    settled: Vec<String>,
    /// `frame.png`.
    pub(crate) frame: Vec<u8>,
}

/// What is read off it.
#[derive(Debug)]
pub(crate) struct Read {
    /// The drawing of one line, as SVG.
    pub(crate) line_svg: String,
    /// Which line that is.
    pub(crate) line: u32,
    /// Lines of the field.
    pub(crate) lines: u32,
    /// All words.
    pub(crate) report: LiveReport,
}

/// Where a control stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct Standing {
    path: String,
    text: String,
    /// The nearest steps.
    at: Vec<usize>,
    /// Whether it is off what the file says.
    changed: bool,
}

impl Desk {
    /// Reads the scenario and finds what can be turned.
    pub(crate) fn open(args: &ScenarioArgs) -> Result<Self, Failure> {
        let path = args.scenario.clone();
        let mut library = Library::default();
        library.load(&path, &args.set)?;
        let scenario = library.load(&path, &[])?;
        let written = entries_of(&path)?;
        let groups = controls(&scenario, &written);
        let reports = group_reports(&scenario, &groups);
        let start = args.set.iter().filter_map(|set| canonical(&written, set)).collect();
        Ok(Self {
            path,
            library: Mutex::new(library),
            groups,
            reports,
            title: scenario.title,
            start,
        })
    }

    /// The scenario's file.
    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    /// The control of that path.
    pub(crate) fn control(&self, path: &str) -> Option<&Control> {
        self.groups.iter().flat_map(|group| &group.controls).find(|control| control.path == path)
    }

    /// The scenario under some settings, as arguments of `--set`.
    pub(crate) fn load(&self, arguments: &[String]) -> Result<Scenario, Failure> {
        // What a panic leaves of the texts that were read is still what was read.
        let mut library = self.library.lock().unwrap_or_else(PoisonError::into_inner);
        library.load(&self.path, arguments)
    }

    /// Where every control stands.
    pub(crate) fn standings(&self, settings: &Settings) -> Vec<Standing> {
        let standing = |control: &Control| {
            let set = settings.iter().find(|(path, _)| *path == control.path);
            let text = set.map_or(&control.text, |(_, text)| text);
            Standing {
                path: control.path.clone(),
                text: text.clone(),
                at: control.places(text),
                changed: set.is_some(),
            }
        };
        self.groups.iter().flat_map(|group| &group.controls).map(standing).collect()
    }
}

fn entries_of(path: &Path) -> Result<Vec<Entry>, Failure> {
    let mut read = |path: &str| std::fs::read_to_string(path);
    entries(&path.to_string_lossy(), &[], &mut read).map_err(Failure::input)
}

/// A setting as its control calls it: a part's value by the key of the value.
fn canonical(written: &[Entry], set: &str) -> Option<(String, String)> {
    let (path, text) = set.split_once('=')?;
    let words: Vec<&str> = path.split('.').map(str::trim).collect();
    let path = words.join(".");
    let path = path.strip_prefix("board.").unwrap_or(&path).to_owned();
    let text = text.trim().to_owned();
    let is_part = !path.contains('.') && path != "title";
    if is_part && text != "open" && text != "short" {
        return Some((main_path(written, &path).unwrap_or(path), text));
    }
    Some((path, text))
}

/// Runs a board's first field and packs the picture: what is waited for while a control is turned.
pub(crate) fn look(scenario: Scenario) -> Result<Seen, Failure> {
    let (field, settled) = run(&scenario)?;
    let frame = frame(&field)?;
    Ok(Seen { scenario, field, settled, frame })
}

/// Reads that field and solves all levels; `line` is the one to draw, if it is not the one that shows
/// most.
pub(crate) fn read(seen: &Seen, line: Option<u32>) -> Result<Read, Failure> {
    let Seen { scenario, field, settled, .. } = seen;
    let lines = field.trains.timing.lines_per_field;
    let line = line.filter(|line| *line < lines);
    let line = line.unwrap_or_else(|| field.trains.map.line_that_shows_most());
    let (read, levels, others) = parallel::three(
        || reading(scenario, field, line),
        || levels(scenario),
        || {
            let ratings = ratings(scenario).map_err(|error| Failure::network(scenario, &error))?;
            let modulation =
                modulation(scenario).map_err(|error| Failure::run(scenario, &error))?;
            Ok((ratings, modulation))
        },
    );
    let ((reading, line_svg), levels, (ratings, modulation)) = (read?, levels?, others?);
    let mut sentences = warnings(scenario, field, &reading);
    sentences.extend(settled.iter().cloned());
    let report = LiveReport::new(&LiveParts {
        reading: &reading,
        reception: &field.reception,
        modulation: modulation.as_ref(),
        ratings: &ratings,
        sentences: &sentences,
        ladder: levels.as_ref().map_err(String::as_str),
    });
    Ok(Read { line_svg, line, lines, report })
}

/// The words of a field, and the drawing of one of its lines.
fn reading(
    scenario: &Scenario,
    field: &FieldRun,
    line: u32,
) -> Result<(FieldReading, String), Failure> {
    let reading = examine(scenario, field).map_err(|error| Failure::network(scenario, &error))?;
    let view = LineView {
        title: &scenario.title,
        line,
        trains: &field.trains,
        traces: &field.traces,
        reception: &field.reception,
        reading: &reading,
    };
    let svg = line_view::draw(&view).svg();
    Ok((reading, svg))
}

/// The first field, and how it settled.
fn run(scenario: &Scenario) -> Result<(FieldRun, Vec<String>), Failure> {
    let fail = |error| Failure::run(scenario, &error);
    let bench = Bench::new(scenario, &[]).map_err(fail)?;
    let mut run = bench.run().map_err(fail)?;
    let field = run.advance_field(&mut |_| {}).map_err(fail)?;
    let settled = how_settled(&field.reception, &run);
    Ok((field, settled))
}

/// The ladder, or in a sentence why it would be too long.
fn levels(scenario: &Scenario) -> Result<Result<Ladder, String>, Failure> {
    match ladder(scenario) {
        Ok(ladder) => Ok(Ok(ladder)),
        Err(LadderError::Network(error)) => Err(Failure::network(scenario, &error)),
        Err(error @ LadderError::TooManyElements { .. }) => Ok(Err(error.to_string())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use backporch::output::png::write_frame;

    fn desk(sets: &[&str]) -> Desk {
        let scenario = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/table-follower.toml");
        let set = sets.iter().map(|&set| set.to_owned()).collect();
        Desk::open(&ScenarioArgs { scenario, set }).unwrap()
    }

    #[test]
    fn what_it_was_opened_with_stands_in_the_controls() {
        let desk = desk(&["R1=2k2", "board.R2.resistor = 3k3", "R3=open", "game.left=0.3"]);
        let standings = desk.standings(&desk.start);
        for (path, text) in
            [("R1.resistor", "2k2"), ("R2.resistor", "3k3"), ("R3", "open"), ("game.left", "0.3")]
        {
            let standing = standings.iter().find(|one| one.path == path).unwrap();
            assert!(standing.text == text && standing.changed, "{standing:?}");
        }
        let untouched = standings.iter().find(|one| one.path == "P1.position").unwrap();
        assert!(!untouched.changed && untouched.at.len() == 1, "{untouched:?}");
    }

    #[test]
    fn a_board_is_worked_out_as_the_engine_does_it_alone() {
        let desk = desk(&[]);
        let board = desk.load(&["R1.resistor=3k".to_owned()]).unwrap();
        let alone = backporch::simulate::first_field(&board).unwrap();
        let seen = look(board).unwrap();
        let answer = read(&seen, Some(100)).unwrap();
        let mut frame = Vec::new();
        write_frame(&alone.reception.picture, &mut frame).unwrap();
        assert!(seen.frame == frame);
        assert_eq!((answer.line, answer.lines), (100, 312));
        assert!(answer.line_svg.starts_with("<svg "));
        let beyond = read(&seen, Some(1000)).unwrap();
        assert_eq!(beyond.line, alone.trains.map.line_that_shows_most());
    }
}
