//! DC restoration: what the set takes for black.
//!
//! The level is set anew on every line that has a sync pulse, holds for the whole line, and holds
//! on through lines without one.

use crate::base::math;
use crate::receiver::slicer::mean_between;
use crate::receiver::spec::Clamp;
use crate::receiver::spec::ReceiverSpec;
use crate::receiver::sync::porch_window;
use crate::receiver::time_base::Line;
use crate::receiver::time_base::Lines;

/// Sync depth as a share of the span from black to white.
///
/// # Source
///
/// ITU-R BT.470, systems B, G and I: 300 mV of sync to 700 mV of picture.
const DEPTH: f64 = 3.0 / 7.0;

/// A tip clamp's diode follows what lasts this long, s.
const TIP_S: f64 = 1e-6;

/// Black for each line, V in `video`.
#[must_use]
pub fn black_levels(video: &[f32], step_s: f64, lines: &Lines, spec: &ReceiverSpec) -> Vec<f64> {
    let measured: Vec<Option<f64>> = match spec.clamp {
        Clamp::None => return vec![0.0; lines.lines.len()],
        Clamp::BackPorch => {
            lines.lines.iter().map(|line| porch(video, step_s, line, spec)).collect()
        }
        Clamp::SyncTip => {
            let black =
                |line| Some(tip(video, step_s, line, lines.period_s)? + DEPTH * spec.span_v);
            lines.lines.iter().map(black).collect()
        }
    };
    held(&measured)
}

/// Takes each line's black off its samples; what comes before the first line goes with it.
pub fn restore(video: &mut [f32], step_s: f64, lines: &Lines, black: &[f64]) {
    let mut rest = video;
    let mut done = 0;
    let next_starts = lines.lines.iter().skip(1).map(|line| line.start_s);
    for (next_s, &black_v) in next_starts.chain([f64::INFINITY]).zip(black) {
        let until = math::floor_index(math::ceil(next_s / step_s));
        let length = until.saturating_sub(done).min(rest.len());
        let (line, after) = rest.split_at_mut(length);
        let black_v = math::to_f32(black_v);
        line.iter_mut().for_each(|volts| *volts -= black_v);
        rest = after;
        done += length;
    }
}

fn porch(video: &[f32], step_s: f64, line: &Line, spec: &ReceiverSpec) -> Option<f64> {
    let (from_s, to_s) = porch_window(line.key.as_ref()?, spec)?;
    mean_between(video, step_s, from_s, to_s)
}

/// The lowest level that lasts, over the line.
fn tip(video: &[f32], step_s: f64, line: &Line, period_s: f64) -> Option<f64> {
    line.key?;
    let first = math::floor_index(line.start_s / step_s);
    let after = math::floor_index((line.start_s + period_s) / step_s).min(video.len());
    let group = math::floor_index(TIP_S / step_s).max(1);
    let means = video.get(first..after)?.chunks_exact(group).map(|samples| {
        samples.iter().map(|&v| f64::from(v)).sum::<f64>() / math::from_usize(group)
    });
    means.min_by(f64::total_cmp)
}

/// Fills lines without a measurement from the line before, and the first ones from the first
/// measured; 0 V if there is none at all.
fn held(measured: &[Option<f64>]) -> Vec<f64> {
    let mut now = measured.iter().copied().flatten().next().unwrap_or(0.0);
    measured
        .iter()
        .map(|level| {
            now = level.unwrap_or(now);
            now
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn black_is_held_through_lines_without_a_pulse() {
        let held = held(&[None, Some(0.2), None, Some(0.3)]);
        assert_eq!(held, [0.2, 0.2, 0.2, 0.3]);
    }
}
