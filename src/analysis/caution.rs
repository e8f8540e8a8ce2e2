//! What a board does to its parts that they are not made for, read from its standing levels.

use crate::analysis::feed;
use crate::analysis::ladder::Levels;
use crate::network::bipolar::Polarity;
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

/// Standing reverse voltage that a base-emitter junction bears, V: 5 or 6 V in the data sheets of
/// small transistors, from memory. Its breakdown is not modelled.
const MOST_BASE_EMITTER_VOLTS: f64 = 5.0;
/// Beyond this, V, an emitter stands on its collector's side.
const EXCHANGED_VOLTS: f64 = 0.2;

/// One sentence for every part that is misused, in the order of the parts, after those on nodes that
/// feed something and stand at nothing.
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
    let mut worst: BTreeMap<(usize, Trouble), Found> = BTreeMap::new();
    for point in &points {
        for (index, part) in scenario.circuit.parts.iter().enumerate() {
            for (trouble, size, words) in troubles(part, point) {
                let found = worst.entry((index, trouble)).or_default();
                found.times += 1;
                if size > found.size {
                    (found.size, found.words) = (size, words);
                }
            }
        }
    }
    let always = points.len();
    let told = worst
        .into_iter()
        .filter(|((_, trouble), found)| *trouble != Trouble::Exchanged || found.times == always);
    let mut all = feed::cautions(scenario, levels.black());
    all.extend(told.map(|(_, found)| found.words));
    Ok(all)
}

/// One trouble of one part.
#[derive(Default)]
struct Found {
    /// At how many of the levels.
    times: usize,
    /// Its size where it is worst, and the words for that.
    size: f64,
    words: String,
}

/// What can be wrong with a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Trouble {
    /// An electrolytic, or a base-emitter junction, stands the wrong way round.
    Reversed,
    /// Collector and emitter have changed places; only if they have at all levels.
    Exchanged,
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
        PartKind::Transistor { collector, base, emitter, model } => {
            let terminals = [*collector, *base, *emitter].map(|node| point.volts(node));
            let is_diode = base == collector || base == emitter;
            if is_diode { Vec::new() } else { transistor(&part.name, model.polarity, terminals) }
        }
        _ => Vec::new(),
    }
}

/// By the volts of collector, base and emitter.
fn transistor(
    name: &str,
    polarity: Polarity,
    [collector, base, emitter]: [f64; 3],
) -> Vec<(Trouble, f64, String)> {
    let sign = polarity.sign();
    let (kind, other, side) = match polarity {
        Polarity::Npn => ("an NPN", "a PNP", "above"),
        Polarity::Pnp => ("a PNP", "an NPN", "below"),
    };
    let mut found = Vec::new();
    let exchanged = sign * (emitter - collector);
    if exchanged > EXCHANGED_VOLTS {
        let words = format!(
            "{name} stands the wrong way round: {kind} whose emitter is {exchanged:.1} V {side} its \
             collector. Exchange the two, or fit {other}."
        );
        found.push((Trouble::Exchanged, exchanged, words));
    }
    let reverse = sign * (emitter - base);
    if reverse > MOST_BASE_EMITTER_VOLTS {
        let words = format!(
            "{name} stands reversed by {reverse:.1} V between base and emitter: most transistors \
             break down at 5 to 6 V, which is not modelled."
        );
        found.push((Trouble::Reversed, reverse, words));
    }
    found
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
        let rated = real.rated_volts.map_or(String::new(), |rated| {
            format!(", and is rated for {rated} V with its plus end up")
        });
        let words = format!(
            "{name} stands reversed by {:.1} V{rated}. An electrolytic so used leaks, swells or \
             bursts: turn it round.",
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
        assert_eq!(
            found[0],
            "C1 stands reversed by 1.4 V, and is rated for 10 V with its plus end up. An \
             electrolytic so used leaks, swells or bursts: turn it round."
        );
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
        assert!(none[2].starts_with("U2 gets nothing at its input"), "{none:?}");
        let high = supply_cautions(&["V1=40 V"]);
        assert!(high[2].ends_with("35 V is the most it bears."), "{high:?}");
    }
}
