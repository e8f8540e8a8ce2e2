//! The ranges of levels that a scenario asks for, to be shaded in pictures.

use crate::analysis::spread::level_names;
use crate::scenario::Scenario;
use crate::scenario::expect::Expectation;
use crate::scenario::expect::FieldAmount;
use crate::scenario::expect::OfShape;
use crate::scenario::expect::ShapeAmount;

/// A level's range that was asked for, V: by its name, an open end left out.
pub type Window = (String, Option<f64>, Option<f64>);

/// The ranges that `[expect]` asks of the levels that are drawn.
#[must_use]
pub fn windows(scenario: &Scenario) -> Vec<Window> {
    let names = level_names(scenario);
    let expected = scenario.expect.iter().filter_map(|expected| match &expected.what {
        Expectation::Field(amount, bounds) => {
            let name = match amount {
                FieldAmount::Tip => "tip",
                FieldAmount::Black => "black",
                FieldAmount::SyncDepth => "depth",
                _ => return None,
            };
            Some((name.to_owned(), bounds.low, bounds.high))
        }
        Expectation::Shape(name, OfShape::Amount(ShapeAmount::Delta, bounds)) => {
            Some((name.clone(), bounds.low, bounds.high))
        }
        _ => None,
    });
    expected.filter(|window| names.contains(&window.0)).collect()
}
