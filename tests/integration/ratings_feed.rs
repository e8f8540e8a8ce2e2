//! Ratings of what feeds a board: each rule on a board that breaks it and on the same board with the
//! fault put right. Limits as the ratings print them with their sources.

use crate::boards::Board;
use crate::ratings::assert_near;
use crate::ratings::assert_told;
use crate::ratings::count;
use crate::ratings::gated;
use crate::ratings::regulated;
use crate::ratings::worst;
use backporch::analysis::rating::Subject;
use backporch::analysis::rating::Word;
use backporch::scenario::Scenario;

const CHIP: &str = "[chip]\nprofile = \"two-player-50\"\nsupply = \"rail\"\n";

/// A whole chip at a supply, its field pin into a gate of the 4000B family at 5 V.
fn fed_with(volts: f64) -> Scenario {
    gated(Board::new(CHIP).supply(volts, "rail"), "field", "4000B", 5.0)
}

#[test]
fn a_chip_outside_its_window_is_told_and_stopped_above_nine_volts() {
    for (volts, word) in [(9.5, Word::Stop), (8.0, Word::Look), (5.5, Word::Look)] {
        assert_told(Subject::ChipSupply, word, &fed_with(volts), &fed_with(6.5));
    }
}

#[test]
fn what_the_chip_guarantees_has_no_margin_at_five_and_a_half_volts() {
    // Supply less 2 V against 0.7 of the gate's 5 V: by hand, no published source.
    let found = worst(&fed_with(5.5), Subject::GuaranteedMargin);
    assert_near(found.figure, 0.0, 1e-9);
    assert_told(Subject::GuaranteedMargin, Word::Look, &fed_with(5.5), &fed_with(6.5));
}

#[test]
fn an_input_near_its_switching_level_is_told() {
    // 5.4 V behind 3 kilohms into 3.3 kilohms: 2.83 V at a gate that switches at 2.5 V.
    let loaded = |ohms| {
        let board = Board::common().resistor(ohms, "field", "ground");
        gated(board, "field", "plain", 5.0)
    };
    let found = worst_margin(&loaded(3300.0));
    assert_near(found, 0.329, 5e-4);
    assert_told(Subject::ThresholdMargin, Word::Look, &loaded(3300.0), &loaded(33e3));
    // 3.38 V is far enough from 2.5 V, but the family guarantees high only from 3.5 V.
    let board =
        |ohms| gated(Board::common().resistor(ohms, "field", "ground"), "field", "4000B", 5.0);
    assert_told(Subject::ThresholdMargin, Word::Look, &board(5000.0), &board(50e3));
}

fn worst_margin(scenario: &Scenario) -> f64 {
    let all = backporch::analysis::rating::ratings(scenario).unwrap();
    let margins = all.iter().filter(|rating| rating.subject == Subject::ThresholdMargin);
    margins.map(|rating| rating.figure).fold(f64::INFINITY, f64::min)
}

#[test]
fn a_gate_below_its_window_is_stopped() {
    let at = |volts| gated(Board::common(), "field", "4000B", volts);
    assert_told(Subject::GateSupply, Word::Stop, &at(2.5), &at(5.0));
    assert_told(Subject::GateSupply, Word::Stop, &at(16.0), &at(5.0));
}

/// A gate whose rail hangs on a supply through a resistor, and inputs that the chip drives high.
fn rail_from(volts: f64) -> Scenario {
    let gate = "gate = \"or\"\nfamily = \"4000B\"\ninputs = [\"field\", \"ball\"]\n\
                output = \"out\"\nsupply = \"rail5\"";
    let board = Board::common().supply(volts, "raw").resistor(100.0, "raw", "rail5");
    let board = board.resistor(10e3, "rail5", "ground").part("U", gate);
    board.resistor(4700.0, "out", "plug").scenario("plug", 75.0)
}

/// The same, with a diode that holds the rail off its supply.
fn rail_behind_a_diode(volts: f64) -> Scenario {
    let gate = "gate = \"or\"\nfamily = \"4000B\"\ninputs = [\"field\", \"ball\"]\n\
                output = \"out\"\nsupply = \"rail5\"";
    let board = Board::common().supply(volts, "raw").diode("raw", "rail5");
    let board = board.resistor(10e3, "rail5", "ground").part("U", gate);
    board.resistor(4700.0, "out", "plug").scenario("plug", 75.0)
}

#[test]
fn a_rail_that_lives_on_its_inputs_is_told() {
    assert_told(Subject::BackFeed, Word::Look, &rail_from(1.0), &rail_from(5.0));
    // What the inputs push in is then all that the rail draws.
    let off = rail_behind_a_diode(1.0);
    assert_told(Subject::BackFeed, Word::Look, &off, &rail_behind_a_diode(5.6));
}

#[test]
fn a_regulator_wants_a_capacitor_at_its_input_and_its_output() {
    let lines = "regulator = \"5 V\"\nclass = \"1 A\"\ninput = \"raw\"\noutput = \"rail5\"";
    let board = Board::common().supply(9.0, "raw").part("U", lines);
    let bare = board.resistor(4700.0, "field", "plug").resistor(1e3, "rail5", "ground");
    let with = |node: &str, farads: &str| {
        let lines = format!("capacitor = \"{farads}\"\nfrom = \"{node}\"\nto = \"ground\"");
        bare.clone().part("C", &lines).scenario("plug", 75.0)
    };
    let [input, output] = [Subject::InputCapacitor, Subject::OutputCapacitor];
    assert_told(input, Word::Look, &with("rail5", "100 n"), &with("raw", "330 n"));
    assert_told(input, Word::Look, &with("raw", "10 n"), &with("raw", "100 n"));
    assert_told(output, Word::Look, &with("raw", "330 n"), &with("rail5", "100 n"));
}

#[test]
fn a_regulator_with_enough_and_not_too_much_is_spared() {
    let small = |volts| regulated("100 mA", volts, 5.0 / 0.06);
    assert_told(Subject::Headroom, Word::Look, &small(6.6), &small(9.0));
    assert_told(Subject::Junction, Word::Stop, &small(15.0), &small(12.0));
    let large = |volts| regulated("1 A", volts, 1e3);
    assert_told(Subject::RegulatorInput, Word::Stop, &large(36.0), &large(12.0));
}

/// An adapter into a chip and an electrolytic, with more lines, straight or through a diode.
fn adapted(more: &str, through_diode: bool) -> Scenario {
    let lines = format!("adapter = \"6.5 V\"\nnode = \"raw\"\n{more}");
    let mut board = Board::new(CHIP).part("V", &lines);
    let electrolytic = "capacitor = \"470 uF\"\nkind = \"electrolytic\"\nfrom = \"rail\"\n\
                        to = \"ground\"";
    board =
        if through_diode { board.diode("raw", "rail") } else { board.resistor(1.0, "raw", "rail") };
    let board = board.part("C", electrolytic).resistor(1e3, "rail", "ground");
    board.resistor(4700.0, "field", "plug").scenario("plug", 75.0)
}

#[test]
fn an_adapter_of_unknown_polarity_is_stopped_unless_a_diode_holds_it_off() {
    let unknown = adapted("", false);
    assert_told(Subject::Reversal, Word::Stop, &unknown, &adapted("", true));
    let stated = adapted("centre = \"minus\"", false);
    assert_told(Subject::Reversal, Word::Stop, &unknown, &stated);
}

#[test]
fn a_chip_behind_a_reversed_diode_has_no_supply() {
    let board = |[anode, cathode]: [&str; 2]| {
        let board = Board::new(CHIP).supply(7.0, "raw").diode(anode, cathode);
        let board = board.resistor(10e3, "rail", "ground");
        board.resistor(4700.0, "field", "plug").scenario("plug", 75.0)
    };
    assert_eq!(count(&board(["rail", "raw"]), Subject::NoSupply, Word::Stop), 1);
    let fed = board(["raw", "rail"]);
    assert_eq!(count(&fed, Subject::NoSupply, Word::Stop), 0);
    assert_eq!(count(&fed, Subject::ChipSupply, Word::Ok), 1);
}
