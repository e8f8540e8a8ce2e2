//! Where an element's pulse is lost, and which part does it.
//!
//! The way of the pulse is read from the solved board: its size at every node, from the pin to the
//! socket. Everything on that way and everything that hangs on it is a suspect. Each suspect is
//! then tried: the board is solved again with that one thing put right, and what brings the
//! element back is the cause. Nothing is looked up; an unknown board is treated as any other.

pub mod lag;
mod route;
mod suspect;
mod words;

use crate::analysis::cause::route::Hop;
use crate::analysis::cause::suspect::Scene;
use crate::analysis::ladder::Levels;
use crate::analysis::verdict::Seen;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::network::error::NetworkError;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;

pub use crate::analysis::cause::suspect::Suspect;
pub use crate::analysis::cause::suspect::SuspectKind;

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

/// Why `element` is faint or missing at the socket; `None` if it is clear there at its standing
/// level.
///
/// # Errors
///
/// A board that cannot be solved.
pub fn cause(scenario: &Scenario, element: ElementId) -> Result<Option<Cause>, NetworkError> {
    let levels = Levels::new(scenario, &scenario.circuit)?;
    let delta_v = levels.delta(element, scenario.output.node)?;
    if scenario.verdict.seen(delta_v) == Seen::Clear {
        return Ok(None);
    }
    let Some(scene) = scene(scenario, &levels, element)? else {
        return Ok(Some(words::no_way(scenario, element)));
    };
    let mut tried = Vec::new();
    for suspect in scene.suspects() {
        let effort = suspect::effort(scenario, element, &suspect)?;
        tried.push((suspect, effort));
    }
    // What cures comes first, then the plainer kind of fault, then the smaller change.
    let rank = |(suspect, effort): &(Suspect, Option<f64>)| {
        (effort.is_none(), suspect.kind.rank(), effort.unwrap_or(0.0), -suspect.loss())
    };
    tried.sort_by(|a, b| {
        let ((a0, a1, a2, a3), (b0, b1, b2, b3)) = (rank(a), rank(b));
        let lost = if a0 && b0 { a3.total_cmp(&b3) } else { std::cmp::Ordering::Equal };
        a0.cmp(&b0).then(lost).then(a1.cmp(&b1)).then(a2.total_cmp(&b2)).then(a3.total_cmp(&b3))
    });
    Ok(tried.into_iter().next().map(|(suspect, effort)| {
        words::finding(scenario, &scene, element, delta_v, suspect, effort.is_some())
    }))
}

/// Every suspect for an element, and whether putting it right makes the element clear, in the order
/// of the way.
///
/// # Errors
///
/// A board that cannot be solved.
pub fn suspects(
    scenario: &Scenario,
    element: ElementId,
) -> Result<Vec<(Suspect, bool)>, NetworkError> {
    let levels = Levels::new(scenario, &scenario.circuit)?;
    let Some(scene) = scene(scenario, &levels, element)? else {
        return Ok(Vec::new());
    };
    let mut all = Vec::new();
    for suspect in scene.suspects() {
        let cures = suspect::effort(scenario, element, &suspect)?.is_some();
        all.push((suspect, cures));
    }
    Ok(all)
}

/// The board with one suspect put right.
#[must_use]
pub fn put_right(circuit: &Circuit, suspect: &Suspect) -> Circuit {
    suspect::put_right(circuit, suspect, 1e9)
}

/// The pulse's way and its size everywhere; `None` if nothing joins the pins to the socket.
fn scene<'a>(
    scenario: &'a Scenario,
    levels: &Levels,
    element: ElementId,
) -> Result<Option<Scene<'a>>, NetworkError> {
    let lit = levels.solve(ElementSet::only(element), LinePart::Active)?;
    let circuit = &scenario.circuit;
    let black_v: Vec<f64> =
        (0..circuit.nodes.len()).map(|node| levels.black().volts(NodeId(node))).collect();
    let lit_v: Vec<f64> = (0..circuit.nodes.len()).map(|node| lit.volts(NodeId(node))).collect();
    let pulse_v: Vec<f64> = lit_v.iter().zip(&black_v).map(|(lit, black)| lit - black).collect();
    let pins = carrying(scenario, element);
    let starts: Vec<NodeId> = pins.iter().map(|&(_, node)| node).collect();
    let Some(way) = route::best(circuit, &pulse_v, &starts, scenario.output.node) else {
        return Ok(None);
    };
    let first = way.first().map_or(scenario.output.node, |hop: &Hop| hop.from);
    let pin = pins.iter().find(|&&(_, node)| node == first).map_or(PartId(0), |&(part, _)| part);
    Ok(Some(Scene { scenario, element, pin, way, black_v, lit_v }))
}

/// The pins whose level changes with the element, and their nodes.
fn carrying(scenario: &Scenario, element: ElementId) -> Vec<(PartId, NodeId)> {
    let idle = scenario.pin_levels(ElementSet::EMPTY, LinePart::Active);
    let lit = scenario.pin_levels(ElementSet::only(element), LinePart::Active);
    let pins = scenario.circuit.pins().zip(idle.iter().zip(&lit));
    pins.filter(|(_, (idle, lit))| idle != lit).map(|((part, pin), _)| (part, pin.node)).collect()
}
