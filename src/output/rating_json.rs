//! Ratings as JSON for other programs.

use crate::analysis::rating::Rating;
use crate::base::math;
use serde::Serialize;

/// A rating in `report.json`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RatingReport {
    /// Part, pin or node; "chip" and "socket" for those.
    pub part: String,
    /// The rule.
    pub subject: &'static str,
    /// "ok", "look" or "stop".
    pub word: &'static str,
    /// What was found.
    pub figure: f64,
    /// What it is held against.
    pub limit: f64,
    /// "at most" or "at least".
    pub side: &'static str,
    /// V, A, W, °C, Ω or F, of figure and limit.
    pub unit: &'static str,
    /// Where the limit comes from.
    pub source: &'static str,
    /// Where it is worst; null if it is the same whatever is lit.
    pub state: Option<String>,
    /// All of it in a sentence.
    pub sentence: String,
}

/// Fills the report's ratings.
#[must_use]
pub fn rating_reports(ratings: &[Rating]) -> Vec<RatingReport> {
    let reports = ratings.iter().map(|rating| RatingReport {
        part: rating.part.clone(),
        subject: rating.subject.word(),
        word: rating.word.word(),
        figure: six_digits(rating.figure),
        limit: six_digits(rating.limit),
        side: rating.side.word(),
        unit: rating.unit.sign(),
        source: rating.source,
        state: rating.state.as_ref().map(|state| state.words()),
        sentence: rating.sentence.clone(),
    });
    reports.collect()
}

/// Rounded so that the last digits of a solve do not show: to a millionth from 1 on, to 1e-12
/// below.
fn six_digits(value: f64) -> f64 {
    let scale = if value.abs() >= 1.0 { 1e6 } else { 1e12 };
    math::round(value * scale) / scale + 0.0
}
