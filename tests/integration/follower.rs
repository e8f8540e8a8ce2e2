//! The biased follower: an OR gate, sync and a grey player mixed at the base of a transistor that
//! drives the set. Sound, or with one fault.

use crate::boards::Board;
use crate::boards::COMMON_PINS;
use crate::boards::Pins;
use crate::boards::fields;
use backporch::analysis::examine::examine;
use backporch::analysis::verdict::SyncState;
use backporch::scenario::Scenario;

/// Resistance of a part that has gone open, Ω.
const OPEN: f64 = 1e9;
/// Resistance of a part that is shorted, Ω.
const SHORT: f64 = 1.0;

/// Every value and tie of the board. The default is the sound one.
#[derive(Clone, Debug)]
pub(crate) struct Follower {
    pins: Pins,
    /// Lines put behind the chip's.
    chip: &'static str,
    logic: &'static str,
    inputs: Vec<&'static str>,
    rail_volts: f64,
    /// Supply of the gate, V, where it is not the rail.
    gate_volts: Option<f64>,
    white_ohms: f64,
    sync_ohms: f64,
    left_ohms: Option<f64>,
    pull_up_ohms: f64,
    pull_down_ohms: f64,
    emitter_ohms: f64,
    series_ohms: f64,
    load_ohms: f64,
    transistor: Option<&'static str>,
    gain: f64,
    /// Nodes of collector, base and emitter.
    ties: [&'static str; 3],
    /// One more resistor, Ω, and its ends.
    extra: Option<(f64, &'static str, &'static str)>,
}

impl Default for Follower {
    fn default() -> Self {
        Self {
            pins: COMMON_PINS,
            chip: "",
            logic: "or",
            inputs: vec!["field", "ball", "right"],
            rail_volts: 5.0,
            gate_volts: None,
            white_ohms: 2000.0,
            sync_ohms: 2200.0,
            left_ohms: Some(3300.0),
            pull_up_ohms: 3900.0,
            pull_down_ohms: 2000.0,
            emitter_ohms: 1000.0,
            series_ohms: 75.0,
            load_ohms: 75.0,
            transistor: Some("small NPN"),
            gain: 200.0,
            ties: ["rail5", "base", "emitter"],
            extra: None,
        }
    }
}

impl Follower {
    /// The sound board with its grey player through another resistance.
    pub(crate) fn with_left(left_ohms: f64) -> Self {
        Self { left_ohms: Some(left_ohms), ..Self::default() }
    }

    pub(crate) fn scenario(&self) -> Scenario {
        self.board().scenario("plug", self.load_ohms)
    }

    pub(crate) fn board(&self) -> Board {
        let left = if self.chip == BRIDGED { "joint" } else { "left" };
        self.board_of(&(self.pins.chip() + self.chip), left)
    }

    /// The board behind another chip, with the grey player taken from the node `left`.
    pub(crate) fn board_of(&self, chip: &str, left: &str) -> Board {
        let mut board = Board::new(chip).supply(self.rail_volts, "rail5");
        let gate_rail = if self.gate_volts.is_some() { "raw" } else { "rail5" };
        if let Some(volts) = self.gate_volts {
            board = board.supply(volts, gate_rail);
        }
        board = board
            .gate(self.logic, &self.inputs, "white", gate_rail)
            .resistor(self.white_ohms, "white", "base")
            .resistor(self.sync_ohms, "sync", "base")
            .resistor(self.pull_up_ohms, "rail5", "base")
            .resistor(self.pull_down_ohms, "base", "ground")
            .resistor(self.emitter_ohms, "emitter", "ground")
            .resistor(self.series_ohms, "emitter", "plug");
        if let Some(ohms) = self.left_ohms {
            board = board.resistor(ohms, left, "base");
        }
        if let Some(kind) = self.transistor {
            board = board.transistor(kind, self.gain, self.ties);
        }
        match self.extra {
            Some((ohms, from, to)) => board.resistor(ohms, from, to),
            None => board,
        }
    }
}

const BRIDGED: &str = "[chip.pins]\nright = \"joint\"\nleft = \"joint\"\n";
const INVERTED_SYNC: &str = "[chip.pin.sync]\nsense = \"high\"\n";

/// The board with the fault of that name in the table.
pub(crate) fn with_fault(name: &str) -> Option<Follower> {
    let sound = Follower::default();
    Some(match name {
        "none" => sound,
        "left trimmer at 0" => Follower { left_ohms: Some(10.0), ..sound },
        "left trimmer at 10 k" => Follower { left_ohms: Some(10e3), ..sound },
        "left trimmer wiper open" => Follower { left_ohms: Some(OPEN), ..sound },
        "white resistor 20 k instead of 2 k" => Follower { white_ohms: 20e3, ..sound },
        "white resistor open" => Follower { white_ohms: OPEN, ..sound },
        "white resistor shorted" => Follower { white_ohms: SHORT, ..sound },
        "sync resistor open" => Follower { sync_ohms: OPEN, ..sound },
        "sync resistor 22 k instead of 2.2 k" => Follower { sync_ohms: 22e3, ..sound },
        "sync resistor shorted" => Follower { sync_ohms: SHORT, ..sound },
        "bias pull-up open" => Follower { pull_up_ohms: OPEN, ..sound },
        "bias pull-up 390 instead of 3.9 k" => Follower { pull_up_ohms: 390.0, ..sound },
        "base pull-down open" => Follower { pull_down_ohms: OPEN, ..sound },
        "base pull-down 200 instead of 2 k" => Follower { pull_down_ohms: 200.0, ..sound },
        "emitter resistor open" => Follower { emitter_ohms: OPEN, ..sound },
        "series 75 shorted" => Follower { series_ohms: 0.5, ..sound },
        "series 75 is 750" => Follower { series_ohms: 750.0, ..sound },
        "series 75 open" => Follower { series_ohms: OPEN, ..sound },
        "two terminations (37.5)" => Follower { load_ohms: 37.5, ..sound },
        "no termination (1 M)" => Follower { load_ohms: 1e6, ..sound },
        "output shorted to ground (0.1)" => Follower { load_ohms: 0.1, ..sound },
        "sync and left wires exchanged" => {
            Follower { sync_ohms: 3300.0, left_ohms: Some(2200.0), ..sound }
        }
        _ => return transistor_fault(name, &sound).or_else(|| gate_fault(name, &sound)),
    })
}

fn transistor_fault(name: &str, sound: &Follower) -> Option<Follower> {
    let sound = sound.clone();
    Some(match name {
        "collector and emitter swapped" => Follower { ties: ["emitter", "base", "rail5"], ..sound },
        "emitter and base swapped" => Follower { ties: ["rail5", "emitter", "base"], ..sound },
        "collector and base swapped" => Follower { ties: ["base", "rail5", "emitter"], ..sound },
        "PNP fitted by mistake" => Follower { transistor: Some("small PNP"), ..sound },
        "base-emitter short" => Follower { extra: Some((SHORT, "base", "emitter")), ..sound },
        "base-collector short" => Follower { extra: Some((SHORT, "base", "rail5")), ..sound },
        "transistor open" => Follower { transistor: None, ..sound },
        "low-gain transistor (40)" => Follower { gain: 40.0, ..sound },
        _ => return None,
    })
}

fn gate_fault(name: &str, sound: &Follower) -> Option<Follower> {
    let sound = sound.clone();
    let pins = |high_volts, high_ohms, low_ohms| Pins { high_volts, high_ohms, low_ohms };
    Some(match name {
        "NOR instead of OR" => Follower { logic: "nor", ..sound },
        "AND instead of OR" => Follower { logic: "and", ..sound },
        "right input floating, reads low" => {
            Follower { inputs: vec!["field", "ball", "ground"], ..sound }
        }
        "right input floating, reads high" => {
            Follower { inputs: vec!["field", "ball", "rail5"], ..sound }
        }
        "right pin still loaded by 1 k of the old network" => {
            Follower { extra: Some((1e3, "right", "ground")), ..sound }
        }
        "right pin loaded by 3.3 k" => {
            Follower { extra: Some((3300.0, "right", "ground")), ..sound }
        }
        "right and left pins bridged" => {
            Follower { chip: BRIDGED, inputs: vec!["field", "ball", "joint"], ..sound }
        }
        "left also into the gate" => {
            Follower { left_ohms: None, inputs: vec!["field", "ball", "right", "left"], ..sound }
        }
        "sync inverted" => Follower { chip: INVERTED_SYNC, ..sound },
        "gate on raw 9 V: threshold 4.5 V, output 9 V" => {
            Follower { gate_volts: Some(9.0), ..sound }
        }
        "the same, right pin also loaded by 10 k" => {
            Follower { gate_volts: Some(9.0), extra: Some((10e3, "right", "ground")), ..sound }
        }
        "gate rail 4.0 V (regulator dropping out), VH 4.4" => {
            Follower { rail_volts: 4.0, pins: pins(4.4, 3300.0, 900.0), ..sound }
        }
        "weak battery: rail 3.3 V, VH 3.0" => {
            Follower { rail_volts: 3.3, pins: pins(3.0, 4500.0, 1300.0), ..sound }
        }
        "aged chip: RH 8 k" => Follower { pins: pins(5.4, 8e3, 800.0), ..sound },
        _ => return None,
    })
}

/// A coupling capacitor before the base, and the bias forgotten: once the capacitor is charged nothing
/// but junctions holds the base, and no current can be drawn there for long.
#[test]
fn a_follower_that_a_capacitor_leaves_without_bias_is_answered() {
    let variant = "base = \"scenarios/barn-biased.toml\"\nremove = [\"R3\", \"R4\"]\n\
                   [change]\n\"Q1.base\" = \"inner\"\n[board.CC]\ncapacitor = \"10 uF\"\n\
                   from = \"base\"\nto = \"inner\"\n";
    for transistor in ["small NPN", "BC547B"] {
        let mut fetch = |name: &str| match name {
            "variant.toml" => Ok(variant.to_owned()),
            other => std::fs::read_to_string(other),
        };
        let change = format!("Q1={transistor}");
        let scenario = backporch::scenario::load("variant.toml", &[change], &mut fetch).unwrap();
        let field = fields(&scenario, 1).swap_remove(0);
        let reading = examine(&scenario, &field).unwrap();
        assert!(reading.sync != SyncState::Good, "{transistor}");
        let words = reading.sync_cause.map(|cause| cause.words).unwrap_or_default();
        assert!(words.contains("It lacks a bias"), "{transistor}: {words}");
    }
}
