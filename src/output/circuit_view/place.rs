//! Where everything stands on the paper.

use crate::base::math;
use crate::network::circuit::NodeId;
use crate::output::circuit_view::Board;
use crate::output::circuit_view::ITEM;
use crate::output::circuit_view::MARGIN;
use crate::output::circuit_view::ROW;
use crate::output::circuit_view::TEXT;
use crate::output::circuit_view::item::End;
use crate::output::circuit_view::item::Item;
use crate::output::circuit_view::item::Reach;
use crate::output::circuit_view::item::Sheet;
use crate::output::circuit_view::item::Side;
use crate::output::font;
use crate::output::label::Wanted;
use crate::output::label::spread;

/// Room for a part's name above its symbol.
pub(super) const TITLE: f64 = 16.0;
/// Room for what stands below it.
pub(super) const NOTE: f64 = 14.0;
/// A line of a node's label.
pub(super) const LINE: f64 = 13.0;
/// A ground sign.
const GROUND: f64 = 18.0;
/// Between two parts or two nodes, one above the other.
const AIR: f64 = 10.0;
/// From one upright wire to the next.
const CHANNEL: f64 = 7.0;
/// Room above and below a bar in which its wires may lie more than a row apart.
const SLACK: f64 = 12.0;
/// Least distance of two wires at a bar.
const SLOT: f64 = 10.0;
/// How often nodes and parts are moved towards each other.
const SWEEPS: usize = 12;
/// Room in which the rows are settled before they are moved to the top of the paper.
const ROOM: f64 = 1e6;

/// A part's place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct ItemPlace {
    /// Left edge of its room, [`ITEM`] wide.
    pub(super) left: f64,
    /// Top of its room.
    pub(super) top: f64,
}

impl ItemPlace {
    /// Height of an end.
    pub(super) fn end_y(&self, end: &End) -> f64 {
        self.top + TITLE + (math::from_usize(end.row) + 0.5) * ROW
    }
}

/// A node's place.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct NodePlace {
    pub(super) node: NodeId,
    /// Where its bar is.
    pub(super) x: f64,
    /// Middle of its bar.
    pub(super) y: f64,
    /// Wires on its left and right.
    wires: [usize; 2],
    /// Their heights at the bar, from the top.
    pub(super) slots: [Vec<f64>; 2],
}

impl NodePlace {
    /// Height of its part of the column, without the label.
    pub(super) fn body(&self) -> f64 {
        math::from_usize(self.wires[0].max(self.wires[1]).max(1)) * ROW + SLACK
    }

    /// Top and bottom of its bar.
    pub(super) fn bar(&self) -> (f64, f64) {
        let slots = self.slots.iter().flatten();
        slots.fold((self.y, self.y), |(top, bottom), &y| (top.min(y), bottom.max(y)))
    }

    /// Room of label and bar.
    fn height(&self) -> f64 {
        3.0 * LINE + self.body()
    }

    /// From the middle of that room to the middle of the bar.
    fn below_middle() -> f64 {
        1.5 * LINE
    }
}

/// The upright lines of a gap.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Gap {
    /// Where wires from the left turn: first and distance.
    pub(super) left_channel: f64,
    /// Where wires to the right turn.
    pub(super) right_channel: f64,
    /// Left edge of the parts.
    items: f64,
}

/// The whole sheet.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Place {
    /// By the sheet's items.
    pub(super) items: Vec<ItemPlace>,
    /// Column by column.
    pub(super) nodes: Vec<Vec<NodePlace>>,
    /// One more than columns.
    pub(super) gaps: Vec<Gap>,
    pub(super) width: f64,
    pub(super) bottom: f64,
}

impl Place {
    pub(super) fn new(board: &Board<'_>, sheet: &mut Sheet) -> Self {
        let count = |node: NodeId, side: Side| {
            let ends = sheet.items.iter().flat_map(|item| &item.ends);
            // A part's left end is at its node's right.
            ends.filter(|end| end.reach == Reach::Wired && end.node == node && end.side != side)
                .count()
        };
        let node = |(index, &node): (usize, &NodeId)| NodePlace {
            node,
            x: 0.0,
            y: ROOM / 2.0 + math::from_usize(index),
            wires: [count(node, Side::Left), count(node, Side::Right)],
            slots: [Vec::new(), Vec::new()],
        };
        let nodes =
            sheet.columns.iter().map(|column| column.iter().enumerate().map(node).collect());
        let middle = ItemPlace { left: 0.0, top: ROOM / 2.0 };
        let mut place = Self {
            items: vec![middle; sheet.items.len()],
            nodes: nodes.collect(),
            gaps: Vec::new(),
            width: 0.0,
            bottom: 0.0,
        };
        place.settle(sheet, SWEEPS);
        place.order_inputs(sheet);
        place.settle(sheet, SWEEPS / 3);
        place.move_to_top(sheet);
        place.set_slots(sheet);
        place.set_across(board, sheet);
        place
    }

    fn settle(&mut self, sheet: &Sheet, sweeps: usize) {
        for _ in 0..sweeps {
            for gap in 0..=sheet.columns.len() {
                self.settle_items(sheet, gap);
                self.settle_nodes(sheet, gap);
            }
            for gap in (0..=sheet.columns.len()).rev() {
                self.settle_nodes(sheet, gap);
                self.settle_items(sheet, gap);
            }
        }
    }

    /// Puts the inputs of each gate into the order of their nodes: to a gate they are all the same.
    fn order_inputs(&self, sheet: &mut Sheet) {
        for item in sheet.items.iter_mut().filter(|item| item.is_gate) {
            let height = |end: &End| {
                let node = column_of(item, end).and_then(|column| self.node(column, end.node));
                node.map_or(f64::INFINITY, |node| node.y)
            };
            let inputs = item.ends.iter().enumerate().filter(|(_, end)| end.side == Side::Left);
            let mut order: Vec<(f64, usize)> =
                inputs.map(|(index, end)| (height(end), index)).collect();
            order.sort_by(|a, b| a.0.total_cmp(&b.0));
            for (row, (_, index)) in order.into_iter().enumerate() {
                item.ends[index].row = row;
            }
        }
    }

    /// Lets each wire meet its node's bar where it lies already, as far as there is room.
    fn set_slots(&mut self, sheet: &Sheet) {
        let items: Vec<(&Item, ItemPlace)> =
            sheet.items.iter().zip(self.items.iter().copied()).collect();
        for (column, nodes) in self.nodes.iter_mut().enumerate() {
            for place in nodes {
                for (index, side) in [Side::Right, Side::Left].into_iter().enumerate() {
                    let ends = items.iter().flat_map(|(item, at)| {
                        let ends = item.ends.iter().filter(|end| {
                            end.node == place.node
                                && end.side == side
                                && column_of(item, end) == Some(column)
                        });
                        ends.map(|end| at.end_y(end))
                    });
                    let mut wanted: Vec<Wanted> =
                        ends.map(|middle| Wanted { middle, length: SLOT }).collect();
                    wanted.sort_by(|a, b| a.middle.total_cmp(&b.middle));
                    let half = place.body() / 2.0;
                    let slots = spread(&wanted, place.y - half..place.y + half, 0.0);
                    place.slots[index] = slots.into_iter().flatten().collect();
                }
            }
        }
    }

    /// The node's place in a column.
    pub(super) fn node(&self, column: usize, node: NodeId) -> Option<&NodePlace> {
        self.nodes.get(column)?.iter().find(|place| place.node == node)
    }

    /// Moves the parts of a gap towards the nodes that they are wired to.
    fn settle_items(&mut self, sheet: &Sheet, gap: usize) {
        let here: Vec<usize> =
            (0..sheet.items.len()).filter(|&index| sheet.items[index].gap == Some(gap)).collect();
        let wanted: Vec<Wanted> = here
            .iter()
            .map(|&index| {
                let item = &sheet.items[index];
                let tops = item.ends.iter().filter_map(|end| {
                    let node = self.node(column_of(item, end)?, end.node)?;
                    Some(node.y - (self.items[index].end_y(end) - self.items[index].top))
                });
                let top = mean(tops).unwrap_or(self.items[index].top);
                let length = height(item);
                Wanted { middle: top + length / 2.0, length }
            })
            .collect();
        for (&index, middle) in here.iter().zip(spread(&wanted, 0.0..ROOM, AIR)) {
            if let Some(middle) = middle {
                self.items[index].top = middle - height(&sheet.items[index]) / 2.0;
            }
        }
    }

    /// Moves the nodes of a column towards the parts that are wired to them.
    fn settle_nodes(&mut self, sheet: &Sheet, column: usize) {
        let Some(nodes) = self.nodes.get(column) else { return };
        let wanted: Vec<Wanted> = nodes
            .iter()
            .map(|place| {
                let ends = sheet.items.iter().zip(&self.items).flat_map(|(item, at)| {
                    let ends = item.ends.iter().filter(|end| {
                        end.node == place.node && column_of(item, end) == Some(column)
                    });
                    ends.map(|end| at.end_y(end))
                });
                let y = mean(ends).unwrap_or(place.y);
                Wanted { middle: y - NodePlace::below_middle(), length: place.height() }
            })
            .collect();
        let middles = spread(&wanted, 0.0..ROOM, AIR);
        for (place, middle) in self.nodes[column].iter_mut().zip(middles) {
            if let Some(middle) = middle {
                place.y = middle + NodePlace::below_middle();
            }
        }
    }

    fn move_to_top(&mut self, sheet: &Sheet) {
        let nodes = || self.nodes.iter().flatten();
        let node_top =
            |place: &NodePlace| place.y - NodePlace::below_middle() - place.height() / 2.0;
        let tops = nodes().map(node_top).chain(self.items.iter().map(|item| item.top));
        let top = tops.fold(f64::INFINITY, f64::min);
        let shift = 2.0 * MARGIN + AIR - top;
        self.items.iter_mut().for_each(|item| item.top += shift);
        self.nodes.iter_mut().flatten().for_each(|place| place.y += shift);
        let items = self.items.iter().zip(&sheet.items);
        let bottoms = items.map(|(at, item)| at.top + height(item));
        let nodes = self.nodes.iter().flatten().map(|place| place.y + place.body() / 2.0);
        self.bottom = bottoms.chain(nodes).fold(0.0, f64::max);
    }

    /// Sets columns and gaps side by side, each as wide as it has to be.
    fn set_across(&mut self, board: &Board<'_>, sheet: &Sheet) {
        let mut x = MARGIN;
        for gap in 0..=sheet.columns.len() {
            let items: Vec<&Item> =
                sheet.items.iter().filter(|item| item.gap == Some(gap)).collect();
            let wired = |side: Side| {
                let ends = items.iter().flat_map(|item| &item.ends);
                let count =
                    ends.filter(|end| end.reach == Reach::Wired && end.side == side).count();
                if count == 0 { 0.0 } else { math::from_usize(count + 1) * CHANNEL }
            };
            let left_channel = x + CHANNEL;
            x += wired(Side::Left) + flag_room(board, &items, Side::Left);
            let left = x;
            if !items.is_empty() {
                x += ITEM + flag_room(board, &items, Side::Right);
            }
            self.gaps.push(Gap { left_channel, right_channel: x + CHANNEL, items: left });
            x += wired(Side::Right);
            if let Some(nodes) = self.nodes.get_mut(gap) {
                let half =
                    nodes.iter().map(|place| label_width(board, place.node)).fold(0.0, f64::max)
                        / 2.0
                        + 5.0;
                nodes.iter_mut().for_each(|place| place.x = x + half);
                x += 2.0 * half;
            }
        }
        for (place, item) in self.items.iter_mut().zip(&sheet.items) {
            place.left = item.gap.map_or(0.0, |gap| self.gaps[gap].items);
        }
        self.width = x + MARGIN;
    }
}

/// The column of the node that an end is wired to.
pub(super) fn column_of(item: &Item, end: &End) -> Option<usize> {
    match (end.reach, end.side) {
        (Reach::Wired, Side::Right) => item.gap,
        (Reach::Wired, Side::Left) => item.gap?.checked_sub(1),
        (Reach::Flag, _) => None,
    }
}

/// Height of a part with its words.
pub(super) fn height(item: &Item) -> f64 {
    let note = if item.supply.is_some() { NOTE } else { 0.0 };
    TITLE + math::from_usize(item.rows()) * ROW + note
}

/// Distance between upright wires.
pub(super) const fn channel() -> f64 {
    CHANNEL
}

/// Room for the widest flag on a side of some parts.
fn flag_room(board: &Board<'_>, items: &[&Item], side: Side) -> f64 {
    let ends = items.iter().flat_map(|item| &item.ends);
    let flags = ends.filter(|end| end.reach == Reach::Flag && end.side == side);
    flags
        .map(|end| match end.node {
            NodeId::GROUND => GROUND,
            node => font::width(&board.name(node), TEXT) + 14.0,
        })
        .fold(0.0, f64::max)
}

fn label_width(board: &Board<'_>, node: NodeId) -> f64 {
    let (black, tip) = board.volts(node);
    let texts = [Some(board.name(node)), Some(black), tip];
    texts.iter().flatten().map(|text| font::width(text, TEXT)).fold(0.0, f64::max)
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (sum, count) = values.fold((0.0, 0.0), |(sum, count), value| (sum + value, count + 1.0));
    (count > 0.0).then(|| sum / count)
}
