//! The tank of a coil and capacitors that makes a chip's clock.
//!
//! # Source
//!
//! Any text on oscillators: f = 1 / (2π √(L C)). A coil with a resistance R in series moves it to
//! ω² = 1/(L C) − (R/L)², where the tank's current is in step with its voltage; with Q = ω₀ L / R
//! that is f √(1 − 1/Q²).

use crate::base::math;
use std::f64::consts::TAU;

/// Strays where nothing else is said, F: a coil's own 3 to 8 pF, gate or transistor 5 to 10, track
/// and socket 3 to 5; common practice, no source.
pub const USUAL_STRAY_FARADS: f64 = 20e-12;
/// How far a screw core moves the inductance to either side, as a share: 15 to 20 % in parts
/// lists.
pub const USUAL_CORE_RANGE: f64 = 0.15;
/// Temperature at which values are stated, °C.
pub const STATED_CELSIUS: f64 = 25.0;

/// A tank.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tank {
    /// The coil.
    pub coil: Coil,
    /// The capacitor or capacitors on the board.
    pub capacitor: TankCapacitor,
    /// Strays across the whole tank, F, 0 or more.
    pub stray_farads: f64,
    /// A tap of the coil that something hangs on.
    pub tap: Option<Tap>,
    /// Temperature, °C; values are stated at [`STATED_CELSIUS`].
    pub celsius: f64,
    /// Temperature coefficient of the board's capacitors, 1/K.
    pub capacitor_per_kelvin: f64,
}

/// A coil with or without a core to turn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Coil {
    /// Inductance with the core in the middle of its travel, H, above 0.
    pub henries: f64,
    /// How far the core moves it to either side, as a share; 0 for a fixed choke.
    pub range: f64,
    /// Where the core stands, 0 all the way out (least inductance) to 1 all the way in. Between,
    /// the inductance is taken to follow it in a straight line; a real core is slower at both ends.
    pub core: f64,
    /// Reactance over series resistance, above 1; `None` for a coil without loss.
    pub quality: Option<f64>,
    /// Temperature coefficient, 1/K.
    pub per_kelvin: f64,
}

/// What stands across the coil on purpose.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum TankCapacitor {
    /// One capacitor, F.
    One(f64),
    /// Two in series, their middle at the transistor or gate, F.
    Split([f64; 2]),
}

/// A tap of the coil.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tap {
    /// Share of the turns between the tap and the coil's cold end, 0 to 1.
    pub at: f64,
    /// Capacitance from there to the cold end, F.
    pub farads: f64,
}

impl TankCapacitor {
    /// What the coil sees of it, F.
    #[must_use]
    pub fn farads(&self) -> f64 {
        match *self {
            Self::One(farads) => farads,
            Self::Split([first, second]) => first * second / (first + second),
        }
    }
}

impl Coil {
    /// Inductance at a temperature, H.
    #[must_use]
    pub fn henries_at(&self, celsius: f64) -> f64 {
        let cold = self.henries * (1.0 + self.range * (2.0 * self.core - 1.0));
        cold * (1.0 + self.per_kelvin * (celsius - STATED_CELSIUS))
    }

    /// What its loss makes of the frequency, a factor up to 1.
    #[must_use]
    pub fn pull(&self) -> f64 {
        self.quality.map_or(1.0, |quality| (1.0 - 1.0 / (quality * quality)).max(0.0).sqrt())
    }
}

impl Tank {
    /// Inductance as it stands, H.
    #[must_use]
    pub fn henries(&self) -> f64 {
        self.coil.henries_at(self.celsius)
    }

    /// All that stands across the coil, F. A coil is taken to be closely coupled in itself, so that
    /// what hangs on a tap counts by the square of its share of the turns.
    #[must_use]
    pub fn farads(&self) -> f64 {
        let warmth = 1.0 + self.capacitor_per_kelvin * (self.celsius - STATED_CELSIUS);
        let tapped = self.tap.map_or(0.0, |tap| tap.at * tap.at * tap.farads);
        self.capacitor.farads() * warmth + self.stray_farads + tapped
    }

    /// Its frequency, Hz.
    #[must_use]
    pub fn hertz(&self) -> f64 {
        resonance(self.henries(), self.farads()) * self.coil.pull()
    }

    /// The same with the core elsewhere.
    #[must_use]
    pub fn with_core(&self, core: f64) -> Self {
        Self { coil: Coil { core, ..self.coil }, ..*self }
    }

    /// The same with so much more across it, F.
    #[must_use]
    pub fn loaded(&self, farads: f64) -> Self {
        Self { stray_farads: self.stray_farads + farads, ..*self }
    }

    /// The same at another temperature, °C.
    #[must_use]
    pub fn at(&self, celsius: f64) -> Self {
        Self { celsius, ..*self }
    }

    /// Where the core would have to stand for a frequency, as [`Coil::core`] counts; past 0 or 1
    /// where its travel does not reach so far, `None` for a coil without a core.
    #[must_use]
    pub fn core_for(&self, hertz: f64) -> Option<f64> {
        if self.coil.range <= 0.0 {
            return None;
        }
        let needed = henries_for(hertz / self.coil.pull(), self.farads());
        let middle = self.with_core(0.5).henries();
        Some(0.5 + (needed / middle - 1.0) / (2.0 * self.coil.range))
    }
}

/// Frequency of a coil and a capacitance without loss, Hz.
#[must_use]
pub fn resonance(henries: f64, farads: f64) -> f64 {
    1.0 / (TAU * (henries * farads).sqrt())
}

/// The coil that makes a frequency with a capacitance, H: 1 / ((2π f)² C).
#[must_use]
pub fn henries_for(hertz: f64, farads: f64) -> f64 {
    1.0 / (math::pow(TAU * hertz, 2.0) * farads)
}

/// The capacitance that makes a frequency with a coil, F.
#[must_use]
pub fn farads_for(hertz: f64, henries: f64) -> f64 {
    henries_for(hertz, henries)
}
