//! A pulse's edges from node to node, in time.

use crate::base::math;
use crate::signal::trace::Trace;
use std::ops::Range;

/// One edge of a pulse at a node.
#[derive(Clone, Debug, PartialEq)]
pub struct Edge {
    /// From the chip's own edge to half of the pulse, s.
    pub delay_s: f64,
    /// 10–90 %, s.
    pub time_s: f64,
    /// How far the pulse goes beyond its settled level, or below its black after it, as a share of
    /// its height; 0 or more.
    pub overshoot: f64,
    /// How much noise there moves the edge, rms, s: noise over slope.
    pub jitter_s: f64,
    /// Which transistor keeps it waiting, and how long.
    pub waits: Vec<Wait>,
}

/// A transistor that does nothing while its input has moved already.
#[derive(Clone, Debug, PartialEq)]
pub struct Wait {
    /// The transistor.
    pub part: String,
    /// Why.
    pub state: Idle,
    /// How long within the edge's delay, s.
    pub time_s: f64,
}

/// Why a transistor does nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Idle {
    /// Base and emitter are too close: no current.
    CutOff,
    /// The collector junction conducts too: charge has to leave first.
    Stored,
}

impl Idle {
    /// The words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::CutOff => "cut off",
            Self::Stored => "saturated",
        }
    }
}

/// Where a pulse lies on a trace, s.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Place {
    /// From the chip's edge that lights the element to the one that puts it out.
    pub(super) lit: Range<f64>,
    /// What is seen of it: nothing else is lit in this time.
    pub(super) seen: Range<f64>,
    /// One clock.
    pub(super) clock_s: f64,
}

/// A pulse as it is at one node.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Height {
    pub(super) black_v: f64,
    /// Settled, or at its peak where it is narrow.
    pub(super) lit_v: f64,
}

/// A pulse of less has no edges, V: the solver's own error is not far below.
pub(super) const LEAST_V: f64 = 1e-3;
/// Pulses at least this wide settle, clocks.
const WIDE: f64 = 4.0;

/// The volts at a time, between two samples by a straight line.
fn at(trace: &Trace, time_s: f64) -> f64 {
    let place = (time_s / trace.step_s()).max(0.0);
    let index = math::floor_index(place).min(trace.volts.len().saturating_sub(2));
    let [from, to] = [0, 1].map(|next| f64::from(trace.volts[index + next]));
    from + (to - from) * (place - math::from_usize(index)).min(1.0)
}

/// The samples of a stretch of time.
pub(super) fn samples<'t>(trace: &'t Trace, time: &Range<f64>) -> &'t [f32] {
    let index = |time_s: f64| math::floor_index((time_s / trace.step_s()).max(0.0));
    let stop = index(time.end).min(trace.volts.len());
    trace.volts.get(index(time.start).min(stop)..stop).unwrap_or_default()
}

fn mean(volts: &[f32]) -> Option<f64> {
    let sum: f64 = volts.iter().map(|&v| f64::from(v)).sum();
    (!volts.is_empty()).then(|| sum / math::from_usize(volts.len()))
}

/// How high the pulse stands at a node; `None` if it amounts to nothing there.
pub(super) fn height(trace: &Trace, place: &Place) -> Option<Height> {
    let Place { lit, clock_s, .. } = place;
    let black_v = mean(samples(trace, &(lit.start - clock_s..lit.start)))?;
    let width_s = lit.end - lit.start;
    let lit_v = if width_s >= WIDE * clock_s {
        mean(samples(trace, &(lit.end - 0.2 * width_s..lit.end)))?
    } else {
        let peak = samples(trace, &(lit.start..lit.end + clock_s)).iter().map(|&v| f64::from(v));
        peak.max_by(|a, b| (a - black_v).abs().total_cmp(&(b - black_v).abs()))?
    };
    ((lit_v - black_v).abs() >= LEAST_V).then_some(Height { black_v, lit_v })
}

/// A pulse's share of its height over a stretch of time that begins with one of its edges.
struct Shares<'t> {
    trace: &'t Trace,
    height: Height,
    time: Range<f64>,
    /// Whether the edge leads to black.
    falls: bool,
}

impl Shares<'_> {
    /// 0 before the edge, 1 after it.
    fn share(&self, time_s: f64) -> f64 {
        let Height { black_v, lit_v } = self.height;
        let share = (at(self.trace, time_s) - black_v) / (lit_v - black_v);
        if self.falls { 1.0 - share } else { share }
    }

    fn times(&self) -> impl Iterator<Item = f64> + '_ {
        let step_s = self.trace.step_s();
        let count = math::floor_index(((self.time.end - self.time.start) / step_s).max(0.0));
        (0..count).map(move |index| self.time.start + math::from_usize(index) * step_s)
    }

    /// The first time at which a share is reached.
    fn reaches(&self, share: f64) -> Option<f64> {
        let step_s = self.trace.step_s();
        let after = self.times().find(|&time_s| self.share(time_s) >= share)?;
        let (from, to) = (self.share(after - step_s), self.share(after));
        let within = if to > from { ((share - from) / (to - from)).clamp(0.0, 1.0) } else { 1.0 };
        Some(after - (1.0 - within) * step_s)
    }
}

/// The edge that lights the element, or the one that puts it out, at a node where `noise_v` rms is
/// added; without its waits. `None` if it does not come to its end within what is seen.
pub(super) fn edge(
    trace: &Trace,
    place: &Place,
    height: Height,
    falls: bool,
    noise_v: f64,
) -> Option<Edge> {
    let Place { lit, seen, clock_s } = place;
    let start_s = if falls { lit.end } else { lit.start };
    let end_s = if falls { seen.end } else { lit.end + clock_s };
    let shares = Shares { trace, height, time: start_s..end_s, falls };
    let [tenth, half, most] = [0.1, 0.5, 0.9].map(|share| shares.reaches(share));
    let (tenth, half, most) = (tenth?, half?, most?);
    let beyond = |time_s: f64| time_s < if falls { seen.end } else { lit.end };
    let peak = shares.times().filter(|&time_s| beyond(time_s)).map(|time_s| shares.share(time_s));
    let size_v = (height.lit_v - height.black_v).abs();
    let slope = size_v * 0.2 / (shares.reaches(0.6)? - shares.reaches(0.4)?).max(1e-15);
    Some(Edge {
        delay_s: half - start_s,
        time_s: most - tenth,
        overshoot: peak.fold(1.0, f64::max) - 1.0,
        jitter_s: noise_v / slope,
        waits: Vec::new(),
    })
}

/// Time in a stretch during which something holds at the samples of a trace, s.
pub(super) fn time_of(trace: &Trace, time: &Range<f64>, mut holds: impl FnMut(f64) -> bool) -> f64 {
    let step_s = trace.step_s();
    let count = math::floor_index(((time.end - time.start) / step_s).max(0.0));
    let held = (0..count).filter(|&index| holds(time.start + math::from_usize(index) * step_s));
    math::from_usize(held.count()) * step_s
}

/// The volts of a trace at a time; 0 without one, which is ground.
pub(super) fn volts(trace: Option<&Trace>, time_s: f64) -> f64 {
    trace.map_or(0.0, |trace| at(trace, time_s))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::ticks::ClockRate;

    /// A pulse from 2 to 6 µs through a single lag of `tau_s`, `delay_s` late, 100 MHz.
    fn lagged(tau_s: f64, delay_s: f64) -> (Trace, Place) {
        let rate = ClockRate::new(100_000_000, 1).unwrap();
        let level = |time_s: f64| {
            let rise = |from: f64| {
                let after = time_s - from - delay_s;
                if after > 0.0 { 1.0 - math::exp(-after / tau_s) } else { 0.0 }
            };
            0.3 + 0.7 * (rise(2e-6) - rise(6e-6))
        };
        let samples = (0..1000).map(|index| math::to_f32(level(1e-8 * f64::from(index))));
        let trace = Trace { node: "n".to_owned(), rate, volts: samples.collect() };
        (trace, Place { lit: 2e-6..6e-6, seen: 1e-6..9e-6, clock_s: 0.5e-6 })
    }

    #[test]
    fn a_single_lag_has_the_edges_of_the_textbook() {
        let (tau_s, late_s) = (100e-9, 150e-9);
        let (trace, place) = lagged(tau_s, late_s);
        let height = height(&trace, &place).unwrap();
        assert!((height.black_v - 0.3).abs() < 1e-6 && (height.lit_v - 1.0).abs() < 1e-4);
        for falls in [false, true] {
            let edge = edge(&trace, &place, height, falls, 1e-3).unwrap();
            // Half after τ ln 2, 10–90 % in τ ln 9; the slope at half is half of the height over τ.
            assert!((edge.delay_s - late_s - tau_s * math::ln(2.0)).abs() < 1e-9, "{edge:?}");
            assert!((edge.time_s - tau_s * math::ln(9.0)).abs() < 1e-9, "{edge:?}");
            let jitter_s = 1e-3 / (0.35 / tau_s);
            assert!((edge.jitter_s / jitter_s - 1.0).abs() < 0.03, "{edge:?}");
            assert!(edge.overshoot < 1e-4);
        }
    }

    #[test]
    fn nothing_has_no_height_and_what_does_not_arrive_no_edge() {
        let (mut trace, place) = lagged(1.0e-3, 0.0);
        assert!(edge(&trace, &place, Height { black_v: 0.3, lit_v: 1.0 }, false, 1e-3).is_none());
        trace.volts.fill(0.3);
        assert_eq!(height(&trace, &place), None);
    }
}
