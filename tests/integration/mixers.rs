//! Levels of the common ways to mix a game chip's outputs, and of one of them with one fault at a
//! time.
//!
//! The tables print whole millivolts, differences by themselves, so that each number is off by up to
//! half of one. Ours are not rounded.

use crate::boards::Board;
use crate::boards::COLUMNS;
use crate::boards::COMMON_PINS;
use crate::boards::ELEMENTS;
use crate::boards::columns_mv;
use crate::boards::read;
use crate::follower;
use crate::follower::Follower;
use crate::published;
use backporch::scenario::Scenario;

/// Half a unit of the last printed digit, and 10 µV for where both solvers stop, mV.
const TOLERANCE_MV: f64 = 0.51;

/// The set's input, Ω.
const SET: f64 = 75.0;

/// Compares every row with its board; all differences are shown at once.
fn compare(table: &str, count: usize, board_of: impl Fn(&str) -> Option<Scenario>) {
    let mut wrong = Vec::new();
    let mut worst_mv = 0.0_f64;
    let rows = published::numbers(table);
    assert_eq!(rows.len(), count);
    for (name, expected) in &rows {
        let scenario = board_of(name).unwrap_or_else(|| panic!("no board is called `{name}`"));
        let found = columns_mv(&scenario);
        for ((column, found), expected) in COLUMNS.iter().zip(found).zip(expected) {
            let off_mv = (found - expected).abs();
            worst_mv = worst_mv.max(off_mv);
            if off_mv > TOLERANCE_MV {
                wrong.push(format!("{name}: {column} is {found:.3} mV, printed {expected}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{} differences:\n{}", wrong.len(), wrong.join("\n"));
    published::show(&format!("{table}: {} rows, worst difference {worst_mv:.3} mV", rows.len()));
}

fn rail5(board: Board) -> Board {
    board.supply(5.0, "rail5")
}

fn adder(white_ohms: f64, left_ohms: f64, sync_ohms: f64) -> Board {
    Board::common()
        .resistor(white_ohms, "field", "plug")
        .resistor(white_ohms, "ball", "plug")
        .resistor(white_ohms, "right", "plug")
        .resistor(left_ohms, "left", "plug")
        .resistor(sync_ohms, "sync", "plug")
}

fn diode_adder(left_ohms: f64, feed_ohms: f64) -> Board {
    Board::common()
        .diode("field", "bus")
        .diode("ball", "bus")
        .diode("right", "bus")
        .resistor(left_ohms, "left", "left_in")
        .diode("left_in", "bus")
        .resistor(4700.0, "bus", "ground")
        .resistor(5600.0, "sync", "bus")
        .resistor(feed_ohms, "bus", "plug")
}

/// White from an OR of three, sync from a buffer.
fn gated(white_ohms: f64, sync_ohms: f64) -> Board {
    rail5(Board::common())
        .gate("or", &ELEMENTS[..3], "white", "rail5")
        .resistor(white_ohms, "white", "plug")
        .gate("buffer", &["sync"], "sync_out", "rail5")
        .resistor(sync_ohms, "sync_out", "plug")
}

fn left_by_gate(board: Board) -> Board {
    board.gate("buffer", &["left"], "left_out", "rail5")
}

fn or_of_four() -> Board {
    rail5(Board::common())
        .gate("or", &ELEMENTS, "white", "rail5")
        .resistor(470.0, "white", "plug")
        .gate("buffer", &["sync"], "sync_out", "rail5")
        .resistor(1e3, "sync_out", "plug")
}

fn unbiased_follower() -> Board {
    rail5(Board::common())
        .gate("or", &ELEMENTS[..3], "white", "rail5")
        .resistor(680.0, "white", "base")
        .resistor(8200.0, "left", "base")
        .resistor(820.0, "base", "ground")
        .npn(["rail5", "base", "emitter"])
        .resistor(330.0, "emitter", "ground")
        .resistor(75.0, "emitter", "plug")
        .gate("buffer", &["sync"], "sync_out", "rail5")
        .resistor(1200.0, "sync_out", "plug")
}

pub(crate) fn pnp_follower() -> Board {
    rail5(Board::common())
        .gate("or", &ELEMENTS[..3], "white", "rail5")
        .resistor(2200.0, "white", "base")
        .resistor(3300.0, "sync", "base")
        .resistor(3900.0, "left", "base")
        .resistor(1500.0, "base", "ground")
        .transistor("small PNP", 200.0, ["ground", "base", "emitter"])
        .resistor(120.0, "rail5", "emitter")
        .resistor(75.0, "emitter", "plug")
}

fn sync_pull_down() -> Board {
    let board = rail5(Board::common())
        .resistor(1100.0, "rail5", "plug")
        .gate("or", &ELEMENTS[..3], "white", "rail5")
        .resistor(430.0, "white", "plug")
        .gate("not", &["sync"], "pulse", "rail5")
        .resistor(4700.0, "pulse", "base")
        .npn(["plug", "base", "ground"]);
    left_by_gate(board).resistor(1e3, "left_out", "plug")
}

fn dark_player() -> Board {
    left_by_gate(gated(750.0, 560.0))
        .resistor(4700.0, "left_out", "base")
        .resistor(91.0, "plug", "collector")
        .npn(["collector", "base", "ground"])
}

/// The combined pin of the later kind of chip; its supply is at its nominal 6.5 V.
fn combined_pin() -> Board {
    let mut chip = "[chip]\nprofile = \"combined-50\"\nsupply = \"rail6\"\n\
                    [chip.pins]\ncombined = \"combined\"\n[chip.pin.combined]\n"
        .to_owned();
    for (level, volts) in [("tip", 0.3), ("black", 1.2), ("grey", 1.9), ("white", 2.6)] {
        chip += &format!("{level} = {{ volts = {volts}, ohms = 1500 }}\n");
    }
    Board::new(&chip).supply(6.5, "rail6")
}

/// The mixers. M11, an ideal switch and amplifier, has nothing in it to be solved and is left out.
fn mixer(name: &str) -> Option<Scenario> {
    let (board, load_ohms) = match name {
        "M1" => (adder(4700.0, 15e3, 12e3), 2200.0),
        "M2" => (adder(470.0, 2200.0, 1500.0), SET),
        "M3" => (diode_adder(10.0, 2200.0), 1e3),
        "M3b" => (diode_adder(10e3, 2200.0), 1e3),
        "M3c" => (diode_adder(10e3, 1e3), 1e3),
        "M3d" => (diode_adder(10e3, 6800.0), 1e3),
        "M4" => (or_of_four(), SET),
        "M5" => (gated(430.0, 1e3).resistor(100.0, "left", "plug"), SET),
        "M5b" => (gated(430.0, 1e3).resistor(4700.0, "left", "plug"), SET),
        "M5c" => (left_by_gate(gated(390.0, 1e3)).resistor(1e3, "left_out", "plug"), SET),
        "M6" => return Some(Follower::default().scenario()),
        "M7" => (unbiased_follower(), SET),
        "M8" => (pnp_follower(), SET),
        "M9" => (sync_pull_down(), SET),
        "M10" => (dark_player(), SET),
        "M13" => return Some(combined_pin().scenario("combined", 4700.0)),
        "M13b" => {
            let board = combined_pin().resistor(4700.0, "combined", "ground");
            (board.resistor(75.0, "combined", "plug"), SET)
        }
        _ => return None,
    };
    Some(board.scenario("plug", load_ohms))
}

#[test]
fn the_levels_of_seventeen_mixers_are_the_printed_ones() {
    compare("mixers.csv", 17, mixer);
}

#[test]
fn the_levels_of_a_follower_with_one_fault_at_a_time_are_the_printed_ones() {
    compare("one_fault.csv", 44, |name| follower::with_fault(name).map(|board| board.scenario()));
}

/// The same board with every gate's output resistance stated.
fn with_gate_ohms(board: &Board, ohms: u32) -> Scenario {
    let text = board.text("plug", SET, "");
    assert!(text.contains("family = \"plain\"\n"));
    let stated = format!("family = \"plain\"\noutput_resistance = {ohms}\n");
    read(&text.replace("family = \"plain\"\n", &stated))
}

#[test]
fn a_weaker_gate_dims_white_as_printed() {
    // Output resistance of a 4000B gate at 5 V, typical and worst: 455 and 909 ohm, from its data
    // sheet's 0.88 and 0.44 mA at 0.4 V. White in mV computed by nodal analysis with a second
    // solver, no published source.
    for (ohms, four_inputs, follower) in
        [(50, 593.0, 695.0), (455, 358.0, 609.0), (909, 249.0, 535.0)]
    {
        for (board, printed) in
            [(or_of_four(), four_inputs), (Follower::default().board(), follower)]
        {
            let white_mv = columns_mv(&with_gate_ohms(&board, ohms))[3];
            assert!((white_mv - printed).abs() < TOLERANCE_MV, "{ohms} ohm: {white_mv} mV");
        }
    }
}

#[test]
fn a_combined_pin_in_the_left_players_place_raises_everything() {
    // 0.3, 1.2, 1.9 and 2.6 V behind 2 kilohms, the built-in chip's own. Field and depth in mV
    // computed by nodal analysis with a second solver, no published source.
    let chip = "[chip]\nprofile = \"combined-50\"\nsupply = \"rail6\"\n";
    for (left, printed) in [("left", [609.0, 322.0]), ("combined", [715.0, 393.0])] {
        let board = Follower::default().board_of(chip, left).supply(6.5, "rail6");
        let [_, _, depth, field, ..] = columns_mv(&with_gate_ohms(&board, 455));
        for (found, printed) in [field, depth].into_iter().zip(printed) {
            assert!((found - printed).abs() < TOLERANCE_MV, "{left}: {found} mV, {printed}");
        }
    }
}

#[test]
fn a_lead_from_the_old_adder_straight_to_the_set_loses_both_players() {
    let board = Board::common()
        .resistor(4700.0, "field", "plug")
        .resistor(4700.0, "ball", "plug")
        .resistor(15e3, "right", "plug")
        .resistor(15e3, "left", "plug")
        .resistor(12e3, "sync", "plug")
        .resistor(2200.0, "plug", "ground");
    let [_, _, _, field, _, right, left, ..] = columns_mv(&board.scenario("plug", SET));
    // Computed by nodal analysis with a second solver, no published source.
    for (found, printed) in [(field, 49.0), (right, 21.0), (left, 21.0)] {
        assert!((found - printed).abs() < TOLERANCE_MV, "{found} mV, printed {printed}");
    }
}

#[test]
fn a_ladder_has_every_combination_with_sync_released_and_asserted() {
    let scenario = Follower::default().scenario();
    let solved = crate::boards::own_ladder(&scenario);
    assert_eq!(solved.levels.len(), 32);
    assert_eq!(COMMON_PINS.chip().matches("[chip.pattern.").count(), ELEMENTS.len());
}
