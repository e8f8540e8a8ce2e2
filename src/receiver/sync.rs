//! The sync separator. It knows the waveform and the set's nominal line rate, and nothing of what
//! made it.
//!
//! First a level a little above the lowest recurring one is tried, as a slicer behind a diode clamp
//! would: of four such levels the one that gives most pulses at line rate. From those pulses the
//! tip and the porch are measured, and then everything is sliced again at the set's own share of
//! the depth between them.

use crate::base::math;
use crate::base::math::median;
use crate::receiver::slicer::Pulse;
use crate::receiver::slicer::Slicer;
use crate::receiver::slicer::mean_between;
use crate::receiver::spec::ReceiverSpec;
use std::ops::RangeInclusive;

/// Trial levels above the floor, V. The lowest is half the least depth; the others are for noise.
const TRIALS_V: [f32; 4] = [0.025, 0.05, 0.1, 0.2];

/// Least sync depth that is accepted, V.
///
/// # Source
///
/// Common practice: deflection processors of the 1980s state 50 mV least, 300 mV nominal.
pub const LEAST_DEPTH_V: f64 = 0.05;

/// Line periods at which the separator looks for pulses, as shares of the set's own.
pub const PERIODS: RangeInclusive<f64> = 0.88..=1.12;

/// Pulses shorter than this are not sync, s: elements darker than the slicing level, and noise.
const SHORTEST_S: f64 = 1.5e-6;

/// A low longer than this many line pulses belongs to field sync.
const BROAD: f64 = 2.5;

/// What the separator found.
#[derive(Clone, Debug, PartialEq)]
pub struct Separated {
    /// All sync pulses, in order.
    pub pulses: Vec<Pulse>,
    /// Those that come at line rate and are as short as line pulses: indices into `pulses`.
    pub line: Vec<usize>,
    /// Line period, s: the mean of the intervals near the median one.
    pub period_s: f64,
    /// Median width of the line pulses, s.
    pub width_s: f64,
    /// Start of each field sync, s.
    pub field_starts_s: Vec<f64>,
}

/// Separates the sync of `video`, samples `step_s` apart. `None` if nothing in it can be taken for
/// sync: too shallow, upside down, or not within 12 % of the set's line rate.
#[must_use]
pub fn separate(video: &[f32], step_s: f64, spec: &ReceiverSpec) -> Option<Separated> {
    let slicer = Slicer::new(video, step_s);
    let nominal_s = 1.0 / spec.line_hz;
    let floor = slicer.floor(1.25 * nominal_s);
    let lines = math::from_usize(video.len()) * step_s / nominal_s;
    let trial = best_trial(&slicer, &floor, nominal_s, lines);
    let Levels { tip_v, porch_v } = levels(video, step_s, &trial, spec)?;
    if porch_v - tip_v < LEAST_DEPTH_V {
        return None;
    }
    let above_v = median(
        trial
            .iter()
            .filter_map(|pulse| {
                let (from_s, to_s) = tip_window(pulse)?;
                Some(mean_between(video, step_s, from_s, to_s)? - slicer.value_at(&floor, from_s))
            })
            .collect(),
    )?;
    let slice_v = math::to_f32(above_v + spec.slice * (porch_v - tip_v));
    let pulses = slicer.pulses(&floor, slice_v, SHORTEST_S);
    let line = at_line_rate(&pulses, nominal_s);
    // Fewer are chance.
    if line.len() < math::floor_index(0.4 * lines).max(3) {
        return None;
    }
    let period_s = period(&pulses, &line, nominal_s)?;
    let width_s = median(line.iter().filter_map(|&at| pulses[at].width_s()).collect())?;
    let field_starts_s = field_starts(&pulses, period_s, width_s);
    Some(Separated { pulses, line, period_s, width_s, field_starts_s })
}

/// Tip and back porch of sync, V.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Levels {
    /// Sync tip, V.
    pub tip_v: f64,
    /// Back porch, V.
    pub porch_v: f64,
}

/// Measures tip and back porch of the given pulses in `volts`: medians over the pulses, so that
/// their difference holds under a tilt. `None` if no pulse shows both.
#[must_use]
pub fn levels(volts: &[f32], step_s: f64, pulses: &[Pulse], spec: &ReceiverSpec) -> Option<Levels> {
    let mean = |(from_s, to_s)| mean_between(volts, step_s, from_s, to_s);
    let both = pulses
        .iter()
        .filter_map(|pulse| Some((mean(tip_window(pulse)?)?, mean(porch_window(pulse, spec)?)?)));
    let (tips, depths) = both.map(|(tip_v, porch_v)| (tip_v, porch_v - tip_v)).unzip();
    let tip_v = median(tips)?;
    Some(Levels { tip_v, porch_v: tip_v + median(depths)? })
}

/// The back porch behind a pulse, s: from 1 to 4 µs after the trailing edge, but not into the shown
/// line.
#[must_use]
pub fn porch_window(pulse: &Pulse, spec: &ReceiverSpec) -> Option<(f64, f64)> {
    let trailing_s = pulse.trailing_s?;
    let active_s = pulse.leading_s.unwrap_or(f64::INFINITY) + spec.active_start_s;
    let to_s = (trailing_s + 4e-6).min(active_s).max(trailing_s + 0.75e-6);
    Some(((trailing_s + 1e-6).min(to_s - 0.5e-6), to_s))
}

/// The settled part of a pulse, s.
fn tip_window(pulse: &Pulse) -> Option<(f64, f64)> {
    let margin_s = (pulse.width_s()? / 3.0).min(1e-6);
    Some((pulse.leading_s? + margin_s, pulse.trailing_s? - margin_s))
}

/// The line pulses at the trial level that gives most of them, the lowest of equals; or at the
/// first that gives nearly as many as there are lines.
fn best_trial(slicer: &Slicer<'_>, floor: &[f32], nominal_s: f64, lines: f64) -> Vec<Pulse> {
    let mut best = Vec::new();
    for trial_v in TRIALS_V {
        let pulses = slicer.runs(floor, trial_v, SHORTEST_S);
        let line = at_line_rate(&pulses, nominal_s);
        if line.len() > best.len() {
            best = line.iter().map(|&at| pulses[at]).collect();
        }
        if math::from_usize(best.len()) > 0.95 * lines {
            break;
        }
    }
    best
}

/// The pulses no wider than a quarter line that are followed by another such a line later.
fn at_line_rate(pulses: &[Pulse], nominal_s: f64) -> Vec<usize> {
    let short: Vec<(usize, f64)> = pulses
        .iter()
        .enumerate()
        .filter(|(_, pulse)| pulse.width_s().is_some_and(|width_s| width_s < 0.25 * nominal_s))
        .filter_map(|(at, pulse)| Some((at, pulse.leading_s?)))
        .collect();
    let followed = |place: usize| next_line(&short, place, nominal_s).is_some();
    (0..short.len()).filter(|&place| followed(place)).map(|place| short[place].0).collect()
}

/// The time to the pulse that comes a line after the one at `place`, s.
fn next_line(short: &[(usize, f64)], place: usize, nominal_s: f64) -> Option<f64> {
    let later = short[place + 1..].iter().map(|(_, leading_s)| leading_s - short[place].1);
    later
        .take_while(|distance_s| *distance_s <= PERIODS.end() * nominal_s)
        .find(|distance_s| PERIODS.contains(&(distance_s / nominal_s)))
}

/// The mean of the intervals near the median one: the median alone is rounded to whole samples
/// where edges are steep, and a field sync without line edges is coasted through at this period.
fn period(pulses: &[Pulse], line: &[usize], nominal_s: f64) -> Option<f64> {
    let short: Vec<(usize, f64)> =
        line.iter().filter_map(|&at| Some((at, pulses[at].leading_s?))).collect();
    let mut intervals: Vec<f64> =
        (0..short.len()).filter_map(|place| next_line(&short, place, nominal_s)).collect();
    let middle_s = median(intervals.clone())?;
    intervals.retain(|interval_s| (interval_s - middle_s).abs() <= 0.01 * middle_s);
    Some(intervals.iter().sum::<f64>() / math::from_usize(intervals.len()))
}

/// The start of every group of broad lows that adds up to half a line or more, which is what an
/// integrator takes for field sync whatever its form. A group that the waveform begins with is
/// taken to begin there.
fn field_starts(pulses: &[Pulse], period_s: f64, width_s: f64) -> Vec<f64> {
    let mut groups: Vec<Group> = Vec::new();
    for pulse in pulses {
        let start_s = pulse.leading_s.unwrap_or(0.0);
        let Some(stop_s) = pulse.trailing_s else { continue };
        let low_s = stop_s - start_s;
        if low_s < BROAD * width_s {
            continue;
        }
        match groups.last_mut() {
            Some(group) if start_s - group.stop_s < 2.0 * period_s => {
                group.stop_s = stop_s;
                group.low_s += low_s;
            }
            _ => groups.push(Group { start_s, stop_s, low_s }),
        }
    }
    let long = groups.iter().filter(|group| group.low_s >= 0.5 * period_s);
    long.map(|group| group.start_s).collect()
}

struct Group {
    start_s: f64,
    stop_s: f64,
    low_s: f64,
}
