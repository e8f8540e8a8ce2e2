//! The parts of `[board]`: which kind each is, and the simple kinds.

use crate::document::fields::Fields;
use crate::document::fields::hint;
use crate::document::problems::Problems;
use crate::document::problems::list_of;
use crate::document::quantity::CAPACITANCE;
use crate::document::quantity::INDUCTANCE;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::quantity::RESISTANCE;
use crate::document::quantity::SHARE;
use crate::document::tree::Table;
use crate::document::tree::Value;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartKind;
use crate::scenario::analogue_switch;
use crate::scenario::field_effect;
use crate::scenario::gate;
use crate::scenario::nodes::Nodes;
use crate::scenario::nodes::Role;
use crate::scenario::semiconductor;

/// The key that says what a part is and gives its main value.
pub(crate) const KINDS: [&str; 13] = [
    "resistor",
    "capacitor",
    "inductor",
    "trimmer",
    "diode",
    "zener",
    "transistor",
    "junction_fet",
    "mos_fet",
    "analogue_switch",
    "gate",
    "battery",
    "supply",
];

/// Every key that can name a node, for parts of unknown kind.
const TERMINALS: [&str; 15] = [
    "from",
    "to",
    "wiper",
    "anode",
    "cathode",
    "collector",
    "base",
    "emitter",
    "drain",
    "source",
    "control",
    "output",
    "supply",
    "node",
    "input",
];

/// Fresh voltage of a cell, V; common practice, no source.
const CELL_VOLTS: f64 = 1.5;
/// Internal resistance of a cell, Ω; from memory: makers' bulletins, fresh alkaline.
const CELL_OHMS: f64 = 0.3;
/// Internal resistance of a block battery, Ω: alkaline 9 V maker's data, fresh, 1 kHz.
const BLOCK_OHMS: f64 = 1.7;

/// Reads a part and ties its terminals.
pub(crate) fn read(
    name: &str,
    table: &Table,
    nodes: &mut Nodes,
    problems: &Problems,
) -> Option<PartKind> {
    let fields = Fields::open(table, format!("part `{name}`"), problems);
    let Some(kind) = kind_of(&fields, table) else {
        tie_what_can_be(&fields, table, nodes);
        return None;
    };
    let part = match kind {
        "resistor" => resistor(&fields, nodes),
        "capacitor" => capacitor(&fields, nodes),
        "inductor" => inductor(&fields, nodes),
        "trimmer" => trimmer(&fields, nodes),
        "diode" => semiconductor::diode(&fields, nodes),
        "zener" => semiconductor::zener(&fields, nodes),
        "transistor" => semiconductor::transistor(&fields, nodes),
        "junction_fet" => field_effect::junction(&fields, nodes),
        "mos_fet" => field_effect::mos(&fields, nodes),
        "analogue_switch" => analogue_switch::read(&fields, nodes),
        "gate" => gate::read(&fields, nodes),
        "battery" => battery(&fields, nodes),
        _ => supply(&fields, nodes),
    };
    fields.close();
    part
}

/// The main key of a part as written, if it has one; a gate has a `supply` besides.
pub(crate) fn main_key(table: &Table) -> Option<&'static str> {
    KINDS.into_iter().find(|kind| table.get(kind).is_some())
}

fn kind_of(fields: &Fields<'_>, table: &Table) -> Option<&'static str> {
    let mut found = KINDS.into_iter().filter(|kind| fields.has(kind));
    // What has a supply and an output is no supply, but a part whose kind is misspelt.
    let misspelt = |kind: &str| kind == "supply" && fields.has("output");
    let Some(first) = found.next().filter(|kind| !misspelt(kind)) else {
        no_kind(fields, table);
        return None;
    };
    let second = found.next().filter(|second| !is_terminal(first, second));
    if let Some(second) = second {
        let message = format!("{} is both a {first} and a {second}", fields.what());
        let place = &table.get(second)?.key_span;
        fields.problems().add(place, message, "expected one of the two");
        return None;
    }
    Some(first)
}

/// Whether a key that makes one kind of part is a terminal of another.
fn is_terminal(kind: &str, key: &str) -> bool {
    matches!(
        (kind, key),
        ("gate" | "analogue_switch", "supply") | ("junction_fet" | "mos_fet", "gate")
    )
}

fn no_kind(fields: &Fields<'_>, table: &Table) {
    let unknown = table.entries.iter().find(|entry| !TERMINALS.contains(&entry.key.as_str()));
    let message = format!("{} is of no known kind", fields.what());
    match unknown {
        Some(entry) => {
            fields.problems().add_unknown(&entry.key_span, message, &entry.key, &KINDS);
        }
        None => fields.problems().add_unknown(fields.span(), message, "", &KINDS),
    }
}

/// Ties what looks like a node, so that one mistake does not make others.
fn tie_what_can_be(fields: &Fields<'_>, table: &Table, nodes: &mut Nodes) {
    for entry in table.entries.iter().filter(|entry| TERMINALS.contains(&entry.key.as_str())) {
        if let Value::Text(name) = &entry.item.value {
            nodes.tie(name, fields.what(), Role::End, Some(&entry.item.span));
        }
    }
}

/// The two ends of a part, which have to differ.
pub(crate) fn ends(fields: &Fields<'_>, nodes: &mut Nodes, keys: [&str; 2]) -> Option<[NodeId; 2]> {
    let [first, second] = keys;
    let start = nodes.tie_key(fields, first, Role::End);
    let end = nodes.tie_key(fields, second, Role::End);
    let (start, end) = (start?, end?);
    if start == end {
        let message = format!("both ends of {} are tied to the same node", fields.what());
        fields.problems().add(fields.place(second), message, "expected another node");
        return None;
    }
    Some([start, end])
}

fn resistor(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let ohms = fields.quantity("resistor", &RESISTANCE);
    let ends = ends(fields, nodes, ["from", "to"])?;
    Some(PartKind::Resistor { ends, ohms: ohms? })
}

fn capacitor(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let farads = fields.quantity("capacitor", &CAPACITANCE);
    let ends = ends(fields, nodes, ["from", "to"])?;
    Some(PartKind::Capacitor { ends, farads: farads? })
}

fn inductor(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let henries = fields.quantity("inductor", &INDUCTANCE);
    let ohms = fields.quantity_or("resistance", &RESISTANCE.or_zero(), 0.0);
    let ends = ends(fields, nodes, ["from", "to"])?;
    Some(PartKind::Inductor { ends, henries: henries?, ohms })
}

fn trimmer(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let ohms = fields.quantity("trimmer", &RESISTANCE);
    let position = fields.quantity_or("position", &SHARE, 0.5);
    let ends = ends(fields, nodes, ["from", "to"]);
    let wiper = nodes.tie_key(fields, "wiper", Role::End);
    Some(PartKind::Trimmer { ends: ends?, wiper: wiper?, ohms: ohms?, position })
}

fn supply(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let volts = fields.quantity("supply", &POSITIVE_VOLTAGE);
    let ohms = fields.quantity_or("resistance", &RESISTANCE.or_zero(), 0.0);
    let node = source_node(fields, nodes);
    Some(PartKind::Supply { node: node?, volts: volts?, ohms })
}

/// A battery, by its voltage or by its cells.
fn battery(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<PartKind> {
    let node = source_node(fields, nodes);
    let cell_volts = fields.quantity("cell_volts", &POSITIVE_VOLTAGE);
    let (volts, ohms) = match cells(fields) {
        Some(cells) => {
            let cells = f64::from(cells);
            (Some(cells * cell_volts.unwrap_or(CELL_VOLTS)), cells * CELL_OHMS)
        }
        None => (fields.quantity("battery", &POSITIVE_VOLTAGE), BLOCK_OHMS),
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

fn source_node(fields: &Fields<'_>, nodes: &mut Nodes) -> Option<NodeId> {
    let node = nodes.tie_key(fields, "node", Role::Source)?;
    if node == NodeId::GROUND {
        let message = format!("{} feeds ground", fields.what());
        fields.problems().add(fields.place("node"), message, "expected the node that it feeds");
        return None;
    }
    Some(node)
}

/// Says that a library has no entry of that name.
pub(crate) fn unknown_type(fields: &Fields<'_>, key: &str, word: &str, names: &[&str]) {
    let expected = format!("expected {} or the model parameters by name", list_of(names));
    let message = format!("unknown {key} type `{word}`");
    fields.problems().add_hinted(fields.place(key), message, &expected, hint(word, names));
}
