//! A panel of curves: volts up its left side, IRE up its right, level lines with their names in a
//! column beside the curves.

use crate::analysis::reading::FieldReading;
use crate::base::math;
use crate::base::units::Ire;
use crate::base::units::VOLTS_PER_IRE;
use crate::base::units::Volts;
use crate::output::axis::Axis;
use crate::output::axis::Scale;
use crate::output::axis::Side;
use crate::output::axis::Ticks;
use crate::output::axis::number;
use crate::output::font;
use crate::output::label::Wanted;
use crate::output::label::spread;
use crate::output::plot::Area;
use crate::output::plot::Pen;
use crate::output::plot::Plot;
use crate::output::plot::Style;
use crate::output::plot::ink;
use crate::output::plot::sharp;
use crate::receiver::spec::Reception;

/// Blanking at the socket, V: the back porch as the set measured it, or the unlit active line where
/// it found no sync.
#[must_use]
pub fn blanking_v(reception: &Reception, reading: &FieldReading) -> f64 {
    reception.sync.map_or(reading.black_v, |sync| sync.porch_v)
}

/// A level, or the end of a curve, to be named in the column.
#[derive(Clone, Debug, PartialEq)]
pub struct Named {
    /// Where, V.
    pub volts: f64,
    /// What it is.
    pub words: String,
    /// How its line is drawn.
    pub pen: Pen,
    /// A level's line crosses the panel; a curve has its own.
    pub kind: NamedKind,
}

/// What a name in the column belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NamedKind {
    /// A level.
    Level,
    /// A curve.
    Curve,
}

/// The panel.
#[derive(Clone, Debug, PartialEq)]
pub struct Panel {
    /// Where the curves are.
    pub area: Area,
    /// Right end of the column of names.
    pub edge: f64,
    /// Volts to pixels.
    pub volts: Scale,
}

const NAME_TEXT: f64 = 13.0;
/// Distance from the curves to the names.
const LEADER: f64 = 30.0;

impl Panel {
    /// A panel in which all of `volts` can be seen, with some air above and below.
    #[must_use]
    pub fn new(area: Area, edge: f64, volts: impl IntoIterator<Item = f64>) -> Self {
        let (low, high) = volts
            .into_iter()
            .filter(|level| level.is_finite())
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)));
        let (low, high) = if low <= high { (low, high) } else { (0.0, 0.0) };
        // A flat line, too, needs a scale: a twentieth of a volt around it.
        let air = (0.06 * (high - low)).max(0.05);
        let volts = Scale { values: low - air..high + air, pixels: area.bottom..area.top };
        Self { area, edge, volts }
    }

    /// Draws grid, frame and the axis of volts.
    pub fn draw_frame(&self, plot: &mut Plot, title: &str) {
        let Area { left, top, right, bottom } = self.area;
        let ticks = Ticks::within(&self.volts.values, self.tick_count());
        for &value in &ticks.values {
            let height = sharp(self.volts.at(value));
            plot.line((left, height), (right, height), Pen::new(ink::FAINT, 1.0));
        }
        let frame = Area {
            left: sharp(left),
            top: sharp(top),
            right: sharp(self.edge),
            bottom: sharp(bottom),
        };
        plot.outline(frame, Pen::new(ink::PALE, 1.0));
        let axis = Axis { side: Side::Left, line: left, scale: &self.volts, ticks: &ticks, title };
        axis.draw(plot);
    }

    /// Draws the axis of IRE.
    pub fn draw_ire(&self, plot: &mut Plot, blanking_v: f64) {
        let scale = self.volts.recounted(blanking_v, 1.0 / VOLTS_PER_IRE);
        let ticks = Ticks::within(&scale.values, self.tick_count());
        let title = "from blanking, IRE";
        Axis { side: Side::Right, line: self.edge, scale: &scale, ticks: &ticks, title }.draw(plot);
    }

    /// Draws level lines across the panel; to be drawn before the curves.
    pub fn draw_levels(&self, plot: &mut Plot, named: &[Named]) {
        for level in named.iter().filter(|level| level.kind == NamedKind::Level) {
            let height = sharp(self.volts.at(level.volts));
            plot.line((self.area.left, height), (self.area.right, height), level.pen);
        }
    }

    /// Writes the names into the column, each tied to its line.
    pub fn draw_names(&self, plot: &mut Plot, named: &[Named]) {
        let Area { top, right, bottom, .. } = self.area;
        let heights: Vec<f64> =
            named.iter().map(|name| self.volts.at(name.volts).clamp(top, bottom)).collect();
        let wanted: Vec<Wanted> = heights
            .iter()
            .map(|&height| Wanted { middle: height, length: NAME_TEXT + 3.0 })
            .collect();
        let places = spread(&wanted, top + 2.0..bottom - 2.0, 1.0);
        for ((name, height), place) in named.iter().zip(heights).zip(places) {
            let Some(place) = place else { continue };
            let height = sharp(height);
            let elbow = [(right, height), (right + 6.0, height), (right + LEADER - 6.0, place)];
            plot.path(&[&elbow[..], &[(right + LEADER - 2.0, place)]].concat(), name.pen);
            let words = font::fitted(&name.words, NAME_TEXT, self.edge - right - LEADER - 8.0);
            let ink = if name.pen.ink == ink::ACCENT { ink::ACCENT } else { ink::BLACK };
            plot.text((right + LEADER + 3.0, place), &words, Style::new(NAME_TEXT, ink));
        }
    }

    fn tick_count(&self) -> usize {
        math::floor_index(self.area.height() / 38.0).max(2)
    }
}

/// The levels worth a line: black, slice and tip as measured, and where white should be:
/// the span by which the words are chosen above blanking.
#[must_use]
pub fn levels(reception: &Reception, reading: &FieldReading) -> Vec<Named> {
    let white_v = blanking_v(reception, reading) + reading.span_v;
    let level = |volts: f64, name: &str, dash: &'static str| Named {
        volts,
        words: format!("{name}, {} mV", number(1e3 * volts, 0)),
        pen: Pen::new(ink::GREY, 1.0).dashed(dash),
        kind: NamedKind::Level,
    };
    let mut named = vec![
        level(reading.black_v, "black", ""),
        level(white_v, "nominal white", "7 4"),
        level(reading.tip_v, "sync tip", ""),
    ];
    named.extend(reception.sync.map(|sync| level(sync.slice_v, "slicing level", "2 3")));
    named
}

/// A level in IRE.
#[must_use]
pub fn ire(volts: f64, blanking_v: f64) -> Ire {
    Ire::from_volts(Volts(volts - blanking_v))
}

#[cfg(test)]
mod tests {
    use super::*;

    const AREA: Area = Area { left: 100.0, top: 0.0, right: 500.0, bottom: 300.0 };

    #[test]
    fn names_of_levels_close_together_do_not_overlap() {
        let panel = Panel::new(AREA, 680.0, [0.0, 1.0]);
        let named: Vec<Named> = [0.300, 0.301, 0.302, 0.31]
            .map(|volts| Named {
                volts,
                words: "slicing level".into(),
                pen: Pen::new(ink::GREY, 1.0),
                kind: NamedKind::Level,
            })
            .into();
        let mut plot = Plot::new(700, 300);
        panel.draw_names(&mut plot, &named);
        let texts = plot.texts();
        assert_eq!(texts.len(), 4);
        assert!((0..4).all(|a| (0..a).all(|b| !texts[a].overlaps(&texts[b]))));
    }

    #[test]
    fn white_is_named_a_span_above_blanking() {
        let sample = crate::output::sample::fifty();
        let mut reading = sample.field_view().reading.clone();
        let mut white = |span_v: f64| {
            reading.span_v = span_v;
            let named = levels(sample.field_view().reception, &reading);
            let white = named.into_iter().find(|level| level.words.starts_with("nominal white"));
            white.map(|white| white.volts)
        };
        assert!((white(0.7).unwrap() - 1.03).abs() < 1e-9);
        assert!((white(0.45).unwrap() - 0.78).abs() < 1e-9);
    }

    #[test]
    fn a_panel_of_a_flat_line_has_a_scale() {
        let panel = Panel::new(AREA, 680.0, [2.5, 2.5, f64::NAN]);
        assert!((panel.volts.at(2.5) - 150.0).abs() < 1e-9);
    }

    #[test]
    fn ire_are_counted_from_blanking_at_140_to_the_volt() {
        assert!((ire(1.3, 0.3).0 - 140.0).abs() < 1e-9);
        assert!((ire(0.0, 0.286).0 + 40.04).abs() < 1e-9);
    }
}
