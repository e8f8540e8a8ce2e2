//! What is kept of a run. It grows with nothing but the number of factors and elements, and two
//! halves of a run add up to the bytes of the whole: everything is counted in whole numbers.

use crate::analysis::spread::Board;
use crate::analysis::spread::Measured;
use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;
use crate::base::math;
use crate::scenario::Scenario;
use serde::Deserialize;
use serde::Serialize;

/// Levels are counted in microvolts.
const PER_VOLT: f64 = 1e6;
/// Draws are counted in millionths of the way from the middle of their law to its end.
const PER_DRAW: f64 = 1e6;
/// Width of a histogram's bin, and the first one's start, mV.
const BIN_MV: i64 = 2;
const FIRST_MV: i64 = -6000;
/// Bins: up to 14 V.
const BINS: usize = 10_000;

/// A run, or a part of one.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Tally {
    /// Boards in it.
    pub boards: u64,
    /// Boards that could not be solved; they count as bad.
    pub unsolved: u64,
    /// Boards that are good.
    pub good: u64,
    /// Boards that show every element.
    pub shows_all: u64,
    /// By element: clear, faint, missing.
    pub seen: Vec<[u64; 3]>,
    /// Good, weak and failing sync.
    pub sync: [u64; 3],
    /// By expectation: how often it is not met.
    pub unmet: Vec<u64>,
    /// By level, as [`level_names`](super::level_names) has them.
    pub levels: Vec<LevelTally>,
    /// By factor: sum and sum of squares of its draws over the solved boards.
    pub draws: Vec<[i128; 2]>,
}

/// One level over a run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LevelTally {
    /// Sum, µV, and sum of squares.
    pub sums: [i128; 2],
    /// Least and greatest, µV.
    pub ends: [i64; 2],
    /// Products with each factor's draw, added up.
    pub products: Vec<i128>,
    /// How many boards in each bin; the first and the last one reach out to all beyond.
    pub bins: Vec<u64>,
}

/// A level in figures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figures {
    /// Mean, V.
    pub mean_v: f64,
    /// Standard deviation, V.
    pub deviation_v: f64,
    /// Least and greatest, V.
    pub ends_v: [f64; 2],
    /// Nine boards of ten lie between these two, V, to a bin's width.
    pub nine_in_ten_v: [f64; 2],
}

impl Tally {
    /// Nothing yet, for runs of a scenario in which so many expectations are judged.
    #[must_use]
    pub fn new(scenario: &Scenario, judged: usize) -> Self {
        let elements = scenario.raster.elements.len();
        let factors = scenario.spread.len();
        let level = LevelTally {
            sums: [0, 0],
            ends: [i64::MAX, i64::MIN],
            products: vec![0; factors],
            bins: vec![0; BINS],
        };
        Self {
            boards: 0,
            unsolved: 0,
            good: 0,
            shows_all: 0,
            seen: vec![[0; 3]; elements],
            sync: [0; 3],
            unmet: vec![0; judged],
            levels: vec![level; elements + 3],
            draws: vec![[0, 0]; factors],
        }
    }

    /// Whether every count is of the same boards; a file that was damaged says otherwise.
    #[must_use]
    pub fn adds_up(&self) -> bool {
        let Some(solved) = self.boards.checked_sub(self.unsolved) else { return false };
        let all = |counts: &[u64]| {
            counts.iter().try_fold(0_u64, |sum, &count| sum.checked_add(count)) == Some(solved)
        };
        let at_most = |count: &u64| *count <= solved;
        at_most(&self.good)
            && at_most(&self.shows_all)
            && self.unmet.iter().all(at_most)
            && all(&self.sync)
            && self.seen.iter().all(|counts| all(counts))
            && self.levels.iter().all(|level| all(&level.bins))
    }

    /// Adds a board.
    pub fn add(&mut self, scenario: &Scenario, board: &Board) {
        self.boards += 1;
        let Some(measured) = &board.measured else {
            self.unsolved += 1;
            return;
        };
        self.good += u64::from(measured.is_good());
        self.shows_all += u64::from(measured.shows_all());
        self.add_words(measured);
        let draws: Vec<i64> = scenario
            .spread
            .iter()
            .zip(&board.draws)
            .map(|(factor, &value)| {
                let [low, high] = factor.law.ends();
                whole(PER_DRAW * (2.0 * (value - low) / (high - low) - 1.0))
            })
            .collect();
        for (sums, &draw) in self.draws.iter_mut().zip(&draws) {
            add_square(sums, draw);
        }
        for (tally, &volts) in self.levels.iter_mut().zip(&measured.levels) {
            tally.add(whole(PER_VOLT * volts), &draws);
        }
    }

    fn add_words(&mut self, measured: &Measured) {
        for (counts, seen) in self.seen.iter_mut().zip(&measured.seen) {
            counts[match seen {
                Seen::Clear => 0,
                Seen::Faint => 1,
                Seen::Missing => 2,
            }] += 1;
        }
        self.sync[match measured.sync {
            SyncState::Good => 0,
            SyncState::Weak => 1,
            SyncState::Failing => 2,
        }] += 1;
        for (count, met) in self.unmet.iter_mut().zip(&measured.met) {
            *count += u64::from(!met);
        }
    }

    /// Adds another part of the same run; `false`, and nothing done, if it is one of another board.
    #[must_use]
    pub fn join(&mut self, other: &Self) -> bool {
        let shape = |tally: &Self| {
            (tally.seen.len(), tally.unmet.len(), tally.levels.len(), tally.draws.len())
        };
        if shape(self) != shape(other) {
            return false;
        }
        self.boards += other.boards;
        self.unsolved += other.unsolved;
        self.good += other.good;
        self.shows_all += other.shows_all;
        let pairs = self.seen.iter_mut().zip(&other.seen);
        for (own, more) in pairs.chain([(&mut self.sync, &other.sync)]) {
            own.iter_mut().zip(more).for_each(|(own, more)| *own += more);
        }
        self.unmet.iter_mut().zip(&other.unmet).for_each(|(own, more)| *own += more);
        for (own, more) in self.levels.iter_mut().zip(&other.levels) {
            own.join(more);
        }
        for (own, more) in self.draws.iter_mut().zip(&other.draws) {
            own.iter_mut().zip(more).for_each(|(own, more)| *own += more);
        }
        true
    }

    /// A level in figures; `None` if no board was solved.
    #[must_use]
    pub fn figures(&self, level: usize) -> Option<Figures> {
        let count = self.boards - self.unsolved;
        if count == 0 {
            return None;
        }
        let tally = &self.levels[level];
        let (mean, variance) = moments(tally.sums, count);
        let volts = |microvolts: i64| from_i64(microvolts) / PER_VOLT;
        Some(Figures {
            mean_v: mean / PER_VOLT,
            deviation_v: variance.sqrt() / PER_VOLT,
            ends_v: tally.ends.map(volts),
            nine_in_ten_v: [0.05, 0.95].map(|share| {
                let [least, greatest] = tally.ends.map(volts);
                tally.quantile_v(count, share).clamp(least, greatest)
            }),
        })
    }

    /// How much of a level's variance goes with each factor: the square of Pearson's correlation. They
    /// are independent, so that the shares of a level that depends on them linearly add to 1.
    ///
    /// # Source
    ///
    /// A. Saltelli and others, *Global Sensitivity Analysis: The Primer* (2008), chapter 1: squared
    /// standardised coefficients of a linear model.
    #[must_use]
    pub fn shares(&self, level: usize) -> Vec<f64> {
        let count = self.boards - self.unsolved;
        let tally = &self.levels[level];
        let (mean, variance) = moments(tally.sums, count.max(1));
        let share = |(draws, product): (&[i128; 2], &i128)| {
            let (draw_mean, draw_variance) = moments(*draws, count.max(1));
            let both = from_i128(*product) / math::from_u64(count.max(1)) - mean * draw_mean;
            let whole = variance * draw_variance;
            if whole > 0.0 { both * both / whole } else { 0.0 }
        };
        self.draws.iter().zip(&tally.products).map(share).collect()
    }
}

impl LevelTally {
    fn add(&mut self, microvolts: i64, draws: &[i64]) {
        add_square(&mut self.sums, microvolts);
        self.ends = [self.ends[0].min(microvolts), self.ends[1].max(microvolts)];
        for (product, &draw) in self.products.iter_mut().zip(draws) {
            *product += i128::from(microvolts) * i128::from(draw);
        }
        let bin = (microvolts.div_euclid(1000) - FIRST_MV).div_euclid(BIN_MV);
        self.bins[usize::try_from(bin).unwrap_or(0).min(BINS - 1)] += 1;
    }

    fn join(&mut self, other: &Self) {
        self.sums.iter_mut().zip(&other.sums).for_each(|(own, more)| *own += more);
        self.ends = [self.ends[0].min(other.ends[0]), self.ends[1].max(other.ends[1])];
        self.products.iter_mut().zip(&other.products).for_each(|(own, more)| *own += more);
        self.bins.iter_mut().zip(&other.bins).for_each(|(own, more)| *own += more);
    }

    /// Start of a bin, V.
    #[must_use]
    pub fn bin_v(bin: usize) -> f64 {
        1e-3 * (from_i64(FIRST_MV) + from_i64(BIN_MV) * math::from_usize(bin))
    }

    /// Middle of the bin below which a share of the boards lies.
    fn quantile_v(&self, count: u64, share: f64) -> f64 {
        let wanted = share * math::from_u64(count);
        let mut below = 0;
        let reached = self.bins.iter().position(|bin| {
            below += bin;
            math::from_u64(below) >= wanted
        });
        let bin = reached.unwrap_or(BINS - 1);
        0.5 * (Self::bin_v(bin) + Self::bin_v(bin + 1))
    }
}

fn add_square(sums: &mut [i128; 2], value: i64) {
    let value = i128::from(value);
    sums[0] += value;
    sums[1] += value * value;
}

/// Mean and variance from sum and sum of squares, the difference taken before anything is rounded.
fn moments([sum, squares]: [i128; 2], count: u64) -> (f64, f64) {
    let n = i128::from(count);
    let spread = n * squares - sum * sum;
    let count = math::from_u64(count);
    (from_i128(sum) / count, from_i128(spread) / (count * count))
}

#[expect(clippy::cast_possible_truncation, reason = "rounded; what lies beyond is held at the end")]
fn whole(value: f64) -> i64 {
    math::round(value) as i64
}

#[expect(clippy::cast_precision_loss, reason = "microvolts: exact to nine billion volts")]
fn from_i64(value: i64) -> f64 {
    value as f64
}

#[expect(clippy::cast_precision_loss, reason = "sums are told to fewer figures than a double has")]
fn from_i128(value: i128) -> f64 {
    value as f64
}
