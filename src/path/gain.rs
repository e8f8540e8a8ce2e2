//! Gain control on the sync tip, which in negative modulation is the most carrier there is.

use crate::base::math;

/// Time over which the greatest carrier is looked for, s: two lines of any set, so that a tip lies
/// in it.
const LOOK_S: f64 = 130e-6;
/// Time over which the carrier is averaged before, s: a tip is longer, noise is not.
const AVERAGE_S: f64 = 3e-6;
/// Most that the gain is raised above that for full carrier: 40 dB; common practice, no source.
pub const MOST_GAIN: f64 = 100.0;

/// Gain of the stages before the detector: of the first order, towards a tip of 1.
#[derive(Clone, Debug, PartialEq)]
pub struct GainControl {
    gain: Option<f64>,
    time_constant_s: f64,
    step_s: f64,
}

impl GainControl {
    /// A control that has not seen a signal yet: it begins as it would have settled on its first
    /// field.
    #[must_use]
    pub fn new(time_constant_s: f64, step_s: f64) -> Self {
        Self { gain: None, time_constant_s, step_s }
    }

    /// Brings a stretch of detected carrier to a tip of 1.
    pub fn control(&mut self, carrier: &mut [f64]) {
        let look = math::floor_index(LOOK_S / self.step_s).max(1);
        let average = math::floor_index(AVERAGE_S / self.step_s).max(1);
        let wanted: Vec<f64> =
            carrier.chunks(look).map(|part| wanted_gain(part, average)).collect();
        let settled = math::median(wanted.clone()).unwrap_or(1.0);
        let mut gain = self.gain.unwrap_or(settled);
        for (part, wanted) in carrier.chunks_mut(look).zip(wanted) {
            let elapsed_s = math::from_usize(part.len()) * self.step_s;
            let next = gain + (wanted - gain) * -math::expm1(-elapsed_s / self.time_constant_s);
            let count = math::from_usize(part.len());
            for (index, sample) in part.iter_mut().enumerate() {
                *sample *= math::lerp(gain, next, math::from_usize(index) / count);
            }
            gain = next;
        }
        self.gain = Some(gain);
    }
}

/// The gain that makes the greatest average 1.
fn wanted_gain(carrier: &[f64], average: usize) -> f64 {
    let average = average.min(carrier.len()).max(1);
    let mut sum: f64 = carrier[..average].iter().sum();
    let mut most = sum;
    for at in average..carrier.len() {
        sum += carrier[at] - carrier[at - average];
        most = most.max(sum);
    }
    let peak = most / math::from_usize(average);
    (1.0 / peak.max(1.0 / MOST_GAIN)).min(MOST_GAIN)
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEP_S: f64 = 62.5e-9;

    /// Lines of 64 µs, 4.7 µs of tip, all else at `black` of it.
    fn lines(count: usize, tip: f64, black: f64) -> Vec<f64> {
        let line = (0..1024).map(|at| tip * if at < 75 { 1.0 } else { black });
        line.cycle().take(1024 * count).collect()
    }

    #[test]
    fn the_first_field_stands_as_if_settled_and_its_tip_is_one() {
        for tip in [0.2, 0.8, 1.3] {
            let mut carrier = lines(312, tip, 0.75);
            GainControl::new(0.05, STEP_S).control(&mut carrier);
            assert!((carrier[40] - 1.0).abs() < 1e-9 && (carrier[500] - 0.75).abs() < 1e-9);
        }
    }

    /// First order: what is off falls to 1/e in a time constant.
    #[test]
    fn a_gain_that_is_off_settles_with_its_time_constant() {
        // Settled on half a tip, and then given a whole one: twice too much gain.
        let mut control = GainControl::new(0.020, STEP_S);
        control.control(&mut lines(4, 0.5, 0.4));
        let mut carrier = lines(312, 1.0, 0.75);
        control.control(&mut carrier);
        for line in [10, 100, 300] {
            let elapsed_s = f64::from(line) * 64e-6;
            let expected = 1.0 + math::exp(-elapsed_s / 0.020);
            let found = carrier[1024 * usize::try_from(line).unwrap()];
            // The gain goes from two lines to two lines in a straight line.
            assert!((found - expected).abs() < 1e-5, "{found} {expected}");
        }
        for _ in 0..10 {
            control.control(&mut lines(312, 1.0, 0.75));
        }
        let mut settled = lines(4, 1.0, 0.75);
        control.control(&mut settled);
        assert!((settled[40] - 1.0).abs() < 1e-4);
    }

    #[test]
    fn nothing_received_is_not_raised_beyond_bounds() {
        let mut control = GainControl::new(0.05, STEP_S);
        control.control(&mut lines(4, 0.0, 0.0));
        // What comes then is raised by what was left of that.
        let mut carrier = lines(2, 1.0, 0.75);
        control.control(&mut carrier);
        assert!((carrier[0] - MOST_GAIN).abs() < 1e-9, "{}", carrier[0]);
    }
}
