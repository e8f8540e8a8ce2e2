//! `check` from outside: what it says of good, bad and broken boards, in every format.

use roxmltree::Document;
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;

const CHAPEL: &str = "scenarios/chapel-follower.toml";
const ADDER: &str = "scenarios/workshop-adder.toml";

/// Exit status, standard output, standard error.
fn check(arguments: &[&str]) -> (i32, String, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_backporch"));
    let run = command.arg("check").args(arguments).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (run.status.code().unwrap(), text(run.stdout), text(run.stderr))
}

fn json(arguments: &[&str]) -> (i32, Value) {
    let (status, said, _) = check(&[arguments, &["--json"]].concat());
    (status, serde_json::from_str(&said).unwrap())
}

/// What is not met in the first file of a report.
fn unmet(report: &Value) -> Vec<&str> {
    let findings = report["files"][0]["findings"].as_array().unwrap();
    let unmet = findings.iter().filter(|finding| finding["met"] == false);
    unmet.map(|finding| finding["what"].as_str().unwrap()).collect()
}

/// A variant of the chapel board in a folder of its own.
fn variant(folder: &Path, name: &str, text: &str) -> PathBuf {
    let base = Path::new(env!("CARGO_MANIFEST_DIR")).join(CHAPEL);
    let path = folder.join(name);
    fs::write(&path, format!("base = {base:?}\n{text}")).unwrap();
    path
}

#[test]
fn every_example_board_is_as_its_scenario_expects() {
    let paths = crate::boards::examples();
    let paths: Vec<&str> = paths.iter().map(|path| path.to_str().unwrap()).collect();
    let (status, said, complaints) = check(&paths);
    assert_eq!((status, complaints.as_str()), (0, ""), "{said}");
    let all = paths.len();
    assert!(
        said.ends_with(&format!("\n{all} files: {all} as expected, 0 not, 0 without answer\n"))
    );
}

#[test]
fn a_wrong_gate_is_not_as_expected_and_the_cause_is_told() {
    let (status, said, _) = check(&[CHAPEL, "--set", "R1=22k"]);
    assert_eq!(status, 1, "{said}");
    assert!(said.contains("NOT as expected"), "{said}");
    let place = format!("{CHAPEL}:");
    assert!(said.lines().any(|line| line.starts_with("NOT  field.seen") && line.contains(&place)));
    let (_, report) = json(&[CHAPEL, "--set", "R1=22k"]);
    let unmet = unmet(&report);
    assert!(unmet.contains(&"right.delta") && !unmet.contains(&"sync"), "{unmet:?}");
    let findings = report["files"][0]["findings"].as_array().unwrap();
    let seen = findings.iter().find(|finding| finding["what"] == "ball.seen").unwrap();
    assert!(seen["cause"].as_str().unwrap().contains("R1"), "{seen}");
    assert_eq!(seen["expected"], "clear");
    assert_eq!(seen["written_in"], CHAPEL);
    let line = usize::try_from(seen["line"].as_u64().unwrap()).unwrap();
    let text = fs::read_to_string(CHAPEL).unwrap();
    assert_eq!(text.lines().nth(line - 1), Some("seen = \"clear\""));
    assert_eq!(text.lines().nth(line - 2), Some("[expect.ball]"));
}

#[test]
fn a_variant_changes_adds_and_lifts_expectations() {
    let folder = tempfile::tempdir().unwrap();
    let text = "[change]\nP1.position = 0.9\nexpect.left.seen = [\"clear\", \"faint\"]\n\
                [expect]\nleft = { delta = \"any\" }\nnode.mix.left = [\"9 V\", \"any\"]\n";
    let path = variant(folder.path(), "grey.toml", text);
    let path = path.to_str().unwrap();
    let (status, report) = json(&[path]);
    assert_eq!((status, unmet(&report)), (1, vec!["node.mix.left"]), "{report}");
    let set = ["--set", "expect.node.mix.left=any"];
    let (status, report) = json(&[&[path][..], &set].concat());
    assert_eq!((status, unmet(&report)), (0, vec![]), "{report}");
}

#[test]
fn broken_files_among_good_ones_end_with_2_and_the_others_are_reported() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let silent = at("silent.toml");
    let text = fs::read_to_string(ADDER).unwrap();
    fs::write(&silent, text.split("\n[expect]").next().unwrap()).unwrap();
    let wrong = variant(folder.path(), "wrong.toml", "[expect]\nsync = \"god\"\n");
    let dim = variant(folder.path(), "dim.toml", "[change]\nR1 = \"22k\"\n");
    let (wrong, dim) = (wrong.to_str().unwrap(), dim.to_str().unwrap());
    let (junit, gone) = (at("new/report.xml"), at("gone.toml"));
    let files = [CHAPEL, &silent, wrong, dim, &gone, ADDER];
    let (status, said, complaints) = check(&[&files[..], &["--junit", &junit]].concat());
    assert_eq!(status, 2, "{said}");
    assert!(said.ends_with("6 files: 2 as expected, 1 not, 3 without answer\n"), "{said}");
    for wanted in ["nothing is expected of", "did you mean `good`?", "there is no file"] {
        assert!(complaints.contains(wanted), "no {wanted:?} in {complaints}");
    }
    let report = fs::read_to_string(&junit).unwrap();
    let report = Document::parse(&report).unwrap();
    let suites: Vec<[&str; 3]> = report
        .descendants()
        .filter(|node| node.has_tag_name("testsuite"))
        .map(|node| ["name", "failures", "errors"].map(|name| node.attribute(name).unwrap()))
        .collect();
    let names: Vec<&str> = suites.iter().map(|suite| suite[0]).collect();
    assert_eq!(names, files);
    let errors: Vec<&str> = suites.iter().map(|suite| suite[2]).collect();
    assert_eq!(errors, ["0", "1", "1", "0", "1", "0"]);
    let bad: Vec<bool> = suites.iter().map(|suite| suite[1] != "0").collect();
    assert_eq!(bad, [false, false, false, true, false, false]);
    let failed = report.descendants().filter(|node| node.has_tag_name("failure")).count();
    assert_eq!(report.root_element().attribute("failures"), Some(failed.to_string().as_str()));
}

#[test]
fn a_waveform_is_stored_compared_and_found_to_differ() {
    let folder = tempfile::tempdir().unwrap();
    let wave = folder.path().join("expected/chapel.wav");
    let expect = "[expect.waveform]\nfile = \"expected/chapel.wav\"\nwithin = \"1 mV\"\n";
    let path = variant(folder.path(), "board.toml", expect);
    let path = path.to_str().unwrap();
    let (status, _, complaints) = check(&[path]);
    assert_eq!(status, 2);
    assert!(complaints.contains("`--accept` stores"), "{complaints}");
    let (status, said, complaints) = check(&[path, "--accept"]);
    assert_eq!(status, 0, "{said}{complaints}");
    assert!(said.contains("\nstored ") && said.contains("stored now"), "{said}");
    let stored = fs::read(&wave).unwrap();
    let (status, said, _) = check(&[path]);
    assert_eq!(status, 0, "{said}");
    let (status, said, _) = check(&[path, "--accept"]);
    assert!(status == 0 && said.contains("\nleft "), "{said}");
    // Half a percent less white is within what the words and ranges allow.
    let set = ["--set", "R1=1510"];
    let (status, report) = json(&[&[path][..], &set].concat());
    assert_eq!((status, unmet(&report)), (1, vec!["waveform"]), "{report}");
    variant(folder.path(), "board.toml", &format!("[change]\nR1 = \"22k\"\n{expect}"));
    let (status, said, _) = check(&[path, "--accept"]);
    assert!(status == 1 && said.contains("otherwise not as expected"), "{said}");
    assert!(fs::read(&wave).unwrap() == stored, "a board that fails is not stored");
    variant(folder.path(), "board.toml", &format!("[change]\nR1 = \"1510\"\n{expect}"));
    assert_eq!(check(&[path, "--accept"]).0, 0);
    assert!(fs::read(&wave).unwrap() != stored);
}

#[test]
fn what_is_no_waveform_is_refused_and_never_written_over() {
    let folder = tempfile::tempdir().unwrap();
    let letter = folder.path().join("letter.wav");
    fs::write(&letter, "dear reader").unwrap();
    let path = variant(folder.path(), "board.toml", "[expect.waveform]\nfile = \"letter.wav\"\n");
    let (status, _, complaints) = check(&[path.to_str().unwrap(), "--accept"]);
    assert_eq!(status, 2);
    assert!(complaints.contains("is no stored waveform"), "{complaints}");
    assert_eq!(fs::read(&letter).unwrap(), b"dear reader");
}

#[test]
fn two_boards_do_not_store_different_waveforms_in_one_file() {
    let folder = tempfile::tempdir().unwrap();
    let expect = "[expect.waveform]\nfile = \"one.wav\"\n";
    let first = variant(folder.path(), "a.toml", expect);
    let changed = format!("[change]\nR1 = \"1510\"\n{expect}");
    let second = variant(folder.path(), "b.toml", &changed);
    let files = [first.to_str().unwrap(), second.to_str().unwrap(), "--accept"];
    let (status, _, complaints) = check(&files);
    assert_eq!(status, 2);
    assert!(complaints.contains("different waveforms"), "{complaints}");
    assert!(!folder.path().join("one.wav").exists());
}

#[test]
fn a_rating_of_stop_is_never_as_expected_unless_the_scenario_says_so() {
    let lodge = "scenarios/lodge-joined.toml";
    assert_eq!(check(&[lodge]).0, 0);
    let (status, said, _) = check(&[lodge, "--set", "expect.ratings=look"]);
    assert_eq!(status, 1);
    assert!(said.contains("stop: players, contention"), "{said}");
    let (status, _, said) = check(&[lodge, "--set", "expect.ratings=fine"]);
    assert_eq!(status, 2);
    assert!(said.contains("unknown word for ratings `fine`"), "{said}");
}
