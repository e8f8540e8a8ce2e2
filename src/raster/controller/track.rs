//! The potentiometer: where on its track the wiper stands, and what resistance that gives.

use crate::base::math;

/// A potentiometer of which the wiper and one end are used.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Track {
    /// Resistance of the whole track, Ω.
    pub ohms: f64,
    /// Share of the track at half its travel: 0.5 linear, less for an audio law.
    pub middle: f64,
    /// What the knob turns from stop to stop, degrees.
    pub rotation_deg: f64,
    /// Of this, what the track takes, in the middle, degrees.
    pub travel_deg: f64,
    /// Share of the track's travel that is flat at each end.
    pub flat: f64,
    /// The outer lugs are exchanged: the knob works backwards.
    pub reversed: bool,
}

/// Share of the track at half travel of a logarithmic law that covers two decades, 1 / (√100 + 1):
/// the law of which this class's figures are told. Makers' pages have 10 %, and 15 % is from memory:
/// the law of a track in hand is measured at half travel.
pub const AUDIO_MIDDLE: f64 = 1.0 / 11.0;

impl Track {
    /// Share of the track between the used end and the wiper with the knob at a share of its
    /// rotation, 0 to 1.
    #[must_use]
    pub fn share(&self, knob: f64) -> f64 {
        let travel = self.travel_deg / self.rotation_deg;
        let along = (knob - 0.5 * (1.0 - travel)) / travel;
        let along = ((along - self.flat) / (1.0 - 2.0 * self.flat)).clamp(0.0, 1.0);
        law(if self.reversed { 1.0 - along } else { along }, self.middle)
    }

    /// Resistance with the knob at a share of its rotation, Ω.
    #[must_use]
    pub fn ohms_at(&self, knob: f64) -> f64 {
        self.ohms * self.share(knob)
    }
}

/// Share of the track at a share of its travel: (aˣ − 1) / (a − 1), where a is such that half the
/// travel gives `middle`, √a = 1 / middle − 1.
///
/// # Source
///
/// The exponential that an audio taper stands for; a reverse one is its mirror image.
#[must_use]
pub fn law(travel: f64, middle: f64) -> f64 {
    let exponent = 2.0 * math::ln(1.0 / middle - 1.0);
    if exponent.abs() < 1e-9 {
        return travel;
    }
    math::expm1(exponent * travel) / math::expm1(exponent)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::controller::sample::TRACK;

    #[test]
    fn a_law_meets_its_ends_and_its_middle_and_its_mirror_image() {
        for middle in [AUDIO_MIDDLE, 0.125, 0.5, 0.875] {
            assert!(law(0.0, middle).abs() < 1e-15 && (law(1.0, middle) - 1.0).abs() < 1e-15);
            assert!((law(0.5, middle) - middle).abs() < 1e-12);
            assert!((law(0.3, middle) + law(0.7, 1.0 - middle) - 1.0).abs() < 1e-12);
        }
    }

    /// 15° to each stop without track, and 4 % of 270° flat beside it: 25.8° at each end.
    #[test]
    fn the_ends_of_the_rotation_are_dead() {
        for knob in [0.0, 0.05, 25.7 / 300.0] {
            assert!(TRACK.ohms_at(knob).abs() < 1e-6, "{knob}");
            assert!((TRACK.ohms_at(1.0 - knob) - 1e6).abs() < 1e-6, "{knob}");
        }
        assert!(TRACK.ohms_at(26.0 / 300.0) > 100.0);
        assert!((TRACK.ohms_at(0.5) - 5e5).abs() < 1e-6);
        let backwards = Track { reversed: true, ..TRACK };
        assert!((backwards.ohms_at(0.2) - TRACK.ohms_at(0.8)).abs() < 1e-6);
    }
}
