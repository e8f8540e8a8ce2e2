//! How often each level comes out at what, one histogram for each.

use crate::analysis::spread::tally::LevelTally;
use crate::base::math;
use crate::output::axis::Axis;
use crate::output::axis::Scale;
use crate::output::axis::Side;
use crate::output::axis::Ticks;
use crate::output::axis::number;
use crate::output::font;
use crate::output::plot::Area;
use crate::output::plot::Pen;
use crate::output::plot::Plot;
use crate::output::plot::PlotError;
use crate::output::plot::Style;
use crate::output::plot::ink;
use crate::output::spread_file::SpreadFile;
use crate::output::window::Window;
use std::io::Write;
use std::ops::Range;

const WIDTH: u32 = 1280;
const TOP: f64 = 96.0;
const ROW: f64 = 210.0;
const COLUMNS: usize = 2;
const LEFT: f64 = 70.0;
const GAP: f64 = 80.0;
const PLOT_HEIGHT: f64 = 110.0;
/// Bars across a histogram, about.
const BARS: usize = 60;

/// Draws the histograms and writes them as PNG. Windows that were asked for are shaded.
///
/// # Errors
///
/// [`PlotError`] if it cannot be drawn or `out` fails.
pub fn write(file: &SpreadFile, windows: &[Window], out: &mut impl Write) -> Result<(), PlotError> {
    draw(file, windows).write_png(out)
}

/// Draws the histograms.
#[must_use]
pub fn draw(file: &SpreadFile, windows: &[Window]) -> Plot {
    let rows = file.levels.len().div_ceil(COLUMNS);
    let height = TOP + ROW * math::from_usize(rows) + 20.0;
    let mut plot = Plot::new(WIDTH, math::floor_u32(height));
    let width = (f64::from(WIDTH) - LEFT - GAP) / 2.0 - GAP / 2.0;
    let title = font::fitted(&file.title, 20.0, f64::from(WIDTH) - 2.0 * LEFT);
    plot.text((LEFT, 30.0), &title, Style::new(20.0, ink::BLACK));
    let shaded = if windows.is_empty() { "" } else { "; grey: the range that is expected" };
    let below = format!("{} boards: how many come out at which level{shaded}", file.tally.boards);
    plot.text((LEFT, 58.0), &below, Style::new(14.0, ink::GREY));
    for (index, name) in file.levels.iter().enumerate() {
        let left = LEFT + (width + GAP) * math::from_usize(index % COLUMNS);
        let top = TOP + ROW * math::from_usize(index / COLUMNS);
        let area =
            Area { left, top: top + 34.0, right: left + width, bottom: top + 34.0 + PLOT_HEIGHT };
        let window = windows.iter().find(|window| window.0 == *name);
        histogram(&mut plot, area, (file, index), window);
    }
    plot
}

fn histogram(
    plot: &mut Plot,
    area: Area,
    (file, index): (&SpreadFile, usize),
    window: Option<&Window>,
) {
    let Some(figures) = file.tally.figures(index) else { return };
    let name = &file.levels[index];
    let kind = if index < 3 { "" } else { " above black" };
    let heading = format!(
        "{name}{kind}: {} mV, nine in ten {} to {}",
        number(1e3 * figures.mean_v, 0),
        number(1e3 * figures.nine_in_ten_v[0], 0),
        number(1e3 * figures.nine_in_ten_v[1], 0)
    );
    plot.text((area.left, area.top - 18.0), &heading, Style::new(14.0, ink::BLACK));
    let bars = bars(&file.tally.levels[index].bins);
    let (first, last) = (bars[0].0.start, bars[bars.len() - 1].0.end);
    let margin = 0.02 * (last - first);
    let ends = [window.and_then(|w| w.1), window.and_then(|w| w.2)].map(|end| end.map(|v| 1e3 * v));
    let low = ends[0].map_or(first, |end| end.min(first)) - margin;
    let high = ends[1].map_or(last, |end| end.max(last)) + margin;
    let scale = Scale { values: low..high, pixels: area.left..area.right };
    if window.is_some() {
        let left = scale.at(ends[0].unwrap_or(low));
        let right = scale.at(ends[1].unwrap_or(high));
        plot.area(Area { left, right, ..area }, ink::FAINT);
        for end in ends.into_iter().flatten() {
            let x = scale.at(end);
            plot.line((x, area.top), (x, area.bottom), Pen::new(ink::GREY, 1.0).dashed("4 3"));
        }
    }
    let most = bars.iter().map(|bar| bar.1).max().unwrap_or(1).max(1);
    for (range, count) in bars.into_iter().filter(|bar| bar.1 > 0) {
        let share = math::from_u64(count) / math::from_u64(most);
        let top = area.bottom - share * area.height();
        let (left, right) = (scale.at(range.start), scale.at(range.end));
        plot.area(
            Area { left, top, right: (right - 0.8).max(left + 0.6), bottom: area.bottom },
            ink::ACCENT,
        );
    }
    let ticks = Ticks::within(&scale.values, 8);
    let (side, line) = (Side::Bottom, area.bottom);
    Axis { side, line, scale: &scale, ticks: &ticks, title: "mV" }.draw(plot);
}

/// Neighbouring bins put together: ranges in mV, and how many.
fn bars(bins: &[u64]) -> Vec<(Range<f64>, u64)> {
    let first = bins.iter().position(|bin| *bin > 0).unwrap_or(0);
    let last = bins.iter().rposition(|bin| *bin > 0).unwrap_or(0);
    let size = (last - first + 1).div_ceil(BARS);
    let millivolts = |bin: usize| 1e3 * LevelTally::bin_v(bin);
    bins[first..=last]
        .chunks(size)
        .enumerate()
        .map(|(index, bins)| {
            let from = first + index * size;
            (millivolts(from)..millivolts(from + size), bins.iter().sum())
        })
        .collect()
}
