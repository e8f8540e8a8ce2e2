//! The figures of a lesson that compare levels: pins with the socket, one load with another.

use crate::analysis::cause::ohms;
use crate::analysis::ladder::OPEN_OHMS;
use crate::analysis::lesson::Lesson;
use crate::analysis::lesson::sum::Carried;
use crate::analysis::lesson::sum::Loaded;
use crate::base::math;
use crate::output::axis::Axis;
use crate::output::axis::Scale;
use crate::output::axis::Side;
use crate::output::axis::Ticks;
use crate::output::axis::number;
use crate::output::font;
use crate::output::label::Wanted;
use crate::output::label::spread;
use crate::output::lesson_words::millivolts;
use crate::output::plot::Anchor;
use crate::output::plot::Area;
use crate::output::plot::Pen;
use crate::output::plot::Plot;
use crate::output::plot::Style;
use crate::output::plot::ink;
use crate::output::plot::sharp;

const TEXT: Style = Style::new(15.0, ink::BLACK);
const SMALL: Style = Style::new(13.0, ink::GREY);
const LEFT: f64 = 60.0;
/// Most rows that have room.
const MOST_ROWS: usize = 10;

/// A row of the mixer's figure.
struct Row {
    name: String,
    /// How far pin and socket move, V; a row without a pin is a sum.
    pin_v: Option<f64>,
    socket_v: f64,
}

pub(super) fn mixer(plot: &mut Plot, lesson: &Lesson, top: f64) {
    let rows = rows(lesson);
    let area = |left, right| Area { left, top: top + 60.0, right, bottom: top + 490.0 };
    let pins = area(270.0, 600.0);
    let socket = area(700.0, 1130.0);
    plot.text((pins.left, top + 32.0), "at its pin, alone", TEXT);
    plot.text((socket.left, top + 32.0), "at the socket, against black", TEXT);
    let pin_values = rows.iter().filter_map(|row| row.pin_v);
    let left = bars(plot, pins, pin_values, "swing of the pin, V");
    let right = bars(plot, socket, rows.iter().map(|row| 1e3 * row.socket_v), "mV");
    let step = pins.height() / math::from_usize(rows.len().max(1));
    for (index, row) in rows.iter().enumerate() {
        let middle = pins.top + step * (math::from_usize(index) + 0.5);
        let half = (0.32 * step).min(18.0);
        let name = font::fitted(&row.name, TEXT.size, pins.left - LEFT - 16.0);
        plot.text((LEFT, middle), &name, TEXT);
        if let Some(pin_v) = row.pin_v {
            let words = format!("{} V", number(pin_v, 2));
            bar(plot, &left, (pin_v, &words), (middle, half), ink::PALE);
        }
        let colour = if row.pin_v.is_some() { ink::ACCENT } else { ink::GREY };
        let words = millivolts(row.socket_v);
        bar(plot, &right, (1e3 * row.socket_v, &words), (middle, half), colour);
    }
}

fn rows(lesson: &Lesson) -> Vec<Row> {
    let pulses = lesson.sum.pulses.iter().take(MOST_ROWS);
    let mut rows: Vec<Row> = pulses
        .map(|pulse| {
            let what = match pulse.carried {
                Carried::Sync => "sync",
                Carried::Element(id) => &lesson.map.elements[usize::from(id.0)],
            };
            let pins = pulse.pins.join(", ");
            let name = if pins == what { what.to_owned() } else { format!("{what} (pin {pins})") };
            Row { name, pin_v: Some(pulse.pin_v), socket_v: pulse.socket_v }
        })
        .collect();
    if lesson.steps.len() > 1 {
        let sum = |name: &str, socket_v| Row { name: name.to_owned(), pin_v: None, socket_v };
        rows.push(sum("all but sync, added up", lesson.sum.added_v));
        rows.push(sum("all but sync, lit at once", lesson.sum.together_v));
    }
    rows
}

/// Draws the axis of a panel of bars and gives its scale, in which 0 and all of `values` lie with
/// room for a number at either end.
fn bars(plot: &mut Plot, area: Area, values: impl Iterator<Item = f64>, title: &str) -> Scale {
    let (low, high) =
        values.fold((0.0_f64, 0.0_f64), |(low, high), value| (low.min(value), high.max(value)));
    let span = (high - low).max(1e-6);
    let share = 80.0 / area.width();
    let air = |end: f64| if end == 0.0 { 0.02 * span } else { share * span / (1.0 - 2.0 * share) };
    let values = low - air(low)..high + air(high);
    let scale = Scale { values, pixels: area.left..area.right };
    let ticks = Ticks::within(&scale.values, 6);
    for &value in &ticks.values {
        let across = sharp(scale.at(value));
        plot.line((across, area.top), (across, area.bottom), Pen::new(ink::FAINT, 1.0));
    }
    Axis { side: Side::Bottom, line: area.bottom, scale: &scale, ticks: &ticks, title }.draw(plot);
    let zero = sharp(scale.at(0.0));
    plot.line((zero, area.top), (zero, area.bottom), Pen::new(ink::GREY, 1.0));
    scale
}

/// A bar from 0 with its number at its end.
fn bar(
    plot: &mut Plot,
    scale: &Scale,
    (value, words): (f64, &str),
    (middle, half): (f64, f64),
    ink: &str,
) {
    let (zero, end) = (scale.at(0.0), scale.at(value));
    let (left, right) = (zero.min(end), zero.max(end));
    plot.area(Area { left, right, top: middle - half, bottom: middle + half }, ink);
    let (at, anchor) =
        if value < 0.0 { (left - 6.0, Anchor::End) } else { (right + 6.0, Anchor::Start) };
    plot.text((at, middle), words, TEXT.by(anchor));
}

pub(super) fn load(plot: &mut Plot, lesson: &Lesson, top: f64) {
    let area = Area { left: 110.0, top: top + 60.0, right: 1140.0, bottom: top + 500.0 };
    let all = |loaded: &Loaded| {
        [loaded.sync.tip_v, loaded.sync.black_v, loaded.sync.black_v + loaded.white_v(), 0.0]
    };
    let (low, high) = lesson
        .loads
        .iter()
        .flat_map(all)
        .fold((0.0_f64, 0.0_f64), |(low, high), level| (low.min(level), high.max(level)));
    let air = 0.04 * (high - low).max(0.1);
    let volts = Scale { values: low - air..high + air, pixels: area.bottom..area.top };
    let ticks = Ticks::within(&volts.values, 9);
    for &value in &ticks.values {
        let height = sharp(volts.at(value));
        plot.line((area.left, height), (area.right, height), Pen::new(ink::FAINT, 1.0));
    }
    let title = "at the socket, V";
    Axis { side: Side::Left, line: area.left, scale: &volts, ticks: &ticks, title }.draw(plot);
    let step = area.width() / 3.0;
    for (index, loaded) in lesson.loads.iter().enumerate() {
        let left = area.left + step * math::from_usize(index) + 70.0;
        plot.text((left, top + 32.0), &load_name(index, loaded), TEXT);
        column(plot, &volts, loaded, left);
    }
}

fn load_name(index: usize, loaded: &Loaded) -> String {
    match index {
        0 => format!("the load, {}", ohms(loaded.ohms)),
        1 => format!("two of them, {}", ohms(loaded.ohms)),
        _ if loaded.ohms >= OPEN_OHMS => "nothing plugged in".to_owned(),
        _ => ohms(loaded.ohms),
    }
}

/// Sync in grey, picture in the accent colour, and the three levels by name.
fn column(plot: &mut Plot, volts: &Scale, loaded: &Loaded, left: f64) {
    let right = left + 70.0;
    let (tip_v, black_v) = (loaded.sync.tip_v, loaded.sync.black_v);
    let white_v = black_v + loaded.white_v();
    for (from, to, ink) in [(tip_v, black_v, ink::PALE), (black_v, white_v, ink::ACCENT)] {
        let (top, bottom) = (volts.at(from.max(to)), volts.at(from.min(to)));
        plot.area(Area { left, top, right, bottom }, ink);
    }
    let named = [
        (white_v, "white", format!("{} above black", millivolts(loaded.white_v()))),
        (black_v, "black", format!("{} above tip", millivolts(loaded.sync.depth_v))),
        (tip_v, "tip", String::new()),
    ];
    let wanted: Vec<Wanted> =
        named.iter().map(|(level, ..)| Wanted { middle: volts.at(*level), length: 40.0 }).collect();
    let room = volts.pixels.end - 20.0..volts.pixels.start + 20.0;
    for ((level, name, below), place) in named.iter().zip(spread(&wanted, room, 2.0)) {
        let Some(place) = place else { continue };
        let height = volts.at(*level);
        plot.line((right, height), (right + 16.0, place), Pen::new(ink::GREY, 1.0));
        let words = format!("{name}, {} V", number(*level, 2));
        plot.text((right + 20.0, place - 8.0), &words, TEXT);
        plot.text((right + 20.0, place + 10.0), below, SMALL);
    }
}
