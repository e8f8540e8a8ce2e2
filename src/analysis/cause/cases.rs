//! The classic ways to lose a player, each read as a restorer would read it.

use crate::analysis::cause::Cause;
use crate::analysis::cause::Subject;
use crate::analysis::cause::cause;
use crate::scenario::Scenario;
use crate::scenario::change::Change;
use crate::scenario::load;
use crate::signal::element::ElementId;

/// A chip with a pin for sync and one for each element: 5.4 V behind 3 kΩ, or 0.8 kΩ to ground.
const CHIP: &str = r#"
[chip]
supply = "chip_rail"
[chip.timing]
clock = "2 MHz"
clocks_per_line = 128
lines = 312
sync = 9
back_porch = 12
front_porch = 3
field_sync = "inverted"
first_active_line = 24
[chip.drive]
kind = "fixed"
high_volts = 5.4
high_ohms = "3 k"
low_ohms = 800
[chip.pattern.field]
active = [{ lines = [40, 60], clocks = [30, 40] }]
[chip.pattern.ball]
active = [{ lines = [80, 90], clocks = [50, 60] }]
[chip.pattern.right]
active = [{ lines = [120, 130], clocks = [70, 80] }]
[chip.pattern.left]
active = [{ lines = [160, 180], clocks = [90, 100] }]
[board.V1]
supply = "6.5 V"
node = "chip_rail"
[board.V2]
supply = "5 V"
node = "rail5"
"#;

const FOLLOWER: &str = r#"
[board.U1]
gate = "or"
family = "plain"
inputs = ["field", "ball", "right"]
output = "white"
supply = "rail5"
[board.R1]
resistor = "2 k"
from = "white"
to = "base"
[board.R2]
resistor = "2.2 k"
from = "sync"
to = "base"
[board.P1]
trimmer = "10 k"
position = 0.33
from = "left"
wiper = "base"
to = "base"
[board.R3]
resistor = "3.9 k"
from = "rail5"
to = "base"
[board.R4]
resistor = "2 k"
from = "base"
to = "ground"
[board.Q1]
transistor = "small NPN"
collector = "rail5"
base = "base"
emitter = "drive"
[board.R5]
resistor = "1 k"
from = "drive"
to = "ground"
[board.R6]
resistor = "75"
from = "drive"
to = "plug"
[output]
node = "plug"
load = 75
"#;

/// A raw supply of 9 V.
const RAW_9: &str = "[board.V3]\nsupply = \"9 V\"\nnode = \"raw\"\n";

const CHAPEL: &str = include_str!("../../../scenarios/chapel-follower.toml");

fn read(text: &str, sets: &[&str]) -> Scenario {
    let sets: Vec<String> = sets.iter().map(|&set| set.to_owned()).collect();
    load("t.toml", &sets, &mut |_| Ok(text.to_owned()))
        .unwrap_or_else(|problems| panic!("{problems:#?}"))
}

fn board(parts: &str, sets: &[&str]) -> Scenario {
    read(&format!("{CHIP}{parts}"), sets)
}

/// The biased follower with parts added and settings changed.
fn follower(more: &str, sets: &[&str]) -> Scenario {
    board(&format!("{FOLLOWER}{more}"), sets)
}

fn found(scenario: &Scenario, element: &str) -> Cause {
    let index = scenario.raster.elements.iter().position(|name| name == element).unwrap();
    let element = ElementId(u8::try_from(index).unwrap());
    cause(scenario, element).unwrap().expect("the element is not clear")
}

fn resistor(name: &str, ohms: &str, from: &str, to: &str) -> String {
    format!("[board.{name}]\nresistor = \"{ohms}\"\nfrom = \"{from}\"\nto = \"{to}\"\n")
}

fn says(scenario: &Scenario, element: &str, part: &str, words: &str) {
    let cause = found(scenario, element);
    assert_eq!(cause.words, words);
    assert_eq!(cause.part, part);
}

/// The follower with both players on a gate input `players`, none on the trimmer.
fn two_players(more: &str, sets: &[&str]) -> Scenario {
    let (gate, rest) = FOLLOWER.split_once("[board.P1]").unwrap();
    let (_, rest) = rest.split_once("[board.R3]").unwrap();
    let gate = gate.replace("\"right\"", "\"players\"");
    board(&format!("{gate}[board.R3]{rest}{more}"), sets)
}

/// A resistor adder straight into the socket.
fn adder(white: &str, left: &str, sync: &str) -> Scenario {
    let whites = [("R1", "field"), ("R2", "ball"), ("R3", "right")];
    let mut parts: String =
        whites.iter().map(|(name, pin)| resistor(name, white, pin, "plug")).collect();
    parts += &resistor("R4", left, "left", "plug");
    parts += &resistor("R5", sync, "sync", "plug");
    board(&format!("{parts}[output]\nnode = \"plug\"\nload = 75\n"), &[])
}

/// White from a gate, sync from a buffer, the left player straight from the chip.
fn separate_grey(left: &str) -> Scenario {
    let mut parts = String::from(
        "[board.U1]\ngate = \"or\"\nfamily = \"plain\"\ninputs = [\"field\", \"ball\", \"right\"]\n\
         output = \"white\"\nsupply = \"rail5\"\n\
         [board.U2]\ngate = \"buffer\"\nfamily = \"plain\"\ninputs = [\"sync\"]\n\
         output = \"sync_out\"\nsupply = \"rail5\"\n",
    );
    parts += &resistor("R1", "430", "white", "plug");
    parts += &resistor("R2", "1 k", "sync_out", "plug");
    parts += &resistor("R4", left, "left", "plug");
    board(&format!("{parts}[output]\nnode = \"plug\"\nload = 75\n"), &[])
}

fn diode_adder(right: [&str; 2]) -> Scenario {
    let diode = |name: &str, [anode, cathode]: [&str; 2]| {
        format!(
            "[board.{name}]\ndiode = \"silicon signal\"\nanode = \"{anode}\"\n\
             cathode = \"{cathode}\"\n"
        )
    };
    let mut parts = diode("D1", ["field", "bus"]);
    parts += &diode("D2", ["ball", "bus"]);
    parts += &diode("D3", right);
    parts += &diode("D4", ["left", "bus"]);
    parts += &resistor("R1", "4.7 k", "bus", "ground");
    parts += &resistor("R2", "5.6 k", "sync", "bus");
    parts += &resistor("R3", "2.2 k", "bus", "modulator");
    board(&format!("{parts}[output]\nnode = \"modulator\"\nload = \"1 k\"\n"), &[])
}

/// The follower with open-drain pins, lit low, into a NAND.
fn lit_low(sets: &[&str]) -> Scenario {
    let mut parts = FOLLOWER.replace("\"or\"", "\"nand\"");
    let mut all: Vec<String> = Vec::new();
    for (name, pin) in [("R21", "field"), ("R22", "ball"), ("R23", "right")] {
        parts += &resistor(name, "4.7 k", pin, "rail5");
        all.push(format!("chip.pin.{pin}.kind=open-drain"));
        all.push(format!("chip.pin.{pin}.low_ohms=300"));
        all.push(format!("chip.pin.{pin}.sense=low"));
    }
    let all: Vec<&str> = all.iter().map(String::as_str).chain(sets.iter().copied()).collect();
    board(&parts, &all)
}

/// A follower with nothing from the rail to its base.
fn unbiased() -> Scenario {
    let (before, rest) = FOLLOWER.split_once("[board.R3]").unwrap();
    let (_, after) = rest.split_once("[board.R4]").unwrap();
    let sets = ["R1=1.5k", "R2=6.8k", "R4=1k", "P1.position=0.6"];
    board(&format!("{before}[board.R4]{after}"), &sets)
}

#[test]
fn two_players_on_one_gate_input_hold_each_other_down() {
    let scenario = two_players("", &["chip.pins.left=players", "chip.pins.right=players"]);
    says(
        &scenario,
        "left",
        "right",
        "LEFT reaches 1.14 V at U1's input `players`, which needs 2.50 V: pin RIGHT (800 Ω when \
         low) is tied to the same node and pulls it down.",
    );
    says(
        &scenario,
        "right",
        "left",
        "RIGHT reaches 1.14 V at U1's input `players`, which needs 2.50 V: pin LEFT (800 Ω when \
         low) is tied to the same node and pulls it down.",
    );
}

#[test]
fn two_players_joined_by_resistors_are_lost_too() {
    let scenario = two_players(
        &(resistor("R11", "4.7 k", "left", "players")
            + &resistor("R12", "4.7 k", "right", "players")),
        &[],
    );
    says(
        &scenario,
        "left",
        "R12",
        "LEFT reaches 2.25 V at U1's input `players`, which needs 2.50 V: R12 (4.7 kΩ) joins it \
         to pin RIGHT (800 Ω when low), which pulls it down.",
    );
    says(
        &scenario,
        "right",
        "R11",
        "RIGHT reaches 2.25 V at U1's input `players`, which needs 2.50 V: R11 (4.7 kΩ) joins it \
         to pin LEFT (800 Ω when low), which pulls it down.",
    );
}

#[test]
fn what_is_left_of_the_old_network_is_named() {
    let scenario = follower(&resistor("R9", "1 k", "right", "ground"), &[]);
    says(
        &scenario,
        "right",
        "R9",
        "RIGHT reaches 1.35 V at U1's input `right`, which needs 2.50 V: R9 (1 kΩ) to ground \
         pulls it down. With 2.7 kΩ RIGHT is clear.",
    );
}

#[test]
fn two_pins_bridged_are_told_at_both() {
    let scenario = follower(&resistor("R9", "1", "right", "left"), &[]);
    says(
        &scenario,
        "right",
        "R9",
        "RIGHT reaches 1.20 V at U1's input `right`, which needs 2.50 V: R9 (1 Ω) joins it to \
         pin LEFT (800 Ω when low), which pulls it down.",
    );
    says(
        &scenario,
        "left",
        "R9",
        "LEFT amounts to 1.05 V at `left`: R9 (1 Ω, as good as a short) to pin RIGHT (800 Ω when \
         low) pulls it down. Without it LEFT is clear.",
    );
}

#[test]
fn a_gate_of_the_wrong_kind_is_named_with_the_right_one() {
    let scenario = follower("", &["U1.gate=and"]);
    says(
        &scenario,
        "right",
        "U1",
        "RIGHT reaches U1's input `right`, but U1 is an AND gate: its output `white` stands at \
         33 mV with nothing lit, and RIGHT leaves it there. With an OR gate in its place RIGHT \
         is clear.",
    );
    let scenario = follower("", &["U1.gate=nand"]);
    says(
        &scenario,
        "ball",
        "U1",
        "BALL reaches U1's input `ball`, but U1 is a NAND gate: its output `white` stands at \
         4.95 V with nothing lit, and BALL leaves it there. With an OR gate in its place BALL is \
         clear.",
    );
    let scenario = lit_low(&["U1.gate=nor"]);
    says(
        &scenario,
        "field",
        "U1",
        "FIELD reaches U1's input `field`, but U1 is a NOR gate: its output `white` stands at 33 \
         mV with nothing lit, and FIELD leaves it there. With a NAND gate in its place FIELD is \
         clear.",
    );
}

#[test]
fn a_gate_before_the_gate_may_be_the_wrong_one() {
    let scenario = read(CHAPEL, &["U1a.gate=nor"]);
    says(
        &scenario,
        "right",
        "U1a",
        "RIGHT reaches U1b's input `right`, but the input `marks` beside it stands at 5.00 V \
         with nothing lit and holds the output: U1a, which drives it, is a NOR gate. With an OR \
         gate in its place RIGHT is clear.",
    );
}

#[test]
fn a_trimmer_says_how_much_of_it_is_in_the_way() {
    let scenario = follower("", &["P1=22k", "P1.position=1"]);
    says(
        &scenario,
        "left",
        "P1",
        "LEFT enters P1 (22 kΩ of its 22 kΩ) as 4.90 V and leaves it as 147 mV at `base`. With \
         8.2 kΩ LEFT is clear.",
    );
    let scenario = follower("", &["P1=100k"]);
    says(
        &scenario,
        "left",
        "P1",
        "LEFT enters P1 (33 kΩ of its 100 kΩ) as 5.05 V and leaves it as 102 mV at `base`. With \
         8.2 kΩ LEFT is clear.",
    );
}

#[test]
fn a_resistor_that_is_open_or_too_large_is_named() {
    let scenario = follower("", &["R1=open"]);
    says(
        &scenario,
        "field",
        "R1",
        "FIELD enters R1 (open) as 5.00 V and leaves it as 0 mV at `base`. With 4.7 kΩ FIELD is \
         clear.",
    );
    let scenario = follower("", &["R1=20k"]);
    says(
        &scenario,
        "right",
        "R1",
        "RIGHT enters R1 (20 kΩ) as 4.99 V and leaves it as 195 mV at `base`. With 4.7 kΩ RIGHT \
         is clear.",
    );
    let scenario = follower("", &["R6=750"]);
    says(
        &scenario,
        "field",
        "R6",
        "FIELD enters R6 (750 Ω) as 1.41 V and leaves it as 129 mV at `plug`. With 220 Ω FIELD \
         is clear.",
    );
    says(
        &scenario,
        "left",
        "R6",
        "LEFT enters R6 (750 Ω) as 591 mV and leaves it as 54 mV at `plug`. With 220 Ω LEFT is \
         clear.",
    );
    let scenario = follower("", &["R6=open"]);
    says(
        &scenario,
        "left",
        "R6",
        "LEFT enters R6 (open) as 594 mV and leaves it as 0 mV at `plug`. With 47 Ω LEFT is \
         clear.",
    );
}

#[test]
fn a_resistor_that_pulls_too_hard_is_named_for_every_element() {
    let scenario = follower("", &["R4=200"]);
    says(
        &scenario,
        "field",
        "R4",
        "FIELD amounts to 394 mV at `base`: R4 (200 Ω) to ground pulls it down. With 680 Ω FIELD \
         is clear.",
    );
    says(
        &scenario,
        "left",
        "R4",
        "LEFT amounts to 146 mV at `base`: R4 (200 Ω) to ground pulls it down. With 680 Ω LEFT \
         is clear.",
    );
    let scenario = follower("", &["R1=short"]);
    says(
        &scenario,
        "left",
        "R1",
        "LEFT amounts to 42 mV at `base`: R1 (1 Ω, as good as a short) to U1's output pulls it \
         down. With 4.7 kΩ LEFT is clear.",
    );
}

#[test]
fn a_short_is_named_wherever_it_is() {
    let scenario = follower(&resistor("R9", "1", "plug", "ground"), &[]);
    says(
        &scenario,
        "field",
        "R9",
        "FIELD amounts to 18 mV at `plug`: R9 (1 Ω, as good as a short) to ground pulls it down. \
         Without it FIELD is clear.",
    );
    let scenario = follower(&resistor("R9", "1", "base", "drive"), &[]);
    says(
        &scenario,
        "field",
        "R9",
        "FIELD amounts to 261 mV at `drive`: R9 (1 Ω, as good as a short) to `base` holds it. \
         Without it FIELD is clear.",
    );
    let scenario = follower(&resistor("R9", "1", "base", "rail5"), &[]);
    says(
        &scenario,
        "field",
        "R9",
        "FIELD amounts to 2.4 mV at `base`: R9 (1 Ω, as good as a short) to `rail5` holds it. \
         Without it FIELD is clear.",
    );
}

#[test]
fn a_transistor_fitted_wrongly_is_named() {
    let scenario = follower("", &["Q1.base=drive", "Q1.emitter=base"]);
    says(
        &scenario,
        "field",
        "Q1",
        "FIELD reaches Q1 as 1.45 V at `base`, but only 0 mV passes. With its base and emitter \
         exchanged FIELD is clear.",
    );
    let scenario = follower("", &["Q1.base=rail5", "Q1.collector=base"]);
    says(
        &scenario,
        "field",
        "Q1",
        "FIELD reaches Q1 as 1.8 mV at `base`, but only 1.4 mV passes. With its collector and \
         base exchanged FIELD is clear.",
    );
}

#[test]
fn a_diode_fitted_backwards_is_named() {
    let scenario = diode_adder(["bus", "right"]);
    says(
        &scenario,
        "right",
        "D3",
        "RIGHT reaches D3 as 5.25 V at `right`, but only 301 mV passes. With its anode and \
         cathode exchanged RIGHT is clear.",
    );
}

#[test]
fn a_diode_that_has_been_opened_is_given_no_value() {
    let mut scenario = diode_adder(["right", "bus"]);
    let part = scenario.circuit.part("D3").unwrap();
    scenario = scenario.changed(&Change::Open(part)).unwrap();
    says(
        &scenario,
        "right",
        "D3",
        "RIGHT enters D3 (open) as 5.40 V and leaves it as 0 mV at `bus`.",
    );
}

/// Two resistors hang on the base beside the way: no sentence ends in them.
#[test]
fn a_side_branch_is_no_dead_end() {
    let branch =
        resistor("R9", "1 k", "base", "aside") + &resistor("R10", "1 k", "aside", "ground");
    let scenario = follower(&branch, &["Q1=open"]);
    let cause = found(&scenario, "field");
    assert!(cause.words.starts_with("FIELD gets as far as `base`,"), "{}", cause.words);
    assert!(cause.words.ends_with("Q1 is open."), "{}", cause.words);
}

#[test]
fn a_shallow_sync_is_told_as_an_element_is() {
    let sync =
        |scenario: &Scenario| cause(scenario, Subject::Sync).unwrap().map(|found| found.words);
    assert_eq!(sync(&follower("", &[])), None);
    let words = sync(&follower("", &["R2=22k"])).unwrap();
    assert!(words.starts_with("SYNC enters R2 (22 kΩ) as "), "{words}");
    assert!(words.contains("With ") && words.ends_with("SYNC is good."), "{words}");
    let words = sync(&adder("470", "2.2 k", "1.5 k")).unwrap();
    assert!(
        words.contains("the load (75 Ω) is too heavy for pin SYNC (3 kΩ) through R5"),
        "{words}"
    );
    let words = sync(&follower("", &["sync=open"])).unwrap();
    assert_eq!(words, "Pin SYNC gives nothing, high or low: it is dead or its wire is open.");
}

#[test]
fn a_sync_that_comes_out_upside_down_is_told_so() {
    let parts =
        resistor("R2", "1 k", "sync_out", "plug") + &resistor("R1", "3.3 k", "field", "plug");
    let buffer = |logic: &str| {
        let gate = format!(
            "[board.U2]\ngate = \"{logic}\"\nfamily = \"plain\"\ninputs = [\"sync\"]\n\
             output = \"sync_out\"\nsupply = \"rail5\"\n"
        );
        board(&format!("{parts}{gate}[output]\nnode = \"plug\"\nload = 75\n"), &[])
    };
    assert_eq!(cause(&buffer("buffer"), Subject::Sync).unwrap(), None);
    assert_eq!(
        cause(&buffer("not"), Subject::Sync).unwrap().unwrap().words,
        "SYNC comes out upside down, above black: U2 on its way is an inverter. With a buffer in its \
         place SYNC is good.",
    );
}

#[test]
fn an_open_part_is_named_where_the_way_ends() {
    let scenario = follower("", &["Q1=open"]);
    says(
        &scenario,
        "field",
        "Q1",
        "FIELD gets as far as `base`, where it amounts to 1.45 V, and no part leads on from \
         there to `plug`. Q1 is open.",
    );
    let scenario = follower("", &["P1=open"]);
    says(
        &scenario,
        "left",
        "P1",
        "LEFT gets as far as `left`, where it amounts to 5.40 V, and no part leads on from there \
         to `plug`. P1 is open.",
    );
    let scenario = follower("", &["U1.inputs=[\"field\", \"ball\"]"]);
    says(
        &scenario,
        "right",
        "right",
        "RIGHT gets as far as `right`, where it amounts to 5.40 V, and no part leads on from \
         there to `plug`.",
    );
}

#[test]
fn a_gate_on_a_higher_rail_wants_more_than_a_pin_gives() {
    let scenario =
        follower(&(resistor("R9", "10 k", "right", "ground") + RAW_9), &["U1.supply=raw"]);
    says(
        &scenario,
        "right",
        "U1",
        "RIGHT moves U1's input `right` from 0 mV to 4.15 V, but U1, on 9.00 V, switches at 4.50 \
         V. With 5.40 V from V3 RIGHT is clear.",
    );
}

#[test]
fn an_input_that_stands_high_holds_an_or_gate() {
    let scenario = follower("", &["U1.inputs=[\"field\", \"ball\", \"right\", \"rail5\"]"]);
    says(
        &scenario,
        "right",
        "U1",
        "RIGHT reaches U1's input `right`, but the input `rail5` beside it stands at 5.00 V with \
         nothing lit and holds the output.",
    );
    let scenario = follower("", &["U1.inputs=[\"field\", \"ball\", \"right\", \"sync\"]"]);
    says(
        &scenario,
        "right",
        "U1",
        "RIGHT reaches U1's input `right`, but the input `sync` beside it stands at 3.89 V with \
         nothing lit and holds the output.",
    );
}

#[test]
fn an_unbiased_follower_keeps_the_grey_player() {
    let scenario = follower("", &["R3=open", "R1=1.5k", "R2=6.8k", "R4=1k", "P1.position=1"]);
    says(
        &scenario,
        "left",
        "R3",
        "LEFT amounts to 230 mV at `base`: R3 (open) should lift it towards `rail5` and hardly \
         does. 0.5 mV of LEFT is left at the socket, and no change to one part alone makes it \
         clear. That put right: LEFT enters P1 (10 kΩ of its 10 kΩ) as 4.39 V and leaves it as \
         188 mV at `base`. With 4.7 kΩ LEFT is clear.",
    );
    let scenario = unbiased();
    says(
        &scenario,
        "left",
        "Q1",
        "Q1 is cut off with nothing lit: LEFT takes its base `base` from 291 mV to 619 mV, and \
         Q1 passes on only what lies beyond about 0.65 V from its emitter: 17 mV of 328 mV is \
         left at `drive`. It lacks a bias. 8.5 mV of LEFT is left at the socket, and no change \
         to one part alone makes it clear. That put right: LEFT enters P1 (6 kΩ of its 10 kΩ) as \
         3.90 V and leaves it as 288 mV at `base`. With 5.6 kΩ LEFT is clear.",
    );
}

/// A little less of what matches the cable would do as well, and is not what is wrong.
#[test]
fn what_matches_the_cable_is_not_the_first_to_be_blamed() {
    let (gate, rest) = FOLLOWER.split_once("[board.P1]").unwrap();
    let (_, rest) = rest.split_once("[board.R3]").unwrap();
    let own = resistor("R9", "10.3 k", "left", "base");
    let cause = found(&board(&format!("{gate}{own}[board.R3]{rest}"), &[]), "left");
    assert_eq!(cause.part, "R9", "{}", cause.words);
    assert!(cause.words.ends_with("With 8.2 kΩ LEFT is clear."), "{}", cause.words);
}

#[test]
fn a_lead_without_a_buffer_is_too_much_for_the_pins() {
    let scenario = adder("470", "2.2 k", "1.5 k");
    says(
        &scenario,
        "field",
        "load",
        "FIELD amounts to 101 mV at `plug`: the load (75 Ω) is too heavy for pin FIELD (3 kΩ) \
         through R1 (470 Ω). Into 300 Ω it would be clear; into this load it takes a buffer.",
    );
    says(
        &scenario,
        "left",
        "load",
        "LEFT amounts to 65 mV at `plug`: the load (75 Ω) is too heavy for pin LEFT (3 kΩ) \
         through R4 (2.2 kΩ). Into 300 Ω it would be clear; into this load it takes a buffer.",
    );
    let scenario = adder("4.7 k", "15 k", "12 k");
    says(
        &scenario,
        "field",
        "load",
        "FIELD amounts to 50 mV at `plug`: the load (75 Ω) is too heavy for pin FIELD (3 kΩ) \
         through R1 (4.7 kΩ). Into 680 Ω it would be clear; into this load it takes a buffer.",
    );
    says(
        &scenario,
        "left",
        "load",
        "LEFT amounts to 21 mV at `plug`: the load (75 Ω) is too heavy for pin LEFT (3 kΩ) \
         through R4 (15 kΩ). Into 680 Ω it would be clear; into this load it takes a buffer.",
    );
}

#[test]
fn one_pin_that_is_too_weak_for_the_socket_is_named() {
    let scenario = separate_grey("100");
    says(
        &scenario,
        "left",
        "left",
        "Pin LEFT (3 kΩ) gives 5.40 V with nothing on it, but amounts to 309 mV at `left` with \
         what hangs on it. With a pin of 2.4 kΩ or a buffer LEFT is clear.",
    );
    let scenario = separate_grey("4.7 k");
    says(
        &scenario,
        "left",
        "load",
        "LEFT amounts to 43 mV at `plug`: the load (75 Ω) is too heavy for pin LEFT (3 kΩ) \
         through R4 (4.7 kΩ). Into 470 Ω it would be clear; into this load it takes a buffer.",
    );
}

#[test]
fn two_sets_at_one_socket_are_the_load_s_fault() {
    let scenario = follower("", &["output.load=10"]);
    says(
        &scenario,
        "left",
        "load",
        "LEFT amounts to 67 mV at `plug`: the load (10 Ω) is too heavy for Q1 through R6 (75 Ω). \
         Into 150 Ω it is clear.",
    );
}

#[test]
fn a_pin_that_only_pulls_down_lacks_a_pull_up() {
    let scenario = follower("", &["chip.pin.right.kind=open-drain", "chip.pin.right.low_ohms=300"]);
    says(
        &scenario,
        "right",
        "right",
        "Pin RIGHT only pulls `right` down, and nothing pulls it up: it moves by 0 mV. With 4.7 \
         kΩ from `chip_rail` to `right` RIGHT is clear.",
    );
    let scenario = lit_low(&["R23=open"]);
    says(
        &scenario,
        "right",
        "R23",
        "RIGHT takes U1's input `right` from 455 mV to 0 mV, and U1 switches at 2.50 V: R23 \
         (open) should lift it towards `rail5` and hardly does.",
    );
    says(
        &scenario,
        "field",
        "R23",
        "FIELD amounts to 0 mV at `right`: R23 (open) should lift it towards `rail5` and hardly \
         does.",
    );
}

#[test]
fn a_dead_pin_and_a_dead_rail_are_called_dead() {
    let scenario = follower("", &["right=open"]);
    says(
        &scenario,
        "right",
        "right",
        "Pin RIGHT gives nothing, high or low: it is dead or its wire is open.",
    );
    let scenario = follower("", &["V2=open"]);
    says(
        &scenario,
        "right",
        "U1",
        "U1, on the way of RIGHT, is fed from `rail5`, and that stands at 77 mV: V2 is open.",
    );
    let words = found(&read(CHAPEL, &["V1=open"]), "left").words;
    assert!(words.starts_with("The chip, on the way of LEFT, is fed from `chip_rail`"), "{words}");
    assert!(words.contains("V1 is open."), "{words}");
}

#[test]
fn a_small_capacitor_in_the_way_blocks_a_standing_level() {
    let scenario = follower(
        "[board.C1]\ncapacitor = \"100 n\"\nfrom = \"drive\"\nto = \"mid\"\n",
        &["R6.from=mid"],
    );
    says(
        &scenario,
        "left",
        "C1",
        "LEFT reaches C1 (100 nF) as 594 mV at `drive`, but a standing level does not pass it: 0 \
         mV is left at `mid`.",
    );
}
