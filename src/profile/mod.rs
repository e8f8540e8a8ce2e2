//! Chip profiles: what a chip puts out and how strongly, as data that a user can write from a data
//! sheet. Four invented chips are built in.

pub mod builtin;
pub mod court;
pub mod drive;
pub mod limits;
pub mod pins;
pub mod rules;
pub mod timing;

use crate::document::fields::Fields;
use crate::document::problems::Problems;
use crate::document::quantity::CURRENT;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::tree::Table;
use crate::profile::limits::ChipLimits;
use crate::profile::pins::ProfilePin;
use crate::raster::plan::Court;
use crate::raster::rules::Tones;
use crate::signal::timing::FieldTiming;

/// Supply at which pin levels are stated where nothing else is said, V; common practice, no source.
pub const NOMINAL_VOLTS: f64 = 6.5;
/// Current that a chip draws where nothing else is said, A; common practice, no source.
pub const DRAW_AMPS: f64 = 0.035;

/// A chip, read and checked.
#[derive(Clone, Debug, PartialEq)]
pub struct Profile {
    /// Clock, lines and sync.
    pub timing: FieldTiming,
    /// Names of the elements.
    pub elements: Vec<String>,
    /// Courts by name, in the order of the file.
    pub courts: Vec<(String, Court)>,
    /// The tones on the sound pin.
    pub tones: Tones,
    /// Output pins, in the order of the file.
    pub pins: Vec<ProfilePin>,
    /// Supply at which the levels of the pins are stated, V.
    pub nominal_volts: f64,
    /// Current drawn, A.
    pub draw_amps: f64,
    /// What it bears.
    pub limits: ChipLimits,
}

/// Reads a profile; `None` only if so much is wrong that nothing that refers to it can be judged.
#[must_use]
pub fn read(root: &Table, problems: &Problems) -> Option<Profile> {
    let fields = Fields::open(root, "the profile", problems);
    let _ = fields.text("title");
    let nominal_volts = fields.quantity_or("nominal_supply", &POSITIVE_VOLTAGE, NOMINAL_VOLTS);
    let draw_amps = fields.quantity_or("current", &CURRENT, DRAW_AMPS);
    let limits = limits::read(&fields, limits::USUAL);
    let elements = pins::elements(&fields);
    let timing = fields
        .needed("timing", "expected a table `[timing]`", fields.table("timing"))
        .and_then(|table| timing::read(table, "[timing]", problems));
    let pins = pins::read(&fields, &elements, nominal_volts);
    let courts =
        fields.needed("court", "expected tables such as `[court.net]`", fields.table("court"));
    let tones = rules::tones(&fields);
    let courts = timing.zip(courts).map(|(timing, table)| {
        court::read_all(table, &court::Frame { timing, elements: &elements, tones }, problems)
    });
    fields.close();
    Some(Profile {
        timing: timing?,
        elements,
        courts: courts?,
        tones,
        pins: pins?,
        nominal_volts,
        draw_amps,
        limits,
    })
}
