//! Controls of the example boards, held against the loader itself.

use crate::boards::example;
use crate::boards::examples;
use backporch::scenario::Scenario;
use backporch::scenario::control::Control;
use backporch::scenario::control::ControlKind;
use backporch::scenario::control::Group;
use backporch::scenario::control::Step;
use backporch::scenario::control::controls;
use backporch::scenario::entries::entries;
use backporch::scenario::load;
use std::fs;

fn board(name: &str) -> (Scenario, Vec<Group>) {
    board_with(name, &[])
}

fn board_with(name: &str, sets: &[&str]) -> (Scenario, Vec<Group>) {
    let scenario = example(name, sets);
    let sets: Vec<String> = sets.iter().map(|&set| set.to_owned()).collect();
    let written = entries(name, &sets, &mut |name| fs::read_to_string(name)).unwrap();
    let groups = controls(&scenario, &written);
    (scenario, groups)
}

fn names() -> Vec<String> {
    examples().into_iter().map(|path| path.to_str().unwrap().to_owned()).collect()
}

fn control<'a>(groups: &'a [Group], path: &str) -> &'a Control {
    let mut all = groups.iter().flat_map(|group| &group.controls);
    all.find(|control| control.path == path).unwrap_or_else(|| panic!("no control {path}"))
}

/// Texts at both ends and in the middle of what a control can be.
fn some_texts(control: &Control) -> Vec<String> {
    let picked = |steps: &[Step]| -> Vec<String> {
        let last = steps.len() - 1;
        [0, last / 3, last].iter().map(|&at| steps[at].text.clone()).collect()
    };
    match &control.kind {
        ControlKind::Steps { steps, .. } => picked(steps),
        ControlKind::Pair { steps, .. } => {
            let [a, b, c]: [String; 3] = picked(steps).try_into().unwrap();
            vec![format!("[{a}, {c}]"), format!("[{b}, {b}]")]
        }
        ControlKind::Words(words) => words.clone(),
        ControlKind::Fault(words) => words[1..].to_vec(),
    }
}

#[test]
fn every_part_of_every_example_has_a_control_and_all_its_texts_load() {
    let (mut tried, mut refused) = (0, Vec::new());
    for name in names() {
        let (scenario, groups) = board(&name);
        for (part, span) in scenario.circuit.parts.iter().zip(&scenario.part_spans) {
            // A modulator's feed resistor stands in the group of the socket.
            let of_board = span.is_some() && part.name != "feed";
            let group = groups.iter().find(|group| group.name == part.name);
            assert!(!of_board || group.is_some(), "{name}: {}", part.name);
        }
        for control in groups.iter().flat_map(|group| &group.controls) {
            for text in some_texts(control) {
                let set = format!("{}={text}", control.path);
                let mut read = |name: &str| fs::read_to_string(name);
                let loaded = load(&name, std::slice::from_ref(&set), &mut read);
                let why = loaded.err().and_then(|mut all| all.pop()).map(|one| one.message);
                refused.extend(why.map(|why| format!("{name} {set}: {why}")));
                tried += 1;
            }
        }
    }
    assert!(tried > 1000 && refused.is_empty(), "of {tried} refused: {refused:#?}");
}

#[test]
fn the_text_of_a_control_is_what_the_board_has() {
    let mut compared = 0;
    for name in names() {
        let (scenario, groups) = board(&name);
        for control in groups.iter().flat_map(|group| &group.controls) {
            // Stated cells are others than unstated ones; a clock in hertz is a ratio rounded.
            let is_own = ["charge left", "chemistry", "clock", "fault"].contains(&control.label);
            let is_knob = control.path.starts_with("controllers.");
            if is_own || is_knob || control.text.is_empty() {
                continue;
            }
            let set = format!("{}={}", control.path, control.text);
            let same = example(&name, &[&set]);
            assert!(same.circuit == scenario.circuit, "{name} {set}");
            assert!(same.raster == scenario.raster, "{name} {set}");
            assert!(same.receiver == scenario.receiver, "{name} {set}");
            compared += 1;
        }
    }
    // Of 967 on the examples as they are.
    assert!(compared > 900, "{compared}");
}

#[test]
fn a_resistor_steps_through_e24_and_a_value_between_keeps_its_place() {
    let (_, groups) = board("scenarios/table-follower.toml");
    let white = control(&groups, "R1.resistor");
    assert_eq!(white.text, "2k0");
    let ControlKind::Steps { steps, .. } = &white.kind else { panic!("steps") };
    let at = white.places("2k0")[0];
    let around: Vec<&str> = steps[at - 2..at + 3].iter().map(|step| step.text.as_str()).collect();
    // IEC 60063, E24.
    assert_eq!(around, ["1k6", "1k8", "2k0", "2k2", "2k4"]);
    assert_eq!(white.places("2.15k"), white.places("2k2"));
    assert!(white.places("rubbish").is_empty());
    assert!(steps.windows(2).all(|pair| pair[0].number < pair[1].number));
}

#[test]
fn gates_take_kinds_by_their_inputs_and_only_two_terminals_can_be_shorted() {
    let (_, groups) = board("scenarios/table-follower.toml");
    let ControlKind::Words(kinds) = &control(&groups, "U1.gate").kind else { panic!("words") };
    assert!(kinds.contains(&"nor".to_owned()) && !kinds.contains(&"not".to_owned()), "{kinds:?}");
    let words = |path: &str| match &control(&groups, path).kind {
        ControlKind::Fault(words) => words.join(" "),
        other => panic!("{other:?}"),
    };
    assert_eq!(words("R1"), "fitted open short");
    assert_eq!(words("Q1"), "fitted open");
}

#[test]
fn a_tank_has_a_core_to_turn_and_a_battery_a_charge() {
    let tank = ["chip.clock.coil=25.5uH", "chip.clock.capacitor=220pF", "chip.clock.core=0.7"];
    let (_, coil) = board_with("scenarios/chapel-follower.toml", &tank);
    let core = control(&coil, "chip.clock.core");
    assert_eq!((core.text.as_str(), core.places("0.7")), ("0.7", vec![70]));
    assert_eq!(control(&coil, "chip.clock.coil").text, "25.5uH");
    let has_charge = |name: &String| {
        let all = board(name).1;
        all.iter().any(|group| group.controls.iter().any(|one| one.label == "charge left"))
    };
    assert!(names().iter().any(has_charge), "no example has a battery");
}
