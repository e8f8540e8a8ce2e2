//! `[receiver.accepts]`: what a set asks of a signal before it shows anything.

use crate::document::fields::Fields;
use crate::document::fields::as_quantity;
use crate::document::problems::Problems;
use crate::document::quantity::FACTOR;
use crate::document::quantity::FREQUENCY;
use crate::document::quantity::Quantity;
use crate::document::quantity::SHARE;
use crate::document::quantity::TIME;
use crate::document::quantity::VOLTAGE;
use crate::receiver::demands::Demand;
use crate::receiver::demands::Origin;
use crate::receiver::demands::Property;

const fn demand(property: Property, low: f64, high: f64, origin: Origin) -> Demand {
    Demand { property, low, high, origin }
}

/// What a flat panel asks where nothing else is said.
///
/// # Source
///
/// Line: the 600 Hz at least, 3.84 %, within which a maker's deflection processor catches; fields
/// 45 to 64.5 Hz, 488 to 722 lines a frame, 50 mV of sync at least, back porch within 1 V of 0: the
/// same and like data. Edges within 0.111 µs of one another, by which a maker's note says detail is
/// kept, are no reason to refuse. The rest is from memory: many take what fails it, some do not.
pub(super) const DEMANDS: [Demand; 9] = [
    demand(Property::LineRate, -0.0384, 0.0384, Origin::Data),
    demand(Property::FieldRate, 45.0, 64.5, Origin::Data),
    demand(Property::Lines, 244.0, 361.0, Origin::Data),
    demand(Property::Depth, 0.05, f64::INFINITY, Origin::Data),
    demand(Property::Offset, -1.0, 1.0, Origin::Data),
    demand(Property::Porches, -0.05, 0.05, Origin::Memory),
    demand(Property::LineEdges, 0.5, 1.0, Origin::Memory),
    demand(Property::Interlace, 0.0, 0.05, Origin::Memory),
    demand(Property::Jitter, 0.0, 0.111e-6, Origin::Detail),
];

/// What may be written: a distance to either side, a pair of ends, or one end.
enum Form {
    Either,
    Ends,
    Least,
    Most,
}

/// The set's demands, those that the table states in place of its own.
pub(super) fn demands(fields: &Fields<'_>, mut all: Vec<Demand>) -> Vec<Demand> {
    let Some(table) = fields.table("accepts") else { return all };
    let problems = fields.problems();
    let inner = Fields::open(table, "[receiver.accepts]", problems);
    let count = FACTOR.within(1.0, 1e4);
    for (key, property, form, quantity) in [
        ("line", Property::LineRate, Form::Either, &SHARE),
        ("field", Property::FieldRate, Form::Ends, &FREQUENCY),
        ("lines", Property::Lines, Form::Ends, &count),
        ("depth", Property::Depth, Form::Ends, &VOLTAGE),
        ("offset", Property::Offset, Form::Either, &VOLTAGE),
        ("porches", Property::Porches, Form::Either, &VOLTAGE),
        ("line_edges", Property::LineEdges, Form::Least, &SHARE),
        ("interlace", Property::Interlace, Form::Most, &FACTOR.or_zero()),
        ("jitter", Property::Jitter, Form::Most, &TIME),
    ] {
        let Some((low, high)) = stated(&inner, key, &form, quantity, problems) else { continue };
        all.retain(|demand| demand.property != property);
        all.push(demand(property, low, high, Origin::Stated));
    }
    inner.close();
    all
}

fn stated(
    fields: &Fields<'_>,
    key: &str,
    form: &Form,
    quantity: &Quantity,
    problems: &Problems,
) -> Option<(f64, f64)> {
    if let Form::Ends = form {
        let expected = "expected a pair: the least and the greatest";
        let [low, high] = fields.items(key, expected)?;
        let (low, high) =
            (as_quantity(low, quantity, problems), as_quantity(high, quantity, problems));
        let (low, high) = (low?, high?);
        if low > high {
            let message = "this range ends below its start".to_owned();
            problems.add(fields.place(key), message, "expected the least first, then the greatest");
        }
        return Some((low, high));
    }
    let value = fields.quantity(key, quantity)?;
    Some(match form {
        Form::Least => (value, f64::INFINITY),
        Form::Most => (f64::NEG_INFINITY, value),
        Form::Either | Form::Ends => (-value.abs(), value.abs()),
    })
}
