//! A chip pin under load, players joined on one gate input, and a follower without bias: examples
//! whose printed answers are in `tests/published`, and whose formulas are evaluated here.

use crate::boards::Board;
use crate::boards::COMMON_PINS;
use crate::boards::chip_driven_by;
use crate::boards::columns_mv;
use crate::boards::standing_volts;
use crate::follower::Follower;
use crate::published;
use backporch::base::math;

/// Half a unit of what is printed to 10 mV, V; and 10 µV for where the other solver stops.
const HALF_OF_10_MV: f64 = 5e-3 + 1e-5;
/// Between the solver, which stops at 1e-10 V, and a formula in double precision, V.
const SAME_V: f64 = 1e-8;

/// Pins of the square law: pull-up 0.5 mA/V², 1.2 V; pull-down 1.5 mA/V², 1.0 V.
const SQUARE_LAW: &str = "kind = \"square-law\"\nk_high = \"0.5 mA/V2\"\nthreshold_high = 1.2\n\
                          k_low = \"1.5 mA/V2\"\nthreshold_low = 1.0";
/// The linear stand-in that follows the supply, which is at its nominal 6.5 V.
const LINEAR: &str =
    "kind = \"linear\"\nhigh_volts = 5.4\nhigh_ohms = 3000\nlow_volts = 0\nlow_ohms = 800";

/// A high pin into a resistance, V.
fn loaded_high_v(drive: &str, load_ohms: f64) -> f64 {
    let chip = format!("[chip]\nsupply = \"rail6\"\n{}", chip_driven_by(drive));
    let board = Board::new(&chip).supply(6.5, "rail6");
    standing_volts(&board.scenario("left", load_ohms), &["left"], "left")
}

#[test]
fn a_pin_under_load_gives_the_printed_volts_and_its_own_equation() {
    let rows = published::numbers("pin_load.csv");
    assert_eq!(rows.len(), 8);
    for (load_ohms, expected) in rows {
        let load_ohms: f64 = load_ohms.parse().unwrap();
        let linear_v = loaded_high_v(LINEAR, load_ohms);
        let square_v = loaded_high_v(SQUARE_LAW, load_ohms);
        assert!((linear_v - expected[0]).abs() < HALF_OF_10_MV, "{load_ohms} ohm: {linear_v}");
        assert!((square_v - expected[1]).abs() < HALF_OF_10_MV, "{load_ohms} ohm: {square_v}");
        assert!((linear_v - 5.4 * load_ohms / (load_ohms + 3e3)).abs() < SAME_V);
        // v / R = (k / 2) (vs - threshold - v)², solved for v with the minus sign of the root; R with
        // the 1 GΩ that every such stage leaks.
        let (k, ceiling, siemens) = (0.5e-3, 6.5 - 1.2, 1.0 / load_ohms + 1e-9);
        let half = ceiling + siemens / k;
        let exact_v = half - (half * half - ceiling * ceiling).sqrt();
        assert!((square_v - exact_v).abs() < SAME_V, "{load_ohms} ohm: {square_v}, {exact_v}");
    }
}

#[test]
fn idle_pins_hung_on_an_adder_pull_it_down_as_a_divider_says() {
    for (idle, printed_v) in [2.56, 1.41, 0.97, 0.74, 0.60].into_iter().enumerate() {
        let mut board = Board::common().resistor(2200.0, "field", "node");
        for pin in ["ball", "right", "left", "sync"].iter().take(idle) {
            board = board.resistor(2200.0, pin, "node");
        }
        let found_v = standing_volts(&board.scenario("node", 4700.0), &["field"], "node");
        let siemens = 1.0 / 5200.0 + 1.0 / 4700.0 + f64::from(u8::try_from(idle).unwrap()) / 3e3;
        assert!((found_v - 5.4 / 5200.0 / siemens).abs() < SAME_V, "{idle} idle pins");
        assert!((found_v - printed_v).abs() < HALF_OF_10_MV, "{idle} idle pins: {found_v} V");
    }
}

/// Both players on one input of a 5 V gate, through a resistance each.
fn joined(each_ohms: f64) -> Board {
    let board = if each_ohms > 0.0 {
        Board::common().resistor(each_ohms, "right", "joint").resistor(each_ohms, "left", "joint")
    } else {
        let ties = "[chip.pins]\nright = \"joint\"\nleft = \"joint\"\n";
        Board::new(&(COMMON_PINS.chip() + ties))
    };
    gated(board)
}

fn gated(board: Board) -> Board {
    board.supply(5.0, "rail5").gate("or", &["field", "ball", "joint"], "plug", "rail5")
}

/// Volts at the joined input and whether the gate sees the player.
fn joined_input(board: &Board) -> (f64, bool) {
    let scenario = board.scenario("plug", 1e6);
    let volts = standing_volts(&scenario, &["right"], "joint");
    (volts, standing_volts(&scenario, &["right"], "plug") > 2.5)
}

#[test]
fn two_players_on_one_gate_input_are_lost_up_to_13_kilohms() {
    let rows = published::rows("joined_players.csv");
    assert_eq!(rows.len(), 8);
    for row in rows {
        let (each_ohms, printed_v): (f64, f64) = (row[0].parse().unwrap(), row[1].parse().unwrap());
        let (found_v, seen) = joined_input(&joined(each_ohms));
        let formula_v = 5.4 * (800.0 + each_ohms) / (3000.0 + 800.0 + 2.0 * each_ohms);
        assert!((found_v - formula_v).abs() < SAME_V, "{each_ohms} ohm: {found_v} V");
        assert!((found_v - printed_v).abs() < HALF_OF_10_MV, "{each_ohms} ohm: {found_v} V");
        assert_eq!(seen, row[2] == "seen", "{each_ohms} ohm");
    }
    // v = 2.5 V at (2.5 x 3.8 - 5.4 x 0.8) / (5.4 - 5.0) = 12.95 kilohms.
    assert!(!joined_input(&joined(12_949.0)).1);
    assert!(joined_input(&joined(12_951.0)).1);
}

#[test]
fn diodes_let_two_players_share_a_gate_input() {
    let board = Board::common().diode("right", "joint").diode("left", "joint");
    let (found_v, seen) = joined_input(&gated(board.resistor(47e3, "joint", "ground")));
    assert!((found_v - 4.61).abs() < HALF_OF_10_MV, "{found_v} V");
    assert!(seen);
}

#[test]
fn an_old_diode_network_left_in_place_loads_the_pin_as_printed() {
    for (ohms, printed_v) in [(1e3, 1.81), (1.5e3, 2.20), (2.2e3, 2.63), (3.3e3, 3.11)] {
        let board = Board::common().diode("right", "old");
        let scenario = board.scenario("old", ohms);
        let found_v = standing_volts(&scenario, &["right"], "right");
        assert!((found_v - printed_v).abs() < HALF_OF_10_MV, "{ohms} ohm: {found_v} V");
    }
}

/// Gate, sync and left player at the base of a follower; the transistor can be left out.
fn unbiased(left_ohms: f64, sync_ohms: f64, bias_ohms: Option<f64>) -> Board {
    let board = Board::common()
        .supply(5.0, "rail5")
        .gate("or", &["field", "ball", "right"], "white", "rail5")
        .resistor(1500.0, "white", "base")
        .resistor(sync_ohms, "sync", "base")
        .resistor(left_ohms, "left", "base")
        .resistor(1e3, "base", "ground")
        .resistor(1e3, "emitter", "ground")
        .resistor(75.0, "emitter", "plug");
    match bias_ohms {
        Some(ohms) => board.resistor(ohms, "rail5", "base"),
        None => board,
    }
}

#[test]
fn a_follower_without_bias_loses_black_sync_and_the_grey_player() {
    const STATES: [&[&str]; 4] = [&[], &["sync"], &["sync", "left"], &["sync", "field"]];
    let rows = published::rows("unbiased_follower.csv");
    assert_eq!(rows.len(), 6);
    for row in rows {
        let number = |at: usize| row[at].parse::<f64>().ok();
        let board = unbiased(number(0).unwrap(), number(1).unwrap(), number(2));
        let scenario = board.npn(["rail5", "base", "emitter"]).scenario("plug", 75.0);
        for (at, high) in STATES.iter().enumerate() {
            for (node, printed) in [("base", &row[3 + at]), ("plug", &row[7 + at])] {
                let unit_mv = if printed.contains('.') { 0.1 } else { 1.0 };
                let off_mv =
                    1e3 * standing_volts(&scenario, high, node) - printed.parse::<f64>().unwrap();
                assert!(off_mv.abs() < 0.5 * unit_mv + 0.01, "{row:?}: {node}, {high:?}: {off_mv}");
            }
        }
    }
}

/// Base and emitter of the unbiased follower, V, by a solver of its own: Newton's method on the two
/// equations of the transport model with the collector at 5 V, in steps of at most 50 mV.
fn base_and_emitter_v(feed_siemens: f64, feed_amps: f64) -> (f64, f64) {
    const VT: f64 = 1.380_649e-23 * 300.0 / 1.602_176_634e-19;
    const LOAD_SIEMENS: f64 = 1.0 / 1000.0 + 1.0 / 150.0;
    let (mut base, mut emitter) = (1.0, 0.4);
    for _ in 0..1000 {
        let icc = 1e-14 * math::expm1((base - emitter) / VT);
        let iec = 1e-14 * math::expm1((base - 5.0) / VT);
        let slope = (icc + 1e-14) / VT;
        let base_row = feed_siemens * base - feed_amps + icc / 200.0 + iec / 4.0;
        let emitter_row = LOAD_SIEMENS * emitter - (icc + icc / 200.0 - iec);
        let (a, b) = (feed_siemens + slope / 200.0, -slope / 200.0);
        let (c, d) = (-slope * 201.0 / 200.0, LOAD_SIEMENS + slope * 201.0 / 200.0);
        let determinant = a * d - b * c;
        let base_step = (b * emitter_row - d * base_row) / determinant;
        let emitter_step = (c * base_row - a * emitter_row) / determinant;
        let share = (0.05 / base_step.abs().max(emitter_step.abs()).max(1e-30)).min(1.0);
        base += share * base_step;
        emitter += share * emitter_step;
    }
    (base, emitter)
}

#[test]
fn a_solver_of_two_equations_agrees_on_the_biased_row() {
    let board = unbiased(10e3, 6800.0, Some(2700.0)).npn(["rail5", "base", "emitter"]);
    let scenario = board.scenario("plug", 75.0);
    let pin = |ohms: f64, high: bool| {
        let siemens = 1.0 / (ohms + if high { 3e3 } else { 800.0 });
        (siemens, if high { 5.4 * siemens } else { 0.0 })
    };
    for (sync, left) in [(false, false), (true, false), (true, true)] {
        let (sync_siemens, sync_amps) = pin(6800.0, sync);
        let (left_siemens, left_amps) = pin(10e3, left);
        let siemens = 1.0 / 1550.0 + 1e-3 + 1.0 / 2700.0 + sync_siemens + left_siemens;
        let amps = 5.0 / 2700.0 + sync_amps + left_amps;
        let (base_v, emitter_v) = base_and_emitter_v(siemens, amps);
        let all = [("sync", sync), ("left", left)];
        let high: Vec<&str> = all.iter().filter(|(_, high)| *high).map(|(pin, _)| *pin).collect();
        let found = ["base", "plug"].map(|node| standing_volts(&scenario, &high, node));
        assert!((found[0] - base_v).abs() < SAME_V, "{high:?}: {found:?}, {base_v} V");
        assert!((found[1] - 0.5 * emitter_v).abs() < SAME_V, "{high:?}: {found:?}, {emitter_v} V");
    }
}

#[test]
fn the_base_of_a_cut_off_follower_is_a_divider() {
    let scenario = unbiased(10e3, 6800.0, None).scenario("plug", 75.0);
    let siemens = |left_ohms: f64| 1.0 / 1550.0 + 1.0 / 9800.0 + 1.0 / left_ohms + 1e-3;
    let black_v = 5.4 / 9800.0 / siemens(10_800.0);
    let left_v = (5.4 / 9800.0 + 5.4 / 13e3) / siemens(13e3);
    for (high, exact_v, printed_v) in
        [(vec!["sync"], black_v, 0.2995), (vec!["sync", "left"], left_v, 0.5298)]
    {
        let found_v = standing_volts(&scenario, &high, "base");
        assert!((found_v - exact_v).abs() < SAME_V, "{high:?}: {found_v} V, {exact_v} V");
        assert!((found_v - printed_v).abs() < 0.5e-4, "{high:?}: {found_v} V");
    }
}

#[test]
fn the_trimmer_of_a_good_board_reacts_on_its_neighbours_as_printed() {
    // Trimmer in ohms; black, depth, white, left in mV. No published source, computed by nodal
    // analysis with a second solver.
    for (ohms, printed) in [
        (500.0, [182.0, 181.0, 526.0, 564.0]),
        (3300.0, [334.0, 302.0, 695.0, 290.0]),
        (22e3, [421.0, 355.0, 790.0, 71.0]),
    ] {
        let board = Follower::with_left(ohms);
        let [_, black, depth, white, _, _, left, ..] = columns_mv(&board.scenario());
        for (found, printed) in [black, depth, white, left].into_iter().zip(printed) {
            assert!((found - printed).abs() < 0.51, "{ohms} ohm: {found} mV, printed {printed}");
        }
    }
    let board = Follower::with_left(100e3);
    assert!((columns_mv(&board.scenario())[6] - 17.0).abs() < 0.51);
}

#[test]
fn a_trimmer_is_the_resistance_of_its_share_of_the_track() {
    let fixed = Board::common().resistor(3300.0, "left", "plug").scenario("plug", 75.0);
    let lines = "trimmer = \"10 k\"\nposition = \"33 %\"\nfrom = \"left\"\nwiper = \"plug\"\n\
                 to = \"far\"";
    let track = Board::common().part("P", lines).resistor(1e9, "far", "ground");
    let track = track.scenario("plug", 75.0);
    for high in [vec![], vec!["left"]] {
        let both = [&fixed, &track].map(|scenario| standing_volts(scenario, &high, "plug"));
        // The far end's 1 GΩ takes at most 6e-9 A through 75 Ω.
        assert!((both[0] - both[1]).abs() < 1e-6, "{both:?}");
    }
}
