//! The screen: samples laid out by the time base, and the light they make.
//!
//! Between samples the *light* runs straight, and a pixel is its mean over the pixel's width, so
//! that light is neither lost nor made at any number of pixels.

use crate::base::math;
use crate::base::parallel;
use crate::receiver::clamp;
use crate::receiver::screen::visible_lines;
use crate::receiver::spec::ReceiverSpec;
use crate::receiver::tape::Tape;
use crate::receiver::transfer::Curve;
use crate::signal::picture::Picture;
use std::ops::Range;

/// Draws the frame from what is on `tape`: each row takes the line under it, of those that start at
/// `lines_s`. Lines and pixels that were not received are as dark as the screen gets.
#[must_use]
pub fn scan(
    tape: &Tape<'_>,
    lines_s: &[Option<f64>],
    spec: &ReceiverSpec,
    curve: &Curve,
) -> Picture {
    let (width, height) = spec.frame;
    let beam = Beam::new(tape, spec, curve);
    let mut luminance = vec![beam.dark; width * height];
    let lines = each_line(&mut luminance, (width, height), lines_s.len());
    parallel::each(lines, Vec::new, |spans, (line, rows)| {
        let (first, others) = rows.split_at_mut(width);
        beam.draw(lines_s.get(line).copied().flatten(), first, spans);
        others.chunks_exact_mut(width).for_each(|row| row.copy_from_slice(first));
    });
    Picture { width, height, luminance }
}

/// The rows of a frame, those together that one line is drawn in; with the line's place, counted from
/// the first visible one.
fn each_line(
    mut rest: &mut [f32],
    (width, height): (usize, usize),
    visible: usize,
) -> Vec<(usize, &mut [f32])> {
    let mut lines = Vec::with_capacity(visible);
    let mut row = 0;
    while row < height {
        let line = row_line(row, height, visible);
        let after = (row..height).find(|row| row_line(*row, height, visible) != line);
        let after = after.unwrap_or(height);
        let (rows, others) = rest.split_at_mut((after - row) * width);
        lines.push((line, rows));
        (rest, row) = (others, after);
    }
    lines
}

/// A frame with nothing on it.
#[must_use]
pub fn plain(spec: &ReceiverSpec) -> Picture {
    let (width, height) = spec.frame;
    let dark = math::to_f32(spec.transfer.luminance(0.0));
    Picture { width, height, luminance: vec![dark; width * height] }
}

/// The rows of the frame that a line of the field is drawn in, counted from the start of field sync;
/// empty if it lies outside the picture.
#[must_use]
pub fn rows_of_line(line: u32, spec: &ReceiverSpec) -> Range<usize> {
    let (first, visible) = visible_lines(spec);
    let (height, line) = (spec.frame.1, math::floor_index(f64::from(line)));
    let rows = (0..height).filter(|row| first + row_line(*row, height, visible) == line);
    let (start, count) = (rows.clone().next().unwrap_or(0), rows.count());
    start..start + count
}

/// Which visible line, counted from the first, a row takes.
fn row_line(row: usize, height: usize, visible: usize) -> usize {
    visible * (2 * row + 1) / (2 * height)
}

/// The part of a line that is seen: from when to when after the leading edge of its sync, s.
#[must_use]
pub fn visible_time(spec: &ReceiverSpec) -> Range<f64> {
    let start_s = spec.active_start_s + 0.5 * spec.overscan * spec.active_s;
    start_s..start_s + spec.active_s * (1.0 - spec.overscan)
}

/// What draws a line.
struct Beam<'a> {
    tape: &'a Tape<'a>,
    spec: &'a ReceiverSpec,
    curve: &'a Curve,
    gain: f64,
    lift: f64,
    dark: f32,
    start_s: f64,
    width_s: f64,
}

impl<'a> Beam<'a> {
    fn new(tape: &'a Tape<'a>, spec: &'a ReceiverSpec, curve: &'a Curve) -> Self {
        Self {
            tape,
            spec,
            curve,
            gain: spec.contrast / spec.span_v,
            lift: spec.brightness,
            dark: math::to_f32(spec.transfer.luminance(0.0)),
            start_s: visible_time(spec).start,
            width_s: spec.active_s * (1.0 - spec.overscan),
        }
    }

    /// Draws one row from the line that starts at `start_s`; a pixel that was not received to its end
    /// is left as it is. `spans` is room to work in.
    fn draw(&self, start_s: Option<f64>, row: &mut [f32], spans: &mut Vec<Span>) {
        let black_v = start_s.and_then(|start_s| clamp::own_black(self.tape, start_s, self.spec));
        let from = start_s.map_or(f64::NAN, |start_s| self.tape.place(start_s + self.start_s));
        let line_samples = self.width_s / self.tape.step_s;
        let pixel_samples = line_samples / math::from_usize(row.len());
        let Some(black_v) = black_v.filter(|_| from >= 0.0 && pixel_samples > 0.0) else { return };
        let first = math::floor_index(from);
        let samples = math::floor_index(line_samples).saturating_add(3);
        self.light(&self.tape.samples(first, samples), black_v, spans);
        let light = Light(spans);
        let offset = from - math::from_usize(first);
        let pixels = light.whole_pixels(offset, pixel_samples);
        let per_pixel = 1.0 / pixel_samples;
        let mut before = light.until(offset);
        for (edge, pixel) in (1_u32..).zip(row.iter_mut().take(pixels)) {
            let after = light.until(offset + f64::from(edge) * pixel_samples);
            *pixel = math::to_f32((after - before) * per_pixel);
            before = after;
        }
    }

    /// The light along what was received, from each sample to the next.
    fn light(&self, received: &[f32], black_v: f64, spans: &mut Vec<Span>) {
        let drive = |&volts: &f32| self.lift + self.gain * (f64::from(volts) - black_v);
        let light = received.iter().map(|volts| self.curve.luminance(drive(volts)));
        spans.clear();
        spans.extend(light.map(|now| Span { sum: 0.0, now, slope: 0.0 }));
        let mut sum = 0.0;
        let mut all = spans.iter_mut();
        let Some(mut span) = all.next() else { return };
        for next in all {
            span.sum = sum;
            span.slope = next.now - span.now;
            sum += 0.5 * (span.now + next.now);
            span = next;
        }
        // The last sample has nothing after it.
        spans.pop();
    }
}

/// The light along a line, from each sample to the next.
struct Light<'a>(&'a [Span]);

#[derive(Clone, Copy)]
struct Span {
    /// All light before this span, in units of one sample's time.
    sum: f64,
    now: f64,
    slope: f64,
}

impl Light<'_> {
    /// How many pixels of so many samples, from `offset` on, were received to their end.
    fn whole_pixels(&self, offset: f64, pixel_samples: f64) -> usize {
        let end = math::from_usize(self.0.len());
        // A hair less, so that rounding cannot reach past the last span.
        math::floor_index((end - offset) / pixel_samples - 1e-9)
    }

    /// Light from the first sample to a place; past the last span there is none.
    #[inline]
    fn until(&self, place: f64) -> f64 {
        let sample = math::floor_u32(place);
        self.0.get(sample as usize).map_or(0.0, |span| {
            let share = place - f64::from(sample);
            span.sum + share * (span.now + 0.5 * share * span.slope)
        })
    }
}
