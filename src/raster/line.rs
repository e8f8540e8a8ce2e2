//! One line cut into stretches within which nothing changes.

use crate::raster::plan::LinePart;
use crate::signal::element::ElementId;
use crate::signal::element::ElementSet;
use std::ops::Range;

/// A run of clocks with the same sync, blanking and lit elements.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stretch {
    /// First clock; the stretch lasts until the next one or the end of the line.
    pub(super) start: u32,
    /// Elements lit.
    pub(super) lit: ElementSet,
    /// Sync, blanking or picture.
    pub(super) part: LinePart,
}

/// What can begin and end within a line.
#[derive(Clone, Copy, Debug)]
enum Signal {
    Sync,
    Picture,
    Element(ElementId),
}

/// How often each signal is on at the moment: runs may overlap.
#[derive(Debug)]
struct Depth {
    sync: u32,
    picture: u32,
    elements: Vec<u32>,
}

impl Depth {
    fn of(&mut self, signal: Signal) -> &mut u32 {
        match signal {
            Signal::Sync => &mut self.sync,
            Signal::Picture => &mut self.picture,
            Signal::Element(element) => &mut self.elements[usize::from(element.0)],
        }
    }

    fn stretch(&self, start: u32) -> Stretch {
        let on = (0..).map(ElementId).zip(&self.elements).filter(|&(_, &depth)| depth > 0);
        let lit = on.fold(ElementSet::EMPTY, |set, (element, _)| set.with(element));
        let part = match (self.sync, self.picture) {
            (1.., _) => LinePart::Sync,
            (0, 1..) => LinePart::Active,
            (0, 0) => LinePart::Blanking,
        };
        Stretch { start, lit, part }
    }
}

/// Cuts lines; keeps its lists from line to line.
#[derive(Debug)]
pub(super) struct Cutter {
    changes: Vec<(u32, Signal, Change)>,
    depth: Depth,
    stretches: Vec<Stretch>,
}

#[derive(Clone, Copy, Debug)]
enum Change {
    Begins,
    Ends,
}

impl Cutter {
    /// A cutter for this many elements.
    pub(super) fn new(elements: usize) -> Self {
        let depth = Depth { sync: 0, picture: 0, elements: vec![0; elements] };
        Self { changes: Vec::new(), depth, stretches: Vec::new() }
    }

    /// Sync is asserted in `clocks` of the line to be cut.
    pub(super) fn sync(&mut self, clocks: &Range<u32>) {
        self.add(clocks, Signal::Sync);
    }

    /// There is picture in `clocks` of the line to be cut.
    pub(super) fn picture(&mut self, clocks: &Range<u32>) {
        self.add(clocks, Signal::Picture);
    }

    /// `element` is lit in `clocks` of the line to be cut.
    pub(super) fn lit(&mut self, clocks: &Range<u32>, element: ElementId) {
        self.add(clocks, Signal::Element(element));
    }

    fn add(&mut self, clocks: &Range<u32>, signal: Signal) {
        if clocks.is_empty() {
            return;
        }
        self.changes.push((clocks.start, signal, Change::Begins));
        self.changes.push((clocks.end, signal, Change::Ends));
    }

    /// Cuts the line and forgets what was added. The first stretch starts at clock 0; one may start
    /// at the very end of the line and is then empty.
    pub(super) fn cut(&mut self) -> &[Stretch] {
        // Within one clock the order does not matter: the depths are read after the last change.
        self.changes.sort_unstable_by_key(|&(at, ..)| at);
        self.stretches.clear();
        self.stretches.push(self.depth.stretch(0));
        for (at, signal, change) in self.changes.drain(..) {
            match change {
                Change::Begins => *self.depth.of(signal) += 1,
                Change::Ends => *self.depth.of(signal) -= 1,
            }
            if self.stretches.last().is_some_and(|last| last.start == at) {
                self.stretches.pop();
            }
            self.stretches.push(self.depth.stretch(at));
        }
        &self.stretches
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stretch(start: u32, lit: u32, part: LinePart) -> Stretch {
        Stretch { start, lit: ElementSet(lit), part }
    }

    #[test]
    fn a_plain_line_is_sync_porch_picture_porch() {
        let mut cutter = Cutter::new(0);
        cutter.sync(&(0..9));
        cutter.picture(&(21..125));
        let expected = [
            stretch(0, 0, LinePart::Sync),
            stretch(9, 0, LinePart::Blanking),
            stretch(21, 0, LinePart::Active),
            stretch(125, 0, LinePart::Blanking),
        ];
        assert_eq!(cutter.cut(), expected);
    }

    #[test]
    fn overlapping_runs_of_one_element_light_their_union() {
        let mut cutter = Cutter::new(2);
        cutter.picture(&(0..50));
        cutter.lit(&(10..20), ElementId(1));
        cutter.lit(&(15..30), ElementId(1));
        let lit: Vec<(u32, u32)> = cutter.cut().iter().map(|s| (s.start, s.lit.0)).collect();
        assert_eq!(lit, [(0, 0), (10, 2), (15, 2), (20, 2), (30, 0), (50, 0)]);
    }

    #[test]
    fn a_line_leaves_nothing_behind_for_the_next() {
        let mut cutter = Cutter::new(1);
        cutter.sync(&(0..64));
        cutter.lit(&(5..64), ElementId(0));
        cutter.cut();
        assert_eq!(cutter.cut(), [stretch(0, 0, LinePart::Blanking)]);
    }
}
