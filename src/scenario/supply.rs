//! What feeds a board: supplies, batteries, adapters, regulators; and the video driver.

use crate::document::fields::Fields;
use crate::document::quantity::CURRENT;
use crate::document::quantity::FACTOR;
use crate::document::quantity::FREQUENCY;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::quantity::Quantity;
use crate::document::quantity::RESISTANCE;
use crate::document::quantity::SHARE;
use crate::document::quantity::VOLTAGE;
use crate::document::tree::Value;
use crate::network::amplifier::VideoDriver;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartKind;
use crate::network::device::interpolate;
use crate::network::regulator::Regulator;
use crate::network::ripple::Adapter;
use crate::scenario::nodes::Nodes;
use crate::scenario::nodes::Role;
use crate::scenario::parts::apart;

/// Voltage of a cell by its name, V; common practice, no source.
const CELL_VOLTS: f64 = 1.5;
/// Internal resistance of a cell of which nothing is said, Ω; from memory: makers' bulletins.
const CELL_OHMS: f64 = 0.3;
/// Internal resistance of an alkaline 9 V block, Ω: maker's data, fresh, 1 kHz.
const BLOCK_OHMS: f64 = 1.7;

/// A kind of cell: open volts and internal ohms against the share of charge that is left.
#[derive(Clone, Copy)]
struct Chemistry {
    volts: &'static [(f64, f64)],
    ohms: &'static [(f64, f64)],
    /// Internal resistance of a fresh 9 V block, which grows as a cell's does.
    block_ohms: f64,
}

/// Fresh 1.58 V: a battery maker's page; 0.15 Ω fresh and 0.9 Ω when 90 % is spent: from memory of
/// makers' bulletins; the points between and below from memory.
const ALKALINE: Chemistry = Chemistry {
    volts: &[(0.0, 1.1), (0.1, 1.18), (0.25, 1.25), (0.5, 1.33), (0.75, 1.43), (1.0, 1.58)],
    ohms: &[(0.0, 1.2), (0.1, 0.9), (0.5, 0.3), (1.0, 0.15)],
    block_ohms: BLOCK_OHMS,
};
/// Fresh 1.65 V: the middle of a vendor's 1.60 to 1.70 V; a block 20 to 40 Ω fresh and above 100 Ω
/// when spent, a cell 0.3 to 0.8 Ω fresh: from memory, as are the points between.
const ZINC_CARBON: Chemistry = Chemistry {
    volts: &[(0.0, 1.0), (0.25, 1.25), (0.5, 1.38), (0.75, 1.49), (1.0, 1.65)],
    ohms: &[(0.0, 2.5), (0.1, 2.0), (0.5, 0.9), (1.0, 0.5)],
    block_ohms: 30.0,
};
const CHEMISTRIES: [(&str, Chemistry); 2] = [("alkaline", ALKALINE), ("zinc-carbon", ZINC_CARBON)];

/// Adapters without a word about it; common practice, no source.
const ADAPTER_OHMS: f64 = 4.0;
const MAINS_HZ: f64 = 50.0;
/// Share of a period in which a rectifier charges its reservoir; common practice, no source.
const CONDUCTION: f64 = 0.2;
/// Ripple periods in one of the mains, by rectifier.
const RECTIFIERS: [(&str, f64); 2] = [("half", 1.0), ("full", 2.0)];

/// Share by which an output may be off, by specimen: 4.8 to 5.2 V of a 7805 at 25 °C.
const SPECIMENS: [(&str, f64); 3] = [("low", 0.96), ("typical", 1.0), ("high", 1.04)];

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
    let node = source_node(fields, nodes, "node");
    Some(PartKind::Supply { node: node?, volts: volts?, ohms })
}

/// A battery, by its voltage or by its cells; with a chemistry or a charge, by its data.
pub(crate) fn battery(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let node = source_node(fields, nodes, "node");
    let chemistry = fields.choice("chemistry", &CHEMISTRIES);
    let charge = fields.quantity("charge", &SHARE);
    let known = chemistry.is_some() || charge.is_some();
    let (chemistry, charge) = (chemistry.unwrap_or(ALKALINE), charge.unwrap_or(1.0));
    let cell_volts = if known { interpolate(chemistry.volts, charge).0 } else { CELL_VOLTS };
    let cell_volts = fields.quantity_or("cell_volts", &POSITIVE_VOLTAGE, cell_volts);
    let cell_ohms = interpolate(chemistry.ohms, charge).0;
    let (volts, ohms) = match cells(fields) {
        Some(cells) => {
            let cells = f64::from(cells);
            (Some(cells * cell_volts), cells * if known { cell_ohms } else { CELL_OHMS })
        }
        None => {
            let name_volts = plus_volts(fields, "battery");
            let aged = cell_ohms / interpolate(chemistry.ohms, 1.0).0;
            let volts =
                name_volts.map(|volts| if known { volts / CELL_VOLTS * cell_volts } else { volts });
            (volts, if known { chemistry.block_ohms * aged } else { BLOCK_OHMS })
        }
    };
    let ohms = fields.quantity_or("resistance", &RESISTANCE.or_zero(), ohms);
    Some(PartKind::Supply { node: node?, volts: volts?, ohms })
}

/// "6 cells".
fn cells(fields: &Fields<'_>) -> Option<u32> {
    let (text, _) = match fields.item("battery").map(|item| &item.value) {
        Some(Value::Text(_)) => fields.text("battery")?,
        _ => return None,
    };
    let count = text.strip_suffix("cells").or_else(|| text.strip_suffix("cell"))?;
    count.trim().parse().ok().filter(|count| (1..=20).contains(count))
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
    let node = source_node(fields, nodes, "node");
    let (node, volts) = (node?, volts?);
    if ripple_volts <= 0.0 {
        return Some(PartKind::Supply { node, volts, ohms });
    }
    if ripple_volts > 2.0 * volts {
        let message = "the ripple is more than twice the voltage it rides on".to_owned();
        fields.problems().add(fields.place("ripple"), message, "expected less");
        return None;
    }
    let ripple_hertz = mains * times;
    let adapter = Adapter { node, volts, ohms, ripple_volts, ripple_hertz, phase, conduction };
    Some(PartKind::Adapter(Box::new(adapter)))
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
        let refused = source("adapter = \"9 V\"\nripple = \"19 V\"").unwrap_err();
        assert_eq!(refused, "the ripple is more than twice the voltage it rides on");
    }
}
