//! Rows 19 to 21: tails, soft edges, and what is too narrow for them.

use crate::gallery::Layout;
use crate::gallery::reader::line_through;
use crate::gallery::reader::passes;
use crate::gallery::shots;
use crate::gallery::told;
use backporch::base::math;

/// Black over white of the tubes here, as a kind of set has it.
const BLACK: f64 = 0.001;

/// A capacitor that only a resistor empties: an exponential, whose logarithm falls in a straight line.
#[test]
fn row_19_a_ball_on_a_bus_without_a_pull_down_has_a_tail_as_long_as_its_time_constant() {
    let shots = shots("row19", &[], 1);
    let layout = Layout::of(&shots.scenario);
    let drives = shots.frames[0].drives(layout.row(195.0), BLACK);
    let ground = drives[700];
    // The wall stands left of it.
    let mut lit: Vec<f64> = drives.iter().map(|drive| drive - ground).collect();
    lit[..250].fill(0.0);
    let peak = lit.iter().copied().fold(0.0, f64::max);
    let top = lit.iter().position(|drive| *drive >= peak - 1e-9).unwrap();
    let tail: Vec<(f64, f64)> = (top..lit.len())
        .filter(|at| (0.1 * peak..0.8 * peak).contains(&lit[*at]))
        .map(|at| (math::from_usize(at), math::ln(lit[at])))
        .collect();
    let found_us = -1e6 / (line_through(&tail).1 * layout.columns_per_s);
    // 22 k, 97 pF and the 3 pF of strays that every node has.
    let computed_us = 1e6 * 22e3 * 100e-12;
    told("19", "time constant of the tail, µs", [computed_us, found_us, 0.02 * computed_us]);
    // To the right only: the left edge is the chip's own, far faster.
    let rise =
        passes(&lit, 0.1 * peak, 0..top).unwrap() - passes(&lit, 0.9 * peak, 0..top).unwrap();
    assert!(rise.abs() < 0.1 * found_us * 1e-6 * layout.columns_per_s, "{rise} columns");
}

/// RC: 10 to 90 % in ln 9 time constants, and 1 − exp(−w/RC) of its level in a width w.
#[test]
fn rows_20_and_21_soft_edges_leave_narrow_marks_dimmer() {
    let shots = shots("row20", &[], 1);
    let layout = Layout::of(&shots.scenario);
    let at_line = |line: f64| shots.frames[0].drives(layout.row(line), BLACK);
    let tau_s = 10e3 * 100e-12;
    let wide = at_line(80.0);
    let full = wide[500];
    assert!((full - 1.0).abs() < 0.01, "{full}");
    let edge = |share: f64, range| passes(&wide, share * full, range).unwrap();
    let us = 1e6 / layout.columns_per_s;
    let computed = 1e6 * 2.197_225 * tau_s;
    let rise = us * (edge(0.9, 100..400) - edge(0.1, 100..400));
    told("20", "rise at the left side, 10 to 90 %, µs", [computed, rise, 0.02 * computed]);
    let fall = us * (edge(0.1, 560..760) - edge(0.9, 560..760));
    told("20", "fall at the right side, µs", [computed, fall, 0.02 * computed]);
    for (clocks, line) in [(1.0, 140.0), (2.0, 200.0), (4.0, 260.0)] {
        let peak = at_line(line).iter().copied().fold(0.0, f64::max) / full;
        let computed = -math::expm1(-clocks * 0.5e-6 / tau_s);
        // The set's 8 MHz and columns of 68 ns round the point off.
        told("21", &format!("peak of {clocks} clocks"), [computed, peak, 0.03]);
    }
}
