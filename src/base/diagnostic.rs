//! What is wrong with a user's file, kept as data; the command line draws it.

use std::ops::Range;
use std::sync::Arc;

/// One text the user wrote: a scenario, a base file, a chip profile or a `--set` argument.
#[derive(Debug, PartialEq, Eq)]
pub struct Source {
    /// What to call it in a message: the path as given, or `--set`.
    pub name: String,
    /// The whole text.
    pub text: String,
}

/// A stretch of a source: byte offsets into its text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Span {
    /// The text it lies in.
    pub source: Arc<Source>,
    /// Byte range; may be empty.
    pub range: Range<usize>,
}

impl Span {
    /// The text that the span covers.
    #[must_use]
    pub fn text(&self) -> &str {
        self.source.text.get(self.range.clone()).unwrap_or_default()
    }

    /// The line on which it begins, from 1.
    #[must_use]
    pub fn line(&self) -> usize {
        let before = self.source.text.get(..self.range.start).unwrap_or_default();
        before.matches('\n').count() + 1
    }
}

/// One mistake: where, what is wrong, what was expected, and a suggestion if there is a near match.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// What is wrong, in one sentence without a full stop, offending text in backticks.
    pub message: String,
    /// Where; `None` only if no text can be pointed to (a file that cannot be read).
    pub span: Option<Span>,
    /// What was expected there, printed under the caret; may be empty.
    pub expected: String,
    /// How to mend it, if we can tell.
    pub hint: Option<String>,
}
