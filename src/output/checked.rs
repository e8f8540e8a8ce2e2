//! What a check found, in words: the same in every format.

use crate::analysis::check::Checked;
use crate::analysis::check::Finding;
use crate::analysis::check::Found;
use crate::analysis::check::wave::Likeness;
use crate::base::math;
use crate::output::axis::trimmed;
use crate::scenario::expect::Bounds;
use crate::scenario::expect::Expectation;
use crate::scenario::expect::FieldAmount;
use crate::scenario::expect::OfShape;
use crate::scenario::expect::ShapeAmount;

/// A file that was checked, or could not be.
#[derive(Clone, Debug)]
pub struct CheckedFile<'a> {
    /// The file as it was named.
    pub file: &'a str,
    /// What came of it: findings, or why there are none.
    pub answer: Result<&'a Checked, &'a str>,
    /// What else was done, in sentences: which waveform was stored, or left.
    pub notes: &'a [String],
}

/// How many files of a run are of what kind.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Totals {
    /// Everything is as expected.
    pub met: usize,
    /// Something is not.
    pub unmet: usize,
    /// There is no answer.
    pub unanswered: usize,
}

impl Totals {
    /// Counts files.
    #[must_use]
    pub fn of(files: &[CheckedFile<'_>]) -> Self {
        let mut totals = Self::default();
        for file in files {
            match file.answer {
                Ok(checked) if checked.unmet() == 0 => totals.met += 1,
                Ok(_) => totals.unmet += 1,
                Err(_) => totals.unanswered += 1,
            }
        }
        totals
    }
}

/// A unit as it is shown: how many of it a base unit has, its sign, and the decimals that matter.
#[derive(Clone, Copy, Debug)]
struct Unit(f64, &'static str, usize);

const MILLIVOLTS: Unit = Unit(1e3, "mV", 2);
const NANOSECONDS: Unit = Unit(1e9, "ns", 1);
const MICROSECONDS: Unit = Unit(1e6, "µs", 3);
const HERTZ: Unit = Unit(1.0, "Hz", 3);
const OHMS: Unit = Unit(1.0, "Ω", 1);

impl Unit {
    fn number(self, value: f64) -> String {
        trimmed(self.0 * value, self.2)
    }

    fn text(self, value: f64) -> String {
        format!("{} {}", self.number(value), self.1)
    }

    fn range(self, bounds: &Bounds) -> String {
        match (bounds.low, bounds.high) {
            (Some(low), Some(high)) => format!("{} to {}", self.number(low), self.text(high)),
            (Some(low), None) => format!("at least {}", self.text(low)),
            (None, Some(high)) => format!("at most {}", self.text(high)),
            (None, None) => "any".to_owned(),
        }
    }
}

fn unit(what: &Expectation) -> Unit {
    match what {
        Expectation::Field(FieldAmount::SyncWidth, _) => MICROSECONDS,
        Expectation::Field(FieldAmount::LineRate | FieldAmount::FieldRate, _) => HERTZ,
        Expectation::Field(FieldAmount::Source, _) => OHMS,
        Expectation::Shape(_, OfShape::Amount(ShapeAmount::Rise | ShapeAmount::Fall, _)) => {
            NANOSECONDS
        }
        _ => MILLIVOLTS,
    }
}

/// What was expected: "200 to 280 mV", "good or weak".
#[must_use]
pub fn expected(what: &Expectation) -> String {
    let unit = unit(what);
    match what {
        Expectation::Field(_, bounds)
        | Expectation::Node(_, _, bounds)
        | Expectation::Shape(_, OfShape::Amount(_, bounds)) => unit.range(bounds),
        Expectation::Sync(words)
        | Expectation::Lock(words)
        | Expectation::Shape(_, OfShape::Seen(words)) => words.join(" or "),
        Expectation::Ratings(word) => match *word {
            "ok" => "every rating ok".to_owned(),
            word => format!("no rating worse than {word}"),
        },
        Expectation::TakenForSync(names) => listed(names),
        Expectation::Shape(_, OfShape::Notes(words)) => words.join(", "),
        Expectation::Shape(_, OfShape::Not(words)) => format!("not {}", words.join(", ")),
        Expectation::Waveform { path, within_v } => {
            format!("within {} of {path}", unit.text(*within_v))
        }
    }
}

/// What was found: "241.3 mV", "missing", with the shape that it is about.
#[must_use]
pub fn found(finding: &Finding) -> String {
    let unit = unit(&finding.expected.what);
    let found = match &finding.found {
        Found::Amount(value) => unit.text(*value),
        Found::Words(words) => listed(words),
        Found::NotMeasured => "not measured".to_owned(),
        Found::Wave(likeness) => likeness_words(likeness),
    };
    match &finding.shape {
        Some(shape) => format!("{found} ({shape})"),
        None => found,
    }
}

fn listed(words: &[String]) -> String {
    if words.is_empty() { "none".to_owned() } else { words.join(", ") }
}

fn likeness_words(likeness: &Likeness) -> String {
    match *likeness {
        Likeness::Apart { worst_v: 0.0, .. } => "the same".to_owned(),
        Likeness::Apart { worst_v, sample } => {
            format!("{} apart at sample {sample}", apart(worst_v))
        }
        Likeness::OtherRate { stored_hz, found_hz } => {
            let found = trimmed(found_hz, 1);
            format!("{found} samples a second, stored with {stored_hz}")
        }
        Likeness::OtherLength { stored, found } => {
            format!("{found} samples, stored with {stored}")
        }
        Likeness::NotStored => "nothing stored".to_owned(),
        Likeness::Accepted => "stored now".to_owned(),
    }
}

/// A small difference in a unit in which it does not come to 0.
fn apart(volts: f64) -> String {
    if volts >= 1e-3 {
        MILLIVOLTS.text(volts)
    } else {
        format!("{} µV", trimmed(math::round(1e8 * volts) / 1e2, 2))
    }
}

/// Where the expectation stands: "scenarios/board.toml:80".
#[must_use]
pub fn place(finding: &Finding) -> String {
    let place = &finding.expected.place;
    format!("{}:{}", place.source.name, place.line())
}
