//! Parts, nodes and outputs as a sentence names them.

use crate::analysis::cause::remedy;
use crate::analysis::cause::sentence::Teller;
use crate::analysis::cause::suspect::Suspect;
use crate::analysis::cause::suspect::SuspectKind;
use crate::analysis::cause::trial::stage_ohms;
use crate::analysis::cause::words::farads;
use crate::analysis::cause::words::ohms;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::circuit::Pin;
use crate::scenario::change::OPEN_OHMS;

impl Teller<'_> {
    pub(super) fn branch_ohms(&self, circuit: &Circuit, part: PartId) -> Option<f64> {
        let Suspect { node, other, .. } = *self.suspect;
        remedy::branch_between(circuit, part, node, other).map(|branch| branch.ohms)
    }

    /// " (4.7 kΩ)", " (61 kΩ of 100 kΩ)", " (100 nF)".
    pub(super) fn value(&self) -> String {
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
    pub(super) fn named_ohms(&self, value: f64) -> String {
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

    pub(super) fn node_words(&self, node: NodeId) -> String {
        if node == NodeId::GROUND {
            "ground".to_owned()
        } else {
            format!("`{}`", self.scene.circuit().node_name(node))
        }
    }

    pub(super) fn far_end(&self) -> String {
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
    pub(super) fn rival(&self, id: PartId) -> String {
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
    pub(super) fn output(&self, part: &Part) -> String {
        match &part.kind {
            PartKind::Pin(_) => format!("pin {}", part.name.to_uppercase()),
            PartKind::Gate(_) => format!("{}'s output", part.name),
            _ => part.name.clone(),
        }
    }

    /// Resistance of a pin at the level that carries the pulse, Ω.
    pub(super) fn pin_ohms(&self, part: PartId, pin: &Pin) -> f64 {
        let supply = self.scene.black_v[pin.supply.0];
        stage_ohms(&pin.levels[self.scene.carrying_level(part)], supply)
    }

    pub(super) fn strength(&self, part: PartId, pin: &Pin) -> String {
        let own = self.pin_ohms(part, pin);
        if own > 0.0 { format!(" ({})", ohms(own)) } else { String::new() }
    }

    /// What drives the socket on the best way, as far as it is only resistance: "pin LEFT (3 kΩ)
    /// through R4 (4.7 kΩ)".
    pub(super) fn driver(&self) -> String {
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
