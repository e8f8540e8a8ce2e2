//! The small tables: `[solve]`, `[verdict]` and `[wiring]`.

use crate::document::fields::Fields;
use crate::document::problems::Problems;
use crate::document::quantity::CAPACITANCE;
use crate::document::quantity::FACTOR;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::quantity::SHARE;
use crate::document::quantity::TEMPERATURE;
use crate::document::quantity::TIME;
use crate::document::tree::Table;
use crate::scenario::LockLines;
use crate::scenario::Reuse;
use crate::scenario::SolveSpec;
use crate::scenario::Start;
use crate::scenario::VerdictLines;
use crate::signal::timing::FieldTiming;

/// Capacitance of a node's wiring to ground, F; common practice, no source.
const STRAY_FARADS: f64 = 3e-12;
/// Most samples in a field: what fits in memory many times over.
const MOST_SAMPLES: u64 = 40_000_000;

const STARTS: [(&str, Start); 2] = [("settled", Start::Settled), ("idle", Start::Idle)];
const REUSES: [(&str, Reuse); 2] = [("stretches", Reuse::Stretches), ("nothing", Reuse::Nothing)];

/// Verdict lines where nothing else is said: 30, 140 and 70 mV of a span of 700 mV, sync depth 200
/// and 100 mV; common practice, no source.
const VERDICT: VerdictLines = VerdictLines {
    span_v: 0.7,
    missing: 30.0 / 700.0,
    faint: 140.0 / 700.0,
    same_shade: 70.0 / 700.0,
    brighter: 1.1,
    sync_good_v: 0.2,
    sync_weak_v: 0.1,
    lock: LockLines::USUAL,
};

pub(crate) fn solve(table: &Table, timing: Option<&FieldTiming>, problems: &Problems) -> SolveSpec {
    let fields = Fields::open(table, "[solve]", problems);
    let samples_per_clock = fields.count("samples_per_clock", 1..=64).unwrap_or(8);
    let tolerance = POSITIVE_VOLTAGE.within(1e-9, 0.1);
    let tolerance_v = fields.quantity_or("tolerance", &tolerance, 10e-6);
    let start = fields.choice("start", &STARTS).unwrap_or(Start::Settled);
    let reuse = fields.choice("reuse", &REUSES).unwrap_or(Reuse::Stretches);
    let clocks = timing.map_or(0, FieldTiming::clocks_per_field);
    if clocks * u64::from(samples_per_clock) > MOST_SAMPLES {
        let message =
            format!("a field of {clocks} clocks would have more than {MOST_SAMPLES} samples");
        let expected = "expected fewer clocks, lines or samples";
        problems.add(fields.place("samples_per_clock"), message, expected);
    }
    fields.close();
    SolveSpec { samples_per_clock, tolerance_v, start, reuse }
}

pub(crate) fn verdict(table: &Table, problems: &Problems) -> VerdictLines {
    let fields = Fields::open(table, "[verdict]", problems);
    let share = |key, default| fields.quantity_or(key, &SHARE, default);
    let volts = |key, default| fields.quantity_or(key, &POSITIVE_VOLTAGE, default);
    let lines = VerdictLines {
        span_v: volts("span", VERDICT.span_v),
        missing: share("missing", VERDICT.missing),
        faint: share("faint", VERDICT.faint),
        same_shade: share("same_shade", VERDICT.same_shade),
        brighter: fields.quantity_or("brighter", &FACTOR, VERDICT.brighter),
        sync_good_v: volts("sync_good", VERDICT.sync_good_v),
        sync_weak_v: volts("sync_weak", VERDICT.sync_weak_v),
        lock: LockLines {
            shifted_s: fields.quantity_or("shifted", &TIME, LockLines::USUAL.shifted_s),
            bending_s: fields.quantity_or("bending", &TIME, LockLines::USUAL.bending_s),
            torn_lines: fields.quantity_or("torn", &FACTOR, LockLines::USUAL.torn_lines),
            rolling_lines: fields.quantity_or("rolling", &FACTOR, LockLines::USUAL.rolling_lines),
        },
    };
    if lines.missing > lines.faint {
        let message = "`missing` lies above `faint`".to_owned();
        problems.add(fields.place("missing"), message, "expected it at or below `faint`");
    }
    if lines.sync_weak_v > lines.sync_good_v {
        let message = "`sync_weak` lies above `sync_good`".to_owned();
        problems.add(fields.place("sync_weak"), message, "expected it at or below `sync_good`");
    }
    fields.close();
    lines
}

/// What `[wiring]` says.
pub(crate) struct Wiring {
    /// Stray capacitance of each node, F.
    pub(crate) stray_farads: f64,
    /// Temperature of every junction, K, if it is not the models' own.
    pub(crate) kelvin: Option<f64>,
}

pub(crate) fn wiring(table: &Table, problems: &Problems) -> Wiring {
    const FREEZING_KELVIN: f64 = 273.15;
    let fields = Fields::open(table, "[wiring]", problems);
    let stray_farads = fields.quantity_or("stray", &CAPACITANCE.or_zero(), STRAY_FARADS);
    let kelvin = fields.quantity("temperature", &TEMPERATURE).map(|c| c + FREEZING_KELVIN);
    fields.close();
    Wiring { stray_farads, kelvin }
}
