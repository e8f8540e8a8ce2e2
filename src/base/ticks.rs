//! Exact clock time. A tick is one period of the chip's clock; nothing here is rounded until
//! [`ClockRate::seconds`] is asked for.

use crate::base::math;
use std::num::NonZeroU32;

/// A moment, in clock periods since the start of the field.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Tick(pub u64);

/// A length, in clock periods.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TickSpan(pub u64);

impl std::ops::Add<TickSpan> for Tick {
    type Output = Self;
    fn add(self, span: TickSpan) -> Self {
        Self(self.0 + span.0)
    }
}

/// A frequency as an exact ratio of whole numbers, in hertz.
///
/// # Invariants
///
/// Numerator and denominator are positive ([`ClockRate::new`] checks) and in lowest terms.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ClockRate {
    numerator: u64,
    denominator: u64,
}

impl ClockRate {
    /// `numerator / denominator` hertz; `None` if either is zero.
    #[must_use]
    pub fn new(numerator: u64, denominator: u64) -> Option<Self> {
        if numerator == 0 || denominator == 0 {
            return None;
        }
        let divisor = greatest_common_divisor(numerator, denominator);
        Some(Self { numerator: numerator / divisor, denominator: denominator / divisor })
    }

    /// So many whole hertz.
    #[must_use]
    pub fn whole(hertz: NonZeroU32) -> Self {
        Self { numerator: u64::from(hertz.get()), denominator: 1 }
    }

    /// The rate as a number, Hz.
    #[must_use]
    pub fn hertz(self) -> f64 {
        math::from_u64(self.numerator) / math::from_u64(self.denominator)
    }

    /// The ratio's two numbers, in lowest terms.
    #[must_use]
    pub fn ratio(self) -> (u64, u64) {
        (self.numerator, self.denominator)
    }

    /// A rate `factor` times as high; `None` if `factor` is zero.
    #[must_use]
    pub fn times(self, factor: u32) -> Option<Self> {
        Self::new(self.numerator.checked_mul(u64::from(factor))?, self.denominator)
    }

    /// When `ticks` periods have passed, s.
    #[must_use]
    pub fn seconds(self, ticks: u64) -> f64 {
        math::from_u64(ticks) * math::from_u64(self.denominator) / math::from_u64(self.numerator)
    }

    /// When `ticks` periods have passed, in whole picoseconds, rounded to nearest.
    #[must_use]
    pub fn picoseconds(self, ticks: u64) -> u64 {
        let scaled = u128::from(ticks) * u128::from(self.denominator) * 1_000_000_000_000;
        let rounded = (scaled + u128::from(self.numerator) / 2) / u128::from(self.numerator);
        u64::try_from(rounded).unwrap_or(u64::MAX)
    }
}

fn greatest_common_divisor(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { greatest_common_divisor(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_of_128_clocks_at_2_mhz_is_64_microseconds() {
        let rate = ClockRate::new(2_000_000, 1).unwrap();
        assert_eq!(rate.picoseconds(128), 64_000_000);
    }

    #[test]
    fn picoseconds_are_rounded_from_the_exact_ratio() {
        let rate = ClockRate::new(2_012_160, 1).unwrap();
        assert_eq!(rate.picoseconds(1), 496_978); // 496 978.372... ps
        assert_eq!(rate.picoseconds(128 * 262), 16_666_666_667);
    }
}
