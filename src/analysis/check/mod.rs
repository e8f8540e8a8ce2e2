//! A design against what is expected of it: one finding for each expectation, met or not.
//!
//! The board goes the way of a render: solved, received, read. Nothing is measured otherwise than
//! there.

mod compare;
pub mod wave;

pub(crate) use compare::note_word;

use crate::analysis::cause::Cause;
use crate::analysis::check::compare::Subject;
use crate::analysis::check::wave::Likeness;
use crate::analysis::check::wave::StoredWave;
use crate::analysis::examine::examine;
use crate::analysis::reading::FieldReading;
use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;
use crate::base::parallel;
use crate::scenario::Scenario;
use crate::scenario::expect::Expectation;
use crate::scenario::expect::Expected;
use crate::signal::trace::Trace;
use crate::simulate::RunError;
use crate::simulate::first_field;

/// A board to check.
#[derive(Clone, Copy, Debug)]
pub struct Case<'a> {
    /// The board, with what is expected of it.
    pub scenario: &'a Scenario,
    /// The waveform that it is compared with, if one is expected and is there.
    pub stored: Option<&'a StoredWave>,
}

/// A board checked.
#[derive(Clone, Debug, PartialEq)]
pub struct Checked {
    /// One for each expectation, in their order.
    pub findings: Vec<Finding>,
    /// The socket's waveform of the first field.
    pub socket: Trace,
    /// What it comes to.
    pub received: Received,
}

/// What a field comes to, in short.
#[derive(Clone, Debug, PartialEq)]
pub struct Received {
    /// Sync tip, V.
    pub tip_v: f64,
    /// The unlit active line, V.
    pub black_v: f64,
    /// The word for the sync.
    pub sync: SyncState,
    /// By element: of its shapes that can be measured the one that is seen worst, its level above black,
    /// V, and its word.
    pub worst: Vec<Option<(f64, Seen)>>,
}

impl Received {
    fn of(scenario: &Scenario, reading: &FieldReading) -> Self {
        let worst = scenario.raster.elements.iter().map(|element| {
            let shapes = reading.shapes.iter().filter(|shape| shape.element == *element);
            let measured = shapes.filter_map(|shape| shape.delta_v.zip(shape.seen));
            measured.min_by(|a, b| a.0.abs().total_cmp(&b.0.abs()))
        });
        let (tip_v, black_v) = (reading.tip_v, reading.black_v);
        Self { tip_v, black_v, sync: reading.sync, worst: worst.collect() }
    }
}

/// How it stands with one expectation.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// What was expected, and where that is written.
    pub expected: Expected,
    /// What was found.
    pub found: Found,
    /// Whether it is as expected.
    pub met: bool,
    /// The shape that decides, where the expectation speaks of an element with several.
    pub shape: Option<String>,
    /// Which part did it, where an expectation of an element is not met and that could be told.
    pub cause: Option<Cause>,
}

/// What was found.
#[derive(Clone, Debug, PartialEq)]
pub enum Found {
    /// A value in the unit of what was expected: V, s or Hz.
    Amount(f64),
    /// Words, or names of elements; none is nothing to say.
    Words(Vec<String>),
    /// The waveform against the stored one.
    Wave(Likeness),
    /// It could not be measured: no part of the shape lies clear, or the set found no sync.
    NotMeasured,
}

impl Checked {
    /// How many expectations are not met.
    #[must_use]
    pub fn unmet(&self) -> usize {
        self.findings.iter().filter(|finding| !finding.met).count()
    }

    /// Whether the waveform is not as expected, and everything else is.
    #[must_use]
    pub fn only_waveform_unmet(&self) -> bool {
        let mut unmet = self.findings.iter().filter(|finding| !finding.met).peekable();
        unmet.peek().is_some() && unmet.all(Finding::is_waveform)
    }

    /// Takes the waveform as it is for the expected one, once it has been stored as such.
    pub fn accept_waveform(&mut self) {
        for finding in self.findings.iter_mut().filter(|finding| finding.is_waveform()) {
            finding.met = true;
            finding.found = Found::Wave(Likeness::Accepted);
        }
    }
}

impl Finding {
    /// Whether it is about the stored waveform.
    #[must_use]
    pub fn is_waveform(&self) -> bool {
        matches!(self.expected.what, Expectation::Waveform { .. })
    }
}

/// Checks several boards at once; the answers in the order of the cases.
#[must_use]
pub fn check_all(cases: &[Case<'_>]) -> Vec<Result<Checked, RunError>> {
    parallel::map(cases, |case| check(case))
}

/// Checks a board.
///
/// # Errors
///
/// A board that cannot be solved or received.
pub fn check(case: &Case<'_>) -> Result<Checked, RunError> {
    let Case { scenario, stored } = *case;
    let mut field = first_field(scenario)?;
    let reading = examine(scenario, &field)?;
    let subject = Subject { scenario, field: &field, reading: &reading, stored };
    let findings = scenario.expect.iter().map(|expected| subject.finding(expected));
    let findings = findings.collect::<Result<Vec<Finding>, RunError>>()?;
    let received = Received::of(scenario, &reading);
    Ok(Checked { findings, socket: field.traces.swap_remove(0), received })
}
