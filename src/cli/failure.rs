//! Why there is no answer, and how the user is told.

use crate::cli::report_diagnostics;
use backporch::analysis::ladder::LadderError;
use backporch::analysis::spread::SpreadError;
use backporch::base::diagnostic::Diagnostic;
use backporch::base::diagnostic::Span;
use backporch::network::circuit::PartId;
use backporch::network::error::NetworkError;
use backporch::scenario::Scenario;
use backporch::simulate::RunError;
use std::fmt::Display;
use std::io::Write;

/// No answer could be given.
#[derive(Debug)]
pub(crate) struct Failure(Vec<Diagnostic>);

impl Failure {
    /// What the user wrote is wrong.
    pub(crate) fn input(diagnostics: Vec<Diagnostic>) -> Self {
        Self(diagnostics)
    }

    /// A file or the terminal would not do.
    pub(crate) fn world(what: &str, error: &dyn Display) -> Self {
        Self::plain(format!("{what}: {error}"))
    }

    /// A message with nothing to point to.
    pub(crate) fn plain(message: String) -> Self {
        Self(vec![Diagnostic { message, span: None, expected: String::new(), hint: None }])
    }

    /// The run failed; where the fault lies in a part or at a node, points to it.
    pub(crate) fn run(scenario: &Scenario, error: &RunError) -> Self {
        match error {
            RunError::Network(error) => Self::network(scenario, error),
            RunError::Plan(_) | RunError::Path(_) | RunError::Sound(_) | RunError::Receiver(_) => {
                Self::plain(error.to_string())
            }
        }
    }

    /// The levels could not be found.
    pub(crate) fn levels(scenario: &Scenario, error: &LadderError) -> Self {
        match error {
            LadderError::Network(network) => Self::network(scenario, network),
            LadderError::TooManyElements { .. } => Self::plain(error.to_string()),
        }
    }

    /// A run over boards could not begin.
    pub(crate) fn spread(scenario: &Scenario, error: &SpreadError) -> Self {
        match error {
            SpreadError::Levels(error) => Self::levels(scenario, error),
            SpreadError::Run(error) => Self::run(scenario, error),
            SpreadError::NoPicture { .. } => Self::plain(error.to_string()),
        }
    }

    /// The board could not be solved.
    pub(crate) fn network(scenario: &Scenario, error: &NetworkError) -> Self {
        let message = error.to_string();
        let part_span = |part: usize| scenario.part_spans.get(part).cloned().flatten();
        let (span, expected, hint): (Option<Span>, &str, Option<String>) = match error {
            NetworkError::Floating { node, parts, .. } => (
                scenario
                    .node_spans
                    .get(node.0)
                    .cloned()
                    .flatten()
                    .or_else(|| parts.iter().find_map(|part| part_span(part.0))),
                "expected a resistor, a junction or an output that holds this node",
                Some(format!(
                    "it is touched by {} only: let a part that conducts lead from there to `ground`, \
                     to a supply or to an output",
                    written(scenario, parts)
                )),
            ),
            NetworkError::SourceLoop { part, .. } => {
                (part_span(part.0), "expected a `resistance` above zero", None)
            }
            _ => (None, "", None),
        };
        Self(vec![Diagnostic { message, span, expected: expected.to_owned(), hint }])
    }

    /// What the user is told.
    pub(crate) fn text(&self) -> String {
        report_diagnostics::render(&self.0)
    }

    /// Tells the user.
    pub(crate) fn report(&self) {
        // Nowhere is left to complain to if this fails.
        let _ = std::io::stderr().write_all(self.text().as_bytes());
    }
}

/// The names of those parts that the user wrote: strays are not worth a word.
fn written(scenario: &Scenario, parts: &[PartId]) -> String {
    let written = parts.iter().filter(|part| scenario.part_spans[part.0].is_some());
    let names: Vec<String> =
        written.map(|part| format!("`{}`", scenario.circuit.parts[part.0].name)).collect();
    names.join(", ")
}
