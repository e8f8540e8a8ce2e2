//! TOML text to tree, with every syntax error at once.

use crate::base::diagnostic::Diagnostic;
use crate::base::diagnostic::Source;
use crate::base::diagnostic::Span;
use crate::document::tree::Entry;
use crate::document::tree::Item;
use crate::document::tree::Table;
use crate::document::tree::Value;
use std::ops::Range;
use std::sync::Arc;
use toml::Spanned;
use toml::de::DeTable;
use toml::de::DeValue;

/// A text, read as far as it could be.
#[derive(Clone, Debug, PartialEq)]
pub struct Parsed {
    /// What could be made of it.
    pub root: Table,
    /// What is wrong with it, in text order.
    pub problems: Vec<Diagnostic>,
    /// Whether `root` is whole enough to be judged: all that is wrong is that names came twice.
    pub whole: bool,
}

const TWICE: &str = "duplicate key";
const ONCE: &str = "expected each name once";

/// Reads TOML.
#[must_use]
pub fn parse(source: &Arc<Source>) -> Parsed {
    let (root, errors) = DeTable::parse_recoverable(&source.text);
    let whole = errors.iter().all(|error| error.message() == TWICE);
    let root = table(root.get_ref(), root.span(), source);
    let mut problems: Vec<Diagnostic> = errors
        .iter()
        .map(|error| syntax_error(error.message(), error.span(), source))
        .filter(|problem| !repeats_a_table(problem))
        .map(|problem| with_first_place(problem, &root))
        .collect();
    problems.sort_by_key(|problem| problem.span.as_ref().map(|span| span.range.start));
    Parsed { root, problems, whole }
}

/// Reads one TOML value that stands at `at` of a longer text; `None` if it is not one.
#[must_use]
pub fn parse_value(source: &Arc<Source>, at: Range<usize>) -> Option<Item> {
    let text = source.text.get(at.clone())?;
    let parsed = DeValue::parse(text).ok()?;
    let mut item = item(parsed.get_ref(), parsed.span(), source);
    shift(&mut item, at.start);
    Some(item)
}

fn syntax_error(message: &str, range: Option<Range<usize>>, source: &Arc<Source>) -> Diagnostic {
    let end = source.text.len();
    let mut range = range.unwrap_or(end..end);
    // At the end of the text there is nothing to point to: point after the last word.
    if source.text.get(range.start..).is_none_or(|rest| rest.trim().is_empty()) {
        let last = source.text.trim_end().len();
        range = last..last;
    }
    let span = Span { source: Arc::clone(source), range };
    if message == TWICE {
        let message = format!("`{}` is given twice", span.text());
        let expected = ONCE.to_owned();
        return Diagnostic { message, span: Some(span), expected, hint: None };
    }
    let (what, expected) = in_our_words(message, span.range.is_empty());
    Diagnostic {
        message: format!("this is not TOML: {what}"),
        span: Some(span),
        expected,
        hint: None,
    }
}

/// The parser's message, without its terms.
fn in_our_words(message: &str, at_nothing: bool) -> (&str, String) {
    let (what, expected) = message.split_once(", expected ").unwrap_or((message, "TOML"));
    match (what, expected) {
        ("string values must be quoted", _) if at_nothing => {
            ("a value is missing", "expected a value after `=`".to_owned())
        }
        (_, "literal string") => (what, "expected a text in quotes".to_owned()),
        (_, "nothing") => (what, "expected it gone".to_owned()),
        _ => (what, format!("expected {expected}")),
    }
}

/// Whether a key came twice only because the table that holds it did: the table is enough to say.
fn repeats_a_table(problem: &Diagnostic) -> bool {
    let Some(span) = &problem.span else { return false };
    if problem.expected != ONCE || header_around(span).is_some() {
        return false;
    }
    let before = span.source.text.get(..span.range.start).unwrap_or_default();
    let Some(header) = before.lines().rfind(|line| line.starts_with('[')) else { return false };
    before.lines().filter(|line| line.trim_end() == header.trim_end()).count() > 1
}

/// The table header line that a span lies in.
fn header_around(span: &Span) -> Option<&str> {
    let text = &span.source.text;
    let start = text.get(..span.range.start)?.rfind('\n').map_or(0, |at| at + 1);
    let line = text[start..].lines().next()?;
    line.starts_with('[').then_some(line)
}

fn with_first_place(mut problem: Diagnostic, root: &Table) -> Diagnostic {
    let Some(span) = &problem.span else { return problem };
    if let Some(header) = header_around(span) {
        let place = span.source.text.lines().position(|line| line.trim_end() == header.trim_end());
        problem.hint = place.map(|line| format!("the first one is in line {}", line + 1));
        let name = span.text();
        if root.table("board").is_some_and(|board| board.get(name).is_some()) {
            problem.message = format!("two parts are called `{name}`");
        }
    }
    problem
}

fn table(written: &DeTable<'_>, range: Range<usize>, source: &Arc<Source>) -> Table {
    let mut entries: Vec<Entry> = written
        .iter()
        .map(|(key, value)| Entry {
            key: key.get_ref().to_string(),
            key_span: Span { source: Arc::clone(source), range: key.span() },
            item: spanned(value, source),
        })
        .collect();
    // The parser sorts by key; the order of the file is the order of parts and levels.
    entries.sort_by_key(|entry| entry.key_span.range.start);
    Table { entries, span: Span { source: Arc::clone(source), range } }
}

fn spanned(value: &Spanned<DeValue<'_>>, source: &Arc<Source>) -> Item {
    item(value.get_ref(), value.span(), source)
}

fn item(value: &DeValue<'_>, range: Range<usize>, source: &Arc<Source>) -> Item {
    let value = match value {
        DeValue::String(text) => Value::Text(text.to_string()),
        DeValue::Integer(number) => Value::Number(number.to_string()),
        DeValue::Float(number) => Value::Number(number.to_string()),
        DeValue::Boolean(flag) => Value::Flag(*flag),
        DeValue::Datetime(_) => Value::Moment,
        DeValue::Array(list) => Value::List(list.iter().map(|one| spanned(one, source)).collect()),
        DeValue::Table(inner) => Value::Table(table(inner, range.clone(), source)),
    };
    Item { value, span: Span { source: Arc::clone(source), range } }
}

fn shift(item: &mut Item, by: usize) {
    shift_span(&mut item.span, by);
    match &mut item.value {
        Value::List(list) => list.iter_mut().for_each(|one| shift(one, by)),
        Value::Table(table) => {
            shift_span(&mut table.span, by);
            for entry in &mut table.entries {
                shift_span(&mut entry.key_span, by);
                shift(&mut entry.item, by);
            }
        }
        Value::Text(_) | Value::Number(_) | Value::Flag(_) | Value::Moment => {}
    }
}

fn shift_span(span: &mut Span, by: usize) {
    span.range = span.range.start + by..span.range.end + by;
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parsed(text: &str) -> Parsed {
        parse(&Arc::new(Source { name: "t.toml".to_owned(), text: text.to_owned() }))
    }

    #[test]
    fn entries_keep_the_order_of_the_file() {
        let parsed = parsed("[board.R2]\nb = 1\na = 2\n[board.R1]\n");
        let board = parsed.root.table("board").unwrap();
        let names: Vec<&str> = board.entries.iter().map(|entry| entry.key.as_str()).collect();
        assert_eq!(names, ["R2", "R1"]);
        let keys: Vec<&str> =
            board.table("R2").unwrap().entries.iter().map(|entry| entry.key.as_str()).collect();
        assert_eq!(keys, ["b", "a"]);
    }

    #[test]
    fn a_part_given_twice_is_one_mistake_and_names_the_first_place() {
        let parsed = parsed("\n[board.R1]\nresistor = 1\n\n[board.R1]\nresistor = 2\n");
        assert!(parsed.whole);
        assert_eq!(parsed.problems.len(), 1, "{:#?}", parsed.problems);
        assert_eq!(parsed.problems[0].message, "two parts are called `R1`");
        assert_eq!(parsed.problems[0].hint.as_deref(), Some("the first one is in line 2"));
    }

    #[test]
    fn every_syntax_error_is_reported_in_text_order() {
        let parsed = parsed("a = \nb == 2\nc = 3\nd = \"x\n");
        assert!(!parsed.whole);
        let starts: Vec<usize> =
            parsed.problems.iter().map(|one| one.span.as_ref().unwrap().range.start).collect();
        assert!(starts.len() >= 3, "{:#?}", parsed.problems);
        assert!(starts.is_sorted());
    }

    #[test]
    fn a_value_inside_a_longer_text_keeps_its_place() {
        let source =
            Arc::new(Source { name: "--set".to_owned(), text: "game.ball=[0.5, 0.4]".to_owned() });
        let item = parse_value(&source, 10..20).unwrap();
        let Value::List(list) = item.value else { panic!("a list") };
        assert_eq!(list[1].span.text(), "0.4");
    }
}
