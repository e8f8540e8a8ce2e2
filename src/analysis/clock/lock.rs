//! To which clocks a set locks: by its own oscillators and by what it asks, as it stands in
//! `[receiver]`, so that the picture says the same.

use crate::analysis::clock::Counts;
use crate::receiver::catch::catch_hz;
use crate::receiver::demands::Demand;
use crate::receiver::demands::Property;
use crate::receiver::spec::ReceiverSpec;
use crate::receiver::sync::PERIODS;
use crate::scenario::LockLines;
use crate::scenario::set_library::Kind;
use crate::scenario::set_library::Standard;

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

    /// Every clock.
    const ALL: Self = Self { low_hz: 0.0, high_hz: f64::INFINITY };

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
    /// What it asks for before it shows anything; `None` if it shows whatever comes.
    pub asks: Option<Window>,
    /// Its picture is not visibly to one side.
    pub centred: Window,
    /// The clock of its standard's line rate, Hz.
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
    /// Whether it shows nothing of it.
    pub refuses: bool,
}

impl Verdict {
    /// In words: "locks", "locks, shifted", "torn, may hold once caught", "torn", each with
    /// ", rolling" behind it if the field rate is not followed; "refused" whatever else.
    #[must_use]
    pub fn words(self) -> String {
        if self.refuses {
            return "refused".to_owned();
        }
        let lines = match self.lines {
            Lines::Locked => "locks",
            Lines::Shifted => "locks, shifted",
            Lines::MayHold => "torn, may hold once caught",
            Lines::Torn => "torn",
        };
        format!("{lines}{}", if self.rolls { ", rolling" } else { "" })
    }
}

impl Windows {
    /// The windows of a kind of set with its knobs in the middle, for a chip that counts so.
    #[must_use]
    pub fn of_kind(kind: Kind, standard: Standard, counts: Counts) -> Self {
        Self::of(&kind.preset(standard), counts, &LockLines::USUAL)
    }

    /// The windows of a set for a chip that counts so. Lines lock where its line oscillator pulls in to
    /// pulses that come without a break; a field sync that lacks them may cost it a little of that.
    #[must_use]
    pub fn of(set: &ReceiverSpec, counts: Counts, lines: &LockLines) -> Self {
        let clocks = f64::from(counts.clocks_per_line);
        let window = |low_hz: f64, high_hz: f64| Window { low_hz, high_hz };
        let around = |share: f64| {
            window(clocks * set.line_hz * (1.0 - share), clocks * set.line_hz * (1.0 + share))
        };
        let (low_hz, high_hz) = catch_hz(set.line_hz, &set.line_loop);
        let fields = counts.clocks_per_field();
        // Where its separator finds no line pulses nothing holds its fields either.
        let own_hz = clocks * set.line_hz;
        let found = window(own_hz / PERIODS.end(), own_hz / PERIODS.start());
        let nominal_hz = clocks * set.nominal_line_hz;
        let asked = set.demands.iter().filter(|demand| demand.may_refuse());
        let asked = asked.filter_map(|demand| asked_clocks(demand, counts, nominal_hz));
        Self {
            catch: window(clocks * low_hz, clocks * high_hz),
            hold: around(set.line_loop.hold()),
            field: window(fields * set.field_hz, fields * set.field_loop.highest_hz).and(&found),
            asks: asked.reduce(|all, one| all.and(&one)),
            // A clock that is off by a share is held with that share over the gain as an error.
            centred: around(set.line_loop.gain * lines.shifted_s),
            nominal_hz,
        }
    }

    /// The clocks at which lines and fields both lock, and the set shows them.
    #[must_use]
    pub fn locks(&self) -> Window {
        self.catch.and(&self.field).and(&self.asks.unwrap_or(Window::ALL))
    }

    /// What the set makes of a clock.
    #[must_use]
    pub fn verdict(&self, clock_hz: f64) -> Verdict {
        let lines = match (self.catch.holds(clock_hz), self.hold.holds(clock_hz)) {
            (true, _) if !self.centred.holds(clock_hz) => Lines::Shifted,
            (true, _) => Lines::Locked,
            (false, true) => Lines::MayHold,
            (false, false) => Lines::Torn,
        };
        let refuses = self.asks.is_some_and(|asked| !asked.holds(clock_hz));
        Verdict { lines, rolls: !self.field.holds(clock_hz), refuses }
    }
}

/// The clocks that meet a demand, or none; `None` for one that every clock meets, or that is of the
/// board and not of its clock.
fn asked_clocks(demand: &Demand, counts: Counts, nominal_hz: f64) -> Option<Window> {
    let times = |hertz: f64, low: f64, high: f64| {
        Some(Window { low_hz: hertz * low, high_hz: hertz * high })
    };
    match demand.property {
        Property::LineRate => times(nominal_hz, 1.0 + demand.low, 1.0 + demand.high),
        Property::FieldRate => times(counts.clocks_per_field(), demand.low, demand.high),
        Property::Lines => {
            let lines = f64::from(counts.lines_per_field);
            let is_met = (demand.low..=demand.high).contains(&lines);
            (!is_met).then_some(Window { low_hz: f64::INFINITY, high_hz: 0.0 })
        }
        Property::Depth
        | Property::Offset
        | Property::Porches
        | Property::LineEdges
        | Property::Interlace
        | Property::Jitter => None,
    }
}
