//! `render --report`: one page that needs nothing beside it and says all that a render found.

use crate::boards::examples;
use backporch::output::page::SECTIONS;
use roxmltree::Document;
use roxmltree::ParsingOptions;
use std::fs;
use std::path::Path;
use std::process::Command;
use std::process::Output;

const CHAPEL: &str = "scenarios/chapel-follower.toml";
/// What a page may weigh, bytes: common practice, no source.
const MOST_BYTES: usize = 1_500_000;

fn render(scenario: &str, more: &[&str], out: &Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_backporch"))
        .args(["render", scenario, "--report", "-o", out.to_str().unwrap()])
        .args(more)
        .output()
        .unwrap()
}

/// The page of a board.
fn page(scenario: &str, more: &[&str]) -> String {
    let folder = tempfile::tempdir().unwrap();
    let output = render(scenario, more, folder.path());
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    fs::read_to_string(folder.path().join("report.html")).unwrap()
}

fn parsed(text: &str) -> Document<'_> {
    let options = ParsingOptions { allow_dtd: true, ..ParsingOptions::default() };
    Document::parse_with_options(text, options).unwrap()
}

/// All text of a section.
fn words(page: &Document<'_>, id: &str) -> String {
    let section = page.descendants().find(|node| node.attribute("id") == Some(id)).unwrap();
    section.descendants().filter_map(|node| node.text()).collect::<Vec<_>>().join(" ")
}

/// What would be fetched from elsewhere: addresses other than the data that the page carries.
fn fetched(text: &str, page: &Document<'_>) -> Vec<String> {
    let mut found = Vec::new();
    for node in page.descendants() {
        for attribute in node.attributes() {
            let (name, value) = (attribute.name(), attribute.value());
            let is_address = ["src", "href", "srcset", "action", "data"].contains(&name);
            if is_address && !value.starts_with("data:") && !value.starts_with('#') {
                found.push(format!("{name}={value}"));
            }
            if name.starts_with("on") || (!value.starts_with("data:") && value.contains("http")) {
                found.push(format!("{name}={value}"));
            }
        }
        if ["script", "link", "iframe", "object"].contains(&node.tag_name().name()) {
            found.push(node.tag_name().name().to_owned());
        }
        let words = node.text().unwrap_or_default();
        found.extend(words.contains("http").then(|| "an address in a text".to_owned()));
    }
    for (at, _) in text.match_indices("url(") {
        if !text[at..].starts_with("url(data:") {
            found.push("a style from elsewhere".to_owned());
        }
    }
    found.extend(text.contains("@import").then(|| "a style from elsewhere".to_owned()));
    found
}

#[test]
fn every_example_has_a_whole_page_that_needs_nothing_beside_it() {
    for path in examples() {
        let text = page(path.to_str().unwrap(), &[]);
        let name = path.display();
        assert!(text.starts_with("<!DOCTYPE html>\n<html lang=\"en\">"), "{name}");
        assert!(text.len() < MOST_BYTES, "{name}: {} bytes", text.len());
        let page = parsed(&text);
        assert_eq!(fetched(&text, &page), Vec::<String>::new(), "{name}");
        let headings = page.descendants().filter(|node| node.has_tag_name("h2"));
        let headings: Vec<&str> = headings.filter_map(|node| node.text()).collect();
        assert_eq!(headings, SECTIONS.map(|(_, heading)| heading), "{name}");
        for (id, _) in SECTIONS {
            assert!(words(&page, id).len() > 60, "{name}: nothing in {id}");
        }
        let images = page.descendants().filter(|node| node.has_tag_name("img"));
        // A board on a modulator has its carrier as well, as picture, in words and with a caution.
        let on_air = name.to_string().contains("pub-");
        let pictures = images.filter(|node| node.attribute("alt").is_some()).count();
        assert_eq!(pictures, if on_air { 4 } else { 3 }, "{name}");
        let cautioned = words(&page, "verdicts").contains("Never feed a modulator into an aerial");
        assert_eq!(cautioned, on_air, "{name}");
        let drawing = page.descendants().find(|node| node.has_tag_name("svg")).unwrap();
        let texts = drawing.descendants().filter(|node| node.has_tag_name("text"));
        let set = texts.filter_map(|node| node.text());
        assert_eq!(set.filter(|text| text.starts_with("the set")).count(), 1, "{name}");
    }
}

#[test]
fn the_page_says_what_the_terminal_says() {
    let text = page("scenarios/lodge-joined.toml", &[]);
    let page = parsed(&text);
    let seen = words(&page, "verdicts");
    assert!(seen.contains("○ missing") && seen.contains("● clear"), "{seen}");
    assert!(seen.contains("tied to the same node and pulls it down"), "{seen}");
    assert!(words(&page, "ratings").contains('■') || words(&page, "ratings").contains('▲'));
    let parts = words(&page, "parts");
    assert!(parts.contains("R1") && parts.contains("the set's input"), "{parts}");
    let pins = words(&page, "pins");
    assert!(pins.contains("typical ones") && pins.contains("measure before trusting"), "{pins}");
    let back = words(&page, "back");
    assert!(back.contains("photographs") && back.contains("R1: from"), "{back}");
}

#[test]
fn another_strength_of_the_chip_is_named() {
    let weak = page(CHAPEL, &["--set", "chip.strength=weak"]);
    assert!(words(&parsed(&weak), "pins").contains("weak ones"));
}

#[test]
fn a_hostile_title_is_shown_and_not_run() {
    let folder = tempfile::tempdir().unwrap();
    let board = fs::read_to_string(CHAPEL).unwrap();
    let title = "<script>alert('1')</script> </title> & \\\"quoted\\\"";
    let (before, rest) = board.split_once("title = \"").unwrap();
    let (_, after) = rest.split_once('\n').unwrap();
    let path = folder.path().join("board.toml");
    fs::write(&path, format!("{before}title = \"{title}\"\n{after}")).unwrap();
    let text = page(path.to_str().unwrap(), &[]);
    let page = parsed(&text);
    assert!(page.descendants().all(|node| !node.has_tag_name("script")));
    let heading = page.descendants().find(|node| node.has_tag_name("h1")).unwrap();
    assert_eq!(heading.text(), Some(title.replace('\\', "").as_str()));
}

#[test]
fn a_second_page_has_the_same_bytes_and_both_are_listed() {
    let (first, second) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let outputs = [&first, &second].map(|folder| render(CHAPEL, &[], folder.path()));
    let bytes = |folder: &tempfile::TempDir| fs::read(folder.path().join("report.html")).unwrap();
    assert!(bytes(&first) == bytes(&second));
    assert!(String::from_utf8_lossy(&outputs[0].stdout).contains("report.html"));
    let report = fs::read(first.path().join("report.json")).unwrap();
    let report: serde_json::Value = serde_json::from_slice(&report).unwrap();
    assert!(report["files"].as_array().unwrap().contains(&"report.html".into()));
    let plain = tempfile::tempdir().unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_backporch"))
        .args(["render", CHAPEL, "-o", plain.path().to_str().unwrap()])
        .output()
        .unwrap();
    assert!(output.status.success());
    assert!(!plain.path().join("report.html").exists());
}

#[test]
fn elements_too_many_for_a_ladder_are_said_and_the_rest_stands() {
    let folder = tempfile::tempdir().unwrap();
    let bars: String = (0..13)
        .map(|bar| {
            let line = 30 + 10 * bar;
            format!(
                "[chip.pattern.bar{bar}]\nactive = [{{ lines = [{line}, {}], clocks = [40, 60] }}]\n\
                 [board.R{bar}]\nresistor = \"1 k\"\nfrom = \"bar{bar}\"\nto = \"plug\"\n",
                line + 5
            )
        })
        .collect();
    let board = format!(
        "title = \"thirteen bars\"\n\
         [chip.timing]\nclock = \"2 MHz\"\nclocks_per_line = 128\nlines = 312\nsync = 9\n\
         back_porch = 12\nfront_porch = 3\nfield_sync = \"inverted\"\n\
         field_sync_lines = 4\nfirst_active_line = 24\n\
         [chip.drive]\nkind = \"fixed\"\nhigh_volts = \"5 V\"\nhigh_ohms = \"1 k\"\n\
         low_volts = \"0 V\"\nlow_ohms = \"500\"\n{bars}\
         [output]\nnode = \"plug\"\nload = \"75\"\n"
    );
    let path = folder.path().join("bars.toml");
    fs::write(&path, board).unwrap();
    let text = page(path.to_str().unwrap(), &[]);
    let ladder = words(&parsed(&text), "ladder");
    assert!(ladder.contains("There is no ladder: 13 elements have too many"), "{ladder}");
}
