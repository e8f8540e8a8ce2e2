//! The clock as JSON for other programs.

use crate::analysis::clock::Rates;
use crate::analysis::clock::beat::Bar;
use crate::analysis::clock::beat::Candidate;
use crate::analysis::clock::beat::Way;
use crate::analysis::clock::choose::Choice;
use crate::analysis::clock::choose::Suits;
use crate::analysis::clock::lock::Verdict;
use crate::analysis::clock::lock::Window;
use crate::analysis::clock::lock::Windows;
use crate::analysis::clock::tank::TankReading;
use crate::analysis::clock::tone::Heard;
use crate::output::json::FORMAT;
use crate::output::json::thousandth;
use crate::output::json::write;
use serde_json::Value;
use serde_json::json;
use std::io::Write;

/// Writes a clock, and the tank that makes it.
///
/// # Errors
///
/// If `out` fails.
pub fn write_rates(
    rates: &Rates,
    tank: Option<&TankReading>,
    out: &mut impl Write,
) -> std::io::Result<()> {
    write(&json!({ "format": FORMAT, "rates": of_rates(rates), "tank": tank.map(of_tank) }), out)
}

/// Writes what a heard tone tells.
///
/// # Errors
///
/// If `out` fails.
pub fn write_tone(heard: &Heard, rates: &Rates, out: &mut impl Write) -> std::io::Result<()> {
    let (clock_hz, doubt_hz) = heard.clock_hz();
    let report = json!({
        "format": FORMAT,
        "clock_hz": thousandth(clock_hz),
        "doubt_hz": thousandth(doubt_hz),
        "pitch_doubt_hz": thousandth(heard.doubt_hz()),
        "rates": of_rates(rates),
    });
    write(&report, out)
}

/// Writes the clocks that a bar tells of; none on batteries.
///
/// # Errors
///
/// If `out` fails.
pub fn write_beat(candidates: &[Candidate], out: &mut impl Write) -> std::io::Result<()> {
    let candidates: Vec<Value> = candidates
        .iter()
        .map(|one| {
            json!({
                "clock_hz": thousandth(one.clock_hz),
                "doubt_hz": thousandth(one.doubt_hz),
                "field_hz": thousandth(one.field_hz),
            })
        })
        .collect();
    write(&json!({ "format": FORMAT, "candidates": candidates }), out)
}

/// Writes the coils to choose from, the best first.
///
/// # Errors
///
/// If `out` fails.
pub fn write_choices(choices: &[Choice], out: &mut impl Write) -> std::io::Result<()> {
    let choices: Vec<Value> = choices
        .iter()
        .map(|choice| {
            json!({
                "coil_uh": thousandth(1e6 * choice.henries),
                "suits": match choice.suits {
                    Suits::WindowInMiddle => "lock window in the middle",
                    Suits::AimInMiddle => "clock in the middle",
                    Suits::AimInTravel => "clock near an end",
                    Suits::Perhaps => "with some strays",
                },
                "travel_least_strays": thousandth(choice.aim[0]),
                "travel_most_strays": thousandth(choice.aim[1]),
                "travel_lock_window": choice.window.map(thousandth),
                "reach_hz": of_window(choice.reach),
            })
        })
        .collect();
    write(&json!({ "format": FORMAT, "coils": choices }), out)
}

/// Two clocks; empty where no clock will do.
fn of_window(window: Window) -> Vec<f64> {
    if window.low_hz > window.high_hz {
        return Vec::new();
    }
    vec![thousandth(window.low_hz), thousandth(window.high_hz)]
}

fn of_rates(rates: &Rates) -> Value {
    let set = |windows: &Windows, verdict: &Verdict| {
        json!({
            "line_catch_hz": of_window(windows.catch),
            "line_hold_hz": of_window(windows.hold),
            "field_lock_hz": of_window(windows.field),
            "asks_hz": windows.asks.map(of_window),
            "word": verdict.words(),
        })
    };
    let sets = rates.sets.iter().map(|(kind, windows, verdict)| {
        let mut json = set(windows, verdict);
        json["kind"] = kind.name().into();
        json["source"] = kind.source().into();
        json
    });
    let sets: Vec<Value> = sets.collect();
    let own = rates.own.as_ref().map(|(windows, verdict)| set(windows, verdict));
    let tones: serde_json::Map<String, Value> = rates
        .tones
        .iter()
        .map(|pitch| (pitch.tone.name().to_owned(), thousandth(pitch.hertz).into()))
        .collect();
    let bar = match rates.bar {
        Bar::Stands => json!({ "moves": "not" }),
        Bar::Crawls { period_s, way } => {
            let way = if way == Way::Down { "down" } else { "up" };
            json!({ "moves": way, "period_s": thousandth(period_s) })
        }
    };
    json!({
        "clock_hz": thousandth(rates.clock_hz),
        "clocks_per_line": rates.counts.clocks_per_line,
        "lines_per_field": rates.counts.lines_per_field,
        "standard": rates.standard.name(),
        "line_hz": thousandth(rates.line_hz),
        "field_hz": thousandth(rates.field_hz),
        "error_to_625_percent": thousandth(100.0 * rates.errors[0]),
        "error_to_525_percent": thousandth(100.0 * rates.errors[1]),
        "sets": sets,
        "own_set": own,
        "tones_hz": tones,
        "mains_hz": rates.mains_hz,
        "hum_bar": bar,
        "bands": thousandth(rates.bands),
    })
}

fn of_tank(tank: &TankReading) -> Value {
    json!({
        "coil_uh": thousandth(1e6 * tank.henries),
        "capacitance_pf": thousandth(1e12 * tank.farads),
        "clock_hz": thousandth(tank.clock_hz),
        "aim_hz": thousandth(tank.aim_hz),
        "core_for_aim": tank.core_for_aim.map(thousandth),
        "reach_hz": tank.reach.map(of_window),
        "percent_per_pf": thousandth(100.0 * tank.per_picofarad),
        "probed_hz": tank.probed_hz.map(thousandth),
        "twenty_kelvin_warmer_hz": thousandth(tank.warm_hz),
    })
}
