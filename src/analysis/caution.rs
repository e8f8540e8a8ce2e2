//! What a board does to its parts that they are not made for, read from its standing levels.

use crate::analysis::ladder::Levels;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartKind;
use crate::network::error::NetworkError;
use crate::network::operating_point::OperatingPoint;
use crate::network::passive::CapacitorPolarity;
use crate::network::passive::RealCapacitor;
use crate::network::regulator::Regulator;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;
use std::collections::BTreeMap;

/// Standing reverse voltage that an electrolytic is held to bear, V; from memory: makers' notes
/// allow about 1 V at most, and not for long.
const REVERSE_VOLTS: f64 = 0.5;

/// Input below which a regulator gets nothing, V.
const NOTHING_VOLTS: f64 = 0.5;
/// Share of its output that a regulator may fall short by: the tolerance of a 7805 over all.
const SHORT_OF_OUTPUT: f64 = 0.05;
/// Above its needs by this, V, it is not the input that a regulator is short of.
const STARVED_ABOVE_VOLTS: f64 = 1.5;
/// Absolute maximum input of a 7805, V: makers' data sheets.
const MOST_INPUT_VOLTS: f64 = 35.0;

/// One sentence for every part that is misused, in the order of the parts.
///
/// Looked at are the levels with nothing lit, with each element alone, and in the sync pulse.
///
/// # Errors
///
/// A board that cannot be solved.
pub fn cautions(scenario: &Scenario) -> Result<Vec<String>, NetworkError> {
    let levels = Levels::new(scenario, &scenario.circuit)?;
    let mut points = vec![levels.black().clone(), levels.solve(ElementSet::EMPTY, LinePart::Sync)?];
    for (_, index) in scenario.raster.elements.iter().zip(0..) {
        points.push(levels.solve(ElementSet::only(ElementId(index)), LinePart::Active)?);
    }
    let mut worst: BTreeMap<(usize, Trouble), (f64, String)> = BTreeMap::new();
    for point in &points {
        for (index, part) in scenario.circuit.parts.iter().enumerate() {
            for (trouble, size, words) in troubles(part, point) {
                let known = worst.get(&(index, trouble));
                if known.is_none_or(|(known, _)| size > *known) {
                    worst.insert((index, trouble), (size, words));
                }
            }
        }
    }
    Ok(worst.into_values().map(|(_, words)| words).collect())
}

/// What can be wrong with a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Trouble {
    /// An electrolytic stands the wrong way round.
    Reversed,
    /// A part stands at more than it is rated for.
    OverRated,
    /// A regulator gets too little to regulate.
    Starved,
}

/// Each trouble with its size, which grows as it gets worse, and with the words for it.
fn troubles(part: &Part, point: &OperatingPoint) -> Vec<(Trouble, f64, String)> {
    match &part.kind {
        PartKind::RealCapacitor(real) => capacitor(&part.name, real, point),
        PartKind::Regulator(inside) => regulator(&part.name, inside, point),
        _ => Vec::new(),
    }
}

fn between(point: &OperatingPoint, [first, last]: [NodeId; 2]) -> f64 {
    point.volts(first) - point.volts(last)
}

fn capacitor(
    name: &str,
    real: &RealCapacitor,
    point: &OperatingPoint,
) -> Vec<(Trouble, f64, String)> {
    let volts = between(point, real.ends);
    let mut found = Vec::new();
    if real.polarity == CapacitorPolarity::Polar && volts < -REVERSE_VOLTS {
        let words = format!(
            "{name} is the wrong way round: its plus end stands {:.1} V below its minus end. An \
             electrolytic so used leaks, swells or bursts: turn it round.",
            -volts
        );
        found.push((Trouble::Reversed, -volts, words));
    }
    if let Some(rated) = real.rated_volts.filter(|&rated| volts.abs() > rated) {
        let words =
            format!("{name} stands at {:.1} V and is rated for {rated} V only.", volts.abs());
        found.push((Trouble::OverRated, volts.abs(), words));
    }
    found
}

fn regulator(
    name: &str,
    inside: &Regulator,
    point: &OperatingPoint,
) -> Vec<(Trouble, f64, String)> {
    let input = between(point, [inside.input, inside.common]);
    let output = between(point, [inside.output, inside.common]).max(0.0);
    let needed = inside.volts + inside.dropout_volts;
    let mut found = Vec::new();
    if input < NOTHING_VOLTS {
        let words = format!("{name} gets nothing at its input and gives {output:.1} V.");
        found.push((Trouble::Starved, needed - input, words));
    } else if output < (1.0 - SHORT_OF_OUTPUT) * inside.volts {
        let what = if input < needed + STARVED_ABOVE_VOLTS {
            "it needs more"
        } else {
            "more is drawn from it than it gives"
        };
        let words = format!(
            "{name} gets {input:.1} V at its input and gives {output:.1} V in place of {:.1} V: {what}.",
            inside.volts
        );
        found.push((Trouble::Starved, inside.volts - output, words));
    }
    if input > MOST_INPUT_VOLTS {
        let words = format!(
            "{name} gets {input:.1} V at its input; {MOST_INPUT_VOLTS} V is the most it bears."
        );
        found.push((Trouble::OverRated, input, words));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::load;

    fn cautions_with(sets: &[&str]) -> Vec<String> {
        let text = include_str!("../../scenarios/part-capacitor.toml");
        let sets: Vec<String> = sets.iter().map(|&set| set.to_owned()).collect();
        let scenario = load("t.toml", &sets, &mut |_| Ok(text.to_owned())).unwrap();
        cautions(&scenario).unwrap()
    }

    #[test]
    fn a_board_that_spares_its_parts_gives_no_caution() {
        assert_eq!(cautions_with(&[]), Vec::<String>::new());
    }

    #[test]
    fn a_reversed_electrolytic_is_named_with_its_volts() {
        let found = cautions_with(&["C1.from=plug", "C1.to=drive"]);
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(found[0].starts_with("C1 is the wrong way round"), "{found:?}");
    }

    #[test]
    fn a_capacitor_over_its_rating_is_named_with_both_voltages() {
        let found = cautions_with(&["C2.rated=4 V"]);
        assert_eq!(found, ["C2 stands at 5.0 V and is rated for 4 V only."]);
    }
    fn supply_cautions(sets: &[&str]) -> Vec<String> {
        let text = include_str!("../../scenarios/part-supply.toml");
        let sets: Vec<String> = sets.iter().map(|&set| set.to_owned()).collect();
        let scenario = load("t.toml", &sets, &mut |_| Ok(text.to_owned())).unwrap();
        cautions(&scenario).unwrap()
    }

    #[test]
    fn a_regulator_with_too_little_or_nothing_at_its_input_says_so() {
        assert_eq!(supply_cautions(&[]), Vec::<String>::new());
        let low = supply_cautions(&["V1=6 V"]);
        assert_eq!(low.len(), 1, "{low:?}");
        assert!(low[0].contains("in place of 5.0 V: it needs more"), "{low:?}");
        let none = supply_cautions(&["D1=open"]);
        assert!(none[0].starts_with("U2 gets nothing at its input"), "{none:?}");
        let high = supply_cautions(&["V1=40 V"]);
        assert!(high[2].ends_with("35 V is the most it bears."), "{high:?}");
    }
}
