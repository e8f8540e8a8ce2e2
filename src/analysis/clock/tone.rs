//! The chip's tones, and the clock that a heard one tells of.

use crate::raster::rules::TONES as TONES_OF_CLASS;

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

/// How long a tone lasts, s: class data sheets, longer in some members for the score.
pub const BURST_S: f64 = 0.032;

impl Tone {
    /// By what the clock is divided for it.
    ///
    /// # Source
    ///
    /// Class data sheets state about 976, 488 and 1950 Hz, which are these parts of 2 MHz.
    #[must_use]
    pub fn divisor(self) -> f64 {
        match self {
            Self::Hit => f64::from(TONES_OF_CLASS.hit),
            Self::Wall => f64::from(TONES_OF_CLASS.rebound),
            Self::Score => f64::from(TONES_OF_CLASS.score),
        }
    }

    /// Its pitch at a clock, Hz.
    #[must_use]
    pub fn hertz(self, clock_hz: f64) -> f64 {
        clock_hz / self.divisor()
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
        let divisor = self.tone.divisor();
        (divisor * self.pitch_hz, divisor * self.doubt_hz())
    }
}
