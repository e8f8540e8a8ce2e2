//! `report.json`: a render for other programs.
//!
//! The structures are the format's own; a change that breaks a reader raises `format`. Levels
//! are millivolts rounded to a thousandth, so that the last digits of a solve do not show.

use crate::analysis::cause::Cause;
use crate::analysis::modulation::Modulation;
use crate::analysis::rating::Rating;
use crate::analysis::reading::FieldReading;
use crate::analysis::reading::ShapeReading;
use crate::analysis::verdict::Note;
use crate::base::math;
use crate::base::ticks::ClockRate;
use crate::output::lock_json::AnswerReport;
use crate::output::lock_json::LockReport;
use crate::output::lock_json::answer_reports;
use crate::output::lock_words::FieldLock;
use crate::output::modulation_json::ModulationReport;
use crate::output::motion_json::AnimationReport;
use crate::output::motion_json::SoundReport;
use crate::output::panel::blanking_v;
use crate::output::panel::ire;
use crate::output::rating_json::RatingReport;
use crate::output::rating_json::rating_reports;
use crate::simulate::FieldRun;
use serde::Serialize;
use std::collections::BTreeMap;
use std::io::Write;

/// Version of the formats of the report and of the ladder.
pub const FORMAT: u32 = 1;

/// What a report is made from.
#[derive(Clone, Copy, Debug)]
pub struct ReportParts<'a> {
    /// The scenario's one-line title.
    pub title: &'a str,
    /// The scenario's short name.
    pub scenario: &'a str,
    /// Samples in a clock period.
    pub samples_per_clock: u32,
    /// What came of it.
    pub run: &'a FieldRun,
    /// What it amounts to.
    pub reading: &'a FieldReading,
    /// How each field's picture stands, the first one first.
    pub locks: &'a [FieldLock],
    /// Work done, by name: steps, iterations and so on.
    pub counts: &'a BTreeMap<String, u64>,
    /// What becomes of the carrier, if there is a modulator.
    pub modulation: Option<&'a Modulation>,
    /// The frames of all fields, if they are one animation.
    pub animation: Option<&'a AnimationReport>,
    /// What can be heard, if it was asked for.
    pub sound: Option<&'a SoundReport>,
    /// What each part is worked to.
    pub ratings: &'a [Rating],
    /// What the user should know, in sentences.
    pub warnings: &'a [String],
    /// Names of the files written, this one included.
    pub files: &'a [String],
}

/// `report.json`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Report {
    /// [`FORMAT`].
    pub format: u32,
    /// The scenario's one-line title.
    pub title: String,
    /// The scenario's short name.
    pub scenario: String,
    /// Chip clock.
    pub clock: Rate,
    /// Lines a second.
    pub line_hz: f64,
    /// Fields a second.
    pub field_hz: f64,
    /// Samples a second of every waveform; exact, where a WAV header holds whole hertz only.
    pub sample_rate: Rate,
    /// Samples in a clock period.
    pub samples_per_clock: u32,
    /// Node of the socket.
    pub node: String,
    /// Work done by the solver, by name.
    pub solver: BTreeMap<String, u64>,
    /// Black, tip and timing of sync.
    pub sync: SyncReport,
    /// How the first field's picture stands on the screen.
    pub lock: LockReport,
    /// The same of every field, the first one first.
    pub locks: Vec<LockReport>,
    /// What the set asks of the signal, and what that has.
    pub answers: Vec<AnswerReport>,
    /// The carrier; absent without a modulator.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub modulation: Option<ModulationReport>,
    /// The frames of all fields; absent if they are not one animation.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub animation: Option<AnimationReport>,
    /// What can be heard; absent if it was not asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sound: Option<SoundReport>,
    /// The elements in the chip's order.
    pub elements: Vec<ElementReport>,
    /// What each part is worked to, in the order of the parts.
    pub ratings: Vec<RatingReport>,
    /// What the user should know.
    pub warnings: Vec<String>,
    /// Files written.
    pub files: Vec<String>,
}

/// A frequency: exactly `numerator / denominator`, and as a number.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Rate {
    /// Of the ratio in lowest terms.
    pub numerator: u64,
    /// Of the ratio in lowest terms.
    pub denominator: u64,
    /// The nearest number, Hz.
    pub hz: f64,
}

/// Sync in `report.json`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SyncReport {
    /// The unlit active line, mV.
    pub black_mv: f64,
    /// Sync tip, mV.
    pub tip_mv: f64,
    /// Black minus tip, mV.
    pub depth_mv: f64,
    /// "good", "weak" or "failing".
    pub state: &'static str,
    /// Which part did it; null if it is good, or not weak at rest.
    pub cause: Option<CauseReport>,
    /// Blanking, from which IRE are counted, mV: the back porch, or black if no sync was found.
    pub blanking_mv: f64,
    /// Slicing level of the set, mV; null if it found no sync.
    pub slice_mv: Option<f64>,
    /// Median line period, µs; null if the set found no sync.
    pub line_period_us: Option<f64>,
    /// Median width of line sync at the slicing level, µs; null if the set found no sync.
    pub width_us: Option<f64>,
}

/// An element in `report.json`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ElementReport {
    /// Its name.
    pub name: String,
    /// What it draws, in the order of the element map.
    pub shapes: Vec<ShapeReport>,
}

/// A shape in `report.json`. Null stands for what could not be measured.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ShapeReport {
    /// Its name.
    pub name: String,
    /// Level at the peak, mV.
    pub level_mv: Option<f64>,
    /// Peak minus the black around it, mV.
    pub delta_mv: Option<f64>,
    /// Level at the peak from blanking, IRE.
    pub ire: Option<f64>,
    /// Rising edge, 10 to 90 %, ns.
    pub rise_ns: Option<f64>,
    /// Falling edge, 90 to 10 %, ns.
    pub fall_ns: Option<f64>,
    /// Luminance on the screen, with the room's light, cd/m².
    pub light_cd_m2: Option<f64>,
    /// Luminance of what surrounds it, cd/m².
    pub surround_cd_m2: Option<f64>,
    /// Just-noticeable differences between the two (DICOM PS3.14).
    pub jnd: Option<f64>,
    /// Its level against its surroundings over the set's noise, dB.
    pub signal_to_noise_db: Option<f64>,
    /// "clear", "faint" or "missing".
    pub seen: Option<&'static str>,
    /// What else there is to say.
    pub notes: Vec<&'static str>,
    /// The words at rest with a "weak", a "typical" and a "strong" chip; empty if all are the same.
    pub band: BTreeMap<&'static str, &'static str>,
    /// Which part did it, if the shape is faint or missing.
    pub cause: Option<CauseReport>,
}

/// A cause in `report.json`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CauseReport {
    /// Reference designator or pin.
    pub part: String,
    /// Node where the pulse is lost.
    pub node: String,
    /// The finding in words.
    pub words: String,
}

impl CauseReport {
    /// Takes it over.
    pub(crate) fn new(cause: &Cause) -> Self {
        Self { part: cause.part.clone(), node: cause.node.clone(), words: cause.words.clone() }
    }
}

impl Report {
    /// Fills a report.
    #[must_use]
    pub fn new(parts: ReportParts<'_>) -> Self {
        let ReportParts { run, reading, samples_per_clock, .. } = parts;
        let timing = &run.trains.timing;
        let sampled = run.traces.first().map(|socket| socket.rate);
        Self {
            format: FORMAT,
            title: parts.title.into(),
            scenario: parts.scenario.into(),
            clock: rate(timing.clock),
            line_hz: timing.line_hz(),
            field_hz: timing.field_hz(),
            sample_rate: rate(sampled.unwrap_or(timing.clock)),
            samples_per_clock,
            node: run.traces.first().map(|socket| socket.node.clone()).unwrap_or_default(),
            solver: parts.counts.clone(),
            sync: sync_report(run, reading),
            lock: LockReport::new(&run.reception.lock, &reading.lock),
            locks: parts
                .locks
                .iter()
                .map(|field| LockReport::new(&field.lock, &field.states))
                .collect(),
            answers: answer_reports(&run.reception),
            modulation: parts.modulation.map(ModulationReport::new),
            animation: parts.animation.cloned(),
            sound: parts.sound.cloned(),
            elements: element_reports(&run.trains.map.elements, run, reading),
            ratings: rating_reports(parts.ratings),
            warnings: parts.warnings.to_vec(),
            files: parts.files.to_vec(),
        }
    }
}

/// Writes `report.json`, indented, with a line end.
///
/// # Errors
///
/// If `out` fails.
pub fn write_report(parts: ReportParts<'_>, out: &mut impl Write) -> std::io::Result<()> {
    write(&Report::new(parts), out)
}

/// Writes JSON, indented, with a line end.
pub(crate) fn write(value: &impl Serialize, out: &mut impl Write) -> std::io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, value)?;
    out.write_all(b"\n")
}

fn rate(rate: ClockRate) -> Rate {
    let (numerator, denominator) = rate.ratio();
    Rate { numerator, denominator, hz: rate.hertz() }
}

fn sync_report(run: &FieldRun, reading: &FieldReading) -> SyncReport {
    let found = run.reception.sync;
    SyncReport {
        black_mv: milli(reading.black_v),
        tip_mv: milli(reading.tip_v),
        depth_mv: milli(reading.black_v - reading.tip_v),
        state: reading.sync.word(),
        cause: reading.sync_cause.as_ref().map(CauseReport::new),
        blanking_mv: milli(blanking_v(&run.reception, reading)),
        slice_mv: found.map(|sync| milli(sync.slice_v)),
        line_period_us: found.map(|sync| thousandth(1e6 * sync.line_period_s)),
        width_us: found.map(|sync| thousandth(1e6 * sync.line_sync_s)),
    }
}

fn element_reports(
    elements: &[String],
    run: &FieldRun,
    reading: &FieldReading,
) -> Vec<ElementReport> {
    let blanking_v = blanking_v(&run.reception, reading);
    let shapes_of = |element: &String| {
        let shapes = reading.shapes.iter().filter(|shape| shape.element == *element);
        shapes.map(|shape| shape_report(shape, blanking_v)).collect()
    };
    elements
        .iter()
        .map(|element| ElementReport { name: element.clone(), shapes: shapes_of(element) })
        .collect()
}

fn shape_report(shape: &ShapeReading, blanking_v: f64) -> ShapeReport {
    ShapeReport {
        name: shape.shape.clone(),
        level_mv: shape.level_v.map(milli),
        delta_mv: shape.delta_v.map(milli),
        ire: shape.level_v.map(|level_v| thousandth(ire(level_v, blanking_v).0)),
        rise_ns: shape.rise_s.map(|rise_s| thousandth(1e9 * rise_s)),
        fall_ns: shape.fall_s.map(|fall_s| thousandth(1e9 * fall_s)),
        light_cd_m2: shape.sight.map(|sight| thousandth(sight.light)),
        surround_cd_m2: shape.sight.map(|sight| thousandth(sight.surround)),
        jnd: shape.sight.map(|sight| thousandth(sight.steps)),
        signal_to_noise_db: shape
            .sight
            .filter(|sight| sight.signal_to_noise > 0.0)
            .map(|sight| thousandth(20.0 * math::log10(sight.signal_to_noise))),
        seen: shape.seen.map(|seen| seen.word()),
        band: shape.band.iter().map(|(pins, seen)| (pins.word(), seen.word())).collect(),
        notes: words(&shape.notes),
        cause: shape.cause.as_ref().map(CauseReport::new),
    }
}

/// Notes in words.
pub(crate) fn words(notes: &[Note]) -> Vec<&'static str> {
    notes.iter().map(|note| note.words()).collect()
}

/// Volts as millivolts, rounded to a thousandth.
pub(crate) fn milli(volts: f64) -> f64 {
    thousandth(1e3 * volts)
}

/// Rounded to a thousandth; zero has no sign.
pub(crate) fn thousandth(value: f64) -> f64 {
    math::round(1e3 * value) / 1e3 + 0.0
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::analysis::cause::Cause;
    use crate::analysis::verdict::Seen;
    use crate::output::sample;
    use serde_json::Value;
    use serde_json::json;

    /// What was written, as text and read back.
    pub(crate) fn read(write: impl FnOnce(&mut Vec<u8>) -> std::io::Result<()>) -> (String, Value) {
        let mut bytes = Vec::new();
        write(&mut bytes).unwrap();
        let text = String::from_utf8(bytes).unwrap();
        let value = serde_json::from_str(&text).unwrap();
        (text, value)
    }

    #[test]
    fn the_report_says_what_was_measured_and_who_did_it() {
        let mut sample = sample::sixty();
        sample.reading.shapes[0].cause = Some(Cause {
            suspect: None,
            cures: true,
            part: "U1".into(),
            node: "pin b".into(),
            words: "BALL reaches 1.14 V.".into(),
        });
        sample.reading.shapes[0].level_v = None;
        let run = sample.run();
        let counts = BTreeMap::from([("steps".to_owned(), 4711)]);
        let files = ["frame.png".to_owned(), "report.json".to_owned()];
        let lock = FieldLock { lock: run.reception.lock, states: sample.reading.lock.clone() };
        let parts = ReportParts {
            locks: &[lock],
            title: "Two gates",
            scenario: "two-gates",
            samples_per_clock: 8,
            run: &run,
            reading: &sample.reading,
            counts: &counts,
            modulation: None,
            animation: None,
            sound: None,
            ratings: &[],
            warnings: &["C1 is upside down".to_owned()],
            files: &files,
        };
        let (_, value) = read(|out| write_report(parts, out));
        assert_eq!(value["format"], json!(1));
        assert_eq!(
            value["clock"],
            json!({"numerator": 2_012_160, "denominator": 1, "hz": 2_012_160.0})
        );
        assert_eq!(value["sample_rate"]["numerator"], json!(16_097_280));
        assert_eq!(value["field_hz"], json!(60.0));
        assert_eq!(value["solver"]["steps"], json!(4711));
        assert_eq!(value["locks"], json!([value["lock"]]));
        assert_eq!(value["sync"]["line_period_us"], json!(64.0));
        assert_eq!(value["sync"]["depth_mv"], json!(300.0));
        let elements = value["elements"].as_array().unwrap();
        let names: Vec<&Value> = elements.iter().map(|element| &element["name"]).collect();
        assert_eq!(names, ["field", "ball", "left", "right"]);
        let ball = &elements[1]["shapes"][0];
        assert_eq!(ball["level_mv"], Value::Null);
        assert_eq!(ball["cause"]["part"], json!("U1"));
        let left = &elements[2]["shapes"][0];
        assert_eq!((&left["level_mv"], &left["delta_mv"]), (&json!(620.0), &json!(290.0)));
        assert_eq!((&left["ire"], &left["rise_ns"]), (&json!(40.6), &json!(180.0)));
        assert_eq!(left["seen"], json!(Seen::Faint.word()));
        assert_eq!(value["files"], json!(files));
        assert_eq!(value["warnings"], json!(["C1 is upside down"]));
    }

    #[test]
    fn levels_are_rounded_to_a_thousandth_of_a_millivolt_and_zero_has_no_sign() {
        assert_eq!(milli(0.334_100_49).to_string(), "334.1");
        assert_eq!(milli(-1e-9).to_string(), "0");
    }
}
