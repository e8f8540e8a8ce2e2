//! `[choose]`: which parts may be other ones, and what lies in the drawer.

use crate::base::diagnostic::Span;
use crate::document::fields::Fields;
use crate::document::fields::as_list;
use crate::document::fields::as_text;
use crate::document::problems::Problems;
use crate::document::tree::Entry;
use crate::document::tree::Item;
use crate::document::tree::Table;
use crate::document::tree::Value;

/// What `choose` may do to a board, as it is written.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ChooseSpec {
    /// Values that are at hand.
    pub drawer: Vec<String>,
    /// Settings and their values, "R1=E24:1k..10k", and where each stands.
    pub moves: Vec<(String, Span)>,
}

/// Reads the table.
pub(crate) fn read(table: &Table, problems: &Problems) -> ChooseSpec {
    let fields = Fields::open(table, "[choose]", problems);
    let expected = "expected values such as `[\"330\", \"1k\"]`";
    let value = |item: &Item| match &item.value {
        Value::Number(text) | Value::Text(text) => Some(text.clone()),
        other => {
            problems.add(&item.span, format!("this is {}", other.noun()), expected);
            None
        }
    };
    let drawer = fields.list("drawer", expected).unwrap_or_default();
    let drawer = drawer.iter().filter_map(value).collect();
    let moves = fields.table("move").map_or_else(Vec::new, |table| {
        let one = |entry: &Entry| {
            let values = match &entry.item.value {
                Value::List(_) => {
                    let list = as_list(&entry.item, expected, problems)?;
                    list.iter().filter_map(value).collect::<Vec<_>>().join(",")
                }
                _ => as_text(&entry.item, problems)?.0.to_owned(),
            };
            Some((format!("{}={values}", entry.key), entry.item.span.clone()))
        };
        table.entries.iter().filter_map(one).collect()
    });
    fields.close();
    ChooseSpec { drawer, moves }
}
