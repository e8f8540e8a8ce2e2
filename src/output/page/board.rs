//! The circuit with its volts, the parts, the pins.

use crate::network::circuit::Part;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::network::circuit::Pin;
use crate::output::axis::number;
use crate::output::circuit_view;
use crate::output::page::PageParts;
use crate::output::page::html::Html;
use crate::output::part_words::kind_words;
use crate::output::part_words::long_value;
use crate::output::part_words::stage_words;
use crate::output::part_words::ties;
use crate::output::table::Column;
use crate::output::table::Table;
use crate::raster::plan::Carries;
use crate::raster::plan::PinPlan;
use crate::raster::plan::Sense;
use crate::scenario::Scenario;

/// What every node stands at.
pub(super) fn circuit(parts: &PageParts<'_>, html: &mut Html) {
    let drawing = circuit_view::draw(parts.scenario, parts.levels);
    html.with("div", &[("class", "wide drawing")], |html| html.drawing(&drawing.svg()));
    html.element(
        "p",
        &[("class", "small")],
        "Generated from the parts list. The signal flows from left to right; supplies of gates and \
         pins, and the wiring's capacitance, are left out. Black bars are nodes; wires that cross \
         without a bar are not joined.",
    );
    html.element("h3", &[], "Standing volts");
    let mut table = Table::new(vec![
        Column::left("node"),
        Column::right("nothing lit, V"),
        Column::right("in the sync pulse, V"),
    ]);
    let levels = parts.levels.black_v.iter().zip(&parts.levels.tip_v);
    for (name, (black_v, tip_v)) in parts.scenario.circuit.nodes.iter().zip(levels) {
        table.push(vec![name.clone(), number(*black_v, 3), number(*tip_v, 3)]);
    }
    html.table(&table);
}

/// Every part but the pins: what it is, its value, what it is tied to.
pub(super) fn parts(parts: &PageParts<'_>, html: &mut Html) {
    let mut table = Table::new(["part", "what it is", "value", "tied to"].map(Column::left).into());
    let circuit = &parts.scenario.circuit;
    let listed = circuit.parts.iter().enumerate();
    let strays = strays(parts.scenario);
    for (index, part) in listed.filter(|(_, part)| !matches!(part.kind, PartKind::Pin(_))) {
        if strays.contains(&PartId(index)) {
            continue;
        }
        table.push(vec![
            part.name.clone(),
            origin(parts.scenario, PartId(index), part).to_owned(),
            long_value(&part.kind),
            ties(circuit, &part.kind),
        ]);
    }
    html.table(&table);
    if let Some(first) = strays.first() {
        let each = long_value(&circuit.parts[first.0].kind);
        html.paragraph(&format!(
            "The wiring's own capacitance is counted besides: {each} from each of {} nodes to ground.",
            strays.len()
        ));
    }
}

/// What stands for the wiring: capacitors that nobody wrote.
fn strays(scenario: &Scenario) -> Vec<PartId> {
    let all = scenario.circuit.parts.iter().zip(&scenario.part_spans).enumerate();
    let strays = all.filter(|(_, (part, written))| {
        written.is_none() && matches!(part.kind, PartKind::Capacitor { .. })
    });
    strays.map(|(index, _)| PartId(index)).collect()
}

fn origin(scenario: &Scenario, id: PartId, part: &Part) -> &'static str {
    if id == scenario.output.load { "the set's input" } else { kind_words(&part.kind) }
}

/// What each pin of the chip was taken to be.
pub(super) fn pins(parts: &PageParts<'_>, html: &mut Html) {
    let scenario = parts.scenario;
    html.paragraph(&strength_words(scenario));
    let mut table = Table::new(
        ["pin", "carries", "tied to", "level", "output stage", "edges"].map(Column::left).into(),
    );
    for (plan, (_, pin)) in scenario.raster.pins.iter().zip(scenario.circuit.pins()) {
        let supply_v = parts.levels.black_v[pin.supply.0];
        for (index, stage) in pin.levels.iter().enumerate() {
            let once = |words: String| if index == 0 { words } else { String::new() };
            table.push(vec![
                once(plan.name.to_uppercase()),
                once(carries(scenario, plan)),
                once(scenario.circuit.node_name(pin.node).to_owned()),
                level_name(plan, index),
                stage_words(stage, supply_v),
                once(edges(pin)),
            ]);
        }
    }
    html.table(&table);
}

/// Which specimen of the chip it is, and what that is worth.
fn strength_words(scenario: &Scenario) -> String {
    let used: Vec<_> = scenario.circuit.pins().map(|(_, pin)| &pin.levels).collect();
    let same =
        scenario.specimens.iter().find(|specimen| specimen.stages.iter().eq(used.iter().copied()));
    let which = match same {
        Some(specimen) => {
            format!("The pins are {} ones of this chip's profile", specimen.strength.word())
        }
        None => "The pins are as the scenario or the chip's file states them".to_owned(),
    };
    format!(
        "{which}. Nobody has a data sheet for the strength of these pins: measure before trusting. \
         Two resistors on a pin, one after the other, give its volts and its resistance."
    )
}

fn carries(scenario: &Scenario, plan: &PinPlan) -> String {
    match &plan.carries {
        Carries::Sync => "sync".to_owned(),
        Carries::Combined(_) => "picture and sync, combined".to_owned(),
        Carries::Elements(set) => {
            let names = set.iter().filter_map(|id| scenario.raster.elements.get(usize::from(id.0)));
            names.map(String::as_str).collect::<Vec<_>>().join(", ")
        }
    }
}

/// "low, at rest", "high, active"; a combined pin has numbers.
fn level_name(plan: &PinPlan, index: usize) -> String {
    let combined = matches!(plan.carries, Carries::Combined(_));
    match (combined, index, plan.sense) {
        (true, ..) => format!("level {index}"),
        (_, 0, Sense::ActiveLow) => "low, active".to_owned(),
        (_, 0, Sense::ActiveHigh) => "low, at rest".to_owned(),
        (_, _, Sense::ActiveLow) => "high, at rest".to_owned(),
        (_, _, Sense::ActiveHigh) => "high, active".to_owned(),
    }
}

fn edges(pin: &Pin) -> String {
    format!(
        "{}/{} ns, {} pF",
        number(1e9 * pin.rise_s, 0),
        number(1e9 * pin.fall_s, 0),
        number(1e12 * pin.farads, 0)
    )
}
