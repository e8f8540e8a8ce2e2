//! Symbols: plain boxes and lines, as in a textbook.

use crate::base::math;
use crate::network::bipolar::Polarity;
use crate::network::circuit::Gate;
use crate::network::circuit::Logic;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::output::circuit_view::Board;
use crate::output::circuit_view::ITEM;
use crate::output::circuit_view::ROW;
use crate::output::circuit_view::TEXT;
use crate::output::circuit_view::item::End;
use crate::output::circuit_view::item::Item;
use crate::output::circuit_view::item::Reach;
use crate::output::circuit_view::item::Side;
use crate::output::circuit_view::place::ItemPlace;
use crate::output::circuit_view::place::LINE;
use crate::output::circuit_view::place::NOTE;
use crate::output::circuit_view::place::Place;
use crate::output::circuit_view::place::TITLE;
use crate::output::circuit_view::wires::SHIFT;
use crate::output::circuit_view::wires::WIRE;
use crate::output::font;
use crate::output::part_words::short_value;
use crate::output::plot::Anchor;
use crate::output::plot::Area;
use crate::output::plot::Pen;
use crate::output::plot::Plot;
use crate::output::plot::Style;
use crate::output::plot::ink;

const BODY: Pen = Pen::new(ink::BLACK, 1.6);
const STYLE: Style = Style::new(TEXT, ink::BLACK);
/// Half the length and half the height of a part with two ends.
const HALF: (f64, f64) = (20.0, 6.0);
/// How far a box stands from the edges of its room.
const INSET: f64 = 14.0;

/// Bars, names and volts.
pub(super) fn draw_nodes(board: &Board<'_>, place: &Place, plot: &mut Plot) {
    for at in place.nodes.iter().flatten() {
        let (top, bottom) = at.bar();
        let pen = Pen::new(ink::BLACK, 3.0);
        plot.line((at.x, top - SHIFT), (at.x, bottom + SHIFT), pen);
        let (black, tip) = board.volts(at.node);
        let name = board.name(at.node);
        let lines =
            [Some((name, ink::BLACK)), Some((black, ink::BLACK)), tip.map(|t| (t, ink::GREY))];
        let lines: Vec<_> = lines.into_iter().flatten().collect();
        let label = at.y - at.body() / 2.0;
        let mut y = label - LINE * math::from_usize(lines.len()) + LINE / 2.0;
        for (text, ink) in lines {
            plot.text((at.x, y), &text, Style::new(TEXT, ink).by(Anchor::Middle));
            y += LINE;
        }
    }
}

/// A part with its name, its symbol and the flags of its ends.
pub(super) fn draw_item(board: &Board<'_>, item: &Item, at: &ItemPlace, plot: &mut Plot) {
    let part = &board.scenario.circuit.parts[item.part.0];
    let middle = at.left + ITEM / 2.0;
    let title = font::fitted(&title(board, item.part), TEXT, ITEM);
    plot.text((middle, at.top + TITLE / 2.0), &title, STYLE.by(Anchor::Middle));
    match (&part.kind, ends_across(item, at)) {
        (PartKind::Pin(_), _) => draw_pin(item, at, plot),
        (kind, Some(y)) if draw_two_ended(kind, item, (middle, y), plot) => {
            let (left, right) = (at.left, at.left + ITEM);
            plot.line((left, y), (middle - HALF.0, y), WIRE);
            plot.line((middle + HALF.0, y), (right, y), WIRE);
        }
        (kind, _) => draw_box(kind, item, at, plot),
    }
    if let Some(supply) = item.supply.filter(|_| !matches!(part.kind, PartKind::Pin(_))) {
        let y = at.top + TITLE + math::from_usize(item.rows()) * ROW + NOTE / 2.0;
        let words = font::fitted(&format!("on {}", board.name(supply)), TEXT, ITEM);
        plot.text((middle, y), &words, Style::new(TEXT, ink::GREY).by(Anchor::Middle));
    }
    for end in item.ends.iter().filter(|end| end.reach == Reach::Flag) {
        let x = if end.side == Side::Left { at.left } else { at.left + ITEM };
        draw_flag(&board.flag(item, end.node), end, (x, at.end_y(end)), plot);
    }
}

/// The height of the two ends of a part that has one on each side, at one height.
fn ends_across(item: &Item, at: &ItemPlace) -> Option<f64> {
    match item.ends.as_slice() {
        [a, b] if a.side != b.side => Some(at.end_y(a)),
        _ => None,
    }
}

/// "R1  1.5 kΩ"; the load is the set.
fn title(board: &Board<'_>, id: PartId) -> String {
    let part = &board.scenario.circuit.parts[id.0];
    let name = if id == board.scenario.output.load { "the set" } else { part.name.as_str() };
    match &part.kind {
        PartKind::Pin(_) => format!("pin {}", part.name.to_uppercase()),
        kind => format!("{name}  {}", short_value(kind)).trim_end().to_owned(),
    }
}

/// An arrow that leaves the chip.
fn draw_pin(item: &Item, at: &ItemPlace, plot: &mut Plot) {
    let Some(end) = item.ends.first() else { return };
    let y = at.end_y(end);
    let (left, right) = (at.left + ITEM - 34.0, at.left + ITEM - 8.0);
    let body = [
        (left, y - 6.0),
        (right - 8.0, y - 6.0),
        (right, y),
        (right - 8.0, y + 6.0),
        (left, y + 6.0),
        (left, y - 6.0),
    ];
    plot.path(&body, BODY);
    plot.line((right, y), (at.left + ITEM, y), WIRE);
}

/// Draws the body of a part with an end on each side; whether it has such a symbol.
fn draw_two_ended(kind: &PartKind, item: &Item, (x, y): (f64, f64), plot: &mut Plot) -> bool {
    let body = Area { left: x - HALF.0, top: y - HALF.1, right: x + HALF.0, bottom: y + HALF.1 };
    match kind {
        PartKind::Resistor { .. } => plot.outline(body, BODY),
        PartKind::Trimmer { .. } => {
            plot.outline(body, BODY);
            plot.line((x - 14.0, y + 10.0), (x + 14.0, y - 8.0), WIRE);
            plot.line((x + 14.0, y - 8.0), (x + 14.0, y - 3.0), WIRE);
            plot.line((x + 14.0, y - 8.0), (x + 8.0, y - 8.0), WIRE);
        }
        PartKind::Inductor { .. } | PartKind::LossyInductor { .. } => plot.area(body, ink::BLACK),
        PartKind::Capacitor { .. } | PartKind::RealCapacitor(_) => draw_plates((x, y), plot),
        PartKind::Contact { .. } => {
            plot.line((x - HALF.0, y), (x + HALF.0 - 4.0, y - 9.0), BODY);
            plot.line((x + HALF.0, y), (x + HALF.0 - 4.0, y), BODY);
        }
        PartKind::Diode { model, .. } => {
            // The anode is the first end.
            let forward = item.ends.first().is_some_and(|end| end.side == Side::Left);
            draw_diode((x, y), (forward, model.breakdown.is_some()), plot);
        }
        PartKind::Cable(_) => {
            plot.line((x - HALF.0, y), (x + HALF.0, y), WIRE);
            plot.outline(body, Pen::new(ink::BLACK, 1.0).dashed("4 2"));
        }
        _ => return false,
    }
    true
}

fn draw_plates((x, y): (f64, f64), plot: &mut Plot) {
    for side in [-1.0, 1.0] {
        plot.line((x + side * 3.0, y - 8.0), (x + side * 3.0, y + 8.0), Pen::new(ink::BLACK, 2.2));
        plot.line((x + side * 3.0, y), (x + side * HALF.0, y), WIRE);
    }
}

fn draw_diode((x, y): (f64, f64), (forward, zener): (bool, bool), plot: &mut Plot) {
    let way = if forward { 1.0 } else { -1.0 };
    let (back, tip) = (x - way * 7.0, x + way * 7.0);
    plot.shape(&[(back, y - 7.0), (back, y + 7.0), (tip, y)], ink::BLACK);
    plot.line((tip, y - 7.0), (tip, y + 7.0), BODY);
    if zener {
        plot.line((tip, y - 7.0), (tip + way * 4.0, y - 7.0), BODY);
    }
    plot.line((x - HALF.0, y), (x + HALF.0, y), WIRE);
}

/// A box with a sign in it and letters at its ends.
fn draw_box(kind: &PartKind, item: &Item, at: &ItemPlace, plot: &mut Plot) {
    let (left, right) = (at.left + INSET, at.left + ITEM - INSET);
    let top = at.top + TITLE;
    let bottom = top + math::from_usize(item.rows()) * ROW;
    plot.outline(Area { left, top, right, bottom }, BODY);
    let middle = (f64::midpoint(left, right), f64::midpoint(top, bottom));
    plot.text(middle, sign(kind), STYLE.by(Anchor::Middle));
    for end in &item.ends {
        let y = at.end_y(end);
        let (edge, outside, anchor, inward) = match end.side {
            Side::Left => (left, at.left, Anchor::Start, 4.0),
            Side::Right => (right, at.left + ITEM, Anchor::End, -4.0),
        };
        if is_inverting(kind) && end.side == Side::Right {
            // The wire starts behind the slanted stroke of negation.
            plot.line((edge, y - 6.0), (edge + 8.0, y), WIRE);
        }
        plot.line((edge, y), (outside, y), WIRE);
        if !end.label.is_empty() {
            plot.text((edge + inward, y), end.label, STYLE.by(anchor));
        }
    }
}

fn is_inverting(kind: &PartKind) -> bool {
    let PartKind::Gate(gate) = kind else { return false };
    matches!(gate.logic, Logic::Nor | Logic::Nand | Logic::Not)
}

/// What stands in a box: for gates the signs of IEC 60617.
fn sign(kind: &PartKind) -> &'static str {
    match kind {
        PartKind::Gate(gate) => gate_sign(gate),
        PartKind::Transistor { model, .. } => match model.polarity {
            Polarity::Npn => "NPN",
            Polarity::Pnp => "PNP",
        },
        PartKind::FieldEffect { .. } => "FET",
        PartKind::AnalogueSwitch(_) => "switch",
        PartKind::Supply { .. } => "supply",
        PartKind::Adapter(_) => "adapter",
        PartKind::Sounder(_) => "sound",
        PartKind::Regulator(_) => "reg",
        PartKind::VideoDriver(_) => "amp",
        PartKind::Consumption { .. } => "chip",
        PartKind::Draw { .. } => "draw",
        PartKind::Resistor { .. } | PartKind::Trimmer { .. } => "R",
        PartKind::Capacitor { .. } | PartKind::RealCapacitor(_) => "C",
        PartKind::Inductor { .. } | PartKind::LossyInductor { .. } => "L",
        PartKind::Contact { .. } => "contact",
        PartKind::Diode { .. } => "diode",
        PartKind::Cable(_) => "cable",
        PartKind::Pin(_) => "pin",
    }
}

fn gate_sign(gate: &Gate) -> &'static str {
    match gate.logic {
        Logic::Or | Logic::Nor => "≥1",
        Logic::And | Logic::Nand => "&",
        Logic::Xor => "=1",
        Logic::Not | Logic::Buffer => "1",
    }
}

/// Ground, or a node by its name.
fn draw_flag(name: &str, end: &End, (x, y): (f64, f64), plot: &mut Plot) {
    let out = if end.side == Side::Left { -1.0 } else { 1.0 };
    if end.node == NodeId::GROUND {
        let foot = x + out * 9.0;
        plot.path(&[(x, y), (foot, y), (foot, y + 3.0)], WIRE);
        for (row, half) in [(3.0, 7.0), (5.5, 4.5), (8.0, 2.0)] {
            plot.line((foot - half, y + row), (foot + half, y + row), WIRE);
        }
        return;
    }
    let anchor = if end.side == Side::Left { Anchor::End } else { Anchor::Start };
    plot.line((x, y), (x + out * 8.0, y), WIRE);
    plot.text((x + out * 11.0, y), name, STYLE.by(anchor));
}
