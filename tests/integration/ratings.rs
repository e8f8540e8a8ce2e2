//! Ratings: worked figures, computed by nodal analysis with a second solver or by hand, no published
//! source; and boards that break one rule each.

use crate::boards::Board;
use crate::boards::chip_driven_by;
use crate::boards::examples;
use crate::boards::load;
use crate::boards::standing_volts;
use crate::follower::Follower;
use backporch::analysis::rating::Rating;
use backporch::analysis::rating::Subject;
use backporch::analysis::rating::Word;
use backporch::analysis::rating::ratings;
use backporch::scenario::Scenario;

pub(crate) fn worst(scenario: &Scenario, subject: Subject) -> Rating {
    let mut all = ratings(scenario).unwrap();
    all.retain(|rating| rating.subject == subject);
    all.into_iter().max_by(|a, b| a.figure.total_cmp(&b.figure)).expect("rated")
}

/// A board that breaks a rule, and the same board with the fault put right.
pub(crate) fn assert_told(subject: Subject, word: Word, bad: &Scenario, good: &Scenario) {
    let found = worst_word(bad, subject);
    assert_eq!(found.word, word, "{found:?}");
    assert!(!found.source.is_empty() && found.sentence.ends_with('.'), "{found:?}");
    let found = worst_word(good, subject);
    assert_eq!(found.word, Word::Ok, "put right: {found:?}");
}

/// The rating of that rule with the worst word.
fn worst_word(scenario: &Scenario, subject: Subject) -> Rating {
    let mut all = ratings(scenario).unwrap();
    all.retain(|rating| rating.subject == subject);
    all.into_iter().max_by_key(|rating| rating.word).expect("rated")
}

/// How many parts are rated by a rule with that word.
pub(crate) fn count(scenario: &Scenario, subject: Subject, word: Word) -> usize {
    let all = ratings(scenario).unwrap();
    all.iter().filter(|rating| rating.subject == subject && rating.word == word).count()
}

pub(crate) fn assert_near(found: f64, printed: f64, half: f64) {
    assert!((found - printed).abs() <= half, "{found}, printed {printed}");
}

/// Square-law pins at a supply, into a 4000B gate at 5 V.
fn driven_at(volts: f64) -> Scenario {
    let drive = "kind = \"square-law\"\nk_high = \"0.5 mA/V2\"\nthreshold_high = 1.2\n\
                 k_low = \"1.5 mA/V2\"\nthreshold_low = 1.0";
    let chip = format!("[chip]\nsupply = \"rail\"\n{}", chip_driven_by(drive));
    gated(Board::new(&chip).supply(volts, "rail"), "field", "4000B", 5.0)
}

pub(crate) fn gated(board: Board, input: &str, family: &str, volts: f64) -> Scenario {
    let gate = format!(
        "gate = \"buffer\"\nfamily = \"{family}\"\ninputs = [\"{input}\"]\noutput = \"out\"\n\
         supply = \"rail5\""
    );
    let board = board.supply(volts, "rail5").part("U", &gate);
    board.resistor(4700.0, "out", "plug").scenario("plug", 75.0)
}

#[test]
fn an_input_above_its_supply_stands_where_its_diode_holds_it() {
    for (supply, volts, milliamps) in [(7.0, 5.55, 0.02), (8.0, 5.63, 0.34), (9.0, 5.66, 1.15)] {
        let scenario = driven_at(supply);
        let input = worst(&scenario, Subject::InputVolts);
        assert_near(5.0 + input.figure, volts, 5.1e-3);
        assert_eq!(input.word, Word::Look);
        let clamp = worst(&scenario, Subject::ClampCurrent);
        assert_near(1e3 * clamp.figure, milliamps, 5.1e-3);
        assert_eq!(clamp.word == Word::Look, supply > 8.5);
    }
    assert_told(Subject::InputVolts, Word::Look, &driven_at(9.0), &driven_at(5.0));
    assert_told(Subject::ClampCurrent, Word::Look, &driven_at(9.0), &driven_at(5.0));
    let told = worst(&driven_at(9.0), Subject::ClampCurrent).sentence;
    assert!(told.contains("2.19 kΩ in series"), "{told}");
    let board = Board::common().supply(9.0, "raw").resistor(10e3, "raw", "in");
    let clamp = worst(&gated(board, "in", "4000B", 5.0), Subject::ClampCurrent);
    assert_near(1e3 * clamp.figure, 0.34, 5.1e-3);
    let board = Board::common().supply(9.0, "raw").resistor(150.0, "raw", "in");
    assert_eq!(worst(&gated(board, "in", "4000B", 5.0), Subject::ClampCurrent).word, Word::Stop);
}

#[test]
fn a_gate_is_stopped_by_its_supply_and_by_an_input_that_floats() {
    let fast = gated(Board::common(), "field", "74HC", 9.0);
    assert_eq!(worst(&fast, Subject::GateSupply).word, Word::Stop);
    assert_eq!(
        worst(&gated(Board::common(), "field", "4000B", 9.0), Subject::GateSupply).word,
        Word::Ok
    );
    let board = Board::common().resistor(1e9, "in", "ground");
    assert_eq!(worst(&gated(board, "in", "4000B", 5.0), Subject::FloatingInput).word, Word::Stop);
    let board = Board::common().resistor(1e6, "in", "ground");
    assert_eq!(worst(&gated(board, "in", "4000B", 5.0), Subject::FloatingInput).word, Word::Ok);
}

#[test]
fn a_loaded_gate_and_joined_outputs_are_told_with_their_current() {
    let or_gate = Board::common()
        .supply(5.0, "rail5")
        .gate("or", &["field", "ball", "right"], "white", "rail5")
        .resistor(430.0, "white", "plug")
        .gate("buffer", &["sync"], "sync_out", "rail5")
        .resistor(1e3, "sync_out", "plug")
        .resistor(100.0, "left", "plug");
    let gate = worst(&or_gate.scenario("plug", 75.0), Subject::GateOutput);
    assert_near(1e3 * gate.figure, 8.6, 0.051);
    assert!(gate.word == Word::Look && gate.sentence.contains("sags by 0.4"), "{gate:?}");
    let lit = standing_volts(&or_gate.scenario("plug", 75.0), &["field", "sync"], "white");
    assert_near(5.0 - lit, 0.4, 0.051);
    let chip =
        crate::boards::COMMON_PINS.chip() + "[chip.pins]\nright = \"joint\"\nleft = \"joint\"\n";
    let joined = gated(Board::new(&chip), "joint", "plain", 5.0);
    let fight = worst(&joined, Subject::Contention);
    assert_near(1e3 * fight.figure, 1.4, 0.051);
    assert!(fight.word == Word::Stop && fight.sentence.contains("1.14 V"), "{fight:?}");
}

pub(crate) fn regulated(class: &str, volts: f64, load_ohms: f64) -> Scenario {
    let lines =
        format!("regulator = \"5 V\"\nclass = \"{class}\"\ninput = \"raw\"\noutput = \"rail5\"");
    let board = Board::common().supply(volts, "raw").part("U", &lines);
    board
        .resistor(load_ohms, "rail5", "ground")
        .resistor(4700.0, "field", "plug")
        .scenario("plug", 75.0)
}

#[test]
fn a_regulator_short_of_headroom_or_hot_is_told() {
    let cells = ratings(&regulated("100 mA", 6.6, 1e3)).unwrap();
    let headroom = cells.iter().find(|rating| rating.subject == Subject::Headroom).unwrap();
    assert_near(headroom.limit - headroom.figure, 0.1, 1e-9);
    assert_eq!(headroom.word, Word::Look);
    let hot = worst(&regulated("100 mA", 12.0, 5.0 / 0.06), Subject::Junction);
    // 7 V at 60 mA and 12 V at 3.8 mA: 0.466 W, 84 K at 180 K/W, in air of 40 °C.
    assert_near(hot.figure - 40.0, 84.0, 0.6);
    assert_near((hot.figure - 40.0) / 180.0, 0.47, 5.1e-3);
    assert_eq!(hot.word, Word::Ok);
    assert!(hot.source.contains("memory") && hot.sentence.contains("memory"), "{hot:?}");
    assert_eq!(worst(&regulated("100 mA", 15.0, 5.0 / 0.06), Subject::Junction).word, Word::Stop);
    assert_eq!(worst(&regulated("1 A", 36.0, 1e3), Subject::RegulatorInput).word, Word::Stop);
    assert_eq!(worst(&regulated("1 A", 9.0, 1e3), Subject::OutputCapacitor).word, Word::Look);
}

#[test]
fn the_biased_follower_is_spared() {
    let scenario = Follower::default().scenario();
    let all = ratings(&scenario).unwrap();
    assert!(all.iter().all(|rating| rating.word != Word::Stop), "{all:?}");
    assert_near(worst(&scenario, Subject::Dc).figure, 0.33, 5.1e-3);
    let sync = all.iter().find(|r| r.part == "sync" && r.subject == Subject::PinSource).unwrap();
    // 0.50 mA is printed, which is with white lit; at black the pin gives more: 5.4 V less 1.37 V
    // at the base, through 3 and 2.2 kilohms.
    assert_near(1e3 * sync.figure, 0.776, 5e-4);
    assert_eq!(sync.state.as_ref().unwrap().words(), "nothing lit");
    assert_eq!(worst(&scenario, Subject::Short).word, Word::Ok);
}

#[test]
fn no_good_example_is_stopped_and_the_chapel_is_all_ok() {
    for path in examples() {
        let all = ratings(&load(&path)).unwrap();
        let stopped: Vec<&Rating> = all.iter().filter(|rating| rating.word == Word::Stop).collect();
        // Two pins on one input: what that board shows.
        let is_fault = path.ends_with("lodge-joined.toml");
        assert_eq!(!stopped.is_empty(), is_fault, "{}: {stopped:?}", path.display());
        if path.ends_with("chapel-follower.toml") {
            let odd: Vec<&Rating> = all.iter().filter(|r| r.word != Word::Ok).collect();
            assert!(odd.is_empty(), "{odd:?}");
        }
    }
}
