//! The modulation bar: how much of the carrier is left at tip, black and each element, against what
//! the system means.

use crate::analysis::modulation::BUZZ_CARRIER;
use crate::analysis::modulation::CarrierLevel;
use crate::analysis::modulation::Modulation;
use crate::base::math;
use crate::output::axis::Axis;
use crate::output::axis::Scale;
use crate::output::axis::Side;
use crate::output::axis::Ticks;
use crate::output::font;
use crate::output::modulation_table::heading;
use crate::output::modulation_table::percent;
use crate::output::modulation_table::white_name;
use crate::output::modulation_table::words;
use crate::output::plot::Anchor;
use crate::output::plot::Area;
use crate::output::plot::Pen;
use crate::output::plot::Plot;
use crate::output::plot::PlotError;
use crate::output::plot::Style;
use crate::output::plot::ink;
use crate::path::system::Window;
use std::io::Write;

const WIDTH: u32 = 1100;
const HEIGHT: u32 = 710;
const AREA: Area = Area { left: 100.0, top: 104.0, right: 850.0, bottom: 500.0 };
/// Largest carrier on the scale, %.
const MOST: f64 = 110.0;
const TEXT: f64 = 14.0;

/// Draws the bar and writes it as PNG.
///
/// # Errors
///
/// [`PlotError`] if it cannot be drawn or `out` fails.
pub fn write(title: &str, modulation: &Modulation, out: &mut impl Write) -> Result<(), PlotError> {
    draw(title, modulation).write_png(out)
}

/// Draws the bar.
#[must_use]
pub fn draw(title: &str, modulation: &Modulation) -> Plot {
    let mut plot = Plot::new(WIDTH, HEIGHT);
    let title = font::fitted(title, 20.0, f64::from(WIDTH) - 80.0);
    plot.text((40.0, 34.0), &title, Style::new(20.0, ink::BLACK));
    plot.text((40.0, 64.0), &heading(modulation), Style::new(TEXT, ink::GREY));
    let scale = Scale { values: 0.0..MOST, pixels: AREA.bottom..AREA.top };
    let data = modulation.system.data();
    meant(&mut plot, &scale, "blanking", &data.blanking);
    meant(&mut plot, &scale, "peak white", &data.white);
    let buzz = scale.at(100.0 * BUZZ_CARRIER);
    let pen = Pen::new(ink::GREY, 1.0).dashed("4 3");
    plot.line((AREA.left, buzz), (AREA.right, buzz), pen);
    let words_of_buzz = format!("{} %: buzz below", percent(BUZZ_CARRIER));
    plot.text((AREA.right + 10.0, buzz + 4.0), &words_of_buzz, Style::new(TEXT, ink::GREY));
    let full = scale.at(100.0);
    plot.line((AREA.left, full), (AREA.right, full), Pen::new(ink::PALE, 1.0));
    plot.text((AREA.right + 10.0, full), "100 %: sync tip", Style::new(TEXT, ink::GREY));
    bars(&mut plot, &scale, modulation);
    let ticks = Ticks::within(&scale.values, 11);
    let (side, line) = (Side::Left, AREA.left);
    Axis { side, line, scale: &scale, ticks: &ticks, title: "carrier, % of its peak" }
        .draw(&mut plot);
    for (index, line) in words(modulation).lines().enumerate() {
        let at = (40.0, 568.0 + 26.0 * math::from_usize(index));
        let line = font::fitted(line, TEXT, f64::from(WIDTH) - 80.0);
        plot.text(at, &line, Style::new(TEXT, ink::BLACK));
    }
    plot
}

/// The band of what a level is meant to be, named at its right.
fn meant(plot: &mut Plot, scale: &Scale, name: &str, window: &Window) {
    let (top, bottom) = (scale.at(100.0 * window.high), scale.at(100.0 * window.low));
    plot.area(Area { top, bottom, ..AREA }, ink::FAINT);
    let words = format!("{name}: {} to {} %", percent(window.low), percent(window.high));
    let middle = f64::midpoint(top, bottom);
    plot.text((AREA.right + 10.0, middle), &words, Style::new(TEXT, ink::GREY));
}

/// A bar for each level, its percentage above it, its name and volts below.
fn bars(plot: &mut Plot, scale: &Scale, modulation: &Modulation) {
    let white = CarrierLevel { name: white_name(modulation), ..modulation.white.clone() };
    let elements = modulation.elements.iter().map(|element| &element.level);
    let levels: Vec<&CarrierLevel> =
        [&modulation.tip, &modulation.black].into_iter().chain(elements).chain([&white]).collect();
    let room = AREA.width() / math::from_usize(levels.len());
    let last = levels.len() - 1;
    for (index, level) in levels.iter().enumerate() {
        let middle = AREA.left + room * (math::from_usize(index) + 0.5);
        let half = 0.3 * room.min(90.0);
        let top = scale.at((100.0 * level.carrier).min(MOST));
        let bar = Area { left: middle - half, top, right: middle + half, bottom: AREA.bottom };
        plot.area(bar, if index == last { ink::ACCENT } else { ink::ACCENT_PALE });
        let style = Style::new(TEXT, ink::BLACK).by(Anchor::Middle);
        // No number lies on the line below which it buzzes.
        let line = scale.at(100.0 * BUZZ_CARRIER);
        let place = top - 12.0;
        let place = if (place - line).abs() < TEXT { line - 12.0 } else { place };
        plot.text((middle, place), &percent(level.carrier), style);
        let name = font::fitted(&level.name, TEXT, room - 6.0);
        plot.text((middle, AREA.bottom + 16.0), &name, style);
        let volts = format!("{} mV", percent(10.0 * level.volts));
        let style = Style::new(12.0, ink::GREY).by(Anchor::Middle);
        plot.text((middle, AREA.bottom + 36.0), &volts, style);
    }
}
