//! The list that all mistakes go to, so that reading never stops at the first.

use crate::base::diagnostic::Diagnostic;
use crate::base::diagnostic::Span;
use crate::document::near;
use std::cell::Cell;
use std::cell::RefCell;

/// Mistakes beyond this many are counted, not kept: no one reads them, and a file of rubbish has no
/// end of them.
const MOST: usize = 500;

/// Mistakes found so far.
#[derive(Debug, Default)]
pub struct Problems {
    list: RefCell<Vec<Diagnostic>>,
    untold: Cell<usize>,
}

impl Problems {
    /// Adds a mistake at a place, with what was expected there.
    pub fn add(&self, span: &Span, message: String, expected: &str) {
        self.push(Diagnostic {
            message,
            span: Some(span.clone()),
            expected: expected.to_owned(),
            hint: None,
        });
    }

    /// Adds a mistake with a way to mend it.
    pub fn add_hinted(&self, span: &Span, message: String, expected: &str, hint: Option<String>) {
        let expected = expected.to_owned();
        self.push(Diagnostic { message, span: Some(span.clone()), expected, hint });
    }

    /// Adds an unknown word, with the nearest known one.
    pub fn add_unknown(&self, span: &Span, message: String, word: &str, known: &[&str]) {
        let expected = match known.len() {
            0 => "nothing can stand here".to_owned(),
            1..=24 => format!("expected {}", list_of(known)),
            _ => String::new(),
        };
        let hint = near::nearest(word, known.iter().copied()).map(near::did_you_mean);
        self.add_hinted(span, message, &expected, hint);
    }

    /// Adds a finished diagnostic.
    pub fn push(&self, diagnostic: Diagnostic) {
        let mut list = self.list.borrow_mut();
        if list.len() < MOST {
            list.push(diagnostic);
        } else {
            self.untold.set(self.untold.get() + 1);
        }
    }

    /// How many mistakes there are.
    #[must_use]
    pub fn count(&self) -> usize {
        self.list.borrow().len()
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.count() == 0
    }

    /// All mistakes, each once, those of one text together in text order, texts in the order in
    /// which they first gave offence.
    #[must_use]
    pub fn into_sorted(self) -> Vec<Diagnostic> {
        let mut texts: Vec<String> = Vec::new();
        let mut sorted: Vec<((usize, usize), Diagnostic)> = Vec::new();
        for one in self.list.into_inner() {
            if sorted.iter().any(|(_, known)| *known == one) {
                continue;
            }
            let name = one.span.as_ref().map_or("", |span| span.source.name.as_str());
            let text = texts.iter().position(|text| text == name).unwrap_or_else(|| {
                texts.push(name.to_owned());
                texts.len() - 1
            });
            let start = one.span.as_ref().map_or(0, |span| span.range.start);
            sorted.push(((text, start), one));
        }
        sorted.sort_by_key(|(place, _)| *place);
        let mut all: Vec<Diagnostic> = sorted.into_iter().map(|(_, one)| one).collect();
        if self.untold.get() > 0 {
            let message = format!("and {} more mistakes", self.untold.get());
            all.push(Diagnostic { message, span: None, expected: String::new(), hint: None });
        }
        all
    }
}

/// "`a`, `b` or `c`".
#[must_use]
pub fn list_of(words: &[&str]) -> String {
    let quoted: Vec<String> = words.iter().map(|word| format!("`{word}`")).collect();
    match quoted.as_slice() {
        [] => String::new(),
        [one] => one.clone(),
        [rest @ .., last] => format!("{} or {last}", rest.join(", ")),
    }
}
