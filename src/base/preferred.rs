//! Preferred values: what resistors, capacitors and coils are made as.
//!
//! # Source
//!
//! IEC 60063. The values of E3 to E24 are a list, and not what its rounding formula gives (8 of
//! the 24 differ from it); E48 to E192 are 100 × 10^(i/n) rounded to whole numbers, but for 919 in
//! E192, which is 920 there.

use crate::base::math;

/// A series of preferred values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Series {
    /// Three a decade.
    E3,
    /// Six a decade, 20 % apart.
    E6,
    /// Twelve a decade, 10 %.
    E12,
    /// Twenty-four a decade, 5 %.
    E24,
    /// Forty-eight a decade, 2 %.
    E48,
    /// Ninety-six a decade, 1 %.
    E96,
    /// A hundred and ninety-two a decade, 0.5 %.
    E192,
}

const LISTED: [u32; 24] = [
    100, 110, 120, 130, 150, 160, 180, 200, 220, 240, 270, 300, 330, 360, 390, 430, 470, 510, 560,
    620, 680, 750, 820, 910,
];
const BY_FORMULA: (u32, u32) = (919, 920);

/// How far past a bound a value may lie and still count as the bound, as a share.
const ROUNDING: f64 = 1e-9;

impl Series {
    /// All of them with their names, the coarsest first.
    pub const NAMED: [(&'static str, Self); 7] = [
        ("E3", Self::E3),
        ("E6", Self::E6),
        ("E12", Self::E12),
        ("E24", Self::E24),
        ("E48", Self::E48),
        ("E96", Self::E96),
        ("E192", Self::E192),
    ];

    /// How many values a decade has.
    #[must_use]
    pub fn count(self) -> u32 {
        match self {
            Self::E3 => 3,
            Self::E6 => 6,
            Self::E12 => 12,
            Self::E24 => 24,
            Self::E48 => 48,
            Self::E96 => 96,
            Self::E192 => 192,
        }
    }

    /// Its name, such as "E12".
    #[must_use]
    pub fn name(self) -> &'static str {
        let own = Self::NAMED.iter().find(|(_, series)| *series == self);
        own.map_or("", |(name, _)| name)
    }

    /// The values of the decade from 100 to 999, rising, as whole numbers.
    #[must_use]
    pub fn decade(self) -> Vec<u32> {
        let count = self.count();
        (0..count)
            .map(|index| match self {
                Self::E3 | Self::E6 | Self::E12 | Self::E24 => {
                    LISTED[math::to_index(u64::from(index * (24 / count)))]
                }
                Self::E48 | Self::E96 | Self::E192 => {
                    let step = f64::from(index) / f64::from(count);
                    let rounded = math::floor_u32(100.0 * math::pow(10.0, step) + 0.5);
                    let (formula, listed) = BY_FORMULA;
                    if rounded == formula { listed } else { rounded }
                }
            })
            .collect()
    }

    /// The values from `low` to `high`, both included (to a billionth), rising; none if `low` is
    /// not above 0 or either is not a finite number. Each is the `f64` nearest to its decimal
    /// form: what `"4k7"` or `"220 pF"` are read as.
    #[must_use]
    pub fn values_between(self, low: f64, high: f64) -> Vec<f64> {
        if !(low > 0.0 && low.is_normal() && high.is_finite()) {
            return Vec::new();
        }
        let (least, most) = (low * (1.0 - ROUNDING), high * (1.0 + ROUNDING));
        if !most.is_finite() {
            return Vec::new();
        }
        let figures = self.decade();
        let mut values = Vec::new();
        let mut decade = math::floor(math::log10(least)) - 1.0;
        while math::pow(10.0, decade) <= most {
            let of_decade = figures.iter().map(|&figure| scaled(figure, decade - 2.0));
            values.extend(of_decade.filter(|value| (least..=most).contains(value)));
            decade += 1.0;
        }
        values
    }

    /// The value nearest by ratio, the lower of two as near; `None` if `value` is not above 0 or
    /// not a finite number.
    ///
    /// It is never further off than 22.5 % in E6, 11.8 % in E12, 7.4 % in E24.
    #[must_use]
    pub fn nearest(self, value: f64) -> Option<f64> {
        let distance = |candidate: &f64| math::ln(candidate / value).abs();
        let around = self.values_between(value / 3.0, value * 3.0);
        around.into_iter().min_by(|a, b| distance(a).total_cmp(&distance(b)))
    }
}

/// A whole number times a power of ten, rounded once.
fn scaled(figure: u32, exponent: f64) -> f64 {
    // Powers of ten are exact up to the 22nd; dividing by one is one rounding, multiplying by a
    // tenth would be two.
    let power = math::pow(10.0, exponent.abs());
    if exponent < 0.0 { f64::from(figure) / power } else { f64::from(figure) * power }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_coarser_series_is_part_of_the_finer_ones_of_its_kind() {
        let kinds: [&[Series]; 2] = [
            &[Series::E3, Series::E6, Series::E12, Series::E24],
            &[Series::E48, Series::E96, Series::E192],
        ];
        for pair in kinds.iter().flat_map(|kind| kind.windows(2)) {
            let finer = pair[1].decade();
            assert!(pair[0].decade().iter().all(|figure| finer.contains(figure)), "{pair:?}");
        }
    }

    #[test]
    fn every_series_rises_and_has_as_many_values_as_its_name_says() {
        for (name, series) in Series::NAMED {
            let decade = series.decade();
            assert_eq!(format!("E{}", decade.len()), name);
            assert_eq!(series.name(), name);
            assert_eq!(decade[0], 100);
            assert!(decade.windows(2).all(|pair| pair[0] < pair[1]), "{name}");
            assert!(decade.iter().all(|&figure| figure < 1000), "{name}");
        }
    }

    #[test]
    fn values_are_the_same_numbers_that_their_texts_are_read_as() {
        let found = Series::E12.values_between(18e-12, 47e-12);
        assert_eq!(found, [18e-12, 22e-12, 27e-12, 33e-12, 39e-12, 47e-12]);
        let found = Series::E6.values_between(680.0, 4700.0);
        assert_eq!(found, [680.0, 1000.0, 1500.0, 2200.0, 3300.0, 4700.0]);
        assert_eq!(Series::E3.values_between(0.9, 1.1), [1.0]);
        assert_eq!(Series::E96.values_between(4.64e-6, 4.87e-6), [4.64e-6, 4.75e-6, 4.87e-6]);
    }

    #[test]
    fn a_bound_that_was_computed_still_counts() {
        let high = 0.1 + 0.2; // the double above 0.3
        assert_eq!(Series::E24.values_between(high, high), [0.3]);
        let short = 4.7 / 3.0 * 3.0 * (1.0 - 1e-15);
        assert_eq!(Series::E6.values_between(4.0, short), [4.7]);
    }

    #[test]
    fn what_is_no_range_holds_nothing() {
        let beyond = [(1.0, f64::INFINITY), (1.0, f64::MAX)];
        for (low, high) in [(0.0, 1.0), (-1.0, 1.0), (2.0, 1.0)].into_iter().chain(beyond) {
            assert_eq!(Series::E12.values_between(low, high), Vec::<f64>::new(), "{low} {high}");
        }
        assert_eq!(Series::E12.values_between(f64::NAN, 1.0), Vec::<f64>::new());
        assert_eq!(Series::E12.nearest(0.0), None);
        assert_eq!(Series::E12.nearest(f64::NAN), None);
    }

    #[test]
    fn nearest_is_nearest_by_ratio_across_the_end_of_a_decade_too() {
        assert_eq!(Series::E12.nearest(25.5e-6), Some(27e-6));
        assert_eq!(Series::E12.nearest(9.2), Some(10.0));
        assert_eq!(Series::E12.nearest(8.9), Some(8.2));
        assert_eq!(Series::E24.nearest(980.0), Some(1000.0));
        // 1.2247 is where 1.0 and 1.5 are as near.
        assert_eq!(Series::E6.nearest(1.224), Some(1.0));
        assert_eq!(Series::E6.nearest(1.225), Some(1.5));
    }

    /// Largest error when rounding to a series; computed from the widest gap of each list.
    #[test]
    fn rounding_is_never_further_off_than_half_the_widest_gap() {
        for (series, most) in [(Series::E6, 22.5), (Series::E12, 11.8), (Series::E24, 7.4)] {
            let mut worst = 0.0_f64;
            for step in 0..10_000 {
                let value = math::pow(10.0, f64::from(step) / 10_000.0);
                let nearest = series.nearest(value).unwrap();
                worst = worst.max((nearest / value).max(value / nearest) - 1.0);
            }
            assert!((100.0 * worst - most).abs() < 0.06, "{series:?} {worst}");
        }
    }
}
