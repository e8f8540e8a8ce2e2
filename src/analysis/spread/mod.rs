//! One board after another with parts, pins and temperature off by what their tolerances allow: how
//! many come out right, and which part decides.
//!
//! Board `k` of a run depends on the seed and on `k` alone, so that it can be solved by itself, that a
//! run can be split over machines, and that no result depends on the number of threads.

mod draw;
pub mod judge;
mod line;
pub mod tally;

use crate::analysis::board_levels::BoardLevels;
use crate::analysis::board_levels::BoardSolver;
use crate::analysis::check::Case;
use crate::analysis::check::check_all;
use crate::analysis::ladder::LadderError;
use crate::analysis::spread::judge::Judge;
use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;
use crate::base::parallel;
use crate::network::circuit::Circuit;
use crate::network::error::NetworkError;
use crate::scenario::Scenario;
use crate::simulate::RunError;
use crate::simulate::line::Line;
use std::ops::ControlFlow;
use std::ops::Range;
use thiserror::Error;

/// Boards that are solved before anything is told of them.
const CHUNK: u64 = 2048;
/// The same where each is run for a field.
const CHUNK_IN_TIME: u64 = 32;

/// A board's draws and what came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Board {
    /// Its number in the run, from 0.
    pub number: u64,
    /// The value of each factor, in the order of [`Scenario::spread`].
    pub draws: Vec<f64>,
    /// What came of it; `None` if it could not be solved.
    pub measured: Option<Measured>,
}

/// What came of a board.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// Tip, black, depth, then every element's level above black, V; see [`level_names`].
    pub levels: Vec<f64>,
    /// The word for each element.
    pub seen: Vec<Seen>,
    /// The word for the sync.
    pub sync: SyncState,
    /// Whether each expectation is met, in the order of [`Run::judged`].
    pub met: Vec<bool>,
}

impl Measured {
    /// Whether every element shows at all, and sync with it.
    #[must_use]
    pub fn shows_all(&self) -> bool {
        self.sync != SyncState::Failing && self.seen.iter().all(|seen| *seen != Seen::Missing)
    }

    /// Whether all that is judged is met; where nothing is expected, whether all shows.
    #[must_use]
    pub fn is_good(&self) -> bool {
        if self.met.is_empty() { self.shows_all() } else { self.met.iter().all(|met| *met) }
    }
}

/// Where the levels of elements begin in [`Measured::levels`], behind tip, black and depth.
pub const ABOVE_BLACK: usize = 3;

/// Names of [`Measured::levels`].
#[must_use]
pub fn level_names(scenario: &Scenario) -> Vec<String> {
    let plain = ["tip", "black", "depth"].into_iter().map(str::to_owned);
    plain.chain(scenario.raster.elements.iter().cloned()).collect()
}

/// What is asked of a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RunSpec {
    /// Where chance begins.
    pub seed: u64,
    /// How closely each board is looked at.
    pub look: Look,
}

/// How closely a board is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Look {
    /// Standing levels.
    Levels,
    /// One line in time: the given one, or the one that shows most.
    Line(Option<u32>),
    /// A whole field as a set receives it: all of `[expect]` is judged.
    Field,
}

/// Why a run cannot begin.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum SpreadError {
    /// The levels of the scenario's own board.
    #[error(transparent)]
    Levels(#[from] LadderError),
    /// Its line.
    #[error(transparent)]
    Run(#[from] RunError),
    /// A line outside the picture.
    #[error("line {line} has no picture: lines {first} to {last} have")]
    NoPicture {
        /// The line asked for.
        line: u32,
        /// The first line of the picture.
        first: u32,
        /// The last one.
        last: u32,
    },
}

/// Takes boards as they come, and may end a run.
pub type Take<'a, E> = dyn FnMut(&[Board]) -> Result<ControlFlow<()>, E> + 'a;

/// A run over boards.
#[derive(Debug)]
pub struct Run<'a> {
    scenario: &'a Scenario,
    solver: BoardSolver<'a>,
    judge: Judge<'a>,
    line: Option<Line>,
    spec: RunSpec,
}

impl<'a> Run<'a> {
    /// Prepares a run.
    ///
    /// # Errors
    ///
    /// [`SpreadError`]: the scenario's own board cannot be solved, its plan contradicts itself, or the
    /// line that is asked for has no picture.
    pub fn new(scenario: &'a Scenario, spec: RunSpec) -> Result<Self, SpreadError> {
        let judge = Judge::new(scenario, spec.look == Look::Field);
        let solver = judge.solver()?;
        let line = match spec.look {
            Look::Line(number) => {
                let timing = &scenario.raster.timing;
                let lines = timing.first_active_line..timing.lines_per_field;
                if let Some(line) = number.filter(|line| !lines.contains(line)) {
                    let (first, last) = (lines.start, lines.end.saturating_sub(1));
                    return Err(SpreadError::NoPicture { line, first, last });
                }
                Some(Line::new(scenario, number)?)
            }
            Look::Levels | Look::Field => None,
        };
        Ok(Self { scenario, solver, judge, line, spec })
    }

    /// The expectations that are judged, by their names below `[expect]`.
    #[must_use]
    pub fn judged(&self) -> Vec<&str> {
        self.judge.names()
    }

    /// Expectations that standing levels do not tell, by name: none if boards are run in time.
    #[must_use]
    pub fn not_judged(&self) -> Vec<&str> {
        self.judge.left_out()
    }

    /// The levels of the scenario's own board, as [`Measured::levels`] has them.
    ///
    /// # Errors
    ///
    /// It cannot be solved.
    pub fn own_levels(&self) -> Result<Vec<f64>, NetworkError> {
        self.solver.solve(&self.scenario.circuit).map(|levels| levels_of(&levels))
    }

    /// One board of the run.
    #[must_use]
    pub fn board(&self, number: u64) -> Board {
        let draws = draw::draws(&self.scenario.spread, self.spec.seed, number);
        let circuit = with(self.scenario, &draws);
        let measured = self.measured(circuit);
        Board { number, draws, measured }
    }

    /// What was asked for.
    #[must_use]
    pub fn spec(&self) -> RunSpec {
        self.spec
    }

    /// The line that boards are run for, if they are run for one.
    #[must_use]
    pub fn line(&self) -> Option<u32> {
        self.line.as_ref().map(|line| line.number)
    }

    fn measured(&self, circuit: Circuit) -> Option<Measured> {
        let mut levels = self.solver.solve(&circuit).ok()?;
        if let Some(line) = &self.line {
            line::read(self.scenario, line, &line.run(&circuit).ok()?, &mut levels);
        }
        if self.spec.look == Look::Field {
            return self.received(Scenario { circuit, ..self.scenario.clone() }, &levels);
        }
        Some(Measured {
            levels: levels_of(&levels),
            seen: levels.elements.iter().map(|element| element.seen).collect(),
            sync: levels.sync.state,
            met: self.judge.met(&levels),
        })
    }

    /// A board as a set receives it; of an element with several shapes the one that is seen worst, and
    /// for what could not be measured its standing level.
    fn received(&self, board: Scenario, standing: &BoardLevels) -> Option<Measured> {
        let checked = check_all(&[Case { scenario: &board, stored: None }]).pop()?.ok()?;
        let mut levels = levels_of(standing);
        let found = &checked.received;
        levels[..3].copy_from_slice(&[found.tip_v, found.black_v, found.black_v - found.tip_v]);
        let mut seen: Vec<Seen> = standing.elements.iter().map(|element| element.seen).collect();
        for (index, worst) in found.worst.iter().enumerate() {
            if let Some((delta_v, word)) = worst {
                levels[3 + index] = *delta_v;
                seen[index] = *word;
            }
        }
        let findings = checked.findings.iter().filter(|one| self.judge.judges(&one.expected));
        let met = findings.map(|finding| finding.met).collect();
        Some(Measured { levels, seen, sync: found.sync, met })
    }

    /// The boards of a range, in their order, a few at a time, on all cores; `take` may end it.
    ///
    /// # Errors
    ///
    /// What `take` fails with.
    pub fn boards<E>(&self, range: Range<u64>, take: &mut Take<'_, E>) -> Result<(), E> {
        let chunk = if self.spec.look == Look::Levels { CHUNK } else { CHUNK_IN_TIME };
        let mut from = range.start;
        while from < range.end {
            let to = (from + chunk).min(range.end);
            let numbers: Vec<u64> = (from..to).collect();
            let boards = parallel::map(&numbers, |&number| self.board(number));
            if take(&boards)?.is_break() {
                break;
            }
            from = to;
        }
        Ok(())
    }
}

/// Tip, black, depth and the elements.
pub(super) fn levels_of(levels: &BoardLevels) -> Vec<f64> {
    let plain = [levels.sync.tip_v, levels.sync.black_v, levels.sync.depth_v];
    plain.into_iter().chain(levels.elements.iter().map(|element| element.delta_v)).collect()
}

/// The board with these values of its factors.
#[must_use]
pub fn with(scenario: &Scenario, draws: &[f64]) -> Circuit {
    let mut circuit = scenario.circuit.clone();
    for (factor, &value) in scenario.spread.iter().zip(draws) {
        factor.apply(value, &scenario.specimens, &mut circuit);
    }
    circuit
}

/// The boards of one part of a run that is split into so many, both counted from 1.
#[must_use]
pub fn part_of(boards: u64, part: u32, of: u32) -> Range<u64> {
    let cut = |at: u32| {
        let share = u128::from(boards) * u128::from(at) / u128::from(of.max(1));
        u64::try_from(share).unwrap_or(boards)
    };
    cut(part.saturating_sub(1))..cut(part)
}
