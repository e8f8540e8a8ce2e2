//! To which line rates a line oscillator pulls in, found by letting it try.

use crate::receiver::line_oscillator::LineLoop;
use crate::receiver::line_oscillator::LineOscillator;
use crate::receiver::lock;
use crate::receiver::lock::TORN_LINES;
use crate::receiver::set::FIELDS;

/// Lines of a trial field, as the class has them at 50 Hz: class data sheets.
const LINES: u32 = 312;
/// Halvings of the range that holds.
const HALVINGS: u32 = 12;

/// The lowest and the highest line rate that an oscillator which would run at `free_hz` pulls in to,
/// Hz: pulses without a break, from where a set that is switched on begins, in the time that a set is
/// given to settle. To 1/4096 of its hold.
#[must_use]
pub fn catch_hz(free_hz: f64, spec: &LineLoop) -> (f64, f64) {
    let edge = |side: f64| {
        let (mut caught, mut missed) = (0.0, spec.hold());
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(caught, missed);
            if catches(free_hz, spec, free_hz * (1.0 + side * middle)) {
                caught = middle;
            } else {
                missed = middle;
            }
        }
        free_hz * (1.0 + side * caught)
    };
    (edge(-1.0), edge(1.0))
}

fn catches(free_hz: f64, spec: &LineLoop, sent_hz: f64) -> bool {
    let period_s = 1.0 / sent_hz;
    let edges_s: Vec<f64> = (0..LINES).map(|line| f64::from(line) * period_s).collect();
    let duration_s = f64::from(LINES) * period_s;
    let mut oscillator = LineOscillator::new(free_hz, spec);
    let mut starts_s = Vec::new();
    for _ in 0..FIELDS {
        let before = oscillator.clone();
        starts_s = oscillator.advance(&edges_s, duration_s);
        if oscillator.is_like(&before) {
            break;
        }
    }
    lock::slips(&starts_s, &edges_s, period_s) <= TORN_LINES
}
