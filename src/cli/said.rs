//! Values that stand on the command line, and what is wrong with them.

use crate::cli::failure::Failure;
use backporch::base::diagnostic::Diagnostic;
use backporch::base::diagnostic::Source;
use backporch::base::diagnostic::Span;
use backporch::document::near::did_you_mean;
use backporch::document::near::nearest;
use backporch::document::quantity;
use backporch::document::quantity::Quantity;
use backporch::document::values::ChoicesError;
use std::ops::Range;
use std::sync::Arc;

/// What is wrong with values for a setting, where they stand in a file or behind an option.
pub(crate) fn refusal(error: ChoicesError, span: Span) -> Failure {
    let ChoicesError { message, expected, hint } = error;
    Failure::input(vec![Diagnostic { message, span: Some(span), expected, hint }])
}

/// One value of the command line, and where it stands.
#[derive(Clone, Debug)]
pub(crate) struct Said {
    source: Arc<Source>,
}

impl Said {
    /// What was written behind `option`.
    pub(crate) fn new(option: &str, text: &str) -> Self {
        Self { source: Arc::new(Source { name: option.to_owned(), text: text.to_owned() }) }
    }

    /// The whole of it.
    pub(crate) fn text(&self) -> &str {
        &self.source.text
    }

    /// Its place.
    pub(crate) fn span(&self, range: Range<usize>) -> Span {
        Span { source: Arc::clone(&self.source), range }
    }

    /// Where all of it stands.
    pub(crate) fn place(&self) -> Span {
        self.span(0..self.text().len())
    }

    /// Something is wrong with all of it.
    pub(crate) fn wrong(&self, message: String, expected: &str) -> Failure {
        self.wrong_at(0..self.text().len(), message, expected.to_owned(), None)
    }

    /// Something is wrong with a part of it.
    pub(crate) fn wrong_at(
        &self,
        range: Range<usize>,
        message: String,
        expected: String,
        hint: Option<String>,
    ) -> Failure {
        let span = Some(self.span(range));
        Failure::input(vec![Diagnostic { message, span, expected, hint }])
    }

    /// A value that makes up all of it.
    pub(crate) fn value(&self, kind: &Quantity) -> Result<f64, Failure> {
        self.value_at(0..self.text().len(), kind)
    }

    /// A value that makes up a part of it.
    pub(crate) fn value_at(&self, range: Range<usize>, kind: &Quantity) -> Result<f64, Failure> {
        quantity::read(&self.text()[range.clone()], kind)
            .map_err(|error| self.wrong_at(range, error.message, error.expected, error.hint))
    }

    /// Where a sign stands; an error in the form `form` if it does not.
    pub(crate) fn sign(&self, sign: char, form: &str) -> Result<usize, Failure> {
        self.sign_within(0..self.text().len(), sign, form)
    }

    /// Where a sign stands in a part of it.
    pub(crate) fn sign_within(
        &self,
        range: Range<usize>,
        sign: char,
        form: &str,
    ) -> Result<usize, Failure> {
        let text = &self.text()[range.clone()];
        text.find(sign).map(|at| range.start + at).ok_or_else(|| {
            let message = format!("`{text}` has no `{sign}`");
            self.wrong_at(range.clone(), message, format!("expected {form}"), None)
        })
    }

    /// Which of `names` a part of it is.
    pub(crate) fn pick(
        &self,
        range: Range<usize>,
        what: &str,
        names: &[&str],
    ) -> Result<usize, Failure> {
        let word = &self.text()[range.clone()];
        names.iter().position(|name| *name == word).ok_or_else(|| {
            let hint = nearest(word, names.iter().copied()).map(did_you_mean);
            let expected = format!("expected one of {}", names.join(", "));
            self.wrong_at(range, format!("`{word}` is no {what}"), expected, hint)
        })
    }
}
