//! Small frames beside one another, each with its name.

use crate::base::math;
use crate::output::font;
use crate::output::plot::Plot;
use crate::output::plot::PlotError;
use crate::output::plot::Style;
use crate::output::plot::ink;
use crate::output::png::grey_image;
use crate::signal::picture::Picture;
use image::imageops::thumbnail;
use std::io::Write;

const FRAME: (u32, u32) = (300, 225);
const STEP: (f64, f64) = (324.0, 276.0);
const MARGIN: f64 = 40.0;
const TOP: f64 = 70.0;
const MOST_COLUMNS: usize = 5;

/// Draws frames with their names and writes them as PNG.
///
/// # Errors
///
/// [`PlotError`] if it cannot be drawn or `out` fails.
pub fn write(
    title: &str,
    frames: &[(String, Picture)],
    columns: usize,
    out: &mut impl Write,
) -> Result<(), PlotError> {
    draw(title, frames, columns).write_png(out)
}

/// Draws the sheet, at most five frames in a row.
#[must_use]
pub fn draw(title: &str, frames: &[(String, Picture)], columns: usize) -> Plot {
    let columns = columns.clamp(1, MOST_COLUMNS);
    let rows = frames.len().div_ceil(columns);
    let width = 2.0 * MARGIN + STEP.0 * math::from_usize(columns) - 24.0;
    let height = TOP + STEP.1 * math::from_usize(rows) + 10.0;
    let mut plot = Plot::new(math::floor_u32(width), math::floor_u32(height));
    let title = font::fitted(title, 18.0, width - 2.0 * MARGIN);
    plot.text((MARGIN, 32.0), &title, Style::new(18.0, ink::BLACK));
    for (index, (name, picture)) in frames.iter().enumerate() {
        let left = MARGIN + STEP.0 * math::from_usize(index % columns);
        let top = TOP + STEP.1 * math::from_usize(index / columns);
        plot.picture((left, top), &thumbnail(&grey_image(picture), FRAME.0, FRAME.1));
        let name = font::fitted(name, 13.0, f64::from(FRAME.0));
        plot.text((left, top + f64::from(FRAME.1) + 16.0), &name, Style::new(13.0, ink::BLACK));
    }
    plot
}
