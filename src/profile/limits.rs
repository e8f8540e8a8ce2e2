//! What a chip bears: its supply window and the load of its pins.

use crate::document::fields::Fields;
use crate::document::quantity::CURRENT;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::quantity::Quantity;
use crate::document::quantity::Zero;

/// Limits of a chip. No data sheet of the class that is known states more than the window.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChipLimits {
    /// Supply from which it works for certain, V.
    pub least_volts: f64,
    /// Supply up to which it is meant to be used, V.
    pub most_volts: f64,
    /// Supply that it does not survive for certain, V.
    pub breaking_volts: f64,
    /// Current that a pin gives with good levels, A.
    pub source_amps: f64,
    /// Current that a pin takes with good levels, A.
    pub sink_amps: f64,
    /// Where the numbers come from.
    pub source: &'static str,
}

/// What a chip of the class bears where nothing else is said.
pub const USUAL: ChipLimits = ChipLimits {
    least_volts: 6.0,
    most_volts: 7.0,
    breaking_volts: 9.0,
    source_amps: 1e-3,
    sink_amps: 1e-3,
    source: "common practice, no source",
};

/// What a profile or a scenario says itself.
const STATED: &str = "as stated for the chip";

const AMPS: Quantity = Quantity { zero: Zero::Impossible, ..CURRENT };

/// Reads `least_supply`, `most_supply`, `breaking_supply`, `pin_source` and `pin_sink`, over
/// `below`.
#[must_use]
pub fn read(fields: &Fields<'_>, below: ChipLimits) -> ChipLimits {
    let volts = |key, below| fields.quantity_or(key, &POSITIVE_VOLTAGE, below);
    let limits = ChipLimits {
        least_volts: volts("least_supply", below.least_volts),
        most_volts: volts("most_supply", below.most_volts),
        breaking_volts: volts("breaking_supply", below.breaking_volts),
        source_amps: fields.quantity_or("pin_source", &AMPS, below.source_amps),
        sink_amps: fields.quantity_or("pin_sink", &AMPS, below.sink_amps),
        source: below.source,
    };
    let rising =
        limits.least_volts <= limits.most_volts && limits.most_volts <= limits.breaking_volts;
    if !rising {
        let message = format!(
            "the supply limits of {} do not rise: {} V, {} V, {} V",
            fields.what(),
            limits.least_volts,
            limits.most_volts,
            limits.breaking_volts
        );
        let keys = ["least_supply", "most_supply", "breaking_supply"];
        let key = keys.into_iter().find(|key| fields.has(key)).unwrap_or(keys[0]);
        let expected = "expected `least_supply` below `most_supply` below `breaking_supply`";
        fields.problems().add(fields.place(key), message, expected);
    }
    let source = if limits == below { below.source } else { STATED };
    ChipLimits { source, ..limits }
}
