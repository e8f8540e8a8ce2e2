//! The controller map drawn: knob angle across, line down, dead zones shaded, wobble as a band.

use crate::analysis::knob::KnobMap;
use crate::analysis::knob::Point;
use crate::base::math;
use crate::output::axis::Axis;
use crate::output::axis::Scale;
use crate::output::axis::Side;
use crate::output::axis::Ticks;
use crate::output::axis::number;
use crate::output::axis::trimmed;
use crate::output::font;
use crate::output::knob_table::parts_words;
use crate::output::label::Wanted;
use crate::output::label::spread;
use crate::output::plot::Anchor;
use crate::output::plot::Area;
use crate::output::plot::Pen;
use crate::output::plot::Plot;
use crate::output::plot::PlotError;
use crate::output::plot::Style;
use crate::output::plot::ink;
use crate::output::plot::sharp;
use std::io::Write;

const WIDTH: u32 = 1400;
const HEIGHT: u32 = 860;
const PLOT: Area = Area { left: 110.0, top: 120.0, right: 1130.0, bottom: 780.0 };
const TEXT: f64 = 14.0;

/// Draws the view and writes it as PNG.
///
/// # Errors
///
/// [`PlotError`] if it cannot be drawn or `out` fails.
pub fn write(map: &KnobMap, title: &str, out: &mut impl Write) -> Result<(), PlotError> {
    draw(map, title).write_png(out)
}

/// Draws the view.
#[must_use]
pub fn draw(map: &KnobMap, title: &str) -> Plot {
    let mut plot = Plot::new(WIDTH, HEIGHT);
    let room = PLOT.width();
    let heading = font::fitted(title, 22.0, room);
    plot.text((PLOT.left, 34.0), &heading, Style::new(22.0, ink::BLACK));
    let parts = font::fitted(&parts_words(map), TEXT, room);
    plot.text((PLOT.left, 62.0), &parts, Style::new(TEXT, ink::GREY));
    let view = View::new(map);
    view.draw_zones(&mut plot);
    view.draw_lines(&mut plot);
    view.draw_band(&mut plot);
    view.draw_curve(&mut plot);
    view.draw_axes(&mut plot);
    plot
}

struct View<'a> {
    map: &'a KnobMap,
    /// Degrees to pixels across.
    degrees: Scale,
    /// Lines to pixels down.
    lines: Scale,
}

impl<'a> View<'a> {
    fn new(map: &'a KnobMap) -> Self {
        let Area { left, top, right, bottom } = PLOT;
        let last = f64::from(map.timing.lines_per_field);
        Self {
            map,
            degrees: Scale { values: 0.0..map.controller.track.rotation_deg, pixels: left..right },
            lines: Scale { values: 0.0..last, pixels: top..bottom },
        }
    }

    /// Where turning does nothing, or moves the paddle where it is not wanted.
    fn draw_zones(&self, plot: &mut Plot) {
        let turn = &self.map.turn;
        let whole = self.map.controller.track.rotation_deg;
        let (first, last) = (turn.above_deg, whole - turn.below_deg);
        let reversed = self.map.controller.track.reversed;
        let dead = |from: f64, to: f64| {
            let (from, to) = if reversed { (whole - to, whole - from) } else { (from, to) };
            Area { left: self.degrees.at(from), right: self.degrees.at(to), ..PLOT }
        };
        for (from, to, words) in
            [(0.0, first, "too high"), (first, last, "wanted"), (last, whole, "too low")]
        {
            let area = dead(from, to);
            if words != "wanted" {
                plot.area(area, ink::BAND);
            }
            let words = format!("{words}, {}°", number(to - from, 0));
            if to - from > 1e-6 && font::width(&words, TEXT) < area.width() {
                let style = Style::new(TEXT, ink::GREY).by(Anchor::Middle);
                plot.text((area.middle(), PLOT.top - 14.0), &words, style);
            }
        }
        for (from, to) in [(0.0, turn.dead_deg), (whole - turn.dead_deg, whole)] {
            let area = dead(from, to);
            plot.area(area, ink::FAINT);
            let words = format!("dead, {}°", number(turn.dead_deg, 0));
            let style = Style::new(TEXT, ink::GREY);
            let upright = (area.middle(), f64::midpoint(PLOT.top, PLOT.bottom));
            plot.text_upward(upright, &words, style);
        }
    }

    /// The first and last line that the paddle should reach, and a paddle between them.
    fn draw_lines(&self, plot: &mut Plot) {
        const ROW: f64 = 18.0;
        let wanted = &self.map.wanted;
        let pen = Pen::new(ink::GREY, 1.0).dashed("7 4");
        let heights = [wanted.start, wanted.end].map(|line| sharp(self.lines.at(line)));
        for y in heights {
            plot.line((PLOT.left, y), (PLOT.right, y), pen);
        }
        let middle = f64::midpoint(wanted.start, wanted.end);
        let low = middle + f64::from(self.map.paddle_lines);
        let (top, bottom) = (self.lines.at(middle), self.lines.at(low));
        let x = PLOT.right + 12.0;
        plot.area(Area { left: x, top, right: x + 8.0, bottom }, ink::BLACK);
        let turned = self.map.turn.paddle_deg[1]
            .map_or(String::new(), |one| format!("{}° of the knob", number(one, 1)));
        let words = [
            (
                heights[0],
                ink::GREY,
                vec![format!("highest wanted, line {}", trimmed(wanted.start, 1))],
            ),
            (
                heights[1],
                ink::GREY,
                vec![format!("lowest wanted, line {}", trimmed(wanted.end, 1))],
            ),
            (
                f64::midpoint(top, bottom),
                ink::BLACK,
                vec![format!("paddle, {} lines:", self.map.paddle_lines), turned],
            ),
        ];
        let length = |rows: &[String]| ROW * math::from_usize(rows.len());
        let labels: Vec<Wanted> = words
            .iter()
            .map(|(middle, _, rows)| Wanted { middle: *middle, length: length(rows) })
            .collect();
        let places = spread(&labels, PLOT.top - 8.0..PLOT.bottom + 8.0, 2.0);
        for ((_, ink, rows), place) in words.iter().zip(places) {
            let Some(place) = place else { continue };
            let mut y = place - 0.5 * length(rows) + 0.5 * ROW;
            for row in rows {
                plot.text((x + 20.0, y), row, Style::new(TEXT, ink));
                y += ROW;
            }
        }
    }

    /// Stretches of the map in which the paddle is drawn.
    fn stretches(&self) -> impl Iterator<Item = &[Point]> {
        self.map
            .points
            .chunk_by(|a, b| a.line.is_some() == b.line.is_some())
            .filter(|points| points[0].line.is_some())
    }

    fn place(&self, point: &Point, by: f64) -> (f64, f64) {
        let degrees = point.knob * self.map.controller.track.rotation_deg;
        let line = point.line.unwrap_or(0.0) + by * point.wobble.unwrap_or(0.0);
        let line = line.clamp(self.lines.values.start, self.lines.values.end);
        (self.degrees.at(degrees), self.lines.at(line))
    }

    fn draw_band(&self, plot: &mut Plot) {
        for points in self.stretches() {
            let above = points.iter().map(|point| self.place(point, -1.0));
            let below = points.iter().rev().map(|point| self.place(point, 1.0));
            plot.shape(&above.chain(below).collect::<Vec<_>>(), ink::ACCENT_PALE);
        }
    }

    fn draw_curve(&self, plot: &mut Plot) {
        for points in self.stretches() {
            let curve: Vec<_> = points.iter().map(|point| self.place(point, 0.0)).collect();
            plot.path(&curve, Pen::new(ink::ACCENT, 2.0));
        }
        let (x, y) = (PLOT.right + 12.0, 34.0);
        plot.line((x, sharp(y)), (x + 28.0, sharp(y)), Pen::new(ink::ACCENT, 2.0));
        plot.text((x + 38.0, y), "first line of the paddle", Style::new(TEXT, ink::ACCENT));
        let band = Area { left: x, top: y + 16.0, right: x + 28.0, bottom: y + 32.0 };
        plot.area(band, ink::ACCENT_PALE);
        plot.text((x + 38.0, y + 24.0), "wobble: noise and hum", Style::new(TEXT, ink::BLACK));
        let half = self.map.points.get(self.map.points.len() / 2);
        if let Some(wobble) = half.and_then(|point| point.wobble) {
            let words = format!("±{} lines at half turn", number(wobble, 1));
            plot.text((x + 38.0, y + 44.0), &words, Style::new(TEXT, ink::BLACK));
        }
    }

    fn draw_axes(&self, plot: &mut Plot) {
        let area = Area { top: sharp(PLOT.top), left: sharp(PLOT.left), ..PLOT };
        plot.outline(area, Pen::new(ink::PALE, 1.0));
        let ticks = Ticks::within(&self.degrees.values, 15);
        let (scale, line) = (&self.degrees, PLOT.bottom);
        let title = "knob, degrees from its stop";
        Axis { side: Side::Bottom, line, scale, ticks: &ticks, title }.draw(plot);
        // Numbers of an axis that runs down are set from its far end.
        let down = &self.lines;
        let ticks = Ticks::within(&down.values, 14);
        let ticks = Ticks { values: ticks.values.into_iter().rev().collect(), ..ticks };
        let title = "line of the field, from the start of field sync";
        Axis { side: Side::Left, line: PLOT.left, scale: down, ticks: &ticks, title }.draw(plot);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::knob::Question;
    use crate::analysis::knob::knob_map;
    use crate::raster::controller::Controllers;

    #[test]
    fn no_text_lies_on_another() {
        let sample = crate::output::sample::fifty();
        let timing = *sample.field_view().timing;
        let controller = crate::raster::controller::sample::dirty();
        for (middle, wanted) in
            [(0.5, 40.0..232.0), (1.0 / 11.0, 20.0..280.0), (10.0 / 11.0, 130.0..134.0)]
        {
            let mut controller = controller;
            controller.track.middle = middle;
            let controllers = Controllers { sides: [Some(controller), None], common_ohms: 0.0 };
            let question = Question { controllers, side: 0, timing, wanted, paddle_lines: 48 };
            let plot = draw(&knob_map(&question), "a knob");
            let texts = plot.texts();
            for a in 0..texts.len() {
                assert!((0..a).all(|b| !texts[a].overlaps(&texts[b])), "{middle} {a}");
            }
        }
    }
}
