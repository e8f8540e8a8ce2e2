//! The circuit as a drawing: the signal flows from left to right, from the chip's pins to the
//! socket, and the standing volts are written at every node.
//!
//! Nodes stand in columns, as many parts from the socket as columns from the right; each is a bar
//! with its name and volts above it. Parts stand in the gaps between. Since no part leads more than
//! one stage on, a part needs wires to the neighbouring columns alone; an end that is tied
//! elsewhere, to a rail or to a node that feeds back, has a flag with the node's name. Parts on no
//! pulse's way stand below, all their ends flagged.

mod item;
mod place;
mod rest;
mod symbol;
mod wires;

use crate::analysis::node_levels::NodeLevels;
use crate::base::math;
use crate::network::circuit::NodeId;
use crate::output::axis::number;
use crate::output::circuit_view::item::Item;
use crate::output::circuit_view::item::Sheet;
use crate::output::circuit_view::place::Place;
use crate::output::circuit_view::rest::Rest;
use crate::output::font;
use crate::output::plot::Plot;
use crate::output::plot::Style;
use crate::output::plot::ink;
use crate::scenario::Scenario;

/// Size of all texts, pixels.
const TEXT: f64 = 11.0;
/// From one terminal of a part to the next.
const ROW: f64 = 20.0;
/// Room of a part from left to right.
const ITEM: f64 = 100.0;
/// Margin of the paper.
const MARGIN: f64 = 16.0;
/// Least width of the paper: the widest part with a flag on each side has room.
const LEAST_WIDTH: f64 = 760.0;
/// Widest name of a node.
const NAME: f64 = 96.0;

/// What a sheet is drawn from.
#[derive(Clone, Copy)]
struct Board<'a> {
    scenario: &'a Scenario,
    levels: &'a NodeLevels,
}

impl Board<'_> {
    /// The name, as much of it as has room.
    fn name(&self, node: NodeId) -> String {
        font::fitted(self.scenario.circuit.node_name(node), TEXT, NAME)
    }

    /// What stands at an end without a wire: the node's name, and where it has no bar near by its
    /// volts.
    fn flag(&self, item: &Item, node: NodeId) -> String {
        if item.gap.is_some() {
            return self.name(node);
        }
        let (black, tip) = self.volts(node);
        let tip = tip.map_or_else(String::new, |tip| format!(" / {tip}"));
        format!("{}  {black}{tip}", self.name(node))
    }

    /// "0.63 V" with nothing lit, and in the sync pulse if that is something else.
    fn volts(&self, node: NodeId) -> (String, Option<String>) {
        let text = |volts: f64| format!("{} V", number(volts, 2));
        let (black, tip) = (text(self.levels.black_v[node.0]), text(self.levels.tip_v[node.0]));
        let tip = (tip != black).then_some(tip);
        (black, tip)
    }
}

/// Draws a board.
#[must_use]
pub fn draw(scenario: &Scenario, levels: &NodeLevels) -> Plot {
    let board = Board { scenario, levels };
    let mut sheet = Sheet::new(scenario);
    let place = Place::new(&board, &mut sheet);
    let top = place.bottom + 20.0;
    let width = place.width.max(LEAST_WIDTH);
    let rest = Rest::new(&board, &sheet, (top, width));
    let whole = |size: f64| math::floor_u32(math::ceil(size));
    let mut plot = Plot::new(whole(width), whole(rest.bottom + MARGIN));
    let legend =
        "At each node: volts with nothing lit, and below in the sync pulse where they differ.";
    plot.text((MARGIN, MARGIN), legend, Style::new(TEXT, ink::GREY));
    wires::draw(&sheet, &place, &mut plot);
    symbol::draw_nodes(&board, &place, &mut plot);
    for (item, at) in sheet.items.iter().zip(&place.items) {
        symbol::draw_item(&board, item, at, &mut plot);
    }
    rest.draw(&board, &sheet, &mut plot);
    plot
}
