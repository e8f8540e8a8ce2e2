//! Changes to a scenario as written: `--set` arguments and the `[change]` of a variant.
//!
//! A change carries its own text, so that a mistake in it is shown where the user made it.

use crate::base::diagnostic::Source;
use crate::base::diagnostic::Span;
use crate::document::fields::Fields;
use crate::document::fields::as_text;
use crate::document::fields::hint;
use crate::document::problems::Problems;
use crate::document::syntax::parse_value;
use crate::document::tree::Entry;
use crate::document::tree::Item;
use crate::document::tree::Table;
use crate::document::tree::Value;
use crate::scenario::files::SET;
use crate::scenario::load::Written;
use crate::scenario::parts::main_key;
use std::sync::Arc;

/// The tables and keys of a scenario.
pub(crate) const TOP: [&str; 16] = [
    "title",
    "chip",
    "game",
    "controller",
    "controllers",
    "board",
    "output",
    "modulator",
    "receiver",
    "solve",
    "sound",
    "verdict",
    "wiring",
    "expect",
    "spread",
    "choose",
];

/// A part to be broken once the circuit stands.
#[derive(Clone, Debug)]
pub(crate) struct Defect {
    /// The part's name as written.
    pub(crate) part: String,
    /// Where.
    pub(crate) span: Span,
    /// What happens to it.
    pub(crate) kind: DefectKind,
}

/// Ways for a part to fail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum DefectKind {
    /// It takes no current.
    Open,
    /// Its terminals are joined.
    Short,
}

/// One change: where and what.
struct Setting<'a> {
    path: Vec<(&'a str, Span)>,
    item: Item,
}

/// Applies one `--set` argument.
pub(crate) fn set(written: &mut Written, text: &str, problems: &Problems) {
    let source = Arc::new(Source { name: SET.to_owned(), text: text.to_owned() });
    let span = |range| Span { source: Arc::clone(&source), range };
    let Some((key, value)) = text.split_once('=') else {
        let message = format!("`{text}` gives no value");
        problems.add(&span(0..text.len()), message, "expected NAME=VALUE such as `R1=2k2`");
        return;
    };
    let at = key.len() + 1..text.len();
    if value.trim().is_empty() {
        let message = format!("`{key}` is set to nothing");
        problems.add(&span(at), message, "expected NAME=VALUE such as `R1=2k2`");
        return;
    }
    // What looks like a list, a table, a text in quotes or a flag is TOML; all else is bare text.
    let bare = || Item { value: Value::Text(value.trim().to_owned()), span: span(at.clone()) };
    let is_toml = value.starts_with(['[', '{', '"', '\'']) || value == "true" || value == "false";
    let toml = if is_toml { parse_value(&source, at.clone()) } else { None };
    let path = split_path(key, &span(0..key.len()));
    apply(written, Setting { path, item: toml.unwrap_or_else(bare) }, problems);
}

/// Applies the `[change]` of a variant.
pub(crate) fn change(written: &mut Written, table: &Table, problems: &Problems) {
    change_below(written, &[], table, problems);
}

fn change_below(written: &mut Written, above: &[(&str, Span)], table: &Table, problems: &Problems) {
    for entry in &table.entries {
        let mut path = above.to_vec();
        path.extend(split_path(&entry.key, &entry.key_span));
        match &entry.item.value {
            Value::Table(inner) => change_below(written, &path, inner, problems),
            _ => apply(written, Setting { path, item: entry.item.clone() }, problems),
        }
    }
}

/// Takes the parts that a variant's `remove` names off the board.
pub(crate) fn remove(written: &mut Written, variant: &Fields<'_>) {
    let expected = "expected a list of parts such as `[\"R3\"]`";
    let problems = variant.problems();
    for item in variant.list("remove", expected).unwrap_or_default() {
        let Some((name, span)) = as_text(item, problems) else { continue };
        let Some(board) = written.root.table_mut("board", span) else { return };
        let before = board.entries.len();
        board.entries.retain(|entry| entry.key != name);
        if board.entries.len() == before {
            unknown_part(board, name, span, &[], problems);
        }
    }
}

/// Puts the new parts of a variant on the board.
pub(crate) fn add_parts(written: &mut Written, variant: &Fields<'_>) {
    let problems = variant.problems();
    let Some(added) = variant.table("board") else { return };
    let Some(board) = written.root.table_mut("board", &added.span) else { return };
    for entry in &added.entries {
        if board.get(&entry.key).is_some() {
            let message = format!("part `{}` is in the base already", entry.key);
            let hint = Some("change it under `[change]`, or `remove` it first".to_owned());
            problems.add_hinted(&entry.key_span, message, "expected a new part", hint);
        } else {
            board.put(entry.clone());
        }
    }
}

/// Puts a variant's `[expect]`, `[spread]` or `[choose]` over that of its base.
pub(crate) fn over(written: &mut Written, variant: &Fields<'_>, key: &str) {
    let Some(over) = variant.table(key) else { return };
    let Some(below) = written.root.table_mut(key, &over.span) else { return };
    *below = below.overlaid(over);
}

/// The words of a dotted key, each with its place.
fn split_path<'a>(key: &'a str, span: &Span) -> Vec<(&'a str, Span)> {
    let mut start = span.range.start;
    // A quoted key's span begins with its quote.
    if span.text().starts_with(['"', '\'']) {
        start += 1;
    }
    let mut path = Vec::new();
    for word in key.split('.') {
        let range = start..start + word.len();
        start = range.end + 1;
        path.push((word.trim(), Span { source: Arc::clone(&span.source), range }));
    }
    path
}

fn apply(written: &mut Written, setting: Setting<'_>, problems: &Problems) {
    let Setting { path, item } = setting;
    let Some((first, first_span)) = path.first().cloned() else { return };
    let board = written.root.table("board");
    let part = board.and_then(|board| board.table(first));
    if let Some(kind) = defect_kind(&item)
        && path.len() == 1
        && !TOP.contains(&first)
    {
        written.defects.push(Defect { part: first.to_owned(), span: first_span, kind });
        return;
    }
    let full = match (TOP.contains(&first), part) {
        (true, _) => path,
        (false, Some(part)) => {
            let mut full = vec![("board", first_span)];
            let is_main = path.len() == 1;
            full.extend(path);
            if is_main {
                let Some(main) = main_key(part) else { return };
                full.push((main, item.span.clone()));
            }
            full
        }
        (false, None) => {
            let none = Table { entries: Vec::new(), span: first_span.clone() };
            unknown_part(board.unwrap_or(&none), first, &first_span, &TOP, problems);
            return;
        }
    };
    put(&mut written.root, &full, item, problems);
}

fn defect_kind(item: &Item) -> Option<DefectKind> {
    match &item.value {
        Value::Text(word) if word == "open" => Some(DefectKind::Open),
        Value::Text(word) if word == "short" => Some(DefectKind::Short),
        _ => None,
    }
}

fn put(root: &mut Table, path: &[(&str, Span)], item: Item, problems: &Problems) {
    let Some(((last, last_span), tables)) = path.split_last() else { return };
    let mut table = root;
    for (depth, (word, span)) in tables.iter().enumerate() {
        if depth == 1 && tables[0].0 == "board" && table.get(word).is_none() {
            unknown_part(table, word, span, &[], problems);
            return;
        }
        let Some(inner) = table.table_mut(word, span) else {
            problems.add(span, format!("`{word}` has nothing inside"), "expected a table's name");
            return;
        };
        table = inner;
    }
    if tables.is_empty() && *last != "title" {
        let message = format!("`{last}` is a table, not a value");
        problems.add(last_span, message, "expected one of its keys, such as `game.left`");
        return;
    }
    let key_span = last_span.clone();
    table.put(Entry { key: (*last).to_owned(), key_span, item });
}

fn unknown_part(board: &Table, name: &str, span: &Span, others: &[&str], problems: &Problems) {
    let mut names: Vec<&str> = board.entries.iter().map(|entry| entry.key.as_str()).collect();
    names.extend(others);
    let hint = hint(name, &names);
    let expected = if others.is_empty() {
        "expected a part of the board"
    } else {
        "expected a part of the board, or a path such as `game.left`"
    };
    problems.add_hinted(span, format!("no part is called `{name}`"), expected, hint);
}
