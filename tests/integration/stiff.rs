//! Boards in time against a general-purpose stiff solver that knows nothing of the product's.

use crate::boards::Board;
use crate::boards::Pins;
use crate::boards::chip_driven_by;
use crate::published::show;
use crate::witness::Testimony;
use crate::witness::testify;
use backporch::base::math;
use backporch::base::ticks::ClockRate;
use backporch::base::ticks::Tick;
use backporch::base::ticks::TickSpan;
use backporch::network::circuit::Circuit;
use backporch::network::circuit::NodeId;
use backporch::network::operating_point::Network;
use backporch::network::transient::Transient;
use backporch::network::transient::TransientSpec;
use backporch::signal::pulse_train::Edge;
use backporch::signal::pulse_train::Level;
use backporch::signal::pulse_train::PulseTrain;

pub(crate) const CLOCK_HZ: u64 = 2_000_000;
const CLOCKS_PER_LINE: u64 = 128;
const LINES: u64 = 2;
/// Close enough to see every edge of a gate.
const SAMPLES_PER_CLOCK: u32 = 32;

/// Sync low for nine clocks of a line; every other pin high twice in a line, some together.
fn train(pin: u64, name: &str) -> PulseTrain {
    let mut edges = Vec::new();
    for line in 0..LINES {
        let mut pulse = |from: u64, to: u64, level: Level| {
            let back = if level == Level::HIGH { Level::LOW } else { Level::HIGH };
            let tick = |clock| Tick(line * CLOCKS_PER_LINE + clock);
            edges.push(Edge { at: tick(from), level });
            edges.push(Edge { at: tick(to), level: back });
        };
        if name == "sync" {
            pulse(3, 12, Level::LOW);
        } else {
            pulse(22 + 7 * pin + line, 25 + 8 * pin + line, Level::HIGH);
            pulse(66 + 11 * pin, 76 + 11 * pin, Level::HIGH);
        }
    }
    let initial = if name == "sync" { Level::HIGH } else { Level::LOW };
    PulseTrain::new(initial, edges, TickSpan(LINES * CLOCKS_PER_LINE))
}

/// A board and what its pins do.
pub(crate) struct Case {
    pub(crate) name: &'static str,
    pub(crate) circuit: Circuit,
    pub(crate) trains: Vec<PulseTrain>,
    pub(crate) default_v: f64,
}

impl Case {
    fn new(name: &'static str, board: &Board, node: &str, load_ohms: f64) -> Self {
        let scenario = board.scenario(node, load_ohms);
        let (circuit, default_v) = (scenario.circuit, scenario.solve.tolerance_v);
        let names: Vec<String> =
            circuit.pins().map(|(part, _)| circuit.parts[part.0].name.clone()).collect();
        let trains = (0..).zip(&names).map(|(pin, name)| train(pin, name)).collect();
        Self { name, circuit, trains, default_v }
    }

    fn idle(&self) -> Vec<Level> {
        self.trains.iter().map(PulseTrain::initial).collect()
    }

    fn testimony(&self) -> Testimony {
        let standing = Network::new(&self.circuit).unwrap().operating_point(&self.idle()).unwrap();
        let grid = (math::from_u64(CLOCK_HZ), f64::from(SAMPLES_PER_CLOCK));
        testify(&self.circuit, &standing, &self.trains, grid)
    }

    /// The product's samples, node after node.
    fn solved(&self, tolerance_v: f64) -> Vec<Vec<f32>> {
        let network = Network::new(&self.circuit).unwrap();
        let standing = network.operating_point(&self.idle()).unwrap();
        let spec = TransientSpec {
            clock: ClockRate::new(CLOCK_HZ, 1).unwrap(),
            samples_per_clock: SAMPLES_PER_CLOCK,
            tolerance_v,
            taps: (0..self.circuit.nodes.len()).map(NodeId).collect(),
        };
        let mut run = Transient::new(&network, &self.circuit, &standing, &self.idle(), spec);
        run.advance_field(&self.trains).unwrap()
    }

    /// Largest error at any node, V: anywhere, and further than 50 ns from any driver's move.
    fn errors_v(&self, seen: &Testimony, tolerance_v: f64) -> (f64, f64) {
        let solved = self.solved(tolerance_v);
        let step_s = 1.0 / (math::from_u64(CLOCK_HZ) * f64::from(SAMPLES_PER_CLOCK));
        let (mut anywhere, mut away) = (0.0_f64, 0.0_f64);
        for (sample, volts) in seen.volts.iter().enumerate().take(solved[0].len()) {
            let at_s = math::from_usize(sample) * step_s;
            let near = |&(start, end): &(f64, f64)| at_s > start - 1e-9 && at_s < end + 50e-9;
            let quiet = !seen.moves.iter().any(near);
            for (node, volts) in volts.iter().enumerate() {
                let error = (volts - f64::from(solved[node][sample])).abs();
                anywhere = anywhere.max(error);
                if quiet {
                    away = away.max(error);
                }
            }
        }
        (anywhere, away)
    }
}

/// Weak high, strong low, 6 V supply, saturating; edges of 60 and 40 ns.
const SQUARE_LAW: &str = "kind = \"square-law\"\nk_high = 0.5e-3\nthreshold_high = 1.2\n\
    k_low = 1.5e-3\nthreshold_low = 1.0\nrise = \"60 ns\"\nfall = \"40 ns\"";

fn gate(board: Board, family: &str, logic: &str, inputs: &[&str], output: &str) -> Board {
    let lines = format!(
        "gate = \"{logic}\"\nfamily = \"{family}\"\ninputs = {inputs:?}\noutput = \"{output}\"\n\
         supply = \"rail\""
    );
    board.part("U", &lines)
}

fn capacitor(board: Board, farads: &str, from: &str, to: &str) -> Board {
    let lines = format!("capacitor = \"{farads}\"\nfrom = \"{from}\"\nto = \"{to}\"");
    board.part("C", &lines)
}

fn transistor(board: Board, kind: &str, [collector, base, emitter]: [&str; 3]) -> Board {
    let lines = format!(
        "transistor = \"{kind}\"\ncollector = \"{collector}\"\nbase = \"{base}\"\n\
         emitter = \"{emitter}\""
    );
    board.part("Q", &lines)
}

fn adder() -> Case {
    let board = Board::common()
        .resistor(1e3, "sync", "plug")
        .resistor(2.2e3, "field", "plug")
        .resistor(2.2e3, "ball", "plug")
        .resistor(3.3e3, "left", "plug")
        .resistor(2.7e3, "right", "plug");
    Case::new("plain adder", &board, "plug", 75.0)
}

fn diode_adder() -> Case {
    let mut board = Board::common().resistor(1e3, "sync", "mix").resistor(470.0, "mix", "plug");
    for pin in ["field", "ball", "left", "right"] {
        board = board.part(
            "D",
            &format!("diode = \"silicon signal\"\nanode = \"{pin}\"\ncathode = \"mix\""),
        );
    }
    Case::new("diode adder", &board, "plug", 75.0)
}

/// A collector current that follows its voltage, and a gain that falls at both ends.
const SAGGING_NPN: &str = "small NPN\"\nearly_voltage = 60\nknee_current = 0.1\n\
    base_leakage = 4e-12\nleakage_emission = \"2";

fn two_transistors() -> Case {
    let board = Board::common()
        .supply(5.0, "rail")
        .resistor(10e3, "field", "base")
        .resistor(10e3, "ball", "base")
        .resistor(22e3, "sync", "base")
        .resistor(47e3, "base", "ground")
        .resistor(1e3, "rail", "collector")
        .resistor(220.0, "emitter", "ground")
        .resistor(100.0, "low", "plug");
    let board = transistor(board, SAGGING_NPN, ["collector", "base", "emitter"]);
    let board = transistor(board, "small PNP", ["ground", "collector", "low"])
        .resistor(150.0, "rail", "low");
    Case::new("two transistors", &board, "plug", 75.0)
}

fn clamped_gates() -> Case {
    let board = Board::new(
        &chip_driven_by(SQUARE_LAW)
            .replace("[chip.timing]", "[chip]\nsupply = \"chip_rail\"\n[chip.timing]"),
    )
    .supply(6.5, "chip_rail")
    .supply(5.0, "rail")
    .resistor(1.5e3, "marks", "mix")
    .resistor(1.8e3, "shown", "mix")
    .resistor(2.7e3, "sync", "mix")
    .resistor(1.5e3, "mix", "plug");
    let board = gate(board, "4000B", "or", &["field", "ball"], "marks");
    let board = gate(board, "4000B", "nand", &["left", "right"], "shown");
    Case::new("square-law pins, clamps, saturating gates", &board, "plug", 75.0)
}

fn pnp_follower() -> Case {
    let board = Board::new(&Pins { high_volts: 5.4, high_ohms: 3e3, low_ohms: 800.0 }.chip())
        .supply(5.0, "rail")
        .resistor(1.5e3, "white", "mix")
        .resistor(2.7e3, "sync", "mix")
        .resistor(3.9e3, "left", "mix")
        .resistor(1.5e3, "mix", "ground")
        .resistor(120.0, "rail", "drive")
        .resistor(75.0, "drive", "plug");
    let board = gate(board, "74HC", "or", &["field", "ball"], "white");
    let board = transistor(board, "small PNP", ["ground", "mix", "drive"]);
    Case::new("gate and PNP follower", &board, "plug", 75.0)
}

fn coupled_follower() -> Case {
    let board = Board::common()
        .supply(5.0, "rail")
        .resistor(1.8e3, "field", "base")
        .resistor(2.2e3, "sync", "base")
        .resistor(3.6e3, "left", "base")
        .resistor(2.2e3, "rail", "base")
        .resistor(1.8e3, "base", "ground")
        .resistor(150.0, "emitter", "ground")
        .resistor(75.0, "lead", "plug");
    let board = transistor(board, "small NPN", ["rail", "base", "emitter"]);
    let board = capacitor(board, "470 uF", "emitter", "lead");
    Case::new("coupled follower", &board, "plug", 75.0)
}

fn unbiased_follower() -> Case {
    let board = Board::common()
        .supply(5.0, "rail")
        .resistor(1e3, "field", "base")
        .resistor(1.5e3, "ball", "base")
        .resistor(4.7e3, "sync", "base")
        .resistor(75.0, "emitter", "plug")
        .resistor(1e3, "emitter", "ground");
    let board = transistor(board, "small NPN", ["rail", "base", "emitter"]);
    Case::new("unbiased follower", &board, "plug", 75.0)
}

fn ringing() -> Case {
    let chip = chip_driven_by(
        "kind = \"fixed\"\nhigh_volts = 5.4\nhigh_ohms = 150\nlow_volts = 0\nlow_ohms = 60\n\
         rise = \"30 ns\"\nfall = \"20 ns\"",
    );
    let mut board = Board::new(&chip)
        .resistor(470.0, "sync", "end0")
        .resistor(680.0, "field", "end0")
        .resistor(680.0, "ball", "end0");
    // Four metres of lead in four pieces: 0.5 uH and 50 pF each, 100 Ω, unterminated; the
    // resistor across a piece is its loss, which grows with frequency.
    for piece in 0..4 {
        let (from, to) = (format!("end{piece}"), format!("end{}", piece + 1));
        board = board.part(
            "L",
            &format!("inductor = \"0.5 uH\"\nfrom = \"{from}\"\nto = \"{to}\"\nresistance = 0.2"),
        );
        board = capacitor(board.resistor(1e3, &from, &to), "50 p", &to, "ground");
    }
    Case::new("ringing lead", &board, "end4", 10e3)
}

fn open_drain() -> Case {
    let chip = chip_driven_by("kind = \"open-drain\"\nk_low = 1.5e-3\nthreshold_low = 1.0")
        .replace("[chip.timing]", "[chip]\nsupply = \"rail\"\n[chip.timing]");
    let mut board = Board::new(&chip).supply(5.0, "rail");
    for pin in ["sync", "field", "ball", "left", "right"] {
        board = board.resistor(4.7e3, "rail", pin);
    }
    let board = board
        .resistor(1e3, "white", "plug")
        .resistor(1.5e3, "sync", "plug")
        .resistor(4.7e3, "grey", "plug");
    let board = gate(board, "74HC", "nand", &["field", "ball"], "white");
    let board = gate(board, "4000B", "not", &["left"], "grey");
    Case::new("open drain and inverters", &board, "plug", 75.0)
}

/// Two inputs of one gate that cross their thresholds at one moment.
fn joined_inputs() -> Case {
    let board = Board::common()
        .supply(5.0, "rail")
        .resistor(10e3, "ball", "first")
        .resistor(10e3, "ball", "second")
        .resistor(1.5e3, "white", "plug")
        .resistor(1.5e3, "sync", "plug");
    let board = gate(board, "4000B", "or", &["first", "second"], "white");
    Case::new("two inputs turned at one moment", &board, "plug", 75.0)
}

/// All of them.
pub(crate) fn cases() -> Vec<Case> {
    vec![
        adder(),
        diode_adder(),
        two_transistors(),
        clamped_gates(),
        pnp_follower(),
        coupled_follower(),
        unbiased_follower(),
        ringing(),
        open_drain(),
        joined_inputs(),
    ]
}

#[test]
fn boards_stay_within_a_hundredth_of_an_ire_of_a_stiff_solver() {
    let mut failures = Vec::new();
    show("| board | 1 mV | 200 µV | 50 µV | 10 µV | 2 µV | 10 µV, away from edges |");
    for case in cases() {
        let seen = case.testimony();
        let tolerances_v = [1e-3, 200e-6, 50e-6, case.default_v, 2e-6];
        let errors = tolerances_v.map(|tolerance_v| case.errors_v(&seen, tolerance_v));
        let uv: Vec<String> = errors.iter().map(|error| format!("{:.1}", error.0 * 1e6)).collect();
        let away = errors[3].1 * 1e6;
        show(&format!(
            "| {} | {} | {} | {} | {} | {} | {away:.1} |",
            case.name, uv[0], uv[1], uv[2], uv[3], uv[4]
        ));
        let falls = errors[4].0 < 0.3 * errors[0].0;
        if errors[3].0 > 100e-6 || errors[3].1 > 70e-6 || !falls {
            failures.push(case.name);
        }
    }
    assert!(failures.is_empty(), "{failures:?}");
}
