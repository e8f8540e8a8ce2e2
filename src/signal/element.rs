//! What can be seen in the picture, and where the raster put it.
//!
//! An *element* is what one signal of the chip draws and what gets a verdict: the field lines, the
//! ball, a player. It may be drawn as several *shapes* (the field signal draws lines, net and
//! scores). Elements are not pins: one element may be carried by two pins, and a combined pin
//! carries all of them.

use std::collections::BTreeSet;

/// Index of an element in [`ElementMap::elements`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ElementId(pub u8);

/// A set of elements, at most 32.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ElementSet(pub u32);

impl ElementSet {
    /// No element.
    pub const EMPTY: Self = Self(0);

    /// The set with this one element.
    #[must_use]
    pub fn only(element: ElementId) -> Self {
        Self(1 << element.0)
    }

    /// This set with `element` added.
    #[must_use]
    pub fn with(self, element: ElementId) -> Self {
        Self(self.0 | 1 << element.0)
    }

    /// Whether `element` is in the set.
    #[must_use]
    pub fn contains(self, element: ElementId) -> bool {
        self.0 >> element.0 & 1 == 1
    }

    /// Whether the set is empty.
    #[must_use]
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// The elements of the set, lowest first.
    pub fn iter(self) -> impl Iterator<Item = ElementId> {
        (0..32).map(ElementId).filter(move |&element| self.contains(element))
    }
}

/// A named drawing of an element: "net", "left score".
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Shape {
    /// Plain name, as shown to the user.
    pub name: String,
    /// The element it belongs to.
    pub element: ElementId,
}

/// One unbroken run of a shape on one line: clocks `start <= x < stop` after the line's start.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Patch {
    /// Line in the field, 0 = first line of field sync.
    pub line: u32,
    /// First lit clock.
    pub start: u32,
    /// First clock no longer lit.
    pub stop: u32,
    /// Index into [`ElementMap::shapes`].
    pub shape: usize,
}

/// Which clocks and lines belong to which element in one field.
///
/// # Invariants
///
/// `patches` is sorted by line, then start; every patch lies within its line.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ElementMap {
    /// Element names; an [`ElementId`] is an index here.
    pub elements: Vec<String>,
    /// Shapes; a patch names one by index.
    pub shapes: Vec<Shape>,
    /// What is lit, sorted.
    pub patches: Vec<Patch>,
}

impl ElementMap {
    /// The patches of one line.
    #[must_use]
    pub fn line(&self, line: u32) -> &[Patch] {
        let first = self.patches.partition_point(|patch| patch.line < line);
        let count = self.patches[first..].partition_point(|patch| patch.line == line);
        &self.patches[first..first + count]
    }

    /// The elements lit at one clock of one line.
    #[must_use]
    pub fn lit(&self, line: u32, clock: u32) -> ElementSet {
        self.line(line)
            .iter()
            .filter(|patch| (patch.start..patch.stop).contains(&clock))
            .fold(ElementSet::EMPTY, |set, patch| set.with(self.shapes[patch.shape].element))
    }

    /// The line on which most elements are lit; of those the one with most shapes, of those the
    /// first. Line 0 if nothing is lit anywhere.
    #[must_use]
    pub fn line_that_shows_most(&self) -> u32 {
        let mut best = (0, 0, 0);
        for line in self.patches.chunk_by(|a, b| a.line == b.line) {
            let shapes: BTreeSet<usize> = line.iter().map(|patch| patch.shape).collect();
            let lit = shapes
                .iter()
                .fold(ElementSet::EMPTY, |set, &shape| set.with(self.shapes[shape].element));
            let count = (lit.0.count_ones(), shapes.len());
            if count > (best.0, best.1) {
                best = (count.0, count.1, line[0].line);
            }
        }
        best.2
    }

    /// The elements that are lit anywhere on a line.
    #[must_use]
    pub fn on_line(&self, line: u32) -> ElementSet {
        let elements = self.line(line).iter().map(|patch| self.shapes[patch.shape].element);
        elements.fold(ElementSet::EMPTY, ElementSet::with)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn map(patches: &[(u32, u32, usize)]) -> ElementMap {
        let shape = |name: &str, element| Shape { name: name.into(), element: ElementId(element) };
        ElementMap {
            elements: vec!["field".into(), "ball".into()],
            shapes: vec![shape("net", 0), shape("wall", 0), shape("ball", 1)],
            patches: patches
                .iter()
                .map(|&(line, start, shape)| Patch { line, start, stop: start + 2, shape })
                .collect(),
        }
    }

    #[test]
    fn the_line_with_most_elements_shows_most_and_shapes_decide_a_tie() {
        let most = map(&[(5, 1, 0), (5, 9, 1), (7, 1, 0), (7, 5, 2)]).line_that_shows_most();
        assert_eq!(most, 7);
        let most =
            map(&[(5, 1, 0), (8, 1, 0), (8, 9, 1), (9, 1, 0), (9, 9, 1)]).line_that_shows_most();
        assert_eq!(most, 8);
        assert_eq!(map(&[]).line_that_shows_most(), 0);
    }
}
