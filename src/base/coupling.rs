//! A coupling capacitor: a first-order high-pass, before the set's input amplifier and before a
//! loudspeaker, which does not pass what stands still.
//!
//! Before the amplifier the capacitor starts with the charge it would have if the waveform had been repeating for ever,
//! because that is what a set that is already switched on has. A start from zero would show a
//! sag of hundreds of milliseconds that nobody watching sees; a start from the mean would be wrong
//! by the tilt within the field.

use crate::base::math;
use std::f64::consts::TAU;

const BLOCK: usize = 64;

/// The high-pass, ready to run.
#[derive(Clone, Copy, Debug)]
pub struct Coupling {
    keep: f64,
    capacitor: f64,
}

impl Coupling {
    /// A high-pass with its −3 dB point at `corner_hz`, for samples `step_s` apart, as settled as
    /// a set that has been receiving `volts` over and over.
    #[must_use]
    pub fn settled(corner_hz: f64, step_s: f64, volts: &[f32]) -> Self {
        let per_sample = TAU * corner_hz * step_s;
        let mut coupling = Self { keep: math::exp(-per_sample), capacitor: 0.0 };
        let share = -math::expm1(-per_sample * math::from_usize(volts.len()));
        if share > 0.0 {
            coupling.capacitor = coupling.charged_by(volts) / share;
        }
        coupling
    }

    /// The same, as settled as a set that has been receiving `standing` volts for ever.
    #[must_use]
    pub fn standing(corner_hz: f64, step_s: f64, standing: f64) -> Self {
        Self { keep: math::exp(-TAU * corner_hz * step_s), capacitor: standing }
    }

    /// The capacitor's voltage after `volts`, from zero. In blocks, four at a time, whose sums do not
    /// wait for one another: sample by sample it takes as long as the video filter.
    fn charged_by(&self, volts: &[f32]) -> f64 {
        let mut weights = [1.0 - self.keep; BLOCK];
        for at in (0..BLOCK - 1).rev() {
            weights[at] = weights[at + 1] * self.keep;
        }
        let keep_block = math::pow(self.keep, math::from_usize(BLOCK));
        let (blocks, rest) = volts.as_chunks::<BLOCK>();
        let (fours, others) = blocks.as_chunks::<4>();
        let mut charged = 0.0;
        for four in fours {
            let mut sums = [0.0; 4];
            for (at, weight) in weights.iter().enumerate() {
                for (sum, block) in sums.iter_mut().zip(four) {
                    *sum += f64::from(block[at]) * weight;
                }
            }
            charged = sums.iter().fold(charged, |charge, sum| charge * keep_block + sum);
        }
        for block in others {
            let sums = block.iter().zip(&weights).map(|(&v, w)| f64::from(v) * w);
            charged = charged * keep_block + sums.sum::<f64>();
        }
        rest.iter()
            .fold(charged, |charge, &v| charge * self.keep + (1.0 - self.keep) * f64::from(v))
    }

    /// Takes the capacitor's voltage off a waveform. In blocks: only their ends wait for one another.
    pub fn apply(&mut self, volts: &mut [f32]) {
        const SHORT: usize = 8;
        let gain = 1.0 - self.keep;
        let mut powers = [1.0; SHORT + 1];
        for at in 0..SHORT {
            powers[at + 1] = powers[at] * self.keep;
        }
        let (blocks, rest) = volts.as_chunks_mut::<SHORT>();
        for block in blocks {
            let mut taken = 0.0;
            for (volts, power) in block.iter_mut().zip(powers) {
                let input = f64::from(*volts);
                *volts = math::to_f32(input - (power * self.capacitor + taken));
                taken = self.keep * taken + gain * input;
            }
            self.capacitor = powers[SHORT] * self.capacitor + taken;
        }
        for volts in rest {
            let input = f64::from(*volts);
            *volts = math::to_f32(input - self.capacitor);
            self.capacitor = self.keep * self.capacitor + gain * input;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 470 µF into 75 Ω + 75 Ω.
    const CORNER_HZ: f64 = 1.0 / (TAU * 470e-6 * 150.0);

    #[test]
    fn a_step_droops_by_a_quarter_in_20_ms_behind_470_microfarads() {
        assert!((CORNER_HZ - 2.2575).abs() < 1e-4);
        let step_s = 1e-6;
        let mut coupling = Coupling::settled(CORNER_HZ, step_s, &[0.0; 100]);
        let mut step = vec![1.0; 20_001];
        coupling.apply(&mut step);
        let last = f64::from(step[20_000]);
        assert!((1.0 - last - 0.246_998).abs() < 1e-5, "{last}");
    }

    #[test]
    fn a_constant_is_gone_from_the_first_sample_on() {
        let mut volts = vec![0.7_f32; 5000];
        Coupling::settled(CORNER_HZ, 62.5e-9, &volts).apply(&mut volts);
        assert!(volts.iter().all(|v| v.abs() < 1e-9));
    }

    /// A step falls as exp(−2π 20 Hz t): to 1/e after 1 / (2π 20) s, 382 samples of 48 kHz.
    #[test]
    fn a_step_dies_away_and_what_stands_is_gone() {
        let mut coupling = Coupling::standing(20.0, 1.0 / 48_000.0, 0.5);
        let mut volts = [vec![0.5; 5], vec![1.5; 383]].concat();
        coupling.apply(&mut volts);
        assert!(volts[..5].iter().all(|volts| volts.abs() < 1e-15));
        let last = f64::from(volts[5 + 382]);
        assert!((last - math::exp(-1.0)).abs() < 1e-4, "{last}");
    }

    #[test]
    fn a_repeating_waveform_comes_out_the_same_every_time() {
        let volts: Vec<f32> = (0..1237_u16).map(|k| if k < 400 { 1.0 } else { 0.1 }).collect();
        let mut coupling = Coupling::settled(2000.0, 1e-6, &volts);
        let [mut once, mut again] = [volts.clone(), volts];
        coupling.apply(&mut once);
        coupling.apply(&mut again);
        assert!(once.iter().zip(&again).all(|(a, b)| (a - b).abs() < 2e-7));
        assert!(once.iter().copied().map(f64::from).sum::<f64>().abs() < 1e-3);
    }
}
