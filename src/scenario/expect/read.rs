//! Reads `[expect]`.

use crate::document::fields::Fields;
use crate::document::fields::as_list;
use crate::document::fields::as_quantity;
use crate::document::fields::as_table;
use crate::document::fields::as_text;
use crate::document::fields::index_of;
use crate::document::problems::Problems;
use crate::document::quantity::FREQUENCY;
use crate::document::quantity::POSITIVE_VOLTAGE;
use crate::document::quantity::Quantity;
use crate::document::quantity::RESISTANCE;
use crate::document::quantity::TIME;
use crate::document::quantity::VOLTAGE;
use crate::document::tree::Entry;
use crate::document::tree::Item;
use crate::document::tree::Table;
use crate::document::tree::Value;
use crate::network::circuit::NodeId;
use crate::raster::plan::RasterPlan;
use crate::scenario::expect::Bounds;
use crate::scenario::expect::Expectation;
use crate::scenario::expect::Expected;
use crate::scenario::expect::FieldAmount;
use crate::scenario::expect::LOCK_WORDS;
use crate::scenario::expect::NOTE_WORDS;
use crate::scenario::expect::NodeState;
use crate::scenario::expect::OfShape;
use crate::scenario::expect::RATING_WORDS;
use crate::scenario::expect::SEEN_WORDS;
use crate::scenario::expect::SYNC_WORDS;
use crate::scenario::expect::ShapeAmount;
use crate::scenario::files::beside;
use crate::signal::element::ElementId;

/// Nothing is expected there, or the range has no end there.
const ANY: &str = "any";
/// How near a stored waveform has to be where nothing else is said, V: far above what the solver
/// leaves open, and too little to be seen; common practice, no source.
const WITHIN_V: f64 = 2e-3;

const FIELD: [(&str, FieldAmount, &Quantity); 7] = [
    ("black", FieldAmount::Black, &VOLTAGE),
    ("tip", FieldAmount::Tip, &VOLTAGE),
    ("sync_depth", FieldAmount::SyncDepth, &VOLTAGE),
    ("sync_width", FieldAmount::SyncWidth, &TIME),
    ("line_rate", FieldAmount::LineRate, &FREQUENCY),
    ("field_rate", FieldAmount::FieldRate, &FREQUENCY),
    ("source", FieldAmount::Source, &RESISTANCE),
];
const SHAPE: [(&str, ShapeAmount, &Quantity); 4] = [
    ("level", ShapeAmount::Level, &VOLTAGE),
    ("delta", ShapeAmount::Delta, &VOLTAGE),
    ("rise", ShapeAmount::Rise, &TIME),
    ("fall", ShapeAmount::Fall, &TIME),
];

/// What an expectation can speak of.
pub(crate) struct Known<'a> {
    pub(crate) raster: &'a RasterPlan,
    /// Node names, by [`NodeId`].
    pub(crate) nodes: &'a [String],
}

/// Reads the table; the expectations in the order of the keys in `FORMAT.md`.
pub(crate) fn read(table: &Table, known: &Known<'_>, problems: &Problems) -> Vec<Expected> {
    let fields = Fields::open(table, "[expect]", problems);
    let subjects = subjects(known.raster);
    let plain = |key| wanted(&fields, key).filter(|entry| !is_subject(entry, &subjects));
    let mut reader = Reader { problems, all: Vec::new() };
    for (key, amount, quantity) in FIELD {
        let Some(entry) = plain(key) else { continue };
        let bounds = bounds(&entry.item, quantity, problems);
        reader.add(key, entry, bounds.map(|bounds| Expectation::Field(amount, bounds)));
    }
    if let Some(entry) = plain("sync") {
        let words = words(&entry.item, ("word for sync", &SYNC_WORDS), problems);
        reader.add("sync", entry, words.map(Expectation::Sync));
    }
    if let Some(entry) = plain("lock") {
        let words = words(&entry.item, ("word for the picture", &LOCK_WORDS), problems);
        reader.add("lock", entry, words.map(Expectation::Lock));
    }
    reader.add_ratings(table, fields.entry("ratings"));
    if let Some(entry) = plain("taken_for_sync") {
        let taken = elements(&entry.item, known, problems);
        reader.add("taken_for_sync", entry, taken.map(Expectation::TakenForSync));
    }
    for name in &subjects {
        let entry = wanted(&fields, name).filter(|entry| is_subject(entry, &subjects));
        if let Some(entry) = entry {
            reader.add_shape(name, entry);
        }
    }
    if let Some(entry) = wanted(&fields, "node") {
        reader.add_nodes(entry, known);
    }
    if let Some(entry) = wanted(&fields, "waveform") {
        reader.add_waveform(entry);
    }
    fields.close();
    reader.all
}

/// Elements, then shapes that have a name of their own, each once.
fn subjects(raster: &RasterPlan) -> Vec<String> {
    let mut names = raster.elements.clone();
    for shape in raster.shapes() {
        if !names.contains(&shape.name) {
            names.push(shape.name);
        }
    }
    names.retain(|name| name != "node" && name != "waveform");
    names
}

/// An entry that expects something.
fn wanted<'a>(fields: &Fields<'a>, key: &str) -> Option<&'a Entry> {
    fields.entry(key).filter(|entry| !is_any(&entry.item))
}

/// Whether an entry is meant for the element of its name: one that is called as a key of the whole
/// field is if it is a table.
fn is_subject(entry: &Entry, subjects: &[String]) -> bool {
    let is_key = FIELD.iter().any(|(key, ..)| *key == entry.key)
        || ["sync", "lock", "taken_for_sync", "ratings"].contains(&entry.key.as_str());
    let is_table = matches!(entry.item.value, Value::Table(_));
    subjects.contains(&entry.key) && (!is_key || is_table)
}

fn is_any(item: &Item) -> bool {
    matches!(&item.value, Value::Text(word) if word == ANY)
}

/// Collects expectations.
struct Reader<'a> {
    problems: &'a Problems,
    all: Vec<Expected>,
}

impl Reader<'_> {
    fn add(&mut self, name: &str, entry: &Entry, what: Option<Expectation>) {
        let place = entry.item.span.clone();
        self.all.extend(what.map(|what| Expected { name: name.to_owned(), what, place }));
    }

    /// The worst word that is allowed. Where nothing is said no part may have to be saved: *stop*.
    fn add_ratings(&mut self, table: &Table, entry: Option<&Entry>) {
        const LOOK: &str = "look";
        let Some(entry) = entry else {
            let (name, place) = ("ratings".to_owned(), table.span.clone());
            self.all.push(Expected { name, what: Expectation::Ratings(LOOK), place });
            return;
        };
        if is_any(&entry.item) {
            return;
        }
        let words = words(&entry.item, ("word for ratings", &RATING_WORDS), self.problems);
        let worst =
            words.and_then(|words| RATING_WORDS.into_iter().rev().find(|w| words.contains(w)));
        self.add("ratings", entry, worst.map(Expectation::Ratings));
    }

    fn add_shape(&mut self, name: &str, entry: &Entry) {
        let problems = self.problems;
        let what = format!("[expect.{name}]");
        let Some(table) = as_table(&entry.item, &what, problems) else { return };
        let fields = Fields::open(table, what, problems);
        let mut all: Vec<(&str, &Entry, Option<OfShape>)> = Vec::new();
        for (key, amount, quantity) in SHAPE {
            let Some(entry) = wanted(&fields, key) else { continue };
            let bounds = bounds(&entry.item, quantity, problems);
            all.push((key, entry, bounds.map(|bounds| OfShape::Amount(amount, bounds))));
        }
        if let Some(entry) = wanted(&fields, "seen") {
            let words = words(&entry.item, ("word for what is seen", &SEEN_WORDS), problems);
            all.push(("seen", entry, words.map(OfShape::Seen)));
        }
        if let Some(entry) = wanted(&fields, "notes") {
            let words = words(&entry.item, ("note", &NOTE_WORDS), problems);
            all.push(("notes", entry, words.map(OfShape::Notes)));
        }
        if let Some(entry) = wanted(&fields, "not") {
            let words = words(&entry.item, ("note", &NOTE_WORDS), problems);
            all.push(("not", entry, words.map(OfShape::Not)));
        }
        fields.close();
        for (key, entry, what) in all {
            let what = what.map(|what| Expectation::Shape(name.to_owned(), what));
            self.add(&format!("{name}.{key}"), entry, what);
        }
    }

    fn add_nodes(&mut self, entry: &Entry, known: &Known<'_>) {
        let problems = self.problems;
        let Some(table) = as_table(&entry.item, "[expect.node]", problems) else { return };
        for entry in table.entries.iter().filter(|entry| !is_any(&entry.item)) {
            let what = format!("[expect.node.{}]", entry.key);
            let node = index_of((&entry.key, &entry.key_span), "node", known.nodes, problems);
            let Some(table) = as_table(&entry.item, &what, problems) else { continue };
            let fields = Fields::open(table, what, problems);
            for (state, key) in states(known.raster) {
                let Some(value) = wanted(&fields, &key) else { continue };
                let bounds = bounds(&value.item, &VOLTAGE, problems);
                let what = node
                    .zip(bounds)
                    .map(|(node, bounds)| Expectation::Node(NodeId(node), state, bounds));
                self.add(&format!("node.{}.{key}", entry.key), value, what);
            }
            fields.close();
        }
    }

    fn add_waveform(&mut self, entry: &Entry) {
        let problems = self.problems;
        let Some(table) = as_table(&entry.item, "[expect.waveform]", problems) else { return };
        let fields = Fields::open(table, "[expect.waveform]", problems);
        let expected = "expected the path of a WAV file such as `\"expected/board.wav\"`";
        let file = fields.needed("file", expected, fields.text("file"));
        let within_v = fields.quantity_or("within", &POSITIVE_VOLTAGE, WITHIN_V);
        fields.close();
        let Some((file, place)) = file else { return };
        let what = Expectation::Waveform { path: beside(place, file), within_v };
        let name = "waveform".to_owned();
        self.all.push(Expected { name, what, place: place.clone() });
    }
}

/// What a chip can do while a standing level is read, by name.
fn states(raster: &RasterPlan) -> Vec<(NodeState, String)> {
    let elements = raster.elements.iter().zip(0..);
    let lit = elements.map(|(name, index)| (NodeState::Lit(ElementId(index)), name.clone()));
    let dark = [(NodeState::Tip, "tip"), (NodeState::Black, "black")];
    dark.map(|(state, name)| (state, name.to_owned())).into_iter().chain(lit).collect()
}

/// A pair of values, one end of which may be left open.
fn bounds(item: &Item, quantity: &Quantity, problems: &Problems) -> Option<Bounds> {
    let expected = format!(
        "expected the least and the greatest, one of which may be `\"any\"`, each {} such as {}",
        quantity.noun, quantity.examples
    );
    let list = as_list(item, &expected, problems)?;
    let [low, high] = list else {
        let message = format!("this range has {} ends", list.len());
        problems.add(&item.span, message, &expected);
        return None;
    };
    let end = |item: &Item| match is_any(item) {
        true => Some(None),
        false => as_quantity(item, quantity, problems).map(Some),
    };
    let (low, high) = (end(low), end(high));
    let (low, high) = (low?, high?);
    if low.is_none() && high.is_none() {
        problems.add(&item.span, "this range has no end at all".to_owned(), &expected);
        return None;
    }
    if low.zip(high).is_some_and(|(low, high)| low > high) {
        let message = "this range ends below its start".to_owned();
        problems.add(&item.span, message, "expected the least first, then the greatest");
        return None;
    }
    Some(Bounds { low, high })
}

/// A word or a list of words.
fn words(
    item: &Item,
    (what, known): (&str, &[&'static str]),
    problems: &Problems,
) -> Option<Vec<&'static str>> {
    let items = match &item.value {
        Value::List(list) => list.as_slice(),
        _ => std::slice::from_ref(item),
    };
    if items.is_empty() {
        problems.add(&item.span, "this list is empty".to_owned(), "expected a word");
        return None;
    }
    let read = |item: &Item| {
        let (word, span) = as_text(item, problems)?;
        let found = known.iter().find(|name| **name == word).copied();
        if found.is_none() {
            problems.add_unknown(span, format!("unknown {what} `{word}`"), word, known);
        }
        found
    };
    let read: Vec<Option<&'static str>> = items.iter().map(read).collect();
    read.into_iter().collect()
}

/// A list of elements, perhaps empty.
fn elements(item: &Item, known: &Known<'_>, problems: &Problems) -> Option<Vec<String>> {
    let names = &known.raster.elements;
    let list = as_list(item, "expected a list of elements such as `[]`", problems)?;
    let read = |item: &Item| {
        let at = index_of(as_text(item, problems)?, "element", names, problems)?;
        Some(names[at].clone())
    };
    let read: Vec<Option<String>> = list.iter().map(read).collect();
    read.into_iter().collect()
}
