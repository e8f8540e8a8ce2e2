//! Clock against core: the curve over the travel, the clocks that a set locks to, the middle.

use crate::analysis::clock::lock::Windows;
use crate::analysis::clock::tank;
use crate::analysis::clock::tank::MIDDLE;
use crate::base::math;
use crate::output::axis::Axis;
use crate::output::axis::Scale;
use crate::output::axis::Side;
use crate::output::axis::Ticks;
use crate::output::axis::number;
use crate::output::clock_table::megahertz;
use crate::output::clock_table::picofarads;
use crate::output::clock_table::tank_words;
use crate::output::clock_table::travel;
use crate::output::font;
use crate::output::label::Wanted;
use crate::output::label::spread;
use crate::output::plot::Anchor;
use crate::output::plot::Area;
use crate::output::plot::Fullness;
use crate::output::plot::Pen;
use crate::output::plot::Plot;
use crate::output::plot::PlotError;
use crate::output::plot::Style;
use crate::output::plot::ink;
use crate::output::plot::sharp;
use crate::signal::tank::Tank;
use std::io::Write;

const WIDTH: u32 = 1200;
const HEIGHT: u32 = 760;
const PANEL: Area = Area { left: 110.0, top: 116.0, right: 820.0, bottom: 660.0 };
/// Right end of the column of names.
const EDGE: f64 = 1090.0;
/// From the panel to the column of names.
const LEADER: f64 = 26.0;
const NAME_TEXT: f64 = 13.0;
/// How much the strays may be off, F: a quarter of the usual 20 pF.
const STRAY_DOUBT_FARADS: f64 = 5e-12;

/// How much the strays of a tank may be off, F: never more than half of what there is.
fn stray_doubt(tank: &Tank) -> f64 {
    STRAY_DOUBT_FARADS.min(0.5 * tank.farads())
}

/// What is drawn.
#[derive(Clone, Copy, Debug)]
pub struct ClockView<'a> {
    /// A tank with a core to turn.
    pub tank: &'a Tank,
    /// The kind of set, by its name.
    pub set: &'static str,
    /// What it locks to.
    pub windows: &'a Windows,
    /// Clocks in a line.
    pub clocks_per_line: u32,
    /// One line about the board.
    pub title: &'a str,
}

/// Draws the view and writes it as PNG.
///
/// # Errors
///
/// [`PlotError`] if it cannot be drawn or `out` fails.
pub fn write(view: &ClockView<'_>, out: &mut impl Write) -> Result<(), PlotError> {
    draw(view).write_png(out)
}

/// Draws the view.
#[must_use]
pub fn draw(view: &ClockView<'_>) -> Plot {
    let mut plot = Plot::new(WIDTH, HEIGHT);
    let title = font::fitted(view.title, 19.0, EDGE - PANEL.left);
    plot.text((PANEL.left, 34.0), &title, Style::new(19.0, ink::BLACK));
    let words = font::fitted(&tank_words(view.tank), 14.0, EDGE - PANEL.left);
    plot.text((PANEL.left, 62.0), &words, Style::new(14.0, ink::GREY));
    let across = Scale { values: 0.0..100.0, pixels: PANEL.left..PANEL.right };
    let up = Scale { values: clocks(view), pixels: PANEL.bottom..PANEL.top };
    draw_windows(&mut plot, view, &up);
    draw_middle(&mut plot, &across);
    draw_axes(&mut plot, view, &across, &up);
    draw_curves(&mut plot, view, &across, &up);
    plot
}

/// The clocks of the panel, MHz: the curves and, as far as it is near, what locks.
fn clocks(view: &ClockView<'_>) -> std::ops::Range<f64> {
    let doubt = stray_doubt(view.tank);
    let ends = [
        view.tank.loaded(doubt).with_core(1.0).hertz(),
        view.tank.loaded(-doubt).with_core(0.0).hertz(),
    ];
    let locks = view.windows.locks();
    let low = ends[0].min(locks.low_hz).max(0.7 * ends[0]);
    let high = ends[1].max(locks.high_hz).min(1.3 * ends[1]);
    let air = 0.04 * (high - low);
    (low - air) / 1e6..(high + air) / 1e6
}

/// The part of the panel between two clocks.
fn band(up: &Scale, low_hz: f64, high_hz: f64) -> Area {
    let height = |hertz: f64| up.at(hertz / 1e6).clamp(PANEL.top, PANEL.bottom);
    Area { top: height(high_hz), bottom: height(low_hz), ..PANEL }
}

fn draw_windows(plot: &mut Plot, view: &ClockView<'_>, up: &Scale) {
    let locks = view.windows.locks();
    if locks.low_hz < locks.high_hz {
        plot.area(band(up, locks.low_hz, locks.high_hz), ink::BAND);
    }
    let mut names = Vec::new();
    let lines = [
        (locks.low_hz, "lock from", Pen::new(ink::PALE, 1.0)),
        (locks.high_hz, "lock up to", Pen::new(ink::PALE, 1.0)),
        (view.windows.hold.low_hz, "hold from", Pen::new(ink::PALE, 1.0).dashed("7 4")),
        (view.windows.hold.high_hz, "hold up to", Pen::new(ink::PALE, 1.0).dashed("7 4")),
        (view.windows.nominal_hz, "line rate exact", Pen::new(ink::GREY, 1.0).dashed("2 3")),
    ];
    for (hertz, word, pen) in lines {
        let height = up.at(hertz / 1e6);
        if (PANEL.top..=PANEL.bottom).contains(&height) {
            let height = sharp(height);
            plot.line((PANEL.left, height), (PANEL.right, height), pen);
            names.push((height, format!("{word} {}", megahertz(hertz)), ink::BLACK));
        }
    }
    let stands = view.tank.hertz();
    let words = format!("as it stands {}", megahertz(stands));
    names.push((sharp(up.at(stands / 1e6)), words, ink::ACCENT));
    draw_names(plot, &names);
}

/// The names of levels in a column at the right, each tied to its line.
fn draw_names(plot: &mut Plot, names: &[(f64, String, &'static str)]) {
    let wanted: Vec<Wanted> = names
        .iter()
        .map(|(height, _, _)| Wanted { middle: *height, length: NAME_TEXT + 4.0 })
        .collect();
    let places = spread(&wanted, PANEL.top - 8.0..PANEL.bottom + 8.0, 1.0);
    for ((height, words, ink), place) in names.iter().zip(places) {
        let Some(place) = place else { continue };
        let right = PANEL.right;
        let way = [(right, *height), (right + 6.0, *height), (right + LEADER - 6.0, place)];
        plot.path(&way, Pen::new(ink::PALE, 1.0));
        plot.text((PANEL.right + LEADER, place), words, Style::new(NAME_TEXT, ink));
    }
}

fn draw_middle(plot: &mut Plot, across: &Scale) {
    for edge in [MIDDLE.0, MIDDLE.1] {
        let x = sharp(across.at(100.0 * edge));
        plot.line((x, PANEL.top - 14.0), (x, PANEL.bottom), Pen::new(ink::GREY, 1.0));
    }
    let [left, right] = [MIDDLE.0, MIDDLE.1].map(|edge| across.at(100.0 * edge));
    let words =
        format!("middle of the travel, {} to {}", number(100.0 * MIDDLE.0, 0), travel(MIDDLE.1));
    let style = Style::new(NAME_TEXT, ink::GREY).by(Anchor::Middle);
    plot.text((f64::midpoint(left, right), PANEL.top - 10.0), &words, style);
}

fn draw_axes(plot: &mut Plot, view: &ClockView<'_>, across: &Scale, up: &Scale) {
    let ticks = Ticks::within(&across.values, 10);
    let title = "core, % of its travel: 0 out, 100 in";
    Axis { side: Side::Bottom, line: PANEL.bottom, scale: across, ticks: &ticks, title }.draw(plot);
    let ticks = Ticks::within(&up.values, math::floor_index(PANEL.height() / 45.0));
    let title = "clock, MHz";
    Axis { side: Side::Left, line: PANEL.left, scale: up, ticks: &ticks, title }.draw(plot);
    let lines = up.recounted(0.0, 1e3 / f64::from(view.clocks_per_line));
    let ticks = Ticks::within(&lines.values, math::floor_index(PANEL.height() / 45.0));
    let title = "line rate, kHz";
    Axis { side: Side::Right, line: EDGE, scale: &lines, ticks: &ticks, title }.draw(plot);
}

fn draw_curves(plot: &mut Plot, view: &ClockView<'_>, across: &Scale, up: &Scale) {
    let points = |tank: &Tank| -> Vec<(f64, f64)> {
        let curve = tank::travel(tank).into_iter();
        curve.map(|(core, hertz)| (across.at(100.0 * core), up.at(hertz / 1e6))).collect()
    };
    let doubt = stray_doubt(view.tank);
    for more in [-doubt, doubt] {
        plot.path(&points(&view.tank.loaded(more)), Pen::new(ink::GREY, 1.2).dashed("5 4"));
    }
    plot.path(&points(view.tank), Pen::new(ink::ACCENT, 2.5));
    let (core, hertz) = (view.tank.coil.core, view.tank.hertz());
    let at = (across.at(100.0 * core), up.at(hertz / 1e6));
    plot.line(at, (PANEL.right, sharp(at.1)), Pen::new(ink::ACCENT, 1.0).dashed("1 3"));
    plot.mark(at, Fullness::Full);
    let words = format!(
        "shaded: a {} locks; broken curves: {} less and more across the coil; inductance taken \
         straight over the travel",
        view.set,
        picofarads(doubt)
    );
    plot.text((PANEL.left, 734.0), &words, Style::new(NAME_TEXT, ink::GREY));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::clock::Counts;
    use crate::scenario::set_library::KINDS;
    use crate::scenario::set_library::Kind;
    use crate::scenario::set_library::Standard;
    use crate::signal::tank::Coil;
    use crate::signal::tank::TankCapacitor;

    #[test]
    fn no_two_texts_overlap_and_all_lie_on_the_paper() {
        let counts = Counts { clocks_per_line: 128, lines_per_field: 312 };
        for (core, henries) in [(0.0, 25.5e-6), (0.5, 26.4e-6), (1.0, 22e-6), (0.62, 40e-6)] {
            let coil = Coil { henries, range: 0.15, core, quality: None, per_kelvin: 0.0 };
            let capacitor = TankCapacitor::Split([470e-12, 470e-12]);
            let tank = Tank {
                coil,
                capacitor,
                stray_farads: 20e-12,
                tap: None,
                celsius: 25.0,
                capacitor_per_kelvin: 0.0,
            };
            for kind in KINDS {
                let windows = &Windows::of_kind(kind, Standard::Lines625, counts);
                let (title, set) = ("a board", kind.name());
                let view = ClockView { tank: &tank, set, windows, clocks_per_line: 128, title };
                let plot = draw(&view);
                let texts = plot.texts();
                for (index, text) in texts.iter().enumerate() {
                    assert!(texts[..index].iter().all(|other| !text.overlaps(other)), "{core}");
                    assert!(text.left > 0.0 && text.right < f64::from(WIDTH), "{core} {text:?}");
                }
            }
        }
    }

    /// 3 pF in all: 5 pF less would be a tank of no frequency.
    #[test]
    fn a_tank_of_less_than_the_doubt_is_drawn_with_half_of_it() {
        let coil = Coil { henries: 1e-3, range: 0.15, core: 0.5, quality: None, per_kelvin: 0.0 };
        let tank = Tank {
            coil,
            capacitor: TankCapacitor::One(2e-12),
            stray_farads: 1e-12,
            tap: None,
            celsius: 25.0,
            capacitor_per_kelvin: 0.0,
        };
        assert!((stray_doubt(&tank) - 1.5e-12).abs() < 1e-20);
        let counts = Counts { clocks_per_line: 128, lines_per_field: 312 };
        let windows = &Windows::of_kind(Kind::TubeSet, Standard::Lines625, counts);
        let view =
            ClockView { tank: &tank, set: "tube-set", windows, clocks_per_line: 128, title: "" };
        let range = clocks(&view);
        assert!(range.start.is_finite() && range.end.is_finite() && range.start < range.end);
        let svg = draw(&view).svg();
        assert!(svg.contains("1.5 pF less and more") && !svg.contains("NaN"));
    }
}
