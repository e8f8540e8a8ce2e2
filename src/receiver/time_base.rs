//! Where lines and fields start by the sync itself: every line at its own pulse, and where a pulse
//! is missing a period after the one before.
//!
//! Who measures the waveform goes by this, so that no level and no word for an element changes
//! because a picture rolls. The picture goes by the set's own oscillators.

use crate::base::math;
use crate::receiver::slicer::Pulse;
use crate::receiver::spec::ReceiverSpec;
use crate::receiver::spec::TimeBase;
use crate::receiver::sync::Separated;

/// How far from its expected time a leading edge still triggers its line, s.
const GATE_S: f64 = 2e-6;

/// So many lines in a row with a pulse outside the gate make the base start anew from that pulse.
const ASTRAY: u32 = 3;

/// Nominal width of line sync, by which a set that runs free keys its clamp, s.
///
/// # Source
///
/// ITU-R BT.470, systems B, G and M: 4.7 µs.
pub const KEY_S: f64 = 4.7e-6;

/// Lines and fields of a waveform, in time order.
#[derive(Clone, Debug, PartialEq)]
pub struct Lines {
    /// The lines.
    pub lines: Vec<Line>,
    /// Time between lines, s.
    pub period_s: f64,
    /// Start of each field, s.
    pub field_starts_s: Vec<f64>,
}

/// The start of a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Leading edge of line sync, measured or coasted, s.
    pub start_s: f64,
    /// The line pulse that keys the clamp; `None` where the base coasts.
    pub key: Option<Pulse>,
}

impl Lines {
    /// What the reception reports of them.
    #[must_use]
    pub fn time_base(&self) -> TimeBase {
        TimeBase {
            field_starts_s: self.field_starts_s.clone(),
            line_starts_s: self.lines.iter().map(|line| line.start_s).collect(),
        }
    }
}

/// Lines triggered by the pulses themselves, over a waveform of `duration_s`. Without field sync
/// the fields run free from the start of the waveform.
#[must_use]
pub fn direct(sync: &Separated, spec: &ReceiverSpec, duration_s: f64) -> Lines {
    let trigger = Trigger::new(sync);
    let mut lines = trigger.before(sync);
    lines.extend(trigger.onward(sync, duration_s));
    let field_starts_s = if sync.field_starts_s.is_empty() {
        repeated(1.0 / spec.field_hz, duration_s)
    } else {
        sync.field_starts_s.clone()
    };
    Lines { lines, period_s: sync.period_s, field_starts_s }
}

/// The set's own rates from the start of the waveform, which nothing holds in step with it.
#[must_use]
pub fn free(spec: &ReceiverSpec, duration_s: f64) -> Lines {
    let period_s = 1.0 / spec.line_hz;
    let lines = repeated(period_s, duration_s).into_iter().map(|start_s| {
        let key = Pulse { leading_s: Some(start_s), trailing_s: Some(start_s + KEY_S) };
        Line { start_s, key: Some(key) }
    });
    let field_starts_s = repeated(1.0 / spec.field_hz, duration_s);
    Lines { lines: lines.collect(), period_s, field_starts_s }
}

fn repeated(period_s: f64, duration_s: f64) -> Vec<f64> {
    let count = math::floor_index(math::ceil(duration_s / period_s)).max(1);
    (0..count).map(|turn| math::from_usize(turn) * period_s).collect()
}

/// All leading edges, and which of them are line pulses.
struct Trigger {
    edges: Vec<Edge>,
    period_s: f64,
}

struct Edge {
    at_s: f64,
    pulse: Pulse,
    is_line: bool,
}

impl Trigger {
    fn new(sync: &Separated) -> Self {
        let is_line = |pulse: &Pulse| pulse.width_s().is_some_and(|w| w < 2.0 * sync.width_s);
        let edges = sync.pulses.iter().filter_map(|&pulse| {
            Some(Edge { at_s: pulse.leading_s?, pulse, is_line: is_line(&pulse) })
        });
        Self { edges: edges.collect(), period_s: sync.period_s }
    }

    /// The lines before the first regular pulse, back to the start of the waveform.
    fn before(&self, sync: &Separated) -> Vec<Line> {
        let mut lines = Vec::new();
        let Some(mut at_s) = first_regular(sync) else { return lines };
        while at_s - self.period_s >= -GATE_S {
            let line = self.line_near(at_s - self.period_s);
            at_s = line.start_s;
            lines.push(line);
        }
        lines.reverse();
        lines
    }

    fn onward(&self, sync: &Separated, duration_s: f64) -> Vec<Line> {
        let mut lines = Vec::new();
        let Some(first_s) = first_regular(sync) else { return lines };
        let mut expected_s = first_s;
        let mut astray = 0;
        while expected_s < duration_s {
            let mut line = self.line_near(expected_s);
            if line.key.is_some() {
                astray = 0;
            } else if let Some(other) = self.line_pulse_around(expected_s) {
                astray += 1;
                if astray == ASTRAY {
                    line = Line { start_s: other.at_s, key: Some(other.pulse) };
                    astray = 0;
                }
            }
            expected_s = line.start_s + self.period_s;
            lines.push(line);
        }
        lines
    }

    /// The line that starts at the edge nearest to `expected_s` within the gate, or else there.
    fn line_near(&self, expected_s: f64) -> Line {
        let gated = self.edges_within(expected_s, GATE_S);
        let distance = |edge: &&Edge| (edge.at_s - expected_s).abs();
        match gated.iter().min_by(|a, b| distance(a).total_cmp(&distance(b))) {
            Some(edge) => Line { start_s: edge.at_s, key: edge.is_line.then_some(edge.pulse) },
            None => Line { start_s: expected_s, key: None },
        }
    }

    fn line_pulse_around(&self, expected_s: f64) -> Option<&Edge> {
        self.edges_within(expected_s, 0.5 * self.period_s).iter().find(|edge| edge.is_line)
    }

    fn edges_within(&self, expected_s: f64, gate_s: f64) -> &[Edge] {
        let first = self.edges.partition_point(|edge| edge.at_s < expected_s - gate_s);
        let after = self.edges.partition_point(|edge| edge.at_s <= expected_s + gate_s);
        &self.edges[first..after]
    }
}

fn first_regular(sync: &Separated) -> Option<f64> {
    sync.pulses[*sync.line.first()?].leading_s
}

#[cfg(test)]
mod tests {
    use super::*;

    const PERIOD_S: f64 = 64e-6;

    fn separated(starts_s: &[f64]) -> Separated {
        let pulse =
            |&start_s: &f64| Pulse { leading_s: Some(start_s), trailing_s: Some(start_s + 4.7e-6) };
        Separated {
            pulses: starts_s.iter().map(pulse).collect(),
            line: (0..starts_s.len()).collect(),
            period_s: PERIOD_S,
            width_s: 4.7e-6,
            field_starts_s: vec![0.0],
        }
    }

    fn starts(sync: &Separated, lines: u32) -> Vec<f64> {
        let trigger = Trigger::new(sync);
        let mut all = trigger.before(sync);
        all.extend(trigger.onward(sync, PERIOD_S * f64::from(lines)));
        all.iter().map(|line| line.start_s).collect()
    }

    #[test]
    fn a_missing_pulse_is_coasted_through_from_the_last_one_seen() {
        let seen: Vec<f64> =
            (0..20_u32).filter(|n| *n != 7).map(|n| f64::from(n) * PERIOD_S + 1e-7).collect();
        let found = starts(&separated(&seen), 20);
        assert_eq!(found.len(), 20);
        assert!((found[7] - (7.0 * PERIOD_S + 1e-7)).abs() < 1e-12);
    }

    #[test]
    fn jitter_within_the_gate_is_followed_line_by_line() {
        let seen: Vec<f64> =
            (0..20_u32).map(|n| f64::from(n) * PERIOD_S + f64::from(n % 2) * 1e-6).collect();
        assert_eq!(starts(&separated(&seen), 20), seen);
    }

    #[test]
    fn after_a_jump_of_phase_the_base_starts_anew_in_three_lines() {
        let seen: Vec<f64> = (0..40_u32)
            .map(|n| f64::from(n) * PERIOD_S + if n < 20 { 0.0 } else { 25e-6 })
            .collect();
        let found = starts(&separated(&seen), 40);
        assert_eq!(found[25..], seen[25..]);
        assert!(found.windows(2).all(|pair| pair[1] > pair[0]));
    }

    #[test]
    fn lines_before_the_first_pulse_are_counted_back_to_the_start() {
        let seen: Vec<f64> = (4..20_u32).map(|n| f64::from(n) * PERIOD_S).collect();
        let found = starts(&separated(&seen), 20);
        assert_eq!(found.len(), 20);
        assert!(found[0].abs() < 1e-12);
    }
}
