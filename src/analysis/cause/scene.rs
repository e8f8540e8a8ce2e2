//! The solved board with the pulse's ways through it, and everything on and beside them.

use crate::analysis::cause::remedy;
use crate::analysis::cause::route;
use crate::analysis::cause::route::Hop;
use crate::analysis::cause::subject::Subject;
use crate::analysis::ladder::Levels;
use crate::network::circuit::Circuit;
use crate::network::circuit::Gate;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::circuit::Pin;
use crate::network::circuit::PinStage;
use crate::network::error::NetworkError;
use crate::network::stage;
use crate::raster::plan::LinePart;
use crate::scenario::Scenario;
use crate::scenario::change::OPEN_OHMS;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;

/// A way of the pulse, and the pin from which it starts.
pub(in crate::analysis) struct Way {
    pub(in crate::analysis) pin: PartId,
    pub(in crate::analysis) hops: Vec<Hop>,
}

/// The solved board and the pulse's ways through it.
pub(in crate::analysis) struct Scene<'a> {
    pub(in crate::analysis) scenario: &'a Scenario,
    pub(in crate::analysis) subject: Subject,
    pub(in crate::analysis) levels: &'a Levels<'a>,
    /// The pins that carry it, and their nodes.
    pub(in crate::analysis) starts: Vec<(PartId, NodeId)>,
    /// The best way first.
    pub(in crate::analysis) ways: Vec<Way>,
    /// Node voltages with nothing lit.
    pub(in crate::analysis) black_v: Vec<f64>,
    /// Node voltages with the element lit, or in the sync pulse.
    pub(in crate::analysis) lit_v: Vec<f64>,
    /// The least and the most of each node over black and every element alone, V.
    range_v: Vec<[f64; 2]>,
    held: Vec<bool>,
}

/// What the chip is told for black.
const BLACK: (ElementSet, LinePart) = (ElementSet::EMPTY, LinePart::Active);
/// With less than this from base to emitter a transistor is cut off, V; common practice, no source.
pub(in crate::analysis) const CUT_OFF_V: f64 = 0.5;
/// No gate works on less, V: the lowest supply of the families here is 2 V.
pub(in crate::analysis) const DEAD_RAIL_V: f64 = 1.9;
/// A pulse below this has been lost altogether, V.
pub(in crate::analysis) const LOST_V: f64 = 0.1;

impl<'a> Scene<'a> {
    /// Follows a pulse over the board.
    pub(in crate::analysis) fn new(
        scenario: &'a Scenario,
        levels: &'a Levels<'a>,
        subject: Subject,
    ) -> Result<Self, NetworkError> {
        let circuit = &scenario.circuit;
        let nodes = circuit.nodes.len();
        let black_v: Vec<f64> = (0..nodes).map(|node| levels.black().volts(NodeId(node))).collect();
        let mut range_v: Vec<[f64; 2]> = black_v.iter().map(|&volts| [volts; 2]).collect();
        let elements = scenario.raster.elements.iter().zip(0..);
        let mut all: Vec<Subject> = elements.map(|(_, at)| ElementId(at).into()).collect();
        // What stands in the picture may well move in the pulse: that counts for the sync alone.
        all.extend((subject == Subject::Sync).then_some(subject));
        let mut lit_v = black_v.clone();
        for one in all {
            let (on, part) = one.state();
            let solved = levels.solve(on, part)?;
            for node in 0..nodes {
                let volts = solved.volts(NodeId(node));
                range_v[node] = [range_v[node][0].min(volts), range_v[node][1].max(volts)];
                if one == subject {
                    lit_v[node] = volts;
                }
            }
        }
        let pulse_v: Vec<f64> =
            lit_v.iter().zip(&black_v).map(|(lit, black)| lit - black).collect();
        let starts = carrying(scenario, subject);
        let nodes: Vec<NodeId> = starts.iter().map(|&(_, node)| node).collect();
        let ways = route::ways(circuit, &pulse_v, &nodes, scenario.output.node);
        let ways = ways.into_iter().filter_map(|hops| {
            let first = hops.first().map_or(scenario.output.node, |hop| hop.from);
            let pin = starts.iter().find(|&&(_, node)| node == first)?.0;
            Some(Way { pin, hops })
        });
        let (ways, held) = (ways.collect(), route::held(circuit));
        Ok(Self { scenario, subject, levels, starts, ways, black_v, lit_v, range_v, held })
    }

    pub(in crate::analysis) fn circuit(&self) -> &Circuit {
        &self.scenario.circuit
    }

    pub(in crate::analysis) fn part(&self, part: PartId) -> &Part {
        &self.circuit().parts[part.0]
    }

    pub(in crate::analysis) fn pulse_v(&self, node: NodeId) -> f64 {
        self.lit_v[node.0] - self.black_v[node.0]
    }

    /// Where a pulse that does not reach the socket ends: the furthest node it can get to, and the
    /// part that brings it there.
    pub(in crate::analysis) fn dead_end(&self) -> Option<(PartId, NodeId)> {
        let &start = self.starts.first()?;
        let ends = route::ends(self.circuit(), start, self.scenario.output.node);
        // Where a part has been opened the way went on; what else is far away is a side branch.
        let broken = ends.iter().rev().find(|&&(_, node)| self.open_part(node).is_some());
        Some(broken.or(ends.last()).copied().unwrap_or(start))
    }

    /// The part with an end at `node` that has been opened: what is left of it draws nothing.
    pub(in crate::analysis) fn open_part(&self, node: NodeId) -> Option<&Part> {
        let parts = &self.circuit().parts;
        let leaks = format!(" leak at {}", self.circuit().node_name(node));
        parts.iter().find(|part| {
            matches!(part.kind, PartKind::Draw { amps, .. } if amps <= 0.0)
                && parts.iter().any(|leak| leak.name == format!("{}{leaks}", part.name))
        })
    }

    /// Whether a node's supply has been opened: it stands still, near ground.
    pub(in crate::analysis) fn is_dead_rail(&self, node: NodeId) -> bool {
        self.open_feed(node).is_some()
            && self.range_v[node.0][1] < DEAD_RAIL_V
            && self.swing_v(node) < LOST_V
    }

    /// How far a node moves over all elements, V.
    fn swing_v(&self, node: NodeId) -> f64 {
        let [least, most] = self.range_v[node.0];
        most - least
    }

    /// What is left of an opened supply at a node.
    pub(in crate::analysis) fn open_feed(&self, node: NodeId) -> Option<&Part> {
        self.circuit().parts.iter().find(|part| match part.kind {
            PartKind::Resistor { ends, ohms } => {
                ends == [node, NodeId::GROUND] && ohms >= OPEN_OHMS
            }
            _ => false,
        })
    }

    /// The pin's volts with nothing on it, unlit and lit.
    pub(in crate::analysis) fn open_swing(&self, part: PartId) -> [f64; 2] {
        let PartKind::Pin(pin) = &self.part(part).kind else { return [0.0; 2] };
        let supply = self.black_v[pin.supply.0];
        let position = self.circuit().pins().position(|(id, _)| id == part).unwrap_or(0);
        [BLACK, self.subject.state()].map(|(lit, part)| {
            let level = self.scenario.pin_levels(lit, part)[position];
            open_volts(pin, &pin.levels[usize::from(level.0)], supply)
        })
    }

    /// The level of a pin with the element lit, or in the sync pulse, as an index.
    pub(in crate::analysis) fn level(&self, part: PartId) -> usize {
        self.level_with(part, self.subject.state())
    }

    /// The level of a pin that decides how large the pulse is, as an index: a sync pulse is as deep
    /// as black stands high.
    pub(in crate::analysis) fn carrying_level(&self, part: PartId) -> usize {
        match self.subject {
            Subject::Element(_) => self.level(part),
            Subject::Sync => self.level(part).max(self.idle_level(part)),
        }
    }

    /// The level of a pin with nothing lit, as an index.
    pub(in crate::analysis) fn idle_level(&self, part: PartId) -> usize {
        self.level_with(part, BLACK)
    }

    fn level_with(&self, part: PartId, (lit, of_line): (ElementSet, LinePart)) -> usize {
        let levels = self.scenario.pin_levels(lit, of_line);
        let position = self.circuit().pins().position(|(id, _)| id == part);
        position.map_or(0, |position| usize::from(levels[position].0))
    }

    /// Whether the sync pulse comes out above black.
    pub(in crate::analysis) fn is_upside_down(&self) -> bool {
        const LEAST_V: f64 = 1e-3;
        self.subject == Subject::Sync && self.pulse_v(self.scenario.output.node) > LEAST_V
    }

    /// The node of a pin that carries the element and leads nowhere.
    pub(in crate::analysis) fn unused_pin(&self) -> Option<NodeId> {
        let used = |part: PartId| self.ways.iter().any(|way| way.pin == part);
        self.starts.iter().find(|&&(part, _)| !used(part)).map(|&(_, node)| node)
    }

    /// Whether a transistor's collector junction conducts better than its emitter junction.
    pub(in crate::analysis) fn works_backwards(&self, kind: &PartKind) -> bool {
        let PartKind::Transistor { collector, base, emitter, model } = kind else { return false };
        let sign = model.polarity.sign();
        let forward = |node: &NodeId| sign * (self.lit_v[base.0] - self.lit_v[node.0]);
        forward(collector) > forward(emitter)
    }

    /// What the output that drives the way before a hop swings between, V.
    pub(in crate::analysis) fn driving_swing(&self, way: &Way, index: usize) -> [f64; 2] {
        let gates =
            way.hops[..index].iter().rev().find_map(|hop| match &self.part(hop.part).kind {
                PartKind::Gate(gate) => Some(gate),
                _ => None,
            });
        gates.map_or_else(|| self.open_swing(way.pin), |gate| [0.0, self.black_v[gate.supply.0]])
    }

    /// Whether no element takes the node across a level.
    pub(in crate::analysis) fn stands(&self, node: NodeId, level: f64) -> bool {
        let [least, most] = self.range_v[node.0];
        least >= level || most < level
    }

    /// Whether a transistor on a way, of which `node` is the base, is cut off with nothing lit.
    pub(in crate::analysis) fn is_cut_off(&self, node: NodeId) -> bool {
        self.ways.iter().flat_map(|way| &way.hops).any(|hop| match &self.part(hop.part).kind {
            PartKind::Transistor { base, emitter, model, .. } if *base == node => {
                let forward_v = self.black_v[base.0] - self.black_v[emitter.0];
                model.polarity.sign() * forward_v < CUT_OFF_V
            }
            _ => false,
        })
    }

    /// A node that a supply lifts: the first.
    pub(in crate::analysis) fn rail(&self) -> NodeId {
        let supplies = self.circuit().parts.iter().filter_map(|part| part.kind.fed());
        let followers = self.circuit().parts.iter().filter_map(|part| match part.kind {
            PartKind::Transistor { collector, .. } if self.black_v[collector.0] > 2.0 => {
                self.held[collector.0].then_some(collector)
            }
            _ => None,
        });
        followers.chain(supplies).next().unwrap_or(NodeId::GROUND)
    }

    pub(in crate::analysis) fn driven_by_gate(&self, node: NodeId) -> Option<PartId> {
        let mut parts = self.circuit().parts.iter();
        let position = parts.position(|part| match &part.kind {
            PartKind::Gate(gate) => gate.output == node,
            _ => false,
        });
        position.map(PartId)
    }

    /// Whether a node stands still, above ground: a supply, or an output that is high in the picture.
    pub(in crate::analysis) fn lifts(&self, node: NodeId) -> bool {
        self.held[node.0] && node != NodeId::GROUND
            || self.is_output(node)
                && self.swing_v(node) < LOST_V
                && self.range_v[node.0][0] > LOST_V
    }

    /// The gate on a way that listens at a node.
    pub(in crate::analysis) fn listener(&self, node: NodeId) -> Option<(&Part, &Gate)> {
        let hops = self.ways.iter().flat_map(|way| &way.hops);
        hops.filter(|hop| hop.from == node).find_map(|hop| match &self.part(hop.part).kind {
            PartKind::Gate(gate) => Some((self.part(hop.part), gate.as_ref())),
            _ => None,
        })
    }

    /// Whether a chip pin or a gate drives the node.
    pub(in crate::analysis) fn is_output(&self, node: NodeId) -> bool {
        self.output_at(node).is_some()
    }

    /// The chip pin or the gate that drives the node.
    pub(in crate::analysis) fn output_at(&self, node: NodeId) -> Option<&Part> {
        self.circuit().parts.iter().find(|part| part.kind.driven() == Some(node))
    }
}

/// Volts of a pin's stage with nothing on it.
pub(in crate::analysis) fn open_volts(pin: &Pin, stage: &PinStage, supply: f64) -> f64 {
    match stage {
        PinStage::Linear { offset, share, .. } => stage::open_volts(*offset, *share, supply),
        PinStage::PullUp { threshold, .. } => supply - threshold,
        PinStage::PullDown { .. } => 0.0,
        PinStage::Off { .. } if pin.levels.iter().any(remedy::pulls_down) => supply,
        PinStage::Off { .. } => 0.0,
    }
}

/// The pins whose level changes with the element, or with the sync, and their nodes.
fn carrying(scenario: &Scenario, subject: Subject) -> Vec<(PartId, NodeId)> {
    let [idle, lit] = [BLACK, subject.state()].map(|(lit, part)| scenario.pin_levels(lit, part));
    let pins = scenario.circuit.pins().zip(idle.iter().zip(&lit));
    pins.filter(|(_, (idle, lit))| idle != lit).map(|((part, pin), _)| (part, pin.node)).collect()
}
