//! A finding in plain words, with its numbers.

use crate::analysis::cause::Cause;
use crate::analysis::cause::remedy;
use crate::analysis::cause::scene::Scene;
use crate::analysis::cause::suspect::Suspect;
use crate::analysis::cause::suspect::SuspectKind;
use crate::analysis::cause::trial::stage_ohms;
use crate::network::circuit::Circuit;
use crate::network::circuit::Logic;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::circuit::Pin;
use crate::network::device::Polarity;
use crate::scenario::change::Change;

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

/// "47 pF".
pub(super) fn picofarads(farads: f64) -> String {
    format!("{:.0} pF", 1e12 * farads)
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
    let name = name_of(scene);
    let socket = circuit.node_name(scene.scenario.output.node);
    let words = match scene.starts.first() {
        Some(&(_, node)) => format!(
            "{name} reaches `{}` as {}, but no part leads on from there to `{socket}`.",
            circuit.node_name(node),
            volts(scene.pulse_v(node)),
        ),
        None => format!("No pin of the chip carries {name}."),
    };
    let at = scene.starts.first().map_or(scene.scenario.output.node, |&(_, node)| node);
    let pin = scene.starts.first().map(|&(part, _)| scene.part(part).name.clone());
    Cause {
        part: pin.unwrap_or(name),
        node: circuit.node_name(at).to_owned(),
        words,
        suspect: None,
        cures: false,
    }
}

/// The finding about one suspect.
pub(super) fn finding(scene: &Scene<'_>, delta_v: f64, suspect: Suspect) -> Cause {
    let teller = Teller::new(scene, &suspect);
    let mut words = teller.sentence();
    if suspect.cures {
        words.push_str(&teller.remedy());
    } else {
        words.push_str(&format!(
            " {} is left at the socket, and no change to a single part makes {} clear.",
            volts(delta_v),
            teller.name,
        ));
    }
    let (part, node) = (teller.part.clone(), teller.node.to_owned());
    let cures = suspect.cures;
    Cause { part, node, words, suspect: Some(suspect), cures }
}

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
            before: volts(suspect.pulse_in_v),
            after: volts(suspect.pulse_out_v),
        }
    }

    fn sentence(&self) -> String {
        match self.suspect.kind {
            SuspectKind::Rival
            | SuspectKind::JoinedInput
            | SuspectKind::Shunt
            | SuspectKind::Bias => self.beside(),
            SuspectKind::Logic | SuspectKind::StuckInput | SuspectKind::Threshold => self.at_gate(),
            SuspectKind::NoPull | SuspectKind::WeakOutput | SuspectKind::Load => self.driven(),
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

    fn beside(&self) -> String {
        let (reaches, value) = (self.reaches(), self.value());
        let (part, forced) = (&self.part, self.forced());
        match (self.suspect.kind, &self.scene.part(self.suspect.part).kind) {
            (SuspectKind::Rival, PartKind::Transistor { .. }) => {
                format!("{reaches}: {part}, which is tied to the same node, holds it.")
            }
            (SuspectKind::Rival, _) => {
                let rival = self.output(self.scene.part(self.suspect.part));
                format!("{reaches}: {rival} is tied to the same node and pulls it {forced}.")
            }
            (SuspectKind::JoinedInput, _) => {
                let other = self.far_end();
                format!("{reaches}: {part}{value} joins it to {other}, which pulls it {forced}.")
            }
            (SuspectKind::Bias, _) => {
                let other = self.scene.circuit().node_name(self.suspect.other);
                format!("{reaches}: {part}{value} should lift it towards `{other}` and hardly does.")
            }
            _ => format!("{reaches}: {part}{value} ties it to {} and takes the pulse.", self.far_end()),
        }
    }

    fn at_gate(&self) -> String {
        let (name, part, node) = (&self.name, &self.part, self.node);
        let PartKind::Gate(gate) = &self.scene.part(self.suspect.part).kind else {
            return String::new();
        };
        let supply_v = self.scene.black_v[gate.supply.0];
        let level = volts(gate.threshold.typical(supply_v));
        let [black, lit] = [&self.scene.black_v, &self.scene.lit_v].map(|at| at[self.suspect.node.0]);
        match self.suspect.kind {
            SuspectKind::Threshold => format!(
                "{name} moves {part}'s input `{node}` from {} to {}, but {part}, on {}, switches \
                 at {level}.",
                volts(black),
                volts(lit),
                volts(supply_v),
            ),
            SuspectKind::StuckInput => format!(
                "{name} reaches {part}'s input `{}`, but its other input `{node}` stands at {} all \
                 the time and holds the output.",
                self.scene.circuit().node_name(self.suspect.other),
                volts(black),
            ),
            _ => format!(
                "{name} is lost at {part}, which is {}: with nothing lit its output `{}` stands at \
                 {}, and {name} leaves it there.",
                article(gate.logic),
                self.scene.circuit().node_name(gate.output),
                volts(self.scene.black_v[gate.output.0]),
            ),
        }
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
            PartKind::Transistor { base, emitter, .. } => format!(
                "{name} lifts {part}'s base `{from}` from {} to {}, which stays {} of its emitter; \
                 {part} passes on only what lies beyond about 0.65 V: {after} of {before} is left \
                 at `{node}`. Nothing biases the base.",
                volts(scene.black_v[base.0]),
                volts(scene.lit_v[base.0]),
                format_args!(
                    "within {}",
                    volts((scene.lit_v[base.0] - scene.lit_v[emitter.0]).abs())
                ),
            ),
            _ => format!(
                "{name} reaches {part} as {before} at `{from}`, most of which is the drop of its \
                 junction: {after} is left at `{node}`."
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
            (SuspectKind::Load, _) => format!(
                "{name} amounts to {after} at `{node}`: the load{} is too heavy for {}.",
                self.value(),
                self.driver()
            ),
            (_, PartKind::Pin(pin)) => format!(
                "Pin {}{} gives {before} with nothing on it, but {} with what hangs on it.",
                part.to_uppercase(),
                self.strength(pin),
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
        let value = match &self.suspect.remedy {
            Change::Value { part, value } if self.is_resistor(*part) => Some(ohms(*value)),
            Change::Replace { part, kind } => self.replaced(*part, kind),
            Change::Logic { logic, .. } => {
                return format!(" With {} in its place {name} is clear.", article(*logic));
            }
            Change::Swap { .. } => {
                return format!(" {} is fitted the wrong way round.", self.part);
            }
            _ => None,
        };
        match (value, self.suspect.kind) {
            (_, SuspectKind::JoinedInput) | (None, _) => String::new(),
            (Some(value), SuspectKind::Load) => format!(" Into {value} it is clear."),
            (Some(value), _) => format!(" With {value} {name} is clear."),
        }
    }

    fn is_resistor(&self, part: PartId) -> bool {
        matches!(self.scene.part(part).kind, PartKind::Resistor { .. })
    }

    fn replaced(&self, part: PartId, kind: &PartKind) -> Option<String> {
        match (self.suspect.kind, kind) {
            (SuspectKind::NoPull, _) => Some("a pull resistor of 4.7 kΩ".to_owned()),
            (SuspectKind::Turned, PartKind::Transistor { model, .. }) => {
                Some(match model.polarity {
                    Polarity::Npn => "an NPN in its place".to_owned(),
                    Polarity::Pnp => "a PNP in its place".to_owned(),
                })
            }
            (SuspectKind::WeakOutput, PartKind::Pin(pin)) => {
                let supply = self.scene.black_v[pin.supply.0];
                Some(format!("a pin of {} or a buffer", ohms(weakest(pin, supply))))
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
        let own = self.branch_ohms(circuit, self.suspect.part).map(ohms);
        match (&self.scene.part(self.suspect.part).kind, own) {
            (PartKind::Trimmer { ohms: track, .. }, Some(own)) => {
                format!(" ({own} of its {})", ohms(*track))
            }
            (PartKind::Capacitor { farads, .. }, _) => format!(" ({})", picofarads(*farads)),
            (_, Some(own)) => format!(" ({own})"),
            _ => String::new(),
        }
    }

    fn far_end(&self) -> String {
        let other = self.suspect.other;
        match self.scene.output_at(other) {
            Some(part) => self.output(part),
            None if other == NodeId::GROUND => "ground".to_owned(),
            None => format!("`{}`", self.scene.circuit().node_name(other)),
        }
    }

    /// "pin RIGHT (800 Ω when low)", "U1's output".
    fn output(&self, part: &Part) -> String {
        match &part.kind {
            PartKind::Pin(_) => format!("pin {}", part.name.to_uppercase()),
            PartKind::Gate(_) => format!("{}'s output", part.name),
            _ => part.name.clone(),
        }
    }

    fn strength(&self, pin: &Pin) -> String {
        let weakest = weakest(pin, self.scene.black_v[pin.supply.0]);
        if weakest > 0.0 { format!(" ({})", ohms(weakest)) } else { String::new() }
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
        chain(&format!("{}{}", self.output(pin), self.strength(inside)), &through)
    }
}

fn chain(output: &str, through: &[String]) -> String {
    let parts: Vec<&str> = through.iter().rev().map(String::as_str).collect();
    if parts.is_empty() { output.to_owned() } else { format!("{output} through {}", parts.join(", ")) }
}

/// The larger of a pin's two resistances, Ω.
fn weakest(pin: &Pin, supply: f64) -> f64 {
    pin.levels.iter().map(|stage| stage_ohms(stage, supply)).fold(0.0, f64::max)
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
