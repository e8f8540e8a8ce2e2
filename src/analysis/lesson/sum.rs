//! What the mixer makes of the pins: each pin's swing, and what is left of it at the socket.

use crate::analysis::ladder::ElementLevel;
use crate::analysis::ladder::Levels;
use crate::analysis::ladder::OPEN_OHMS;
use crate::analysis::ladder::SyncLevels;
use crate::analysis::ladder::single_levels;
use crate::analysis::ladder::with_load;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartKind;
use crate::network::error::NetworkError;
use crate::raster::plan::Carries;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;

/// What a pin's pulse stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Carried {
    /// The sync pulse.
    Sync,
    /// An element.
    Element(ElementId),
}

/// A pulse at its pin and at the socket, at rest.
#[derive(Clone, Debug, PartialEq)]
pub struct PinPulse {
    /// What it is.
    pub carried: Carried,
    /// The pins that carry it.
    pub pins: Vec<String>,
    /// How far the first of them moves, V: in the pulse against picture, or lit against unlit.
    pub pin_v: f64,
    /// How far the socket moves, V.
    pub socket_v: f64,
}

/// All pulses.
#[derive(Clone, Debug, PartialEq)]
pub struct Sum {
    /// Sync first, then the elements, as far as a pin carries them.
    pub pulses: Vec<PinPulse>,
    /// The elements' moves of the socket added up, V.
    pub added_v: f64,
    /// The socket's move with all of them lit at once, V.
    pub together_v: f64,
}

/// The levels under one load.
#[derive(Clone, Debug, PartialEq)]
pub struct Loaded {
    /// What hangs on the socket, Ω.
    pub ohms: f64,
    /// Tip and black.
    pub sync: SyncLevels,
    /// Each element alone, by index.
    pub elements: Vec<ElementLevel>,
}

impl Loaded {
    /// How far the highest element stands above black, V; 0 if none does.
    #[must_use]
    pub fn white_v(&self) -> f64 {
        self.elements.iter().map(|element| element.delta_v).fold(0.0, f64::max)
    }
}

/// Solves the pulses of `elements` at rest.
pub(super) fn sum(scenario: &Scenario, elements: ElementSet) -> Result<Sum, NetworkError> {
    let levels = Levels::new(scenario, &scenario.circuit)?;
    let socket = scenario.output.node;
    let mut pulses = Vec::new();
    let kinds = elements.iter().map(Carried::Element);
    for carried in std::iter::once(Carried::Sync).chain(kinds) {
        let (pins, node) = pins_of(scenario, carried);
        let Some(node) = node else { continue };
        let (lit, part) = match carried {
            Carried::Sync => (ElementSet::EMPTY, LinePart::Sync),
            Carried::Element(element) => (ElementSet::only(element), LinePart::Active),
        };
        let point = levels.solve(lit, part)?;
        let moved = |node: NodeId| point.volts(node) - levels.black().volts(node);
        pulses.push(PinPulse { carried, pins, pin_v: moved(node), socket_v: moved(socket) });
    }
    let all = levels.solve(elements, LinePart::Active)?;
    let of_elements = pulses.iter().filter(|pulse| pulse.carried != Carried::Sync);
    let added_v = of_elements.map(|pulse| pulse.socket_v).sum();
    let together_v = all.volts(socket) - levels.black().volts(socket);
    Ok(Sum { pulses, added_v, together_v })
}

/// Names of the pins that carry something, and the node of the first.
fn pins_of(scenario: &Scenario, carried: Carried) -> (Vec<String>, Option<NodeId>) {
    let carries = |carries: &Carries| match (carries, carried) {
        (Carries::Sync, Carried::Sync) | (Carries::Combined(_), Carried::Sync) => true,
        (Carries::Elements(set), Carried::Element(element)) => set.contains(element),
        (Carries::Combined(levels), Carried::Element(element)) => {
            levels.lit.iter().any(|(lit, _)| *lit == element)
        }
        _ => false,
    };
    let pins = scenario.raster.pins.iter().zip(scenario.circuit.pins());
    let found: Vec<(String, NodeId)> = pins
        .filter(|(plan, _)| carries(&plan.carries))
        .map(|(plan, (_, pin))| (plan.name.clone(), pin.node))
        .collect();
    let node = found.first().map(|(_, node)| *node);
    (found.into_iter().map(|(name, _)| name).collect(), node)
}

/// The load that the scenario says, Ω.
pub(super) fn own_load(scenario: &Scenario) -> f64 {
    match scenario.circuit.parts[scenario.output.load.0].kind {
        PartKind::Resistor { ohms, .. } => ohms,
        _ => OPEN_OHMS,
    }
}

/// The scenario's own load, two of it, and nothing plugged in.
pub(super) fn loads(scenario: &Scenario) -> Result<[Loaded; 3], NetworkError> {
    let own = own_load(scenario);
    let under = |ohms: f64| -> Result<Loaded, NetworkError> {
        let (sync, elements) = single_levels(scenario, &with_load(scenario, ohms))?;
        Ok(Loaded { ohms, sync, elements })
    };
    Ok([under(own)?, under(0.5 * own)?, under(OPEN_OHMS)?])
}
