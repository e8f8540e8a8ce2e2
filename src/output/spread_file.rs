//! The tally of a run as JSON, and back: what other programs read, and what parts of a run that was
//! split are joined from.

use crate::analysis::spread::Look;
use crate::analysis::spread::Run;
use crate::analysis::spread::level_names;
use crate::analysis::spread::tally::Tally;
use crate::base::math;
use crate::output::json::FORMAT;
use crate::output::json::write;
use crate::scenario::Scenario;
use serde::Deserialize;
use serde::Serialize;
use std::io::Write;
use std::ops::Range;
use thiserror::Error;

/// A run, or a part of one, with what it was a run of.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SpreadFile {
    /// [`FORMAT`].
    pub format: u32,
    /// The scenario's title.
    pub title: String,
    /// A number that differs where board, tolerances or verdict lines do.
    pub board: String,
    /// The seed.
    pub seed: u64,
    /// How boards were looked at: "standing levels", "line 144", "a field".
    pub look: String,
    /// Boards of the whole run.
    pub of: u64,
    /// Which of them are in it: first, and the one after the last, rising and apart.
    pub covers: Vec<[u64; 2]>,
    /// Names of the factors.
    pub factors: Vec<String>,
    /// Names of the levels, mV or V as the tally counts.
    pub levels: Vec<String>,
    /// Names of the expectations that were judged.
    pub judged: Vec<String>,
    /// What was counted.
    pub tally: Tally,
}

/// Why two files are no parts of one run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum JoinError {
    /// Another board, seed or number of boards.
    #[error("it is a part of another run")]
    OtherRun,
    /// Its figures contradict one another.
    #[error("it is damaged: its figures do not add up to its boards")]
    Damaged,
    /// A board would count twice.
    #[error("it has boards that another part has too")]
    Overlap,
}

impl SpreadFile {
    /// A run of a scenario of which nothing has been solved yet.
    #[must_use]
    pub fn new(scenario: &Scenario, run: &Run<'_>, of: u64) -> Self {
        let judged: Vec<String> = run.judged().into_iter().map(str::to_owned).collect();
        let look = match (run.spec().look, run.line()) {
            (Look::Field, _) => "a field".to_owned(),
            (_, Some(line)) => format!("line {line}"),
            (_, None) => "standing levels".to_owned(),
        };
        Self {
            format: FORMAT,
            title: scenario.title.clone(),
            board: fingerprint(scenario),
            seed: run.spec().seed,
            look,
            of,
            covers: Vec::new(),
            factors: scenario.spread.iter().map(|factor| factor.name.clone()).collect(),
            levels: level_names(scenario),
            tally: Tally::new(scenario, judged.len()),
            judged,
        }
    }

    /// Says that boards are in it; touching ranges become one.
    pub fn cover(&mut self, range: Range<u64>) {
        if range.is_empty() {
            return;
        }
        self.covers.push([range.start, range.end]);
        self.covers.sort_unstable();
        let mut joined: Vec<[u64; 2]> = Vec::new();
        for &[start, end] in &self.covers {
            match joined.last_mut() {
                Some(last) if last[1] == start => last[1] = end,
                _ => joined.push([start, end]),
            }
        }
        self.covers = joined;
    }

    /// Adds another part of the same run.
    ///
    /// # Errors
    ///
    /// [`JoinError`]; nothing has then been added.
    pub fn join(&mut self, other: &Self) -> Result<(), JoinError> {
        let run = |file: &Self| {
            (
                file.format,
                file.board.clone(),
                file.seed,
                file.look.clone(),
                file.of,
                file.judged.clone(),
            )
        };
        if run(self) != run(other) {
            return Err(JoinError::OtherRun);
        }
        let sound = other.covers.iter().all(|&[start, end]| start < end && end <= other.of);
        let boards = || other.covers.iter().map(|&[start, end]| end - start).sum::<u64>();
        if !sound || boards() != other.tally.boards || !other.tally.adds_up() {
            return Err(JoinError::Damaged);
        }
        let apart = |a: &[u64; 2], b: &[u64; 2]| a[1] <= b[0] || b[1] <= a[0];
        if self.covers.iter().any(|own| other.covers.iter().any(|more| !apart(own, more))) {
            return Err(JoinError::Overlap);
        }
        if !self.tally.join(&other.tally) {
            return Err(JoinError::OtherRun);
        }
        for &[start, end] in &other.covers {
            self.cover(start..end);
        }
        Ok(())
    }

    /// Whether every board of the run is in it.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.covers == [[0, self.of]]
    }

    /// Writes it, indented, with a line end.
    ///
    /// # Errors
    ///
    /// If `out` fails.
    pub fn write(&self, out: &mut impl Write) -> std::io::Result<()> {
        write(self, out)
    }

    /// Reads it back.
    ///
    /// # Errors
    ///
    /// If `text` is no such file.
    pub fn read(text: &str) -> Result<Self, serde_json::Error> {
        serde_json::from_str(text)
    }
}

/// A number for what the answer depends on: FNV-1a over its parts.
fn fingerprint(scenario: &Scenario) -> String {
    const START: u64 = 0xcbf2_9ce4_8422_2325;
    const PRIME: u64 = 0x0100_0000_01b3;
    let expected: Vec<_> = scenario.expect.iter().map(|expected| &expected.what).collect();
    let Scenario { circuit, raster, verdict, spread, specimens, receiver, solve, .. } = scenario;
    let mut text =
        format!("{:?}", (circuit, raster, verdict, spread, specimens, receiver, solve, expected));
    if let Some(modulator) = &scenario.modulator {
        text += &format!("{modulator:?}");
    }
    let number =
        text.bytes().fold(START, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(PRIME));
    format!("{number:016x}")
}

/// A share of boards in a thousand.
#[must_use]
pub fn in_a_thousand(count: u64, boards: u64) -> f64 {
    1e3 * math::from_u64(count) / math::from_u64(boards.max(1))
}
