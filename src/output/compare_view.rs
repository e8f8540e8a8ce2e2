//! Two boards side by side: both frames and their difference, and one line of both over each other.

use crate::analysis::compare::Board;
use crate::analysis::compare::Comparison;
use crate::base::math;
use crate::output::axis::Axis;
use crate::output::axis::Scale;
use crate::output::axis::Side;
use crate::output::axis::Ticks;
use crate::output::font;
use crate::output::panel::Named;
use crate::output::panel::NamedKind;
use crate::output::panel::Panel;
use crate::output::plot::Area;
use crate::output::plot::Pen;
use crate::output::plot::Plot;
use crate::output::plot::PlotError;
use crate::output::plot::Style;
use crate::output::plot::ink;
use crate::output::png::grey_image;
use crate::output::png::image_of;
use crate::output::thin::Sample;
use crate::output::thin::thinned;
use crate::signal::picture::Picture;
use crate::signal::picture::encode_srgb;
use image::GrayImage;
use image::imageops::thumbnail;
use std::io::Write;

const WIDTH: u32 = 1600;
const HEIGHT: u32 = 960;
const LEFT: f64 = 90.0;
const EDGE: f64 = 1510.0;
/// End of the curves; their names stand to the right.
const RIGHT: f64 = 1320.0;
const FRAME: (u32, u32) = (460, 345);
const FRAMES_TOP: f64 = 118.0;
const LINE_TOP: f64 = 540.0;

/// Draws the view and writes it as PNG.
///
/// # Errors
///
/// [`PlotError`] if it cannot be drawn or `out` fails.
pub fn write(comparison: &Comparison, out: &mut impl Write) -> Result<(), PlotError> {
    draw(comparison).write_png(out)
}

/// Draws the view.
#[must_use]
pub fn draw(comparison: &Comparison) -> Plot {
    let mut plot = Plot::new(WIDTH, HEIGHT);
    let [first, second] = &comparison.boards;
    for (at, (name, board)) in [("first", first), ("second", second)].into_iter().enumerate() {
        let words = font::fitted(&format!("{name}: {}", board.title), 17.0, EDGE - LEFT);
        let height = 34.0 + 26.0 * math::from_usize(at);
        plot.text((LEFT, height), &words, Style::new(17.0, ink::BLACK));
    }
    let frames = [
        ("first", grey_image(&first.field.reception.picture)),
        ("second", grey_image(&second.field.reception.picture)),
        (
            if same_size(&first.field.reception.picture, &second.field.reception.picture) {
                "second less first: grey is the same, white brighter, black darker"
            } else {
                "the two frames are of different sizes"
            },
            difference(&first.field.reception.picture, &second.field.reception.picture),
        ),
    ];
    let step = (EDGE - LEFT - f64::from(FRAME.0)) / 2.0;
    for (at, (name, frame)) in frames.into_iter().enumerate() {
        let left = LEFT + step * math::from_usize(at);
        plot.text((left, FRAMES_TOP - 12.0), name, Style::new(13.0, ink::GREY));
        plot.picture((left, FRAMES_TOP), &thumbnail(&frame, FRAME.0, FRAME.1));
    }
    draw_line(&mut plot, first, second);
    plot
}

fn same_size(first: &Picture, second: &Picture) -> bool {
    (first.width, first.height) == (second.width, second.height)
}

/// Half of the difference of the codes around the middle grey. Frames of two sizes have none.
fn difference(first: &Picture, second: &Picture) -> GrayImage {
    if !same_size(first, second) {
        return image_of(first, |_| 0.5);
    }
    let code = |picture: &Picture, at: usize| encode_srgb(f64::from(picture.luminance[at]));
    image_of(first, |at| 0.5 + 0.5 * (code(second, at) - code(first, at)))
}

/// The line of the first board that shows most, of both.
fn draw_line(plot: &mut Plot, first: &Board, second: &Board) {
    let line = first.field.trains.map.line_that_shows_most();
    let heading = format!("Line {line} of both, at the socket");
    plot.text((LEFT, LINE_TOP - 22.0), &heading, Style::new(15.0, ink::BLACK));
    let curves = [
        (curve(first, line), "first", Pen::new(ink::GREY, 1.6)),
        (curve(second, line), "second", Pen::new(ink::ACCENT, 1.6)),
    ];
    let bottom = f64::from(HEIGHT) - 70.0;
    let area = Area { left: LEFT, top: LINE_TOP, right: RIGHT, bottom };
    let volts = curves.iter().flat_map(|(points, ..)| points.iter().map(|point| point.volts));
    let panel = Panel::new(area, EDGE, volts);
    panel.draw_frame(plot, "V");
    let timing = &first.field.trains.timing;
    let line_us = 1e6 * timing.clock.seconds(u64::from(timing.clocks_per_line));
    let time = Scale { values: 0.0..line_us, pixels: LEFT..RIGHT };
    for (points, _, pen) in &curves {
        let points: Vec<(f64, f64)> = points
            .iter()
            .map(|point| (time.at(1e6 * point.at_s), panel.volts.at(point.volts)))
            .collect();
        plot.path(&points, *pen);
    }
    let named: Vec<Named> = curves
        .iter()
        .filter_map(|(points, name, pen)| {
            let volts = points.last()?.volts;
            Some(Named { volts, words: (*name).into(), pen: *pen, kind: NamedKind::Curve })
        })
        .collect();
    panel.draw_names(plot, &named);
    let ticks = Ticks::within(&time.values, 20);
    let title = "time from the leading edge of line sync, µs";
    Axis { side: Side::Bottom, line: bottom, scale: &time, ticks: &ticks, title }.draw(plot);
}

/// The samples of a line, their times counted from its start.
fn curve(board: &Board, line: u32) -> Vec<Sample> {
    let timing = &board.field.trains.timing;
    let line = line.min(timing.lines_per_field - 1);
    let start_s = timing.clock.seconds(timing.tick(line, 0));
    let stop_s = timing.clock.seconds(timing.tick(line + 1, 0));
    let columns = math::floor_index(RIGHT - LEFT);
    let samples = thinned(&board.field.traces[0], &(start_s..stop_s), columns);
    samples.into_iter().map(|at| Sample { at_s: at.at_s - start_s, ..at }).collect()
}
