//! Ratings: worked figures of the biased follower and of the PNP follower, computed by nodal analysis
//! with a second solver or by hand, no published source; and that good boards raise nothing.

use crate::boards::Board;
use crate::boards::load;
use crate::boards::standing_volts;
use crate::follower::Follower;
use crate::follower::with_fault;
use crate::mixers::pnp_follower;
use crate::ratings::assert_near;
use crate::ratings::count;
use crate::ratings::worst;
use backporch::analysis::rating::Rating;
use backporch::analysis::rating::Subject;
use backporch::analysis::rating::Word;
use backporch::analysis::rating::ratings;
use backporch::network::circuit::PartId;
use backporch::network::circuit::PartKind;
use backporch::network::operating_point::Network;
use backporch::scenario::Scenario;
use backporch::signal::pulse_train::Level;

/// Current, A, and heat, W, of a part with these pins high and all others low, by a pin's name or a
/// part's; of a transistor the current of its emitter.
fn carried(scenario: &Scenario, high: &[&str], name: &str) -> [f64; 2] {
    let pins = scenario.raster.pins.iter();
    let levels: Vec<Level> = pins
        .map(|pin| if high.contains(&pin.name.as_str()) { Level::HIGH } else { Level::LOW })
        .collect();
    let network = Network::new(&scenario.circuit).unwrap();
    let point = network.operating_point(&levels).unwrap();
    let currents = network.currents(&scenario.circuit, &levels, &point);
    let index = scenario.circuit.parts.iter().position(|part| part.name == name).unwrap();
    let node = match &scenario.circuit.parts[index].kind {
        PartKind::Pin(pin) => pin.node,
        PartKind::Transistor { emitter, .. } => *emitter,
        other => panic!("{other:?}"),
    };
    [currents.into_part(PartId(index), node).abs(), currents.heat_w(PartId(index), &point)]
}

fn transistor(scenario: &Scenario) -> String {
    let is_transistor = |kind: &PartKind| matches!(kind, PartKind::Transistor { .. });
    let mut parts = scenario.circuit.parts.iter();
    parts.find(|part| is_transistor(&part.kind)).unwrap().name.clone()
}

#[test]
fn white_on_the_biased_follower_takes_what_is_printed() {
    let scenario = Follower::default().scenario();
    let name = transistor(&scenario);
    let [amps, watts] = carried(&scenario, &["field", "sync"], &name);
    assert_near(1e3 * amps, 15.8, 0.051);
    assert_near(1e3 * watts, 46.0, 0.51);
    // The ratings hold the collector's current, 1/200 less, and look at everything lit too, where the
    // grey player adds its share.
    let rated = worst(&scenario, Subject::Current);
    let [most, _] = carried(&scenario, &["field", "ball", "right", "left", "sync"], &name);
    assert_near(rated.figure, most * 200.0 / 201.0, 1e-6);
    assert!(most > amps && rated.word == Word::Ok, "{rated:?}");
}

#[test]
fn the_sync_pin_gives_half_a_milliampere_at_white_and_more_at_black() {
    let scenario = Follower::default().scenario();
    // Printed 0.50 mA is with white lit: the base is higher then.
    let [white, _] = carried(&scenario, &["field", "sync"], "sync");
    assert_near(1e3 * white, 0.50, 5.1e-3);
    // By hand: 5.4 V less 1.37 V at the base, through 3 and 2.2 kilohms.
    let [black, _] = carried(&scenario, &["sync"], "sync");
    assert_near(1e3 * black, 0.776, 5e-4);
    let all = ratings(&scenario).unwrap();
    let rated = all.iter().find(|r| r.part == "sync" && r.subject == Subject::PinSource).unwrap();
    assert_near(rated.figure, black, 1e-9);
}

#[test]
fn a_shorted_biased_follower_draws_what_is_printed() {
    // Printed 26.7 mA is with white lit; the rating looks at everything lit too.
    let shorted = with_fault("output shorted to ground (0.1)").unwrap().scenario();
    let amps = |high: &[&str]| standing_volts(&shorted, high, "plug") / 0.1;
    assert_near(1e3 * amps(&["field", "sync"]), 26.7, 0.051);
    let short = worst(&Follower::default().scenario(), Subject::Short);
    let most = amps(&["field", "ball", "right", "left", "sync"]);
    // The rating's short is 0.01 ohm, this one 0.1.
    assert_near(short.figure / most, 1.0, 2e-3);
    assert_eq!(short.word, Word::Ok);
}

#[test]
fn the_worst_follower_at_five_volts_spares_its_series_resistor() {
    // Base at the rail: 4.3 V at the emitter at most, so 57 mA and 0.25 W in 75 ohm.
    let board = Board::common().supply(5.0, "rail5").resistor(1.0, "rail5", "base");
    let board = board.npn(["rail5", "base", "emitter"]).resistor(75.0, "emitter", "plug");
    let short = worst(&board.scenario("plug", 75.0), Subject::Short);
    assert_near(1e3 * short.figure, 57.0, 0.8);
    assert!(short.figure <= 4.3 / 75.0 && short.word == Word::Ok, "{short:?}");
    assert_near(75.0 * short.figure * short.figure, 0.25, 0.011);
}

fn odd(scenario: &Scenario) -> Vec<Rating> {
    let mut all = ratings(scenario).unwrap();
    all.retain(|rating| rating.word != Word::Ok);
    all
}

#[test]
fn the_pnp_follower_raises_nothing_but_its_emitter_resistor() {
    let bare = pnp_follower().scenario("plug", 75.0);
    let told = odd(&bare);
    assert_eq!(told.len(), 1, "{told:?}");
    assert_eq!((told[0].subject, told[0].word), (Subject::Heat, Word::Look));
    assert_near(told[0].figure, 0.14, 5.1e-3);
    let text = pnp_follower().text("plug", 75.0, "");
    assert_eq!(text.matches("resistor = 120\n").count(), 1);
    let text = text.replace("resistor = 120\n", "resistor = 120\npower = \"0.5 W\"\n");
    assert_eq!(odd(&crate::boards::read(&text)), Vec::new());
    assert_near(worst(&bare, Subject::Dc).figure, 0.69, 5.1e-3);
}

#[test]
fn the_chapel_and_the_biased_follower_raise_nothing() {
    let chapel = load(std::path::Path::new("scenarios/chapel-follower.toml"));
    for scenario in [chapel, Follower::default().scenario()] {
        assert_eq!(odd(&scenario), Vec::new(), "{}", scenario.title);
        assert!(count(&scenario, Subject::Heat, Word::Ok) > 0);
    }
}
