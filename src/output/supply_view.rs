//! Levels and rails against the volts of a source, from flat to fresh, and where each thing is lost.

use crate::analysis::supply::SupplyReport;
use crate::analysis::supply::discharge::Step;
use crate::output::axis::Axis;
use crate::output::axis::Scale;
use crate::output::axis::Side;
use crate::output::axis::Ticks;
use crate::output::axis::number;
use crate::output::font;
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
use crate::output::supply_words;
use crate::scenario::Scenario;
use std::io::Write;

const WIDTH: u32 = 1360;
const HEIGHT: u32 = 980;
const LEFT: f64 = 100.0;
const RIGHT: f64 = 800.0;
const LEVELS: Area = Area { left: LEFT, top: 130.0, right: RIGHT, bottom: 520.0 };
const RAILS: Area = Area { left: LEFT, top: 600.0, right: RIGHT, bottom: 880.0 };
/// Where the list of what is lost begins.
const LIST: f64 = 985.0;
const TEXT: f64 = 13.0;
/// Rows of the list.
const ROW: f64 = 22.0;

/// Draws the view and writes it as PNG.
///
/// # Errors
///
/// [`PlotError`] if it cannot be drawn or `out` fails.
pub fn write(
    scenario: &Scenario,
    report: &SupplyReport,
    out: &mut impl Write,
) -> Result<(), PlotError> {
    draw(scenario, report).write_png(out)
}

/// A curve with its name.
struct Curve<'a> {
    name: &'a str,
    values: Vec<f64>,
    pen: Pen,
}

/// Draws the view.
#[must_use]
pub fn draw(scenario: &Scenario, report: &SupplyReport) -> Plot {
    let mut plot = Plot::new(WIDTH, HEIGHT);
    let room = f64::from(WIDTH) - 2.0 * LEFT;
    let title = font::fitted(&scenario.title, 20.0, room);
    plot.text((LEFT, 34.0), &title, Style::new(20.0, ink::BLACK));
    let below = format!("Fed by {}", supply_words::source(scenario, report));
    let below = font::fitted(&below, 14.0, room);
    plot.text((LEFT, 62.0), &below, Style::new(14.0, ink::GREY));
    let steps = &report.discharge.steps;
    let volts = steps.iter().map(|step| step.at.open_v);
    let (least, most) = volts.fold((f64::INFINITY, 0.0_f64), |(l, m), v| (l.min(v), m.max(v)));
    let least = if least < most { least } else { most - 1.0 };
    let across = Scale { values: least..most, pixels: LEFT..RIGHT };
    draw_losses(&mut plot, scenario, report, &across);
    let levels = levels(scenario, steps);
    panel(&mut plot, LEVELS, "depth, and elements above black, mV", (&levels, steps), &across);
    let rails = rails(scenario, report, steps);
    panel(&mut plot, RAILS, "rails, V", (&rails, steps), &across);
    draw_hours(&mut plot, steps, &across);
    plot
}

/// Pens that differ in ink and dash.
fn pen(index: usize) -> Pen {
    const DASHES: [&str; 4] = ["", "7 4", "2 3", "9 3 2 3"];
    let ink = if index.is_multiple_of(2) { ink::BLACK } else { ink::GREY };
    Pen::new(ink, 1.5).dashed(DASHES[index % DASHES.len()])
}

fn levels<'a>(scenario: &'a Scenario, steps: &[Step]) -> Vec<Curve<'a>> {
    let depth = steps.iter().map(|step| 1e3 * step.look.sync.depth_v).collect();
    let mut curves = vec![Curve { name: "depth", values: depth, pen: Pen::new(ink::ACCENT, 2.2) }];
    for (index, name) in scenario.raster.elements.iter().enumerate() {
        let values = steps.iter().map(|step| 1e3 * step.look.elements[index].delta_v).collect();
        curves.push(Curve { name, values, pen: pen(index) });
    }
    curves
}

fn rails<'a>(scenario: &'a Scenario, report: &SupplyReport, steps: &[Step]) -> Vec<Curve<'a>> {
    let rails = report.rails.iter().enumerate();
    let curve = |(index, &rail)| Curve {
        name: supply_words::node(scenario, rail),
        values: steps.iter().map(|step| step.look.rails_v[index]).collect(),
        pen: pen(index),
    };
    rails.map(curve).collect()
}

fn panel(
    plot: &mut Plot,
    area: Area,
    heading: &str,
    (curves, steps): (&[Curve<'_>], &[Step]),
    across: &Scale,
) {
    let all = curves.iter().flat_map(|curve| &curve.values).copied();
    let (least, most) = all.fold((0.0_f64, 1.0_f64), |(l, m), v| (l.min(v), m.max(v)));
    let air = 0.06 * (most - least);
    let up = Scale { values: least - air..most + air, pixels: area.bottom..area.top };
    let ticks = Ticks::within(&up.values, 8);
    for &value in &ticks.values {
        let y = sharp(up.at(value));
        plot.line((area.left, y), (area.right, y), Pen::new(ink::FAINT, 1.0));
    }
    let mut ends = Vec::new();
    for curve in curves {
        let places = steps.iter().zip(&curve.values);
        let points: Vec<(f64, f64)> =
            places.map(|(step, &value)| (across.at(step.at.open_v), up.at(value))).collect();
        plot.path(&points, curve.pen);
        for &(x, y) in &points {
            let mark = Area { left: x - 2.0, top: y - 2.0, right: x + 2.0, bottom: y + 2.0 };
            plot.area(mark, curve.pen.ink);
        }
        ends.push(points.first().map_or(area.bottom, |&(_, y)| y));
    }
    let wanted: Vec<Wanted> =
        ends.iter().map(|&middle| Wanted { middle, length: TEXT + 3.0 }).collect();
    let room = area.top - 10.0..area.bottom + 10.0;
    for ((place, end), curve) in spread(&wanted, room, 1.0).into_iter().zip(&ends).zip(curves) {
        let Some(y) = place else { continue };
        plot.path(&[(area.right, *end), (area.right + 18.0, y)], Pen::new(ink::PALE, 1.0));
        plot.line((area.right + 20.0, y), (area.right + 50.0, y), curve.pen);
        let name = font::fitted(curve.name, TEXT, LIST - area.right - 70.0);
        plot.text((area.right + 56.0, y), &name, Style::new(TEXT, ink::BLACK));
    }
    Axis { side: Side::Left, line: area.left, scale: &up, ticks: &ticks, title: heading }
        .draw(plot);
    let ticks = Ticks::within(&across.values, 10);
    let title = "open volts of the source, V: run down on the left, as it is on the right";
    Axis { side: Side::Bottom, line: area.bottom, scale: across, ticks: &ticks, title }.draw(plot);
}

/// A numbered line through both panels for everything that is lost, and a list beside them.
fn draw_losses(plot: &mut Plot, scenario: &Scenario, report: &SupplyReport, across: &Scale) {
    let losses = &report.discharge.losses;
    let places: Vec<f64> = losses.iter().map(|loss| across.at(loss.at.open_v)).collect();
    let wanted: Vec<Wanted> =
        places.iter().map(|&middle| Wanted { middle, length: 20.0 }).collect();
    let tops = spread(&wanted, LEFT - 20.0..RIGHT + 20.0, 2.0);
    let pen = Pen::new(ink::GREY, 1.0).dashed("3 3");
    let mut y = LEVELS.top;
    plot.text(
        (LIST, y - 30.0),
        "lost on the way down, at the source's terminals",
        Style::new(14.0, ink::BLACK),
    );
    if losses.is_empty() {
        plot.text((LIST, y), "nothing", Style::new(TEXT, ink::BLACK));
    }
    for (index, ((loss, &x), top)) in losses.iter().zip(&places).zip(tops).enumerate() {
        let sign = (index + 1).to_string();
        for area in [LEVELS, RAILS] {
            plot.line((sharp(x), area.top), (sharp(x), area.bottom), pen);
        }
        if let Some(top) = top {
            plot.line((sharp(x), LEVELS.top), (top, LEVELS.top - 16.0), pen);
            let style = Style::new(TEXT, ink::BLACK).by(Anchor::Middle);
            plot.text((top, LEVELS.top - 26.0), &sign, style);
        }
        let hours = loss.at.hours.map(|hours| format!(", {} h", number(hours, 1)));
        let words = format!(
            "{sign}  {} V{}: {}",
            number(loss.source_v, 2),
            hours.unwrap_or_default(),
            supply_words::lost(scenario, loss.what)
        );
        let words = font::fitted(&words, TEXT, f64::from(WIDTH) - LIST - 12.0);
        plot.text((LIST, y), &words, Style::new(TEXT, ink::BLACK));
        y += ROW;
    }
}

/// Hours since fresh, above the rails.
fn draw_hours(plot: &mut Plot, steps: &[Step], across: &Scale) {
    let y = RAILS.top - 14.0;
    let style = Style::new(TEXT, ink::GREY).by(Anchor::Middle);
    let mut taken = f64::INFINITY;
    for step in steps {
        let Some(hours) = step.at.hours else { continue };
        let words = format!("{} h", number(hours, 1));
        let half = 0.5 * font::width(&words, TEXT) + 4.0;
        let x = across.at(step.at.open_v).clamp(LEFT, RIGHT);
        if x + half < taken {
            taken = x - half;
            plot.text((x, y), &words, style);
            plot.line((sharp(x), RAILS.top - 5.0), (sharp(x), RAILS.top), Pen::new(ink::GREY, 1.0));
        }
    }
}
