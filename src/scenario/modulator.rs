//! `[modulator]`: between the socket and the set, through the air or a lead that carries a channel.

use crate::base::diagnostic::Span;
use crate::document::fields::Fields;
use crate::document::problems::Problems;
use crate::document::quantity::LOSS;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::quantity::Quantity;
use crate::document::quantity::RESISTANCE;
use crate::document::quantity::TIME;
use crate::document::quantity::VOLTAGE;
use crate::document::quantity::Zero;
use crate::document::tree::Table;
use crate::document::tree::Value;
use crate::network::circuit::PartId;
use crate::path::spec::Detector;
use crate::path::spec::PathSpec;
use crate::path::system::Channel;
use crate::path::system::NOISE_FREE_V;
use crate::path::system::System;
use crate::scenario::set_library::Standard;

/// Input resistance, full and no carrier where nothing is said: a can of the time takes 1 kΩ, and
/// white at 10 % carrier lies 1 V above the tip; common practice, no source.
const INPUT_OHMS: f64 = 1e3;
const FULL_CARRIER_V: f64 = 0.0;
const NO_CARRIER_V: f64 = 1.1;
/// Noise figure of a tuner of the time, dB, and the time constant of its gain control, s; common
/// practice, no source.
const NOISE_FIGURE_DB: f64 = 8.0;
const AGC_S: f64 = 0.05;

const DETECTORS: [(&str, Detector); 2] =
    [("envelope", Detector::Envelope), ("synchronous", Detector::Synchronous)];

/// The modulator of a scenario and the set's tuner.
#[derive(Clone, Debug, PartialEq)]
pub struct Modulator {
    /// What it makes of the volts at its input.
    pub path: PathSpec,
    /// The resistor between the socket and its input, if there is one.
    pub feed: Option<PartId>,
}

/// As written: the parts are not on the board yet.
pub(crate) struct Written {
    pub(crate) path: PathSpec,
    /// The feed resistor and where it is written.
    pub(crate) feed: Option<(f64, Span)>,
    pub(crate) input_ohms: f64,
    pub(crate) span: Span,
}

/// Reads the table, if the scenario has it. `field_hz` is the chip's field rate, by which the system
/// is chosen.
pub(crate) fn read(scenario: &Fields<'_>, field_hz: f64) -> Option<Written> {
    scenario.table("modulator").map(|table| read_table(table, field_hz, scenario.problems()))
}

fn read_table(table: &Table, field_hz: f64, problems: &Problems) -> Written {
    let fields = Fields::open(table, "[modulator]", problems);
    let by_rate = match Standard::of_fields(field_hz) {
        Standard::Lines525 => System::M,
        Standard::Lines625 => System::Bg,
    };
    let system = fields.choice("system", &System::NAMED).unwrap_or(by_rate);
    let feed = fields.quantity("feed", &RESISTANCE);
    let positive_time = Quantity { zero: Zero::Impossible, ..TIME };
    let path = PathSpec {
        system,
        channel: channel(&fields, system),
        full_carrier_v: fields.quantity_or("full_carrier", &VOLTAGE, FULL_CARRIER_V),
        no_carrier_v: fields.quantity_or("no_carrier", &VOLTAGE, NO_CARRIER_V),
        level_v: fields.quantity_or("level", &POSITIVE_VOLTAGE.within(1e-7, 1.0), NOISE_FREE_V),
        noise_figure_db: noise_figure(&fields),
        agc_s: fields.quantity_or("gain_control", &positive_time.within(1e-4, 10.0), AGC_S),
        detector: fields.choice("detector", &DETECTORS).unwrap_or(Detector::Envelope),
        seed: fields.count("seed", 0..=u32::MAX).map_or(0, u64::from),
    };
    if path.no_carrier_v <= path.full_carrier_v {
        let message = "`no_carrier` does not lie above `full_carrier`".to_owned();
        let expected = "expected it above: in these systems white has the least carrier";
        problems.add(fields.place("no_carrier"), message, expected);
    }
    let input_ohms = fields.quantity_or("input", &RESISTANCE, INPUT_OHMS);
    let feed = feed.map(|ohms| (ohms, fields.place("feed").clone()));
    fields.close();
    Written { path, feed, input_ohms, span: table.span.clone() }
}

/// A figure in dB, or "none".
fn noise_figure(fields: &Fields<'_>) -> Option<f64> {
    match fields.item("noise_figure").map(|item| &item.value) {
        Some(Value::Text(word)) if word == "none" => None,
        _ => Some(fields.quantity_or("noise_figure", &LOSS, NOISE_FIGURE_DB)),
    }
}

/// "E3", "A4", or a number of the UHF band.
fn channel(fields: &Fields<'_>, system: System) -> Channel {
    let usual = Channel::usual(system);
    let Some(item) = fields.item("channel") else { return usual };
    let expected = "expected `E3` or `E4` (BG), `A3` or `A4` (M), or 21 to 69 (BG and I)";
    let (Value::Text(name) | Value::Number(name)) = &item.value else {
        fields.problems().add(&item.span, format!("this is {}", item.value.noun()), expected);
        return usual;
    };
    match Channel::from_name(name.trim()) {
        Some(channel) if channel.carries(system) => channel,
        found => {
            let name = name.trim();
            let message = match found {
                Some(_) => {
                    format!("channel `{name}` is not one of system {}", system.data().name)
                }
                None => format!("unknown channel `{name}`"),
            };
            fields.problems().add(&item.span, message, expected);
            usual
        }
    }
}
