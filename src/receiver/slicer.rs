//! The slicer: where the waveform runs below a level, to a fraction of a sample.
//!
//! Runs are found on means of half a microsecond, which is what keeps noise and short dark elements
//! out of a sync separator; their edges are then measured on the samples themselves.

use crate::base::math;
use std::ops::Range;

/// A stretch below the slicing level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pulse {
    /// Leading (falling) edge, s; `None` if the waveform begins inside the pulse.
    pub leading_s: Option<f64>,
    /// Trailing (rising) edge, s; `None` if the waveform ends inside the pulse.
    pub trailing_s: Option<f64>,
}

impl Pulse {
    /// Width, s, if both edges were received.
    #[must_use]
    pub fn width_s(&self) -> Option<f64> {
        Some(self.trailing_s? - self.leading_s?)
    }
}

/// The waveform as means of equal groups of samples.
#[derive(Debug)]
pub struct Slicer<'a> {
    video: &'a [f32],
    step_s: f64,
    group: usize,
    means: Vec<f32>,
}

/// Length of a group, s.
const GROUP_S: f64 = 0.5e-6;

/// Samples in a group at 16 MS/s, for which the loop is unrolled.
const USUAL_GROUP: usize = 8;

impl<'a> Slicer<'a> {
    /// Groups the samples of `video`, which are `step_s` apart.
    #[must_use]
    pub fn new(video: &'a [f32], step_s: f64) -> Self {
        let group = math::floor_index(GROUP_S / step_s + 0.5).clamp(1, video.len().max(1));
        let means = match group {
            USUAL_GROUP => {
                let (groups, rest) = video.as_chunks::<USUAL_GROUP>();
                let whole = groups.iter().map(|group| mean_of(group));
                whole.chain(rest.chunks(group).map(mean_of)).collect()
            }
            _ => video.chunks(group).map(mean_of).collect(),
        };
        Self { video, step_s, group, means }
    }

    /// Seconds in a group.
    fn group_s(&self) -> f64 {
        math::from_usize(self.group) * self.step_s
    }

    /// The lowest level around each group: minima over stretches of `stretch_s`, the median of
    /// five neighbours so that a stretch without sync does not count, joined by straight lines so
    /// that a tilt is followed.
    #[must_use]
    pub fn floor(&self, stretch_s: f64) -> Vec<f32> {
        let length = math::floor_index(stretch_s / self.group_s() + 1.0);
        let mut minima: Vec<f32> = self.means.chunks(length).map(lowest).collect();
        // The rest at the end may lie between two sync pulses.
        if minima.len() > 1 && !self.means.len().is_multiple_of(length) {
            minima.pop();
        }
        let steady: Vec<f32> = (0..minima.len()).map(|at| median_around(&minima, at)).collect();
        joined(&steady, length, self.means.len())
    }

    /// The runs less than `above_v` over `floor`, which is given for each group, that last at least
    /// `least_s`.
    #[must_use]
    pub fn runs(&self, floor: &[f32], above_v: f32, least_s: f64) -> Vec<Pulse> {
        self.low_groups(floor, above_v, least_s)
            .map(|groups| Pulse {
                leading_s: (groups.start > 0).then(|| self.group_start_s(groups.start)),
                trailing_s: (groups.end < self.means.len()).then(|| self.group_start_s(groups.end)),
            })
            .collect()
    }

    /// The same runs with their edges measured where the samples cross the level.
    #[must_use]
    pub fn pulses(&self, floor: &[f32], above_v: f32, least_s: f64) -> Vec<Pulse> {
        let level = |group: usize| floor[group] + above_v;
        self.low_groups(floor, above_v, least_s)
            .map(|groups| Pulse {
                leading_s: self.crossing_s(groups.start, level(groups.start), f32::gt),
                trailing_s: self.crossing_s(groups.end, level(groups.end - 1), f32::lt),
            })
            .collect()
    }

    /// The value that a series with one entry a group has at a time.
    #[must_use]
    pub fn value_at(&self, series: &[f32], time_s: f64) -> f64 {
        let group = math::floor_index(time_s / self.group_s());
        series.get(group).or(series.last()).map_or(0.0, |&value| f64::from(value))
    }

    fn group_start_s(&self, group: usize) -> f64 {
        math::from_usize(group) * self.group_s()
    }

    fn low_groups(
        &self,
        floor: &[f32],
        above_v: f32,
        least_s: f64,
    ) -> impl Iterator<Item = Range<usize>> {
        let mut runs = Vec::new();
        let mut from = None;
        for (at, (mean, floor)) in self.means.iter().zip(floor).enumerate() {
            if *mean < floor + above_v {
                from.get_or_insert(at);
            } else if let Some(start) = from.take() {
                runs.push(start..at);
            }
        }
        runs.extend(from.map(|start| start..self.means.len()));
        let least = least_s / self.group_s();
        runs.into_iter().filter(move |run| math::from_usize(run.len()) >= least)
    }

    /// Where the samples leave the side of `level` that `before` tells, near the start of a group:
    /// halfway between the first and the last crossing there, since noise crosses several times.
    fn crossing_s(&self, group: usize, level: f32, before: fn(&f32, &f32) -> bool) -> Option<f64> {
        let first = group.saturating_sub(2) * self.group;
        let last = ((group + 2) * self.group).min(self.video.len());
        let crossings = self.video[first..last].windows(2).enumerate().filter_map(|(at, pair)| {
            let crosses = before(&pair[0], &level) && !before(&pair[1], &level);
            let share = f64::from(level - pair[0]) / f64::from(pair[1] - pair[0]);
            crosses.then(|| (math::from_usize(first + at) + share) * self.step_s)
        });
        let (mut earliest, mut latest) = (None, None);
        for crossing in crossings {
            earliest.get_or_insert(crossing);
            latest = Some(crossing);
        }
        Some(0.5 * (earliest? + latest?))
    }
}

/// Mean of the samples between two times, V; `None` if there are none.
#[must_use]
pub fn mean_between(volts: &[f32], step_s: f64, from_s: f64, to_s: f64) -> Option<f64> {
    let first = math::floor_index(math::ceil(from_s / step_s));
    let after = math::floor_index(to_s / step_s).saturating_add(1).min(volts.len());
    mean(volts.get(first..after)?)
}

/// Mean of samples, V; `None` if there are none.
#[must_use]
pub fn mean(volts: &[f32]) -> Option<f64> {
    let sum: f64 = volts.iter().map(|&v| f64::from(v)).sum();
    (!volts.is_empty()).then(|| sum / math::from_usize(volts.len()))
}

fn mean_of(volts: &[f32]) -> f32 {
    let sum: f64 = volts.iter().map(|&v| f64::from(v)).sum();
    math::to_f32(sum / math::from_usize(volts.len()))
}

fn lowest(volts: &[f32]) -> f32 {
    volts.iter().copied().fold(f32::INFINITY, f32::min)
}

fn median_around(values: &[f32], at: usize) -> f32 {
    let near = &values[at.saturating_sub(2)..(at + 3).min(values.len())];
    let mut sorted = near.to_vec();
    sorted.sort_unstable_by(f32::total_cmp);
    sorted[sorted.len() / 2]
}

/// A value for each of `count` groups, on the lines that join `values` at the centres of stretches of
/// `length` groups; level before the first centre and after the last.
fn joined(values: &[f32], length: usize, count: usize) -> Vec<f32> {
    let mut all = Vec::with_capacity(count);
    let per_stretch = math::from_usize(length);
    let centred = |from: usize| {
        // The first group whose middle lies at or after the centre of a stretch.
        math::floor_index(math::ceil((math::from_usize(from) + 0.5) * per_stretch - 0.5))
    };
    let last = values.len() - 1;
    for (from, &value) in values.iter().enumerate() {
        let start = if from == 0 { 0 } else { centred(from) }.min(count);
        let stop = if from == last { count } else { centred(from + 1) }.min(count);
        let (low, high) = (f64::from(value), f64::from(values[(from + 1).min(last)]));
        let first = math::from_usize(start) + 0.5;
        all.extend((0..stop - start).map(|group| {
            let place = (first + math::from_usize(group)) / per_stretch - 0.5;
            let share = (place - math::from_usize(from)).clamp(0.0, 1.0);
            math::to_f32(math::lerp(low, high, share))
        }));
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn edges_are_found_between_the_samples() {
        let step_s = 62.5e-9;
        let mut video = vec![0.3_f32; 400];
        video[101..180].fill(0.0);
        video[100] = 0.1;
        video[180] = 0.25;
        let slicer = Slicer::new(&video, step_s);
        let floor = vec![0.0; slicer.means.len()];
        let pulses = slicer.pulses(&floor, 0.15, 2e-6);
        assert_eq!(pulses.len(), 1);
        assert!((pulses[0].leading_s.unwrap() - 99.75 * step_s).abs() < 1e-12);
        assert!((pulses[0].trailing_s.unwrap() - 179.6 * step_s).abs() < 1e-12);
    }

    #[test]
    fn a_pulse_cut_by_either_end_has_no_edge_there() {
        let mut video = vec![0.3_f32; 400];
        video[..100].fill(0.0);
        video[320..].fill(0.0);
        let slicer = Slicer::new(&video, 62.5e-9);
        let pulses = slicer.pulses(&vec![0.0; slicer.means.len()], 0.15, 2e-6);
        assert_eq!(pulses[0].leading_s, None);
        assert_eq!(pulses[1].trailing_s, None);
    }

    #[test]
    fn the_floor_follows_a_tilt_and_passes_over_a_stretch_without_sync() {
        let video: Vec<f32> = (0..160_000_u32)
            .map(|k| {
                let sync = k % 1024 < 75 && !(40_000..42_000).contains(&k);
                math::to_f32(f64::from(k) * 1e-6 + if sync { 0.0 } else { 0.3 })
            })
            .collect();
        let slicer = Slicer::new(&video, 62.5e-9);
        let floor = slicer.floor(80e-6);
        for (group, level) in floor.iter().enumerate().skip(400).take(19_000) {
            let expected = math::from_usize(group * 8) * 1e-6;
            assert!((f64::from(*level) - expected).abs() < 2.5e-3, "{group}: {level}");
        }
    }

    #[test]
    fn the_mean_between_two_times_takes_the_samples_inside() {
        let volts = [0.0_f32, 1.0, 2.0, 3.0, 4.0];
        assert_eq!(mean_between(&volts, 1.0, 0.5, 3.5), Some(2.0));
        assert_eq!(mean_between(&volts, 1.0, 1.2, 1.8), None);
        assert_eq!(mean_between(&volts, 1.0, 7.0, 9.0), None);
    }
}
