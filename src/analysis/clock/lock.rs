//! To which clocks a set locks.

use crate::analysis::clock::Counts;

/// A scanning standard, as far as the clock is concerned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standard {
    /// 15 625 lines and 50 fields a second.
    Lines625,
    /// 15 734.266 lines and 59.94 fields a second.
    Lines525,
}

impl Standard {
    /// Lines a second.
    ///
    /// # Source
    ///
    /// ITU-R BT.470: 15 625 Hz; 4.5 MHz / 286.
    #[must_use]
    pub fn line_hz(self) -> f64 {
        match self {
            Self::Lines625 => 15_625.0,
            Self::Lines525 => 4.5e6 / 286.0,
        }
    }

    /// How it is called.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Lines625 => "625",
            Self::Lines525 => "525",
        }
    }
}

/// How far a line oscillator follows, to either side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reach {
    /// Hertz of line rate.
    Hertz(f64),
    /// Share of the line rate.
    Share(f64),
}

impl Reach {
    /// Hertz of line rate.
    #[must_use]
    pub fn hertz(self, line_hz: f64) -> f64 {
        match self {
            Self::Hertz(hertz) => hertz,
            Self::Share(share) => share * line_hz,
        }
    }
}

/// Field rates that a set follows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FieldReach {
    /// Four to either side of 50 or of 60, by the standard, Hz.
    Own,
    /// The same for either standard, Hz.
    Both(f64, f64),
}

/// A kind of set. What it follows is of its line oscillator at the middle of any hold control.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Set {
    /// Its name in `[receiver] kind`.
    pub name: &'static str,
    /// What it is.
    pub words: &'static str,
    /// How far off a line rate may be for it to lock.
    pub catch: Reach,
    /// How far off one may drift that it has locked to.
    pub hold: Reach,
    /// Field rates that it locks to.
    pub fields: FieldReach,
    /// Where the figures come from.
    pub source: &'static str,
}

/// The kinds of set, in the order of `[receiver] kind`.
pub const SETS: [Set; 4] = [
    Set {
        name: "tube-set",
        words: "old tube set, hand hold at its middle",
        catch: Reach::Share(0.03),
        hold: Reach::Hertz(900.0),
        fields: FieldReach::Own,
        source: "catch: common practice, no source (200 to 600 Hz are told of too); hold and field: \
                 maker's data of a later deflection processor, for want of better",
    },
    Set {
        name: "late-tube-set",
        words: "later tube set, no hand hold",
        catch: Reach::Hertz(600.0),
        hold: Reach::Hertz(900.0),
        fields: FieldReach::Both(45.0, 64.5),
        source: "maker's data of deflection processors: catch at least 600 Hz, hold typically \
                 900 Hz, field 45 to 64.5 Hz",
    },
    Set {
        name: "monitor",
        words: "tube monitor with a video input",
        catch: Reach::Hertz(500.0),
        hold: Reach::Hertz(900.0),
        fields: FieldReach::Own,
        source: "maker's data of deflection processors: the smallest catch found, hold typically \
                 900 Hz, field within 4 Hz",
    },
    Set {
        name: "flat-panel",
        words: "flat panel behind a video decoder",
        catch: Reach::Share(0.04),
        hold: Reach::Share(0.05),
        fields: FieldReach::Both(40.0, 70.0),
        source: "common practice, no source; within it a panel may still refuse the form of field \
                 sync, its depth, or a picture without interlace",
    },
];

/// A range of clocks, Hz.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// The lowest.
    pub low_hz: f64,
    /// The highest.
    pub high_hz: f64,
}

impl Window {
    /// Whether a clock lies in it, ends included.
    #[must_use]
    pub fn holds(&self, clock_hz: f64) -> bool {
        (self.low_hz..=self.high_hz).contains(&clock_hz)
    }

    /// What lies in both; empty (low above high) if nothing does.
    #[must_use]
    pub fn and(&self, other: &Self) -> Self {
        Self { low_hz: self.low_hz.max(other.low_hz), high_hz: self.high_hz.min(other.high_hz) }
    }
}

/// The clocks that a set follows with a given chip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Windows {
    /// Its lines lock.
    pub catch: Window,
    /// Its lines stay locked.
    pub hold: Window,
    /// Its fields lock.
    pub field: Window,
    /// The clock of its own line rate, Hz.
    pub nominal_hz: f64,
}

/// What becomes of the lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lines {
    /// They lock.
    Locked,
    /// They lock, the picture shifted to one side.
    Shifted,
    /// They tear, but may stay locked once they were.
    MayHold,
    /// They tear.
    Torn,
}

/// What a set makes of a clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Verdict {
    /// Its lines.
    pub lines: Lines,
    /// Whether its fields roll.
    pub rolls: bool,
}

impl Verdict {
    /// In words: "locks", "locks, shifted", "torn, may hold once caught", "torn", each with
    /// ", rolling" behind it if the field rate is not followed.
    #[must_use]
    pub fn words(self) -> String {
        let lines = match self.lines {
            Lines::Locked => "locks",
            Lines::Shifted => "locks, shifted",
            Lines::MayHold => "torn, may hold once caught",
            Lines::Torn => "torn",
        };
        format!("{lines}{}", if self.rolls { ", rolling" } else { "" })
    }
}

/// Line rates further off than this share push the picture visibly to one side: the standing phase
/// error of the set's loop. Common practice, no source.
const SHIFTED: f64 = 0.01;
/// Field rates that a set follows to either side of its own, Hz: 46 to 54 and 56 to 64 in makers'
/// data of deflection processors.
const FIELD_REACH_HZ: f64 = 4.0;

impl Windows {
    /// The windows of a set for a chip that counts so.
    #[must_use]
    pub fn of(set: &Set, standard: Standard, counts: Counts) -> Self {
        let (line_hz, clocks) = (standard.line_hz(), f64::from(counts.clocks_per_line));
        let around = |reach: Reach| {
            let reach = reach.hertz(line_hz);
            Window { low_hz: clocks * (line_hz - reach), high_hz: clocks * (line_hz + reach) }
        };
        let middle = match standard {
            Standard::Lines625 => 50.0,
            Standard::Lines525 => 60.0,
        };
        let (low, high) = match set.fields {
            FieldReach::Own => (middle - FIELD_REACH_HZ, middle + FIELD_REACH_HZ),
            FieldReach::Both(low, high) => (low, high),
        };
        let clocks = counts.clocks_per_field();
        Self {
            catch: around(set.catch),
            hold: around(set.hold),
            field: Window { low_hz: low * clocks, high_hz: high * clocks },
            nominal_hz: counts.nominal_hz(standard),
        }
    }

    /// The clocks at which lines and fields both lock.
    #[must_use]
    pub fn locks(&self) -> Window {
        self.catch.and(&self.field)
    }

    /// What the set makes of a clock.
    #[must_use]
    pub fn verdict(&self, clock_hz: f64) -> Verdict {
        let error = clock_hz / self.nominal_hz - 1.0;
        let lines = match (self.catch.holds(clock_hz), self.hold.holds(clock_hz)) {
            (true, _) if error.abs() > SHIFTED => Lines::Shifted,
            (true, _) => Lines::Locked,
            (false, true) => Lines::MayHold,
            (false, false) => Lines::Torn,
        };
        Verdict { lines, rolls: !self.field.holds(clock_hz) }
    }
}
