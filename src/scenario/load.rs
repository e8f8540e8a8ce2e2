//! From file names to a scenario: the file, its base, the changes, then the resolving.

use crate::base::diagnostic::Diagnostic;
use crate::base::diagnostic::Span;
use crate::document::fields::Fields;
use crate::document::fields::as_text;
use crate::document::problems::Problems;
use crate::document::tree::Table;
use crate::scenario::Scenario;
use crate::scenario::files::Files;
use crate::scenario::files::beside;
use crate::scenario::files::stem;
use crate::scenario::overlay;
use crate::scenario::overlay::Defect;
use crate::scenario::resolve;
use std::io;

/// More bases on bases than anyone would write.
const MOST_BASES: usize = 16;

/// A scenario as written, with base and changes put together.
#[derive(Debug)]
pub(crate) struct Written {
    pub(crate) root: Table,
    pub(crate) defects: Vec<Defect>,
}

/// Loads a scenario.
///
/// `overrides` are the arguments of `--set`, "R1=2k2". `read` fetches a text by its path: it is
/// asked for the scenario itself, its base and its chip profile; names in a file are relative to
/// that file.
///
/// # Errors
///
/// Everything that is wrong, at least one [`Diagnostic`].
pub fn load(
    path_name: &str,
    overrides: &[String],
    read: &mut dyn FnMut(&str) -> io::Result<String>,
) -> Result<Scenario, Vec<Diagnostic>> {
    let problems = Problems::default();
    let scenario = {
        let mut files = Files { read, problems: &problems };
        put_together(&mut files, path_name, overrides)
            .and_then(|written| resolve::resolve(&written, stem(path_name), &mut files))
    };
    match (scenario, problems.is_empty()) {
        (Some(scenario), true) => Ok(scenario),
        (_, false) => Err(problems.into_sorted()),
        (None, true) => Err(vec![Diagnostic {
            message: format!("`{path_name}` gives no scenario"),
            span: None,
            expected: String::new(),
            hint: None,
        }]),
    }
}

/// A scenario as written, with the changes of `--set`.
pub(crate) fn put_together(
    files: &mut Files<'_>,
    path_name: &str,
    overrides: &[String],
) -> Option<Written> {
    let mut written = written(files, path_name, None, &mut Vec::new())?;
    for text in overrides {
        overlay::set(&mut written, text, files.problems);
    }
    Some(written)
}

/// A scenario file, or a base with the changes of a variant file.
fn written(
    files: &mut Files<'_>,
    name: &str,
    at: Option<&Span>,
    opened: &mut Vec<String>,
) -> Option<Written> {
    if opened.iter().any(|known| known == name) || opened.len() >= MOST_BASES {
        let message = format!("`{name}` is, in the end, based on itself");
        if let Some(span) = at {
            files.problems.add(span, message, "expected a file that does not lead back here");
        }
        return None;
    }
    opened.push(name.to_owned());
    let root = files.table(name, at)?;
    let Some(base) = root.get("base") else {
        return Some(Written { root, defects: Vec::new() });
    };
    let (base_name, span) = as_text(&base.item, files.problems)?;
    let below = written(files, &beside(span, base_name), Some(span), opened);
    variant(below, &root, files.problems)
}

/// Puts a variant's changes over its base.
fn variant(below: Option<Written>, root: &Table, problems: &Problems) -> Option<Written> {
    let fields = Fields::open(root, "a variant", problems);
    for key in ["base", "title", "remove", "board", "change", "expect", "spread", "choose"] {
        let _ = fields.entry(key);
    }
    let mut result = below?;
    if let Some(title) = fields.entry("title") {
        result.root.put(title.clone());
    }
    overlay::remove(&mut result, &fields);
    overlay::add_parts(&mut result, &fields);
    for key in ["expect", "spread", "choose", "controller", "controllers"] {
        overlay::over(&mut result, &fields, key);
    }
    if let Some(change) = fields.table("change") {
        overlay::change(&mut result, change, problems);
    }
    fields.close();
    Some(result)
}
