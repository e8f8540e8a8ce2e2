//! Levels against a setting, a panel for each; with two settings a curve for each value of the second.

use crate::base::math;
use crate::output::axis::Axis;
use crate::output::axis::Scale;
use crate::output::axis::Side;
use crate::output::axis::Ticks;
use crate::output::font;
use crate::output::label;
use crate::output::label::Wanted;
use crate::output::plot::Anchor;
use crate::output::plot::Area;
use crate::output::plot::Pen;
use crate::output::plot::Plot;
use crate::output::plot::PlotError;
use crate::output::plot::Style;
use crate::output::plot::ink;
use crate::output::vary_rows::VaryRows;
use crate::output::window::Window;
use std::io::Write;

const WIDTH: u32 = 1360;
const TOP: f64 = 100.0;
const ROW: f64 = 290.0;
const COLUMNS: usize = 2;
const LEFT: f64 = 90.0;
const PLOT_HEIGHT: f64 = 190.0;
/// Room for the names of curves at their right ends.
const NAMES: f64 = 70.0;
const GAP: f64 = 70.0;
/// Marks that a setting without numbers, or with few values, gets its own name at.
const MOST_NAMED: usize = 14;

/// Draws the panels and writes them as PNG. Windows that are wanted are shaded.
///
/// # Errors
///
/// [`PlotError`] if it cannot be drawn or `out` fails.
pub fn write(rows: &VaryRows, windows: &[Window], out: &mut impl Write) -> Result<(), PlotError> {
    draw(rows, windows).write_png(out)
}

/// Draws the panels.
#[must_use]
pub fn draw(rows: &VaryRows, windows: &[Window]) -> Plot {
    let count = rows.levels.len().div_ceil(COLUMNS);
    let height = TOP + ROW * math::from_usize(count) + 20.0;
    let mut plot = Plot::new(WIDTH, math::floor_u32(height));
    let title = font::fitted(&rows.title, 20.0, f64::from(WIDTH) - 2.0 * LEFT);
    plot.text((LEFT, 30.0), &title, Style::new(20.0, ink::BLACK));
    let shaded = if windows.is_empty() { "" } else { "; grey: the range that is expected" };
    let curves = match rows.settings.get(1) {
        Some(second) => format!(", a curve for each value of {}", second.path),
        None => String::new(),
    };
    let below = format!("Levels against {}{curves}{shaded}", rows.settings[0].path);
    plot.text((LEFT, 60.0), &below, Style::new(14.0, ink::GREY));
    let columns = math::from_usize(COLUMNS);
    let width = (f64::from(WIDTH) - LEFT - columns * (NAMES + GAP) + GAP - 20.0) / columns;
    for (level, name) in rows.levels.iter().enumerate() {
        let left = LEFT + (width + NAMES + GAP) * math::from_usize(level % COLUMNS);
        let top = TOP + ROW * math::from_usize(level / COLUMNS) + 30.0;
        let area = Area { left, top, right: left + width, bottom: top + PLOT_HEIGHT };
        let window = windows.iter().find(|window| window.0 == *name);
        panel(&mut plot, area, (rows, level), window);
    }
    plot
}

/// Where the values of the first setting lie: by their numbers if they have any and rise, otherwise
/// evenly in their order.
fn places(rows: &VaryRows) -> (Vec<f64>, bool) {
    let values = &rows.settings[0].values;
    let numbers: Option<Vec<f64>> = values.iter().map(|value| value.number).collect();
    let even = |count: usize| (0..count).map(math::from_usize).collect();
    match numbers {
        Some(numbers) if numbers.len() > 1 && numbers.windows(2).all(|pair| pair[0] < pair[1]) => {
            // Values that grow by ratios, as preferred ones do, are best read evenly.
            let ratio = numbers[numbers.len() - 1] / numbers[0];
            let by_number = numbers[0] <= 0.0 || ratio < 5.0 || values.len() > MOST_NAMED;
            if by_number { (numbers, true) } else { (even(values.len()), false) }
        }
        _ => (even(values.len()), false),
    }
}

fn panel(plot: &mut Plot, area: Area, (rows, level): (&VaryRows, usize), window: Option<&Window>) {
    let kind = if level < 3 { "" } else { " above black" };
    let heading = format!("{}{kind}, mV", rows.levels[level]);
    plot.text((area.left, area.top - 16.0), &heading, Style::new(14.0, ink::BLACK));
    let (places, by_number) = places(rows);
    let curves = curves(rows, level);
    let ends = [window.and_then(|w| w.1), window.and_then(|w| w.2)].map(|end| end.map(|v| 1e3 * v));
    let all = curves.iter().flatten().flatten().copied().chain(ends.into_iter().flatten());
    let (least, most) = all.fold((0.0_f64, 1.0_f64), |(l, m), v| (l.min(v), m.max(v)));
    let margin = 0.06 * (most - least);
    let volts = Scale { values: least - margin..most + margin, pixels: area.bottom..area.top };
    let last = places.len().saturating_sub(1);
    let span = if places.len() > 1 { places[0]..places[last] } else { -0.5..0.5 };
    let across = Scale { values: span, pixels: area.left..area.right };
    if window.is_some() {
        let top = ends[1].map_or(area.top, |end| volts.at(end));
        let bottom = ends[0].map_or(area.bottom, |end| volts.at(end));
        plot.area(Area { top, bottom, ..area }, ink::FAINT);
        for end in ends.into_iter().flatten() {
            let y = volts.at(end);
            plot.line((area.left, y), (area.right, y), Pen::new(ink::GREY, 1.0).dashed("4 3"));
        }
    }
    draw_curves(plot, area, (rows, &curves), (&across, &places, &volts));
    let ticks = Ticks::within(&volts.values, 6);
    Axis { side: Side::Left, line: area.left, scale: &volts, ticks: &ticks, title: "" }.draw(plot);
    if by_number {
        let ticks = Ticks::within(&across.values, 8);
        let title = rows.settings[0].path.as_str();
        Axis { side: Side::Bottom, line: area.bottom, scale: &across, ticks: &ticks, title }
            .draw(plot);
    } else {
        named_axis(plot, area, rows, (&across, &places));
    }
}

/// mV by value of the second setting, then by value of the first.
fn curves(rows: &VaryRows, level: usize) -> Vec<Vec<Option<f64>>> {
    let firsts = rows.settings[0].values.len();
    let seconds = rows.settings.get(1).map_or(1, |second| second.values.len());
    let at = |first: usize, second: usize| {
        let point = rows.points.get(first * seconds + second)?.as_ref().ok()?;
        point.levels[level].map(|volts| 1e3 * volts)
    };
    (0..seconds).map(|second| (0..firsts).map(|first| at(first, second)).collect()).collect()
}

fn draw_curves(
    plot: &mut Plot,
    area: Area,
    (rows, curves): (&VaryRows, &[Vec<Option<f64>>]),
    (across, places, volts): (&Scale, &[f64], &Scale),
) {
    let mut names: Vec<(f64, &str)> = Vec::new();
    for (index, curve) in curves.iter().enumerate() {
        let pen = pen(index, curves.len());
        let points: Vec<(f64, f64)> = curve
            .iter()
            .zip(places)
            .filter_map(|(millivolts, &place)| Some((across.at(place), volts.at((*millivolts)?))))
            .collect();
        plot.path(&points, pen);
        if curve.len() <= MOST_NAMED {
            for &(x, y) in &points {
                plot.area(
                    Area { left: x - 2.5, top: y - 2.5, right: x + 2.5, bottom: y + 2.5 },
                    pen.ink,
                );
            }
        }
        let second = rows.settings.get(1).map(|second| second.values[index].label.as_str());
        names.extend(points.last().map(|point| point.1).zip(second));
    }
    let wanted: Vec<Wanted> =
        names.iter().map(|&(middle, _)| Wanted { middle, length: 14.0 }).collect();
    let room = area.top..area.bottom;
    for (place, (_, name)) in label::spread(&wanted, room, 1.0).into_iter().zip(names) {
        if let Some(middle) = place {
            plot.text((area.right + 8.0, middle), name, Style::new(13.0, ink::GREY));
        }
    }
}

/// One curve in the accent colour; of several the first and the last stand out.
fn pen(index: usize, of: usize) -> Pen {
    match index {
        _ if of == 1 => Pen::new(ink::ACCENT, 2.0),
        0 => Pen::new(ink::ACCENT, 2.0),
        _ if index + 1 == of => Pen::new(ink::BLACK, 1.6),
        _ => Pen::new(ink::GREY, 1.0),
    }
}

fn named_axis(plot: &mut Plot, area: Area, rows: &VaryRows, (across, places): (&Scale, &[f64])) {
    let pen = Pen::new(ink::BLACK, 1.0);
    plot.line((area.left, area.bottom), (area.right, area.bottom), pen);
    let style = Style::new(13.0, ink::BLACK).by(Anchor::Middle);
    let mut taken = f64::NEG_INFINITY;
    for (value, &place) in rows.settings[0].values.iter().zip(places) {
        let x = across.at(place);
        plot.line((x, area.bottom), (x, area.bottom + 6.0), pen);
        let half = 0.5 * font::width(&value.label, 13.0) + 4.0;
        if x - half > taken {
            taken = x + half;
            plot.text((x, area.bottom + 17.0), &value.label, style);
        }
    }
    let middle = (area.middle(), area.bottom + 42.0);
    plot.text(middle, &rows.settings[0].path, Style::new(14.0, ink::BLACK).by(Anchor::Middle));
}
