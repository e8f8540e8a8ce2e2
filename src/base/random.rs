//! Seeded random numbers: what is drawn depends on the seed, the stream and how many were drawn from
//! that stream before, and on nothing else.

use crate::base::math;
use chacha20::ChaCha8Rng;
use chacha20::rand_core::Rng;
use chacha20::rand_core::SeedableRng;
use std::f64::consts::TAU;

/// One stream of random numbers.
#[derive(Debug)]
pub struct Draws {
    generator: ChaCha8Rng,
}

impl Draws {
    /// The stream of that number; streams of one seed have nothing to do with one another.
    #[must_use]
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut generator = ChaCha8Rng::seed_from_u64(seed);
        generator.set_stream(stream);
        Self { generator }
    }

    /// Evenly between 0 and 1, neither of them.
    pub fn uniform(&mut self) -> f64 {
        const STEP: f64 = 1.0 / 9_007_199_254_740_992.0;
        (math::from_u64(self.generator.next_u64() >> 11) + 0.5) * STEP
    }

    /// Normally distributed, mean 0, deviation 1.
    ///
    /// # Source
    ///
    /// G. E. P. Box and M. E. Muller, Annals of Mathematical Statistics 29 (1958), 610.
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * math::ln(self.uniform())).sqrt();
        radius * math::cos(TAU * self.uniform())
    }

    /// Exponentially distributed with a mean.
    pub fn exponential(&mut self, mean: f64) -> f64 {
        -mean * math::ln(self.uniform())
    }

    /// How many events happen of which `mean` are expected; at most 1000.
    ///
    /// # Source
    ///
    /// D. E. Knuth, The Art of Computer Programming, volume 2, 3.4.1, algorithm Q.
    pub fn poisson(&mut self, mean: f64) -> u32 {
        let (enough, mut product) = (math::exp(-mean), 1.0);
        for count in 0..1000 {
            product *= self.uniform();
            if product <= enough {
                return count;
            }
        }
        1000
    }

    /// A whole number, 1 to `most`, each as likely.
    pub fn one_to(&mut self, most: u32) -> u32 {
        1 + math::floor_u32(self.uniform() * f64::from(most)).min(most.saturating_sub(1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const COUNT: u32 = 40_000;

    fn mean_and_deviation(mut draw: impl FnMut() -> f64) -> (f64, f64) {
        let values: Vec<f64> = (0..COUNT).map(|_| draw()).collect();
        let mean = values.iter().sum::<f64>() / f64::from(COUNT);
        let square = values.iter().map(|value| (value - mean) * (value - mean)).sum::<f64>();
        (mean, (square / f64::from(COUNT)).sqrt())
    }

    /// A mean over 40 000 of deviation 1 is off by 0.005, a deviation by 0.0035: bars of five.
    #[test]
    fn means_and_deviations_are_those_of_the_distributions() {
        let mut draws = Draws::new(7, 0);
        let (mean, deviation) = mean_and_deviation(|| draws.normal());
        assert!(mean.abs() < 0.025 && (deviation - 1.0).abs() < 0.02, "{mean} {deviation}");
        let (mean, deviation) = mean_and_deviation(|| draws.exponential(1.0));
        assert!((mean - 1.0).abs() < 0.025 && (deviation - 1.0).abs() < 0.05, "{mean} {deviation}");
        let (mean, deviation) = mean_and_deviation(|| f64::from(draws.poisson(4.0)));
        assert!((mean - 4.0).abs() < 0.05 && (deviation - 2.0).abs() < 0.04, "{mean} {deviation}");
        let (mean, deviation) = mean_and_deviation(|| f64::from(draws.one_to(3)));
        let expected = (2.0_f64 / 3.0).sqrt();
        assert!((mean - 2.0).abs() < 0.025 && (deviation - expected).abs() < 0.02, "{deviation}");
    }

    #[test]
    fn a_stream_is_the_same_again_and_no_other() {
        let first = |seed, stream| Draws::new(seed, stream).uniform();
        assert_eq!(first(1, 2).to_bits(), first(1, 2).to_bits());
        assert_ne!(first(1, 2).to_bits(), first(1, 3).to_bits());
        assert_ne!(first(1, 2).to_bits(), first(2, 2).to_bits());
    }
}
