//! What reaches the detector of either sideband: one complex filter about the vision carrier.
//!
//! # Source
//!
//! The Nyquist slope rises in a straight line over the vestige to either side of the carrier, where
//! it is at a half (−6 dB; maker's data of a surface-wave filter: 45.75 MHz, −6.0 dB, −6.7 to −5.3),
//! so that what one sideband lacks the other has: ITU-R BT.470 gives vestige and main sideband. From
//! the end of the main sideband it falls to nothing at the sound carrier, which a set takes out.

use crate::base::math;
use crate::base::parallel;
use crate::path::PathError;
use crate::path::system::SystemData;
use std::f64::consts::PI;

/// Length of the filter to either side, s: 0.17 MHz between what passes and what does not.
const HALF_S: f64 = 6e-6;
/// Samples that are filtered at a time: with what lies around them they fit into a core's own memory.
const PART: usize = 1024;

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
        let (mut re, mut im) = (vec![0.0; count], vec![0.0; count]);
        let parts = re.chunks_mut(PART).zip(im.chunks_mut(PART)).enumerate();
        let parts = parts.map(|(part, outputs)| (part * PART, outputs)).collect();
        parallel::each(
            parts,
            || (),
            |(), (first, (re, im))| {
                let inputs = first..first + re.len() + 2 * half;
                self.filter_part((&real[inputs.clone()], &imaginary[inputs]), re, im);
            },
        );
        (re, im)
    }

    /// One part, short enough that all taps find it where they left it.
    fn filter_part(&self, (real, imaginary): (&[f64], &[f64]), re: &mut [f64], im: &mut [f64]) {
        let (half, count) = (self.half(), re.len());
        for at in 0..count {
            re[at] = self.centre * real[half + at];
            im[at] = self.centre * imaginary[half + at];
        }
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
    }
}

/// The response's inverse Fourier transform at a time, 0 or later, s: that of the corners at which its
/// slope changes, over −ω².
fn transform(system: &SystemData, time_s: f64) -> (f64, f64) {
    let &SystemData { vestige_hz, main_hz, sound_hz, .. } = system;
    let omega = 2.0 * PI * time_s;
    if omega <= 0.0 {
        return (0.5 * (sound_hz + main_hz), 0.0);
    }
    let (rise, fall) = (0.5 / vestige_hz, 1.0 / (sound_hz - main_hz));
    let corners = [(-vestige_hz, rise), (vestige_hz, -rise), (main_hz, -fall), (sound_hz, fall)];
    corners.iter().fold((0.0, 0.0), |(re, im), (corner_hz, bend)| {
        let share = bend / (omega * omega);
        let angle = omega * corner_hz;
        (re - share * math::cos(angle), im - share * math::sin(angle))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::path::system::System;

    /// Simpson's rule over the passed band.
    #[test]
    fn the_taps_are_the_integral_of_the_response() {
        const STEPS: u32 = 40_000;
        for system in [System::Bg, System::I, System::M].map(System::data) {
            for time_s in [0.0, 62.5e-9, 1e-6, 5.9e-6] {
                let low_hz = -system.vestige_hz;
                let step_hz = (system.sound_hz - low_hz) / f64::from(STEPS);
                let (mut re, mut im) = (0.0, 0.0);
                for index in 0..=STEPS {
                    let offset_hz = low_hz + step_hz * f64::from(index);
                    let ends = index == 0 || index == STEPS;
                    let weight = if ends { 1.0 } else { [2.0, 4.0][index as usize % 2] };
                    let passed = weight * response(&system, offset_hz);
                    let angle = 2.0 * PI * offset_hz * time_s;
                    re += passed * math::cos(angle) * step_hz / 3.0;
                    im += passed * math::sin(angle) * step_hz / 3.0;
                }
                let found = transform(&system, time_s);
                // Against the whole band: the rule rounds corners off.
                let off = (found.0 - re).abs().max((found.1 - im).abs()) / system.sound_hz;
                assert!(off < 1e-8, "{} {time_s}: {off}", system.name);
            }
        }
    }
}
