//! The whole field in time, at the socket.

use crate::analysis::reading::FieldReading;
use crate::base::math;
use crate::output::axis::Axis;
use crate::output::axis::Scale;
use crate::output::axis::Side;
use crate::output::axis::Ticks;
use crate::output::axis::number;
use crate::output::font;
use crate::output::panel;
use crate::output::panel::Panel;
use crate::output::plot::Area;
use crate::output::plot::Plot;
use crate::output::plot::PlotError;
use crate::output::plot::Style;
use crate::output::plot::ink;
use crate::output::strip;
use crate::output::strip::STRIP_AND_NAMES;
use crate::output::strip::Stretch;
use crate::output::thin::envelope;
use crate::receiver::spec::Reception;
use crate::signal::timing::FieldTiming;
use crate::signal::trace::Trace;
use std::io::Write;

/// What a field view shows.
#[derive(Clone, Copy, Debug)]
pub struct FieldView<'a> {
    /// Heading.
    pub title: &'a str,
    /// Lines and clocks.
    pub timing: &'a FieldTiming,
    /// The socket's waveform over one field.
    pub trace: &'a Trace,
    /// What the set measured.
    pub reception: &'a Reception,
    /// Black and tip.
    pub reading: &'a FieldReading,
}

/// Draws the view and writes it as PNG.
///
/// # Errors
///
/// [`PlotError::Png`] if `out` fails.
pub fn write(view: &FieldView<'_>, out: &mut impl Write) -> Result<(), PlotError> {
    draw(view).write_png(out)
}

const HEIGHT: u32 = 760;
const STRIP: f64 = 124.0;
const LEFT: f64 = 110.0;
/// Widths of the column of names, and of the axis of IRE with the margin.
const NAMES: f64 = 190.0;
const MARGIN: u32 = 100;
/// About how wide the curve is to be, pixels.
const ABOUT: f64 = 1250.0;

/// Where the curve goes. Every line gets the same whole number of pixels, for else the pulses of the
/// lines would beat with the columns of the picture.
fn area(timing: &FieldTiming) -> Area {
    let lines = f64::from(timing.lines_per_field.max(1));
    let pixels_per_line = math::round(ABOUT / lines);
    let width = if pixels_per_line < 1.0 { ABOUT } else { lines * pixels_per_line };
    Area { left: LEFT, top: STRIP + STRIP_AND_NAMES + 14.0, right: LEFT + width, bottom: 684.0 }
}

/// Draws the view.
#[must_use]
pub fn draw(view: &FieldView<'_>) -> Plot {
    let area = area(view.timing);
    let edge = area.right + NAMES;
    let mut plot = Plot::new(math::floor_u32(edge) + MARGIN, HEIGHT);
    draw_heading(&mut plot, view, area);
    let lines = Scale {
        values: 0.0..f64::from(view.timing.lines_per_field),
        pixels: area.left..area.right,
    };
    let ticks = Ticks::within(&lines.values, 20);
    Axis { side: Side::Top, line: 116.0, scale: &lines, ticks: &ticks, title: "line" }
        .draw(&mut plot);
    strip::draw(&mut plot, &zones(view.timing, &lines), STRIP, area.left..edge);
    draw_curve(&mut plot, view, area);
    let time = lines.recounted(0.0, 1e3 / view.timing.line_hz());
    let ticks = Ticks::within(&time.values, 20);
    let title = "time from the start of field sync, ms";
    Axis { side: Side::Bottom, line: area.bottom, scale: &time, ticks: &ticks, title }
        .draw(&mut plot);
    plot
}

fn draw_heading(plot: &mut Plot, view: &FieldView<'_>, area: Area) {
    let title = font::fitted(view.title, 22.0, area.width());
    plot.text((area.left, 36.0), &title, Style::new(22.0, ink::BLACK));
    let found = if view.reception.sync.is_some() { "" } else { "; the set finds no sync" };
    let below = format!(
        "One field: {} lines, {} Hz; lowest and highest level in every {} µs{found}",
        view.timing.lines_per_field,
        number(view.timing.field_hz(), 3),
        number(1e6 * view.trace.duration_s() / area.width(), 1),
    );
    plot.text((area.left, 64.0), &below, Style::new(14.0, ink::GREY));
}

fn zones(timing: &FieldTiming, lines: &Scale) -> Vec<Stretch> {
    let bounds = [0, timing.field_sync_lines, timing.first_active_line, timing.lines_per_field];
    let names = ["field sync", "blanking", "picture"];
    bounds
        .windows(2)
        .zip(names)
        .filter(|(ends, _)| ends[0] < ends[1])
        .map(|(ends, name)| Stretch {
            pixels: lines.at(f64::from(ends[0]))..lines.at(f64::from(ends[1])),
            name: name.into(),
        })
        .collect()
}

fn draw_curve(plot: &mut Plot, view: &FieldView<'_>, area: Area) {
    let columns = envelope(view.trace, math::floor_index(area.width()));
    let named = panel::levels(view.reception, view.reading);
    let extremes = columns.iter().flat_map(|&(low, high)| [low, high]);
    let volts: Vec<f64> = named.iter().map(|level| level.volts).chain(extremes).collect();
    let panel = Panel::new(area, area.right + NAMES, volts);
    panel.draw_frame(plot, "at the socket, V");
    panel.draw_ire(plot, panel::blanking_v(view.reception, view.reading));
    draw_columns(plot, &panel, &columns);
    panel.draw_levels(plot, &named);
    panel.draw_names(plot, &named);
}

/// Each column as an upright stroke, its ends marked.
fn draw_columns(plot: &mut Plot, panel: &Panel, columns: &[(f64, f64)]) {
    let area = panel.area;
    let step = area.width() / math::from_usize(columns.len().max(1));
    for (index, &(low, high)) in columns.iter().enumerate() {
        let left = area.left + step * math::from_usize(index);
        let (top, bottom) = (panel.volts.at(high), panel.volts.at(low));
        let column = Area { left, top, right: left + step, bottom };
        plot.area(column, ink::ACCENT_PALE);
        for end in [top, bottom] {
            plot.area(Area { top: end - 1.0, bottom: end + 1.0, ..column }, ink::ACCENT);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::output::sample;
    use std::ops::Range;

    #[test]
    fn no_two_texts_overlap_in_either_standard() {
        for sample in [sample::fifty(), sample::sixty()] {
            let plot = draw(&sample.field_view());
            let texts = plot.texts();
            let mut pairs = (0..texts.len()).flat_map(|a| (0..a).map(move |b| (a, b)));
            assert!(pairs.all(|(a, b)| !texts[a].overlaps(&texts[b])));
        }
    }

    #[test]
    fn zones_cover_the_field_without_a_gap() {
        let timing = sample::fifty().trains.timing;
        let lines = Scale { values: 0.0..312.0, pixels: 0.0..312.0 };
        let zones = zones(&timing, &lines);
        assert_eq!(zones.len(), 3);
        let ends: Vec<Range<f64>> = zones.into_iter().map(|zone| zone.pixels).collect();
        assert_eq!(ends, [0.0..4.0, 4.0..24.0, 24.0..312.0]);
    }
}
