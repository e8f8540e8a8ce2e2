//! Lock and demands in `report.json`.

use crate::analysis::verdict::LockState;
use crate::output::json::thousandth;
use crate::output::lock_words::answer_word;
use crate::output::lock_words::origin_words;
use crate::output::lock_words::property_words;
use crate::receiver::lock::Lock;
use crate::receiver::lock::Phase;
use crate::receiver::spec::Reception;
use serde::Serialize;

/// How the picture stands on the screen. Null stands for what could not be told.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LockReport {
    /// "locked", or what it is instead.
    pub state: Vec<&'static str>,
    /// Start of the set's lines after the leading edge of their sync, mean over the shown lines, µs.
    pub phase_mean_us: Option<f64>,
    /// The least of them, µs.
    pub phase_low_us: Option<f64>,
    /// The greatest, µs.
    pub phase_high_us: Option<f64>,
    /// Of the first shown line, µs.
    pub phase_top_us: Option<f64>,
    /// Lines by which the set runs away from the sync in a field.
    pub slips: Option<f64>,
    /// Mean line rate of the set, Hz.
    pub line_hz: f64,
    /// Line rate that was sent, Hz.
    pub sent_line_hz: Option<f64>,
    /// Rate of the set's last field, Hz.
    pub field_hz: f64,
    /// Start of the set's field after the one that was sent, lines.
    pub field_phase_lines: Option<f64>,
    /// How far that moves in a field, lines.
    pub field_moves_lines: f64,
    /// Fields of sync until one repeated.
    pub settled_fields: Option<u32>,
}

impl LockReport {
    pub(super) fn new(lock: &Lock, states: &[LockState]) -> Self {
        let phase =
            |of: fn(&Phase) -> f64| lock.phase.as_ref().map(|phase| thousandth(1e6 * of(phase)));
        Self {
            state: states.iter().map(|state| state.word()).collect(),
            phase_mean_us: phase(|phase| phase.mean_s),
            phase_low_us: phase(|phase| phase.low_s),
            phase_high_us: phase(|phase| phase.high_s),
            phase_top_us: phase(|phase| phase.top_s),
            slips: lock.slips.map(thousandth),
            line_hz: thousandth(lock.line_hz),
            sent_line_hz: lock.sent_line_hz.map(thousandth),
            field_hz: thousandth(lock.field_hz),
            field_phase_lines: lock.field_phase_lines.map(thousandth),
            field_moves_lines: thousandth(lock.field_moves_lines),
            settled_fields: lock.settled_fields,
        }
    }
}

/// A demand of the set.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AnswerReport {
    /// What it is about.
    pub property: &'static str,
    /// Unit of the numbers.
    pub unit: &'static str,
    /// What the signal has.
    pub measured: Option<f64>,
    /// Least that is taken; null if there is no end.
    pub low: Option<f64>,
    /// Greatest that is taken; null if there is no end.
    pub high: Option<f64>,
    /// Distance to the nearer end, below 0 outside.
    pub margin: Option<f64>,
    /// "ok", "look" or "refused".
    pub word: &'static str,
    /// Who says so.
    pub source: &'static str,
}

pub(super) fn answer_reports(reception: &Reception) -> Vec<AnswerReport> {
    let reports = reception.answers.iter().map(|answer| {
        let (property, unit, factor, _) = property_words(answer.demand.property);
        let number = |value: f64| value.is_finite().then(|| thousandth(factor * value));
        AnswerReport {
            property,
            unit,
            measured: answer.measured.and_then(number),
            low: number(answer.demand.low),
            high: number(answer.demand.high),
            margin: answer.margin().and_then(number),
            word: answer_word(answer),
            source: origin_words(answer.demand.origin),
        }
    });
    reports.collect()
}
