//! Ratings of transistors, diodes, resistors, capacitors, pins and the socket: each rule on a board
//! that breaks it and on the same board with the fault put right.

use crate::boards::Board;
use crate::follower::Follower;
use crate::follower::with_fault;
use crate::ratings::assert_told;
use crate::ratings::count;
use backporch::analysis::rating::Subject;
use backporch::analysis::rating::Word;
use backporch::scenario::Scenario;

/// An emitter follower whose base stands at 5 V, from `rail_volts`, with `ohms` at its emitter.
fn follower(rail_volts: f64, ohms: f64) -> Scenario {
    let board = Board::common().supply(rail_volts, "rail").supply(5.0, "rail5");
    let board = board.resistor(10.0, "rail5", "base").npn(["rail", "base", "emitter"]);
    let board = board.resistor(ohms, "emitter", "ground");
    board.resistor(4700.0, "field", "plug").scenario("plug", 75.0)
}

#[test]
fn a_transistors_current_and_heat_are_told() {
    // About 4.2 V at the emitter: 128 and 280 mA; 52 mA of 7.8 V, and 98 mA.
    assert_told(Subject::Current, Word::Look, &follower(5.0, 33.0), &follower(5.0, 330.0));
    assert_told(Subject::Current, Word::Stop, &follower(5.0, 15.0), &follower(5.0, 330.0));
    let heat = |ohms| heat_of(&follower(12.0, ohms), 'Q');
    assert_eq!([heat(82.0), heat(43.0), heat(330.0)], [Word::Look, Word::Stop, Word::Ok]);
}

#[test]
fn a_diodes_current_is_told() {
    let board = |ohms| {
        let board = Board::common().supply(5.0, "rail5").resistor(ohms, "rail5", "anode");
        let board = board.diode("anode", "ground").resistor(4700.0, "field", "plug");
        board.scenario("plug", 75.0)
    };
    assert_told(Subject::Current, Word::Look, &board(33.0), &board(330.0));
    assert_told(Subject::Current, Word::Stop, &board(15.0), &board(330.0));
}

#[test]
fn a_zeners_heat_is_told() {
    let board = |ohms| {
        let zener = "zener = \"6V2\"\nanode = \"ground\"\ncathode = \"raised\"";
        let board = Board::common().supply(12.0, "raw").resistor(ohms, "raw", "raised");
        let board = board.part("D", zener).resistor(4700.0, "field", "plug");
        board.scenario("plug", 75.0)
    };
    // 5.8 V over 100 ohm: 58 mA at 6.2 V, 0.36 W of which 0.25 W are looked at.
    assert_eq!(heat_of(&board(100.0), 'D'), Word::Look);
    assert_eq!(heat_of(&board(47.0), 'D'), Word::Stop);
    assert_eq!(heat_of(&board(1e3), 'D'), Word::Ok);
}

fn heat_of(scenario: &Scenario, letter: char) -> Word {
    let all = backporch::analysis::rating::ratings(scenario).unwrap();
    let mut all = all.iter().filter(|r| r.subject == Subject::Heat && r.part.starts_with(letter));
    all.next().unwrap().word
}

#[test]
fn an_emitter_pulled_beyond_its_base_is_told() {
    let board = |volts| {
        let board = Board::common().supply(volts, "rail").resistor(1e3, "rail", "emitter");
        let board = board.npn(["rail", "base", "emitter"]).resistor(100.0, "base", "ground");
        board.resistor(4700.0, "field", "plug").scenario("plug", 75.0)
    };
    assert_told(Subject::ReverseVolts, Word::Look, &board(5.5), &board(4.0));
    assert_told(Subject::ReverseVolts, Word::Stop, &board(9.0), &board(4.0));
}

#[test]
fn collector_and_emitter_exchanged_are_told() {
    let exchanged = with_fault("collector and emitter swapped").unwrap().scenario();
    assert_told(Subject::Exchanged, Word::Look, &exchanged, &Follower::default().scenario());
}

#[test]
fn a_resistors_heat_is_told_against_the_watts_it_states() {
    let board = |ohms, power: &str| {
        let lines = format!("resistor = {ohms}\nfrom = \"rail5\"\nto = \"ground\"\n{power}");
        let board = Board::common().supply(5.0, "rail5").part("R", &lines);
        board.resistor(4700.0, "field", "plug").scenario("plug", 75.0)
    };
    assert_told(Subject::Heat, Word::Look, &board(120.0, ""), &board(120.0, "power = \"0.5 W\""));
    assert_told(Subject::Heat, Word::Stop, &board(68.0, ""), &board(680.0, ""));
}

/// A follower straight from a supply, with `series` ohms before the socket.
fn driven(series: f64, load: f64) -> Scenario {
    let board = Board::common().supply(5.0, "rail5").resistor(10.0, "rail5", "base");
    let board = board.transistor("BC547", 200.0, ["rail5", "base", "emitter"]);
    board
        .resistor(1e3, "emitter", "ground")
        .resistor(series, "emitter", "plug")
        .scenario("plug", load)
}

#[test]
fn a_short_that_burns_the_output_is_told() {
    assert_told(Subject::Short, Word::Look, &driven(10.0, 75.0), &driven(150.0, 75.0));
}

#[test]
fn dc_at_the_socket_is_told() {
    assert_told(Subject::Dc, Word::Look, &driven(75.0, 75.0), &Follower::default().scenario());
}

/// The follower with a capacitor before its socket.
fn coupled(farads: &str, lines: &str, [from, to]: [&str; 2]) -> Scenario {
    let lines = format!(
        "capacitor = \"{farads}\"\nkind = \"electrolytic\"\nfrom = \"{from}\"\nto = \"{to}\"\n{lines}"
    );
    Follower::default()
        .board()
        .part("C", &lines)
        .resistor(1e3, "jack", "ground")
        .scenario("jack", 75.0)
}

const ROUND: [&str; 2] = ["plug", "jack"];

#[test]
fn the_capacitor_before_the_socket_is_told_if_small_reversed_or_of_few_volts() {
    let good = coupled("470 uF", "rated = \"10 V\"", ROUND);
    let small = coupled("47 uF", "rated = \"10 V\"", ROUND);
    assert_told(Subject::Coupling, Word::Look, &small, &good);
    let weak = coupled("470 uF", "rated = \"6.3 V\"", ROUND);
    assert_told(Subject::CouplingRating, Word::Look, &weak, &good);
    // Only an electrolytic has a plus end; the porch has to stand above what one bears.
    let turned = coupled("470 uF", "rated = \"10 V\"", ["jack", "plug"]);
    assert_told(Subject::Polarity, Word::Stop, &turned, &good);
}

#[test]
fn a_capacitor_is_held_to_its_volts_and_its_plus_end_anywhere() {
    let board = |rated: &str, [from, to]: [&str; 2]| {
        let lines = format!(
            "capacitor = \"100 uF\"\nkind = \"electrolytic\"\nrated = \"{rated}\"\n\
             from = \"{from}\"\nto = \"{to}\""
        );
        let board = Board::common().supply(9.0, "raw").part("C", &lines);
        board.resistor(4700.0, "field", "plug").scenario("plug", 75.0)
    };
    let good = board("16 V", ["raw", "ground"]);
    assert_told(Subject::CapacitorVolts, Word::Stop, &board("6.3 V", ["raw", "ground"]), &good);
    assert_told(Subject::CapacitorVolts, Word::Look, &board("10 V", ["raw", "ground"]), &good);
    assert_told(Subject::Polarity, Word::Stop, &board("16 V", ["ground", "raw"]), &good);
}

#[test]
fn white_and_depth_outside_what_a_set_expects_are_told() {
    let sound = Follower::default().scenario();
    let faulty = |name| with_fault(name).unwrap().scenario();
    let dim = faulty("series 75 is 750");
    assert_told(Subject::White, Word::Look, &dim, &sound);
    let shallow = faulty("sync resistor 22 k instead of 2.2 k");
    assert_told(Subject::Depth, Word::Look, &shallow, &sound);
}

#[test]
fn what_a_pin_gives_and_takes_is_told() {
    let board = |ohms: f64, rail: &str| {
        let board = Board::common().supply(5.0, "rail5").resistor(ohms, "ball", rail);
        board.resistor(4700.0, "field", "plug").scenario("plug", 75.0)
    };
    assert_told(Subject::PinSource, Word::Look, &board(1e3, "ground"), &board(10e3, "ground"));
    assert_told(Subject::PinSink, Word::Look, &board(1e3, "rail5"), &board(10e3, "rail5"));
}

#[test]
fn outputs_on_one_node_fight_and_on_two_do_not() {
    let chip = crate::boards::COMMON_PINS.chip();
    let board = |more: &str, input: &str| {
        crate::ratings::gated(Board::new(&(chip.clone() + more)), input, "plain", 5.0)
    };
    let joined = board("[chip.pins]\nright = \"joint\"\nleft = \"joint\"\n", "joint");
    assert_eq!(count(&joined, Subject::Contention, Word::Stop), 1);
    let apart = board("", "right");
    assert_eq!(count(&apart, Subject::Contention, Word::Stop), 0);
    assert_eq!(count(&apart, Subject::FloatingInput, Word::Ok), 1);
}

#[test]
fn a_gate_that_drives_too_much_is_told() {
    let board = |ohms| {
        let board = Board::common().supply(5.0, "rail5");
        let board = board.gate("buffer", &["field"], "white", "rail5");
        board.resistor(ohms, "white", "plug").scenario("plug", 75.0)
    };
    assert_told(Subject::GateOutput, Word::Look, &board(430.0), &board(1500.0));
    assert_told(Subject::GateOutput, Word::Stop, &board(33.0), &board(1500.0));
}
