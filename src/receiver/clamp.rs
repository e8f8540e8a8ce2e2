//! DC restoration: what the set takes for black.
//!
//! The level is set anew on every line that has a sync pulse, holds for the whole line, and holds
//! on through lines without one.

use crate::base::math;
use crate::receiver::slicer::Pulse;
use crate::receiver::slicer::mean;
use crate::receiver::slicer::mean_between;
use crate::receiver::spec::Clamp;
use crate::receiver::spec::ReceiverSpec;
use crate::receiver::sync::porch_window;
use crate::receiver::tape::Tape;
use crate::receiver::time_base::KEY_S;
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
fn black_levels(video: &[f32], step_s: f64, lines: &Lines, spec: &ReceiverSpec) -> Vec<f64> {
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

/// A waveform with each line's black taken off its samples; what comes before the first line goes
/// with it.
#[must_use]
pub fn restored(video: &[f32], step_s: f64, lines: &Lines, spec: &ReceiverSpec) -> Vec<f32> {
    let black = black_levels(video, step_s, lines, spec);
    let mut restored = Vec::with_capacity(video.len());
    let next_starts = lines.lines.iter().skip(1).map(|line| line.start_s);
    for (next_s, black_v) in next_starts.chain([f64::INFINITY]).zip(black) {
        let done = restored.len();
        let until = math::floor_index(math::ceil(next_s / step_s)).clamp(done, video.len());
        let black_v = math::to_f32(black_v);
        restored.extend(video[done..until].iter().map(|volts| volts - black_v));
    }
    restored
}

/// Black of one of the set's own lines, as its clamp finds it where it is keyed: at the line's
/// start and for as long as a nominal pulse and porch last, whatever is there. V; `None` where
/// nothing was received.
#[must_use]
pub fn own_black(tape: &Tape<'_>, start_s: f64, spec: &ReceiverSpec) -> Option<f64> {
    match spec.clamp {
        Clamp::None => Some(0.0),
        Clamp::BackPorch => {
            let key = Pulse { leading_s: Some(start_s), trailing_s: Some(start_s + KEY_S) };
            let (from_s, to_s) = porch_window(&key, spec)?;
            mean(&tape.between(from_s, to_s))
        }
        Clamp::SyncTip => {
            let line = tape.between(start_s, start_s + 1.0 / spec.line_hz);
            Some(lowest(&line, tape.step_s)? + DEPTH * spec.span_v)
        }
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
    lowest(video.get(first..after)?, step_s)
}

fn lowest(line: &[f32], step_s: f64) -> Option<f64> {
    let group = math::floor_index(TIP_S / step_s).max(1);
    line.chunks_exact(group).filter_map(mean).min_by(f64::total_cmp)
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
