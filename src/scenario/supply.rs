//! What feeds a board: supplies, batteries, adapters, regulators; and the video driver.

use crate::document::fields::Fields;
use crate::document::quantity::CURRENT;
use crate::document::quantity::FACTOR;
use crate::document::quantity::FREQUENCY;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::quantity::Quantity;
use crate::document::quantity::RESISTANCE;
use crate::document::quantity::SHARE;
use crate::document::quantity::TIME;
use crate::document::quantity::VOLTAGE;
use crate::document::tree::Value;
use crate::network::amplifier::VideoDriver;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartKind;
use crate::network::regulator::Regulator;
use crate::network::ripple::Adapter;
use crate::network::schedule::Openings;
use crate::network::schedule::Sounder;
use crate::raster::rules::CLASS_CLOCK_HZ;
use crate::raster::rules::Event;
use crate::raster::rules::TONES;
use crate::scenario::battery;
use crate::scenario::battery::Battery;
use crate::scenario::nodes::Nodes;
use crate::scenario::nodes::Role;
use crate::scenario::parts::apart;
use crate::scenario::sound::SERIES_OHMS;

/// Adapters without a word about it; common practice, no source.
const ADAPTER_OHMS: f64 = 4.0;
const MAINS_HZ: f64 = 50.0;
/// Share of a period in which a rectifier charges its reservoir; common practice, no source.
const CONDUCTION: f64 = 0.2;
/// Ripple periods in one of the mains, by rectifier.
const RECTIFIERS: [(&str, f64); 2] = [("half", 1.0), ("full", 2.0)];

/// How long a contact that opens stays open, s; common practice, no source.
const OPEN_S: f64 = 3e-3;

/// Share by which an output may be off, by specimen: 4.8 to 5.2 V of a 7805 at 25 °C.
pub(super) const SPECIMENS: [(&str, f64); 3] = [("low", 0.96), ("typical", 1.0), ("high", 1.04)];

/// Typical values of a regulator.
#[derive(Clone, Copy)]
struct RegulatorClass {
    dropout_volts: f64,
    dropout_ohms: f64,
    output_ohms: f64,
    limit_amps: f64,
    quiescent_amps: f64,
    line_ratio: f64,
}

/// 7805, makers' data sheets, typical: dropout 2.0 V at 1 A (less at no load from memory), load
/// regulation 9 mV over 1.5 A, peak current 2.2 A, quiescent 5 mA, line regulation 4 mV over 18 V.
const ONE_AMPERE: RegulatorClass = RegulatorClass {
    dropout_volts: 1.5,
    dropout_ohms: 0.5,
    output_ohms: 6e-3,
    limit_amps: 2.2,
    quiescent_amps: 5e-3,
    line_ratio: 4e-3 / 18.0,
};
/// The small one: dropout 1.7 V and quiescent 3.8 mA from data sheets, the rest from memory.
const TENTH_AMPERE: RegulatorClass = RegulatorClass {
    dropout_volts: 1.4,
    dropout_ohms: 7.5,
    output_ohms: 0.11,
    limit_amps: 0.15,
    quiescent_amps: 3.8e-3,
    line_ratio: 2.5e-3,
};
const CLASSES: [(&str, RegulatorClass); 2] = [("1 A", ONE_AMPERE), ("100 mA", TENTH_AMPERE)];

pub(crate) fn supply(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let volts = plus_volts(fields, "supply");
    let ohms = fields.quantity_or("resistance", &RESISTANCE.or_zero(), 0.0);
    let lead = lead(fields);
    let node = source_node(fields, nodes, "node");
    Some(lead.source(node?, volts?, ohms + lead.ohms))
}

/// A battery, by its voltage or by its cells; with a chemistry or a charge, by its data.
pub(crate) fn battery(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<(PartKind, Battery)> {
    let node = source_node(fields, nodes, "node");
    let volts = match battery::cells(fields) {
        Some(_) => None,
        None => Some(plus_volts(fields, "battery")),
    };
    let lead = lead(fields);
    let source = battery::read(fields, volts.flatten(), lead.ohms);
    if volts == Some(None) {
        return None;
    }
    let source = source?;
    Some((lead.source(node?, source.volts, source.ohms), source.battery))
}

/// What the contacts in the lead of a source do.
struct Lead {
    ohms: f64,
    openings: Option<Openings>,
}

fn lead(fields: &Fields<'_>) -> Lead {
    let ohms = fields.quantity_or("contact", &RESISTANCE.or_zero(), 0.0);
    let per_second = fields.quantity_or("openings", &FACTOR.within(1e-2, 1e3).or_zero(), 0.0);
    let open_s = fields.quantity_or("open_for", &TIME.within(1e-6, 10.0), OPEN_S);
    let seed = fields.count("contact_seed", 0..=u32::MAX).unwrap_or(0).into();
    let at_s = fields.quantity("opens_at", &TIME);
    if at_s.is_some() && per_second > 0.0 {
        let message = "a contact opens now and then or once, not both".to_owned();
        fields.problems().add(fields.place("opens_at"), message, "expected no `openings`");
    }
    let often = (per_second > 0.0).then_some(Openings::Often { per_second, open_s, seed });
    Lead { ohms, openings: at_s.map(|at_s| Openings::Once { at_s, open_s }).or(often) }
}

impl Lead {
    /// A source of fixed volts behind it; `ohms` is all that is in series.
    fn source(&self, node: NodeId, volts: f64, ohms: f64) -> PartKind {
        let Some(openings) = self.openings else { return PartKind::Supply { node, volts, ohms } };
        PartKind::Adapter(Box::new(Adapter::behind_contact(node, volts, ohms, openings)))
    }
}

/// A plug-in adapter; without ripple it is a plain supply.
pub(crate) fn adapter(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let volts = plus_volts(fields, "adapter");
    let ohms = fields.quantity_or("resistance", &RESISTANCE, ADAPTER_OHMS);
    let ripple_volts = fields.quantity_or("ripple", &POSITIVE_VOLTAGE.or_zero(), 0.0);
    let mains = fields.quantity_or("mains", &FREQUENCY.within(1.0, 1e4), MAINS_HZ);
    let times = fields.choice("rectifier", &RECTIFIERS).unwrap_or(2.0);
    let phase = fields.quantity_or("phase", &SHARE, 0.0);
    let conduction = fields.quantity_or("conduction", &SHARE.within(0.01, 0.99), CONDUCTION);
    let lead = lead(fields);
    let ohms = ohms + lead.ohms;
    let node = source_node(fields, nodes, "node");
    let (node, volts) = (node?, volts?);
    if ripple_volts <= 0.0 {
        return Some(lead.source(node, volts, ohms));
    }
    if ripple_volts > 2.0 * volts {
        let message = "the ripple is more than twice the voltage it rides on".to_owned();
        fields.problems().add(fields.place("ripple"), message, "expected less");
        return None;
    }
    let ripple_hertz = mains * times;
    let openings = lead.openings;
    let adapter =
        Adapter { node, volts, ohms, ripple_volts, ripple_hertz, phase, conduction, openings };
    Some(PartKind::Adapter(Box::new(adapter)))
}

/// A loudspeaker with its driver; where nothing else is said its beep is the class's tone of a hit.
pub(crate) fn sounder(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let speaker_ohms = fields.quantity("sounder", &RESISTANCE);
    let series_ohms = fields.quantity_or("series", &RESISTANCE.or_zero(), SERIES_OHMS);
    let hit_hertz = TONES.hertz(Event::Hit, CLASS_CLOCK_HZ);
    let tone_hertz = fields.quantity_or("tone", &FREQUENCY.within(10.0, 20e3), hit_hertz);
    let burst_s = TONES.burst_s(CLASS_CLOCK_HZ);
    let beep_s = fields.quantity_or("beep", &TIME.within(1e-3, 100.0), burst_s);
    let first_s = fields.quantity_or("first", &TIME, 0.0);
    let every_s = fields.quantity("every", &TIME.within(1e-3, 1e3));
    let node = nodes.tie_key(fields, "node", Role::Supplied)?;
    if every_s.is_some_and(|every_s| every_s < beep_s) {
        let message = "the next beep begins before this one has ended".to_owned();
        fields.problems().add(fields.place("every"), message, "expected more than `beep`");
        return None;
    }
    if node == NodeId::GROUND {
        let message = format!("{} is fed from ground", fields.what());
        fields.problems().add(fields.place("node"), message, "expected the node that feeds it");
        return None;
    }
    let ohms = speaker_ohms? + series_ohms;
    Some(PartKind::Sounder(Box::new(Sounder { node, ohms, tone_hertz, first_s, beep_s, every_s })))
}

pub(crate) fn regulator(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let class = fields.choice("class", &CLASSES).unwrap_or(ONE_AMPERE);
    let volts = fields.quantity("regulator", &POSITIVE_VOLTAGE.within(1.0, 30.0));
    let specimen = fields.choice("specimen", &SPECIMENS).unwrap_or(1.0);
    let number = |key, quantity: Quantity, default| fields.quantity_or(key, &quantity, default);
    let small = POSITIVE_VOLTAGE.within(0.01, 10.0);
    let dropout_volts = number("dropout", small, class.dropout_volts);
    let dropout_ohms = number("dropout_resistance", RESISTANCE.or_zero(), class.dropout_ohms);
    let output_ohms = number("resistance", RESISTANCE.within(1e-3, 1e3), class.output_ohms);
    let limit_amps = number("limit", CURRENT.within(1e-3, 100.0), class.limit_amps);
    let quiescent_amps = number("quiescent", CURRENT, class.quiescent_amps);
    let line_ratio = number("line_regulation", SHARE, class.line_ratio);
    let input = nodes.tie_key(fields, "input", Role::Supplied);
    let output = source_node(fields, nodes, "output");
    let common = match fields.has("common") {
        true => nodes.tie_key(fields, "common", Role::End),
        false => Some(NodeId::GROUND),
    };
    let (input, output, common, volts) = (input?, output?, common?, volts? * specimen);
    if input == NodeId::GROUND {
        let message = format!("the input of {} is tied to ground", fields.what());
        let expected = "expected the node that feeds it: a supply, a battery, a diode";
        fields.problems().add(fields.place("input"), message, expected);
        return None;
    }
    apart(fields, ["input", "output"], [input, output])?;
    apart(fields, ["input", "common"], [input, common])?;
    apart(fields, ["output", "common"], [output, common])?;
    Some(PartKind::Regulator(Box::new(Regulator {
        input,
        output,
        common,
        volts,
        dropout_volts,
        dropout_ohms,
        output_ohms,
        limit_amps,
        quiescent_amps,
        line_ratio,
    })))
}

/// The video driver; its defaults are common practice, no source.
pub(crate) fn video_driver(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let gain = fields.quantity("driver", &FACTOR.within(0.1, 100.0));
    let number = |key, quantity, default| fields.quantity_or(key, quantity, default);
    let offset_volts = number("offset", &VOLTAGE, 0.0);
    let lowest_volts = number("lowest", &VOLTAGE, 0.1);
    let headroom_volts = number("headroom", &VOLTAGE, 1.0);
    let ohms = number("output_resistance", &RESISTANCE, 1.0);
    let pole_hertz = number("bandwidth", &FREQUENCY, 8e6);
    let input_ohms = number("input_resistance", &RESISTANCE, 1e6);
    let quiescent_amps = number("current", &CURRENT, 7e-3);
    let input = nodes.tie_key(fields, "input", Role::End);
    let output = nodes.tie_key(fields, "output", Role::Output);
    let supply = nodes.tie_key(fields, "supply", Role::Supplied);
    Some(PartKind::VideoDriver(Box::new(VideoDriver {
        input: input?,
        output: output?,
        supply: supply?,
        gain: gain?,
        offset_volts,
        lowest_volts,
        headroom_volts,
        ohms,
        pole_hertz,
        input_ohms,
        quiescent_amps,
    })))
}

const MINUS_AT_GROUND: &str = "the minus of every supply is tied to `ground`: name the node at its \
                               plus, and give its volts without a sign";

/// The volts of a source, which cannot be turned round.
fn plus_volts(fields: &Fields<'_>, key: &str) -> Option<f64> {
    let item = fields.item(key)?;
    let (Value::Text(text) | Value::Number(text)) = &item.value else {
        return fields.quantity(key, &POSITIVE_VOLTAGE);
    };
    if !text.trim_start().starts_with(['-', '−']) {
        return fields.quantity(key, &POSITIVE_VOLTAGE);
    }
    let message = format!("{} is the wrong way round: `{text}` is below 0", fields.what());
    let hint = Some(MINUS_AT_GROUND.to_owned());
    fields.problems().add_hinted(&item.span, message, "expected volts above 0", hint);
    None
}

fn source_node(fields: &Fields<'_>, nodes: &mut Nodes, key: &str) -> Option<NodeId> {
    let node = nodes.tie_key(fields, key, Role::Source)?;
    if node == NodeId::GROUND {
        let message = format!("{} feeds ground", fields.what());
        let hint = Some(MINUS_AT_GROUND.to_owned());
        let expected = "expected the node that it feeds";
        fields.problems().add_hinted(fields.place(key), message, expected, hint);
        return None;
    }
    Some(node)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::load;

    fn source(words: &str) -> Result<PartKind, String> {
        let text = format!(
            "[chip.timing]\nclock = \"2 MHz\"\nclocks_per_line = 128\nlines = 312\nsync = 9\n\
             back_porch = 12\nfront_porch = 3\nfield_sync = \"inverted\"\nfirst_active_line = 24\n\
             [chip.drive]\nkind = \"fixed\"\nhigh_volts = 5\nhigh_ohms = 100\nlow_ohms = 100\n\
             [chip.pattern.bar]\nactive = [{{ lines = [40, 60], clocks = [30, 40] }}]\n\
             [board.R1]\nresistor = 75\nfrom = \"sync\"\nto = \"plug\"\n\
             [board.R2]\nresistor = 75\nfrom = \"bar\"\nto = \"plug\"\n\
             [board.R3]\nresistor = 75\nfrom = \"rail\"\nto = \"plug\"\n\
             [board.V1]\n{words}\nnode = \"rail\"\n[output]\nnode = \"plug\"\n"
        );
        let scenario = load("t.toml", &[], &mut |_| Ok(text.clone()))
            .map_err(|errors| errors.into_iter().map(|error| error.message).collect::<String>())?;
        let part = scenario.circuit.part("V1").ok_or("no part")?;
        Ok(scenario.circuit.parts[part.0].kind.clone())
    }

    fn assert_supplies(words: &str, volts: f64, ohms: f64) {
        let Ok(PartKind::Supply { volts: found, ohms: behind, .. }) = source(words) else {
            panic!("{words}: {:?}", source(words))
        };
        assert!((found - volts).abs() < 1e-9 && (behind - ohms).abs() < 1e-9, "{found} {behind}");
    }

    #[test]
    fn a_battery_follows_its_chemistry_and_what_is_left_in_it() {
        assert_supplies("battery = \"6 cells\"", 9.0, 1.8);
        assert_supplies("battery = \"9 V\"", 9.0, 1.7);
        // Fresh alkaline cells: 1.58 V, 0.15 Ω; 90 % spent: 0.9 Ω (makers).
        assert_supplies("battery = \"6 cells\"\nchemistry = \"alkaline\"", 9.48, 0.9);
        assert_supplies("battery = \"6 cells\"\ncharge = \"10 %\"", 7.08, 5.4);
        assert_supplies("battery = \"6 cells\"\ncharge = \"10 %\"\ncontact = 4", 7.08, 9.4);
        assert_supplies("battery = \"6 cells\"\ncell_volts = 1.2\nresistance = 2", 7.2, 2.0);
        // A fresh alkaline block: 1.7 Ω; a zinc-carbon one above 100 Ω when spent.
        assert_supplies("battery = \"9 V\"\ncharge = 1", 9.48, 1.7);
        assert_supplies("battery = \"9 V\"\nchemistry = \"zinc-carbon\"\ncharge = 0", 6.0, 150.0);
    }

    #[test]
    fn an_adapter_without_ripple_is_a_plain_supply_and_one_with_too_much_is_refused() {
        assert_supplies("adapter = \"9 V\"", 9.0, 4.0);
        let Ok(PartKind::Adapter(adapter)) =
            source("adapter = \"9 V\"\nripple = \"1 V\"\nrectifier = \"half\"\nmains = \"60 Hz\"")
        else {
            panic!("an adapter")
        };
        assert!((adapter.ripple_hertz - 60.0).abs() < 1e-12);
        let Ok(PartKind::Adapter(battery)) = source("battery = \"9 V\"\nopenings = 5") else {
            panic!("a contact that opens")
        };
        assert!(battery.ripple_volts.abs() < 1e-12 && battery.openings.is_some());
        let refused = source("adapter = \"9 V\"\nripple = \"19 V\"").unwrap_err();
        assert_eq!(refused, "the ripple is more than twice the voltage it rides on");
    }
}
