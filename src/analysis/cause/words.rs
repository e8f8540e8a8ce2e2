//! A finding in plain words, with its numbers.

use crate::analysis::cause::Cause;
use crate::analysis::cause::remedy;
use crate::analysis::cause::scene::Scene;
use crate::analysis::cause::suspect::Suspect;
use crate::analysis::cause::suspect::SuspectKind;
use crate::analysis::cause::trial::stage_ohms;
use crate::network::bipolar::Polarity;
use crate::network::circuit::Circuit;
use crate::network::circuit::Gate;
use crate::network::circuit::Logic;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::circuit::Pin;
use crate::network::terminal::terminals;
use crate::scenario::change::Change;
use crate::scenario::change::OPEN_OHMS;

/// "1.14 V", "320 mV", "0.4 mV".
pub(super) fn volts(value: f64) -> String {
    let millivolts = 1e3 * value;
    if value.abs() >= 0.9995 {
        format!("{value:.2} V")
    } else if millivolts.abs() >= 9.95 || millivolts.abs() < 0.05 {
        // No "-0 mV".
        format!("{:.0} mV", millivolts + 0.0).replace("-0 mV", "0 mV")
    } else {
        format!("{millivolts:.1} mV")
    }
}

/// "47 pF", "100 nF".
pub(super) fn farads(value: f64) -> String {
    let (scaled, unit) = match value {
        value if value >= 0.9995e-6 => (value * 1e6, "µF"),
        value if value >= 0.9995e-9 => (value * 1e9, "nF"),
        value => (value * 1e12, "pF"),
    };
    format!("{} {unit}", (scaled * 10.0).round() / 10.0)
}

/// "4.7 kΩ".
pub(super) fn ohms(value: f64) -> String {
    let (scaled, unit) = match value {
        value if value >= 1e9 => (value / 1e9, "GΩ"),
        value if value >= 1e6 => (value / 1e6, "MΩ"),
        value if value >= 1e3 => (value / 1e3, "kΩ"),
        value => (value, "Ω"),
    };
    let digits = if scaled < 9.995 { 100.0 } else { 10.0 };
    format!("{} {unit}", (scaled * digits).round() / digits)
}

/// Nothing joins the element's pins to the socket.
pub(super) fn no_way(scene: &Scene<'_>) -> Cause {
    let circuit = scene.circuit();
    let (name, socket) = (name_of(scene), scene.scenario.output.node);
    let words = |node| {
        format!(
            "{name} gets as far as `{}`, where it amounts to {}, and no part leads on from there \
             to `{}`.",
            circuit.node_name(node),
            volts(scene.pulse_v(node)),
            circuit.node_name(socket),
        )
    };
    let (part, node, words) = match scene.dead_end() {
        Some((part, node)) => match scene.open_part(node) {
            Some(open) => {
                (open.name.clone(), node, format!("{} {} is open.", words(node), open.name))
            }
            None => (scene.part(part).name.clone(), node, words(node)),
        },
        None => (name.clone(), socket, format!("No pin of the chip carries {name}.")),
    };
    let node = circuit.node_name(node).to_owned();
    Cause { part, node, words, suspect: None, cures: false }
}

/// The finding about one suspect.
pub(super) fn finding(scene: &Scene<'_>, delta_v: f64, suspect: Suspect) -> Cause {
    let teller = Teller::new(scene, &suspect);
    let mut words = teller.sentence();
    if suspect.cures {
        words.push_str(&teller.remedy());
    } else {
        words.push_str(&format!(
            " {} of {} is left at the socket, and no change to one part alone makes it clear.",
            volts(delta_v),
            teller.name,
        ));
    }
    let (part, node) = (teller.part.clone(), teller.node.to_owned());
    let cures = suspect.cures;
    Cause { part, node, words, suspect: Some(suspect), cures }
}

/// With less than this from base to emitter a transistor is cut off, V.
const CUT_OFF_V: f64 = 0.5;

/// A resistor that would have to be larger than this might as well be left out, Ω.
const AS_GOOD_AS_NONE: f64 = 1e6;

/// Elements and pins are written as on a drawing: in capitals.
fn name_of(scene: &Scene<'_>) -> String {
    scene.scenario.raster.elements[usize::from(scene.element.0)].to_uppercase()
}

/// What is needed to say a thing about a suspect.
struct Teller<'a> {
    scene: &'a Scene<'a>,
    suspect: &'a Suspect,
    /// The element.
    name: String,
    /// The part, as the user calls it.
    part: String,
    node: &'a str,
    before: String,
    after: String,
}

impl<'a> Teller<'a> {
    fn new(scene: &'a Scene<'a>, suspect: &'a Suspect) -> Self {
        Self {
            scene,
            suspect,
            name: name_of(scene),
            part: scene.part(suspect.part).name.clone(),
            node: scene.circuit().node_name(suspect.node),
            before: volts(suspect.pulse_in_v.abs()),
            after: volts(suspect.pulse_out_v.abs()),
        }
    }

    fn sentence(&self) -> String {
        match self.suspect.kind {
            SuspectKind::Rival
            | SuspectKind::JoinedInput
            | SuspectKind::Shunt
            | SuspectKind::Bias => self.beside(),
            SuspectKind::Logic | SuspectKind::StuckInput | SuspectKind::Threshold => self.at_gate(),
            SuspectKind::NoPull
            | SuspectKind::DeadPin
            | SuspectKind::WeakOutput
            | SuspectKind::Load => self.driven(),
            SuspectKind::WrongPin | SuspectKind::DeadRail => self.wired(),
            SuspectKind::Turned
            | SuspectKind::Junction
            | SuspectKind::Blocked
            | SuspectKind::Series => self.in_the_way(),
        }
    }

    /// "LEFT reaches 1.14 V at U1's input `players`, which needs 2.50 V".
    fn reaches(&self) -> String {
        let node = self.suspect.node;
        let (name, after) = (&self.name, &self.after);
        match self.scene.listener(node) {
            Some((gate, inside)) => {
                let level = inside.threshold.typical(self.scene.black_v[inside.supply.0]);
                let lit_v = self.scene.lit_v[node.0];
                if self.suspect.pulse_in_v < 0.0 {
                    return format!(
                        "{name} takes {}'s input `{}` from {} to {}, and {} switches at {}",
                        gate.name,
                        self.node,
                        volts(self.scene.black_v[node.0]),
                        volts(lit_v),
                        gate.name,
                        volts(level)
                    );
                }
                format!(
                    "{name} reaches {} at {}'s input `{}`, which needs {}",
                    volts(lit_v),
                    gate.name,
                    self.node,
                    volts(level)
                )
            }
            None => format!("{name} amounts to {after} at `{}`", self.node),
        }
    }

    /// Which way the node is forced, against the pulse.
    fn forced(&self) -> &'static str {
        if self.suspect.pulse_in_v >= 0.0 { "down" } else { "up" }
    }

    /// "R9 (1 kΩ) to ground pulls it down".
    fn tie(&self) -> String {
        let (part, value, other) = (&self.part, self.value(), self.suspect.other);
        let far = self.far_end();
        if other == NodeId::GROUND || self.scene.output_at(other).is_some() {
            format!("{part}{value} to {far} pulls it {}", self.forced())
        } else {
            format!("{part}{value} to {far} holds it")
        }
    }

    fn beside(&self) -> String {
        let (reaches, value) = (self.reaches(), self.value());
        let (part, forced) = (&self.part, self.forced());
        match (self.suspect.kind, &self.scene.part(self.suspect.part).kind) {
            (SuspectKind::Rival, PartKind::Transistor { .. }) => {
                format!("{reaches}: {part}, which is tied to the same node, holds it.")
            }
            (SuspectKind::Rival, _) => {
                let rival = self.rival(self.suspect.part);
                format!("{reaches}: {rival} is tied to the same node and pulls it {forced}.")
            }
            (SuspectKind::JoinedInput, _) => {
                let other = self.far_end();
                format!("{reaches}: {part}{value} joins it to {other}, which pulls it {forced}.")
            }
            (SuspectKind::Bias, _) => {
                let other = self.scene.circuit().node_name(self.suspect.other);
                format!(
                    "{reaches}: {part}{value} should lift it towards `{other}` and hardly does."
                )
            }
            _ => format!("{reaches}: {}.", self.tie()),
        }
    }

    fn at_gate(&self) -> String {
        let (name, part, node) = (&self.name, &self.part, self.node);
        let PartKind::Gate(gate) = &self.scene.part(self.suspect.part).kind else {
            return String::new();
        };
        let from = self.scene.circuit().node_name(self.suspect.other);
        let supply_v = self.scene.black_v[gate.supply.0];
        let level = volts(gate.threshold.typical(supply_v));
        let [black, lit] =
            [&self.scene.black_v, &self.scene.lit_v].map(|at| at[self.suspect.node.0]);
        match self.suspect.kind {
            SuspectKind::Logic | SuspectKind::StuckInput if !self.is_passed() => {
                self.gate_beside(gate, black)
            }
            SuspectKind::Threshold => format!(
                "{name} moves {part}'s input `{node}` from {} to {}, but {part}, on {}, switches \
                 at {level}.",
                volts(black),
                volts(lit),
                volts(supply_v),
            ),
            SuspectKind::StuckInput => format!(
                "{name} reaches {part}'s input `{from}`, but the input `{node}` beside it stands \
                 at {} with nothing lit and holds the output.",
                volts(black),
            ),
            _ if gate.output == self.suspect.node && self.suspect.part != self.held_gate() => {
                format!(
                    "{name} reaches {}'s input `{from}`, but the input `{node}` beside it stands \
                     at {} with nothing lit and holds the output: {part}, which drives it, is {}.",
                    self.scene.part(self.held_gate()).name,
                    volts(black),
                    article(gate.logic),
                )
            }
            _ => format!(
                "{name} reaches {part}'s input `{from}`, but {part} is {}: its output `{node}` \
                 stands at {} with nothing lit, and {name} leaves it there.",
                article(gate.logic),
                volts(black),
            ),
        }
    }

    /// Whether the element's way leads through the suspect gate, or through one that it holds.
    fn is_passed(&self) -> bool {
        let hops = self.scene.ways.iter().flat_map(|way| &way.hops);
        let mut gates =
            hops.filter(|hop| matches!(self.scene.part(hop.part).kind, PartKind::Gate(_)));
        gates.any(|hop| hop.part == self.suspect.part || hop.from == self.suspect.other)
    }

    /// A gate that the element does not pass, but whose output weighs on its way.
    fn gate_beside(&self, gate: &Gate, black_v: f64) -> String {
        let (name, part) = (&self.name, &self.part);
        let output = self.scene.circuit().node_name(gate.output);
        let why = match self.suspect.kind {
            SuspectKind::StuckInput => {
                format!("its input `{}` stands at {}", self.node, volts(black_v))
            }
            _ => format!("it is {}", article(gate.logic)),
        };
        format!(
            "{name} is lost beside {part}, whose output `{output}` stands at {} with nothing lit and \
             weighs on its way: {why}.",
            volts(self.scene.black_v[gate.output.0]),
        )
    }

    /// The gate at which the pulse is lost: the suspect, or the one whose input it holds.
    fn held_gate(&self) -> PartId {
        let hops = self.scene.ways.iter().flat_map(|way| &way.hops);
        let mut gates = hops.filter(|hop| {
            hop.from == self.suspect.other
                && matches!(self.scene.part(hop.part).kind, PartKind::Gate(_))
        });
        gates.next().map_or(self.suspect.part, |hop| hop.part)
    }

    fn in_the_way(&self) -> String {
        let Self { name, part, node, before, after, .. } = self;
        let value = self.value();
        let from = self.scene.circuit().node_name(self.suspect.other);
        match self.suspect.kind {
            SuspectKind::Series => format!(
                "{name} enters {part}{value} as {before} and leaves it as {after} at `{node}`."
            ),
            SuspectKind::Turned => {
                format!("{name} reaches {part} as {before} at `{from}`, but only {after} passes.")
            }
            SuspectKind::Blocked => format!(
                "{name} reaches {part}{value} as {before} at `{from}`, but a standing level does \
                 not pass it: {after} is left at `{node}`."
            ),
            _ => self.dead_zone(from),
        }
    }

    fn dead_zone(&self, from: &str) -> String {
        let Self { name, part, node, before, after, suspect, scene } = self;
        match &scene.part(suspect.part).kind {
            PartKind::Transistor { base, emitter, model, .. } => {
                let sign = model.polarity.sign();
                let forward_v = sign * (scene.black_v[base.0] - scene.black_v[emitter.0]);
                let idle = if forward_v < CUT_OFF_V {
                    format!("{part} is cut off with nothing lit: ")
                } else {
                    String::new()
                };
                format!(
                    "{idle}{name} takes its base `{from}` from {} to {}, and {part} passes on only \
                     what lies beyond about 0.65 V from its emitter: {after} of {before} is left \
                     at `{node}`. It lacks a bias.",
                    volts(scene.black_v[base.0]),
                    volts(scene.lit_v[base.0]),
                )
            }
            _ => format!(
                "{name} reaches {part} as {before} at `{from}`, most of which is the drop of its \
                 junction: {after} is left at `{node}`."
            ),
        }
    }

    fn wired(&self) -> String {
        let Self { name, part, node, suspect, .. } = self;
        let other = self.scene.circuit().node_name(suspect.other);
        match suspect.kind {
            SuspectKind::WrongPin => format!(
                "{name} has a pin of its own at `{node}`, which leads nowhere; {part} takes it \
                 from `{other}`, where it amounts to {}.",
                volts(self.scene.pulse_v(suspect.other).abs()),
            ),
            _ => format!(
                "{part}, which {name} has to pass, is fed from `{node}`, and that stands at {}{}.",
                volts(self.scene.black_v[suspect.node.0]),
                self.scene
                    .open_feed(suspect.node)
                    .map_or(String::new(), |feed| format!(": {} is open", feed.name)),
            ),
        }
    }

    fn driven(&self) -> String {
        let Self { name, part, node, before, after, .. } = self;
        let kind = &self.scene.part(self.suspect.part).kind;
        match (self.suspect.kind, kind) {
            (SuspectKind::NoPull, PartKind::Pin(pin)) => {
                let up = pin.levels.iter().any(remedy::pulls_down);
                let (own, missing) = if up { ("down", "up") } else { ("up", "down") };
                format!(
                    "Pin {} only pulls `{node}` {own}, and nothing pulls it {missing}: it moves by \
                     {after}.",
                    part.to_uppercase()
                )
            }
            (SuspectKind::DeadPin, _) => format!(
                "Pin {} gives nothing, high or low: it is dead or its wire is open.",
                part.to_uppercase()
            ),
            (SuspectKind::Load, _) => format!(
                "{name} amounts to {after} at `{node}`: the load{} is too heavy for {}.",
                self.value(),
                self.driver()
            ),
            (_, PartKind::Pin(pin)) => format!(
                "Pin {}{} gives {before} with nothing on it, but {} with what hangs on it.",
                part.to_uppercase(),
                self.strength(self.suspect.part, pin),
                self.reaches().replacen(&format!("{name} "), "", 1),
            ),
            _ => format!(
                "{name} amounts to {after} at `{node}`: the output of {part} is too weak for what \
                 hangs on it."
            ),
        }
    }

    /// What would do, after a sentence that says what does not.
    fn remedy(&self) -> String {
        let name = &self.name;
        if self.remedy_ohms().is_some_and(|value| value >= AS_GOOD_AS_NONE) {
            return match self.suspect.kind {
                SuspectKind::Shunt => format!(" Without it {name} is clear."),
                _ => String::new(),
            };
        }
        let value = match &self.suspect.remedy {
            Change::Value { part, value } if self.is_resistor(*part) => Some(ohms(*value)),
            Change::Value { part, value } if self.suspect.kind == SuspectKind::Threshold => {
                Some(format!("{} from {}", volts(*value), self.scene.part(*part).name))
            }
            Change::Replace { part, kind } => self.replaced(*part, kind),
            Change::Add(Part { kind: PartKind::Resistor { ends, ohms: value }, .. }) => {
                let from = self.node_words(ends[0]);
                Some(format!("{} from {from} to {}", ohms(*value), self.node_words(ends[1])))
            }
            Change::Tie { node, .. } => {
                let node = self.scene.circuit().node_name(*node);
                return format!(" With {} at `{node}` {name} is clear.", self.part);
            }
            Change::Logic { logic, .. } => {
                return format!(" With {} in its place {name} is clear.", article(*logic));
            }
            Change::Swap { part, terminals: [a, b] } => {
                let names = terminals(&self.scene.part(*part).kind);
                let (a, b) = (names[*a].0, names[*b].0);
                return format!(" With its {a} and {b} exchanged {name} is clear.");
            }
            _ => None,
        };
        match (value, self.suspect.kind) {
            (_, SuspectKind::JoinedInput) | (None, _) => String::new(),
            (Some(value), SuspectKind::Load) if self.suspect.is_unusual => {
                format!(" Into {value} it is clear.")
            }
            (Some(value), SuspectKind::Load) => {
                format!(" Into {value} it would be clear; into this load it takes a buffer.")
            }
            (Some(value), _) => format!(" With {value} {name} is clear."),
        }
    }

    /// The resistance that puts the suspect right, Ω, if it is one.
    fn remedy_ohms(&self) -> Option<f64> {
        match self.suspect.remedy {
            Change::Value { part, value } if self.is_resistor(part) => Some(value),
            _ => None,
        }
    }

    fn is_resistor(&self, part: PartId) -> bool {
        matches!(self.scene.part(part).kind, PartKind::Resistor { .. })
    }

    fn replaced(&self, part: PartId, kind: &PartKind) -> Option<String> {
        match (self.suspect.kind, kind) {
            (SuspectKind::Turned, PartKind::Transistor { model, .. }) => {
                Some(match model.polarity {
                    Polarity::Npn => "an NPN in its place".to_owned(),
                    Polarity::Pnp => "a PNP in its place".to_owned(),
                })
            }
            (SuspectKind::WeakOutput, PartKind::Pin(pin)) => {
                Some(format!("a pin of {} or a buffer", ohms(self.pin_ohms(part, pin))))
            }
            (SuspectKind::Threshold, PartKind::Gate(gate)) => {
                let level = gate.threshold.typical(0.0);
                Some(format!("a switching level of {}, half of what drives it,", volts(level)))
            }
            (_, PartKind::Trimmer { .. }) => {
                let mut circuit = self.scene.circuit().clone();
                circuit.apply(&self.suspect.remedy).ok()?;
                self.branch_ohms(&circuit, part).map(ohms)
            }
            _ => None,
        }
    }

    fn branch_ohms(&self, circuit: &Circuit, part: PartId) -> Option<f64> {
        let Suspect { node, other, .. } = *self.suspect;
        remedy::branch_between(circuit, part, node, other).map(|branch| branch.ohms)
    }

    /// " (4.7 kΩ)", " (61 kΩ of 100 kΩ)", " (100 nF)".
    fn value(&self) -> String {
        let circuit = self.scene.circuit();
        let own = self.branch_ohms(circuit, self.suspect.part);
        match (&self.scene.part(self.suspect.part).kind, own) {
            (PartKind::Trimmer { ohms: track, .. }, Some(own)) => {
                format!(" ({} of its {})", ohms(own), ohms(*track))
            }
            (PartKind::RealCapacitor(real), _) => format!(" ({})", farads(real.present_farads())),
            (PartKind::Capacitor { farads: size, .. }, _) => format!(" ({})", farads(*size)),
            (_, Some(own)) => format!(" ({})", self.named_ohms(own)),
            _ => String::new(),
        }
    }

    /// "4.7 kΩ", "open, or as good as open".
    fn named_ohms(&self, value: f64) -> String {
        match self.suspect.kind {
            SuspectKind::Series | SuspectKind::Bias if value >= OPEN_OHMS => "open".to_owned(),
            SuspectKind::Series | SuspectKind::Bias if self.suspect.is_unusual => {
                format!("{}, as good as open", ohms(value))
            }
            SuspectKind::Shunt if self.suspect.is_unusual => {
                format!("{}, as good as a short", ohms(value))
            }
            _ => ohms(value),
        }
    }

    fn node_words(&self, node: NodeId) -> String {
        if node == NodeId::GROUND {
            "ground".to_owned()
        } else {
            format!("`{}`", self.scene.circuit().node_name(node))
        }
    }

    fn far_end(&self) -> String {
        let other = self.suspect.other;
        match self.scene.output_at(other) {
            Some(part) => {
                let id = self.scene.circuit().part(&part.name);
                id.map_or_else(|| self.output(part), |id| self.rival(id))
            }
            None => self.node_words(other),
        }
    }

    /// "pin RIGHT (800 Ω when low)", "U2's output".
    fn rival(&self, id: PartId) -> String {
        let (scene, part) = (self.scene, self.scene.part(id));
        let output = self.output(part);
        let PartKind::Pin(pin) = &part.kind else { return output };
        let level = scene.level(id);
        let ohms = ohms(stage_ohms(&pin.levels[level], scene.black_v[pin.supply.0]));
        match level {
            0 => format!("{output} ({ohms} when low)"),
            1 => format!("{output} ({ohms} when high)"),
            _ => format!("{output} ({ohms})"),
        }
    }

    /// "pin RIGHT", "U1's output".
    fn output(&self, part: &Part) -> String {
        match &part.kind {
            PartKind::Pin(_) => format!("pin {}", part.name.to_uppercase()),
            PartKind::Gate(_) => format!("{}'s output", part.name),
            _ => part.name.clone(),
        }
    }

    /// Resistance of a pin at the level that carries the pulse, Ω.
    fn pin_ohms(&self, part: PartId, pin: &Pin) -> f64 {
        let supply = self.scene.black_v[pin.supply.0];
        stage_ohms(&pin.levels[self.scene.level(part)], supply)
    }

    fn strength(&self, part: PartId, pin: &Pin) -> String {
        let own = self.pin_ohms(part, pin);
        if own > 0.0 { format!(" ({})", ohms(own)) } else { String::new() }
    }

    /// What drives the socket on the best way, as far as it is only resistance: "pin LEFT (3 kΩ)
    /// through R4 (4.7 kΩ)".
    fn driver(&self) -> String {
        let Some(way) = self.scene.ways.first() else { return "what drives it".to_owned() };
        let mut through = Vec::new();
        for hop in way.hops.iter().rev() {
            let part = self.scene.part(hop.part);
            match remedy::branch_between(self.scene.circuit(), hop.part, hop.from, hop.to) {
                Some(branch) => through.push(format!("{} ({})", part.name, ohms(branch.ohms))),
                None => return chain(&self.output(part), &through),
            }
        }
        let pin = self.scene.part(way.pin);
        let PartKind::Pin(inside) = &pin.kind else { return self.output(pin) };
        chain(&format!("{}{}", self.output(pin), self.strength(way.pin, inside)), &through)
    }
}

fn chain(output: &str, through: &[String]) -> String {
    let parts: Vec<&str> = through.iter().rev().map(String::as_str).collect();
    if parts.is_empty() {
        output.to_owned()
    } else {
        format!("{output} through {}", parts.join(", "))
    }
}

fn article(logic: Logic) -> &'static str {
    match logic {
        Logic::Or => "an OR gate",
        Logic::Nor => "a NOR gate",
        Logic::And => "an AND gate",
        Logic::Nand => "a NAND gate",
        Logic::Xor => "an exclusive-OR gate",
        Logic::Not => "an inverter",
        Logic::Buffer => "a buffer",
    }
}
