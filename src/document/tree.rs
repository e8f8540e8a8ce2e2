//! A written text as a tree: owned, in file order, every key and value with its span.

use crate::base::diagnostic::Span;

/// A value and where it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// The value.
    pub value: Value,
    /// Where it stands; for a table its header.
    pub span: Span,
}

/// A written value.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// A quoted text, or the bare right-hand side of a `--set`.
    Text(String),
    /// A number, as its digits were written, so that it can be read exactly.
    Number(String),
    /// `true` or `false`.
    Flag(bool),
    /// A date or time of day, which nothing here takes.
    Moment,
    /// A list.
    List(Vec<Item>),
    /// A table.
    Table(Table),
}

impl Value {
    /// What it is, for a message.
    #[must_use]
    pub fn noun(&self) -> &'static str {
        match self {
            Self::Text(_) => "a text",
            Self::Number(_) => "a number",
            Self::Flag(_) => "true or false",
            Self::Moment => "a date or time",
            Self::List(_) => "a list",
            Self::Table(_) => "a table",
        }
    }
}

/// A key with its value.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// The key.
    pub key: String,
    /// Where the key stands.
    pub key_span: Span,
    /// Its value.
    pub item: Item,
}

/// A table.
///
/// # Invariants
///
/// Keys are unique.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// Keys and values in the order in which they were written.
    pub entries: Vec<Entry>,
    /// The table's header, or its braces.
    pub span: Span,
}

impl Table {
    /// The entry of that key.
    #[must_use]
    pub fn get(&self, key: &str) -> Option<&Entry> {
        self.entries.iter().find(|entry| entry.key == key)
    }

    /// The table under that key, if there is one and it is a table.
    #[must_use]
    pub fn table(&self, key: &str) -> Option<&Self> {
        match &self.get(key)?.item.value {
            Value::Table(table) => Some(table),
            _ => None,
        }
    }

    /// Puts `entry` in the place of the one with its key, or at the end.
    pub fn put(&mut self, entry: Entry) {
        match self.entries.iter_mut().find(|old| old.key == entry.key) {
            Some(old) => *old = entry,
            None => self.entries.push(entry),
        }
    }

    /// The table under `key`, made empty at `key_span` if there is none; `None` if something else
    /// stands there.
    pub fn table_mut(&mut self, key: &str, key_span: &Span) -> Option<&mut Self> {
        if self.get(key).is_none() {
            let empty = Self { entries: Vec::new(), span: key_span.clone() };
            let item = Item { value: Value::Table(empty), span: key_span.clone() };
            self.put(Entry { key: key.to_owned(), key_span: key_span.clone(), item });
        }
        let entry = self.entries.iter_mut().find(|entry| entry.key == key)?;
        match &mut entry.item.value {
            Value::Table(table) => Some(table),
            _ => None,
        }
    }

    /// This table with the entries of `over` put over it; tables are merged, all else replaced.
    #[must_use]
    pub fn overlaid(&self, over: &Self) -> Self {
        let mut result = self.clone();
        result.span = over.span.clone();
        for entry in &over.entries {
            let mut entry = entry.clone();
            if let (Some(below), Value::Table(above)) = (self.table(&entry.key), &entry.item.value)
            {
                entry.item.value = Value::Table(below.overlaid(above));
            }
            result.put(entry);
        }
        result
    }
}
