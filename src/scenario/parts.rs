//! The parts of `[board]`: which kind each is, and the simple kinds.

use crate::document::fields::Fields;
use crate::document::fields::hint;
use crate::document::problems::Problems;
use crate::document::problems::list_of;
use crate::document::tree::Table;
use crate::document::tree::Value;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartKind;
use crate::scenario::analogue_switch;
use crate::scenario::battery::Battery;
use crate::scenario::field_effect;
use crate::scenario::gate;
use crate::scenario::limit_library;
use crate::scenario::limits::Limits;
use crate::scenario::nodes::Nodes;
use crate::scenario::nodes::Role;
use crate::scenario::passive;
use crate::scenario::semiconductor;
use crate::scenario::supply;

/// The key that says what a part is and gives its main value.
pub(crate) const KINDS: [&str; 22] = [
    "resistor",
    "capacitor",
    "inductor",
    "trimmer",
    "potentiometer",
    "switch",
    "jumper",
    "lead",
    "cable",
    "diode",
    "zener",
    "transistor",
    "junction_fet",
    "mos_fet",
    "analogue_switch",
    "gate",
    "driver",
    "regulator",
    "battery",
    "adapter",
    "supply",
    "sounder",
];

/// Every key that can name a node, for parts of unknown kind.
const TERMINALS: [&str; 16] = [
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
    "common",
];

/// A part as the scenario writes it.
pub(crate) struct WrittenPart {
    pub(crate) kind: PartKind,
    pub(crate) limits: Limits,
    /// What it is made of, if it is a battery.
    pub(crate) battery: Option<Battery>,
}

/// Reads a part and ties its terminals.
pub(crate) fn read(
    name: &str,
    table: &Table,
    nodes: &mut Nodes,
    problems: &Problems,
) -> Option<WrittenPart> {
    let fields = Fields::open(table, format!("part `{name}`"), problems);
    let Some(kind) = kind_of(&fields, table) else {
        tie_what_can_be(&fields, table, nodes);
        return None;
    };
    let mut battery = None;
    let part = match kind {
        "resistor" => passive::resistor(&fields, nodes),
        "capacitor" => passive::capacitor(&fields, nodes),
        "inductor" => passive::inductor(&fields, nodes),
        "trimmer" | "potentiometer" => passive::trimmer(&fields, nodes, kind),
        "switch" | "jumper" => passive::contact(&fields, nodes, kind),
        "lead" => passive::lead(&fields, nodes),
        "cable" => passive::cable(&fields, nodes),
        "diode" => semiconductor::diode(&fields, nodes),
        "zener" => semiconductor::zener(&fields, nodes),
        "transistor" => semiconductor::transistor(&fields, nodes),
        "junction_fet" => field_effect::junction(&fields, nodes),
        "mos_fet" => field_effect::mos(&fields, nodes),
        "analogue_switch" => analogue_switch::read(&fields, nodes),
        "gate" => gate::read(&fields, nodes),
        "battery" => supply::battery(&fields, nodes).map(|(kind, read)| {
            battery = Some(read);
            kind
        }),
        "sounder" => supply::sounder(&fields, nodes),
        "adapter" => supply::adapter(&fields, nodes),
        "regulator" => supply::regulator(&fields, nodes),
        "driver" => supply::video_driver(&fields, nodes),
        _ => supply::supply(&fields, nodes),
    };
    let limits = limit_library::read(kind, &fields);
    fields.close();
    part.map(|kind| WrittenPart { kind, limits, battery })
}

/// The main key of a part as written, if it has one; a gate or a driver has a `supply` besides.
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
        ("gate" | "analogue_switch" | "driver", "supply") | ("junction_fet" | "mos_fet", "gate")
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

/// Refuses two terminals, by their keys, at one node.
pub(crate) fn apart(fields: &Fields<'_>, keys: [&str; 2], nodes: [NodeId; 2]) -> Option<()> {
    let [first, second] = keys;
    if nodes[0] != nodes[1] {
        return Some(());
    }
    let message = format!("{first} and {second} of {} are the same node", fields.what());
    fields.problems().add(fields.place(second), message, "expected another node");
    None
}

/// Says that a library has no entry of that name.
pub(crate) fn unknown_type(fields: &Fields<'_>, key: &str, word: &str, names: &[&str]) {
    let expected = format!("expected {} or the model parameters by name", list_of(names));
    let message = format!("unknown {key} type `{word}`");
    fields.problems().add_hinted(fields.place(key), message, &expected, hint(word, names));
}
