//! Where an element's pulse is lost, and which part does it.
//!
//! The ways of the pulse are read from the solved board: its size at every node, from the pin to
//! the socket. Everything on a way and everything that hangs on it is a suspect. Each suspect is
//! then tried: the board is solved again with that one thing put right, a little, then more. What
//! brings the element back at the least cost is the cause: plain faults before matters of degree,
//! small changes before large ones, what explains all that is wrong before what explains one
//! element. Nothing is looked up; an unknown board is treated as any other.

mod advice;
mod blocking;
mod candidate;
pub mod lag;
mod naming;
mod remedy;
pub(in crate::analysis) mod route;
pub(in crate::analysis) mod scene;
mod sentence;
mod subject;
mod suspect;
pub(in crate::analysis) mod trial;
pub(in crate::analysis) mod words;

#[cfg(test)]
mod cases;

use crate::analysis::cause::scene::Scene;
use crate::analysis::ladder::Levels;
use crate::analysis::verdict::Seen;
use crate::network::circuit::Circuit;
use crate::network::error::NetworkError;
use crate::scenario::Scenario;
use crate::scenario::change::ChangeError;

pub use crate::analysis::cause::subject::SYNC;
pub use crate::analysis::cause::subject::Subject;
pub use crate::analysis::cause::suspect::Suspect;
pub use crate::analysis::cause::suspect::SuspectKind;
pub(crate) use crate::analysis::cause::words::farads;
pub(crate) use crate::analysis::cause::words::ohms;

/// The step that loses an element's pulse, named from the solved circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct Cause {
    /// The part that does it: a reference designator or a pin's name.
    pub part: String,
    /// The node where the pulse is lost.
    pub node: String,
    /// The whole finding in one or two plain sentences with its numbers.
    pub words: String,
    /// The suspect behind it, if there is a way from the chip to the socket at all.
    pub suspect: Option<Suspect>,
    /// Whether putting that one thing right makes the element clear.
    pub cures: bool,
}

/// Why an element is faint or missing at the socket, or the sync weak or failing; `None` if it is
/// clear, or good, there at its standing level.
///
/// # Errors
///
/// A board that cannot be solved.
pub fn cause(
    scenario: &Scenario,
    subject: impl Into<Subject>,
) -> Result<Option<Cause>, NetworkError> {
    let subject = subject.into();
    let Some(mut first) = single_cause(scenario, subject)? else { return Ok(None) };
    if let Some(suspect) = first.suspect.as_ref().filter(|suspect| suspect.helps())
        && let Ok(better) = scenario.changed(&suspect.remedy)
        && let Ok(Some(second)) = single_cause(&better, subject)
        && second.cures
    {
        first.words.push_str(" That put right: ");
        first.words.push_str(&second.words);
    }
    Ok(Some(first))
}

/// As [`cause`], without asking what else there is.
fn single_cause(scenario: &Scenario, subject: Subject) -> Result<Option<Cause>, NetworkError> {
    let levels = Levels::new(scenario, &scenario.circuit)?;
    let delta_v = levels.against_black(subject.state(), scenario.output.node)?;
    if subject.seen(&scenario.verdict, delta_v) == Seen::Clear {
        return Ok(None);
    }
    let scene = Scene::new(scenario, &levels, subject)?;
    Ok(Some(match likeliest(&scene, delta_v) {
        Some(suspect) => words::finding(&scene, delta_v, suspect),
        None => words::no_way(&scene),
    }))
}

/// The finding about every suspect that makes it clear, or good, by itself, the likeliest first.
///
/// # Errors
///
/// A board that cannot be solved.
pub fn cures(scenario: &Scenario, subject: impl Into<Subject>) -> Result<Vec<Cause>, NetworkError> {
    let subject = subject.into();
    let levels = Levels::new(scenario, &scenario.circuit)?;
    let delta_v = levels.against_black(subject.state(), scenario.output.node)?;
    let scene = Scene::new(scenario, &levels, subject)?;
    let cures = ranked(&scene, delta_v).into_iter().filter(|suspect| suspect.cures);
    Ok(cures.map(|suspect| words::finding(&scene, delta_v, suspect)).collect())
}

/// The board with one suspect put right.
///
/// # Errors
///
/// A suspect of another board.
pub fn put_right(circuit: &Circuit, suspect: &Suspect) -> Result<Circuit, ChangeError> {
    let mut circuit = circuit.clone();
    circuit.apply(&suspect.remedy)?;
    Ok(circuit)
}

/// All suspects: what cures comes first, the least costly of it first of all; among the rest, what
/// takes most of the pulse.
fn ranked(scene: &Scene<'_>, delta_v: f64) -> Vec<Suspect> {
    let candidates = scene.candidates();
    let tried = candidates.iter().map(|candidate| scene.tried(candidate, delta_v, f64::INFINITY));
    let mut all: Vec<Suspect> = tried.collect();
    all.sort_by(Suspect::by_cost);
    all
}

/// The first of [`ranked`], without trying what cannot be it.
fn likeliest(scene: &Scene<'_>, delta_v: f64) -> Option<Suspect> {
    let mut candidates = scene.candidates();
    // The plainest first and what takes most, so that they rule the others out.
    candidates.sort_by(|a, b| {
        let cost = scene.least_cost(a).total_cmp(&scene.least_cost(b));
        cost.then(a.left().total_cmp(&b.left()))
    });
    let mut best: Option<Suspect> = None;
    for candidate in &candidates {
        let limit = best.as_ref().map_or(f64::INFINITY, |best| best.cost);
        let next = scene.tried(candidate, delta_v, limit);
        if best.as_ref().is_none_or(|best| next.by_cost(best).is_lt()) {
            best = Some(next);
        }
    }
    best
}
