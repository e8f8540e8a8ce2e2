//! The screen: samples laid out by the time base, and the light they make.
//!
//! Between samples the *light* runs straight, and a pixel is its mean over the pixel's width, so
//! that light is neither lost nor made at any number of pixels.

use crate::base::math;
use crate::receiver::spec::ReceiverSpec;
use crate::receiver::time_base::Lines;
use crate::receiver::transfer::Curve;
use crate::signal::picture::Picture;

/// Draws the frame from `video` (black at 0, samples `step_s` apart).
///
/// Of several fields the one with most of its shown lines received is drawn, of equals the last.
/// Each row takes the field line under it. Lines and pixels that were not received are as dark as
/// the screen gets.
#[must_use]
pub fn scan(video: &[f32], step_s: f64, lines: &Lines, spec: &ReceiverSpec) -> Picture {
    let (width, height) = spec.frame;
    let beam = Beam::new(video, step_s, spec);
    let starts = best_field(lines, spec, beam.line_end_s());
    let mut luminance = Vec::with_capacity(width * height);
    let mut drawn = None;
    for row in 0..height {
        let line = starts.len() * (2 * row + 1) / (2 * height);
        if drawn == Some(line) {
            luminance.extend_from_within(luminance.len() - width..);
        } else {
            beam.draw(starts.get(line).copied().flatten(), width, &mut luminance);
            drawn = Some(line);
        }
    }
    Picture { width, height, luminance }
}

/// Start of each shown line of the field that was received best, s.
fn best_field(lines: &Lines, spec: &ReceiverSpec, line_end_s: f64) -> Vec<Option<f64>> {
    let mut best = (0, vec![None; visible_lines(spec).1]);
    for field in 0..lines.field_starts_s.len() {
        let starts = shown_lines(lines, field, spec);
        let whole = |start: &&f64| **start <= line_end_s;
        let received = starts.iter().flatten().filter(whole).count();
        if received >= best.0 {
            best = (received, starts);
        }
    }
    best.1
}

/// First visible line and number of visible lines.
fn visible_lines(spec: &ReceiverSpec) -> (usize, usize) {
    let shown = f64::from(spec.shown_lines);
    let hidden = math::floor_index(0.5 * spec.overscan * shown + 0.5);
    let visible = math::floor_index(shown).saturating_sub(2 * hidden);
    (math::floor_index(f64::from(spec.first_line)) + hidden, visible)
}

fn shown_lines(lines: &Lines, field: usize, spec: &ReceiverSpec) -> Vec<Option<f64>> {
    let (first, visible) = visible_lines(spec);
    let mut starts = vec![None; visible];
    let half_s = 0.5 * lines.period_s;
    let field_s = lines.field_starts_s[field];
    let end_s = lines.field_starts_s.get(field + 1).map_or(f64::INFINITY, |next_s| next_s - half_s);
    for line in &lines.lines {
        // Field sync may begin within its first line: the nearest line start counts as line 0.
        let number = math::floor((line.start_s - field_s + half_s) / lines.period_s);
        if number < 0.0 || line.start_s >= end_s {
            continue;
        }
        let place = math::floor_index(number).checked_sub(first);
        if let Some(start) = place.and_then(|place| starts.get_mut(place)) {
            *start = Some(line.start_s);
        }
    }
    starts
}

/// What draws a line.
struct Beam<'a> {
    video: &'a [f32],
    step_s: f64,
    curve: Curve,
    gain: f64,
    lift: f64,
    dark: f32,
    start_s: f64,
    width_s: f64,
}

impl<'a> Beam<'a> {
    fn new(video: &'a [f32], step_s: f64, spec: &ReceiverSpec) -> Self {
        Self {
            video,
            step_s,
            curve: Curve::new(spec.transfer),
            gain: spec.contrast / spec.span_v,
            lift: spec.brightness,
            dark: math::to_f32(spec.transfer.luminance(0.0)),
            start_s: spec.active_start_s + 0.5 * spec.overscan * spec.active_s,
            width_s: spec.active_s * (1.0 - spec.overscan),
        }
    }

    /// The latest start of a line that is received to its visible end, s.
    fn line_end_s(&self) -> f64 {
        math::from_usize(self.video.len()) * self.step_s - self.start_s - self.width_s
    }

    /// Adds one row of `width` pixels from the line that starts at `start_s`.
    fn draw(&self, start_s: Option<f64>, width: usize, row: &mut Vec<f32>) {
        let full = row.len() + width;
        let from = start_s.map_or(f64::NAN, |start_s| (start_s + self.start_s) / self.step_s);
        let pixel_samples = self.width_s / self.step_s / math::from_usize(width);
        if from >= 0.0 && pixel_samples > 0.0 {
            let first = math::floor_index(from);
            let samples = math::floor_index(self.width_s / self.step_s).saturating_add(3);
            let light = self.light(first, samples);
            let offset = from - math::from_usize(first);
            let pixels = light.whole_pixels(offset, pixel_samples).min(width);
            let mut before = light.until(offset);
            row.extend((1..=pixels).map(|pixel| {
                let after = light.until(offset + math::from_usize(pixel) * pixel_samples);
                let mean = (after - before) / pixel_samples;
                before = after;
                math::to_f32(mean)
            }));
        }
        row.resize(full, self.dark);
    }

    fn light(&self, first: usize, samples: usize) -> Light {
        let after = first.saturating_add(samples).min(self.video.len());
        let received = self.video.get(first..after).unwrap_or_default();
        let drive = |&volts: &f32| self.lift + self.gain * f64::from(volts);
        let mut light = received.iter().map(|volts| self.curve.luminance(drive(volts)));
        let Some(mut now) = light.next() else { return Light(Vec::new()) };
        let mut sum = 0.0;
        let mut spans = Vec::with_capacity(received.len());
        for next in light {
            spans.push(Span { sum, now, slope: next - now });
            sum += 0.5 * (now + next);
            now = next;
        }
        Light(spans)
    }
}

/// The light along a line, from each sample to the next.
struct Light(Vec<Span>);

#[derive(Clone, Copy)]
struct Span {
    /// All light before this span, in units of one sample's time.
    sum: f64,
    now: f64,
    slope: f64,
}

impl Light {
    /// How many pixels of so many samples, from `offset` on, were received to their end.
    fn whole_pixels(&self, offset: f64, pixel_samples: f64) -> usize {
        let end = math::from_usize(self.0.len());
        // A hair less, so that rounding cannot reach past the last span.
        math::floor_index((end - offset) / pixel_samples - 1e-9)
    }

    /// Light from the first sample to a place; past the last span there is none.
    fn until(&self, place: f64) -> f64 {
        let sample = whole(place);
        self.0.get(sample).map_or(0.0, |span| {
            let share = place - math::from_usize(sample);
            span.sum + share * (span.now + 0.5 * share * span.slope)
        })
    }
}

/// Rounds a positive place towards zero; `math::floor_index` calls a function, which counts here.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a place along a line is positive and small; `as` saturates"
)]
fn whole(place: f64) -> usize {
    place as u32 as usize
}
