//! Two boards in one: the first, with every node of the second, and the list of what differs.

use crate::analysis::compare::difference::Difference;
use crate::analysis::compare::difference::Edit;
use crate::analysis::compare::difference::PinAspect;
use crate::analysis::compare::twin::Aspect;
use crate::analysis::compare::twin::Twin;
use crate::analysis::ladder::Levels;
use crate::analysis::why::naming::part_words;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::terminal::terminals;
use crate::network::terminal::terminals_mut;
use crate::scenario::Scenario;
use crate::scenario::change::Change;
use crate::scenario::limits::Limits;
use crate::scenario::modulator::Modulator;

/// What ties every node to ground, so that none floats where only one of two differences is made, Ω.
const TIE_OHMS: f64 = 1e12;
/// Strays follow the nodes: they are no difference of their own unless their size is.
const STRAY: &str = "stray at ";

/// Both boards.
pub(super) struct Union<'a> {
    second: &'a Scenario,
    /// The first board with the nodes that only the second has.
    base: Scenario,
    twins: Vec<Twin>,
    pub(super) differences: Vec<Difference>,
}

impl<'a> Union<'a> {
    /// `None` if the chips have other pins or other elements.
    pub(super) fn new(first: &Scenario, second: &'a Scenario) -> Option<Self> {
        let names = |scenario: &Scenario| -> Vec<String> {
            scenario.raster.pins.iter().map(|pin| pin.name.clone()).collect()
        };
        if first.raster.elements != second.raster.elements || names(first) != names(second) {
            return None;
        }
        let mut union =
            Self { second, base: first.clone(), twins: Vec::new(), differences: Vec::new() };
        union.add_nodes();
        union.compare_parts();
        union.compare_pins();
        union.compare_rest();
        Some(union)
    }

    fn tell(&mut self, words: String, edit: Edit) {
        self.differences.push(Difference { words, edit });
    }

    fn add_nodes(&mut self) {
        let circuit = &mut self.base.circuit;
        for name in &self.second.circuit.nodes {
            if circuit.node(name).is_none() {
                circuit.nodes.push(name.clone());
            }
        }
        for node in (1..circuit.nodes.len()).map(NodeId) {
            let name = format!("tie of {}", circuit.node_name(node));
            let kind = PartKind::Resistor { ends: [node, NodeId::GROUND], ohms: TIE_OHMS };
            circuit.parts.push(Part { name, kind });
        }
    }

    /// A part of the second board by the nodes of the union.
    fn translated(&self, kind: &PartKind) -> PartKind {
        let mut kind = kind.clone();
        for (_, node) in terminals_mut(&mut kind) {
            let name = self.second.circuit.node_name(*node);
            *node = self.base.circuit.node(name).unwrap_or(NodeId::GROUND);
        }
        kind
    }

    fn compare_parts(&mut self) {
        let mut strays = Vec::new();
        let pairs: Vec<(PartId, Part)> = self
            .base
            .circuit
            .parts
            .iter()
            .enumerate()
            .map(|(index, part)| (PartId(index), part.clone()))
            .collect();
        for (id, part) in &pairs {
            let is_plain =
                !matches!(part.kind, PartKind::Pin(_)) && !part.name.starts_with("tie of");
            if !is_plain {
                continue;
            }
            let other = self.second.circuit.part(&part.name);
            match other.map(|other| self.translated(&self.second.circuit.parts[other.0].kind)) {
                None if part.name.starts_with(STRAY) => {}
                None => self.tell(format!("without {}", part_words(part)), Edit::Open(*id)),
                Some(kind) if kind == part.kind => {}
                Some(kind) if part.name.starts_with(STRAY) => strays.push((*id, kind)),
                Some(kind) => self.compare_part(*id, part, kind),
            }
        }
        if !strays.is_empty() {
            self.tell("strays of another size".to_owned(), Edit::Parts(strays));
        }
        for part in &self.second.circuit.parts {
            let is_new = self.base.circuit.part(&part.name).is_none();
            if is_new && !matches!(part.kind, PartKind::Pin(_)) {
                let kind = self.translated(&part.kind);
                let part = Part { name: part.name.clone(), kind };
                if part.name.starts_with(STRAY) {
                    self.base.circuit.parts.push(part);
                } else {
                    let words = format!("with {}", part_words(&part));
                    self.tell(words, Edit::Add(Box::new(part)));
                }
            }
        }
    }

    fn compare_part(&mut self, id: PartId, part: &Part, kind: PartKind) {
        let moved: Vec<(usize, [NodeId; 2])> = moved(&part.kind, &kind);
        if let [(terminal, nodes)] = moved[..]
            && let Some(twin) = self.twin(id, &part.kind, &kind, (terminal, nodes))
        {
            let index = self.twins.len();
            for aspect in Aspect::ALL.into_iter().filter(|aspect| twin.differs(*aspect)) {
                let words = twin.words(&self.base, aspect);
                self.tell(words, Edit::Twin(index, aspect));
            }
            self.twins.push(twin);
            return;
        }
        let mut words = Vec::new();
        let [was, is] = [&part.kind, &kind]
            .map(|kind| part_words(&Part { name: part.name.clone(), kind: kind.clone() }));
        if was != is {
            words.push(format!("{was} becomes {}", is.trim_start_matches(&part.name).trim()));
        }
        let names = terminals(&part.kind);
        for (terminal, [from, to]) in moved {
            let [from, to] = [from, to].map(|node| self.base.circuit.node_name(node).to_owned());
            words.push(format!("{}'s {} at `{to}`, not `{from}`", part.name, names[terminal].0));
        }
        if words.is_empty() {
            words.push(format!("{was} of another make"));
        }
        self.tell(words.join("; "), Edit::Parts(vec![(id, kind)]));
    }

    /// A part that differs in one terminal only, which goes from one pin's node to another's.
    fn twin(
        &self,
        id: PartId,
        was: &PartKind,
        is: &PartKind,
        (terminal, nodes): (usize, [NodeId; 2]),
    ) -> Option<Twin> {
        // A stand-in knows the first board's pins only.
        let mut pins = self.base.circuit.pins();
        let same = pins.all(|(pin, _)| {
            let own = &self.base.circuit.parts[pin.0];
            let other = self.second.circuit.part(&own.name);
            other.is_some_and(|other| {
                self.translated(&self.second.circuit.parts[other.0].kind) == own.kind
            })
        });
        if !same || self.second.raster.pins != self.base.raster.pins {
            return None;
        }
        let mut moved = was.clone();
        *terminals_mut(&mut moved).get_mut(terminal)?.1 = nodes[1];
        if moved != *is {
            return None;
        }
        let supply = self.base.circuit.pins().find(|(_, pin)| pin.node == nodes[0])?.1.supply;
        let levels = Levels::new(&self.base, &self.base.circuit).ok()?;
        Twin::new(&self.base, id, terminal, nodes, levels.black().volts(supply))
    }

    fn compare_pins(&mut self) {
        let own: Vec<(PartId, PartKind, String)> = self
            .base
            .circuit
            .pins()
            .map(|(id, pin)| {
                let name = self.base.circuit.parts[id.0].name.clone();
                (id, PartKind::Pin(Box::new(pin.clone())), name)
            })
            .collect();
        for (index, (id, kind, name)) in own.into_iter().enumerate() {
            let other = self.second.circuit.part(&name);
            let other =
                other.map(|other| self.translated(&self.second.circuit.parts[other.0].kind));
            let (PartKind::Pin(pin), Some(PartKind::Pin(other))) = (kind, other) else { continue };
            for aspect in PinAspect::ALL {
                if aspect.applied(&pin, &other) != *pin {
                    let words = format!("pin {}: {}", name.to_uppercase(), aspect.words());
                    self.tell(words, Edit::Pin(id, aspect, other.clone()));
                }
            }
            let plan = &self.second.raster.pins[index];
            if *plan != self.base.raster.pins[index] {
                let words = format!("pin {}: what it carries, or its sense", name.to_uppercase());
                self.tell(words, Edit::Plan(index, Box::new(plan.clone())));
            }
        }
    }

    fn compare_rest(&mut self) {
        let (first, second) = (&self.base, self.second);
        let socket = second.circuit.node_name(second.output.node);
        let socket_differs = first.circuit.node_name(first.output.node) != socket;
        let node = first.circuit.node(socket).filter(|_| socket_differs);
        let mut rest = Vec::new();
        rest.extend(node.map(|node| (format!("the socket at `{socket}`"), Edit::Socket(node))));
        let path =
            |scenario: &Scenario| scenario.modulator.as_ref().map(|found| found.path.clone());
        let timing = first.raster.timing != second.raster.timing
            || first.raster.sync_blocks != second.raster.sync_blocks;
        for (differs, words, edit) in [
            (timing, "clock, lines, sync and picture of the chip", Edit::Timing),
            (
                !timing && first.raster.content != second.raster.content,
                "the state of the game",
                Edit::Content,
            ),
            (first.receiver != second.receiver, "the set", Edit::Receiver),
            (path(first) != path(second), "the modulator or the tuner", Edit::Modulator),
            (first.received != second.received, "where the words begin", Edit::Verdict),
        ] {
            if differs {
                rest.push((words.to_owned(), edit));
            }
        }
        for (words, edit) in rest {
            self.tell(words, edit);
        }
    }

    /// The first board with some of the differences.
    pub(super) fn hybrid(&self, with: &dyn Fn(usize) -> bool) -> Scenario {
        let mut scenario = self.base.clone();
        let chosen = || self.differences.iter().enumerate().filter(|(index, _)| with(*index));
        for (_, difference) in chosen() {
            self.make(&mut scenario, &difference.edit);
        }
        for (index, twin) in self.twins.iter().enumerate() {
            let of_second = |aspect: Aspect| {
                chosen().any(|(_, difference)| {
                    matches!(difference.edit, Edit::Twin(of, has) if of == index && has == aspect)
                })
            };
            twin.apply(&mut scenario, &of_second);
        }
        let (parts, nodes) = (scenario.circuit.parts.len(), scenario.circuit.nodes.len());
        scenario.part_spans.resize(parts, None);
        scenario.limits.resize(parts, Limits::None);
        scenario.node_spans.resize(nodes, None);
        scenario
    }

    fn make(&self, scenario: &mut Scenario, edit: &Edit) {
        let circuit = &mut scenario.circuit;
        match edit {
            Edit::Parts(parts) => {
                for (id, kind) in parts {
                    circuit.parts[id.0].kind = kind.clone();
                }
            }
            Edit::Add(part) => circuit.parts.push((**part).clone()),
            Edit::Open(id) => {
                // A part that is there can always be opened.
                if let Ok(opened) = scenario.changed(&Change::Open(*id)) {
                    *scenario = opened;
                }
            }
            Edit::Pin(id, aspect, other) => {
                if let PartKind::Pin(pin) = &mut circuit.parts[id.0].kind {
                    **pin = aspect.applied(pin, other);
                }
            }
            Edit::Plan(index, plan) => scenario.raster.pins[*index] = (**plan).clone(),
            Edit::Twin(..) => {}
            Edit::Socket(node) => scenario.output.node = *node,
            Edit::Timing => {
                scenario.raster.timing = self.second.raster.timing;
                scenario.raster.sync_blocks.clone_from(&self.second.raster.sync_blocks);
                // What is drawn lies on the lines of its own timing.
                scenario.raster.content = self.second.raster.content.clone();
            }
            Edit::Content => scenario.raster.content = self.second.raster.content.clone(),
            Edit::Receiver => scenario.receiver = self.second.receiver.clone(),
            Edit::Modulator => {
                // Its feed resistor is a part of the board, and told as one.
                let second = self.second.modulator.clone();
                scenario.modulator = second.map(|found| Modulator { feed: None, ..found });
                restate_verdict(scenario);
            }
            Edit::Verdict => {
                scenario.received = self.second.received;
                restate_verdict(scenario);
            }
        }
    }
}

/// The lines of the words at the output, from those at the set's video input.
fn restate_verdict(scenario: &mut Scenario) {
    let slope = scenario.modulator.as_ref().map_or(1.0, |modulator| modulator.path.slope());
    scenario.verdict = scenario.received.before(slope);
}

/// Terminals of a part that are tied elsewhere: which, and from where to where.
fn moved(was: &PartKind, is: &PartKind) -> Vec<(usize, [NodeId; 2])> {
    let (was, is) = (terminals(was), terminals(is));
    if was.len() != is.len() {
        return Vec::new();
    }
    let pairs = was.into_iter().zip(is).enumerate();
    pairs
        .filter(|(_, ((_, was), (_, is)))| was != is)
        .map(|(index, ((_, was), (_, is)))| (index, [was, is]))
        .collect()
}
