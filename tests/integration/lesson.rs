//! `lesson`: pages that build a composite line from a board's own runs.

use crate::boards::example;
use crate::program;
use backporch::analysis::ladder::ladder;
use backporch::analysis::lesson::lesson;
use backporch::output::lesson_view;
use backporch::output::lesson_words::told;
use roxmltree::Document;
use roxmltree::ParsingOptions;
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::Output;

/// A follower with gates, a plain adder in the other standard, a diode adder into its own load.
const BOARDS: [&str; 3] = ["chapel-follower", "workshop-adder", "caravan-diodes"];

fn path(board: &str) -> String {
    format!("scenarios/{board}.toml")
}

fn backporch(arguments: &[&str]) -> Output {
    let output = program::backporch(arguments);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    output
}

fn json(arguments: &[&str]) -> Value {
    serde_json::from_slice(&backporch(arguments).stdout).unwrap()
}

/// The lesson of a board in a folder of its own, and what it says as JSON.
fn taught(board: &str) -> (tempfile::TempDir, Value) {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("lesson");
    let report = json(&["lesson", &path(board), "--json", "-o", out.to_str().unwrap()]);
    (folder, report)
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<String> =
        entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

/// A number of a page.
fn figure(report: &Value, page: &str, name: &str) -> f64 {
    let pages = report["pages"].as_array().unwrap();
    let page = pages.iter().find(|found| found["name"] == page).unwrap();
    let figures = page["figures"].as_array().unwrap();
    let figure = figures.iter().find(|figure| figure["name"] == name).unwrap();
    figure["value"].as_f64().unwrap()
}

fn near(found: f64, expected: f64, within: f64, what: &str) {
    assert!((found - expected).abs() <= within, "{what}: {found} is not {expected}");
}

#[test]
fn every_page_is_there_and_the_pages_walk_through_all_of_them() {
    for board in BOARDS {
        let (folder, report) = taught(board);
        let out = folder.path().join("lesson");
        let pages = report["pages"].as_array().unwrap();
        let mut wanted: Vec<String> = (1..)
            .zip(pages)
            .map(|(number, page)| format!("{number:02}-{}.png", page["name"].as_str().unwrap()))
            .collect();
        wanted.push("lesson.html".to_owned());
        assert_eq!(names(&out), wanted, "{board}");
        let present = |name: &str| pages.iter().any(|page| page["name"] == name);
        for name in ["sync", "porches", "field", "ball", "left", "right", "mixer", "load", "slice"]
        {
            assert!(present(name), "{board}: {name}");
        }
        for name in ["clamp", "line", "picture", "field-sync", "mistake-two-sets"] {
            assert!(present(name), "{board}: {name}");
        }
        // An adder of resistors to the socket has no part that holds a node, and no gate.
        assert_eq!(present("mistake-missing"), board != "workshop-adder");
        assert_eq!(present("mistake-gate"), board == "chapel-follower");
        assert_eq!(present("mistake-value"), board != "chapel-follower");
        for name in wanted.iter().filter(|name| name.ends_with(".png")) {
            let image = image::open(out.join(name)).unwrap().into_rgb8();
            assert_eq!(image.width(), 1200, "{board}: {name}");
        }
    }
}

#[test]
fn the_html_is_well_formed_and_points_nowhere() {
    for board in BOARDS {
        let (folder, report) = taught(board);
        let text = fs::read_to_string(folder.path().join("lesson/lesson.html")).unwrap();
        let options = ParsingOptions { allow_dtd: true, ..ParsingOptions::default() };
        let page = Document::parse_with_options(&text, options).unwrap();
        let sections = page.descendants().filter(|node| node.has_tag_name("section")).count();
        assert_eq!(sections, report["pages"].as_array().unwrap().len(), "{board}");
        for node in page.descendants() {
            assert!(!["script", "link", "iframe"].contains(&node.tag_name().name()), "{board}");
            for attribute in node.attributes() {
                let value = attribute.value();
                if ["src", "href"].contains(&attribute.name()) {
                    assert!(value.starts_with("data:") || value.starts_with('#'), "{board}");
                    let there =
                        |id: &str| page.descendants().any(|n| n.attribute("id") == Some(id));
                    assert!(value.strip_prefix('#').is_none_or(there), "{board}: {value}");
                } else {
                    assert!(!value.contains("http"), "{board}: {value}");
                }
            }
            assert!(!node.text().unwrap_or_default().contains("http"), "{board}");
        }
        assert!(!text.contains("@import") && !text.contains("url("), "{board}");
    }
}

#[test]
fn the_numbers_are_those_of_ladder_and_render() {
    for board in BOARDS {
        let (_folder, report) = taught(board);
        let ladder = json(&["ladder", &path(board), "--json"]);
        let own = &ladder["loads"][0];
        near(
            figure(&report, "load", "one load, sync depth"),
            own["sync"]["depth_mv"].as_f64().unwrap(),
            0.01,
            board,
        );
        let out = tempfile::tempdir().unwrap();
        backporch(&["render", &path(board), "-o", out.path().to_str().unwrap()]);
        let render = fs::read(out.path().join("report.json")).unwrap();
        let render: Value = serde_json::from_slice(&render).unwrap();
        let sync = &render["sync"];
        near(figure(&report, "sync", "black"), sync["black_mv"].as_f64().unwrap(), 0.5, board);
        near(figure(&report, "sync", "sync depth"), sync["depth_mv"].as_f64().unwrap(), 0.5, board);
        let scenario = example(&path(board), &[]);
        let levels = ladder_of(&scenario);
        for (name, delta_mv) in levels {
            let socket = figure(&report, "mixer", &format!("{name} at the socket"));
            near(socket, delta_mv, 0.01, &format!("{board}: {name}"));
            let elements = render["elements"].as_array().unwrap();
            let read = elements.iter().find(|element| element["name"] == name.as_str()).unwrap();
            let shapes = read["shapes"].as_array().unwrap();
            let pulse = figure(&report, &name, "pulse");
            let close = |shape: &Value| {
                shape["delta_mv"].as_f64().is_some_and(|render_mv| (render_mv - pulse).abs() < 0.5)
            };
            assert!(shapes.iter().any(close), "{board}: {name}: {pulse} {shapes:?}");
        }
    }
}

/// Every element alone under the scenario's own load, mV.
fn ladder_of(scenario: &backporch::scenario::Scenario) -> Vec<(String, f64)> {
    let ladder = ladder(scenario).unwrap();
    let deltas = ladder.loads[0].elements.iter().map(|element| 1e3 * element.delta_v);
    ladder.elements.iter().cloned().zip(deltas).collect()
}

#[test]
fn what_is_said_has_the_numbers_and_sentences_are_short() {
    const MOST_WORDS: usize = 30;
    let others = ["bench-patterns", "ferry-open-drain", "kiosk-solo", "library-combined"];
    for board in BOARDS.into_iter().chain(others) {
        let name = path(board);
        let scenario = example(&name, &[]);
        let lesson = lesson(&scenario).unwrap();
        for page in lesson.pages() {
            let told = told(&lesson, page);
            assert!((2..=6).contains(&told.sentences.len()), "{name}: {}", told.heading);
            for sentences in &told.sentences {
                for sentence in sentences.split(". ") {
                    let words = sentence.split_whitespace().count();
                    assert!(words <= MOST_WORDS, "{name}: {words} words: {sentence}");
                }
                assert!(sentences.ends_with('.'), "{name}: {sentences}");
                assert!(!sentences.contains("NaN") && !sentences.contains("inf "), "{sentences}");
            }
            let plot = lesson_view::draw_page(&lesson, (page, &told), 1);
            let (width, height) = plot.size();
            let texts = plot.texts();
            for (index, text) in texts.iter().enumerate() {
                let inside = text.left >= 0.0
                    && text.right <= f64::from(width)
                    && text.top >= 0.0
                    && text.bottom <= f64::from(height);
                assert!(inside, "{name}: {}: {text:?}", told.heading);
                let over = texts[..index].iter().find(|other| other.overlaps(text));
                assert_eq!(over, None, "{name}: {}: {text:?}", told.heading);
            }
            assert!(!plot.svg().contains("NaN"), "{name}: {}", told.heading);
        }
    }
}

#[test]
fn a_partial_line_is_a_run_of_its_own_and_the_last_one_is_the_whole() {
    let scenario = example(&path(BOARDS[1]), &[]);
    let lesson = lesson(&scenario).unwrap();
    assert!(lesson.moved);
    assert_eq!(lesson.map.on_line(lesson.line).0.count_ones(), 4);
    let timing = &lesson.timing;
    let volts = |trace: &[f32], clock: u32| {
        let per_clock = usize::try_from(scenario.solve.samples_per_clock).unwrap();
        f64::from(trace[usize::try_from(timing.tick(lesson.line, clock)).unwrap() * per_clock])
    };
    for (index, step) in lesson.steps.iter().enumerate() {
        let patches = lesson.map.line(lesson.line);
        let own = |shape: usize| lesson.map.shapes[shape].element == step.element;
        let patch = patches.iter().find(|patch| own(patch.shape)).unwrap();
        let before = match index {
            0 => &lesson.bare,
            _ => &lesson.steps[index - 1].field,
        };
        // At its end a pulse of an adder of resistors stands at its level.
        let rise = volts(&step.field.traces[0].volts, patch.stop)
            - volts(&before.traces[0].volts, patch.stop);
        let alone = lesson.loads[0].elements[usize::from(step.element.0)].delta_v;
        near(rise, alone, 2e-3, &step.name);
    }
}

#[test]
fn two_lessons_have_the_same_bytes() {
    let (first, _) = taught(BOARDS[0]);
    let (second, _) = taught(BOARDS[0]);
    for name in names(&first.path().join("lesson")) {
        let bytes = |folder: &tempfile::TempDir| {
            fs::read(folder.path().join("lesson").join(&name)).unwrap()
        };
        assert!(bytes(&first) == bytes(&second), "{name}");
    }
}

#[test]
fn a_folder_that_cannot_be_had_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("lesson");
    fs::write(&file, "in the way").unwrap();
    let output = program::backporch(&["lesson", &path(BOARDS[0]), "-o", file.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(2));
    assert_eq!(names(folder.path()), ["lesson"]);
}
