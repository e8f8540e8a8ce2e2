//! What a suspect does to the pulse, as a sentence.

use crate::analysis::cause::remedy;
use crate::analysis::cause::scene::Scene;
use crate::analysis::cause::suspect::Suspect;
use crate::analysis::cause::suspect::SuspectKind;
use crate::analysis::cause::words::article;
use crate::analysis::cause::words::name_of;
use crate::analysis::cause::words::volts;
use crate::network::circuit::Gate;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;

/// What is needed to say a thing about a suspect.
pub(super) struct Teller<'a> {
    pub(super) scene: &'a Scene<'a>,
    pub(super) suspect: &'a Suspect,
    /// The element.
    pub(super) name: String,
    /// The part, as the user calls it.
    pub(super) part: String,
    pub(super) node: &'a str,
    before: String,
    after: String,
}

impl<'a> Teller<'a> {
    pub(super) fn new(scene: &'a Scene<'a>, suspect: &'a Suspect) -> Self {
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

    pub(super) fn sentence(&self) -> String {
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
            SuspectKind::Logic if self.scene.is_upside_down() => format!(
                "{name} comes out upside down, above black: {part} on its way is {}.",
                article(gate.logic)
            ),
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
            // A junction that stands where another one belongs may lift what it lets through.
            SuspectKind::Turned
                if self.suspect.pulse_out_v.abs() > self.suspect.pulse_in_v.abs() =>
            {
                format!("{name} reaches {part} as {before} at `{from}` and leaves it as {after}.")
            }
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
            PartKind::Transistor { base, .. } => {
                let idle = if scene.is_cut_off(*base) {
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
            _ => {
                let does = scene
                    .blocking(suspect.part, [suspect.other, suspect.node])
                    .unwrap_or_else(|| "holds back most of it".to_owned());
                format!(
                    "{name} reaches {part} as {before} at `{from}`, but {part} {does}: {after} is \
                     left at `{node}`."
                )
            }
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
                "{}, on the way of {name}, is fed from `{node}`, and that stands at {}{}.",
                match &self.scene.part(suspect.part).kind {
                    PartKind::Pin(_) => "The chip",
                    _ => part.as_str(),
                },
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
}
