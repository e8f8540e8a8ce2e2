//! What reaches the detector of either sideband: one complex filter about the vision carrier.
//!
//! # Source
//!
//! The Nyquist slope rises in a straight line over the vestige to either side of the carrier, where
//! it is at a half (−6 dB; maker's data of a surface-wave filter: 45.75 MHz, −6.0 dB, −6.7 to −5.3),
//! so that what one sideband lacks the other has: ITU-R BT.470 gives vestige and main sideband. From
//! the end of the main sideband it falls to nothing at the sound carrier, which a set takes out.

use crate::base::math;
use crate::path::PathError;
use crate::path::system::SystemData;
use std::f64::consts::PI;

/// Length of the filter to either side, s: 0.17 MHz between what passes and what does not.
const HALF_S: f64 = 6e-6;
/// Steps of the integral over the passed band.
const STEPS: usize = 2000;

/// What is passed `offset_hz` above the vision carrier, 0 to 1.
#[must_use]
pub fn response(system: &SystemData, offset_hz: f64) -> f64 {
    let slope = 0.5 + 0.5 * offset_hz / system.vestige_hz;
    let top = (system.sound_hz - offset_hz) / (system.sound_hz - system.main_hz);
    slope.min(top).clamp(0.0, 1.0)
}

/// The filter as taps for equally spaced samples, without delay; 1 at the carrier.
#[derive(Clone, Debug, PartialEq)]
pub struct Sideband {
    /// Tap 0, real.
    centre: f64,
    /// Taps 1, 2 ...: real and imaginary part; tap −k is the conjugate of tap k.
    taps: Vec<(f64, f64)>,
}

impl Sideband {
    /// Designs the taps.
    ///
    /// # Errors
    ///
    /// [`PathError::TooFewSamples`] if the sound carrier lies beyond half the sample rate.
    pub fn new(system: &SystemData, step_s: f64) -> Result<Self, PathError> {
        let needed_hz = 2.0 * system.sound_hz;
        let found_hz = 1.0 / step_s;
        if found_hz <= needed_hz {
            return Err(PathError::TooFewSamples { system: system.name, needed_hz, found_hz });
        }
        let half = math::floor_index(HALF_S / step_s);
        // Hann's window: what it smooths is straight-lined already.
        let window = |k: usize| {
            let share = math::from_usize(k) / math::from_usize(half + 1);
            0.5 + 0.5 * math::cos(PI * share)
        };
        let mut taps: Vec<(f64, f64)> = (0..=half)
            .map(|k| {
                let (re, im) = transform(system, math::from_usize(k) * step_s);
                (window(k) * re, window(k) * im)
            })
            .collect();
        let carrier = taps[0].0 + 2.0 * taps[1..].iter().map(|tap| tap.0).sum::<f64>();
        for tap in &mut taps {
            *tap = (tap.0 / carrier, tap.1 / carrier);
        }
        let centre = taps.remove(0).0;
        Ok(Self { centre, taps })
    }

    /// Samples it needs before and after each.
    #[must_use]
    pub fn half(&self) -> usize {
        self.taps.len()
    }

    /// Filters; of `real` and `imaginary` the first and last [`Sideband::half`] are what lies before
    /// and after.
    #[must_use]
    pub fn filtered(&self, real: &[f64], imaginary: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let half = self.half();
        let count = real.len().saturating_sub(2 * half);
        let scaled = |x: &[f64]| x[half..half + count].iter().map(|x| self.centre * x).collect();
        let (mut re, mut im): (Vec<f64>, Vec<f64>) = (scaled(real), scaled(imaginary));
        for (index, &(a, b)) in self.taps.iter().enumerate() {
            let k = index + 1;
            // Tap k weighs what was k samples ago, its conjugate what comes in k.
            let (re_before, re_after) = (&real[half - k..][..count], &real[half + k..][..count]);
            let (im_before, im_after) =
                (&imaginary[half - k..][..count], &imaginary[half + k..][..count]);
            for at in 0..count {
                re[at] += a * (re_before[at] + re_after[at]) - b * (im_before[at] - im_after[at]);
                im[at] += a * (im_before[at] + im_after[at]) + b * (re_before[at] - re_after[at]);
            }
        }
        (re, im)
    }
}

/// The response's inverse Fourier transform at a time, by Simpson's rule.
fn transform(system: &SystemData, time_s: f64) -> (f64, f64) {
    let (low, high) = (-system.vestige_hz, system.sound_hz);
    let step_hz = (high - low) / math::from_usize(STEPS);
    let (mut re, mut im) = (0.0, 0.0);
    for index in 0..=STEPS {
        let offset_hz = low + step_hz * math::from_usize(index);
        let ends = index == 0 || index == STEPS;
        let weight = if ends { 1.0 } else { [2.0, 4.0][index % 2] };
        let passed = weight * response(system, offset_hz);
        let angle = 2.0 * PI * offset_hz * time_s;
        re += passed * math::cos(angle);
        im += passed * math::sin(angle);
    }
    (re * step_hz / 3.0, im * step_hz / 3.0)
}
