//! The figures of a lesson that show the screen.

use crate::analysis::lesson::Lesson;
use crate::base::math;
use crate::output::font;
use crate::output::lesson_line::BEFORE;
use crate::output::lesson_line::Curve;
use crate::output::lesson_line::EDGE;
use crate::output::lesson_line::LEFT;
use crate::output::lesson_line::NOW;
use crate::output::lesson_line::RIGHT;
use crate::output::lesson_line::Waves;
use crate::output::lesson_words::clocks;
use crate::output::lesson_words::millivolts;
use crate::output::plot::Area;
use crate::output::plot::Pen;
use crate::output::plot::Plot;
use crate::output::plot::Style;
use crate::output::plot::ink;
use crate::output::png::grey_image;
use crate::receiver::scan::rows_of_line;
use crate::receiver::scan::visible_time;
use crate::receiver::screen::visible_lines;
use crate::signal::picture::Picture;
use image::GrayImage;
use image::Luma;
use image::imageops::FilterType;
use image::imageops::crop_imm;
use image::imageops::resize;
use image::imageops::thumbnail;

const TEXT: Style = Style::new(15.0, ink::BLACK);
const OUTLINE: Pen = Pen::new(ink::PALE, 1.0);
/// Paper where the beam has not been yet.
const UNDRAWN: u8 = 233;

pub(super) fn stripe(plot: &mut Plot, lesson: &Lesson, top: f64) {
    let field = lesson.whole();
    let seen = visible_time(&lesson.receiver);
    let window_us = 1e6 * seen.start..1e6 * seen.end;
    let band = Area { left: LEFT, top: top + 50.0, right: RIGHT, bottom: top + 130.0 };
    let rows = rows_of_line(lesson.line, &lesson.receiver);
    if rows.is_empty() {
        plot.text((LEFT, top + 90.0), "this line lies outside the screen", TEXT);
    } else {
        plot.text((LEFT, top + 30.0), "on the screen, made taller to be seen", TEXT);
        let size = (math::floor_u32(band.width()), math::floor_u32(band.height()));
        let row = row(&field.reception.picture, rows.start);
        plot.picture((band.left, band.top), &resize(&row, size.0, size.1, FilterType::Nearest));
        plot.outline(band, OUTLINE);
    }
    let span_v = lesson.receiver.span_v;
    let waves = Waves {
        lesson,
        area: Area { left: LEFT, top: top + 150.0, right: RIGHT, bottom: top + 490.0 },
        edge: EDGE,
        line: lesson.line,
        window_us,
        curves: vec![Curve {
            trace: &field.reception.video,
            name: "behind the clamp",
            pen: NOW,
            delay_s: field.reception.delay_s,
        }],
        levels: vec![
            (0.0, "black, 0 mV".to_owned()),
            (span_v, format!("full white, {}", millivolts(span_v))),
        ],
        titles: ["in the set, V", "time from the start of the line's sync pulse, µs"],
    };
    waves.draw(plot);
}

/// One row of a picture.
fn row(picture: &Picture, row: usize) -> GrayImage {
    let image = grey_image(picture);
    let row = math::floor_u32(math::from_usize(row));
    crop_imm(&image, 0, row, image.width(), 1).to_image()
}

pub(super) fn lines(plot: &mut Plot, lesson: &Lesson, top: f64) {
    const SIZE: (u32, u32) = (344, 258);
    let image = grey_image(&lesson.whole().reception.picture);
    let visible = visible_lines(&lesson.receiver).1;
    let shares = [(visible / 8).max(1), visible / 2, visible];
    for (index, count) in shares.into_iter().enumerate() {
        let left = 60.0 + 368.0 * math::from_usize(index);
        let frame = so_far(&image, count, visible);
        let words = if count == visible {
            format!("after all {visible} lines")
        } else {
            format!("after {count} lines")
        };
        plot.text((left, top + 110.0), &words, TEXT);
        framed(plot, (left, top + 130.0), &thumbnail(&frame, SIZE.0, SIZE.1));
    }
    let note = "pale: where the beam has not been yet";
    plot.text((60.0, top + 420.0), note, Style::new(14.0, ink::GREY));
}

/// A frame of which the beam has drawn the first `count` of its `visible` lines.
fn so_far(image: &GrayImage, count: usize, visible: usize) -> GrayImage {
    let share = math::from_usize(count) / math::from_usize(visible.max(1));
    let drawn = math::floor_u32(math::round(share * f64::from(image.height())));
    let mut frame = image.clone();
    for (_, row, pixel) in frame.enumerate_pixels_mut() {
        if row >= drawn {
            *pixel = Luma([UNDRAWN]);
        }
    }
    frame
}

fn framed(plot: &mut Plot, (left, top): (f64, f64), image: &GrayImage) {
    let (right, bottom) = (left + f64::from(image.width()), top + f64::from(image.height()));
    plot.outline(
        Area { left: left - 0.5, top: top - 0.5, right: right + 0.5, bottom: bottom + 0.5 },
        OUTLINE,
    );
    plot.picture((left, top), image);
}

pub(super) fn mistake(plot: &mut Plot, lesson: &Lesson, index: usize, top: f64) {
    const SIZE: (u32, u32) = (288, 216);
    let mistake = &lesson.mistakes[index];
    let before = lesson.whole();
    let curve = |trace, name, pen| Curve { trace, name, pen, delay_s: 0.0 };
    let waves = Waves {
        lesson,
        area: Area { left: LEFT, top: top + 40.0, right: 680.0, bottom: top + 490.0 },
        edge: 836.0,
        line: lesson.line,
        window_us: -2.0..1e6 * clocks(lesson, lesson.timing.clocks_per_line),
        curves: vec![
            curve(&before.traces[0], "as it should be", BEFORE),
            curve(&mistake.field.traces[0], "with the mistake", NOW),
        ],
        levels: Vec::new(),
        titles: ["at the socket, V", "time from the start of the line's sync pulse, µs"],
    };
    waves.draw(plot);
    let frames = [("as it should be", before), ("with the mistake", &mistake.field)];
    for (index, (words, field)) in frames.into_iter().enumerate() {
        let height = top + 24.0 + 270.0 * math::from_usize(index);
        let words = font::fitted(words, TEXT.size, f64::from(SIZE.0));
        plot.text((868.0, height), &words, TEXT);
        let image = grey_image(&field.reception.picture);
        framed(plot, (868.0, height + 18.0), &thumbnail(&image, SIZE.0, SIZE.1));
    }
}
