//! Why an element looks as it does: its way from the pin to the socket, what each part takes of it,
//! what hangs on each node, its edges on the way, and what would bring it back.

pub mod edges;
pub mod ledger;
pub(in crate::analysis) mod naming;
mod walk;

use crate::analysis::band;
use crate::analysis::band::Strengths;
use crate::analysis::cause;
use crate::analysis::cause::Cause;
use crate::analysis::cause::Subject;
use crate::analysis::cause::lag;
use crate::analysis::cause::scene::Scene;
use crate::analysis::ladder::Levels;
use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;
use crate::analysis::why::edges::Edge;
use crate::analysis::why::ledger::Step;
use crate::analysis::why::ledger::ledger;
use crate::analysis::why::walk::Walk;
use crate::base::parallel;
use crate::network::error::NetworkError;
use crate::profile::pins::Strength;
use crate::scenario::Scenario;
use crate::simulate::RunError;

/// Everything about one element, or about the sync.
#[derive(Clone, Debug, PartialEq)]
pub struct Why {
    /// The element, or [`SYNC`](crate::analysis::cause::SYNC).
    pub element: String,
    /// Whether it is the sync: all that is said of lit is then said of the pulse.
    pub is_sync: bool,
    /// Its standing level against black at the socket, V.
    pub delta_v: f64,
    /// The word for it; [`Why::word`] has that of a sync.
    pub seen: Seen,
    /// From the pin to the socket along the way that carries most; empty if nothing joins them.
    pub steps: Vec<Step>,
    /// How many other ways lead there.
    pub other_ways: usize,
    /// The cause, if the element is not clear or too slow.
    pub cause: Option<Cause>,
    /// What else was tried and would bring it back by itself, the likeliest first.
    pub others: Vec<Cause>,
    /// How many specimens of the chip are known.
    pub specimens: usize,
    /// The words with weak, typical and strong specimens of the chip, if they are not all the same.
    pub band: Vec<(Strength, Seen)>,
    /// The pin strengths at which it is clear, as multiples of those in hand.
    pub strengths: Vec<Strengths>,
    /// The pulse in time at the nodes of `steps` from the pin's own on; empty if the element is
    /// nowhere alone in the field.
    pub pulses: Vec<Pulse>,
}

impl Why {
    /// A word for an element as it is said of this one: clear, or good.
    #[must_use]
    pub fn word(&self, seen: Seen) -> &'static str {
        if self.is_sync { SyncState::like(seen).word() } else { seen.word() }
    }
}

/// The pulse at one node, in time.
#[derive(Clone, Debug, PartialEq)]
pub struct Pulse {
    /// The node.
    pub node: String,
    /// Samples, V.
    pub volts: Vec<f32>,
    /// Time of the first sample after the chip lights the element, s; below 0.
    pub start_s: f64,
    /// Time between samples, s.
    pub step_s: f64,
    /// When the chip puts the element out, s after it lights it.
    pub width_s: f64,
    /// The edge at its start.
    pub lead: Option<Edge>,
    /// The edge at its end.
    pub trail: Option<Edge>,
}

/// Other suspects that are told of.
const MOST_OTHERS: usize = 3;

/// Explains elements, or the sync, in the order asked.
///
/// # Errors
///
/// A board that cannot be solved or followed.
pub fn why<S: Into<Subject> + Copy>(
    scenario: &Scenario,
    subjects: &[S],
) -> Result<Vec<Why>, RunError> {
    let subjects: Vec<Subject> = subjects.iter().map(|&subject| subject.into()).collect();
    let bands = band::bands(scenario)?;
    let strengths = band::clear_strengths(scenario)?;
    let levels = Levels::new(scenario, &scenario.circuit)?;
    let explain = |&subject: &Subject| -> Result<Why, NetworkError> {
        let delta_v = levels.against_black(subject.state(), scenario.output.node)?;
        let scene = Scene::new(scenario, &levels, subject)?;
        let steps = match scene.ways.first() {
            Some(way) => ledger(&scene, way)?,
            None => Vec::new(),
        };
        let seen = subject.seen(&scenario.verdict, delta_v);
        let (cause, others) = match seen {
            Seen::Clear => (None, Vec::new()),
            _ => causes(scenario, subject)?,
        };
        Ok(Why {
            element: subject.name(scenario).to_owned(),
            is_sync: subject == Subject::Sync,
            delta_v,
            seen,
            steps,
            other_ways: scene.ways.len().saturating_sub(1),
            cause,
            others,
            specimens: bands.len(),
            band: band::differing(&bands, subject),
            strengths: strengths[match subject {
                Subject::Element(element) => usize::from(element.0),
                Subject::Sync => scenario.raster.elements.len(),
            }]
            .clone(),
            pulses: Vec::new(),
        })
    };
    let all: Result<Vec<Why>, NetworkError> =
        parallel::map(&subjects, explain).into_iter().collect();
    let mut all = all?;
    let scenes = subjects.iter().map(|&subject| Scene::new(scenario, &levels, subject));
    let scenes = scenes.collect::<Result<Vec<Scene<'_>>, _>>()?;
    let walk = Walk::new(scenario, &scenes)?;
    for ((why, scene), &subject) in all.iter_mut().zip(&scenes).zip(&subjects) {
        why.pulses = walk.pulses(scene)?;
        let is_slow = why.pulses.last().is_some_and(|pulse| {
            [&pulse.lead, &pulse.trail]
                .into_iter()
                .flatten()
                .any(|edge| edge.time_s > pulse.width_s)
        });
        if why.cause.is_none() && is_slow {
            why.cause = lag::cause(scenario, subject)?;
        }
    }
    Ok(all)
}

/// The cause, and the other suspects that would do by themselves.
fn causes(
    scenario: &Scenario,
    subject: Subject,
) -> Result<(Option<Cause>, Vec<Cause>), NetworkError> {
    let first = cause::cause(scenario, subject)?;
    let mut others = cause::cures(scenario, subject)?;
    let known = first.as_ref().map(|cause| (cause.part.clone(), cause.node.clone()));
    others.retain(|other| Some((other.part.clone(), other.node.clone())) != known);
    others.truncate(MOST_OTHERS);
    Ok((first, others))
}
