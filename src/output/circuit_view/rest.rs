//! Supplies, and parts on no pulse's way: side by side below the rest, all ends flagged.

use crate::base::math;
use crate::output::circuit_view::Board;
use crate::output::circuit_view::ITEM;
use crate::output::circuit_view::MARGIN;
use crate::output::circuit_view::TEXT;
use crate::output::circuit_view::item::Sheet;
use crate::output::circuit_view::item::Side;
use crate::output::circuit_view::place::ItemPlace;
use crate::output::circuit_view::place::height;
use crate::output::circuit_view::symbol;
use crate::output::font;
use crate::output::plot::Plot;
use crate::output::plot::Style;
use crate::output::plot::ink;

const HEADING: f64 = 24.0;
const AIR: f64 = 10.0;

/// Where they stand.
pub(super) struct Rest {
    top: f64,
    items: Vec<ItemPlace>,
    pub(super) bottom: f64,
}

impl Rest {
    /// In rows from `top` on, as many in a row as `width` has room for.
    pub(super) fn new(board: &Board<'_>, sheet: &Sheet, (top, width): (f64, f64)) -> Self {
        let room = [Side::Left, Side::Right].map(|side| flag_room(board, sheet, side));
        let cell = room[0] + ITEM + room[1] + AIR;
        let across = math::floor_index((width - 2.0 * MARGIN + AIR) / cell).max(1);
        let mut y = top + if sheet.rest.is_empty() { 0.0 } else { HEADING };
        let mut items = Vec::new();
        for row in sheet.rest.chunks(across) {
            for column in 0..row.len() {
                let left = MARGIN + math::from_usize(column) * cell + room[0];
                items.push(ItemPlace { left, top: y });
            }
            y += row.iter().map(height).fold(0.0, f64::max) + AIR;
        }
        Self { top, items, bottom: y }
    }

    pub(super) fn draw(&self, board: &Board<'_>, sheet: &Sheet, plot: &mut Plot) {
        if !sheet.rest.is_empty() {
            let words = "Supplies, and parts on no pulse's way";
            plot.text((MARGIN, self.top + HEADING / 2.0), words, Style::new(TEXT, ink::GREY));
        }
        for (item, at) in sheet.rest.iter().zip(&self.items) {
            symbol::draw_item(board, item, at, plot);
        }
    }
}

/// Room for the widest flag on a side.
fn flag_room(board: &Board<'_>, sheet: &Sheet, side: Side) -> f64 {
    let flags = sheet.rest.iter().flat_map(|item| {
        let ends = item.ends.iter().filter(|end| end.side == side);
        ends.map(|end| font::width(&board.flag(item, end.node), TEXT) + 16.0)
    });
    flags.fold(0.0, f64::max)
}
