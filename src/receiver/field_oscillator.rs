//! The field oscillator: an integrator over the separated sync, whose output triggers a relaxation
//! oscillator.
//!
//! Narrow line pulses leave the integrator low; the long lows of field sync carry it past the
//! slicing level, whatever their form. The oscillator takes a trigger only when it is near its own
//! turn, and turns by itself if none comes: outside of that range the picture rolls.

use crate::base::math;
use crate::receiver::slicer::Pulse;

/// Share of the time that line sync is low.
///
/// # Source
///
/// ITU-R BT.470: 4.7 µs of 64 µs.
const DUTY: f64 = 4.7 / 64.0;

/// A field oscillator.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FieldLoop {
    /// Highest field rate at which it takes every trigger, Hz; the lowest is its own rate.
    pub highest_hz: f64,
    /// Time constant of the integrator, s.
    pub integrator_s: f64,
    /// Share of the separated sync at which the integrator triggers.
    pub slice: f64,
}

impl FieldLoop {
    /// How long after the start of field sync the trigger comes, s, by which a set's picture is
    /// centred.
    #[must_use]
    pub fn delay_s(&self) -> f64 {
        self.integrator_s * math::ln((1.0 - DUTY) / (1.0 - self.slice))
    }
}

/// A field oscillator under way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FieldOscillator {
    spec: FieldLoop,
    period_s: f64,
    /// The integrator, as a share of the separated sync.
    integrated: f64,
    /// The last turn, s from the start of the waveform that comes next.
    last_s: f64,
}

impl FieldOscillator {
    /// An oscillator that would run at `free_hz`, as it is switched on: in the middle of the range
    /// in which it takes a trigger.
    #[must_use]
    pub fn new(free_hz: f64, spec: FieldLoop) -> Self {
        let period_s = 1.0 / free_hz;
        let last_s = -0.5 * (period_s + 1.0 / spec.highest_hz);
        Self { spec, period_s, integrated: DUTY, last_s }
    }

    /// Turns within a waveform of `duration_s` whose separated sync is low in `pulses`, s.
    pub fn advance(&mut self, pulses: &[Pulse], duration_s: f64) -> Vec<f64> {
        let mut turns = Vec::new();
        let mut now_s = 0.0;
        for pulse in pulses {
            let from_s = pulse.leading_s.unwrap_or(0.0).max(now_s);
            let to_s = pulse.trailing_s.unwrap_or(duration_s).max(from_s);
            self.integrated *= self.kept(from_s - now_s);
            let above = 1.0 - self.integrated;
            if self.integrated < self.spec.slice {
                let rise_s = self.spec.integrator_s * math::ln(above / (1.0 - self.spec.slice));
                if from_s + rise_s <= to_s {
                    self.trigger(from_s + rise_s, &mut turns);
                }
            }
            self.integrated = 1.0 - above * self.kept(to_s - from_s);
            now_s = to_s;
        }
        self.integrated *= self.kept(duration_s - now_s);
        self.run_free(duration_s, &mut turns);
        self.last_s -= duration_s;
        turns
    }

    /// Whether two oscillators are so near one another that nobody could tell them apart.
    #[must_use]
    pub fn is_like(&self, other: &Self) -> bool {
        (self.last_s - other.last_s).abs() < 1e-9
            && (self.integrated - other.integrated).abs() < 1e-6
    }

    fn kept(&self, time_s: f64) -> f64 {
        math::exp(-time_s / self.spec.integrator_s)
    }

    fn trigger(&mut self, at_s: f64, turns: &mut Vec<f64>) {
        self.run_free(at_s, turns);
        if at_s - self.last_s >= 1.0 / self.spec.highest_hz {
            self.last_s = at_s;
            turns.push(at_s);
        }
    }

    fn run_free(&mut self, until_s: f64, turns: &mut Vec<f64>) {
        while self.last_s + self.period_s <= until_s {
            self.last_s += self.period_s;
            turns.push(self.last_s);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LOOP: FieldLoop = FieldLoop { highest_hz: 54.0, integrator_s: 100e-6, slice: 0.3 };
    const LINE_S: f64 = 64e-6;

    fn pulse(from_s: f64, width_s: f64) -> Pulse {
        Pulse { leading_s: Some(from_s), trailing_s: Some(from_s + width_s) }
    }

    /// Line pulses of a field, its first lines low for so long.
    fn field(lines: u32, low_s: f64) -> Vec<Pulse> {
        let first = pulse(1e-6, low_s);
        let rest = (1..lines).map(|line| pulse(f64::from(line) * LINE_S, 4.7e-6));
        let after = move |pulse: &Pulse| pulse.leading_s > first.trailing_s;
        std::iter::once(first).chain(rest.filter(after)).collect()
    }

    /// The turns of the last of many fields, s.
    fn turns(lines: u32, low_s: f64) -> Vec<f64> {
        let mut oscillator = FieldOscillator::new(46.0, LOOP);
        let duration_s = f64::from(lines) * LINE_S;
        (0..100).for_each(|_| drop(oscillator.advance(&field(lines, low_s), duration_s)));
        oscillator.advance(&field(lines, low_s), duration_s)
    }

    #[test]
    fn the_integrator_triggers_when_it_passes_the_slicing_level() {
        let found = turns(312, 256e-6);
        // The ripple of the line pulses is the mean's: at the end of a line it is below it.
        let lowest = DUTY * 64e-6 / 100e-6 / (math::exp(0.64) - 1.0);
        let expected_s = 1e-6 + 100e-6 * math::ln((1.0 - lowest) / 0.7);
        assert_eq!(found.len(), 1);
        assert!((found[0] - expected_s).abs() < 2e-6, "{found:?} {expected_s}");
        assert!((LOOP.delay_s() - 100e-6 * math::ln(0.926_562_5 / 0.7)).abs() < 1e-12);
    }

    #[test]
    fn a_pulse_that_is_too_short_triggers_nothing() {
        let turns = |low_s: f64| -> Vec<f64> {
            let mut oscillator = FieldOscillator::new(46.0, LOOP);
            let duration_s = 312.0 * LINE_S;
            let field_turns = |number: u32| {
                let start_s = f64::from(number) * duration_s;
                let turns = oscillator.advance(&field(312, low_s), duration_s);
                turns.into_iter().map(move |turn_s| start_s + turn_s).collect::<Vec<f64>>()
            };
            (0..20).flat_map(field_turns).collect()
        };
        // It turns at its own rate; a pulse that is long enough brings it to the rate that is sent.
        let apart = |turns: &[f64]| turns[turns.len() - 1] - turns[turns.len() - 2];
        let (short, long) = (turns(20e-6), turns(256e-6));
        assert!((17..=19).contains(&short.len()), "{}", short.len());
        assert!((apart(&short) - 1.0 / 46.0).abs() < 1e-9, "{}", apart(&short));
        assert!((apart(&long) - 312.0 * LINE_S).abs() < 1e-9, "{}", apart(&long));
    }

    #[test]
    fn rates_within_the_catch_are_held_and_outside_it_the_field_moves() {
        // 46 to 54 Hz: 339 to 290 lines of 64 µs.
        for (lines, held) in [(280, false), (295, true), (312, true), (335, true), (350, false)] {
            let mut oscillator = FieldOscillator::new(46.0, LOOP);
            let duration_s = f64::from(lines) * LINE_S;
            let turns: Vec<Option<f64>> = (0..60)
                .map(|_| oscillator.advance(&field(lines, 256e-6), duration_s).first().copied())
                .collect();
            let steady = turns[20..].windows(2).all(|pair| match (pair[0], pair[1]) {
                (Some(a), Some(b)) => (a - b).abs() < 1e-9,
                _ => false,
            });
            assert_eq!(steady, held, "{lines} lines");
        }
    }

    #[test]
    fn an_oscillator_that_is_left_alone_turns_at_its_own_rate() {
        let mut oscillator = FieldOscillator::new(50.0, LOOP);
        let turns = oscillator.advance(&[], 0.2);
        assert_eq!(turns.len(), 10);
        assert!(turns.windows(2).all(|pair| (pair[1] - pair[0] - 0.02).abs() < 1e-12));
    }
}
