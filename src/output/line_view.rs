//! One line in time: what each pin does, and what comes of it at the socket.

use crate::analysis::reading::FieldReading;
use crate::base::math;
use crate::base::ticks::Tick;
use crate::output::axis::Axis;
use crate::output::axis::Scale;
use crate::output::axis::Side;
use crate::output::axis::Ticks;
use crate::output::axis::trimmed;
use crate::output::element_names;
use crate::output::element_names::ElementNames;
use crate::output::font;
use crate::output::panel;
use crate::output::panel::Named;
use crate::output::panel::NamedKind;
use crate::output::panel::Panel;
use crate::output::plot::Anchor;
use crate::output::plot::Area;
use crate::output::plot::Pen;
use crate::output::plot::Plot;
use crate::output::plot::PlotError;
use crate::output::plot::Style;
use crate::output::plot::ink;
use crate::output::plot::sharp;
use crate::output::strip;
use crate::output::strip::STRIP_AND_NAMES;
use crate::output::strip::Stretch;
use crate::output::thin::thinned;
use crate::receiver::spec::Reception;
use crate::signal::pulse_train::FieldTrains;
use crate::signal::pulse_train::PulseTrain;
use crate::signal::timing::FieldTiming;
use crate::signal::trace::Trace;
use std::io::Write;
use std::ops::Range;

/// What a line view shows.
#[derive(Clone, Copy, Debug)]
pub struct LineView<'a> {
    /// Heading.
    pub title: &'a str,
    /// Which line, 0 = first of field sync; must lie in the field.
    pub line: u32,
    /// What the chip puts out.
    pub trains: &'a FieldTrains,
    /// The socket's waveform, then any taps.
    pub traces: &'a [Trace],
    /// What the set measured.
    pub reception: &'a Reception,
    /// What the elements amount to.
    pub reading: &'a FieldReading,
}

/// Draws the view and writes it as PNG.
///
/// # Errors
///
/// [`PlotError::Png`] if `out` fails.
pub fn write(view: &LineView<'_>, out: &mut impl Write) -> Result<(), PlotError> {
    draw(view).write_png(out)
}

const WIDTH: u32 = 1600;
const HEIGHT: u32 = 1000;
/// What taps add to the height.
const TAP_HEIGHT: u32 = 230;
/// Ends of the time axis, and the end of the column of names.
const LEFT: f64 = 150.0;
const RIGHT: f64 = 1310.0;
const EDGE: f64 = 1500.0;
const CLOCK_AXIS: f64 = 116.0;
const STRIP: f64 = 124.0;
const PINS: f64 = STRIP + STRIP_AND_NAMES + 14.0;
const NAME_TEXT: f64 = 13.0;

/// Draws the view.
#[must_use]
pub fn draw(view: &LineView<'_>) -> Plot {
    let layout = Layout::new(view);
    let mut plot = Plot::new(WIDTH, layout.height);
    draw_heading(&mut plot, view);
    draw_bands(&mut plot, view, &layout);
    draw_clock_axis(&mut plot, &layout);
    strip::draw(&mut plot, &line_parts(view, &layout), STRIP, LEFT..EDGE);
    draw_pins(&mut plot, view, &layout);
    let (map, line, reading) = (&view.trains.map, view.line, view.reading);
    ElementNames { map, line, reading, clocks: &layout.clocks }.draw(&mut plot, layout.pins_bottom);
    draw_taps(&mut plot, view, &layout);
    draw_socket(&mut plot, view, &layout);
    draw_time_axis(&mut plot, view, &layout);
    plot
}

/// Where everything goes.
struct Layout {
    height: u32,
    /// Shown clocks of the field.
    window: Range<u64>,
    /// Clocks after the line's start to pixels.
    clocks: Scale,
    /// Height of the row of an ordinary pin.
    row: f64,
    pins_bottom: f64,
    taps: Option<Area>,
    socket: Area,
}

impl Layout {
    fn new(view: &LineView<'_>) -> Self {
        let tapped = view.traces.len() > 1;
        let height = if tapped { HEIGHT + TAP_HEIGHT } else { HEIGHT };
        let rows: f64 = view.trains.trains.iter().map(rows).sum();
        let row = (250.0 / rows.max(1.0)).clamp(20.0, 40.0);
        let pins_bottom = PINS + row * rows;
        let top = pins_bottom + element_names::HEIGHT;
        let across = |top, bottom| Area { left: LEFT, top, right: RIGHT, bottom };
        let taps = tapped.then(|| across(top, top + f64::from(TAP_HEIGHT) - 20.0));
        let socket_top = taps.map_or(top, |taps| taps.bottom + 20.0);
        let window = window(&view.trains.timing, view.line);
        let start = view.trains.timing.tick(view.line, 0);
        let values = clocks_after(start, window.start)..clocks_after(start, window.end);
        Self {
            height,
            window,
            clocks: Scale { values, pixels: LEFT..RIGHT },
            row,
            pins_bottom,
            taps,
            socket: across(socket_top, f64::from(height) - 76.0),
        }
    }

    /// Pixel of a clock of the field.
    fn at(&self, view: &LineView<'_>, tick: u64) -> f64 {
        self.clocks.at(clocks_after(view.trains.timing.tick(view.line, 0), tick))
    }
}

/// The line, the end of the one before from its front porch on, and the start of the next with its
/// sync pulse; cut to the field.
fn window(timing: &FieldTiming, line: u32) -> Range<u64> {
    let start = timing.tick(line, 0);
    let before = u64::from(timing.clocks_per_line - timing.active_stop) + 3;
    let stop = timing.tick(line + 1, timing.line_sync + 4);
    start.saturating_sub(before)..stop.min(timing.clocks_per_field())
}

fn clocks_after(start: u64, tick: u64) -> f64 {
    math::from_u64(tick) - math::from_u64(start)
}

fn draw_heading(plot: &mut Plot, view: &LineView<'_>) {
    let title = font::fitted(view.title, 22.0, EDGE - LEFT);
    plot.text((LEFT, 36.0), &title, Style::new(22.0, ink::BLACK));
    let timing = &view.trains.timing;
    let line_us = 1e6 * timing.clock.seconds(u64::from(timing.clocks_per_line));
    let found = if view.reception.sync.is_some() { "" } else { "; the set finds no sync" };
    let below = format!(
        "Line {} of 0 to {}, counted from the start of field sync: {} clocks of {} MHz, {} µs{found}",
        view.line,
        timing.lines_per_field - 1,
        timing.clocks_per_line,
        trimmed(1e-6 * timing.clock.hertz(), 6),
        trimmed(line_us, 3),
    );
    plot.text((LEFT, 64.0), &below, Style::new(14.0, ink::GREY));
}

/// Tints what is lit, behind pins and curves.
fn draw_bands(plot: &mut Plot, view: &LineView<'_>, layout: &Layout) {
    let pins = Area { left: LEFT, top: PINS, right: RIGHT, bottom: layout.pins_bottom };
    for patch in view.trains.map.line(view.line) {
        let left = layout.clocks.at(f64::from(patch.start));
        let right = layout.clocks.at(f64::from(patch.stop));
        for area in [Some(pins), layout.taps, Some(layout.socket)].into_iter().flatten() {
            plot.area(Area { left, right, ..area }, ink::BAND);
        }
    }
}

fn draw_clock_axis(plot: &mut Plot, layout: &Layout) {
    let ticks = Ticks::within(&layout.clocks.values, 20);
    let (scale, title) = (&layout.clocks, "clock");
    Axis { side: Side::Top, line: CLOCK_AXIS, scale, ticks: &ticks, title }.draw(plot);
}

fn draw_time_axis(plot: &mut Plot, view: &LineView<'_>, layout: &Layout) {
    let us_per_clock = 1e6 / view.trains.timing.clock.hertz();
    let scale = layout.clocks.recounted(0.0, us_per_clock);
    let ticks = Ticks::within(&scale.values, 20);
    let title = "time from the leading edge of line sync, µs";
    let line = layout.socket.bottom;
    Axis { side: Side::Bottom, line, scale: &scale, ticks: &ticks, title }.draw(plot);
}

/// The parts of every line that the window touches.
fn line_parts(view: &LineView<'_>, layout: &Layout) -> Vec<Stretch> {
    let timing = &view.trains.timing;
    let lines = view.line.saturating_sub(1)..(view.line + 2).min(timing.lines_per_field);
    let mut stretches = Vec::new();
    for line in lines {
        for (clocks, name) in parts_of(timing, line) {
            let start = timing.tick(line, clocks.start).max(layout.window.start);
            let stop = timing.tick(line, clocks.end).min(layout.window.end);
            if start < stop {
                let pixels = layout.at(view, start)..layout.at(view, stop);
                // What the window cuts through needs no name: it has one on the line itself.
                let whole = stop - start == u64::from(clocks.end - clocks.start);
                let name = if whole { name.into() } else { String::new() };
                stretches.push(Stretch { pixels, name });
            }
        }
    }
    stretches
}

fn parts_of(timing: &FieldTiming, line: u32) -> Vec<(Range<u32>, &'static str)> {
    let end = timing.clocks_per_line;
    if line < timing.field_sync_lines {
        return vec![(0..end, "field sync")];
    }
    let picture = if line < timing.first_active_line { "blanked line" } else { "active line" };
    vec![
        (0..timing.line_sync, "line sync"),
        (timing.line_sync..timing.active_start, "back porch"),
        (timing.active_start..timing.active_stop, picture),
        (timing.active_stop..end, "front porch"),
    ]
}

fn draw_pins(plot: &mut Plot, view: &LineView<'_>, layout: &Layout) {
    let label = Style::new(14.0, ink::BLACK).by(Anchor::End);
    let mut base = PINS;
    for (name, train) in view.trains.pins.iter().zip(&view.trains.trains) {
        let height = layout.row * rows(train);
        base += height;
        let floor = sharp(base - 0.2 * layout.row);
        plot.line((LEFT, floor), (RIGHT, floor), Pen::new(ink::PALE, 1.0).dashed("1 3"));
        let name = font::fitted(name, 14.0, LEFT - 24.0);
        plot.text((LEFT - 12.0, base - height / 2.0), &name, label);
        let steps = steps(train, &layout.window);
        let rise = (height - 0.38 * layout.row) / f64::from(highest(train).max(1));
        let mut points = Vec::new();
        for (tick, level) in steps {
            let x = layout.at(view, tick);
            points.extend(points.last().map(|&(_, before)| (x, before)));
            points.push((x, floor - rise * f64::from(level)));
        }
        points.extend(points.last().map(|&(_, level)| (RIGHT, level)));
        plot.path(&points, Pen::new(ink::BLACK, 1.4));
        if highest(train) > 1 {
            let words = format!("{} levels", highest(train) + 1);
            let at = (RIGHT + 12.0, base - height / 2.0);
            plot.text(at, &words, Style::new(NAME_TEXT, ink::GREY));
        }
    }
}

/// Rows a pin takes: two if it has more than two levels.
fn rows(train: &PulseTrain) -> f64 {
    if highest(train) > 1 { 2.0 } else { 1.0 }
}

/// The level at the start of a window and every change in it.
fn steps(train: &PulseTrain, window: &Range<u64>) -> Vec<(u64, u8)> {
    let first = (window.start, train.level_at(Tick(window.start)).0);
    let inside = train.edges().iter().map(|edge| (edge.at.0, edge.level.0));
    let inside = inside.filter(|&(at, _)| at > window.start && at < window.end);
    std::iter::once(first).chain(inside).collect()
}

fn highest(train: &PulseTrain) -> u8 {
    let edges = train.edges().iter().map(|edge| edge.level.0);
    edges.fold(train.initial().0, u8::max)
}

/// A trace in the window as points, and where it ends.
struct Curve {
    points: Vec<(f64, f64)>,
}

impl Curve {
    /// Pixels across, volts up.
    fn new(view: &LineView<'_>, layout: &Layout, trace: &Trace) -> Self {
        let clock = view.trains.timing.clock;
        let start = view.trains.timing.tick(view.line, 0);
        let window_s = clock.seconds(layout.window.start)..clock.seconds(layout.window.end);
        let columns = math::floor_index(RIGHT - LEFT);
        let points = thinned(trace, &window_s, columns)
            .into_iter()
            .map(|kept| {
                let clocks = kept.at_s * clock.hertz() - math::from_u64(start);
                (layout.clocks.at(clocks), kept.volts)
            })
            .collect();
        Self { points }
    }

    fn volts(&self) -> impl Iterator<Item = f64> {
        self.points.iter().map(|&(_, volts)| volts)
    }

    fn draw(&self, plot: &mut Plot, panel: &Panel, pen: Pen) {
        let points: Vec<(f64, f64)> =
            self.points.iter().map(|&(x, volts)| (x, panel.volts.at(volts))).collect();
        plot.path(&points, pen);
    }

    fn named(&self, words: &str, pen: Pen) -> Option<Named> {
        let volts = self.volts().last()?;
        Some(Named { volts, words: words.into(), pen, kind: NamedKind::Curve })
    }
}

/// Greys and dashes by which taps are told apart.
const TAP_PENS: [Pen; 6] = [
    Pen::new(ink::BLACK, 1.2),
    Pen::new(ink::GREY, 1.6),
    Pen::new(ink::BLACK, 1.2).dashed("7 3"),
    Pen::new(ink::GREY, 1.6).dashed("7 3"),
    Pen::new(ink::BLACK, 1.2).dashed("2 2"),
    Pen::new(ink::GREY, 1.6).dashed("2 2"),
];

fn draw_taps(plot: &mut Plot, view: &LineView<'_>, layout: &Layout) {
    let Some(area) = layout.taps else { return };
    let curves: Vec<(Curve, &Trace, Pen)> = view.traces[1..]
        .iter()
        .zip(TAP_PENS.into_iter().cycle())
        .map(|(trace, pen)| (Curve::new(view, layout, trace), trace, pen))
        .collect();
    let volts = curves.iter().flat_map(|(curve, ..)| curve.volts());
    let panel = Panel::new(area, EDGE, volts);
    panel.draw_frame(plot, "taps, V");
    for (curve, _, pen) in &curves {
        curve.draw(plot, &panel, *pen);
    }
    let named: Vec<Named> =
        curves.iter().filter_map(|(curve, trace, pen)| curve.named(&trace.node, *pen)).collect();
    panel.draw_names(plot, &named);
}

fn draw_socket(plot: &mut Plot, view: &LineView<'_>, layout: &Layout) {
    let pen = Pen::new(ink::ACCENT, 1.8);
    let curve = view.traces.first().map(|trace| Curve::new(view, layout, trace));
    let mut named = panel::levels(view.reception, view.reading);
    let volts = named.iter().map(|level| level.volts);
    let volts: Vec<f64> = volts.chain(curve.iter().flat_map(Curve::volts)).collect();
    let panel = Panel::new(layout.socket, EDGE, volts);
    panel.draw_frame(plot, "at the socket, V");
    panel.draw_ire(plot, panel::blanking_v(view.reception, view.reading));
    panel.draw_levels(plot, &named);
    if let (Some(curve), Some(trace)) = (&curve, view.traces.first()) {
        curve.draw(plot, &panel, pen);
        named.extend(curve.named(&trace.node, pen));
    }
    panel.draw_names(plot, &named);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::output::sample;

    fn overlapping(plot: &Plot) -> Vec<(Area, Area)> {
        let texts = plot.texts();
        let pairs = (0..texts.len()).flat_map(|a| (0..a).map(move |b| (a, b)));
        pairs
            .filter(|&(a, b)| texts[a].overlaps(&texts[b]))
            .map(|(a, b)| (texts[a], texts[b]))
            .collect()
    }

    #[test]
    fn no_two_texts_overlap_on_any_line_of_either_standard() {
        for sample in [sample::fifty(), sample::sixty()] {
            for line in (0..sample.trains.timing.lines_per_field).step_by(7) {
                let plot = draw(&sample.line_view(line));
                assert_eq!(overlapping(&plot), [], "line {line}");
                assert!(plot.texts().iter().all(|text| text.left > 0.0 && text.right < 1600.0));
            }
        }
    }

    #[test]
    fn names_too_long_for_their_room_do_not_overlap_either() {
        let mut sample = sample::sixty();
        let long = |name: &mut String| *name = name.repeat(40);
        sample.trains.pins.iter_mut().for_each(long);
        sample.trains.map.elements.iter_mut().for_each(long);
        sample.trains.map.shapes.iter_mut().for_each(|shape| long(&mut shape.name));
        sample.traces.iter_mut().for_each(|trace| long(&mut trace.node));
        let line = sample.trains.map.line_that_shows_most();
        let plot = draw(&LineView { title: &"title ".repeat(100), ..sample.line_view(line) });
        assert_eq!(overlapping(&plot), []);
        assert!(plot.texts().iter().all(|text| text.left > 0.0 && text.right < 1600.0));
        assert!(plot.svg().contains("more</text>"));
    }

    #[test]
    fn a_field_without_sync_or_waveform_still_has_its_axes() {
        let mut sample = sample::fifty();
        sample.reception.sync = None;
        sample.traces.clear();
        let svg = draw(&sample.line_view(50)).svg();
        assert!(svg.contains("the set finds no sync") && !svg.contains("slicing level"));
        assert!(svg.contains(">black, 330 mV</text>") && !svg.contains("NaN"));
    }

    #[test]
    fn every_pin_and_every_lit_element_is_named() {
        let sample = sample::fifty();
        let line = sample.trains.map.line_that_shows_most();
        let svg = draw(&sample.line_view(line)).svg();
        for pin in &sample.trains.pins {
            assert!(svg.contains(&format!(">{pin}</text>")), "{pin}");
        }
        for patch in sample.trains.map.line(line) {
            assert!(svg.contains(&sample.trains.map.shapes[patch.shape].name));
        }
        for part in ["line sync", "back porch", "active line", "front porch"] {
            assert!(svg.contains(&format!(">{part}</text>")), "{part}");
        }
    }
}
