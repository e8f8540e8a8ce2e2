//! What a board does to its parts that they are not made for, read from its standing levels.

use crate::analysis::ladder::Levels;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartKind;
use crate::network::error::NetworkError;
use crate::network::operating_point::OperatingPoint;
use crate::network::passive::CapacitorPolarity;
use crate::network::passive::RealCapacitor;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;
use std::collections::BTreeMap;

/// Standing reverse voltage that an electrolytic is held to bear, V; from memory: makers' notes
/// allow about 1 V at most, and not for long.
const REVERSE_VOLTS: f64 = 0.5;

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
    let mut worst: BTreeMap<(usize, Trouble), f64> = BTreeMap::new();
    for point in &points {
        for (index, part) in scenario.circuit.parts.iter().enumerate() {
            for (trouble, size) in troubles(part, point) {
                let known = worst.entry((index, trouble)).or_insert(size);
                *known = known.max(size);
            }
        }
    }
    let sentence = |((part, trouble), size): (&(usize, Trouble), &f64)| {
        trouble.sentence(&scenario.circuit.parts[*part], *size)
    };
    Ok(worst.iter().map(sentence).collect())
}

/// What can be wrong with a part; sizes grow as it gets worse.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Trouble {
    /// An electrolytic stands the wrong way round by so many volts.
    Reversed,
    /// A capacitor stands at so many volts, more than it is rated for.
    OverRated,
}

impl Trouble {
    fn sentence(self, part: &Part, size: f64) -> String {
        let name = &part.name;
        match self {
            Self::Reversed => format!(
                "{name} is the wrong way round: its plus end stands {size:.1} V below its minus \
                 end. An electrolytic so used leaks, swells or bursts: turn it round."
            ),
            Self::OverRated => {
                let rated = match &part.kind {
                    PartKind::RealCapacitor(real) => real.rated_volts.unwrap_or_default(),
                    _ => 0.0,
                };
                format!("{name} stands at {size:.1} V and is rated for {rated} V only.")
            }
        }
    }
}

fn troubles(part: &Part, point: &OperatingPoint) -> Vec<(Trouble, f64)> {
    match &part.kind {
        PartKind::RealCapacitor(real) => capacitor(real, point),
        _ => Vec::new(),
    }
}

fn between(point: &OperatingPoint, [first, last]: [NodeId; 2]) -> f64 {
    point.volts(first) - point.volts(last)
}

fn capacitor(real: &RealCapacitor, point: &OperatingPoint) -> Vec<(Trouble, f64)> {
    let volts = between(point, real.ends);
    let reversed = real.polarity == CapacitorPolarity::Polar && volts < -REVERSE_VOLTS;
    let over = real.rated_volts.is_some_and(|rated| volts.abs() > rated);
    let found = [(reversed, Trouble::Reversed, -volts), (over, Trouble::OverRated, volts.abs())];
    found.into_iter().filter(|(is_so, ..)| *is_so).map(|(_, what, size)| (what, size)).collect()
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
}
