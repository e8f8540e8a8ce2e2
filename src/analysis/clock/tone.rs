//! The chip's tones, and the clock that a heard one tells of.

use crate::raster::rules::Event;
use crate::raster::rules::Tones;

/// A tone of the chip.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tone {
    /// A paddle has hit the ball.
    Hit,
    /// The ball comes back from a field line.
    Wall,
    /// A point is scored.
    Score,
}

/// All of them.
pub const TONES: [Tone; 3] = [Tone::Hit, Tone::Wall, Tone::Score];

/// A tone as a chip makes it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pitch {
    /// Which.
    pub tone: Tone,
    /// Clocks in a period.
    pub clocks: u32,
    /// At the chip's clock, Hz.
    pub hertz: f64,
}

/// The pitches of a chip's tones at a clock.
#[must_use]
pub fn pitches(tones: &Tones, clock_hz: f64) -> [Pitch; 3] {
    TONES.map(|tone| {
        let clocks = tones.period(tone.event());
        Pitch { tone, clocks, hertz: tones.hertz(tone.event(), clock_hz) }
    })
}

impl Tone {
    /// What it sounds for.
    #[must_use]
    pub fn event(self) -> Event {
        match self {
            Self::Hit => Event::Hit,
            Self::Wall => Event::Rebound,
            Self::Score => Event::Score,
        }
    }

    /// What it is called.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Hit => "hit",
            Self::Wall => "field line",
            Self::Score => "score",
        }
    }
}

/// A tone that was heard.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heard {
    /// Which.
    pub tone: Tone,
    /// Clocks in a period of it.
    pub clocks: u32,
    /// Its pitch, Hz.
    pub pitch_hz: f64,
    /// How long each burst lasted, s, above 0.
    pub burst_s: f64,
    /// How many bursts the pitch is the mean of, 1 or more.
    pub bursts: u32,
}

impl Heard {
    /// How well the pitch is known, Hz to either side: half the width of the line of a burst, 1 / (2 T),
    /// less by the root of their number for several.
    #[must_use]
    pub fn doubt_hz(&self) -> f64 {
        0.5 / (self.burst_s * f64::from(self.bursts).sqrt())
    }

    /// The clock and how well it is known to either side, Hz.
    #[must_use]
    pub fn clock_hz(&self) -> (f64, f64) {
        let clocks = f64::from(self.clocks);
        (clocks * self.pitch_hz, clocks * self.doubt_hz())
    }
}
