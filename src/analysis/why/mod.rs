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
use crate::analysis::cause::lag;
use crate::analysis::cause::scene::Scene;
use crate::analysis::ladder::Levels;
use crate::analysis::verdict::Seen;
use crate::analysis::why::edges::Edge;
use crate::analysis::why::ledger::Step;
use crate::analysis::why::ledger::ledger;
use crate::analysis::why::walk::Walk;
use crate::base::parallel;
use crate::network::error::NetworkError;
use crate::profile::pins::Strength;
use crate::scenario::Scenario;
use crate::signal::element::ElementId;
use crate::simulate::RunError;

/// Everything about one element.
#[derive(Clone, Debug, PartialEq)]
pub struct Why {
    /// The element.
    pub element: String,
    /// Its standing level against black at the socket, V.
    pub delta_v: f64,
    /// The word for it.
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

/// Explains elements, in the order asked.
///
/// # Errors
///
/// A board that cannot be solved or followed.
pub fn why(scenario: &Scenario, elements: &[ElementId]) -> Result<Vec<Why>, RunError> {
    let bands = band::bands(scenario)?;
    let strengths = band::clear_strengths(scenario)?;
    let levels = Levels::new(scenario, &scenario.circuit)?;
    let explain = |&element: &ElementId| -> Result<Why, NetworkError> {
        let delta_v = levels.delta(element, scenario.output.node)?;
        let scene = Scene::new(scenario, &levels, element)?;
        let steps = match scene.ways.first() {
            Some(way) => ledger(&scene, way)?,
            None => Vec::new(),
        };
        let seen = scenario.verdict.seen(delta_v);
        let (cause, others) = match seen {
            Seen::Clear => (None, Vec::new()),
            _ => causes(scenario, element)?,
        };
        Ok(Why {
            element: scenario.raster.elements[usize::from(element.0)].clone(),
            delta_v,
            seen,
            steps,
            other_ways: scene.ways.len().saturating_sub(1),
            cause,
            others,
            specimens: bands.len(),
            band: band::differing(&bands, element),
            strengths: strengths[usize::from(element.0)].clone(),
            pulses: Vec::new(),
        })
    };
    let all: Result<Vec<Why>, NetworkError> =
        parallel::map(elements, explain).into_iter().collect();
    let mut all = all?;
    let scenes = elements.iter().map(|&element| Scene::new(scenario, &levels, element));
    let scenes = scenes.collect::<Result<Vec<Scene<'_>>, _>>()?;
    let walk = Walk::new(scenario, &scenes)?;
    for ((why, scene), &element) in all.iter_mut().zip(&scenes).zip(elements) {
        why.pulses = walk.pulses(scene)?;
        let is_slow = why.pulses.last().is_some_and(|pulse| {
            [&pulse.lead, &pulse.trail]
                .into_iter()
                .flatten()
                .any(|edge| edge.time_s > pulse.width_s)
        });
        if why.cause.is_none() && is_slow {
            why.cause = lag::cause(scenario, element)?;
        }
    }
    Ok(all)
}

/// The cause, and the other suspects that would do by themselves.
fn causes(
    scenario: &Scenario,
    element: ElementId,
) -> Result<(Option<Cause>, Vec<Cause>), NetworkError> {
    let first = cause::cause(scenario, element)?;
    let mut others = cause::cures(scenario, element)?;
    let known = first.as_ref().map(|cause| (cause.part.clone(), cause.node.clone()));
    others.retain(|other| Some((other.part.clone(), other.node.clone())) != known);
    others.truncate(MOST_OTHERS);
    Ok((first, others))
}
