//! Rows 28 to 31: ripple of the mains on what is shown and on where it stands.

use crate::gallery::Layout;
use crate::gallery::Shots;
use crate::gallery::shots;
use crate::gallery::told;
use backporch::base::math;

const BLACK: f64 = 0.001;
/// Columns of the frame in which nothing is drawn.
const GROUND: std::ops::Range<usize> = 250..560;
/// Share of a period in which the ripple rises.
const RISING: f64 = 0.2;

/// The ripple of a reservoir: up in a straight line for a fifth of its period, and down; −½ to ½.
fn ripple(turns: f64) -> f64 {
    let phase = turns - math::floor(turns);
    if phase < RISING { phase / RISING - 0.5 } else { 0.5 - (phase - RISING) / (1.0 - RISING) }
}

/// What was fitted to the shade of a frame.
struct Bar {
    /// Peak to peak, drive.
    height: f64,
    /// Where the ripple is in its period as the field starts, 0 to 1.
    phase: f64,
    /// Root mean square of what is left.
    rest: f64,
}

/// The shade of the rows, by line: where the field lines are not.
fn shade(shots: &Shots, field: usize) -> Vec<(f64, f64)> {
    let layout = Layout::of(&shots.scenario);
    let rows = shots.frames[field].row_drives(&GROUND, BLACK);
    let all = rows.iter().enumerate().map(|(row, drive)| (layout.line(row), *drive));
    // Field lines are drawn at 1 and above.
    all.filter(|(_, drive)| *drive < 0.9).collect()
}

/// The ripple of so many periods a line that fits best.
fn fit(shade: &[(f64, f64)], turns_per_line: f64) -> Bar {
    let count = math::from_usize(shade.len());
    let mean = shade.iter().map(|point| point.1).sum::<f64>() / count;
    let at_phase = |phase: f64| {
        let wave: Vec<f64> =
            shade.iter().map(|(line, _)| ripple(phase + line * turns_per_line)).collect();
        let middle = wave.iter().sum::<f64>() / count;
        let (mut both, mut square) = (0.0, 0.0);
        for (wave, (_, drive)) in wave.iter().zip(shade) {
            both += (wave - middle) * (drive - mean);
            square += (wave - middle) * (wave - middle);
        }
        let height = both / square;
        let off = |(wave, (_, drive)): (&f64, &(f64, f64))| {
            math::pow(drive - mean - height * (wave - middle), 2.0)
        };
        let rest = (wave.iter().zip(shade).map(off).sum::<f64>() / count).sqrt();
        Bar { height, phase, rest }
    };
    let near = |from: f64, step: f64| {
        let tries = (-200..200).map(|at| at_phase(from + step * f64::from(at)));
        let upright = tries.filter(|bar| bar.height > 0.0);
        upright.min_by(|a, b| a.rest.total_cmp(&b.rest)).unwrap()
    };
    near(near(0.5, 2.5e-3).phase, 2.5e-5)
}

/// By how many periods the ripple is later in the later of two frames, from −½ to ½, in one field.
fn later(first: &Bar, last: &Bar, fields: f64) -> f64 {
    let moved = last.phase - first.phase;
    (moved - math::round(moved)) / fields
}

/// 2 V of ripple through 1 k onto two resistors and 75 Ω (Millman), of a span of 700 mV.
fn height() -> f64 {
    let conductance = 1.0 / 75.0 + 1.0 / 428.571 + 2.0 / 1000.0;
    2.0 / 1000.0 / conductance / 0.7
}

#[test]
fn row_29_half_wave_ripple_makes_one_bar_that_comes_round_in_2_6_seconds() {
    let shots = shots("row29", &[], 13);
    let line_s = 128.0 / 2.012_16e6;
    let field_s = 312.0 * line_s;
    let bars: Vec<Bar> = [0, 12].map(|field| fit(&shade(&shots, field), 50.0 * line_s)).into();
    told("29", "height of the bar, share of the span", [height(), bars[0].height, 0.02 * height()]);
    let two = fit(&shade(&shots, 0), 100.0 * line_s);
    assert!(bars[0].rest < 0.1 * two.rest, "one bar, not two: {} {}", bars[0].rest, two.rest);
    // The mains are at an earlier point in every field: the bar goes down.
    let per_field = later(&bars[0], &bars[1], 12.0);
    assert!(per_field < 0.0, "{per_field}");
    let seconds = field_s / per_field.abs();
    told("29", "time to come round, s", [1.0 / (1.0 / field_s - 50.0), seconds, 0.05]);
    assert!((seconds - 2.6).abs() < 0.05, "printed 2.6 s (computed independently): {seconds}");
}

#[test]
fn row_30_full_wave_ripple_makes_two_bars() {
    let shots = shots("row30", &[], 13);
    let line_s = 128.0 / 2.012_16e6;
    let bars: Vec<Bar> = [0, 12].map(|field| fit(&shade(&shots, field), 100.0 * line_s)).into();
    told(
        "30",
        "height of the bars, share of the span",
        [height(), bars[0].height, 0.02 * height()],
    );
    let one = fit(&shade(&shots, 0), 50.0 * line_s);
    assert!(bars[0].rest < 0.1 * one.rest, "two bars, not one: {} {}", bars[0].rest, one.rest);
    // Each of them comes round in the same time: twice as many periods, twice as fast.
    let seconds = 312.0 * line_s / (0.5 * later(&bars[0], &bars[1], 12.0).abs());
    told("30", "time to come round, s", [1.0 / (2.012_16e6 / 39_936.0 - 50.0), seconds, 0.05]);
}

#[test]
fn row_31_at_60_fields_on_mains_of_60_the_bar_stands() {
    let shots = shots("row31", &[], 7);
    let line_s = 128.0 / 2.012_16e6;
    let bars: Vec<Bar> = [0, 6].map(|field| fit(&shade(&shots, field), 60.0 * line_s)).into();
    told("31", "height of the bar, share of the span", [height(), bars[0].height, 0.02 * height()]);
    let lines = 262.0 * later(&bars[0], &bars[1], 6.0);
    told("31", "crawl, lines a field", [0.0, lines, 0.02]);
}

/// An edge that falls from V with a time constant τ passes half of what V is on the whole
/// τ ln(V / V₀) later; the set's lines follow, and what they show moves to the left.
#[test]
fn row_28_ripple_on_slow_sync_makes_the_sides_wavy() {
    let shots = shots("row28", &[], 1);
    let layout = Layout::of(&shots.scenario);
    let tau_s = 10e3 * 100e-12;
    let moved = |line: f64| {
        let volts = 5.0 + ripple(100.0 * line * 64e-6);
        -tau_s * math::ln(volts / 5.0) * layout.columns_per_s
    };
    let lines: Vec<f64> = (54..278).map(f64::from).collect();
    let mark = |line: &f64| shots.frames[0].mark(layout.row(*line), 90..190).unwrap();
    let found: Vec<f64> = lines.iter().map(mark).collect();
    let computed: Vec<f64> = lines.iter().map(|line| moved(*line)).collect();
    let middle = |all: &[f64]| all.iter().sum::<f64>() / math::from_usize(all.len());
    let (zero, shift) = (middle(&found), middle(&computed));
    let off = found.iter().zip(&computed).map(|(a, b)| (a - zero - (b - shift)).abs());
    let worst = off.fold(0.0, f64::max);
    let swing = |all: &[f64]| {
        all.iter().copied().fold(f64::NEG_INFINITY, f64::max)
            - all.iter().copied().fold(f64::INFINITY, f64::min)
    };
    // The loop, 1 kHz, rounds the corners off.
    told("28", "swing of the wall, columns", [swing(&computed), swing(&found), 0.35]);
    told("28", "worst of its 224 lines off the wave, columns", [0.0, worst, 0.35]);
    // Two periods a field: least after 158 lines, where the second begins.
    let turn = (100..200).max_by(|a, b| found[*a].total_cmp(&found[*b])).unwrap();
    told("28", "line in which the second wave begins", [10e-3 / 64e-6, lines[turn], 8.0]);
}
