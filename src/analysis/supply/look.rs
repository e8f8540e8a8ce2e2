//! What a board comes to at rest: its source, its rails, its clock, its levels and words.

use crate::analysis::ladder::ElementLevel;
use crate::analysis::ladder::Levels;
use crate::analysis::ladder::SyncLevels;
use crate::analysis::ladder::element_levels;
use crate::analysis::modulation::lit_shares;
use crate::base::math;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::error::NetworkError;
use crate::network::operating_point::OperatingPoint;
use crate::network::regulator::Regulator;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;

/// A regulator has dropped out where its output has fallen so far below its own volts, V; from
/// memory, as data sheets state dropout.
pub const DROPPED_VOLTS: f64 = 0.1;

/// A board at rest.
#[derive(Clone, Debug, PartialEq)]
pub struct Look {
    /// At the source's terminals with nothing lit, V.
    pub source_v: f64,
    /// What the source delivers, mean over a field, A; below 0 it is fed.
    pub source_a: f64,
    /// Every rail with nothing lit, V.
    pub rails_v: Vec<f64>,
    /// What the chip is fed with, V.
    pub chip_v: Option<f64>,
    /// Input less output, and how far the output lies below the regulator's own volts, V, of every
    /// regulator.
    pub regulators: Vec<Headroom>,
    /// The chip's clock, Hz.
    pub clock_hz: f64,
    /// Black, tip, depth and its word.
    pub sync: SyncLevels,
    /// Every element alone.
    pub elements: Vec<ElementLevel>,
}

/// How a regulator stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Headroom {
    /// Input less output, V.
    pub across_v: f64,
    /// Its own volts less its output, V.
    pub short_v: f64,
}

impl Headroom {
    /// Whether it has dropped out.
    #[must_use]
    pub fn has_dropped(self) -> bool {
        self.short_v > DROPPED_VOLTS
    }
}

impl Look {
    /// Solves a board at rest.
    pub(crate) fn at(
        board: &Scenario,
        source: PartId,
        rails: &[NodeId],
    ) -> Result<Self, NetworkError> {
        let levels = Levels::new(board, &board.circuit)?;
        let black = levels.black();
        let tip = levels.solve(ElementSet::EMPTY, LinePart::Sync)?;
        let node = board.output.node;
        let elements = board.raster.elements.iter().zip(0..);
        let deltas = elements.map(|(_, index)| levels.delta(ElementId(index), node));
        let deltas = deltas.collect::<Result<Vec<f64>, _>>()?;
        let fed = board.circuit.parts[source.0].kind.fed().unwrap_or(NodeId::GROUND);
        Ok(Self {
            source_v: black.volts(fed),
            source_a: delivered(board, &levels, (source, fed), &tip)?,
            rails_v: rails.iter().map(|&rail| black.volts(rail)).collect(),
            chip_v: chip_node(board).map(|node| black.volts(node)),
            regulators: headroom(board, black),
            clock_hz: board.raster.timing.clock.hertz(),
            sync: SyncLevels::new(board, black.volts(node), tip.volts(node)),
            elements: element_levels(board, &deltas),
        })
    }
}

/// The mean over a field of what a source delivers: nothing lit, sync, and all that is lit for as long
/// as it is.
fn delivered(
    board: &Scenario,
    levels: &Levels<'_>,
    (source, fed): (PartId, NodeId),
    tip: &OperatingPoint,
) -> Result<f64, NetworkError> {
    let amps = |state: (ElementSet, LinePart), point: &OperatingPoint| {
        -levels.currents(&board.circuit, state, point).into_part(source, fed)
    };
    let black_a = amps((ElementSet::EMPTY, LinePart::Active), levels.black());
    let timing = &board.raster.timing;
    let sync_share = f64::from(timing.line_sync) / f64::from(timing.clocks_per_line);
    let mut mean_a = black_a;
    mean_a += sync_share * (amps((ElementSet::EMPTY, LinePart::Sync), tip) - black_a);
    // A chip whose plan contradicts itself lights nothing, and is refused where it is run.
    for (lit, share) in lit_shares(board).unwrap_or_default() {
        let point = levels.solve(lit, LinePart::Active)?;
        mean_a += share * (amps((lit, LinePart::Active), &point) - black_a);
    }
    Ok(mean_a)
}

fn headroom(board: &Scenario, black: &OperatingPoint) -> Vec<Headroom> {
    let parts = board.circuit.parts.iter();
    let regulators = parts.filter_map(|part| match &part.kind {
        PartKind::Regulator(regulator) => Some(regulator),
        _ => None,
    });
    let stands = |regulator: &Regulator| {
        let output_v = black.volts(regulator.output) - black.volts(regulator.common);
        Headroom {
            across_v: black.volts(regulator.input) - black.volts(regulator.output),
            short_v: regulator.volts - output_v,
        }
    };
    regulators.map(|regulator| stands(regulator)).collect()
}

/// Regulators, in the order of the parts.
pub(crate) fn regulators(scenario: &Scenario) -> Vec<PartId> {
    let parts = scenario.circuit.parts.iter().enumerate();
    let regulators = parts.filter(|(_, part)| matches!(part.kind, PartKind::Regulator(_)));
    regulators.map(|(index, _)| PartId(index)).collect()
}

/// What feeds the chip.
pub(crate) fn chip_node(scenario: &Scenario) -> Option<NodeId> {
    let pins = scenario.circuit.pins().map(|(_, pin)| pin.supply);
    let drawn = scenario.circuit.parts.iter().filter_map(|part| match part.kind {
        PartKind::Consumption { node, .. } => Some(node),
        _ => None,
    });
    pins.chain(drawn).find(|&node| node != NodeId::GROUND)
}

/// Nodes that feed something, in the order of the nodes.
pub(crate) fn rails(scenario: &Scenario) -> Vec<NodeId> {
    let mut rails: Vec<NodeId> = Vec::new();
    for part in &scenario.circuit.parts {
        rails.extend(part.kind.fed());
        match &part.kind {
            PartKind::Gate(gate) => rails.push(gate.supply),
            PartKind::AnalogueSwitch(switch) => rails.push(switch.supply),
            PartKind::VideoDriver(driver) => rails.push(driver.supply),
            PartKind::Regulator(regulator) => rails.push(regulator.input),
            PartKind::Pin(pin) => rails.push(pin.supply),
            PartKind::Consumption { node, .. } => rails.push(*node),
            PartKind::Sounder(sounder) => rails.push(sounder.node),
            _ => {}
        }
    }
    rails.retain(|&node| node != NodeId::GROUND);
    rails.sort_unstable();
    rails.dedup();
    rails
}

/// Finds where `holds` first turns true between two places of which it is false at the first and true
/// at the second, in so many halvings.
pub(crate) fn turning_point(
    mut from: f64,
    mut to: f64,
    halvings: u32,
    holds: impl Fn(f64) -> bool,
) -> f64 {
    for _ in 0..halvings {
        let middle = math::lerp(from, to, 0.5);
        if holds(middle) {
            to = middle;
        } else {
            from = middle;
        }
    }
    to
}
