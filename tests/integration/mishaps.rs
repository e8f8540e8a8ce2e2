//! What people do wrong at the bench, as the program answers it: a part the wrong way round, ground
//! forgotten, a part tied to itself, a regulator without input.

use crate::boards::examples;
use crate::boards::load;
use crate::program::backporch;
use backporch::network::circuit::NodeId;
use backporch::network::operating_point::Network;
use backporch::raster::plan::LinePart;
use backporch::scenario;
use backporch::signal::element::ElementId;
use backporch::signal::element::ElementSet;
use std::fs;

const SUPPLY: &str = "scenarios/part-supply.toml";
const CHAPEL: &str = "scenarios/chapel-follower.toml";
const CAPACITOR: &str = "scenarios/part-capacitor.toml";

/// Exit status, what was said, and the remarks in the report, if one was written.
fn render(scenario: &str, sets: &[&str]) -> (i32, String, Vec<String>) {
    let folder = tempfile::tempdir().unwrap();
    let mut arguments = vec!["render", scenario, "-o", folder.path().to_str().unwrap()];
    // The field need not repeat for what is remarked on here.
    arguments.extend(["--set", "solve.start=idle"]);
    arguments.extend(sets.iter().flat_map(|set| ["--set", set]));
    let run = backporch(&arguments);
    let status = run.status.code().unwrap();
    let said = String::from_utf8([run.stdout, run.stderr].concat()).unwrap();
    if status != 0 {
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0, "nothing is written");
        return (status, said, Vec::new());
    }
    let report = fs::read_to_string(folder.path().join("report.json")).unwrap();
    let report: serde_json::Value = serde_json::from_str(&report).unwrap();
    let warnings = report["warnings"].as_array().unwrap().iter();
    let warnings: Vec<String> =
        warnings.map(|warning| warning.as_str().unwrap().to_owned()).collect();
    let ratings = report["ratings"].as_array().unwrap().iter();
    let ratings = ratings.filter(|rating| rating["word"] != "ok");
    let ratings = ratings.map(|rating| rating["sentence"].as_str().unwrap().to_owned());
    let warnings: Vec<String> = ratings.chain(warnings).collect();
    assert!(warnings.iter().all(|warning| said.contains(warning)), "{said}");
    (status, said, warnings)
}

fn remarks(scenario: &str, sets: &[&str]) -> Vec<String> {
    let (status, said, remarks) = render(scenario, sets);
    assert_eq!(status, 0, "{said}");
    remarks
}

fn refusal(scenario: &str, sets: &[&str]) -> String {
    let (status, said, _) = render(scenario, sets);
    assert_eq!(status, 2, "{said}");
    said
}

/// A pin stops 1.1 V short of its supply: without one it gives nothing, and takes nothing below
/// ground.
#[test]
fn a_chip_without_its_supply_takes_no_node_below_ground() {
    for set in ["V1=1nV", "V1=open", "V1=short"] {
        let mut fetch = |name: &str| fs::read_to_string(name);
        let board = scenario::load(CHAPEL, &[set.to_owned()], &mut fetch).unwrap();
        let network = Network::new(&board.circuit).unwrap();
        let elements = board.raster.elements.iter().zip(0..);
        let lit = elements.map(|(_, index)| ElementSet::only(ElementId(index)));
        for on in lit.chain([ElementSet::EMPTY]) {
            for part in [LinePart::Active, LinePart::Sync] {
                let levels = board.pin_levels(on, part);
                let point = network.operating_point(&levels).unwrap();
                for (node, name) in board.circuit.nodes.iter().enumerate() {
                    let volts = point.volts(NodeId(node));
                    assert!(volts > -1e-3, "{set}, {on:?}: {name} stands at {volts} V");
                }
            }
        }
    }
}

#[test]
fn no_example_board_is_remarked_on() {
    for path in examples() {
        let scenario = load(&path);
        let found = scenario.cautions();
        assert_eq!(found, Vec::<String>::new(), "{}", path.display());
    }
}

#[test]
fn a_reversed_electrolytic_is_named_with_its_volts_and_its_rating() {
    let found = remarks(CAPACITOR, &["C1.from=plug", "C1.to=drive"]);
    let wanted = "C1 stands reversed by 1.4 V, and is rated for 10 V with its plus end up. An \
                  electrolytic so used leaks, swells or bursts: turn it round.";
    assert!(found.iter().any(|words| words == wanted), "{found:?}");
}

#[test]
fn a_capacitor_rated_below_its_rail_is_named_with_both() {
    let found = remarks(CAPACITOR, &["C2.rated=4 V"]);
    let wanted = "C2 stands at 5.0 V and is rated for 4 V only.";
    assert!(found.iter().any(|words| words == wanted), "{found:?}");
    let found = remarks(CAPACITOR, &[]);
    assert!(!found.iter().any(|words| words.starts_with("C2 ")), "{found:?}");
}

#[test]
fn a_reversed_supply_diode_is_named_at_the_nodes_that_it_keeps_dead() {
    let found = remarks(SUPPLY, &["D1.anode=fed", "D1.cathode=raw"]);
    let wanted = [
        "`chip_rail` stands at 0.0 V: no supply for the chip. With D1 turned round it stands at \
         6.8 V.",
        "`rail5` stands at 0.0 V: no supply for U1a, U1b. With D1 turned round it stands at 5.0 V.",
        "U2 gets nothing at its input and gives 0.0 V.",
    ];
    assert!(wanted.iter().all(|wanted| found.iter().any(|words| words == wanted)), "{found:?}");
}

#[test]
fn a_transistor_the_wrong_way_round_or_of_the_wrong_kind_is_named() {
    let exchanged = remarks(CHAPEL, &["Q1.emitter=ground", "Q1.collector=drive"]);
    let pnp = "Q1 stands the wrong way round: a PNP whose emitter is 2.0 V below its collector. \
               Exchange the two, or fit an NPN.";
    assert!(exchanged.iter().any(|words| words == pnp), "{exchanged:?}");
    let wrong = remarks(CHAPEL, &["Q1=small NPN"]);
    let npn = " V above its collector. Exchange the two, or fit a PNP.";
    let [start, end] = ["Q1 stands the wrong way round: an NPN whose emitter is ", npn];
    let is_told = |words: &String| words.starts_with(start) && words.ends_with(end);
    assert!(wrong.iter().any(is_told), "{wrong:?}");
}

/// A diagnostic without its caret: message, place and what follows.
fn assert_refused(scenario: &str, set: &str, wanted: [&str; 3]) {
    let said = refusal(scenario, &[set]);
    let [message, expected, hint] = wanted;
    assert!(said.starts_with(&format!("error: {message}\n --> --set:1:")), "{said}");
    assert!(said.contains(set) && said.contains(&format!("^ {expected}\n")), "{said}");
    assert!(said.contains(hint), "{said}");
}

#[test]
fn a_reversed_supply_is_refused_with_its_place() {
    let hint = "hint: the minus of every supply is tied to `ground`: name the node at its plus, and \
                give its volts without a sign";
    let message = "part `V1` is the wrong way round: `-10 V` is below 0";
    assert_refused(SUPPLY, "V1=-10 V", [message, "expected volts above 0", hint]);
    let expected = "expected the node that it feeds";
    assert_refused(SUPPLY, "V1.node=ground", ["part `V1` feeds ground", expected, hint]);
}

#[test]
fn a_forgotten_ground_is_remarked_on_or_refused_with_its_place() {
    let found = remarks(CHAPEL, &["R3.to=minus"]);
    let loose = "`R3` ends at node `minus`, to which nothing else is tied: no current flows there";
    assert!(found.iter().any(|words| words == loose), "{found:?}");
    let expected = "expected a node that another part, a pin or the output names too";
    let message = "part `R3` ends at node `groud`, which nothing else names";
    assert_refused(CHAPEL, "R3.to=groud", [message, expected, "hint: did you mean `ground`?"]);
    // A whole board whose minus is not the reference: nothing holds it.
    let said = refusal(SUPPLY, &["C3.to=minus", "C1.to=minus"]);
    assert!(said.starts_with("error: nothing holds node `minus` at a standing level"), "{said}");
    assert!(
        said.contains(
            "hint: it is touched by `C1`, `C3` only: let a part that conducts lead from there to \
             `ground`, to a supply or to an output"
        ),
        "{said}"
    );
}

#[test]
fn a_part_tied_to_itself_is_refused_with_its_place_or_remarked_on() {
    let ends = "both ends of part `R3` are tied to the same node";
    assert_refused(CHAPEL, "R3.to=mix", [ends, "expected another node", ""]);
    let output = "supply and output of part `U1a` are the same node";
    assert_refused(CHAPEL, "U1a.output=rail5", [output, "expected another node", ""]);
    let common = "output and common of part `U2` are the same node";
    assert_refused(SUPPLY, "U2.common=rail5", [common, "expected another node", ""]);
    let found = remarks(CHAPEL, &["Q1.base=drive"]);
    let said = |wanted: &str| found.iter().any(|words| words == wanted);
    assert!(said("`Q1` has base and emitter at one node: it is cut off for good"));
}

#[test]
fn a_regulator_without_input_is_refused_with_its_place_or_remarked_on() {
    let message = "part `U2` is supplied from node `nowhere`, which nothing feeds";
    let hint = "hint: add a part with `supply = \"5 V\"` and `node = \"nowhere\"`";
    let expected = "expected a node that a supply feeds";
    assert_refused(SUPPLY, "U2.input=nowhere", [message, expected, hint]);
    let found = remarks(SUPPLY, &["D1=open"]);
    let nothing = "U2 gets nothing at its input and gives 0.0 V.";
    assert!(found.iter().any(|words| words == nothing), "{found:?}");
}
