//! Rectangles of clocks and lines that may reach outside the picture, and what is left of them
//! inside it.

use crate::raster::plan::Area;
use crate::signal::element::Patch;
use crate::signal::timing::FieldTiming;
use std::ops::Range;

/// A rectangle anywhere on, beside or above the field.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Rectangle {
    /// Clocks within the line.
    pub(super) clocks: Range<i64>,
    /// Lines of the field.
    pub(super) lines: Range<i64>,
}

impl Rectangle {
    /// `size` clocks and lines from `corner` on; stops at the end of the number range.
    pub(super) fn at(corner: (i64, i64), size: (u32, u32)) -> Self {
        Self {
            clocks: corner.0..corner.0.saturating_add(i64::from(size.0)),
            lines: corner.1..corner.1.saturating_add(i64::from(size.1)),
        }
    }

    /// Where picture may be.
    pub(super) fn picture(timing: &FieldTiming) -> Self {
        Self {
            clocks: i64::from(timing.active_start)..i64::from(timing.active_stop),
            lines: i64::from(timing.first_active_line)..i64::from(timing.lines_per_field),
        }
    }

    /// The part that both cover; may be empty.
    pub(super) fn within(&self, other: &Self) -> Self {
        Self {
            clocks: overlap(&self.clocks, &other.clocks),
            lines: overlap(&self.lines, &other.lines),
        }
    }

    /// Whether both cover something.
    pub(super) fn meets(&self, other: &Self) -> bool {
        !self.within(other).is_empty()
    }

    /// Whether nothing is covered.
    pub(super) fn is_empty(&self) -> bool {
        self.clocks.is_empty() || self.lines.is_empty()
    }

    /// One patch for each line. Empty unless the rectangle was cut to the picture.
    pub(super) fn patches(&self, shape: usize) -> impl Iterator<Item = Patch> + use<> {
        let clocks = whole(&self.clocks);
        let lines = if clocks.is_empty() { 0..0 } else { whole(&self.lines) };
        lines.map(move |line| Patch { line, start: clocks.start, stop: clocks.end, shape })
    }
}

impl From<Area> for Rectangle {
    fn from(area: Area) -> Self {
        Self::at((i64::from(area.x), i64::from(area.y)), (area.width, area.height))
    }
}

impl From<Patch> for Rectangle {
    fn from(patch: Patch) -> Self {
        let line = i64::from(patch.line);
        Self { clocks: i64::from(patch.start)..i64::from(patch.stop), lines: line..line + 1 }
    }
}

fn overlap(a: &Range<i64>, b: &Range<i64>) -> Range<i64> {
    a.start.max(b.start)..a.end.min(b.end)
}

fn whole(range: &Range<i64>) -> Range<u32> {
    match (u32::try_from(range.start), u32::try_from(range.end)) {
        (Ok(start), Ok(end)) => start..end,
        _ => 0..0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lies_left_of_the_picture_is_cut_off() {
        let picture = Rectangle::at((21, 24), (104, 288));
        let kept = Rectangle::at((19, 100), (4, 2)).within(&picture);
        let patches: Vec<Patch> = kept.patches(7).collect();
        let patch = |line| Patch { line, start: 21, stop: 23, shape: 7 };
        assert_eq!(patches, [patch(100), patch(101)]);
    }

    #[test]
    fn nothing_is_left_of_a_rectangle_outside_the_picture() {
        let picture = Rectangle::at((21, 24), (104, 288));
        for corner in [(-9, 50), (125, 50), (50, 20), (50, 312), (i64::MAX, i64::MAX)] {
            let kept = Rectangle::at(corner, (2, 4)).within(&picture);
            assert!(kept.is_empty(), "{corner:?}");
            assert_eq!(kept.patches(0).count(), 0, "{corner:?}");
        }
    }
}
