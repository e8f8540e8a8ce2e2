//! The classic ways to lose a player, each read as a restorer would read it.

use crate::analysis::cause::Cause;
use crate::analysis::cause::SuspectKind;
use crate::analysis::cause::cause;
use crate::scenario::Scenario;
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

fn board(parts: &str, sets: &[&str]) -> Scenario {
    let sets: Vec<String> = sets.iter().map(|&set| set.to_owned()).collect();
    load("t.toml", &sets, &mut |_| Ok(format!("{CHIP}{parts}")))
        .unwrap_or_else(|problems| panic!("{problems:#?}"))
}

fn found(scenario: &Scenario, element: &str) -> Cause {
    let index = scenario.raster.elements.iter().position(|name| name == element).unwrap();
    let element = ElementId(u8::try_from(index).unwrap());
    cause(scenario, element).unwrap().expect("the element is not clear")
}

fn resistor(name: &str, ohms: &str, from: &str, to: &str) -> String {
    format!("[board.{name}]\nresistor = \"{ohms}\"\nfrom = \"{from}\"\nto = \"{to}\"\n")
}

#[test]
fn survey() {
    let show = |what: &str, scenario: &Scenario, element: &str| {
        let cause = found(scenario, element);
        let suspect = cause.suspect.as_ref();
        println!(
            "{what} [{:?} {} {:.2} cures {}]\n    {}",
            suspect.map(|s| s.kind),
            cause.part,
            suspect.map_or(0.0, |s| s.cost),
            cause.cures,
            cause.words
        );
    };
    let f = |sets: &[&str]| board(FOLLOWER, sets);
    let with = |extra: &str, sets: &[&str]| board(&format!("{FOLLOWER}{extra}"), sets);
    // joined straight
    let joined = FOLLOWER
        .replace(r#"["field", "ball", "right"]"#, r#"["field", "ball", "players"]"#)
        .split("[board.P1]")
        .map(str::to_owned)
        .collect::<Vec<_>>();
    let no_trimmer =
        format!("{}[board.R3]{}", joined[0], joined[1].split_once("[board.R3]").unwrap().1);
    let s = board(&no_trimmer, &["chip.pins.left=players", "chip.pins.right=players"]);
    show("joined", &s, "left");
    show("joined", &s, "right");
    let extra =
        resistor("R11", "4.7 k", "left", "players") + &resistor("R12", "4.7 k", "right", "players");
    let s = board(&format!("{no_trimmer}{extra}"), &[]);
    show("joined via 4.7k", &s, "left");
    show("joined via 4.7k", &s, "right");
    let s = board(&format!("{no_trimmer}{extra}"), &["R11=47k", "R12=1k"]);
    show("joined via 47k/1k", &s, "left");
    show("old 1k on right", &with(&resistor("R9", "1 k", "right", "ground"), &[]), "right");
    show("bridged right left", &with(&resistor("R9", "1", "right", "left"), &[]), "right");
    show("bridged right left", &with(&resistor("R9", "1", "right", "left"), &[]), "left");
    show("AND", &f(&["U1.gate=and"]), "right");
    show("NAND", &f(&["U1.gate=nand"]), "right");
    show("XOR ok? AND ball", &f(&["U1.gate=and"]), "ball");
    show("trimmer 22k", &f(&["P1=22k", "P1.position=1"]), "left");
    show("trimmer 100k", &f(&["P1=100k"]), "left");
    show("white 20k", &f(&["R1=20k"]), "right");
    show("white open", &f(&["R1=open"]), "field");
    show("white shorted left", &f(&["R1=short"]), "left");
    show("pulldown 200", &f(&["R4=200"]), "field");
    show("pulldown 200", &f(&["R4=200"]), "left");
    show("75 = 750", &f(&["R6=750"]), "field");
    show("75 = 750", &f(&["R6=750"]), "left");
    show("75 open", &f(&["R6=open"]), "left");
    show("out short", &with(&resistor("R9", "1", "plug", "ground"), &[]), "field");
    show("be short", &with(&resistor("R9", "1", "base", "drive"), &[]), "field");
    show("bc short", &with(&resistor("R9", "1", "base", "rail5"), &[]), "field");
    show("E-B swap", &f(&["Q1.base=drive", "Q1.emitter=base"]), "field");
    show("C-B swap", &f(&["Q1.base=rail5", "Q1.collector=base"]), "field");
    show("Q open", &f(&["Q1=open"]), "field");
    show(
        "9V + 10k",
        &with(
            &(resistor("R9", "10 k", "right", "ground")
                + "[board.V3]\nsupply=\"9 V\"\nnode=\"raw\"\n"),
            &["U1.supply=raw"],
        ),
        "right",
    );
    show("12V", &with("[board.V3]\nsupply=\"12 V\"\nnode=\"raw\"\n", &["U1.supply=raw"]), "right");
    show(
        "stuck",
        &with(
            "[board.V3]\nsupply=\"3 V\"\nnode=\"spare\"\n",
            &["U1.inputs=[\"field\",\"ball\",\"right\",\"spare\"]"],
        ),
        "right",
    );
    show("sync in", &f(&["U1.inputs=[\"field\",\"ball\",\"right\",\"sync\"]"]), "right");
    show("nothing wired", &f(&["U1.inputs=[\"field\",\"ball\"]"]), "right");
    // unbiased
    let unb = [
        "R3=open",
        "R2.to=plug",
        "R2=1.2k",
        "R4=820",
        "R1=680",
        "P1=8.2k",
        "P1.position=1",
        "R5=330",
    ];
    show("unbiased M7", &f(&unb), "left");
    let unb = ["R3=open", "R2=6.8k", "R4=1k", "R1=1.5k", "P1=10k", "P1.position=1"];
    show("unbiased ex 2 (R3 open in place)", &f(&unb), "left");
    let nobias = FOLLOWER.replace(
        &format!("{}", "[board.R3]\nresistor = \"3.9 k\"\nfrom = \"rail5\"\nto = \"base\"\n"),
        "",
    );
    show("unbiased ex 2 (no R3)", &board(&nobias, &unb[1..]), "left");
    // adders
    let adder = |w: &str, l: &str, s: &str| {
        ["field", "ball", "right"]
            .iter()
            .zip(["R1", "R2", "R3"])
            .map(|(e, r)| resistor(r, w, e, "plug"))
            .collect::<String>()
            + &resistor("R4", l, "left", "plug")
            + &resistor("R5", s, "sync", "plug")
            + "[output]\nnode=\"plug\"\nload=75\n"
    };
    for e in ["field", "left"] {
        show("adder 470 into 75", &board(&adder("470", "2.2 k", "1.5 k"), &[]), e);
        show("adder 4k7 into 75", &board(&adder("4.7 k", "15 k", "12 k"), &[]), e);
    }
    let old = adder("4.7 k", "15 k", "12 k")
        .replace("\"plug\"", "\"node\"")
        .replace("[output]\nnode=\"node\"", "[output]\nnode=\"plug\"");
    show(
        "old adder + wire",
        &board(
            &(old.clone()
                + &resistor("R8", "2.2 k", "node", "ground")
                + &resistor("R7", "1", "node", "plug")),
            &[],
        ),
        "right",
    );
    let sep = "[board.U1]\ngate=\"or\"\nfamily=\"plain\"\ninputs=[\"field\",\"ball\",\"right\"]\noutput=\"white\"\nsupply=\"rail5\"\n".to_owned()
        + &resistor("R1", "430", "white", "plug") + &resistor("R2", "1 k", "sync", "plug") + "[output]\nnode=\"plug\"\nload=75\n";
    show("M5 100", &board(&(sep.clone() + &resistor("R4", "100", "left", "plug")), &[]), "left");
    show("M5b 4k7", &board(&(sep.clone() + &resistor("R4", "4.7 k", "left", "plug")), &[]), "left");
    show(
        "double load+750",
        &board(&(sep.clone() + &resistor("R4", "100", "left", "plug")), &["R1=2.7k"]),
        "field",
    );
    let dio = |turned: bool| {
        let d = |n: &str, a: &str, c: &str| {
            format!("[board.{n}]\ndiode=\"silicon signal\"\nanode=\"{a}\"\ncathode=\"{c}\"\n")
        };
        d("D1", "field", "bus")
            + &d("D2", "ball", "bus")
            + &if turned { d("D3", "bus", "right") } else { d("D3", "right", "bus") }
            + &d("D4", "left", "bus")
            + &resistor("R1", "4.7 k", "bus", "ground")
            + &resistor("R2", "5.6 k", "sync", "bus")
            + &resistor("R3", "2.2 k", "bus", "mod")
            + "[output]\nnode=\"mod\"\nload=\"1 k\"\n"
    };
    show("reversed diode", &board(&dio(true), &[]), "right");
    show("reversed diode: field?", &board(&dio(true), &["R3=10k"]), "field");
    // open drain
    let od = [
        "chip.pin.right.kind=open-drain",
        "chip.pin.right.low_ohms=300",
        "chip.pin.right.sense=low",
    ];
    show("open drain into or", &f(&od), "right");
    let os = [
        "chip.pin.right.kind=open-source",
        "chip.pin.right.high_ohms=3000",
        "chip.pin.right.high_volts=5.4",
    ];
    let r = board(FOLLOWER, &os);
    if cause(&r, ElementId(2)).unwrap().is_some() {
        show("open source", &r, "right");
    } else {
        println!("open source clear");
    }
    show(
        "combined",
        &board(
            &(sep.clone() + &resistor("R4", "75", "left", "plug")),
            &[
                "chip.pin.left.kind=fixed",
                "chip.pin.left.high_volts=2.6",
                "chip.pin.left.high_ohms=1500",
            ],
        ),
        "left",
    );
    show(
        "coupling",
        &with("[board.C1]\ncapacitor=\"100 n\"\nfrom=\"drive\"\nto=\"mid\"\n", &["R6.from=mid"]),
        "left",
    );
    let chapel = include_str!("../../../scenarios/chapel-follower.toml");
    let chap = |sets: &[&str]| {
        load("c.toml", &sets.iter().map(|s| (*s).to_owned()).collect::<Vec<_>>(), &mut |_| {
            Ok(chapel.to_owned())
        })
        .unwrap()
    };
    show("chapel NOR U1a", &chap(&["U1a.gate=nor"]), "right");
    show("chapel pins", &chap(&["U1b.supply=chip_rail", "chip.pins.left=right"]), "left");
    show("P1 open", &f(&["P1=open"]), "left");
    show("right open", &f(&["right=open"]), "right");
    show("V2 open", &f(&["V2=open"]), "right");
    let nand = FOLLOWER.replace("\"or\"", "\"nand\"");
    let pulls = ["field", "ball", "right"]
        .iter()
        .zip(["R21", "R22", "R23"])
        .map(|(e, r)| resistor(r, "4.7 k", e, "rail5"))
        .collect::<String>();
    let od3: Vec<String> = ["field", "ball", "right"]
        .iter()
        .flat_map(|e| {
            [
                format!("chip.pin.{e}.kind=open-drain"),
                format!("chip.pin.{e}.low_ohms=300"),
                format!("chip.pin.{e}.sense=low"),
            ]
        })
        .collect();
    let mut od3: Vec<&str> = od3.iter().map(String::as_str).collect();
    let b = format!("{nand}{pulls}");
    od3.push("R23=open");
    for e in ["right", "field"] {
        show("R23 open", &board(&b, &od3), e);
    }
    od3.pop();
    od3.push("U1.gate=nor");
    show("nor for nand", &board(&b, &od3), "field");
    od3.pop();
    od3.push("R23=47 M");
    let _ = SuspectKind::Load;
}
