//! How the words depend on the chip's pins, which nobody knows until they are measured: over the
//! specimens that its profile speaks of, and over strengths of any size.

use crate::analysis::cause::Subject;
use crate::analysis::hunt::predict::with_pins;
use crate::analysis::ladder::ElementLevel;
use crate::analysis::ladder::SyncLevels;
use crate::analysis::ladder::single_levels;
use crate::analysis::verdict::Seen;
use crate::base::math;
use crate::base::parallel;
use crate::network::circuit::Circuit;
use crate::network::circuit::PartKind;
use crate::network::circuit::PinStage;
use crate::network::error::NetworkError;
use crate::profile::pins::Strength;
use crate::scenario::Scenario;
use crate::signal::element::ElementId;

/// The standing levels with one specimen of the chip.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// How strong its pins are.
    pub strength: Strength,
    /// Sync.
    pub sync: SyncLevels,
    /// Each element alone on black, by index.
    pub elements: Vec<ElementLevel>,
}

/// Pins this many times weaker and stronger are tried.
pub const MOST_STRENGTH: f64 = 10.0;
/// Trials a decade before the ends are sought more closely.
const PER_DECADE: u32 = 24;
/// Halvings of the ratio between two trials: to a thousandth of it.
const HALVINGS: u32 = 10;

/// The levels with every specimen of the chip, weak, typical and strong; none if its profile knows
/// but one, or if the scenario's own words say how strong every pin is.
///
/// # Errors
///
/// A board that cannot be solved.
pub fn bands(scenario: &Scenario) -> Result<Vec<Band>, NetworkError> {
    let solve = |specimen: usize| {
        let specimen = &scenario.specimens[specimen];
        let mut circuit = scenario.circuit.clone();
        let pins = pins_mut(&mut circuit).zip(&specimen.stages);
        // A pin that has been opened stays open, whatever the specimen.
        let open = |levels: &[PinStage]| levels.iter().all(|s| matches!(s, PinStage::Off { .. }));
        for (levels, stages) in pins.filter(|(levels, stages)| levels.len() == stages.len()) {
            if !open(levels) {
                levels.clone_from(stages);
            }
        }
        let (sync, elements) = single_levels(scenario, &circuit)?;
        Ok(Band { strength: specimen.strength, sync, elements })
    };
    let all: Vec<usize> = (0..scenario.specimens.len()).collect();
    parallel::map(&all, |&specimen| solve(specimen)).into_iter().collect()
}

/// The stages of every pin.
fn pins_mut(circuit: &mut Circuit) -> impl Iterator<Item = &mut Vec<PinStage>> {
    circuit.parts.iter_mut().filter_map(|part| match &mut part.kind {
        PartKind::Pin(pin) => Some(&mut pin.levels),
        _ => None,
    })
}

/// A stretch of pin strengths, as multiples of those in hand; an end at [`MOST_STRENGTH`], or its
/// inverse, was as far as was tried.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strengths {
    /// The weakest.
    pub from: f64,
    /// The strongest.
    pub to: f64,
}

/// The strengths at which each element is clear at its standing level, by element, and last those at
/// which the sync is good, in rising stretches: what a board that works, or does not, says about its chip. All pins are as many times
/// stronger; a stage's resistance is divided by that, its transconductance multiplied.
///
/// # Errors
///
/// A board that cannot be solved at one of the strengths.
pub fn clear_strengths(scenario: &Scenario) -> Result<Vec<Vec<Strengths>>, NetworkError> {
    let steps: Vec<i32> = (-24..=24).collect();
    let ratio = |step: i32| math::pow(10.0, f64::from(step) / f64::from(PER_DECADE));
    let solved = parallel::map(&steps, |&step| words(scenario, ratio(step)));
    let solved: Vec<Vec<Seen>> = solved.into_iter().collect::<Result<_, _>>()?;
    let elements: Vec<usize> = (0..=scenario.raster.elements.len()).collect();
    let stretches = parallel::map(&elements, |&element| {
        let clear = |at: usize| solved[at][element] == Seen::Clear;
        let mut found = Vec::new();
        let mut start: Option<f64> = None;
        for at in 0..steps.len() {
            match (start, clear(at)) {
                (None, true) if at == 0 => start = Some(ratio(steps[0])),
                (None, true) => {
                    start =
                        Some(edge(scenario, element, [ratio(steps[at - 1]), ratio(steps[at])])?);
                }
                (Some(from), false) => {
                    let to = edge(scenario, element, [ratio(steps[at]), ratio(steps[at - 1])])?;
                    found.push(Strengths { from, to });
                    start = None;
                }
                _ => {}
            }
        }
        found.extend(start.map(|from| Strengths { from, to: MOST_STRENGTH }));
        Ok(found)
    });
    stretches.into_iter().collect()
}

/// Where an element becomes clear between a strength at which it is not and one at which it is.
fn edge(
    scenario: &Scenario,
    element: usize,
    [mut dull, mut clear]: [f64; 2],
) -> Result<f64, NetworkError> {
    for _ in 0..HALVINGS {
        let middle = (dull * clear).sqrt();
        if words(scenario, middle)?[element] == Seen::Clear {
            clear = middle;
        } else {
            dull = middle;
        }
    }
    Ok(clear)
}

/// The word of every element with pins of another strength, and that of the sync.
fn words(scenario: &Scenario, factor: f64) -> Result<Vec<Seen>, NetworkError> {
    let circuit = with_pins(&scenario.circuit, 1.0 / factor);
    let (sync, elements) = single_levels(scenario, &circuit)?;
    Ok(elements.into_iter().map(|level| level.seen).chain([sync.state.seen()]).collect())
}

/// The words of one element, or of the sync, over the specimens, if they are not all the same.
#[must_use]
pub fn differing(bands: &[Band], subject: impl Into<Subject>) -> Vec<(Strength, Seen)> {
    let subject = subject.into();
    let word = |band: &Band| match subject {
        Subject::Element(ElementId(at)) => {
            band.elements.get(usize::from(at)).map(|level| level.seen)
        }
        Subject::Sync => Some(band.sync.state.seen()),
    };
    let words: Vec<(Strength, Seen)> =
        bands.iter().filter_map(|band| Some((band.strength, word(band)?))).collect();
    let differ = words.windows(2).any(|pair| pair[0].1 != pair[1].1);
    if differ { words } else { Vec::new() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io;

    /// One pin of 5 V behind 1 kΩ, both ways, over a resistor into 75 Ω.
    fn divider(resistor: &str) -> Scenario {
        let text = format!(
            "[chip]\n\
             [chip.timing]\nclock = \"2 MHz\"\nclocks_per_line = 128\nlines = 312\nsync = 9\n\
             back_porch = 12\nfront_porch = 3\nfield_sync = \"held\"\nfield_sync_lines = 4\n\
             first_active_line = 24\n\
             [chip.drive]\nkind = \"fixed\"\nhigh_volts = 5\nhigh_ohms = 1000\nlow_ohms = 1000\n\
             [chip.pattern.left]\nactive = [{{ lines = [50, 60], clocks = [40, 50] }}]\n\
             [board.R1]\nresistor = \"{resistor}\"\nfrom = \"left\"\nto = \"plug\"\n\
             [board.R2]\nresistor = \"1 M\"\nfrom = \"sync\"\nto = \"ground\"\n\
             [output]\nnode = \"plug\"\nload = \"75\"\n"
        );
        let mut read = |_: &str| -> io::Result<String> { Ok(text.clone()) };
        crate::scenario::load("divider.toml", &[], &mut read).unwrap()
    }

    /// 140 mV of 5 V at 75 Ω: 2678.57 Ω in all, 2603.57 beside the load; a divider, by hand.
    #[test]
    fn the_strengths_that_allow_a_word_are_those_of_the_divider() {
        let expect = |resistor: f64| 1000.0 / (75.0 * (5.0 / 0.14 - 1.0) - resistor);
        for (text, ohms) in [("1k0", 1000.0), ("2k2", 2200.0)] {
            let found = clear_strengths(&divider(text)).unwrap();
            let [stretch] = found[0][..] else { panic!("{found:?}") };
            assert!((stretch.from / expect(ohms) - 1.0).abs() < 1e-3, "{stretch:?}");
            assert!((stretch.to - MOST_STRENGTH).abs() < 1e-12);
        }
        assert_eq!(clear_strengths(&divider("3k3")).unwrap()[0], []);
    }

    #[test]
    fn pins_that_the_scenario_states_itself_have_no_band() {
        assert_eq!(bands(&divider("1k0")).unwrap(), []);
    }
}
