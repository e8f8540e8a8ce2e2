//! What can be turned, stepped or exchanged on a board: a control for every part, and for what is
//! around the board.
//!
//! A control is told in the words of `--set`: its path, the texts that it steps through, and the
//! text that stands there now. Nothing here changes anything.

mod around;
mod part;
mod steps;

use crate::document::quantity::Quantity;
use crate::document::quantity::read;
use crate::network::circuit::PartId;
use crate::scenario::Scenario;
use crate::scenario::entries::Entry;

/// What belongs together under one name: a part, or a table of the scenario.
#[derive(Clone, Debug, PartialEq)]
pub struct Group {
    /// The part's name, or what the table is about.
    pub name: String,
    /// The part, if it is one.
    pub part: Option<PartId>,
    /// At least one.
    pub controls: Vec<Control>,
}

/// Something to turn.
#[derive(Clone, Debug, PartialEq)]
pub struct Control {
    /// What `--set` calls it.
    pub path: String,
    /// What it is: "value", "position".
    pub label: &'static str,
    /// The text that stands in the file, or the one that amounts to the default.
    pub text: String,
    /// Whether that text stands in the file.
    pub is_written: bool,
    /// What it can be.
    pub kind: ControlKind,
}

/// What a control can be.
#[derive(Clone, Debug, PartialEq)]
pub enum ControlKind {
    /// One of many values in a row. Any other text of the same quantity is a value too.
    Steps {
        /// The values, rising.
        steps: Vec<Step>,
        /// What they are.
        quantity: Quantity,
    },
    /// Two values of one list, such as where the ball is, each of them one of the steps.
    Pair {
        /// What each of the two is.
        labels: [&'static str; 2],
        /// The values, rising.
        steps: Vec<Step>,
        /// What they are.
        quantity: Quantity,
    },
    /// One of a few words.
    Words(Vec<String>),
    /// A fault of the part, or none: [`FITTED`] stands for no setting at all.
    Fault(Vec<String>),
}

/// The word for a part without a fault.
pub const FITTED: &str = "fitted";

/// One value of a row.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// As `--set` takes it.
    pub text: String,
    /// As a number in base units.
    pub number: f64,
}

impl Control {
    /// The steps that are nearest to a text: one, two for a pair, none for words or for a text that is
    /// no value.
    #[must_use]
    pub fn places(&self, text: &str) -> Vec<usize> {
        match &self.kind {
            ControlKind::Steps { steps, quantity } => {
                place(steps, quantity, text).into_iter().collect()
            }
            ControlKind::Pair { steps, quantity, .. } => {
                let inner = text.trim().trim_start_matches('[').trim_end_matches(']');
                let places = inner.split(',').filter_map(|one| place(steps, quantity, one));
                let places: Vec<usize> = places.collect();
                if places.len() == 2 { places } else { Vec::new() }
            }
            ControlKind::Words(_) | ControlKind::Fault(_) => Vec::new(),
        }
    }
}

fn place(steps: &[Step], quantity: &Quantity, text: &str) -> Option<usize> {
    let number = read(text, quantity).ok()?;
    let off = |step: &Step| (step.number - number).abs();
    (0..steps.len()).min_by(|&a, &b| off(&steps[a]).total_cmp(&off(&steps[b])))
}

/// The controls of a board: its parts in the order of the file, then what is around them.
#[must_use]
pub fn controls(scenario: &Scenario, entries: &[Entry]) -> Vec<Group> {
    let written = Entries(entries);
    let mut groups = part::groups(scenario, written);
    groups.extend(around::groups(scenario, written));
    groups
}

/// The entries as written.
#[derive(Clone, Copy)]
struct Entries<'a>(&'a [Entry]);

impl<'a> Entries<'a> {
    fn text(self, path: &str) -> Option<&'a str> {
        let found = self.0.iter().find(|entry| entry.path == path);
        found.map(|entry| entry.text.as_str())
    }

    fn text_or(self, path: &str, default: &str) -> String {
        self.text(path).unwrap_or(default).to_owned()
    }

    /// A control that steps.
    fn stepped(
        self,
        path: String,
        label: &'static str,
        (steps, quantity): (Vec<Step>, Quantity),
        default: &str,
    ) -> Control {
        let text = self.text_or(&path, default);
        let steps = steps::with(steps, &text, &quantity);
        let is_written = self.text(&path).is_some();
        Control { path, label, text, is_written, kind: ControlKind::Steps { steps, quantity } }
    }

    /// A control of a few words.
    fn worded<'b>(
        self,
        path: String,
        label: &'static str,
        words: impl IntoIterator<Item = &'b str>,
        default: &str,
    ) -> Control {
        let text = self.text_or(&path, default);
        let mut words: Vec<String> = words.into_iter().map(str::to_owned).collect();
        if !words.contains(&text) {
            words.push(text.clone());
        }
        let is_written = self.text(&path).is_some();
        Control { path, label, text, is_written, kind: ControlKind::Words(words) }
    }
}
