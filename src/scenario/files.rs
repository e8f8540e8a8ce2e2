//! The texts a scenario is made of, fetched by whoever may open files.

use crate::base::diagnostic::Diagnostic;
use crate::base::diagnostic::Source;
use crate::base::diagnostic::Span;
use crate::document::problems::Problems;
use crate::document::syntax::parse;
use crate::document::tree::Table;
use std::io;
use std::path::Path;
use std::sync::Arc;

/// What `--set` arguments are called in messages; they name files from where the user stands.
pub(crate) const SET: &str = "--set";

/// A fetcher of texts.
pub(crate) struct Files<'a> {
    pub(crate) read: &'a mut dyn FnMut(&str) -> io::Result<String>,
    pub(crate) problems: &'a Problems,
}

impl Files<'_> {
    /// Fetches and reads a TOML file. `at` is where its name stands, if the user wrote it in a
    /// file. `None` if it cannot be fetched or is not TOML at all.
    pub(crate) fn table(&mut self, name: &str, at: Option<&Span>) -> Option<Table> {
        match (self.read)(name) {
            Ok(text) => read_text(name, text, self.problems),
            Err(error) => {
                self.problems.push(unreadable(name, at, &error));
                None
            }
        }
    }
}

/// Reads a TOML text; `None` if it is not TOML at all.
pub(crate) fn read_text(name: &str, text: String, problems: &Problems) -> Option<Table> {
    let source = Arc::new(Source { name: name.to_owned(), text });
    let parsed = parse(&source);
    for problem in parsed.problems {
        problems.push(problem);
    }
    parsed.whole.then_some(parsed.root)
}

fn unreadable(name: &str, at: Option<&Span>, error: &io::Error) -> Diagnostic {
    let message = match error.kind() {
        io::ErrorKind::NotFound => format!("there is no file `{name}`"),
        io::ErrorKind::InvalidData => format!("`{name}` is not text"),
        _ => format!("`{name}` cannot be read: {error}"),
    };
    let expected = if at.is_some() { "expected the name of a readable file" } else { "" };
    Diagnostic { message, span: at.cloned(), expected: expected.to_owned(), hint: None }
}

/// The path of a file that is named at `span`: relative to the file that names it.
pub(crate) fn beside(span: &Span, name: &str) -> String {
    if span.source.name == SET {
        return name.to_owned();
    }
    let folder = Path::new(&span.source.name).parent();
    folder
        .map_or_else(|| name.to_owned(), |folder| folder.join(name).to_string_lossy().into_owned())
}

/// The file's name without folder and ending.
pub(crate) fn stem(name: &str) -> String {
    Path::new(name)
        .file_stem()
        .map_or_else(|| name.to_owned(), |stem| stem.to_string_lossy().into())
}
