//! Rows of values to step through.

use crate::base::math;
use crate::base::preferred::Series;
use crate::document::quantity::Quantity;
use crate::document::quantity::read;
use crate::document::values::label;
use crate::scenario::control::Step;

/// Preferred values from `low` to `high`, as they are printed on parts.
pub(super) fn series(series: Series, low: f64, high: f64, quantity: &Quantity) -> Vec<Step> {
    let values = series.values_between(low, high).into_iter();
    values
        .map(|number| {
            let label = label(number);
            // A label is for people; where it is read as another number, the number itself is taken.
            let same = read(&label, quantity).is_ok_and(|read| read.to_bits() == number.to_bits());
            Step { text: if same { label } else { format!("{number}") }, number }
        })
        .collect()
}

/// Even steps from `low` to `high`, numbered in whole steps so that each is a short decimal.
pub(super) fn even(low: f64, high: f64, step: f64) -> Vec<Step> {
    let decimals = match step {
        _ if step < 0.005 => 3,
        _ if step < 1.0 => 2,
        _ => 0,
    };
    let (first, last) = (math::round(low / step), math::round(high / step));
    let mut steps = Vec::new();
    let mut index = first;
    while index <= last {
        let text = format!("{:.decimals$}", index * step);
        let text = if text.contains('.') {
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        } else {
            text
        };
        let text = if text == "-0" { "0".to_owned() } else { text };
        if let Ok(number) = text.parse() {
            steps.push(Step { text, number });
        }
        index += 1.0;
    }
    steps
}

/// The same with the value that is in the file at its place among them.
pub(super) fn with(mut steps: Vec<Step>, text: &str, quantity: &Quantity) -> Vec<Step> {
    let Ok(number) = read(text, quantity) else { return steps };
    let at = steps.partition_point(|step| step.number < number * (1.0 - 1e-12));
    match steps.get_mut(at).filter(|step| (step.number - number).abs() <= 1e-12 * number.abs()) {
        Some(same) => text.clone_into(&mut same.text),
        None => steps.insert(at, Step { text: text.to_owned(), number }),
    }
    steps
}
