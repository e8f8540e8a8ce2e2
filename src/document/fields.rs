//! A table read key by key: every key that is asked for is known, every other is a mistake.

use crate::base::diagnostic::Span;
use crate::document::near;
use crate::document::problems::Problems;
use crate::document::problems::list_of;
use crate::document::quantity::Quantity;
use crate::document::quantity::SHARE;
use crate::document::quantity::ValueError;
use crate::document::quantity::read;
use crate::document::quantity::read_ratio;
use crate::document::tree::Entry;
use crate::document::tree::Item;
use crate::document::tree::Table;
use crate::document::tree::Value;
use std::cell::RefCell;
use std::ops::RangeInclusive;

/// A table in the hands of its reader. Every reading method returns `None` for a key that is not
/// there, and also for one that cannot be read, after the mistake has gone to the problems.
#[derive(Debug)]
pub struct Fields<'a> {
    table: &'a Table,
    what: String,
    asked: RefCell<Vec<String>>,
    problems: &'a Problems,
}

impl<'a> Fields<'a> {
    /// Begins to read `table`, which messages call `what`: "part `R1`".
    pub fn open(table: &'a Table, what: impl Into<String>, problems: &'a Problems) -> Self {
        Self { table, what: what.into(), asked: RefCell::new(Vec::new()), problems }
    }

    /// What messages call this table.
    #[must_use]
    pub fn what(&self) -> &str {
        &self.what
    }

    /// Where the table stands.
    #[must_use]
    pub fn span(&self) -> &'a Span {
        &self.table.span
    }

    /// Where mistakes go.
    #[must_use]
    pub fn problems(&self) -> &'a Problems {
        self.problems
    }

    /// Whether the key is there, without asking for it.
    #[must_use]
    pub fn has(&self, key: &str) -> bool {
        self.table.get(key).is_some()
    }

    /// The entry of a key.
    pub fn entry(&self, key: &str) -> Option<&'a Entry> {
        let mut asked = self.asked.borrow_mut();
        if !asked.iter().any(|known| known == key) {
            asked.push(key.to_owned());
        }
        self.table.get(key)
    }

    /// The value of a key, as written.
    pub fn item(&self, key: &str) -> Option<&'a Item> {
        self.entry(key).map(|entry| &entry.item)
    }

    /// The place of a key, or of the table if the key is not there.
    #[must_use]
    pub fn place(&self, key: &str) -> &'a Span {
        self.table.get(key).map_or(&self.table.span, |entry| &entry.item.span)
    }

    /// Says that a needed key is missing, or that it is misspelt.
    pub fn missing(&self, key: &str, expected: &str) {
        let written = self.table.entries.iter().map(|entry| entry.key.as_str());
        let unread = written.filter(|key| !self.asked.borrow().iter().any(|known| known == key));
        let slip = near::nearest(key, unread).and_then(|slip| self.entry(slip));
        match slip {
            Some(slip) => {
                let message = format!("{} has no key `{}`", self.what, slip.key);
                let hint = Some(near::did_you_mean(key));
                self.problems.add_hinted(&slip.key_span, message, "", hint);
            }
            None => {
                self.problems.add(self.span(), format!("{} has no `{key}`", self.what), expected);
            }
        }
    }

    /// `value`, or a mistake if the key that should have given it is not there at all.
    pub fn needed<T>(&self, key: &str, expected: &str, value: Option<T>) -> Option<T> {
        if value.is_none() && !self.has(key) {
            self.missing(key, expected);
        }
        value
    }

    /// A text, not empty.
    pub fn text(&self, key: &str) -> Option<(&'a str, &'a Span)> {
        as_text(self.item(key)?, self.problems)
    }

    /// A value of some kind, in SI base units.
    pub fn quantity(&self, key: &str, quantity: &Quantity) -> Option<f64> {
        as_quantity(self.item(key)?, quantity, self.problems)
    }

    /// A value that must be there.
    pub fn needed_quantity(&self, key: &str, quantity: &Quantity) -> Option<f64> {
        self.needed(key, &quantity.expected(), self.quantity(key, quantity))
    }

    /// A value, or `default` if the key is not there.
    pub fn quantity_or(&self, key: &str, quantity: &Quantity, default: f64) -> f64 {
        self.quantity(key, quantity).unwrap_or(default)
    }

    /// An exact frequency as a ratio in hertz.
    pub fn ratio(&self, key: &str, quantity: &Quantity) -> Option<(u64, u64)> {
        let item = self.item(key)?;
        let text = written_number(item, quantity, self.problems)?;
        self.accepted(item, read_ratio(text, quantity))
    }

    /// A whole number within `range`.
    pub fn count(&self, key: &str, range: RangeInclusive<u32>) -> Option<u32> {
        let whole = self.whole(key, i64::from(*range.start())..=i64::from(*range.end()))?;
        u32::try_from(whole).ok()
    }

    /// A whole number within `range` that must be there.
    pub fn needed_count(&self, key: &str, range: RangeInclusive<u32>) -> Option<u32> {
        let expected = format!("expected a whole number, {} to {}", range.start(), range.end());
        self.needed(key, &expected, self.count(key, range))
    }

    /// A whole number of either sign within `range`.
    pub fn whole(&self, key: &str, range: RangeInclusive<i64>) -> Option<i64> {
        as_whole(self.item(key)?, &range, self.problems)
    }

    /// A list of exactly `N` items.
    pub fn items<const N: usize>(&self, key: &str, expected: &str) -> Option<[&'a Item; N]> {
        let item = self.item(key)?;
        let list = as_list(item, expected, self.problems)?;
        let found: Vec<&Item> = list.iter().collect();
        found.try_into().ok().or_else(|| {
            let message = format!("`{key}` has {} items", list.len());
            self.problems.add(&item.span, message, expected);
            None
        })
    }

    /// Two whole numbers within `range`.
    pub fn whole_pair(&self, key: &str, range: RangeInclusive<i64>) -> Option<[i64; 2]> {
        let expected = format!("expected two whole numbers, {} to {}", range.start(), range.end());
        let [first, second] = self.items(key, &expected)?;
        let first = as_whole(first, &range, self.problems);
        let second = as_whole(second, &range, self.problems);
        Some([first?, second?])
    }

    /// A half-open range `[start, stop]` of whole numbers, `start` before `stop`, up to `end`.
    pub fn range(&self, key: &str, end: u32) -> Option<std::ops::Range<u32>> {
        let [start, stop] = self.whole_pair(key, 0..=i64::from(end))?;
        if start >= stop {
            let message = format!("`{key}` ends at {stop}, at or before its start {start}");
            let expected = "expected `[first, one past the last]`";
            self.problems.add(self.place(key), message, expected);
            return None;
        }
        Some(u32::try_from(start).ok()?..u32::try_from(stop).ok()?)
    }

    /// Two shares, 0 to 1.
    pub fn share_pair(&self, key: &str) -> Option<[f64; 2]> {
        let [first, second] = self.items(key, "expected two shares such as `[0.5, 0.4]`")?;
        let first = as_quantity(first, &SHARE, self.problems);
        let second = as_quantity(second, &SHARE, self.problems);
        Some([first?, second?])
    }

    /// A list.
    pub fn list(&self, key: &str, expected: &str) -> Option<&'a [Item]> {
        as_list(self.item(key)?, expected, self.problems)
    }

    /// A table.
    pub fn table(&self, key: &str) -> Option<&'a Table> {
        as_table(self.item(key)?, &format!("`{key}`"), self.problems)
    }

    /// `true` or `false`; `false` if the key is not there.
    pub fn flag(&self, key: &str) -> bool {
        match self.item(key) {
            None => false,
            Some(Item { value: Value::Flag(flag), .. }) => *flag,
            Some(item) => {
                let message = format!("this is {}", item.value.noun());
                self.problems.add(&item.span, message, "expected `true` or `false`");
                false
            }
        }
    }

    /// One of some words.
    pub fn choice<T: Copy>(&self, key: &str, choices: &[(&str, T)]) -> Option<T> {
        let (word, span) = self.text(key)?;
        let found = choices.iter().find(|(name, _)| *name == word).map(|(_, value)| *value);
        if found.is_none() {
            let names: Vec<&str> = choices.iter().map(|(name, _)| *name).collect();
            self.problems.add_unknown(span, format!("unknown {key} `{word}`"), word, &names);
        }
        found
    }

    /// One of some words that must be there.
    pub fn needed_choice<T: Copy>(&self, key: &str, choices: &[(&str, T)]) -> Option<T> {
        let names: Vec<&str> = choices.iter().map(|(name, _)| *name).collect();
        self.needed(key, &format!("expected {}", list_of(&names)), self.choice(key, choices))
    }

    /// Ends the reading: every key that nobody asked for is a mistake.
    pub fn close(self) {
        let asked = self.asked.borrow();
        let known: Vec<&str> = asked.iter().map(String::as_str).collect();
        for entry in &self.table.entries {
            if !known.contains(&entry.key.as_str()) {
                let message = format!("{} has no key `{}`", self.what, entry.key);
                self.problems.add_unknown(&entry.key_span, message, &entry.key, &known);
            }
        }
    }

    fn accepted<T>(&self, item: &Item, result: Result<T, ValueError>) -> Option<T> {
        accept(item, result, self.problems)
    }
}

/// A text, not empty.
pub fn as_text<'a>(item: &'a Item, problems: &Problems) -> Option<(&'a str, &'a Span)> {
    match &item.value {
        Value::Text(text) if !text.trim().is_empty() => Some((text, &item.span)),
        Value::Text(_) => {
            problems.add(&item.span, "this text is empty".to_owned(), "expected a name");
            None
        }
        other => {
            let message = format!("this is {}", other.noun());
            problems.add(&item.span, message, "expected a text in quotes");
            None
        }
    }
}

/// A value of some kind.
pub fn as_quantity(item: &Item, quantity: &Quantity, problems: &Problems) -> Option<f64> {
    let text = written_number(item, quantity, problems)?;
    accept(item, read(text, quantity), problems)
}

/// A whole number within `range`.
pub fn as_whole(item: &Item, range: &RangeInclusive<i64>, problems: &Problems) -> Option<i64> {
    let expected = format!("expected a whole number, {} to {}", range.start(), range.end());
    let text = match &item.value {
        Value::Number(text) | Value::Text(text) => text.trim(),
        other => {
            problems.add(&item.span, format!("this is {}", other.noun()), &expected);
            return None;
        }
    };
    let number = text.parse::<i64>().ok().filter(|number| range.contains(number));
    if number.is_none() {
        let whole = text.trim_start_matches('-').chars().all(|one| one.is_ascii_digit());
        let what = if whole { "is out of range" } else { "is not a whole number" };
        problems.add(&item.span, format!("`{text}` {what}"), &expected);
    }
    number
}

/// A list.
pub fn as_list<'a>(item: &'a Item, expected: &str, problems: &Problems) -> Option<&'a [Item]> {
    match &item.value {
        Value::List(list) => Some(list),
        other => {
            problems.add(&item.span, format!("this is {}", other.noun()), expected);
            None
        }
    }
}

/// A table.
pub fn as_table<'a>(item: &'a Item, what: &str, problems: &Problems) -> Option<&'a Table> {
    match &item.value {
        Value::Table(table) => Some(table),
        other => {
            let message = format!("{what} is {}", other.noun());
            problems.add(&item.span, message, "expected a table");
            None
        }
    }
}

/// The name in `known` that a text gives, as its index.
pub fn index_of(
    (word, span): (&str, &Span),
    what: &str,
    known: &[String],
    problems: &Problems,
) -> Option<usize> {
    let found = known.iter().position(|name| name == word);
    if found.is_none() {
        let names: Vec<&str> = known.iter().map(String::as_str).collect();
        problems.add_unknown(span, format!("unknown {what} `{word}`"), word, &names);
    }
    found
}

/// The nearest of `names` as a hint.
#[must_use]
pub fn hint(word: &str, names: &[&str]) -> Option<String> {
    near::nearest(word, names.iter().copied()).map(near::did_you_mean)
}

fn written_number<'a>(item: &'a Item, quantity: &Quantity, problems: &Problems) -> Option<&'a str> {
    match &item.value {
        Value::Number(text) | Value::Text(text) => Some(text),
        other => {
            problems.add(&item.span, format!("this is {}", other.noun()), &quantity.expected());
            None
        }
    }
}

fn accept<T>(item: &Item, result: Result<T, ValueError>, problems: &Problems) -> Option<T> {
    match result {
        Ok(value) => Some(value),
        Err(error) => {
            problems.add_hinted(&item.span, error.message, &error.expected, error.hint);
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::diagnostic::Source;
    use crate::document::syntax::parse;
    use std::sync::Arc;

    fn messages(text: &str, work: impl FnOnce(&Fields<'_>)) -> Vec<String> {
        let source = Arc::new(Source { name: "t".to_owned(), text: text.to_owned() });
        let parsed = parse(&source);
        let problems = Problems::default();
        let fields = Fields::open(&parsed.root, "the table", &problems);
        work(&fields);
        fields.close();
        problems.into_sorted().into_iter().map(|one| one.message).collect()
    }

    #[test]
    fn unknown_keys_and_bad_values_are_all_reported() {
        let found = messages("shre = 1\nlines = 1000000000000\nshare = 2\n", |fields| {
            assert_eq!(fields.count("lines", 1..=10), None);
            assert_eq!(fields.quantity("share", &SHARE), None);
        });
        assert_eq!(found.len(), 3, "{found:?}");
        assert_eq!(found[0], "the table has no key `shre`");
        assert_eq!(found[1], "`1000000000000` is out of range");
    }

    #[test]
    fn a_misspelt_needed_key_is_one_mistake() {
        let found = messages("famly = 1\n", |fields| {
            assert_eq!(fields.needed_count("family", 0..=1), None);
        });
        assert_eq!(found, ["the table has no key `famly`"]);
    }

    #[test]
    fn a_missing_key_is_said_to_be_missing_only_once() {
        let found = messages("a = true\n", |fields| {
            assert_eq!(fields.needed_count("a", 0..=1), None);
            assert_eq!(fields.needed_count("b", 0..=1), None);
        });
        assert_eq!(found.len(), 2, "{found:?}");
    }
}
