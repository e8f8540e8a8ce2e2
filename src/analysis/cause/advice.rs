//! What would put a suspect right, as a sentence.

use crate::analysis::cause::sentence::Teller;
use crate::analysis::cause::suspect::Suspect;
use crate::analysis::cause::suspect::SuspectKind;
use crate::analysis::cause::words::article;
use crate::analysis::cause::words::ohms;
use crate::analysis::cause::words::volts;
use crate::network::bipolar::Polarity;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::terminal::terminals;
use crate::scenario::change::Change;
use crate::scenario::change::OPEN_OHMS;
use crate::scenario::limits::Limits;

/// A resistor that would have to be larger than this might as well be left out, Ω.
const AS_GOOD_AS_NONE: f64 = 1e6;

impl Teller<'_> {
    /// What would do, after a sentence that says what does not.
    pub(super) fn remedy(&self) -> String {
        let name = &self.name;
        let well = self.scene.subject.well();
        if self.was_no_resistor() {
            return String::new();
        }
        if self.remedy_ohms().is_some_and(|value| value >= AS_GOOD_AS_NONE) {
            return match self.suspect.kind {
                SuspectKind::Shunt => format!(" Without it {name} is {well}."),
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
                return format!(" With {} at `{node}` {name} is {well}.", self.part);
            }
            Change::Logic { logic, .. } => {
                return format!(" With {} in its place {name} is {well}.", article(*logic));
            }
            Change::Swap { part, terminals: [a, b] } => {
                let names = terminals(&self.scene.part(*part).kind);
                let (a, b) = (names[*a].0, names[*b].0);
                return format!(" With its {a} and {b} exchanged {name} is {well}.");
            }
            _ => None,
        };
        match (value, self.suspect.kind) {
            (_, SuspectKind::JoinedInput) | (None, _) => String::new(),
            (Some(value), SuspectKind::Load) if self.suspect.is_unusual => {
                format!(" Into {value} it is {well}.")
            }
            (Some(value), SuspectKind::Load) => {
                format!(" Into {value} it would be {well}; into this load it takes a buffer.")
            }
            (Some(value), _) => format!(" With {value} {name} is {well}."),
        }
    }

    /// The resistance that puts the suspect right, Ω, if it is one.
    fn remedy_ohms(&self) -> Option<f64> {
        match self.suspect.remedy {
            Change::Value { part, value } if self.is_resistor(part) => Some(value),
            _ => None,
        }
    }

    /// Whether the suspect is a part that has been opened and was no resistor: of what is left of it
    /// no value is worth telling.
    fn was_no_resistor(&self) -> bool {
        let Suspect { kind, part, .. } = *self.suspect;
        let PartKind::Resistor { ohms, .. } = self.scene.part(part).kind else { return false };
        let limits = self.scene.scenario.limits.get(part.0);
        let series = matches!(kind, SuspectKind::Series | SuspectKind::Bias);
        series && ohms >= OPEN_OHMS && !matches!(limits, Some(Limits::Heat(_)))
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
}
