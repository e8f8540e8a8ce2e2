//! Rows 12, 13, 50, 58 to 60, 63 and 70: how bright things are, and what the carrier says.

use crate::gallery::Layout;
use crate::gallery::Shots;
use crate::gallery::reader::tube_drive;
use crate::gallery::shots;
use crate::gallery::shots_of;
use crate::gallery::told;
use crate::published::one_fault;
use backporch::analysis::modulation::modulation;
use backporch::base::math;
use std::ops::Range;

const BLACK: f64 = 0.001;
/// What white is above black, and sync below, V.
const SPAN_V: f64 = 0.7;
const SYNC_V: f64 = 0.3;

impl Shots {
    /// Drive of a place in the first frame: lines and columns.
    fn drive(&self, lines: Range<u32>, columns: Range<usize>) -> f64 {
        let layout = Layout::of(&self.scenario);
        let rows = layout.row(f64::from(lines.start))..layout.row(f64::from(lines.end));
        tube_drive(self.frames[0].light(rows, columns), BLACK)
    }

    /// Of the top field line of the built-in games, and of their ground between net and score.
    fn white(&self) -> f64 {
        self.drive(49..51, 200..560)
    }

    fn ground(&self) -> f64 {
        self.drive(200..260, 430..600)
    }
}

/// A row of the printed table of single faults, V: depth, field line and left player over black.
fn printed(fault: &str) -> [f64; 3] {
    let row = one_fault(fault);
    [row[2], row[3], row[6]].map(|millivolts| 1e-3 * millivolts)
}

/// A set that holds the tip takes 300 mV above it for black; all else is what is left.
#[test]
fn row_12_without_a_termination_black_is_grey() {
    let shots = shots("row12", &[], 1);
    let [depth_v, field_v, _] = printed("no termination (1 M)");
    let ground = (depth_v - SYNC_V) / SPAN_V;
    told("12", "ground, drive", [ground, shots.ground(), 0.006]);
    let white = (depth_v + field_v - SYNC_V) / SPAN_V;
    told("12", "field line, drive", [white, shots.white(), 0.01]);
}

/// A = (0.8 V − v) / 0.8 V, nothing below; behind the tuner 300 mV are the quarter of the carrier
/// between tip and blanking (ITU-R BT.470), so that nothing can be above 1.2 V.
#[test]
fn row_13_overmodulation_is_milky_and_white_has_a_ceiling() {
    let shots = shots("row13", &[], 1);
    let carrier = modulation(&shots.scenario).unwrap().unwrap();
    let drive = |volts: f64| {
        let left = ((0.8 - volts) / 0.8).max(0.0);
        (SYNC_V / 0.25 * (1.0 - left) - SYNC_V) / SPAN_V
    };
    told("13", "ground, drive", [drive(carrier.black.volts), shots.ground(), 0.01]);
    assert!(carrier.white.volts > 0.8 && shots.ground() > 0.3);
    let ceiling = (SYNC_V / 0.25 - SYNC_V) / SPAN_V;
    told("13", "field line, drive: the ceiling", [ceiling, shots.white(), 0.015]);
}

/// The printed rows of the one-fault table; a supply that sags takes white and sync along.
#[test]
fn row_50_an_old_battery_dims_the_picture_and_then_nothing_holds_it() {
    for (row, fault) in [
        ("row50", "gate rail 4.0 V (regulator dropping out), VH 4.4"),
        ("row50b", "weak battery: rail 3.3 V, VH 3.0"),
    ] {
        let shots = shots(row, &[], 1);
        let [depth_v, field_v, left_v] = printed(fault);
        told(
            "50",
            "field line over ground, drive",
            [field_v / SPAN_V, shots.white() - shots.ground(), 0.008],
        );
        let left = shots.drive(120..150, 115..127) - shots.ground();
        told("50", "left player over ground, drive", [left_v / SPAN_V, left, 0.008]);
        let sync = shots.fields[0].reception.sync.unwrap();
        told("50", "sync depth, V", [depth_v, sync.porch_v - sync.tip_v, 0.001]);
    }
    // At 2.9 V less than 50 mV of sync are left, the least that a deflection processor of the 1980s
    // takes (maker's data): the picture has no place.
    let lost = shots("row50b", &["V2=2.9 V", "chip.pin.sync.high_volts=2.6"], 1);
    assert_eq!(lost.fields[0].reception.sync, None);
    let net = lost.frames[0].marks(40..540, &(0..768));
    let spread =
        net.iter().flatten().fold((1e9_f64, 0.0_f64), |all, x| (all.0.min(*x), all.1.max(*x)));
    assert!(spread.1 - spread.0 > 300.0, "{spread:?}");
}

#[test]
fn row_58_a_second_set_takes_a_third_of_everything() {
    let plain = shots_of("scenarios/table-follower.toml", "row58-plain", &[], 1);
    let shots = shots("row58", &[], 1);
    let [_, field_v, left_v] = printed("two terminations (37.5)");
    told(
        "58",
        "field line over ground, drive",
        [field_v / SPAN_V, shots.white() - shots.ground(), 0.006],
    );
    let left = shots.drive(120..150, 115..127) - shots.ground();
    told("58", "left player over ground, drive", [left_v / SPAN_V, left, 0.006]);
    let share = (shots.white() - shots.ground()) / (plain.white() - plain.ground());
    told("58", "of what it was", [461.0 / 695.0, share, 0.004]);
}

/// What 100 µF hold where half a line is lit in the lines 60 to 269 of 312, V: they follow the mean of
/// each line with a time constant of 150 Ω times that, field after field.
fn held_v(tau_s: f64) -> Vec<f64> {
    let share = -math::expm1(-64e-6 / tau_s);
    let mean_v = |line: u32| {
        let sync = if line < 4 { 119.0 } else { 9.0 };
        let lit = if (60..270).contains(&line) { 60.0 } else { 0.0 };
        (SPAN_V * lit - SYNC_V * sync) / 128.0
    };
    let mut held_v = 0.0;
    let lines = (0..50).flat_map(|_| 0..312).map(|line| {
        held_v += share * (mean_v(line) - held_v);
        held_v
    });
    lines.collect::<Vec<f64>>().split_off(49 * 312)
}

/// Through C all that is lit for long falls towards the mean, exponentially: of three heights the same
/// time apart the differences are in the ratio exp(t / RC).
#[test]
fn row_59_a_small_coupling_capacitor_shades_from_top_to_bottom() {
    const TAU_S: f64 = 150.0 * 100e-6;
    let shots = shots("row59", &[], 1);
    let band = |line: u32| shots.drive(line..line + 4, 200..500);
    let [upper, middle, lower] = [70, 165, 260].map(band);
    let tau_s = 95.0 * 64e-6 / math::ln((upper - middle) / (middle - lower));
    told("59", "time constant of the shade, ms", [1e3 * TAU_S, 1e3 * tau_s, 0.2]);
    // 73.64 % in 20 ms through 150 Ω (handbook formula, computed independently).
    told("59", "lost in a field of 20 ms, share", [0.7364, -math::expm1(-20e-3 / tau_s), 0.005]);
    let held_v = held_v(TAU_S);
    let shade = (held_v[261] - held_v[71]) / SPAN_V;
    told("59", "from line 72 to 262 darker by, drive", [shade, upper - lower, 0.003]);
}

/// Behind a capacitor the mean is nothing: black stands below by what the picture is above it.
#[test]
fn row_60_brightness_moves_by_what_the_mean_moves() {
    let more = "chip.pattern.white.active=[{lines=[60,260],clocks=[40,100]}]";
    let (dark, light) = (shots("row60", &[], 1), shots("row60", &[more], 1));
    // Clocks that are lit, of 128 times 312.
    let lit = |clocks: f64| clocks / (128.0 * 312.0);
    let marks = lit(2.0 * 4.0 * 78.0 + 228.0 * 2.0 + 48.0 * 2.0);
    let moves = lit(200.0 * 60.0) - marks;
    let ground = |shots: &Shots| {
        let middle = |lines| shots.drive(lines, 680..750);
        // The tilt of 1 Hz is straight; above, in and below the block.
        [60, 160, 250].map(|line| middle(line..line + 6)).iter().sum::<f64>() / 3.0
    };
    let found = ground(&dark) - ground(&light);
    told("60", "ground darker by, drive", [moves, found, 0.01]);
}

#[test]
fn row_63_a_porch_at_the_tip_takes_the_grey_and_leaves_the_white() {
    let grey = |shots: &Shots| shots.drive(130..160, 290..345);
    let tip = shots("row63", &[], 1);
    // 60 mV of sync, grey 200 mV and white 700 mV above black; black is looked for at 300 mV.
    let white = (0.06 + 0.7 - SYNC_V) / SPAN_V;
    told("63", "field line, drive", [white, tip.drive(49..51, 200..560), 0.006]);
    told("63", "grey over ground, drive", [0.0, grey(&tip) - tip.drive(200..260, 430..560), 0.004]);
    // The same on a set that looks for the porch.
    let porch = shots("row63", &["receiver.clamp=back-porch"], 1);
    let found = grey(&porch) - porch.drive(200..260, 430..560);
    told("63", "the same with a keyed clamp", [0.2 / SPAN_V, found, 0.006]);
}

/// Where white leaves less than 5 % of the carrier the sound has nothing to beat with (receiver theory,
/// from memory): half a line of 200 lines without any carrier, p of the time, is √(p − p²) of the beat.
/// Counted from the samples behind the detector, where edges ring for a while, and not from standing levels.
#[test]
fn row_70_crushed_white_buzzes_at_the_field_rate() {
    let buzz = |path: &str, row: &str| {
        let shots = shots_of(path, row, &["modulator.noise_figure=none"], 1);
        let samples = &shots.fields[0].traces[0].volts;
        let missing = samples.iter().map(|&volts| {
            let carrier = 1.0 - f64::from(volts) / (SYNC_V / 0.25);
            (1.0 - carrier / 0.05).clamp(0.0, 1.0)
        });
        let missing: Vec<f64> = missing.collect();
        let count = math::from_usize(missing.len());
        let mean = missing.iter().sum::<f64>() / count;
        let square = missing.iter().map(|share| share * share).sum::<f64>() / count;
        let said = modulation(&shots.scenario).unwrap().unwrap().buzz;
        (said, 10.0 * math::log10(square - mean * mean))
    };
    let share = 200.0 * 60.0 / (312.0 * 128.0);
    let computed_db = 10.0 * math::log10(share - share * share);
    let (said, found_db) = buzz("tests/gallery/row70.toml", "row70");
    told("70", "buzz against the whole beat, from the samples, dB", [computed_db, found_db, 0.3]);
    told("70", "buzz as the program tells it, dB", [computed_db, said.level_db, 0.02]);
    let (quiet, found_db) = buzz("scenarios/pub-quieter.toml", "row70-quieter");
    assert!(!quiet.is_heard() && found_db < -60.0, "{quiet:?} {found_db}");
}
