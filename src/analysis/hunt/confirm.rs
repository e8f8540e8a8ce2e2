//! The likeliest suspects once more, in time: a level can be right and its pulse too slow to be seen.

use crate::analysis::examine::glance;
use crate::analysis::hunt::Hunt;
use crate::analysis::hunt::Suspect;
use crate::analysis::hunt::observe::Look;
use crate::analysis::hunt::observe::Observation;
use crate::analysis::hunt::predict::STRENGTHS;
use crate::analysis::hunt::predict::State;
use crate::analysis::hunt::predict::faulty;
use crate::analysis::reading::FieldReading;
use crate::analysis::verdict::Note;
use crate::analysis::verdict::Seen;
use crate::base::parallel;
use crate::scenario::Scenario;
use crate::signal::element::ElementId;

/// What one field of the board with the fault shows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum InTime {
    /// What is said to be seen, or what its levels at rest have been weighed for.
    Agrees,
    /// Something else than either: in words.
    Differs(Vec<String>),
    /// The board cannot be followed, or the set cannot take what it gives.
    Unsolved,
}

/// Runs a field of the `most` likeliest suspects, with pins of the strength that fits best, and
/// notes whether what is seen of it is what is said. Their order stays as it is.
pub fn confirm(scenario: &Scenario, known: &Observation, hunt: &mut Hunt, most: usize) {
    // Without a word for an element there is nothing that a field could contradict.
    let few = if known.seen.is_empty() { 0 } else { hunt.suspects.len().min(most) };
    let found = parallel::map(&hunt.suspects[..few], |suspect| in_time(scenario, known, suspect));
    for (suspect, found) in hunt.suspects.iter_mut().zip(found) {
        suspect.in_time = Some(found);
    }
}

fn in_time(scenario: &Scenario, known: &Observation, suspect: &Suspect) -> InTime {
    let (strength, _) = STRENGTHS[suspect.fit.best_strength()];
    let circuit = faulty(scenario, &suspect.fault, strength);
    let broken = Scenario { circuit, ..scenario.clone() };
    let Ok(reading) = glance(&broken) else { return InTime::Unsolved };
    let differs: Vec<String> = known
        .seen
        .iter()
        .filter_map(|&(element, look)| {
            let name = &scenario.raster.elements[usize::from(element.0)];
            let found = found(&reading, name)?;
            let news = found != look && found != standing(scenario, suspect, element);
            news.then(|| format!("{name} {}", found.word()))
        })
        .collect();
    if differs.is_empty() { InTime::Agrees } else { InTime::Differs(differs) }
}

/// The word for an element's level at rest, which has been weighed already.
fn standing(scenario: &Scenario, suspect: &Suspect, element: ElementId) -> Look {
    let socket = scenario.output.node;
    let strength = suspect.fit.best_strength();
    let level = |state| suspect.prediction.at(strength, state, socket);
    let delta_v = level(State::Lit(element)) - level(State::Black);
    look(scenario.verdict.seen(delta_v), delta_v < 0.0)
}

fn look(seen: Seen, dark: bool) -> Look {
    match seen {
        Seen::Missing => Look::Missing,
        _ if dark => Look::Dark,
        Seen::Faint => Look::Faint,
        Seen::Clear => Look::Clear,
    }
}

/// The word for an element as it is received: that of its best shape, for who looks at a screen sees
/// the net if the lines are lost; `None` if nothing of it could be measured.
fn found(reading: &FieldReading, name: &str) -> Option<Look> {
    let shapes = reading.shapes.iter().filter(|shape| shape.element == name);
    let best = shapes.filter(|shape| shape.seen.is_some()).max_by_key(|shape| shape.seen)?;
    Some(look(best.seen?, best.notes.contains(&Note::Dark)))
}
