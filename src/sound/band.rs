//! From samples at the chip's clock to sound samples, with nothing folded back into what is heard.

use crate::base::math;
use crate::base::ticks::ClockRate;
use crate::sound::SOUND_HZ;
use crate::sound::SoundError;
use std::f64::consts::PI;

/// What is kept: all up to here, Hz, the upper end of hearing; common practice, no source.
const KEPT_HZ: f64 = 20_000.0;
/// What is taken away: all from here on, Hz. What lies between folds back to where nothing is heard,
/// above 48 − 28 = 20 kHz.
const TAKEN_HZ: f64 = 28_000.0;
/// By how much, dB; our own choice: a burst at the full swing leaves a ten-thousandth of it.
const TAKEN_DB: f64 = 80.0;
/// Steps of the table for each clock; between them lies a straight line, which is off by less than
/// (π / 8 / 41)² / 8, 10⁻⁶ of the middle.
const TABLE_STEPS: u32 = 8;
/// Slowest clock, Hz: a tenth of the class's, far above what is kept; our own choice.
const LEAST_CLOCK_HZ: f64 = 200_000.0;

/// A low pass and a change of rate in one: every sound sample is the weighted mean of the samples
/// around its own moment, which need not be a clock.
///
/// Sample n stands for n / 48 000 s after the first clock. After so many clocks there are as many
/// samples as 48 000ths of a second have passed whole, so that nothing drifts. Before the first clock
/// all was as it begins, after the last as it ends.
///
/// # Source
///
/// A. V. Oppenheim and R. W. Schafer, *Discrete-Time Signal Processing*: Kaiser's window, β and its
/// length, from memory.
#[derive(Clone, Debug)]
pub struct Band {
    clock: ClockRate,
    /// Weights from the middle outwards.
    table: Vec<f64>,
    /// Clocks to either side of the middle.
    reach: u64,
    /// The clocks that are still needed.
    held: Vec<f32>,
    /// Number of the first of them, counted with `reach` clocks before the beginning.
    first: u64,
    /// Clocks so far.
    given: u64,
    /// Samples so far.
    taken: u64,
}

impl Band {
    /// A band for samples at a clock.
    ///
    /// # Errors
    ///
    /// [`SoundError::SlowClock`].
    pub fn new(clock: ClockRate) -> Result<Self, SoundError> {
        let hz = clock.hertz();
        if hz < LEAST_CLOCK_HZ {
            return Err(SoundError::SlowClock { hz, least_hz: LEAST_CLOCK_HZ });
        }
        let slope = 2.0 * PI * (TAKEN_HZ - KEPT_HZ) / hz;
        let length = (TAKEN_DB - 7.95) / (2.285 * slope);
        let reach = math::ceil(length / 2.0);
        let beta = 0.1102 * (TAKEN_DB - 8.7);
        let steps = f64::from(TABLE_STEPS);
        let middle_hz = 0.5 * (KEPT_HZ + TAKEN_HZ);
        let weight = |index: usize| {
            let clocks = math::from_usize(index) / steps;
            let share = clocks / reach;
            let window = bessel(beta * (1.0 - share * share).max(0.0).sqrt()) / bessel(beta);
            window * sinc(2.0 * middle_hz * clocks / hz)
        };
        let count = math::floor_index(reach * steps);
        // One more, so that a straight line has an end.
        let table = (0..=count).map(weight).chain([0.0]).collect();
        let reach = u64::from(math::floor_u32(reach));
        Ok(Self { clock, table, reach, held: Vec::new(), first: 0, given: 0, taken: 0 })
    }

    /// How many samples there are after so many clocks.
    #[must_use]
    pub fn samples_after(clock: ClockRate, clocks: u64) -> u64 {
        let (numerator, denominator) = clock.ratio();
        let scaled = u128::from(clocks) * u128::from(SOUND_HZ) * u128::from(denominator);
        u64::try_from(scaled / u128::from(numerator)).unwrap_or(u64::MAX)
    }

    /// Takes more clocks and gives the samples that they complete.
    pub fn push(&mut self, volts: &[f32]) -> Vec<f32> {
        if let (true, Some(&begins)) = (self.given == 0, volts.first()) {
            self.held.resize(math::to_index(self.reach), begins);
        }
        self.held.extend_from_slice(volts);
        self.given += volts.len() as u64;
        let ready = self.given.saturating_sub(self.reach + 1);
        self.take(ready)
    }

    /// Gives the samples that are left.
    pub fn finish(&mut self) -> Vec<f32> {
        let ends = self.held.last().copied().unwrap_or(0.0);
        let length = self.held.len() + math::to_index(self.reach + 1);
        self.held.resize(length, ends);
        self.take(self.given)
    }

    /// The samples due whose moment lies before the clock `ready`.
    fn take(&mut self, ready: u64) -> Vec<f32> {
        let due = Self::samples_after(self.clock, self.given);
        let mut samples = Vec::new();
        while self.taken < due {
            let (clock, rest) = self.place(self.taken);
            if clock >= ready {
                break;
            }
            samples.push(self.sample(clock, rest));
            self.taken += 1;
        }
        let (clock, _) = self.place(self.taken);
        let passed = math::to_index(clock - self.first).min(self.held.len());
        self.held.drain(..passed);
        self.first += passed as u64;
        samples
    }

    /// The clock before a sample's moment, and what lies between as a share of a clock.
    fn place(&self, sample: u64) -> (u64, f64) {
        let (numerator, denominator) = self.clock.ratio();
        let over = u128::from(sample) * u128::from(numerator);
        let under = u128::from(SOUND_HZ) * u128::from(denominator);
        let clock = u64::try_from(over / under).unwrap_or(u64::MAX);
        let rest = u64::try_from(over % under).unwrap_or(0);
        (clock, math::from_u64(rest) / (f64::from(SOUND_HZ) * math::from_u64(denominator)))
    }

    fn sample(&self, clock: u64, rest: f64) -> f32 {
        let from = math::to_index(clock - self.first);
        let around = &self.held[from..=from + math::to_index(2 * self.reach)];
        let before = around[0];
        if around.iter().all(|&volts| volts.to_bits() == before.to_bits()) {
            return before;
        }
        // `around` begins `reach` clocks before the one that stands before the moment.
        let middle = math::from_u64(self.reach) + rest;
        let (mut sum, mut all) = (0.0, 0.0);
        for (index, &volts) in around.iter().enumerate() {
            let weight = self.weight((math::from_usize(index) - middle).abs());
            sum += weight * f64::from(volts);
            all += weight;
        }
        math::to_f32(sum / all)
    }

    fn weight(&self, clocks: f64) -> f64 {
        let place = clocks * f64::from(TABLE_STEPS);
        let index = math::floor_index(place);
        match self.table.get(index..index + 2) {
            Some(&[here, next]) => math::lerp(here, next, place - math::from_usize(index)),
            _ => 0.0,
        }
    }
}

fn sinc(x: f64) -> f64 {
    if x.abs() < 1e-12 { 1.0 } else { math::sin(PI * x) / (PI * x) }
}

/// The modified Bessel function of order 0, by its series.
fn bessel(x: f64) -> f64 {
    let (mut term, mut sum) = (1.0, 1.0);
    for step in 1..200 {
        let half = 0.5 * x / f64::from(step);
        term *= half * half;
        sum += term;
        if term < 1e-17 * sum {
            break;
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    fn two_megahertz() -> ClockRate {
        ClockRate::new(2_000_000, 1).unwrap()
    }

    /// Every sample of a sine of so many hertz, given in pieces.
    fn sine(hz: f64, pieces: &[usize]) -> Vec<f32> {
        let mut band = Band::new(two_megahertz()).unwrap();
        let (mut samples, mut at) = (Vec::new(), 0);
        for &piece in pieces {
            let phase = |clock: usize| TAU * hz * math::from_usize(clock) / 2e6;
            let volts: Vec<f32> =
                (at..at + piece).map(|clock| math::to_f32(math::sin(phase(clock)))).collect();
            samples.extend(band.push(&volts));
            at += piece;
        }
        samples.extend(band.finish());
        samples
    }

    /// Largest difference from the sine itself, away from the ends.
    fn worst(hz: f64) -> f64 {
        let samples = sine(hz, &[39_936; 3]);
        let inner = 100..samples.len() - 100;
        inner
            .map(|n| {
                let exact = math::sin(TAU * hz * math::from_usize(n) / 48_000.0);
                (f64::from(samples[n]) - exact).abs()
            })
            .fold(0.0, f64::max)
    }

    /// 80 dB are 10⁻⁴, in the passed band as in the stopped one: that is what a window has.
    #[test]
    fn what_is_kept_comes_through_at_its_own_moment() {
        for hz in [50.0, 976.5625, 9000.0, 19_900.0] {
            assert!(worst(hz) < 2e-4, "{hz}: {}", worst(hz));
        }
    }

    #[test]
    fn what_would_fold_back_is_taken_away() {
        for hz in [28_100.0, 47_000.0, 96_500.0, 500_000.0] {
            let samples = sine(hz, &[39_936; 2]);
            let inner = &samples[100..samples.len() - 100];
            let loudest = inner.iter().fold(0.0_f32, |most, sample| most.max(sample.abs()));
            assert!(loudest < 2e-4, "{hz}: {loudest}");
        }
    }

    #[test]
    fn pieces_make_no_difference() {
        let whole = sine(1234.5, &[100_000]);
        assert_eq!(whole, sine(1234.5, &[1, 7, 992, 39_000, 60_000]));
    }

    /// 39 936 clocks at 2 MHz are 958.464 samples: 958 after one field, 1916 after two, 958 464
    /// after a thousand.
    #[test]
    fn samples_are_the_whole_ones_of_the_exact_time() {
        let count = |fields: usize| {
            let mut band = Band::new(two_megahertz()).unwrap();
            let given: usize = (0..fields).map(|_| band.push(&[0.25; 39_936]).len()).sum();
            given + band.finish().len()
        };
        assert_eq!([count(1), count(2), count(100)], [958, 1916, 95_846]);
        assert_eq!(Band::samples_after(two_megahertz(), 39_936_000), 958_464);
        let sixty = ClockRate::new(2_012_160, 1).unwrap();
        assert_eq!(Band::samples_after(sixty, 262 * 128), 800, "a sixtieth, exactly");
    }

    #[test]
    fn what_stands_still_stays_as_it_is_to_the_last_bit() {
        let mut band = Band::new(two_megahertz()).unwrap();
        let mut samples = band.push(&[0.1; 50_000]);
        samples.extend(band.finish());
        assert!(samples.iter().all(|sample| sample.to_bits() == 0.1_f32.to_bits()));
    }

    #[test]
    fn a_slow_clock_is_refused() {
        let slow = Band::new(ClockRate::new(100_000, 1).unwrap()).unwrap_err();
        assert_eq!(
            slow.to_string(),
            "sound needs a clock of 200000 Hz or more, but this one runs at 100000 Hz"
        );
    }
}
