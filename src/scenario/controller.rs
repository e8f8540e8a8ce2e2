//! `[controller]` and `[controllers]`: the knobs by which paddles are moved.

use crate::document::fields::Fields;
use crate::document::fields::as_quantity;
use crate::document::problems::Problems;
use crate::document::quantity::ANGLE;
use crate::document::quantity::CAPACITANCE;
use crate::document::quantity::FACTOR;
use crate::document::quantity::FREQUENCY;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::quantity::Quantity;
use crate::document::quantity::RESISTANCE;
use crate::document::quantity::SHARE;
use crate::document::quantity::Zero;
use crate::document::tree::Table;
use crate::document::tree::Value;
use crate::profile::NOMINAL_VOLTS;
use crate::raster::controller::Controller;
use crate::raster::controller::Controllers;
use crate::raster::controller::contact::Contact;
use crate::raster::controller::ramp::Hum;
use crate::raster::controller::ramp::Ramp;
use crate::raster::controller::ramp::Threshold;
use crate::raster::controller::track::Track;
use crate::raster::plan::Content;
use crate::scenario::chip::Chip;
use crate::scenario::passive::LAWS;

/// The common set, 1 M linear with 100 nF and 10 k, and a threshold of 1 V: common practice, no
/// source; with them the whole screen takes 16.7 ms, where a servicing text of the day has 16.5.
const TRACK_OHMS: f64 = 1e6;
const FARADS: f64 = 100e-9;
const SERIES_OHMS: f64 = 10e3;
const THRESHOLD_V: f64 = 1.0;
/// Knob, track and flat ends: common practice, no source: 260 to 280 of 300 degrees, 3 to 5 %.
const ROTATION_DEG: f64 = 300.0;
const TRAVEL_DEG: f64 = 270.0;
const FLAT: f64 = 0.04;

/// Contacts by their condition; common practice, no source: 0.2 % of the track when clean, 1 to 3
/// when dirty; 1 to 10 spikes a crossing, 5 to 20 % high, one to three fields long; a worn zone of
/// 20 to 40 degrees where the game is played.
const CLEAN: Contact = Contact {
    standing: 0.002,
    spikes: 0.0,
    spike_height: 0.1,
    spike_fields: 3,
    openings: 0.0,
    zone_middle: 0.5,
    zone_deg: 30.0,
};
const CONDITIONS: [(&str, Contact); 3] = [
    ("clean", CLEAN),
    ("dirty", Contact { standing: 0.02, spikes: 3.0, ..CLEAN }),
    ("worn", Contact { standing: 0.02, spikes: 10.0, openings: 1.0, ..CLEAN }),
];

const SIDES: [&str; 2] = ["left", "right"];

/// Puts the controllers that a scenario writes into its game; they take the place of `left` and
/// `right` there.
pub(crate) fn put(mut chip: Chip, scenario: &Fields<'_>) -> Chip {
    let field_hz = chip.raster.timing.field_hz();
    let problems = scenario.problems();
    let both = scenario.table("controller");
    let each = scenario.table("controllers");
    let Some(first) = both.or(each) else { return chip };
    let Content::Game(_, state) = &mut chip.raster.content else {
        let message = "a chip that is driven by patterns has no controllers".to_owned();
        problems.add(&first.span, message, "expected none");
        return chip;
    };
    let empty = Table { entries: Vec::new(), span: first.span.clone() };
    let each = Fields::open(each.unwrap_or(&empty), "[controllers]", problems);
    let common_ohms = each.quantity_or("common", &RESISTANCE.or_zero(), 0.0);
    let sides = SIDES.map(|side| match (both, each.table(side)) {
        (Some(both), Some(own)) => Some(both.overlaid(own)),
        (both, own) => own.or(both).cloned(),
    });
    let common = each.place("common").clone();
    each.close();
    let mut seed = 0;
    let sides = sides.map(|table| {
        seed += 1;
        let fields = Fields::open(table.as_ref()?, "the controller", problems);
        let read = read(&fields, field_hz);
        fields.close();
        // Both players' hands and dirt are their own.
        read.map(|one| Controller { seed: 2 * one.seed + seed, ..one })
    });
    if let [Some(left), Some(right)] = &sides
        && common_ohms > 0.0
        && left.ramp.supply_v.to_bits() != right.ramp.supply_v.to_bits()
    {
        let message = format!(
            "one lead feeds both players, from {} V and {} V",
            left.ramp.supply_v, right.ramp.supply_v
        );
        problems.add(&common, message, "expected the same `supply` for both");
    }
    state.controllers = Some(Box::new(Controllers { sides, common_ohms }));
    chip
}

/// Reads one controller from a table of its own, for a field rate in Hz; what is left out is the
/// common set. `None` only after a problem has been added.
#[must_use]
pub fn alone(table: &Table, field_hz: f64, problems: &Problems) -> Option<(Controller, f64)> {
    let fields = Fields::open(table, "the controller", problems);
    let common_ohms = fields.quantity_or("common", &RESISTANCE.or_zero(), 0.0);
    let read = read(&fields, field_hz);
    fields.close();
    Some((read?, common_ohms))
}

fn read(fields: &Fields<'_>, field_hz: f64) -> Option<Controller> {
    let knob = fields.quantity_or("knob", &SHARE, 0.5);
    let track = track(fields);
    let ramp = ramp(fields);
    let contact = contact(fields);
    let hum = Hum {
        volts: fields.quantity_or("hum", &POSITIVE_VOLTAGE.or_zero(), 0.0),
        hertz: fields.quantity_or("mains", &FREQUENCY, if field_hz < 55.0 { 50.0 } else { 60.0 }),
    };
    let turning_deg = fields.quantity_or("turning", &ANGLE, 0.0);
    let seed = u64::from(fields.count("seed", 0..=u32::MAX).unwrap_or(0));
    Some(Controller { knob, turning_deg, track: track?, ramp: ramp?, contact, hum, seed })
}

fn track(fields: &Fields<'_>) -> Option<Track> {
    let ohms = fields.quantity_or("potentiometer", &RESISTANCE.within(100.0, 1e9), TRACK_OHMS);
    let law = fields.choice("law", &LAWS).unwrap_or(0.5);
    let middle = fields.quantity_or("middle", &SHARE.within(1e-3, 0.999), law);
    let angle = Quantity { zero: Zero::Impossible, ..ANGLE };
    let rotation_deg = fields.quantity_or("rotation", &angle, ROTATION_DEG);
    let travel = fields.quantity("travel", &angle);
    let flat = fields.quantity_or("flat", &SHARE.within(1e-6, 0.4), FLAT);
    let reversed = fields.flag("reversed");
    let travel_deg = travel.unwrap_or(rotation_deg.min(TRAVEL_DEG));
    if travel_deg > rotation_deg {
        let message = format!("a track of {travel_deg}° in a rotation of {rotation_deg}°");
        let expected = "expected a `travel` no longer than the `rotation`";
        fields.problems().add(fields.place("travel"), message, expected);
        return None;
    }
    Some(Track { ohms, middle, rotation_deg, travel_deg, flat, reversed })
}

fn ramp(fields: &Fields<'_>) -> Option<Ramp> {
    let supply_v = fields.quantity_or("supply", &POSITIVE_VOLTAGE, NOMINAL_VOLTS);
    let series_ohms = fields.quantity_or("series", &RESISTANCE.or_zero(), SERIES_OHMS);
    let farads = fields.quantity_or("capacitor", &CAPACITANCE, FARADS);
    let lead_farads = fields.quantity_or("cable", &CAPACITANCE.or_zero(), 0.0);
    let leak_ohms = fields.quantity("leak", &RESISTANCE).unwrap_or(f64::INFINITY);
    let threshold = threshold(fields).unwrap_or(Threshold::Volts(THRESHOLD_V));
    let ramp = Ramp { supply_v, threshold, series_ohms, farads, lead_farads, leak_ohms };
    if ramp.threshold_v() >= supply_v {
        let message =
            format!("a threshold of {} V is never passed from {supply_v} V", ramp.threshold_v());
        let expected = "expected a threshold below the supply";
        fields.problems().add(fields.place("threshold"), message, expected);
        return None;
    }
    Some(ramp)
}

/// Volts, or a share of the supply in percent.
fn threshold(fields: &Fields<'_>) -> Option<Threshold> {
    let item = fields.item("threshold")?;
    let share = Quantity { zero: Zero::Impossible, ..SHARE };
    match &item.value {
        Value::Text(text) if text.trim_end().ends_with('%') => {
            as_quantity(item, &share, fields.problems()).map(Threshold::Share)
        }
        _ => as_quantity(item, &POSITIVE_VOLTAGE, fields.problems()).map(Threshold::Volts),
    }
}

fn contact(fields: &Fields<'_>) -> Contact {
    let base = fields.choice("condition", &CONDITIONS).unwrap_or(CLEAN);
    let count = FACTOR.within(1e-3, 1000.0).or_zero();
    let zone = Quantity { zero: Zero::Impossible, ..ANGLE };
    let contact = Contact {
        standing: fields.quantity_or("standing_noise", &SHARE, base.standing),
        spikes: fields.quantity_or("spikes", &count, base.spikes),
        spike_height: fields.quantity_or("spike_height", &SHARE, base.spike_height),
        spike_fields: fields.count("spike_fields", 1..=10).unwrap_or(base.spike_fields),
        openings: fields.quantity_or("openings", &count, base.openings),
        zone_middle: fields.quantity_or("zone", &SHARE, base.zone_middle),
        zone_deg: fields.quantity_or("zone_width", &zone, base.zone_deg),
    };
    if fields.flag("cleaned") { contact.cleaned() } else { contact }
}
