//! The controller map as JSON for other programs.

use crate::analysis::knob::KnobMap;
use crate::analysis::knob::Restless;
use crate::analysis::knob::buy::Choice;
use crate::analysis::knob::buy::Cover;
use crate::base::math;
use crate::output::json::FORMAT;
use crate::output::json::thousandth;
use crate::output::json::write;
use serde::Serialize;
use std::io::Write;

/// Writes the map, indented, with a line end.
///
/// # Errors
///
/// If `out` fails.
pub fn write_knob(
    map: &KnobMap,
    own: &Choice,
    choices: &[Choice],
    out: &mut impl Write,
) -> std::io::Result<()> {
    write(&KnobReport::new(map, own, choices), out)
}

/// The map.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct KnobReport {
    /// [`FORMAT`].
    pub format: u32,
    /// "left" or "right".
    pub player: &'static str,
    /// Time of a line, µs.
    pub line_us: f64,
    /// Lines in a field.
    pub lines: u32,
    /// First lines that the paddle should reach: highest and lowest.
    pub wanted: [f64; 2],
    /// Height of the paddle, lines.
    pub paddle_lines: u32,
    /// From stop to stop.
    pub points: Vec<PointReport>,
    /// Degrees wasted at the top.
    pub above_deg: f64,
    /// Degrees that move the paddle where it is wanted.
    pub wanted_deg: f64,
    /// Degrees wasted at the bottom.
    pub below_deg: f64,
    /// Degrees dead at each end.
    pub dead_deg: f64,
    /// Degrees for a paddle's height at the highest, the middle and the lowest wanted line; null
    /// where the knob does not get.
    pub paddle_deg: [Option<f64>; 3],
    /// What moves it at half turn; null if the threshold is not passed there.
    pub half_turn: Option<RestlessReport>,
    /// What moves it where the ramp is longest; null if the threshold is not passed there.
    pub full_turn: Option<RestlessReport>,
    /// Line at half turn by supply.
    pub supplies: Vec<SupplyReport>,
    /// Lowest line with this potentiometer, and with one 5 % smaller; null below the field.
    pub lowest: [Option<f64>; 2],
    /// Lines that the other knob moves this paddle by.
    pub other_lines: Option<f64>,
    /// The parts that are fitted.
    pub fitted: ChoiceReport,
    /// Parts to buy, the best first.
    pub choices: Vec<ChoiceReport>,
}

/// The knob in one place.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PointReport {
    /// Share of the rotation.
    pub knob: f64,
    /// Angle, degrees.
    pub angle_deg: f64,
    /// Resistance of the track, Ω.
    pub track_ohm: f64,
    /// Line; null if it is not drawn.
    pub line: Option<f64>,
    /// Wobble to either side, lines.
    pub wobble_lines: Option<f64>,
}

/// What moves the paddle at rest.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RestlessReport {
    /// Slope at the threshold, V/s.
    pub slope_v_per_s: f64,
    /// The same for a line, mV.
    pub mv_per_line: f64,
    /// Peak of the hum, lines.
    pub hum_lines: f64,
    /// Deviation of the standing noise, lines.
    pub standing_lines: f64,
    /// One per cent of the track, lines.
    pub percent_lines: f64,
    /// A spike of mean height, lines.
    pub spike_lines: f64,
}

/// A supply and the line it gives at half turn.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SupplyReport {
    /// V.
    pub supply_v: f64,
    /// Line; null if it is not drawn.
    pub line: Option<f64>,
}

/// A pair of parts.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ChoiceReport {
    /// Potentiometer, Ω.
    pub potentiometer_ohm: f64,
    /// Capacitor, nF.
    pub capacitor_nf: f64,
    /// "always", "as printed" or "short".
    pub reaches: &'static str,
    /// Highest line with large specimens.
    pub highest: Option<f64>,
    /// Lowest line with small specimens; null below the field.
    pub lowest: Option<f64>,
    /// Degrees that the wanted lines take.
    pub wanted_deg: f64,
    /// Degrees for a paddle's height.
    pub paddle_deg: Option<f64>,
}

impl KnobReport {
    fn new(map: &KnobMap, own: &Choice, choices: &[Choice]) -> Self {
        let rotation = map.controller.track.rotation_deg;
        let line = |line: Option<f64>| line.map(thousandth);
        let points = map.points.iter().map(|point| PointReport {
            knob: point.knob,
            angle_deg: thousandth(point.knob * rotation),
            track_ohm: thousandth(point.track_ohms),
            line: line(point.line),
            wobble_lines: line(point.wobble),
        });
        let supplies = map.supplies.iter();
        let supplies = supplies.map(|&(supply_v, at)| SupplyReport { supply_v, line: line(at) });
        Self {
            format: FORMAT,
            player: ["left", "right"][map.side],
            line_us: thousandth(1e6 / map.timing.line_hz()),
            lines: map.timing.lines_per_field,
            wanted: [map.wanted.start, map.wanted.end],
            paddle_lines: map.paddle_lines,
            points: points.collect(),
            above_deg: thousandth(map.turn.above_deg),
            wanted_deg: thousandth(map.turn.wanted_deg),
            below_deg: thousandth(map.turn.below_deg),
            dead_deg: thousandth(map.turn.dead_deg),
            paddle_deg: map.turn.paddle_deg.map(line),
            half_turn: map.restless[0].map(restless),
            full_turn: map.restless[1].map(restless),
            supplies: supplies.collect(),
            lowest: map.lowest.map(line),
            other_lines: line(map.other_lines),
            fitted: choice(own),
            choices: choices.iter().map(choice).collect(),
        }
    }
}

fn restless(one: Restless) -> RestlessReport {
    RestlessReport {
        slope_v_per_s: thousandth(one.slope),
        mv_per_line: thousandth(1e3 * one.volts_per_line),
        hum_lines: thousandth(one.hum_lines),
        standing_lines: thousandth(one.standing_lines),
        percent_lines: thousandth(one.percent_lines),
        spike_lines: thousandth(one.spike_lines),
    }
}

fn choice(one: &Choice) -> ChoiceReport {
    ChoiceReport {
        potentiometer_ohm: math::round(one.track_ohms),
        capacitor_nf: thousandth(1e9 * one.farads),
        reaches: match one.cover {
            Cover::Always => "always",
            Cover::Nominal => "as printed",
            Cover::Short => "short",
        },
        highest: one.highest.map(thousandth),
        lowest: one.lowest.map(thousandth),
        wanted_deg: thousandth(one.wanted_deg),
        paddle_deg: one.paddle_deg.map(thousandth),
    }
}
