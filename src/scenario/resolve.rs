//! From the written scenario to the resolved one.

use crate::base::diagnostic::Span;
use crate::document::fields::Fields;
use crate::document::fields::as_table;
use crate::document::fields::hint;
use crate::document::problems::Problems;
use crate::document::quantity::RESISTANCE;
use crate::document::tree::Entry;
use crate::document::tree::Table;
use crate::document::tree::Value;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::circuit::Pin;
use crate::profile::limits::USUAL;
use crate::scenario::Output;
use crate::scenario::Scenario;
use crate::scenario::battery::Battery;
use crate::scenario::change::Change;
use crate::scenario::check;
use crate::scenario::chip;
use crate::scenario::chip::Chip;
use crate::scenario::choose;
use crate::scenario::clock::ClockDrift;
use crate::scenario::controller;
use crate::scenario::expect;
use crate::scenario::expect::Known;
use crate::scenario::files::Files;
use crate::scenario::limits::Limits;
use crate::scenario::load::Written;
use crate::scenario::modulator;
use crate::scenario::modulator::Modulator;
use crate::scenario::nodes::Nodes;
use crate::scenario::nodes::Role;
use crate::scenario::overlay::Defect;
use crate::scenario::overlay::DefectKind;
use crate::scenario::parts;
use crate::scenario::parts::WrittenPart;
use crate::scenario::receiver;
use crate::scenario::settings;
use crate::scenario::sound;
use crate::scenario::spread;
use crate::scenario::temperature::bring_to;

/// The terminating resistance of a set, Ω: common practice and every standard.
const LOAD_OHMS: f64 = 75.0;
/// What "open" leaves: a meter's input, Ω.
const OPEN_OHMS: f64 = 1e6;
/// Names of the parts that a scenario does not write.
const LOAD: &str = "load";
const CHIP: &str = "chip";
const FEED: &str = "feed";
/// The node of a modulator's input where a feed resistor leads there.
const MODULATOR: &str = "modulator";

/// The board as it grows.
struct Assembly<'a> {
    nodes: Nodes,
    parts: Vec<Part>,
    part_spans: Vec<Option<Span>>,
    limits: Vec<Limits>,
    batteries: Vec<(PartId, Battery)>,
    problems: &'a Problems,
}

/// Resolves a scenario; `None` only after a problem has been added.
pub(crate) fn resolve(written: &Written, name: String, files: &mut Files<'_>) -> Option<Scenario> {
    let problems = files.problems;
    let fields = Fields::open(&written.root, "a scenario", problems);
    let title = fields.text("title").map_or(name.clone(), |(title, _)| title.to_owned());
    let chip = chip(&fields, files);
    let mut board = Assembly::of(chip.as_ref(), &fields);
    let output = fields.needed("output", "expected a table `[output]`", fields.table("output"));
    let field_hz = chip.as_ref().map_or(50.0, |chip| chip.nominal_field_hz);
    let modulator = modulator::read(&fields, field_hz);
    let output = output.and_then(|table| board.add_load(table, modulator.as_ref()));
    let empty = Table { entries: Vec::new(), span: written.root.span.clone() };
    let table = |key| fields.table(key).unwrap_or(&empty);
    board.wire(&settings::wiring(table("wiring"), problems));
    let receiver = receiver::read(table("receiver"), field_hz, problems);
    let timing = chip.as_ref().map(|chip| &chip.raster.timing);
    let solve = settings::solve(table("solve"), timing, problems);
    let sound = sound::read(table("sound"), problems);
    let received = settings::verdict(table("verdict"), problems);
    let choose = choose::read(table("choose"), problems);
    // These speak of the board, which has to be known first.
    let (parts, expect, spread) = (fields.table("board"), fields.table("expect"), table("spread"));
    fields.close();
    let chip = chip?;
    let modulated = modulator.is_some();
    let known = Known { raster: &chip.raster, nodes: &board.nodes.names, modulated };
    let expect = expect.map(|table| expect::read(table, &known, problems));
    check::check(&board.nodes, problems);
    let chip_supply = rated_supply(&chip, &board.nodes);
    let clock_drift = clock_drift(&chip, &board.nodes);
    let circuit = Circuit { nodes: board.nodes.names, parts: board.parts };
    let known = spread::Known { circuit: &circuit, board: parts, specimens: &chip.specimens };
    let spread = spread::read(spread, &known, problems);
    let (output, feed) = output?;
    let modulator = modulator.map(|written| Modulator { path: written.path, feed });
    let slope = modulator.as_ref().map_or(1.0, |modulator| modulator.path.slope());
    let scenario = Scenario {
        name,
        title,
        raster: chip.raster,
        tank: chip.tank,
        clock_drift,
        circuit,
        output,
        modulator,
        receiver,
        sound,
        solve,
        verdict: received.before(slope),
        received,
        specimens: chip.specimens,
        expect: expect.unwrap_or_default(),
        spread,
        choose,
        part_spans: board.part_spans,
        limits: board.limits,
        batteries: board.batteries,
        chip_limits: chip.limits,
        chip_supply,
        node_spans: board.nodes.spans,
    };
    broken(scenario, &written.defects, problems).map(Scenario::with_clock_pulled)
}

/// The node whose volts are held against what the chip bears, if that is known.
fn rated_supply(chip: &Chip, nodes: &Nodes) -> Option<NodeId> {
    // What drives patterns is no chip of the class unless it is said what it bears.
    let is_rated = !chip.is_pattern || chip.limits != USUAL;
    let supply = chip.supply.as_ref().filter(|_| is_rated);
    supply.and_then(|(name, _)| nodes.find(name))
}

/// How the clock follows the node that feeds the chip, if it does.
fn clock_drift(chip: &Chip, nodes: &Nodes) -> Option<ClockDrift> {
    let node = chip.supply.as_ref().and_then(|(name, _)| nodes.find(name))?;
    Some(ClockDrift { per_volt: chip.clock_per_volt?, node, nominal_v: chip.nominal_volts })
}

/// The chip with the game that it plays and the controllers that play it.
fn chip(fields: &Fields<'_>, files: &mut Files<'_>) -> Option<Chip> {
    let game = fields.table("game");
    let table = fields.needed("chip", "expected a table `[chip]`", fields.table("chip"));
    let chip = chip::read(table?, game, files);
    chip.map(|chip| controller::put(chip, fields))
}

impl<'a> Assembly<'a> {
    /// The chip's pins and the parts of `[board]`.
    fn of(chip: Option<&Chip>, fields: &Fields<'a>) -> Self {
        let mut board = Self {
            nodes: Nodes::new(),
            parts: Vec::new(),
            part_spans: Vec::new(),
            limits: Vec::new(),
            batteries: Vec::new(),
            problems: fields.problems(),
        };
        if let Some(chip) = chip {
            board.add_chip(chip);
        }
        let expected = "expected parts such as `[board.R1]`";
        if let Some(table) = fields.needed("board", expected, fields.table("board")) {
            board.add_parts(table);
        }
        board
    }

    fn add(&mut self, name: &str, kind: PartKind, span: Option<&Span>) -> PartId {
        self.parts.push(Part { name: name.to_owned(), kind });
        self.part_spans.push(span.cloned());
        self.limits.push(Limits::None);
        PartId(self.parts.len() - 1)
    }

    /// The pins in the chip's order, then the current that the chip draws.
    fn add_chip(&mut self, chip: &Chip) {
        let supply = chip
            .supply
            .as_ref()
            .map(|(name, span)| self.nodes.tie(name, "the chip", Role::Supplied, Some(span)));
        for pin in &chip.pins {
            let part = format!("pin `{}`", pin.plan.name);
            let node = self.nodes.tie(&pin.node, &part, Role::Pin, pin.node_span.as_ref());
            let kind = PartKind::Pin(Box::new(Pin {
                node,
                supply: supply.unwrap_or(NodeId::GROUND),
                levels: pin.drive.levels.clone(),
                delay_s: pin.drive.delay_s,
                rise_s: pin.drive.rise_s,
                fall_s: pin.drive.fall_s,
                farads: pin.drive.farads,
            }));
            self.add(&pin.plan.name, kind, None);
        }
        if let Some(node) = supply.filter(|_| chip.draw_amps > 0.0) {
            self.add(CHIP, PartKind::Consumption { node, amps: chip.draw_amps }, None);
        }
    }

    fn add_parts(&mut self, board: &Table) {
        for entry in &board.entries {
            let what = format!("part `{}`", entry.key);
            let Some(table) = as_table(&entry.item, &what, self.problems) else { continue };
            let kind = parts::read(&entry.key, table, &mut self.nodes, self.problems);
            self.check_name(entry);
            if let Some(WrittenPart { kind, limits, battery }) = kind {
                let id = self.add(&entry.key, kind, Some(&entry.key_span));
                self.limits[id.0] = limits;
                self.batteries.extend(battery.map(|battery| (id, battery)));
            }
        }
    }

    fn check_name(&self, entry: &Entry) {
        let taken = self.parts.iter().find(|part| part.name == entry.key);
        if taken.is_some() || entry.key == LOAD || entry.key == CHIP {
            let message = match taken.map(|part| &part.kind) {
                Some(PartKind::Pin(_)) => {
                    format!("part `{0}` has the name of pin `{0}`", entry.key)
                }
                _ => format!("two parts are called `{}`", entry.key),
            };
            let expected = "expected a name that no pin, nor `load` or `chip`, has";
            self.problems.add(&entry.key_span, message, expected);
        }
        let clean = !entry.key.trim().is_empty() && !entry.key.contains(['.', '=', ' ']);
        if !clean || entry.key.contains(char::is_control) {
            let message = format!("`{}` cannot be a part's name", entry.key.escape_debug());
            let expected = "expected letters and digits such as `R1`";
            self.problems.add(&entry.key_span, message, expected);
        }
    }

    /// The socket, and the set's input across it; or a modulator's, behind its feed resistor.
    fn add_load(
        &mut self,
        table: &Table,
        modulator: Option<&modulator::Written>,
    ) -> Option<(Output, Option<PartId>)> {
        let fields = Fields::open(table, "[output]", self.problems);
        let ohms = match (fields.item("load").map(|item| &item.value), modulator) {
            (None, Some(modulator)) => Some(modulator.input_ohms),
            (Some(_), Some(_)) => {
                let message = "the output has a load and a modulator".to_owned();
                let expected = "expected one of them: `input` of [modulator] is its load";
                self.problems.add(fields.place("load"), message, expected);
                None
            }
            (None, None) => Some(LOAD_OHMS),
            (Some(Value::Text(word)), None) if word == "open" => Some(OPEN_OHMS),
            (Some(_), None) => fields.quantity("load", &RESISTANCE),
        };
        let node = self.nodes.tie_key(&fields, "node", Role::Socket);
        fields.close();
        let (node, ohms) = (node?, ohms?);
        if node == NodeId::GROUND {
            let message = "the output is taken from ground".to_owned();
            let place = table.get("node").map_or(&table.span, |entry| &entry.item.span);
            self.problems.add(place, message, "expected a node of the board");
            return None;
        }
        let (node, feed) = match modulator {
            Some(modulator) => self.add_feed(node, modulator)?,
            None => (node, None),
        };
        let kind = PartKind::Resistor { ends: [node, NodeId::GROUND], ohms };
        Some((Output { node, load: self.add(LOAD, kind, None) }, feed))
    }

    /// The resistor into a modulator; returns the node of its input.
    fn add_feed(
        &mut self,
        socket: NodeId,
        modulator: &modulator::Written,
    ) -> Option<(NodeId, Option<PartId>)> {
        let Some((ohms, span)) = &modulator.feed else { return Some((socket, None)) };
        let taken_node = self.nodes.find(MODULATOR).map(|_| format!("node `{MODULATOR}`"));
        let taken_part = self.parts.iter().any(|part| part.name == FEED);
        if let Some(taken) = taken_node.or(taken_part.then(|| format!("part `{FEED}`"))) {
            let message = format!("{taken} is there already");
            let expected = "expected that name left to the modulator";
            self.problems.add(&modulator.span, message, expected);
            return None;
        }
        let node = self.nodes.tie(MODULATOR, "the modulator", Role::Output, Some(span));
        let kind = PartKind::Resistor { ends: [socket, node], ohms: *ohms };
        Some((node, Some(self.add(FEED, kind, Some(span)))))
    }

    /// Adds what the wiring does.
    fn wire(&mut self, wiring: &settings::Wiring) {
        self.add_strays(wiring.stray_farads);
        if let Some(kelvin) = wiring.kelvin {
            bring_to(kelvin, &mut self.parts);
        }
    }

    /// The wiring's capacitance at every node but ground and the rails.
    fn add_strays(&mut self, farads: f64) {
        if farads <= 0.0 {
            return;
        }
        let rail = |node: usize| {
            let is_rail = |role| matches!(role, Role::Source | Role::Supplied);
            self.nodes.terminals.iter().any(|end| end.node.0 == node && is_rail(end.role))
        };
        let plain: Vec<usize> = (1..self.nodes.names.len()).filter(|node| !rail(*node)).collect();
        for node in plain {
            let name = format!("stray at {}", self.nodes.names[node]);
            let ends = [NodeId(node), NodeId::GROUND];
            self.add(&name, PartKind::Capacitor { ends, farads }, None);
        }
    }
}

/// Breaks the parts that were set to "open" or "short".
fn broken(mut scenario: Scenario, defects: &[Defect], problems: &Problems) -> Option<Scenario> {
    for defect in defects {
        let Some(part) = scenario.circuit.part(&defect.part) else {
            let names: Vec<&str> =
                scenario.circuit.parts.iter().map(|part| part.name.as_str()).collect();
            let message = format!("no part is called `{}`", defect.part);
            let hint = hint(&defect.part, &names);
            problems.add_hinted(&defect.span, message, "expected a part of the board", hint);
            continue;
        };
        let change = match defect.kind {
            DefectKind::Open => Change::Open(part),
            DefectKind::Short => Change::Short(part),
        };
        match scenario.changed(&change) {
            Ok(changed) => scenario = changed,
            Err(error) => problems.add(&defect.span, error.to_string(), "expected another defect"),
        }
    }
    Some(scenario)
}
