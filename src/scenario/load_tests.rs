//! The reader from end to end, on texts in memory.

use crate::base::diagnostic::Diagnostic;
use crate::network::circuit::Logic;
use crate::network::circuit::PartKind;
use crate::network::circuit::PinStage;
use crate::profile::builtin;
use crate::raster::plan::Content;
use crate::receiver::demands::Origin;
use crate::receiver::demands::Property;
use crate::scenario::Scenario;
use crate::scenario::expect::Bounds;
use crate::scenario::expect::Expectation;
use crate::scenario::expect::OfShape;
use crate::scenario::expect::ShapeAmount;
use crate::scenario::load;
use std::io;

const CHAPEL: &str = include_str!("../../scenarios/chapel-follower.toml");

fn load_with(files: &[(&str, &str)], sets: &[&str]) -> Result<Scenario, Vec<Diagnostic>> {
    let sets: Vec<String> = sets.iter().map(|&set| set.to_owned()).collect();
    let mut read = |name: &str| {
        let found = files.iter().find(|(known, _)| *known == name);
        found.map(|(_, text)| (*text).to_owned()).ok_or(io::ErrorKind::NotFound.into())
    };
    load(files[0].0, &sets, &mut read)
}

fn chapel(sets: &[&str]) -> Scenario {
    load_with(&[("scenarios/chapel-follower.toml", CHAPEL)], sets)
        .unwrap_or_else(|problems| panic!("{problems:#?}"))
}

fn mistakes(text: &str, sets: &[&str]) -> Vec<Diagnostic> {
    load_with(&[("t.toml", text)], sets).expect_err("a mistake")
}

fn kind<'a>(scenario: &'a Scenario, name: &str) -> &'a PartKind {
    let part = scenario.circuit.part(name).unwrap_or_else(|| panic!("no part {name}"));
    &scenario.circuit.parts[part.0].kind
}

fn ohms(scenario: &Scenario, name: &str) -> f64 {
    match kind(scenario, name) {
        PartKind::Resistor { ohms, .. } => *ohms,
        other => panic!("{other:?}"),
    }
}

fn assert_near(found: f64, expected: f64) {
    assert!((found - expected).abs() <= expected.abs() * 1e-12, "{found}, expected {expected}");
}

#[test]
fn the_chapel_board_resolves() {
    let scenario = chapel(&[]);
    assert_eq!(scenario.name, "chapel-follower");
    let names: Vec<&str> = scenario
        .circuit
        .pins()
        .map(|(id, _)| id.0)
        .map(|id| scenario.circuit.parts[id].name.as_str())
        .collect();
    assert_eq!(names, ["sync", "field", "ball", "left", "right"]);
    assert_near(ohms(&scenario, "R1"), 1500.0);
    assert_near(ohms(&scenario, "load"), 75.0);
    assert_eq!(scenario.part_spans.len(), scenario.circuit.parts.len());
    assert_eq!(scenario.node_spans.len(), scenario.circuit.nodes.len());
    assert!(scenario.circuit.part("stray at mix").is_some());
    assert!(scenario.circuit.part("stray at rail5").is_none());
    let Content::Game(court, state) = &scenario.raster.content else { panic!("a game") };
    assert_eq!(court.paddles.len(), 2);
    assert_eq!(state.score, [3, 11]);
    assert_eq!((court.paddles[0].top, court.paddles[0].bottom), (52, 232));
}

#[test]
fn pins_follow_the_supply_and_low_is_stronger_than_high() {
    let scenario = chapel(&[]);
    let PartKind::Pin(pin) = kind(&scenario, "left") else { panic!("a pin") };
    let [
        PinStage::Linear { ohms: low, share: 0.0, .. },
        PinStage::Linear { offset, share, ohms: high },
    ] = pin.levels[..]
    else {
        panic!("{:?}", pin.levels)
    };
    assert_near(offset, 5.4 - 6.5);
    assert_near(share, 1.0);
    assert!(low * 3.0 < high);
}

#[test]
fn every_built_in_chip_resolves_on_every_court_and_in_every_strength() {
    for (name, _) in builtin::BUILTIN {
        for court in ["net", "solo", "wall", "goals", "target", "jumping"] {
            for strength in ["weak", "typical", "strong"] {
                chapel(&[
                    &format!("chip.profile={name}"),
                    &format!("game.court={court}"),
                    &format!("chip.strength={strength}"),
                ]);
            }
        }
    }
}

#[test]
fn settings_reach_their_places() {
    let scenario = chapel(&[
        "R1=2k2",
        "U1b.gate=nor",
        "R2.to=white",
        "output.load=37.5",
        "game.left=0.3",
        "game.ball=[0.5, 0.25]",
        "chip.pins.left=right",
        "title=Another board",
        "receiver.kind=monitor",
    ]);
    assert_near(ohms(&scenario, "R1"), 2200.0);
    assert_near(ohms(&scenario, "load"), 37.5);
    let PartKind::Gate(gate) = kind(&scenario, "U1b") else { panic!("a gate") };
    assert_eq!(gate.logic, Logic::Nor);
    assert_eq!(scenario.title, "Another board");
    let PartKind::Pin(pin) = kind(&scenario, "left") else { panic!("a pin") };
    assert_eq!(scenario.circuit.node_name(pin.node), "right");
}

#[test]
fn open_and_short_break_the_resolved_part() {
    let scenario = chapel(&["R1=open", "R5=short", "Q1=open", "left=open"]);
    assert_near(ohms(&scenario, "R1"), 1e9);
    assert_near(ohms(&scenario, "R5"), 1.0);
    assert_near(ohms(&scenario, "Q1 leak at drive"), 1e9);
    assert_eq!(scenario.circuit.pins().count(), 5);
    assert_eq!(scenario.part_spans.len(), scenario.circuit.parts.len());
}

#[test]
fn a_mistake_in_a_setting_points_into_it() {
    let board = CHAPEL;
    for (set, covered, hint) in [
        ("R19=2k2", "R19", None),
        ("U1A.gate=nor", "U1A", Some("did you mean `U1a`?")),
        ("U1a.gate=orr", "orr", Some("did you mean `or`?")),
        ("game.lft=0.3", "lft", Some("did you mean `left`?")),
        ("R1=-5", "-5", None),
        ("R1", "R1", None),
        ("R1=", "", None),
        ("Q1=short", "Q1", None),
        ("output=3", "output", None),
    ] {
        let found = mistakes(board, &[set]);
        assert_eq!(found.len(), 1, "{set}: {found:#?}");
        let span = found[0].span.as_ref().unwrap();
        assert_eq!((span.source.name.as_str(), span.text()), ("--set", covered), "{set}");
        if hint.is_some() {
            assert_eq!(found[0].hint.as_deref(), hint, "{set}");
        }
    }
}

#[test]
fn a_variant_changes_adds_and_removes() {
    let variant = r#"
base = "chapel-follower.toml"
title = "With a NOR by mistake"
remove = ["R3"]
[change]
R1 = "2k2"
"U1b.gate" = "nor"
R5 = "open"
game.left = 0.1
[board.R9]
resistor = "1 k"
from = "mix"
to = "ground"
"#;
    let files = [("scenarios/v.toml", variant), ("scenarios/chapel-follower.toml", CHAPEL)];
    let scenario = load_with(&files, &["R9=820"]).unwrap_or_else(|found| panic!("{found:#?}"));
    assert_eq!((scenario.name.as_str(), scenario.title.as_str()), ("v", "With a NOR by mistake"));
    assert_near(ohms(&scenario, "R1"), 2200.0);
    assert_near(ohms(&scenario, "R5"), 1e9);
    assert_near(ohms(&scenario, "R9"), 820.0);
    assert!(scenario.circuit.part("R3").is_none());
}

#[test]
fn a_base_that_leads_back_is_refused() {
    let found =
        load_with(&[("a.toml", "base = \"b.toml\"\n"), ("b.toml", "base = \"a.toml\"\n")], &[])
            .expect_err("a circle");
    assert!(found[0].message.contains("based on itself"), "{found:#?}");
}

#[test]
fn a_users_own_profile_is_read_beside_the_scenario() {
    let own = builtin::text("two-player-60").unwrap();
    let files = [("s/c.toml", CHAPEL), ("chips/mine.toml", own)];
    let scenario = load_with(&files, &["chip.profile=chips/mine.toml"]).unwrap();
    assert_eq!(scenario.raster.timing.lines_per_field, 262);
    assert_near(scenario.receiver.line_hz, 15_734.264 * 0.9995);
    let text = CHAPEL.replace("two-player-50", "mine.toml");
    assert!(load_with(&[("s/c.toml", &text), ("s/mine.toml", own)], &[]).is_ok());
    let lost = load_with(&[("s/c.toml", &text)], &[]).expect_err("no file");
    assert_eq!(lost[0].message, "there is no file `s/mine.toml`");
}

const BENCH: &str = r#"
[chip.timing]
clock = "2 MHz"
clocks_per_line = 128
lines = 312
sync = 9
active = [21, 125]
field_sync = "held"
first_active_line = 24
[chip.drive]
kind = "fixed"
high_volts = "1 V"
high_ohms = "75"
low_ohms = "75"
[chip.pattern.bar]
active = [{ lines = [100, 200], clocks = [40, 80] }]
[chip.pattern.dark]
sense = "low"
active = [{ lines = [100, 200], clocks = [80, 100] }]
[board.R1]
resistor = "75"
from = "bar"
to = "plug"
[board.R2]
resistor = "75"
from = "dark"
to = "plug"
[board.R3]
resistor = "150"
from = "sync"
to = "plug"
[output]
node = "plug"
load = "open"
"#;

#[test]
fn a_chip_may_be_nothing_but_patterns_and_fixed_volts() {
    let scenario = load_with(&[("bench.toml", BENCH)], &[]).unwrap_or_else(|f| panic!("{f:#?}"));
    assert_eq!(scenario.raster.elements, ["bar", "dark"]);
    let Content::Pattern(map) = &scenario.raster.content else { panic!("a pattern") };
    assert_eq!(map.patches.len(), 200);
    assert_eq!(scenario.circuit.pins().count(), 3);
    assert_near(ohms(&scenario, "load"), 1e6);
    assert!(scenario.circuit.part("chip").is_none());
}

#[test]
fn a_pattern_that_follows_the_supply_needs_one() {
    let found = mistakes(&BENCH.replace("\"fixed\"", "\"linear\""), &[]);
    assert_eq!(found.len(), 1, "{found:#?}");
    assert!(found[0].message.contains("has no `supply`"), "{found:#?}");
}

#[test]
fn measured_pins_give_the_resistance_behind_two_readings() {
    let text = CHAPEL.to_owned()
        + r#"
[chip.pin.left]
kind = "measured"
high_open_volts = "5.4 V"
high_loaded_volts = "2.7 V"
high_load = "3 k"
low_loaded_volts = "1 V"
low_load = "4 k"
low_rail = "5 V"
"#;
    let scenario = load_with(&[("t.toml", &text)], &[]).unwrap_or_else(|f| panic!("{f:#?}"));
    let PartKind::Pin(pin) = kind(&scenario, "left") else { panic!("a pin") };
    let [PinStage::Linear { ohms: low, .. }, PinStage::Linear { ohms: high, .. }] = pin.levels[..]
    else {
        panic!("{:?}", pin.levels)
    };
    assert_near(high, 3000.0); // half the voltage into the same resistance
    assert_near(low, 1000.0); // 1 V of 5 V across 1 k under 4 k
}

#[test]
fn a_text_cut_off_anywhere_is_a_mistake_and_never_a_panic() {
    for end in (0..CHAPEL.len()).step_by(7) {
        if let Some(text) = CHAPEL.get(..end) {
            let _ = load_with(&[("t.toml", text)], &[]).map_err(|found| assert!(!found.is_empty()));
        }
    }
}

#[test]
fn the_variant_in_the_format_reference_is_one() {
    let text = include_str!("../../scenarios/FORMAT.md");
    let variant = text.split("```toml\n").nth(1).and_then(|rest| rest.split("```").next()).unwrap();
    let files = [("scenarios/v.toml", variant), ("scenarios/chapel-follower.toml", CHAPEL)];
    let scenario = load_with(&files, &[]).unwrap_or_else(|found| panic!("{found:#?}"));
    assert_near(ohms(&scenario, "R1"), 2200.0);
    assert!(scenario.circuit.part("R3").is_none());
}

#[test]
fn the_lock_of_a_set_follows_its_kind_its_knobs_and_its_own_keys() {
    let plain = chapel(&[]).receiver;
    assert!(plain.demands.is_empty());
    let turned = chapel(&["receiver.hold=-1", "receiver.field_hold=0.5"]).receiver;
    assert_near(turned.line_hz, plain.line_hz * 0.95);
    assert_near(turned.field_hz, plain.field_hz * 1.05);
    assert_near(turned.field_loop.highest_hz, plain.field_loop.highest_hz * 1.05);
    let slow = chapel(&["receiver.lock_frequency=\"100 Hz\"", "receiver.lock_swing=\"6 us\""]);
    assert_near(slow.receiver.line_loop.natural_hz, 100.0);
    assert_near(slow.receiver.line_loop.hold(), 0.072);
    let panel = chapel(&["receiver.kind=flat-panel", "receiver.accepts.line=\"5 %\""]).receiver;
    let line = panel.demands.iter().find(|demand| demand.property == Property::LineRate).unwrap();
    assert_near(line.high, 0.05);
    assert_eq!((panel.demands.len(), line.origin), (9, Origin::Stated));
    assert_near(chapel(&["chip.clock=\"1.95 MHz\""]).raster.timing.clock.hertz(), 1.95e6);
}

#[test]
fn a_lock_that_cannot_be_is_refused() {
    let knob = mistakes(CHAPEL, &["receiver.kind=monitor", "receiver.hold=0.2"]);
    assert_eq!(knob.len(), 1, "{knob:#?}");
    assert!(knob[0].message.contains("only a tube set of the old kind"));
    // No lead is left for so little damping at so high a natural frequency.
    let filter = mistakes(CHAPEL, &["receiver.lock_damping=0.05"]);
    assert_eq!(filter.len(), 1, "{filter:#?}");
    assert!(filter[0].message.contains("no filter gives"));
}

#[test]
fn every_key_of_the_small_tables_is_in_the_format_reference() {
    let text = include_str!("../../scenarios/FORMAT.md");
    for table in ["solve", "verdict", "wiring", "output", "game", "chip", "sound"] {
        // A wrong key makes the reader list the ones it knows, if they are few; ask for each.
        let wrong = format!("{table}.no_such_key=1");
        let found = mistakes(CHAPEL, &[&wrong]);
        assert_eq!(found.len(), 1, "{found:#?}");
        assert!(found[0].expected.contains('`'), "{table}");
        for word in found[0].expected.split('`').skip(1).step_by(2) {
            assert!(
                text.contains(&format!("`{word}`"))
                    || text.contains(&format!("`[chip.{word}]`"))
                    || text.contains(&format!("`[chip.{word}.NAME]`")),
                "{table}.{word}"
            );
        }
    }
}

#[test]
fn a_pistol_before_a_panel_is_remarked_on() {
    let cautions = |set: &str| {
        let sets = ["game.court=target", "game.shots=[3, 9]", "receiver.span=1", set];
        chapel(&sets).cautions().iter().filter(|caution| caution.contains("pistol")).count()
    };
    assert_eq!([cautions("receiver.kind=flat-panel"), cautions("receiver.kind=tube-set")], [1, 0]);
}

/// The chapel board with other parts besides.
fn chapel_with(parts: &str, sets: &[&str]) -> Result<Scenario, Vec<Diagnostic>> {
    let text = format!("{CHAPEL}\n{parts}");
    load_with(&[("t.toml", &text)], sets)
}

#[test]
fn a_zener_is_its_voltage_and_its_resistance_at_a_test_current() {
    let zener = "[board.D9]\nzener = \"5V6\"\ndynamic_resistance = \"40\"\ntest_current = \"5 mA\"\n\
                 series_resistance = \"2\"\nanode = \"ground\"\ncathode = \"rail5\"";
    let scenario = chapel_with(zener, &[]).unwrap();
    let PartKind::Diode { model, .. } = kind(&scenario, "D9") else { panic!("a diode") };
    let breakdown = model.breakdown.unwrap();
    // The junction itself lacks the 10 mV and the 2 Ω of the series resistance.
    assert_near(breakdown.volts, 5.59);
    assert_near(breakdown.slope_volts, 38.0 * 5e-3);
    let set = chapel_with(zener, &["D9=6V2"]).unwrap();
    let PartKind::Diode { model, .. } = kind(&set, "D9") else { panic!("a diode") };
    assert_near(model.breakdown.unwrap().volts, 6.19);
}

#[test]
fn what_is_expected_keeps_its_place_and_an_expectation_can_be_lifted() {
    let variant = "base = \"scenarios/chapel-follower.toml\"\n\
                   [change]\nexpect.left.delta = [\"-5 mV\", \"any\"]\n\
                   [expect]\nball = \"any\"\n[expect.waveform]\nfile = \"w/chapel.wav\"\n";
    let files = [("v/t.toml", variant), ("v/scenarios/chapel-follower.toml", CHAPEL)];
    let scenario = load_with(&files, &["expect.field.seen=any"]).unwrap();
    let find = |name: &str| scenario.expect.iter().find(|expected| expected.name == name);
    let lifted = ["ball.seen", "ball.delta", "field.seen"].map(find);
    assert_eq!(lifted, [None, None, None]);
    let delta = find("left.delta").unwrap();
    let bounds = Bounds { low: Some(-0.005), high: None };
    let amount = OfShape::Amount(ShapeAmount::Delta, bounds);
    assert_eq!(delta.what, Expectation::Shape("left".to_owned(), amount));
    assert_eq!((delta.place.source.name.as_str(), delta.place.line()), ("v/t.toml", 3));
    let path = "v/w/chapel.wav".to_owned();
    let wave = find("waveform").unwrap();
    assert_eq!(wave.what, Expectation::Waveform { path, within_v: 2e-3 });
    assert_eq!(find("sync").unwrap().place.source.name, "v/scenarios/chapel-follower.toml");
}

#[test]
fn a_specimen_of_low_gain_takes_more_base_current() {
    let with = |gain: &str| {
        let gain = format!("Q1.gain={gain}");
        let scenario = chapel_with("", &["Q1.transistor=2N3906", &gain]).unwrap();
        let PartKind::Transistor { model, .. } = kind(&scenario, "Q1") else { panic!("it is one") };
        (model.forward_gain, model.base_leakage)
    };
    let (low, typical) = (with("low"), with("typical"));
    assert!(low.0 < typical.0 && low.1 > typical.1, "{low:?} {typical:?}");
}

#[test]
fn the_temperature_reaches_every_junction() {
    let warm = chapel(&["wiring.temperature=50 C"]);
    let cold = chapel(&[]);
    let vt = |scenario: &Scenario| match kind(scenario, "Q1") {
        PartKind::Transistor { model, .. } => model.thermal_volts,
        other => panic!("{other:?}"),
    };
    assert_near(vt(&warm) / vt(&cold), 323.15 / 300.0);
    let clamp = |scenario: &Scenario| match kind(scenario, "U1a") {
        PartKind::Gate(gate) => gate.clamp.unwrap().thermal_volts,
        other => panic!("{other:?}"),
    };
    assert_near(clamp(&warm), vt(&warm));
    assert_eq!(chapel(&["wiring.temperature=26.85 C"]), cold);
}

#[test]
fn a_transistor_tied_to_itself_is_refused() {
    let found = mistakes(CHAPEL, &["Q1.collector=drive"]);
    assert_eq!(found[0].message, "collector and emitter of part `Q1` are tied to the same node");
}

#[test]
fn a_base_that_nothing_drives_is_refused_and_a_turned_zener_is_remarked_on() {
    let found = mistakes(CHAPEL, &["Q1.base=elsewhere"]);
    assert_eq!(
        found[0].message,
        "part `Q1` is controlled from node `elsewhere`, which nothing drives"
    );
    let zener = |anode: &str, cathode: &str| {
        let part =
            format!("[board.D9]\nzener = \"6V2\"\nanode = \"{anode}\"\ncathode = \"{cathode}\"");
        chapel_with(&part, &[]).unwrap().cautions()
    };
    assert!(zener("ground", "chip_rail").is_empty());
    assert!(zener("chip_rail", "ground")[0].contains("zener `D9` has its cathode at ground"));
}
