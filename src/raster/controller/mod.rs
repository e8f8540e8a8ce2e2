//! The players' controllers: from the knob to the line on which the paddle begins, field by field.

pub mod contact;
pub mod ramp;
#[cfg(test)]
pub(crate) mod sample;
pub mod shared;
pub mod track;

use crate::base::math;
use crate::raster::controller::contact::Contact;
use crate::raster::controller::ramp::HUM_STEPS;
use crate::raster::controller::ramp::Hum;
use crate::raster::controller::ramp::RISING;
use crate::raster::controller::ramp::Ramp;
use crate::raster::controller::ramp::first_passage;
use crate::raster::controller::shared::Pair;
use crate::raster::controller::track::Track;
use crate::signal::timing::FieldTiming;

/// What is left where nothing else is in series, Ω; common practice, no source.
const WIRE_OHMS: f64 = 0.1;

/// One player's controller and how it is held.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Controller {
    /// The knob in the first field, share of its rotation, 0 to 1.
    pub knob: f64,
    /// By how much it is turned from one field to the next, degrees; it turns back at its stops.
    pub turning_deg: f64,
    /// The potentiometer.
    pub track: Track,
    /// What is beside it.
    pub ramp: Ramp,
    /// The wiper's contact.
    pub contact: Contact,
    /// Mains on the ramp.
    pub hum: Hum,
    /// Where its random numbers come from.
    pub seed: u64,
}

/// Both players' controllers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Controllers {
    /// Left and right; `None` for a paddle that is placed without one.
    pub sides: [Option<Controller>; 2],
    /// Resistance of the lead that feeds both, Ω.
    pub common_ohms: f64,
}

impl Controller {
    /// The knob in a field, share of its rotation.
    #[must_use]
    pub fn knob_in(&self, field: u64) -> f64 {
        let turned = self.turning_deg / self.track.rotation_deg * math::from_u64(field);
        // There and back is a period of 2.
        let place = (self.knob + turned) / 2.0;
        let place = 2.0 * (place - math::floor(place));
        if place > 1.0 { 2.0 - place } else { place }
    }

    /// Resistance through which it charges in a field, Ω, without the shared lead; infinite while
    /// the contact is open.
    #[must_use]
    pub fn ohms_in(&self, field: u64) -> f64 {
        let moved_deg = |field: u64| {
            let worn = self.contact.is_worn_at(self.knob_in(field), &self.track);
            if worn { self.turning_deg.abs() } else { 0.0 }
        };
        let added = self.contact.added_ohms(&self.track, (self.seed, field), moved_deg);
        let track = (self.track.ohms_at(self.knob_in(field)) + added).max(0.0);
        (self.ramp.series_ohms + track).max(WIRE_OHMS)
    }
}

impl Controllers {
    /// The line on which each player's paddle begins in a field, in lines and parts of a line from
    /// the start of field sync; `None` without a controller, [`Start::Never`] if the threshold is
    /// not passed before the field ends.
    #[must_use]
    pub fn starts(&self, field: u64, timing: &FieldTiming) -> [Option<Start>; 2] {
        let field_s = 1.0 / timing.field_hz();
        let begun_s = field_s * math::from_u64(field);
        let ohms = self.sides.map(|side| side.map_or(f64::INFINITY, |side| side.ohms_in(field)));
        let crossings = match self.sides {
            [Some(left), Some(right)]
                if self.common_ohms > 0.0 && ohms.iter().all(|ohms| ohms.is_finite()) =>
            {
                let ramps = [&left.ramp, &right.ramp];
                let courses = Pair { ramps, ohms, common_ohms: self.common_ohms }.courses();
                [(left, courses[0]), (right, courses[1])].map(|(side, course)| {
                    let threshold_v = side.ramp.threshold_v();
                    let steps = if side.hum.volts > 0.0 { HUM_STEPS } else { RISING };
                    first_passage(field_s, steps, |t| {
                        course.volts(t) + side.hum.at(begun_s + t) - threshold_v
                    })
                })
            }
            _ => [0, 1].map(|one| self.alone_s(one, ohms[one], begun_s, field_s)),
        };
        [0, 1].map(|one| {
            self.sides[one].map(|_| match crossings[one].filter(|&seconds| seconds < field_s) {
                Some(seconds) => Start::Line(seconds * timing.line_hz()),
                None => Start::Never,
            })
        })
    }

    /// When a ramp that has the lead to itself passes its threshold, s.
    fn alone_s(&self, one: usize, ohms: f64, begun_s: f64, field_s: f64) -> Option<f64> {
        let side = self.sides[one].filter(|_| ohms.is_finite())?;
        let ohms = ohms + self.common_ohms;
        if side.hum.volts <= 0.0 {
            return side.ramp.crossing_s(ohms);
        }
        let threshold_v = side.ramp.threshold_v();
        first_passage(field_s, HUM_STEPS, |t| {
            side.ramp.volts(ohms, t) + side.hum.at(begun_s + t) - threshold_v
        })
    }
}

/// Where a paddle begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Start {
    /// On the line nearest to this one.
    Line(f64),
    /// Not in this field.
    Never,
}
