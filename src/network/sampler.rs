//! Equally spaced samples from steps of any length.

use crate::base::math;
use crate::base::ticks::ClockRate;
use crate::network::circuit::NodeId;
use crate::network::step::Ends;
use crate::network::step::interpolate_at;
use crate::network::transient::TransientSpec;

/// Takes equally spaced samples from steps of any length.
pub(crate) struct Sampler {
    rate: ClockRate,
    taps: Vec<NodeId>,
    next: u64,
    count: u64,
    pub(crate) samples: Vec<Vec<f32>>,
}

impl Sampler {
    /// For a field of so many ticks.
    pub(crate) fn new(spec: &TransientSpec, ticks: u64) -> Self {
        let rate = spec.clock.times(spec.samples_per_clock).unwrap_or(spec.clock);
        let count = ticks * u64::from(spec.samples_per_clock);
        let capacity = usize::try_from(count).unwrap_or(0);
        let samples = spec.taps.iter().map(|_| Vec::with_capacity(capacity)).collect();
        Self { rate, taps: spec.taps.clone(), next: 0, count, samples }
    }

    /// Takes a sample that is due at the very start.
    pub(crate) fn take(&mut self, time_s: f64, x: &[f64]) {
        if self.next < self.count && self.rate.seconds(self.next) <= time_s {
            for (samples, tap) in self.samples.iter_mut().zip(&self.taps) {
                let volts = tap.0.checked_sub(1).map_or(0.0, |index| x[index]);
                samples.push(math::to_f32(volts));
            }
            self.next += 1;
        }
    }

    /// Whether the next sample is due by then.
    pub(crate) fn falls_into(&self, after_s: f64) -> bool {
        self.next < self.count && self.rate.seconds(self.next) <= after_s
    }

    /// Takes the samples that fall into a step.
    pub(crate) fn take_step(&mut self, ends: &Ends, after_s: f64) {
        while self.next < self.count {
            let at_s = self.rate.seconds(self.next);
            if at_s > after_s {
                return;
            }
            let share = ((at_s - ends.start_s) / ends.step_s).clamp(0.0, 1.0);
            for (samples, tap) in self.samples.iter_mut().zip(&self.taps) {
                let volts =
                    tap.0.checked_sub(1).map_or(0.0, |index| interpolate_at(ends, index, share));
                samples.push(math::to_f32(volts));
            }
            self.next += 1;
        }
    }
}
