//! The two-resistor recipe: closed forms there and back, the uncertainty against a Monte-Carlo run,
//! the lines for a scenario, and the command.

use crate::program::backporch;
use crate::published;
use backporch::analysis::pin::Better;
use backporch::analysis::pin::Measurement;
use backporch::analysis::pin::Model;
use backporch::analysis::pin::PinModel;
use backporch::analysis::pin::fit::Kind;
use backporch::analysis::pin::fit::fit;
use backporch::analysis::pin::fit::node_volts;
use backporch::analysis::pin::measure;
use backporch::analysis::pin::reading::Doubts;
use backporch::analysis::pin::reading::Inputs;
use backporch::analysis::pin::reading::Load;
use backporch::analysis::pin::reading::PinError;
use backporch::analysis::pin::reading::Reading;
use backporch::base::random::Draws;
use backporch::network::circuit::PartKind;
use backporch::network::circuit::PinStage;
use backporch::output::pin_toml::Place;
use backporch::output::pin_toml::pin_toml;
use backporch::scenario::Scenario;
use backporch::scenario::load;
use std::fs;

const SUPPLY_V: f64 = 6.5;
/// A meter that draws nothing and resistors as printed.
const EXACT: Doubts = Doubts { share: 0.0, figure_v: 0.0, tolerance: 0.0, meter_ohms: 1e15 };
/// What the command takes if nothing is said.
const USUAL: Doubts = Doubts { share: 0.005, figure_v: 0.01, tolerance: 0.01, meter_ohms: 1e7 };
const LINEAR: PinStage = PinStage::Linear { offset: 5.4, share: 0.0, ohms: 3e3 };
const PULL_UP: PinStage = PinStage::PullUp { k: 0.5e-3, threshold: 1.2 };
const LOW: PinStage = PinStage::Linear { offset: 0.0, share: 0.0, ohms: 800.0 };
const PULL_DOWN: PinStage = PinStage::PullDown { k: 1.5e-3, threshold: 1.0 };

fn to(ohms: f64, rail_v: f64) -> Option<Load> {
    Some(Load { ohms, rail_v })
}

/// What a meter would read on a pin.
fn read(stage: &PinStage, loads: &[Option<Load>], doubts: &Doubts) -> Inputs {
    let one = |&load: &Option<Load>| Reading {
        volts: node_volts(stage, load, SUPPLY_V, doubts.meter_ohms),
        load,
    };
    Inputs { supply_v: SUPPLY_V, readings: loads.iter().map(one).collect() }
}

fn measured(high: Option<Inputs>, low: Option<Inputs>, doubts: Doubts) -> PinModel {
    measure(&Measurement { high, low, doubts, planned: to(4700.0, 0.0) }).unwrap()
}

fn near(model: &Model, first: f64, second: f64, share: f64) -> bool {
    let [a, b] = model.figures.map(|figure| figure.value);
    (a - first).abs() < share && (b / second - 1.0).abs() < share
}

#[test]
fn two_readings_give_the_recipe_and_the_pin_back() {
    for ohms in [470.0, 2200.0, 10e3, 47e3] {
        let loads = [None, to(ohms, 0.0)];
        let inputs = read(&LINEAR, &loads, &EXACT);
        let [open, loaded] = [0, 1].map(|at| inputs.readings[at].volts);
        assert!((ohms * (open / loaded - 1.0) - 3e3).abs() < 1e-3);
        let model = measured(Some(inputs), None, EXACT).high.unwrap();
        assert!(near(&model.linear, 5.4, 3e3, 1e-6), "{ohms}: {:?}", model.linear);
        assert_eq!(model.better, Better::Untold);
        let [volts, amps] = model.linear.crossing.unwrap();
        assert!((volts.value - 5.4 * 4.7 / 7.7).abs() < 1e-8);
        assert!((amps.value - 5.4 / 7.7e3).abs() < 1e-11);
    }
    // The meter's own 10 MΩ are taken off.
    let inputs = read(&LINEAR, &[None, to(2200.0, 0.0)], &USUAL);
    assert!(near(&measured(Some(inputs), None, USUAL).high.unwrap().linear, 5.4, 3e3, 1e-6));
    let inputs = read(&LOW, &[None, to(2200.0, 5.0)], &EXACT);
    let loaded = inputs.readings[1].volts;
    assert!((2200.0 * loaded / (5.0 - loaded) - 800.0).abs() < 1e-6);
    let low = measured(None, Some(inputs), EXACT).low.unwrap();
    assert!(near(&low.linear, 0.0, 800.0, 1e-6), "{low:?}");
}

#[test]
fn a_third_reading_tells_which_model_fits() {
    let loads = [None, to(10e3, 0.0), to(1e3, 0.0)];
    let square = measured(Some(read(&PULL_UP, &loads, &USUAL)), None, USUAL).high.unwrap();
    assert_eq!(square.better, Better::Square);
    assert!(near(square.chosen(), 1.2, 0.5e-3, 1e-5), "{:?}", square.chosen());
    assert!(square.linear.worst_v > 0.05);
    let linear = measured(Some(read(&LINEAR, &loads, &USUAL)), None, USUAL).high.unwrap();
    assert_eq!(linear.better, Better::Linear);
    assert!(near(linear.chosen(), 5.4, 3e3, 1e-6));
    let loads = [None, to(1e3, 5.0), to(150.0, 5.0)];
    let square = measured(None, Some(read(&PULL_DOWN, &loads, &USUAL)), USUAL).low.unwrap();
    assert!(near(square.square.as_ref().unwrap(), 1.0, 1.5e-3, 1e-4), "{square:?}");
    assert!(!square.square.as_ref().unwrap().assumed);
    // With one pull-up the threshold is taken for typical, and k follows.
    let inputs = read(&PULL_DOWN, &[None, to(2200.0, 5.0)], &USUAL);
    let assumed = measured(None, Some(inputs), USUAL).low.unwrap().square.unwrap();
    assert!(assumed.assumed && near(&assumed, 1.0, 1.5e-3, 1e-6), "{assumed:?}");
}

/// The published loads, printed to 10 mV: two of them and the open volts give the other five.
#[test]
fn printed_readings_of_two_loads_foretell_the_others() {
    let rows = published::numbers("pin_load.csv");
    let at = |ohms: &str, column: usize| {
        let volts = rows.iter().find(|(known, _)| known == ohms).unwrap().1[column];
        Reading { volts, load: to(ohms.parse().unwrap(), 0.0) }
    };
    for (column, open_v, better) in [(0, 5.4, Better::Linear), (1, 5.3, Better::Square)] {
        let open = Reading { volts: open_v, load: None };
        let readings = vec![open, at("10000", column), at("1000", column)];
        let inputs = Inputs { supply_v: SUPPLY_V, readings };
        let doubts = Doubts { meter_ohms: 1e15, ..USUAL };
        let model = measured(Some(inputs), None, doubts).high.unwrap();
        assert_eq!(model.better, better);
        for (ohms, row) in &rows {
            let load = to(ohms.parse().unwrap(), 0.0);
            let volts = node_volts(&model.chosen().stage, load, SUPPLY_V, 1e15);
            // 5 mV of printing in each of three readings.
            assert!((volts - row[column]).abs() < 0.02, "{ohms}: {volts} {row:?}");
        }
    }
}

/// A value anywhere within its limits, each as likely: deviation times √3 to either side.
fn shaken(inputs: &Inputs, deviations: &[f64], draws: &mut Draws) -> Inputs {
    deviations.iter().enumerate().fold(inputs.clone(), |inputs, (index, deviation)| {
        let by = 3.0_f64.sqrt() * deviation * (2.0 * draws.uniform() - 1.0);
        if *deviation > 0.0 { inputs.moved(index, by) } else { inputs }
    })
}

fn deviation(values: &[f64]) -> f64 {
    let count = f64::from(u32::try_from(values.len()).unwrap());
    let mean = values.iter().sum::<f64>() / count;
    (values.iter().map(|one| (one - mean) * (one - mean)).sum::<f64>() / count).sqrt()
}

/// 2000 sets of readings tell a deviation to 1.6 %; what is not of first order adds about as much.
#[test]
fn the_uncertainty_is_that_of_a_monte_carlo_run() {
    let planned = Load { ohms: 4700.0, rail_v: 0.0 };
    let high = [None, to(10e3, 0.0), to(2200.0, 0.0)];
    let low = [None, to(4700.0, 5.0), to(1000.0, 5.0)];
    let cases = [
        (Kind::LinearHigh, read(&LINEAR, &high[..2], &USUAL)),
        (Kind::LinearHigh, read(&LINEAR, &high, &USUAL)),
        (Kind::PullUp, read(&PULL_UP, &high, &USUAL)),
        (Kind::LinearLow, read(&LOW, &low, &USUAL)),
    ];
    for (seed, (kind, inputs)) in (0..).zip(cases) {
        let is_high = matches!(kind, Kind::LinearHigh | Kind::PullUp);
        let given = Some(inputs.clone());
        let (first, second) = if is_high { (given, None) } else { (None, given) };
        let model = measured(first, second, USUAL);
        let state = model.high.or(model.low).unwrap();
        let model = if kind == Kind::PullUp { state.square.unwrap() } else { state.linear };
        let weights = inputs.deviations_of_readings(&USUAL);
        let deviations = inputs.deviations(&USUAL);
        let mut draws = Draws::new(seed, 0);
        let mut found: [Vec<f64>; 3] = Default::default();
        for _ in 0..2000 {
            let shaken = shaken(&inputs, &deviations, &mut draws);
            let stage = fit(kind, &shaken, &weights, USUAL.meter_ohms).unwrap();
            let [first, second] = kind.figures(&stage);
            let volts = node_volts(&stage, Some(planned), shaken.supply_v, f64::INFINITY);
            for (all, value) in found.iter_mut().zip([first, second, volts]) {
                all.push(value);
            }
        }
        let said = [model.figures[0], model.figures[1], model.crossing.unwrap()[0]];
        for (values, said) in found.iter().zip(said) {
            let share = said.deviation / deviation(values) - 1.0;
            assert!(share.abs() < 0.06, "{kind:?}: {} off by {share}", said.value);
        }
    }
}

/// With two readings: u(R)² = (R1 / V)² u(Vo)² + (R1 Vo / V²)² u(V)² + (Vo / V − 1)² u(R1)².
#[test]
fn the_uncertainty_of_the_recipe_is_that_of_its_derivatives() {
    let doubts = Doubts { meter_ohms: 1e15, ..USUAL };
    let inputs = read(&LINEAR, &[None, to(2200.0, 0.0)], &doubts);
    let [open, loaded] = [0, 1].map(|at| inputs.readings[at].volts);
    let parts = [
        2200.0 / loaded * doubts.of_volts(open),
        2200.0 * open / (loaded * loaded) * doubts.of_volts(loaded),
        (open / loaded - 1.0) * doubts.of_ohms(2200.0),
    ];
    let expected = parts.iter().map(|part| part * part).sum::<f64>().sqrt();
    let found = measured(Some(inputs), None, doubts).high.unwrap().linear.figures[1].deviation;
    assert!((found / expected - 1.0).abs() < 1e-5, "{found} {expected}");
}

/// The chapel's board with the lines for a pin at its end.
fn with_pin(lines: &str) -> Scenario {
    let chapel = "scenarios/chapel-follower.toml";
    load(chapel, &[], &mut |path| {
        let text = fs::read_to_string(path)?;
        Ok(if path == chapel { format!("{text}\n{lines}") } else { text })
    })
    .unwrap()
}

#[test]
fn the_lines_for_a_scenario_load_and_give_the_readings_back() {
    let highs = [None, to(10e3, 0.0), to(1e3, 0.0)];
    let lows = [None, to(4700.0, 5.0), to(470.0, 5.0)];
    for (high, low) in [(&LINEAR, &LOW), (&PULL_UP, &PULL_DOWN)] {
        let (high, low) = (read(high, &highs, &USUAL), read(low, &lows, &USUAL));
        let model = measured(Some(high.clone()), Some(low.clone()), USUAL);
        let place = Place { pin: "left", supply_v: SUPPLY_V, nominal_v: 6.5 };
        let scenario = with_pin(&pin_toml(&model, &place));
        let part = scenario.circuit.parts.iter().find(|part| part.name == "left").unwrap();
        let PartKind::Pin(pin) = &part.kind else { panic!("no pin") };
        for (stage, inputs) in pin.levels.iter().zip([low, high]) {
            for reading in &inputs.readings {
                // The stage now follows the supply.
                let volts = node_volts(stage, reading.load, SUPPLY_V, USUAL.meter_ohms);
                assert!((volts - reading.volts).abs() < 1e-3, "{volts} {reading:?}");
            }
        }
    }
    // Measured at 6.2 V, stated at 6.5: the distance to the supply is kept.
    let inputs = Inputs { supply_v: 6.2, ..read(&LINEAR, &highs, &USUAL) };
    let model = measured(Some(inputs), None, USUAL);
    let lines = pin_toml(&model, &Place { pin: "left", supply_v: 6.2, nominal_v: 6.5 });
    assert!(lines.contains("high_volts = \"5.7 V\" # moved"), "{lines}");
    assert!(lines.contains("low_ohms = \"800\" # not measured"), "{lines}");
    let _ = with_pin(&lines);
}

#[test]
fn readings_that_no_pin_gives_are_refused() {
    let refused = |readings: Vec<Reading>, is_high: bool| {
        let inputs = Some(Inputs { supply_v: SUPPLY_V, readings });
        let (high, low) = if is_high { (inputs, None) } else { (None, inputs) };
        measure(&Measurement { high, low, doubts: USUAL, planned: None }).unwrap_err()
    };
    let open = |volts| Reading { volts, load: None };
    let into = |ohms, volts| Reading { volts, load: to(ohms, 0.0) };
    let wrong = refused(vec![open(5.0), into(1e4, 5.1)], true);
    assert!(matches!(wrong, PinError::WrongWay { reading: 1, .. }), "{wrong}");
    let wrong = refused(vec![open(5.0), into(1e4, 0.0)], true);
    assert!(matches!(wrong, PinError::WrongWay { .. }), "{wrong}");
    assert!(matches!(refused(vec![open(5.0)], true), PinError::OpenOnly { .. }));
    assert!(matches!(refused(vec![open(7.0), into(1e4, 5.0)], true), PinError::AboveSupply { .. }));
    assert!(matches!(refused(vec![open(5.0), into(1e4, 6.0)], false), PinError::NotLow { .. }));
}

#[test]
fn the_command_prints_draws_and_refuses() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    let readings = ["--open", "5.4", "--loaded", "10k=4.15", "2k2=2.28"];
    let more = ["--low-open", "0", "--pulled", "2k2@5V=1.33", "--plan", "4k7", "-o", out];
    let output = backporch(&[&["pin"], &readings[..], &more[..]].concat());
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(said.contains("[chip.pin.left]\nkind = \"linear\""), "{said}");
    assert!(said.contains("Linear fits better"), "{said}");
    assert!(folder.path().join("pin-left.png").exists());
    let json = backporch(&[&["pin", "--json", "--no-pictures"], &readings[..]].concat());
    let report: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    assert!((report["high"]["linear"]["ohms"]["value"].as_f64().unwrap() - 3e3).abs() < 30.0);
    assert!(report["low"].is_null());
    for (arguments, wanted) in [
        (&["pin"][..], "nothing was read"),
        (&["pin", "--open", "5.4"], "the high pin was read open only"),
        (&["pin", "--low-open", "0"], "expected a reading with a pull-up too"),
        (&["pin", "--low-open", "0", "--pulled", "2k2=1.3"], "names no rail"),
        (&["pin", "--loaded", "10k=4.15"], "but nothing open"),
        (&["pin", "--open", "5.4", "--loaded", "10k=5.5"], "does not lie between"),
        (&["pin", "--open", "5.4", "--loaded", "10k"], "has no `=`"),
        (&["pin", "--open", "5.4", "--loaded", "10q=4"], "is not a resistance"),
        (&["pin", "--open", "7.4", "--loaded", "10k=4"], "above the chip's supply"),
    ] {
        let output = backporch(arguments);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(said.contains(wanted), "{arguments:?}: {said}");
    }
}
