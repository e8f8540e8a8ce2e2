//! The row that names what is lit on a line, each name tied to its place.

use crate::analysis::reading::FieldReading;
use crate::analysis::reading::ShapeReading;
use crate::analysis::verdict::Seen;
use crate::output::axis::Scale;
use crate::output::axis::number;
use crate::output::font;
use crate::output::label::Wanted;
use crate::output::label::spread;
use crate::output::plot::Anchor;
use crate::output::plot::Fullness;
use crate::output::plot::Pen;
use crate::output::plot::Plot;
use crate::output::plot::Style;
use crate::output::plot::ink;
use crate::signal::element::ElementMap;
use crate::signal::element::Patch;
use std::collections::BTreeSet;
use std::ops::Range;

/// What to name.
#[derive(Clone, Copy, Debug)]
pub struct ElementNames<'a> {
    /// What is lit in the field.
    pub map: &'a ElementMap,
    /// Which line of it.
    pub line: u32,
    /// The words for the elements.
    pub reading: &'a FieldReading,
    /// Clocks after the line's start to pixels; names keep within its ends.
    pub clocks: &'a Scale,
}

/// Height of the row, with the lines to its names from above and below.
pub const HEIGHT: f64 = 82.0;
/// Height of a name's two lines of text, and the distance to them from above.
const NAME: f64 = 36.0;
const INSET: f64 = 22.0;
const TEXT: f64 = 13.0;
const LEADER: Pen = Pen::new(ink::PALE, 1.0);
/// Runs of a shape this close together share a name, clocks.
const JOIN: u32 = 3;

impl ElementNames<'_> {
    /// Draws the row from `top` down. Names for which there is no room are counted beside it.
    pub fn draw(&self, plot: &mut Plot, top: f64) {
        let runs = runs(self.map.line(self.line));
        let names: Vec<ElementName> =
            runs.iter().map(|run| ElementName::new(self.map, self.reading, run)).collect();
        let middles: Vec<f64> = runs.iter().map(|run| self.middle(run)).collect();
        let wanted: Vec<Wanted> = middles
            .iter()
            .zip(&names)
            .map(|(&middle, name)| Wanted { middle, length: name.width() })
            .collect();
        let places = spread(&wanted, self.clocks.pixels.clone(), 18.0);
        let name_top = top + INSET;
        for ((name, lit), place) in names.iter().zip(middles).zip(&places) {
            let Some(place) = *place else { continue };
            plot.line((lit, top), (place, name_top - 2.0), LEADER);
            plot.line((place, name_top + NAME), (lit, top + HEIGHT), LEADER);
            name.draw(plot, place, name_top);
        }
        let dropped = places.iter().filter(|place| place.is_none()).count();
        if dropped > 0 {
            let at = (self.clocks.pixels.end + 12.0, name_top + 9.0);
            plot.text(at, &format!("and {dropped} more"), Style::new(TEXT, ink::GREY));
        }
    }

    fn middle(&self, run: &Run) -> f64 {
        let Range { start, end } = run.clocks;
        self.clocks.at(f64::midpoint(f64::from(start), f64::from(end)))
    }
}

/// A shape on the line: one run, or several close enough to share a name.
struct Run {
    shape: usize,
    clocks: Range<u32>,
}

/// The runs in the order of their claim on room: first runs of a shape, then repeats.
fn runs(patches: &[Patch]) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for patch in patches {
        let near =
            |run: &&mut Run| run.shape == patch.shape && patch.start <= run.clocks.end + JOIN;
        if let Some(run) = runs.iter_mut().find(near) {
            run.clocks.end = run.clocks.end.max(patch.stop);
        } else {
            runs.push(Run { shape: patch.shape, clocks: patch.start..patch.stop });
        }
    }
    let mut named = BTreeSet::new();
    let (mut first, repeats): (Vec<Run>, Vec<Run>) =
        runs.into_iter().partition(|run| named.insert(run.shape));
    first.extend(repeats);
    first
}

/// The words under which a run is shown.
struct ElementName {
    name: String,
    seen: Option<Seen>,
    words: String,
}

impl ElementName {
    fn new(map: &ElementMap, reading: &FieldReading, run: &Run) -> Self {
        let shape = &map.shapes[run.shape];
        let element = &map.elements[usize::from(shape.element.0)];
        let is_this = |read: &&ShapeReading| read.element == *element && read.shape == shape.name;
        let read = reading.shapes.iter().find(is_this);
        let seen = read.and_then(|read| read.seen);
        let delta = read.and_then(|read| read.delta_v).map(|delta_v| number(1e3 * delta_v, 0));
        let words = seen.map(|seen| match delta {
            Some(delta) => format!("{}, {delta} mV", seen.word()),
            None => seen.word().into(),
        });
        let name = if shape.name == *element {
            shape.name.clone()
        } else {
            format!("{} ({element})", shape.name)
        };
        let name = font::fitted(&name, TEXT, 240.0);
        Self { name, seen, words: words.unwrap_or_else(|| "not measured".into()) }
    }

    fn width(&self) -> f64 {
        let mark = if self.seen.is_some() { 16.0 } else { 0.0 };
        font::width(&self.name, TEXT).max(mark + font::width(&self.words, TEXT))
    }

    fn draw(&self, plot: &mut Plot, middle: f64, top: f64) {
        let style = Style::new(TEXT, ink::BLACK).by(Anchor::Middle);
        plot.text((middle, top + 9.0), &self.name, style);
        let below = top + 27.0;
        let words = Style::new(TEXT, ink::GREY).by(Anchor::Middle);
        let Some(seen) = self.seen else { return plot.text((middle, below), &self.words, words) };
        let left = middle - font::width(&self.words, TEXT) / 2.0 - 3.0;
        plot.mark((left, below), fullness(seen));
        plot.text((middle + 8.0, below), &self.words, words);
    }
}

fn fullness(seen: Seen) -> Fullness {
    match seen {
        Seen::Clear => Fullness::Full,
        Seen::Faint => Fullness::Half,
        Seen::Missing => Fullness::Empty,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_run_near_another_of_its_shape_shares_its_name() {
        let lit = |start, shape| Patch { line: 5, start, stop: start + 2, shape };
        let patches = [lit(1, 0), lit(5, 0), lit(40, 0), lit(60, 2)];
        let runs = runs(&patches);
        let found: Vec<(usize, Range<u32>)> =
            runs.into_iter().map(|run| (run.shape, run.clocks)).collect();
        assert_eq!(found, [(0, 1..7), (2, 60..62), (0, 40..42)]);
    }
}
