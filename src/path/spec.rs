//! A modulator and a tuner, resolved; and what standing volts become between them.

use crate::path::system::Channel;
use crate::path::system::System;

/// From volts at the modulator's input to volts at the set's video input.
#[derive(Clone, Debug, PartialEq)]
pub struct PathSpec {
    /// The system that modulator and set are made for.
    pub system: System,
    /// The channel, for what is told of it: nothing in the picture depends on it.
    pub channel: Channel,
    /// Input at which the carrier is full, V: the sync tip's place.
    pub full_carrier_v: f64,
    /// Input at which no carrier is left, V; above `full_carrier_v`, for all systems here modulate
    /// negatively.
    pub no_carrier_v: f64,
    /// Level at the tuner's input at full carrier, V rms across 75 Ω.
    pub level_v: f64,
    /// The tuner's noise figure, dB; `None` for a tuner without noise.
    pub noise_figure_db: Option<f64>,
    /// Time constant of the gain control, s.
    pub agc_s: f64,
    /// How the carrier is taken off.
    pub detector: Detector,
    /// Where the noise begins.
    pub seed: u64,
}

/// How a tuner's detector takes the carrier off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Detector {
    /// The length of the carrier: a diode.
    Envelope,
    /// The part of it in phase: a multiplier with a carrier of its own.
    Synchronous,
}

/// Carrier below which the sound of an intercarrier set suffers, share of peak: from memory.
pub const BUZZ_CARRIER: f64 = 0.05;

/// Share of the beat of sound and vision carrier that is missing at a vision carrier of such a share of
/// its peak: below [`BUZZ_CARRIER`] the beat is taken to fall with it.
#[must_use]
pub fn missing_beat(share_of_peak: f64) -> f64 {
    (1.0 - share_of_peak / BUZZ_CARRIER).max(0.0)
}

/// Sync depth at the video input when the modulator is as the standard has it, V.
pub const SYNC_V: f64 = 0.3;

impl PathSpec {
    /// Carrier at so many volts, as a share of full carrier: A = 1 − m (v − v₀), never below 0,
    /// where over-modulation leaves nothing.
    #[must_use]
    pub fn carrier(&self, volts: f64) -> f64 {
        let left = (self.no_carrier_v - volts) / (self.no_carrier_v - self.full_carrier_v);
        left.max(0.0)
    }

    /// Volts behind the detector for the whole carrier, V: such that from peak carrier to nominal
    /// blanking are 300 mV.
    #[must_use]
    pub fn volts_per_carrier(&self) -> f64 {
        SYNC_V / (1.0 - self.system.data().blanking.nominal)
    }

    /// Volts behind detector and gain control for a share of peak carrier: 0 at the tip.
    #[must_use]
    pub fn detected_v(&self, share_of_peak: f64) -> f64 {
        self.volts_per_carrier() * (1.0 - share_of_peak)
    }

    /// Volts behind the detector for a volt at the modulator, with the tip at full carrier.
    #[must_use]
    pub fn slope(&self) -> f64 {
        self.volts_per_carrier() / (self.no_carrier_v - self.full_carrier_v)
    }
}
