//! Random numbers for boards, from a board's own number.

use backporch::base::math;
use chacha20::ChaCha8Rng;
use chacha20::rand_core::Rng;
use chacha20::rand_core::SeedableRng;

/// A source of random choices.
pub(crate) struct Chance(ChaCha8Rng);

impl Chance {
    pub(crate) fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    pub(crate) fn bits(&mut self) -> u64 {
        self.0.next_u64()
    }

    /// Below `count`.
    pub(crate) fn below(&mut self, count: usize) -> usize {
        usize::try_from(self.0.next_u32()).unwrap() % count
    }

    /// From `least` to `most`, both possible.
    pub(crate) fn count(&mut self, least: usize, most: usize) -> usize {
        least + self.below(most - least + 1)
    }

    /// True so many times in a hundred.
    pub(crate) fn percent(&mut self, percent: usize) -> bool {
        self.below(100) < percent
    }

    pub(crate) fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[self.below(from.len())]
    }

    /// A share from 0 to 1.
    pub(crate) fn share(&mut self) -> f64 {
        f64::from(self.0.next_u32()) / f64::from(u32::MAX)
    }

    pub(crate) fn between(&mut self, least: f64, most: f64) -> f64 {
        least + (most - least) * self.share()
    }

    /// Every decade as likely as any other.
    pub(crate) fn decades(&mut self, least: f64, most: f64) -> f64 {
        math::exp(self.between(math::ln(least), math::ln(most)))
    }

    /// One way round or the other.
    pub(crate) fn sign(&mut self) -> f64 {
        if self.percent(50) { 1.0 } else { -1.0 }
    }
}
