//! A waveform thinned to what a picture can show, without losing an extreme: a dip of one sample
//! must still be seen.

use crate::base::math;
use crate::signal::trace::Trace;
use std::ops::Range;

/// A sample that is kept.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// When, s.
    pub at_s: f64,
    /// Level, V.
    pub volts: f64,
}

/// The highest and lowest sample of every one of `columns` equal parts of `window_s`, in the order
/// of time, and the first and last of all. Where the window has no more samples than that, all.
#[must_use]
pub fn thinned(trace: &Trace, window_s: &Range<f64>, columns: usize) -> Vec<Sample> {
    let held = samples(trace, window_s);
    let indices: Vec<usize> =
        if held.len() <= 2 * columns { held.collect() } else { extremes(trace, held, columns) };
    indices.into_iter().map(|index| sample(trace, index)).collect()
}

/// Lowest and highest volts in each of `columns` equal parts of the whole trace. A trace of fewer
/// samples than columns gives one entry for each sample.
#[must_use]
pub fn envelope(trace: &Trace, columns: usize) -> Vec<(f64, f64)> {
    parts(0..trace.volts.len(), columns)
        .map(|part| {
            let (low, high) = extreme_pair(trace, part);
            (f64::from(trace.volts[low]), f64::from(trace.volts[high]))
        })
        .collect()
}

/// Indices of the samples within the window.
fn samples(trace: &Trace, window_s: &Range<f64>) -> Range<usize> {
    let hertz = trace.rate.hertz();
    let first = math::floor_index(math::ceil(window_s.start * hertz));
    let stop = math::floor_index(window_s.end * hertz) + 1;
    let stop = stop.min(trace.volts.len());
    first.min(stop)..stop
}

fn extremes(trace: &Trace, held: Range<usize>, columns: usize) -> Vec<usize> {
    let (first, last) = (held.start, held.end - 1);
    let mut kept = vec![first];
    for part in parts(held, columns) {
        let (low, high) = extreme_pair(trace, part);
        kept.extend([low.min(high), low.max(high)]);
    }
    kept.push(last);
    kept.dedup();
    kept
}

/// A range cut into at most `count` parts of nearly one length, none of them empty.
fn parts(whole: Range<usize>, count: usize) -> impl Iterator<Item = Range<usize>> {
    let count = count.min(whole.len());
    (0..count).map(move |part| {
        let cut = |index: usize| whole.start + index * whole.len() / count;
        cut(part)..cut(part + 1)
    })
}

/// Indices of the lowest and the highest sample of a part that is not empty.
fn extreme_pair(trace: &Trace, part: Range<usize>) -> (usize, usize) {
    let (mut low, mut high) = (part.start, part.start);
    for index in part {
        if trace.volts[index] < trace.volts[low] {
            low = index;
        }
        if trace.volts[index] > trace.volts[high] {
            high = index;
        }
    }
    (low, high)
}

fn sample(trace: &Trace, index: usize) -> Sample {
    Sample { at_s: math::from_usize(index) * trace.step_s(), volts: f64::from(trace.volts[index]) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::ticks::ClockRate;
    use proptest::prelude::*;

    fn trace(volts: Vec<f32>) -> Trace {
        Trace { node: "plug".into(), rate: ClockRate::new(1000, 1).unwrap(), volts }
    }

    #[test]
    fn a_dip_of_one_sample_is_kept() {
        let mut volts = vec![1.0; 10_000];
        volts[4321] = 0.25;
        let kept = thinned(&trace(volts), &(0.0..10.0), 50);
        assert!(kept.len() <= 102);
        assert!(kept.contains(&Sample { at_s: 4.321, volts: 0.25 }));
    }

    #[test]
    fn a_short_window_is_kept_whole() {
        let ramp = trace((0..100_u8).map(f32::from).collect());
        let kept = thinned(&ramp, &(0.010..0.020), 50);
        assert_eq!(kept.len(), 11);
        assert_eq!(kept[0], Sample { at_s: 0.010, volts: 10.0 });
    }

    #[test]
    fn a_window_past_the_end_holds_nothing() {
        assert_eq!(thinned(&trace(vec![1.0; 10]), &(5.0..6.0), 50), []);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn thinning_keeps_both_extremes_and_the_order_of_time(
            volts in prop::collection::vec(-5.0_f32..5.0, 1..600),
            columns in 1_usize..80,
        ) {
            let lowest = f64::from(volts.iter().copied().fold(f32::INFINITY, f32::min));
            let highest = f64::from(volts.iter().copied().fold(f32::NEG_INFINITY, f32::max));
            let trace = trace(volts);
            let kept = thinned(&trace, &(0.0..1.0), columns);
            prop_assert!(kept.iter().any(|sample| sample.volts <= lowest));
            prop_assert!(kept.iter().any(|sample| sample.volts >= highest));
            prop_assert!(kept.windows(2).all(|pair| pair[0].at_s < pair[1].at_s));
            prop_assert!(kept.len() <= 2 * columns + 2);
            let envelope = envelope(&trace, columns);
            prop_assert!(envelope.iter().any(|part| part.0 <= lowest));
            prop_assert!(envelope.iter().any(|part| part.1 >= highest));
        }
    }
}
