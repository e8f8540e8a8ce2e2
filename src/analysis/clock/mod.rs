//! The chip's clock: what a coil and its capacitors make of it, what a set makes of that, and what
//! can be told of it by ear and eye.

pub mod beat;
pub mod choose;
pub mod lock;
pub mod tank;
pub mod tone;

use crate::analysis::clock::beat::Bar;
use crate::analysis::clock::lock::Verdict;
use crate::analysis::clock::lock::Windows;
use crate::analysis::clock::tone::Pitch;
use crate::analysis::clock::tone::pitches;
use crate::raster::rules::Tones;
use crate::scenario::set_library::KINDS;
use crate::scenario::set_library::Kind;
use crate::scenario::set_library::STANDARDS;
use crate::scenario::set_library::Standard;
use crate::signal::timing::FieldTiming;

/// What a chip counts its clock down by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Counts {
    /// Clocks in a line.
    pub clocks_per_line: u32,
    /// Lines in a field.
    pub lines_per_field: u32,
}

impl From<&FieldTiming> for Counts {
    fn from(timing: &FieldTiming) -> Self {
        Self { clocks_per_line: timing.clocks_per_line, lines_per_field: timing.lines_per_field }
    }
}

impl Counts {
    /// Lines a second.
    #[must_use]
    pub fn line_hz(&self, clock_hz: f64) -> f64 {
        clock_hz / f64::from(self.clocks_per_line)
    }

    /// Fields a second.
    #[must_use]
    pub fn field_hz(&self, clock_hz: f64) -> f64 {
        clock_hz / self.clocks_per_field()
    }

    /// Clocks in a field.
    #[must_use]
    pub fn clocks_per_field(&self) -> f64 {
        f64::from(self.clocks_per_line) * f64::from(self.lines_per_field)
    }

    /// The clock that gives the line rate of a standard, Hz.
    #[must_use]
    pub fn nominal_hz(&self, standard: Standard) -> f64 {
        f64::from(self.clocks_per_line) * standard.line_hz()
    }

    /// The standard whose fields have about so many lines.
    #[must_use]
    pub fn standard(&self) -> Standard {
        // Half way between 262.5 and 312.5.
        if self.lines_per_field >= 288 { Standard::Lines625 } else { Standard::Lines525 }
    }
}

/// A clock and all that follows from it.
#[derive(Clone, Debug, PartialEq)]
pub struct Rates {
    /// The clock, Hz.
    pub clock_hz: f64,
    /// What it is counted down by.
    pub counts: Counts,
    /// The standard of the set.
    pub standard: Standard,
    /// Lines a second.
    pub line_hz: f64,
    /// Fields a second.
    pub field_hz: f64,
    /// The line rate over that of each standard, less 1: 625 lines, then 525.
    pub errors: [f64; 2],
    /// Every kind of set, what it locks to and what it makes of this clock.
    pub sets: Vec<(Kind, Windows, Verdict)>,
    /// The set of the scenario with all its settings, if there is a scenario.
    pub own: Option<(Windows, Verdict)>,
    /// The chip's tones.
    pub tones: [Pitch; 3],
    /// The mains, Hz.
    pub mains_hz: f64,
    /// What a hum bar does.
    pub bar: Bar,
    /// Slanted bands that a set shows whose line oscillator runs free at its nominal rate.
    pub bands: f64,
}

impl Rates {
    /// With what a scenario's own set makes of it.
    #[must_use]
    pub fn beside(self, windows: Windows) -> Self {
        Self { own: Some((windows, windows.verdict(self.clock_hz))), ..self }
    }
}

/// Everything that follows from the clock of a chip with these counts and tones.
#[must_use]
pub fn rates(
    clock_hz: f64,
    (counts, tones): (Counts, &Tones),
    standard: Standard,
    mains_hz: f64,
) -> Rates {
    let (line_hz, field_hz) = (counts.line_hz(clock_hz), counts.field_hz(clock_hz));
    let error = |standard: Standard| line_hz / standard.line_hz() - 1.0;
    let sets = KINDS.map(|kind| {
        let windows = Windows::of_kind(kind, standard, counts);
        (kind, windows, windows.verdict(clock_hz))
    });
    Rates {
        clock_hz,
        counts,
        standard,
        line_hz,
        field_hz,
        errors: STANDARDS.map(error),
        sets: sets.into(),
        own: None,
        tones: pitches(tones, clock_hz),
        mains_hz,
        bar: Bar::of(field_hz, mains_hz),
        bands: (line_hz - standard.line_hz()).abs() / field_hz,
    }
}
