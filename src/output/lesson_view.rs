//! A page of a lesson as a picture: heading, figure, sentences. The figure alone stands in the page
//! that walks through all of them.

use crate::analysis::lesson::Lesson;
use crate::analysis::lesson::Page;
use crate::output::font;
use crate::output::lesson_bars;
use crate::output::lesson_frames;
use crate::output::lesson_line;
use crate::output::lesson_words::Told;
use crate::output::plot::Plot;
use crate::output::plot::PlotError;
use crate::output::plot::Style;
use crate::output::plot::ink;
use std::io::Write;

/// Width of page and figure, pixels.
pub(super) const WIDTH: u32 = 1200;
/// Height of a figure, pixels.
pub(super) const HEIGHT: u32 = 560;
/// Height of a page, pixels.
const PAGE_HEIGHT: u32 = 880;
/// Where a page's figure begins.
const FIGURE_TOP: f64 = 96.0;
const MARGIN: f64 = 60.0;
const HEADING: Style = Style::new(30.0, ink::BLACK);
const SENTENCE: Style = Style::new(20.0, ink::BLACK);
const LEADING: f64 = 29.0;
/// What a number is not parted from.
const UNITS: [&str; 6] = ["mV", "V", "µs", "%", "Ω", "kΩ"];
const SOURCE: Style = Style::new(14.0, ink::GREY);

/// Writes a whole page as PNG; `number` is its place, from 1.
///
/// # Errors
///
/// [`PlotError`] if it cannot be drawn or `out` fails.
pub fn write_page(
    lesson: &Lesson,
    (page, told): (Page, &Told),
    number: usize,
    out: &mut impl Write,
) -> Result<(), PlotError> {
    draw_page(lesson, (page, told), number).write_png(out)
}

/// Writes a page's figure as PNG.
///
/// # Errors
///
/// [`PlotError`] if it cannot be drawn or `out` fails.
pub fn write_figure(lesson: &Lesson, page: Page, out: &mut impl Write) -> Result<(), PlotError> {
    draw_figure(lesson, page).write_png(out)
}

/// Draws a whole page.
#[must_use]
pub fn draw_page(lesson: &Lesson, (page, told): (Page, &Told), number: usize) -> Plot {
    let mut plot = Plot::new(WIDTH, PAGE_HEIGHT);
    let room = f64::from(WIDTH) - 2.0 * MARGIN;
    let heading = font::fitted(&format!("{number}. {}", told.heading), HEADING.size, room);
    plot.text((MARGIN, 46.0), &heading, HEADING);
    let title = font::fitted(&lesson.title, SOURCE.size, room);
    plot.text((MARGIN, 78.0), &title, SOURCE);
    figure(&mut plot, lesson, page, FIGURE_TOP);
    let mut height = FIGURE_TOP + f64::from(HEIGHT) + 30.0;
    for line in wrapped(&told.sentences.join(" "), SENTENCE.size, room) {
        plot.text((MARGIN, height), &line, SENTENCE);
        height += LEADING;
    }
    if let Some(source) = &told.source {
        for line in wrapped(&format!("The standard: {source}"), SOURCE.size, room) {
            plot.text((MARGIN, height + 4.0), &line, SOURCE);
            height += 20.0;
        }
    }
    plot
}

/// Draws a figure.
#[must_use]
pub fn draw_figure(lesson: &Lesson, page: Page) -> Plot {
    let mut plot = Plot::new(WIDTH, HEIGHT);
    figure(&mut plot, lesson, page, 0.0);
    plot
}

fn figure(plot: &mut Plot, lesson: &Lesson, page: Page, top: f64) {
    match page {
        Page::Sync => lesson_line::sync(plot, lesson, top),
        Page::Porches => lesson_line::porches(plot, lesson, top),
        Page::Element(index) => lesson_line::element(plot, lesson, index, top),
        Page::Mixer => lesson_bars::mixer(plot, lesson, top),
        Page::Load => lesson_bars::load(plot, lesson, top),
        Page::Slice => lesson_line::slice(plot, lesson, top),
        Page::Clamp => lesson_line::clamp(plot, lesson, top),
        Page::Stripe => lesson_frames::stripe(plot, lesson, top),
        Page::Lines => lesson_frames::lines(plot, lesson, top),
        Page::FieldSync => lesson_line::field_sync(plot, lesson, top),
        Page::Mistake(index) => lesson_frames::mistake(plot, lesson, index, top),
    }
}

/// A text cut into lines that fit into `room`; a word longer than that is cut short. A number and
/// its unit stay together.
fn wrapped(text: &str, size: f64, room: f64) -> Vec<String> {
    let mut pieces: Vec<String> = Vec::new();
    for word in text.split(' ') {
        let unit = UNITS.contains(&word.trim_end_matches(['.', ',', ';', ':', ')']));
        match pieces.last_mut().filter(|_| unit) {
            Some(number) => *number += &format!(" {word}"),
            None => pieces.push(word.to_owned()),
        }
    }
    let mut lines: Vec<String> = Vec::new();
    for piece in pieces {
        let longer = lines.last().map(|line| format!("{line} {piece}"));
        match (lines.last_mut(), longer) {
            (Some(line), Some(longer)) if font::width(&longer, size) <= room => *line = longer,
            _ => lines.push(font::fitted(&piece, size, room)),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_is_cut_between_words_and_no_line_is_too_long() {
        let text = "line under line becomes a picture ".repeat(20);
        let lines = wrapped(text.trim(), 20.0, 300.0);
        assert!(lines.len() > 10);
        assert!(lines.iter().all(|line| font::width(line, 20.0) <= 300.0));
        assert_eq!(lines.join(" "), text.trim());
    }

    #[test]
    fn a_number_is_not_parted_from_its_unit() {
        let text = "with none it lies 1570 mV. above black";
        let lines = wrapped(text, 20.0, font::width("with none it lies 1570", 20.0) + 2.0);
        assert_eq!(lines, ["with none it lies", "1570 mV. above black"]);
    }
}
