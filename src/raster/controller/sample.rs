//! A controller for the tests: the common set with a dirty contact and some hum.

use crate::raster::controller::Controller;
use crate::raster::controller::contact::Contact;
use crate::raster::controller::ramp::Hum;
use crate::raster::controller::ramp::Ramp;
use crate::raster::controller::ramp::Threshold;
use crate::raster::controller::track::Track;

/// 1 M linear.
pub(crate) const TRACK: Track = Track {
    ohms: 1e6,
    middle: 0.5,
    rotation_deg: 300.0,
    travel_deg: 270.0,
    flat: 0.04,
    reversed: false,
};

/// 100 nF, 10 k, 1 V of 6.5 V.
pub(crate) const RAMP: Ramp = Ramp {
    supply_v: 6.5,
    threshold: Threshold::Volts(1.0),
    series_ohms: 10e3,
    farads: 100e-9,
    lead_farads: 0.0,
    leak_ohms: f64::INFINITY,
};

/// Both of them, with a contact that is not clean.
pub(crate) fn dirty() -> Controller {
    Controller {
        knob: 0.5,
        turning_deg: 1.0,
        track: TRACK,
        ramp: RAMP,
        contact: Contact {
            standing: 0.02,
            spikes: 3.0,
            spike_height: 0.1,
            spike_fields: 3,
            openings: 0.0,
            zone_middle: 0.5,
            zone_deg: 30.0,
        },
        hum: Hum { volts: 0.02, hertz: 50.0 },
        seed: 1,
    }
}
