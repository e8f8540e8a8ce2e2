//! Which coil to buy, or which choke and trimmer, for the capacitors on the board.

use crate::analysis::clock::lock::Window;
use crate::analysis::clock::tank::MIDDLE;
use crate::base::preferred::Series;
use crate::signal::tank::farads_for;
use crate::signal::tank::henries_for;
use crate::signal::tank::resonance;

/// What is asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wanted {
    /// The capacitance on the board, F.
    pub farads: f64,
    /// Least and most strays, F.
    pub strays: (f64, f64),
    /// The clocks that the set locks to.
    pub locks: Window,
    /// The clock to be reached, Hz.
    pub aim_hz: f64,
    /// The values to choose from.
    pub series: Series,
}

/// What is turned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Adjuster {
    /// A screw core that moves the marked inductance by this share to either side.
    Core(f64),
    /// A trimmer capacitor across a fixed choke: least and most, F.
    Trimmer(f64, f64),
}

/// How well a value suits, the best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Suits {
    /// Every clock that the set locks to lies in the middle of the travel, whatever the strays.
    WindowInMiddle,
    /// The wanted clock does; some others that the set locks to lie outside the middle.
    AimInMiddle,
    /// The wanted clock is within the travel, near an end of it.
    AimInTravel,
    /// The wanted clock is within the travel with some strays, with others not.
    Perhaps,
}

/// A value to choose.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Choice {
    /// The coil or choke, H.
    pub henries: f64,
    /// How well it suits.
    pub suits: Suits,
    /// Where the adjuster stands for the wanted clock, 0 to 1 of its travel (1: core in, or most
    /// capacitance), with the least and with the most strays.
    pub aim: [f64; 2],
    /// Where it stands for the highest clock that locks with the most strays, and for the lowest
    /// with the least: the ends of what may be needed.
    pub window: [f64; 2],
    /// Clocks at both ends of the travel with strays half way between, Hz.
    pub reach: Window,
}

impl Wanted {
    /// The inductance for the wanted clock with the least strays, half of both, and the most, H;
    /// `more` stands across the coil besides, F.
    #[must_use]
    pub fn henries(&self, more: f64) -> [f64; 3] {
        let (least, most) = self.strays;
        [least, f64::midpoint(least, most), most]
            .map(|stray| henries_for(self.aim_hz, self.farads + stray + more))
    }

    /// All values that may reach the wanted clock, the best first.
    #[must_use]
    pub fn choices(&self, adjuster: Adjuster) -> Vec<Choice> {
        let (low, high) = match adjuster {
            Adjuster::Core(range) => {
                let [most, _, least] = self.henries(0.0);
                (least / (1.0 + range), most / (1.0 - range))
            }
            Adjuster::Trimmer(least, most) => (self.henries(most)[2], self.henries(least)[0]),
        };
        let values = self.series.values_between(low, high);
        let mut choices: Vec<Choice> =
            values.into_iter().filter_map(|henries| self.judged(henries, adjuster)).collect();
        let off = |choice: &Choice| {
            choice.aim.iter().map(|place| (place - 0.5).abs()).fold(0.0, f64::max)
        };
        choices.sort_by(|a, b| a.suits.cmp(&b.suits).then(off(a).total_cmp(&off(b))));
        choices
    }

    fn judged(&self, henries: f64, adjuster: Adjuster) -> Option<Choice> {
        let (least, most) = self.strays;
        let place = |hertz: f64, stray: f64| match adjuster {
            Adjuster::Core(range) => {
                let needed = henries_for(hertz, self.farads + stray);
                0.5 + (needed / henries - 1.0) / (2.0 * range)
            }
            Adjuster::Trimmer(low, high) => {
                (farads_for(hertz, henries) - self.farads - stray - low) / (high - low)
            }
        };
        let aim = [place(self.aim_hz, least), place(self.aim_hz, most)];
        let window = [place(self.locks.high_hz, most), place(self.locks.low_hz, least)];
        let within = |places: &[f64], (low, high): (f64, f64)| {
            places.iter().all(|place| (low..=high).contains(place))
        };
        let suits = if within(&window, MIDDLE) {
            Suits::WindowInMiddle
        } else if within(&aim, MIDDLE) {
            Suits::AimInMiddle
        } else if within(&aim, (0.0, 1.0)) {
            Suits::AimInTravel
        } else if aim[1] <= 1.0 && aim[0] >= 0.0 {
            Suits::Perhaps
        } else {
            return None;
        };
        let farads = self.farads + f64::midpoint(least, most);
        let [low_hz, high_hz] = match adjuster {
            Adjuster::Core(range) => {
                [1.0 + range, 1.0 - range].map(|share| resonance(henries * share, farads))
            }
            Adjuster::Trimmer(low, high) => {
                [high, low].map(|trimmer| resonance(henries, farads + trimmer))
            }
        };
        let reach = Window { low_hz, high_hz };
        Some(Choice { henries, suits, aim, window, reach })
    }
}
