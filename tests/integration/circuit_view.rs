//! The circuit as it is drawn: whole, readable, and with every part on it.

use crate::boards::example;
use crate::boards::examples;
use crate::boards::load;
use backporch::analysis::node_levels::node_levels;
use backporch::network::circuit::PartKind;
use backporch::output::circuit_view;
use backporch::output::plot::Area;
use backporch::output::plot::Plot;
use backporch::scenario::Scenario;
use std::fs;

fn drawn(scenario: &Scenario) -> Plot {
    circuit_view::draw(scenario, &node_levels(scenario).unwrap())
}

/// Every text, and every straight stroke.
struct Read {
    texts: Vec<String>,
    strokes: Vec<[(f64, f64); 2]>,
    /// Those of wires, wire by wire.
    wires: Vec<Vec<[(f64, f64); 2]>>,
}

fn read(plot: &Plot) -> Read {
    let svg = plot.svg();
    let page = roxmltree::Document::parse(&svg).unwrap();
    let texts = page.descendants().filter(|node| node.has_tag_name("text"));
    let texts = texts.map(|node| node.text().unwrap_or_default().to_owned()).collect();
    let (mut strokes, mut wires) = (Vec::new(), Vec::new());
    for node in page.descendants().filter(|node| node.has_tag_name("polyline")) {
        let points: Vec<(f64, f64)> = node
            .attribute("points")
            .unwrap()
            .split_whitespace()
            .map(|point| point.split_once(',').unwrap())
            .map(|(x, y)| (x.parse().unwrap(), y.parse().unwrap()))
            .collect();
        let own: Vec<_> = points.windows(2).map(|pair| [pair[0], pair[1]]).collect();
        strokes.extend(own.iter().copied());
        if node.attribute("stroke-width") == Some("1.20") {
            wires.push(own);
        }
    }
    Read { texts, strokes, wires }
}

/// Whether a stroke that is level or upright goes through a text.
fn goes_through([from, to]: [(f64, f64); 2], text: &Area) -> bool {
    let stroke = Area {
        left: from.0.min(to.0) - 0.1,
        right: from.0.max(to.0) + 0.1,
        top: from.1.min(to.1) - 0.1,
        bottom: from.1.max(to.1) + 0.1,
    };
    // What stands above and below the letters within a text's box is empty.
    let inner = Area { top: text.top + 2.0, bottom: text.bottom - 2.0, ..*text };
    let is_level = (from.1 - to.1).abs() < 0.1 || (from.0 - to.0).abs() < 0.1;
    is_level && inner.overlaps(&stroke)
}

/// Whether two strokes run along each other, so that two wires look like one.
fn run_together(a: [(f64, f64); 2], b: [(f64, f64); 2]) -> bool {
    let along = |level: bool| {
        let turned = |(x, y): (f64, f64)| if level { (x, y) } else { (y, x) };
        let ([a, b], [c, d]) = (a.map(turned), b.map(turned));
        let parallel = (a.1 - b.1).abs() < 0.1 && (c.1 - d.1).abs() < 0.1;
        let common = a.0.max(b.0).min(c.0.max(d.0)) - a.0.min(b.0).max(c.0.min(d.0));
        parallel && (a.1 - c.1).abs() < 1.5 && common > 1.0
    };
    along(true) || along(false)
}

/// What makes a drawing hard to read.
fn blemishes(plot: &Plot) -> Vec<String> {
    let read = read(plot);
    let (width, height) = plot.size();
    let paper = (f64::from(width), f64::from(height));
    let mut found = Vec::new();
    for (index, text) in plot.texts().iter().enumerate() {
        let words = &read.texts[index];
        if text.left < 0.0 || text.top < 0.0 || text.right > paper.0 || text.bottom > paper.1 {
            found.push(format!("`{words}` is off the paper"));
        }
        for (other, area) in read.texts.iter().zip(plot.texts()).take(index) {
            if area.overlaps(text) {
                found.push(format!("`{words}` lies on `{other}`"));
            }
        }
        if read.strokes.iter().any(|stroke| goes_through(*stroke, text)) {
            found.push(format!("a line goes through `{words}`"));
        }
    }
    for (index, wire) in read.wires.iter().enumerate() {
        for other in &read.wires[..index] {
            let pairs = wire.iter().flat_map(|a| other.iter().map(move |b| (*a, *b)));
            found.extend(
                pairs
                    .filter(|(a, b)| run_together(*a, *b))
                    .map(|pair| format!("one line: {pair:?}")),
            );
        }
    }
    for (x, y) in read.strokes.iter().flatten() {
        if !(0.0..=paper.0).contains(x) || !(0.0..=paper.1).contains(y) {
            found.push(format!("a line leaves the paper at {x}, {y}"));
        }
    }
    found
}

#[test]
fn no_text_of_any_example_lies_on_another_or_on_a_line_or_off_the_paper() {
    for path in examples() {
        let found = blemishes(&drawn(&load(&path)));
        assert!(found.is_empty(), "{}: {found:#?}", path.display());
    }
}

#[test]
fn every_part_and_every_node_of_an_example_is_on_its_drawing() {
    for path in examples() {
        let (name, scenario) = (path.display(), load(&path));
        let texts = read(&drawn(&scenario)).texts;
        let has = |wanted: &str| texts.iter().any(|text| text.starts_with(wanted));
        for (part, span) in scenario.circuit.parts.iter().zip(&scenario.part_spans) {
            let wanted = match &part.kind {
                PartKind::Pin(_) => format!("pin {}", part.name.to_uppercase()),
                PartKind::Capacitor { .. } if span.is_none() => continue,
                _ if part.name == "load" => "the set".to_owned(),
                _ => part.name.clone(),
            };
            assert!(has(&wanted), "{name}: no {wanted} in {texts:?}");
        }
        for node in &scenario.circuit.nodes[1..] {
            assert!(has(node), "{name}: no {node}");
        }
    }
}

#[test]
fn the_volts_beside_a_node_are_those_of_the_ladder() {
    let scenario = example("scenarios/chapel-follower.toml", &[]);
    let levels = node_levels(&scenario).unwrap();
    let ladder = backporch::analysis::ladder::ladder(&scenario).unwrap();
    let socket = scenario.output.node.0;
    let sync = ladder.loads[0].sync;
    assert!((levels.black_v[socket] - sync.black_v).abs() < 1e-9);
    assert!((levels.tip_v[socket] - sync.tip_v).abs() < 1e-9);
    let texts = read(&drawn(&scenario)).texts;
    let plug = texts.iter().position(|text| text == "plug").unwrap();
    assert_eq!(texts[plug + 1], format!("{:.2} V", sync.black_v));
    assert_eq!(texts[plug + 2], format!("{:.2} V", sync.tip_v));
}

#[test]
fn a_board_that_leads_nowhere_and_one_with_long_names_are_drawn_all_the_same() {
    let text = fs::read_to_string("scenarios/chapel-follower.toml").unwrap();
    let long = "a_name_of_thirty_two_characters_";
    let boards = [
        // Nothing joins the follower to the socket.
        text.replace(
            "resistor = \"75\"\nfrom = \"drive\"\nto = \"plug\"",
            "resistor = \"75\"\nfrom = \"ground\"\nto = \"plug\"",
        ),
        text.replace("\"mix\"", &format!("\"{long}\""))
            .replace("[board.R3]", &format!("[board.{long}]")),
        // A resistor that feeds back, and one between two nodes of one column.
        text.replace(
            "[board.R3]",
            "[board.R8]\nresistor = \"10 k\"\nfrom = \"drive\"\nto = \"marks\"\n\
             [board.R9]\nresistor = \"10 k\"\nfrom = \"left\"\nto = \"white\"\n[board.R3]",
        ),
    ];
    for board in boards {
        assert_ne!(board, text);
        let loaded = crate::boards::read(&board);
        let plot = drawn(&loaded);
        assert_eq!(blemishes(&plot), Vec::<String>::new());
        let texts = read(&plot).texts;
        let parts = loaded.part_spans.iter().filter(|span| span.is_some()).count();
        assert!(texts.len() > parts, "{texts:?}");
    }
}
