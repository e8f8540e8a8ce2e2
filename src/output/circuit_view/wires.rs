//! Wires from parts to the bars of their nodes: level, upright, level again. Two wires of different
//! nodes cross at right angles or not at all.

use crate::network::circuit::NodeId;
use crate::output::circuit_view::ITEM;
use crate::output::circuit_view::item::Reach;
use crate::output::circuit_view::item::Sheet;
use crate::output::circuit_view::item::Side;
use crate::output::circuit_view::place::Place;
use crate::output::circuit_view::place::channel;
use crate::output::plot::Pen;
use crate::output::plot::Plot;
use crate::output::plot::ink;

/// Half the least distance of two wires at a bar; a bar reaches so far beyond its wires.
pub(super) const SHIFT: f64 = 5.0;
/// Heights closer than this are one line to the eye.
const CLOSE: f64 = 3.0;
pub(super) const WIRE: Pen = Pen::new(ink::BLACK, 1.2);

/// A wire between its two ends, left and right.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Wire {
    node: NodeId,
    /// Which end is at the node's bar.
    bar: Side,
    /// Middle of that bar.
    middle: f64,
    /// Whether it was moved along the bar.
    is_moved: bool,
    from: (f64, f64),
    to: (f64, f64),
}

impl Wire {
    fn is_straight(&self) -> bool {
        (self.from.1 - self.to.1).abs() < 0.5
    }

    /// Moves its end along the bar, to half way between two places, so that it gets out of the way.
    fn move_along(&mut self) {
        let end = if self.bar == Side::Left { &mut self.from.1 } else { &mut self.to.1 };
        *end += if *end < self.middle { SHIFT } else { -SHIFT };
        self.is_moved = true;
    }

    /// Whether, turning right of `other`, it would lie on it.
    fn covers(&self, other: &Self) -> bool {
        self.node != other.node && (self.from.1 - other.to.1).abs() < CLOSE
    }
}

/// Draws all wires.
pub(super) fn draw(sheet: &Sheet, place: &Place, plot: &mut Plot) {
    for (gap, at) in place.gaps.iter().enumerate() {
        for (side, channel) in [(Side::Left, at.left_channel), (Side::Right, at.right_channel)] {
            draw_channel(wires(sheet, place, (gap, side)), channel, plot);
        }
    }
}

/// The wires on one side of a gap's parts, each to a place of its own at its node.
fn wires(sheet: &Sheet, place: &Place, (gap, side): (usize, Side)) -> Vec<Wire> {
    let column = if side == Side::Left { gap.checked_sub(1) } else { Some(gap) };
    let Some(nodes) = column.and_then(|column| place.nodes.get(column)) else { return Vec::new() };
    let mut all = Vec::new();
    for node in nodes {
        let mut ends: Vec<(f64, f64)> = Vec::new();
        for (item, at) in
            sheet.items.iter().zip(&place.items).filter(|(item, _)| item.gap == Some(gap))
        {
            let wired = item.ends.iter().filter(|end| {
                end.reach == Reach::Wired && end.side == side && end.node == node.node
            });
            let x = if side == Side::Left { at.left } else { at.left + ITEM };
            ends.extend(wired.map(|end| (x, at.end_y(end))));
        }
        ends.sort_by(|a, b| a.1.total_cmp(&b.1));
        let (bar, slots) = match side {
            Side::Left => (Side::Left, &node.slots[1]),
            Side::Right => (Side::Right, &node.slots[0]),
        };
        for (&end, &slot) in ends.iter().zip(slots) {
            let at_bar = (node.x, slot);
            let (from, to) = if bar == Side::Left { (at_bar, end) } else { (end, at_bar) };
            let (node, middle) = (node.node, node.y);
            all.push(Wire { node, bar, middle, is_moved: false, from, to });
        }
    }
    all
}

/// Draws wires, each turning at a place of its own, from `first` on.
fn draw_channel(wires: Vec<Wire>, first: f64, plot: &mut Plot) {
    let mut x = first;
    for wire in in_order(wires) {
        if wire.is_straight() {
            plot.path(&[wire.from, wire.to], WIRE);
            continue;
        }
        plot.path(&[wire.from, (x, wire.from.1), (x, wire.to.1), wire.to], WIRE);
        x += channel();
    }
}

/// From left to right: those that go down, the lowest first, then those that go up, the highest
/// first, which crosses fewest; but none to the right of one that it would then cover.
fn in_order(mut wires: Vec<Wire>) -> Vec<Wire> {
    wires.sort_by(|a, b| {
        let up = |wire: &Wire| wire.to.1 < wire.from.1;
        let height = |wire: &Wire| if up(wire) { wire.from.1 } else { -wire.from.1 };
        up(a).cmp(&up(b)).then(height(a).total_cmp(&height(b)))
    });
    let mut ordered = Vec::new();
    while !wires.is_empty() {
        let free = (0..wires.len()).find(|&index| {
            let other = |other: usize| other != index && wires[other].covers(&wires[index]);
            !(0..wires.len()).any(other)
        });
        let Some(free) = free else {
            // Each would cover another: one makes room, and once all have, any may be next.
            let stuck = wires.iter_mut().find(|wire| !wire.is_moved && !wire.is_straight());
            match stuck {
                Some(wire) => wire.move_along(),
                None => ordered.push(wires.remove(0)),
            }
            continue;
        };
        ordered.push(wires.remove(free));
    }
    ordered
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wire(node: usize, from: f64, to: f64) -> Wire {
        Wire {
            node: NodeId(node),
            bar: Side::Left,
            middle: from + 10.0,
            is_moved: false,
            from: (0.0, from),
            to: (50.0, to),
        }
    }

    #[test]
    fn a_wire_turns_before_it_reaches_the_line_of_another() {
        // The first leaves at the height at which the second arrives.
        let ordered = in_order(vec![wire(2, 60.0, 20.0), wire(1, 20.0, 80.0)]);
        assert_eq!(ordered[0].node, NodeId(1));
        let ordered = in_order(vec![wire(1, 20.0, 80.0), wire(2, 0.0, 20.0)]);
        assert_eq!(ordered[0].node, NodeId(1));
    }

    #[test]
    fn of_wires_that_go_down_the_lowest_turns_first() {
        let ordered = in_order(vec![wire(1, 0.0, 50.0), wire(2, 20.0, 70.0)]);
        assert_eq!(ordered[0].node, NodeId(2));
    }

    #[test]
    fn of_two_that_would_cover_each_other_one_moves_along_its_bar() {
        let ordered = in_order(vec![wire(1, 20.0, 80.0), wire(2, 80.0, 20.0)]);
        assert_eq!(ordered.len(), 2);
        assert!(!ordered[1].covers(&ordered[0]));
        assert_eq!(ordered.iter().filter(|wire| wire.is_moved).count(), 1);
    }
}
