//! Scales, tick marks on round numbers, and axes.

use crate::base::math;
use crate::output::font;
use crate::output::plot::Anchor;
use crate::output::plot::Pen;
use crate::output::plot::Plot;
use crate::output::plot::Style;
use crate::output::plot::ink;
use crate::output::plot::sharp;
use std::ops::Range;

/// A straight-line relation between values and pixels. Either range may run downwards.
#[derive(Clone, Debug, PartialEq)]
pub struct Scale {
    /// Values at the two ends.
    pub values: Range<f64>,
    /// Pixels at the same two ends.
    pub pixels: Range<f64>,
}

impl Scale {
    /// Where a value lies; values past the ends lie past the ends.
    #[must_use]
    pub fn at(&self, value: f64) -> f64 {
        let share = (value - self.values.start) / (self.values.end - self.values.start);
        math::lerp(self.pixels.start, self.pixels.end, share)
    }

    /// The same pixels for values counted otherwise: `factor` times as many, from `zero` on.
    #[must_use]
    pub fn recounted(&self, zero: f64, factor: f64) -> Self {
        let recount = |value: f64| (value - zero) * factor;
        Self {
            values: recount(self.values.start)..recount(self.values.end),
            pixels: self.pixels.clone(),
        }
    }
}

/// Tick marks at multiples of 1, 2 or 5 times a power of ten.
#[derive(Clone, Debug, PartialEq)]
pub struct Ticks {
    /// Where they are, rising.
    pub values: Vec<f64>,
    /// Decimals they need.
    pub decimals: usize,
}

impl Ticks {
    /// The finest marks of which no more than `at_most` + 1 lie in a range; none in an empty range.
    #[must_use]
    pub fn within(range: &Range<f64>, at_most: usize) -> Self {
        let span = range.end - range.start;
        if !span.is_finite() || span <= 0.0 || at_most == 0 {
            return Self { values: Vec::new(), decimals: 0 };
        }
        let coarse = span / math::from_usize(at_most);
        let exponent = math::floor(math::log10(coarse));
        let power = math::pow(10.0, exponent);
        let factor = [1.0, 2.0, 5.0].into_iter().find(|factor| factor * power >= coarse);
        // Past 5 the next step is the next power of ten.
        let (factor, exponent) = factor.map_or((1.0, exponent + 1.0), |factor| (factor, exponent));
        let step = factor * math::pow(10.0, exponent);
        // A bound that is a multiple but for its last bit counts as one.
        let first = math::ceil(range.start / step - 1e-9);
        let last = math::floor(range.end / step + 1e-9);
        let count = math::floor_index(last - first + 1.0);
        let values = (0..count).map(|mark| (first + math::from_usize(mark)) * step).collect();
        Self { values, decimals: math::floor_index(-exponent) }
    }

    /// A tick's number, with a minus sign and not a hyphen.
    #[must_use]
    pub fn text(&self, value: f64) -> String {
        number(value, self.decimals)
    }
}

/// A number as print has it: a minus sign for a hyphen, and no minus on a zero.
#[must_use]
pub fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(zero) if zero.chars().all(|figure| figure == '0' || figure == '.') => zero.into(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

/// The same without zeros at the end of its decimals.
#[must_use]
pub fn trimmed(value: f64, decimals: usize) -> String {
    let text = number(value, decimals);
    if !text.contains('.') {
        return text;
    }
    text.trim_end_matches('0').trim_end_matches('.').into()
}

/// Which side of a plot an axis is on; ticks and numbers point outwards.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Above.
    Top,
    /// Below.
    Bottom,
    /// On the left.
    Left,
    /// On the right.
    Right,
}

/// An axis to draw.
#[derive(Clone, Debug)]
pub struct Axis<'a> {
    /// Which side.
    pub side: Side,
    /// Where its line is: `y` of a level one, `x` of an upright one.
    pub line: f64,
    /// Values to pixels along it.
    pub scale: &'a Scale,
    /// Its marks.
    pub ticks: &'a Ticks,
    /// What it counts, with the unit.
    pub title: &'a str,
}

/// Size of the numbers and titles of an axis.
pub const AXIS_TEXT: f64 = 14.0;
const TICK: f64 = 6.0;
const AXIS_PEN: Pen = Pen::new(ink::BLACK, 1.0);

impl Axis<'_> {
    /// Draws line, ticks, numbers and title. Of numbers that would touch, the later is left out.
    pub fn draw(&self, plot: &mut Plot) {
        let ends = [self.scale.pixels.start, self.scale.pixels.end];
        plot.line(self.point(ends[0], 0.0), self.point(ends[1], 0.0), AXIS_PEN);
        let mut taken = f64::NEG_INFINITY;
        for &value in &self.ticks.values {
            let along = sharp(self.scale.at(value));
            plot.line(self.point(along, 0.0), self.point(along, TICK), AXIS_PEN);
            let text = self.ticks.text(value);
            let half = self.extent(&text) / 2.0;
            // Upright axes rise in values as they fall in pixels.
            let place = if self.is_level() { along } else { -along };
            if place - half > taken {
                taken = place + half;
                plot.text(self.point(along, TICK + self.number_gap()), &text, self.number_style());
            }
        }
        self.draw_title(plot);
    }

    fn draw_title(&self, plot: &mut Plot) {
        let pixels = &self.scale.pixels;
        let middle = f64::midpoint(pixels.start, pixels.end);
        let style = Style::new(AXIS_TEXT, ink::BLACK).by(Anchor::Middle);
        match self.side {
            // The numbers above leave no room for a title but beside them.
            Side::Top => {
                let at = (pixels.start - 26.0, self.line - TICK - self.number_gap());
                plot.text(at, self.title, style.by(Anchor::End));
            }
            Side::Bottom => plot.text((middle, self.line + 44.0), self.title, style),
            Side::Left | Side::Right => {
                plot.text_upward(self.point(middle, 64.0), self.title, style);
            }
        }
    }

    /// A point by its place along the axis and its distance outwards.
    fn point(&self, along: f64, out: f64) -> (f64, f64) {
        let line = sharp(self.line);
        match self.side {
            Side::Top => (along, line - out),
            Side::Bottom => (along, line + out),
            Side::Left => (line - out, along),
            Side::Right => (line + out, along),
        }
    }

    fn is_level(&self) -> bool {
        matches!(self.side, Side::Top | Side::Bottom)
    }

    /// Room a number takes along the axis, with some air.
    fn extent(&self, text: &str) -> f64 {
        if self.is_level() { font::width(text, AXIS_TEXT) + 8.0 } else { AXIS_TEXT + 2.0 }
    }

    fn number_gap(&self) -> f64 {
        if self.is_level() { 10.0 } else { 5.0 }
    }

    fn number_style(&self) -> Style {
        let anchor = match self.side {
            Side::Top | Side::Bottom => Anchor::Middle,
            Side::Left => Anchor::End,
            Side::Right => Anchor::Start,
        };
        Style::new(AXIS_TEXT, ink::BLACK).by(anchor)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn ticks_stand_on_round_numbers() {
        let ticks = Ticks::within(&(-5.0..140.0), 15);
        assert_eq!(ticks.values[..3], [0.0, 10.0, 20.0]);
        assert_eq!(ticks.text(130.0), "130");
        let ticks = Ticks::within(&(-0.11..1.13), 8);
        let texts: Vec<String> = ticks.values.iter().map(|&value| ticks.text(value)).collect();
        assert_eq!(texts, ["0.0", "0.2", "0.4", "0.6", "0.8", "1.0"]);
    }

    #[test]
    fn a_bound_that_is_a_round_number_carries_a_tick() {
        let ticks = Ticks::within(&(0.0..0.3), 3);
        assert_eq!(ticks.values.len(), 4);
        assert_eq!(ticks.text(ticks.values[3]), "0.3");
    }

    #[test]
    fn negative_numbers_have_a_minus_sign_and_zero_has_none() {
        assert_eq!(number(-40.0, 0), "−40");
        assert_eq!(number(-0.001, 2), "0.00");
        assert_eq!(trimmed(2.0, 6), "2");
        assert_eq!(trimmed(2.012_160, 6), "2.01216");
        assert_eq!(trimmed(100.0, 0), "100");
    }

    #[test]
    fn an_empty_range_has_no_ticks() {
        assert_eq!(Ticks::within(&(1.0..1.0), 5).values, Vec::<f64>::new());
        assert_eq!(Ticks::within(&(f64::NAN..1.0), 5).values, Vec::<f64>::new());
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn ticks_lie_in_their_range_and_are_neither_many_nor_few(
            start in -1e3..1e3,
            span in 1e-3..1e4,
            at_most in 3_usize..20,
        ) {
            let range = start..start + span;
            let ticks = Ticks::within(&range, at_most);
            prop_assert!(ticks.values.len() <= at_most + 1);
            prop_assert!(ticks.values.len() * 3 >= at_most - 2);
            let slack = 1e-6 * span;
            prop_assert!(ticks.values.iter().all(|&value| value > range.start - slack && value < range.end + slack));
            let texts: std::collections::BTreeSet<String> =
                ticks.values.iter().map(|&value| ticks.text(value)).collect();
            prop_assert_eq!(texts.len(), ticks.values.len());
        }
    }
}
