//! A modulator's carrier for other programs.

use crate::analysis::modulation::Modulation;
use crate::base::math;
use crate::output::json::milli;
use serde::Serialize;

/// The carrier: percentages are of its peak.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ModulationReport {
    /// "B/G", "I" or "M".
    pub system: &'static str,
    /// The channel's name.
    pub channel: String,
    /// Vision carrier, MHz.
    pub vision_mhz: f64,
    /// Sound carrier, MHz.
    pub sound_mhz: f64,
    /// The peak, % of the full carrier.
    pub peak_percent: f64,
    /// Carrier in the sync pulse, %.
    pub tip_percent: f64,
    /// Carrier at black, %.
    pub black_percent: f64,
    /// The least carrier in the field, %.
    pub white_percent: f64,
    /// What is lit there.
    pub white_at: String,
    /// "crushed", "too bright", "good" or "dim".
    pub white: &'static str,
    /// Sync depth behind the gain control, mV.
    pub depth_mv: f64,
    /// "good", "weak" or "failing".
    pub sync: &'static str,
    /// Share of the time in which the sound's beat lacks carrier, %.
    pub buzz_time_percent: f64,
    /// Estimated level of the buzz against the sound, dB; null if there is none.
    pub buzz_db: Option<f64>,
    /// The elements alone, in the chip's order.
    pub elements: Vec<ElementCarrierReport>,
}

/// An element alone on black.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ElementCarrierReport {
    /// Its name.
    pub name: String,
    /// At the modulator's input, mV.
    pub input_mv: f64,
    /// Carrier, %.
    pub carrier_percent: f64,
    /// Above black at the set's video input, mV.
    pub delta_mv: f64,
    /// "clear", "faint" or "missing".
    pub seen: &'static str,
}

impl ModulationReport {
    /// Fills the report.
    #[must_use]
    pub fn new(modulation: &Modulation) -> Self {
        let (system, channel) = (modulation.system.data(), modulation.channel);
        Self {
            system: system.name,
            channel: channel.name(),
            vision_mhz: 1e-6 * channel.vision_hz(),
            sound_mhz: 1e-6 * (channel.vision_hz() + system.sound_hz),
            peak_percent: percent(modulation.peak),
            tip_percent: percent(modulation.tip.carrier),
            black_percent: percent(modulation.black.carrier),
            white_percent: percent(modulation.white.carrier),
            white_at: modulation.white.name.clone(),
            white: modulation.word.word(),
            depth_mv: milli(modulation.depth_v),
            sync: modulation.sync.word(),
            buzz_time_percent: percent(modulation.buzz.share),
            buzz_db: modulation.buzz.is_heard().then(|| hundredths(modulation.buzz.level_db)),
            elements: modulation
                .elements
                .iter()
                .map(|element| ElementCarrierReport {
                    name: element.level.name.clone(),
                    input_mv: milli(element.level.volts),
                    carrier_percent: percent(element.level.carrier),
                    delta_mv: milli(element.delta_v),
                    seen: element.seen.word(),
                })
                .collect(),
        }
    }
}

fn percent(share: f64) -> f64 {
    hundredths(100.0 * share)
}

fn hundredths(value: f64) -> f64 {
    math::round(100.0 * value) / 100.0 + 0.0
}
