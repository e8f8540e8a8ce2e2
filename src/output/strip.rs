//! A strip of named stretches, such as the parts of a line.

use crate::output::font;
use crate::output::label::Wanted;
use crate::output::label::spread;
use crate::output::plot::Anchor;
use crate::output::plot::Area;
use crate::output::plot::Pen;
use crate::output::plot::Plot;
use crate::output::plot::Style;
use crate::output::plot::ink;
use crate::output::plot::sharp;
use std::ops::Range;

/// A stretch and its name.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// From where to where, pixels.
    pub pixels: Range<f64>,
    /// Its name; empty for none.
    pub name: String,
}

/// Height of the boxes.
pub const STRIP_HEIGHT: f64 = 24.0;
/// Height with the row of names below the boxes.
pub const STRIP_AND_NAMES: f64 = STRIP_HEIGHT + 28.0;
const TEXT: f64 = 13.0;
const PEN: Pen = Pen::new(ink::PALE, 1.0);

/// Draws the boxes from `top` down. A name that does not fit into its box goes into a row below,
/// tied to it by a line and kept within `room`.
pub fn draw(plot: &mut Plot, stretches: &[Stretch], top: f64, room: Range<f64>) {
    for stretch in stretches {
        draw_box(plot, stretch, top);
    }
    let outside: Vec<&Stretch> =
        stretches.iter().filter(|stretch| !stretch.name.is_empty() && !fits(stretch)).collect();
    let wanted: Vec<Wanted> = outside
        .iter()
        .map(|stretch| Wanted { middle: middle(stretch), length: font::width(&stretch.name, TEXT) })
        .collect();
    for (stretch, place) in outside.iter().zip(spread(&wanted, room, 10.0)) {
        let Some(place) = place else { continue };
        let (bottom, row) = (top + STRIP_HEIGHT, top + STRIP_AND_NAMES - 8.0);
        plot.line((middle(stretch), bottom), (place, row - 9.0), Pen::new(ink::GREY, 1.0));
        plot.text((place, row), &stretch.name, name_style());
    }
}

fn draw_box(plot: &mut Plot, stretch: &Stretch, top: f64) {
    let area = Area {
        left: sharp(stretch.pixels.start),
        top: sharp(top),
        right: sharp(stretch.pixels.end),
        bottom: sharp(top + STRIP_HEIGHT),
    };
    plot.area(area, ink::BAND);
    plot.outline(area, PEN);
    if !stretch.name.is_empty() && fits(stretch) {
        let height = top + STRIP_HEIGHT / 2.0 + 0.5;
        plot.text((middle(stretch), height), &stretch.name, name_style());
    }
}

fn name_style() -> Style {
    Style::new(TEXT, ink::BLACK).by(Anchor::Middle)
}

fn middle(stretch: &Stretch) -> f64 {
    f64::midpoint(stretch.pixels.start, stretch.pixels.end)
}

fn fits(stretch: &Stretch) -> bool {
    font::width(&stretch.name, TEXT) + 10.0 < stretch.pixels.end - stretch.pixels.start
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn narrow_stretches_are_named_outside_without_overlap() {
        let narrow =
            |start: f64| Stretch { pixels: start..start + 9.0, name: "front porch".into() };
        let stretches = [narrow(0.0), narrow(9.0), narrow(18.0)];
        let mut plot = Plot::new(400, 100);
        draw(&mut plot, &stretches, 10.0, 0.0..400.0);
        let texts = plot.texts();
        assert_eq!(texts.len(), 3);
        assert!(texts.iter().all(|text| text.top > 10.0 + STRIP_HEIGHT));
        assert!(!texts[0].overlaps(&texts[1]) && !texts[1].overlaps(&texts[2]));
    }
}
