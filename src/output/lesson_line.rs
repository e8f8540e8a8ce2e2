//! The figures of a lesson that show a waveform.

use crate::analysis::lesson::Lesson;
use crate::base::math;
use crate::output::axis::Axis;
use crate::output::axis::Scale;
use crate::output::axis::Side;
use crate::output::axis::Ticks;
use crate::output::lesson_set::porch_v;
use crate::output::lesson_words::clocks;
use crate::output::lesson_words::millivolts;
use crate::output::panel::Named;
use crate::output::panel::NamedKind;
use crate::output::panel::Panel;
use crate::output::plot::Area;
use crate::output::plot::Pen;
use crate::output::plot::Plot;
use crate::output::plot::ink;
use crate::output::strip;
use crate::output::strip::STRIP_AND_NAMES;
use crate::output::strip::Stretch;
use crate::output::thin::thinned;
use crate::receiver::spec::Clamp;
use crate::signal::trace::Trace;
use std::ops::Range;

pub(super) const LEFT: f64 = 110.0;
pub(super) const EDGE: f64 = 1160.0;
/// End of the curves; names stand to the right.
pub(super) const RIGHT: f64 = 930.0;
pub(super) const BEFORE: Pen = Pen::new(ink::GREY, 1.6);
pub(super) const NOW: Pen = Pen::new(ink::ACCENT, 2.0);
/// Covers the same line drawn as [`NOW`], so that only what is new stands out.
const OVER: Pen = Pen::new(ink::GREY, 2.8);
const LEVEL: Pen = Pen::new(ink::PALE, 1.2).dashed("6 4");
const TIME: &str = "time from the start of the line's sync pulse, µs";

/// A waveform in a figure.
pub(super) struct Curve<'a> {
    pub(super) trace: &'a Trace,
    pub(super) name: &'a str,
    pub(super) pen: Pen,
    /// By how much it lags behind the chip, s.
    pub(super) delay_s: f64,
}

/// A panel of waveforms against time.
pub(super) struct Waves<'a> {
    pub(super) lesson: &'a Lesson,
    pub(super) area: Area,
    /// Right end of the names.
    pub(super) edge: f64,
    /// The line whose start is 0.
    pub(super) line: u32,
    /// From when to when, µs.
    pub(super) window_us: Range<f64>,
    pub(super) curves: Vec<Curve<'a>>,
    /// Levels, V, with their names.
    pub(super) levels: Vec<(f64, String)>,
    /// What is written up the left side and below.
    pub(super) titles: [&'a str; 2],
}

impl Waves<'_> {
    pub(super) fn time(&self) -> Scale {
        Scale { values: self.window_us.clone(), pixels: self.area.left..self.area.right }
    }

    pub(super) fn draw(&self, plot: &mut Plot) {
        let drawn: Vec<Vec<(f64, f64)>> =
            self.curves.iter().map(|curve| self.points(curve)).collect();
        let levels = self.levels.iter().map(|(volts, _)| *volts);
        let volts = drawn.iter().flatten().map(|point| point.1).chain(levels);
        let panel = Panel::new(self.area, self.edge, volts);
        panel.draw_frame(plot, self.titles[0]);
        let mut named: Vec<Named> = self
            .levels
            .iter()
            .map(|(volts, words)| Named {
                volts: *volts,
                words: words.clone(),
                pen: LEVEL,
                kind: NamedKind::Level,
            })
            .collect();
        panel.draw_levels(plot, &named);
        let time = self.time();
        for (points, curve) in drawn.iter().zip(&self.curves) {
            let pixels: Vec<(f64, f64)> =
                points.iter().map(|&(us, volts)| (time.at(us), panel.volts.at(volts))).collect();
            plot.path(&pixels, curve.pen);
            if let Some(&(_, volts)) = points.last().filter(|_| !curve.name.is_empty()) {
                let (words, pen) = (curve.name.to_owned(), curve.pen);
                named.push(Named { volts, words, pen, kind: NamedKind::Curve });
            }
        }
        panel.draw_names(plot, &named);
        let ticks = Ticks::within(&time.values, math::floor_index(self.area.width() / 50.0));
        let (line, title) = (self.area.bottom, self.titles[1]);
        Axis { side: Side::Bottom, line, scale: &time, ticks: &ticks, title }.draw(plot);
    }

    /// Points of a curve: µs and volts.
    fn points(&self, curve: &Curve<'_>) -> Vec<(f64, f64)> {
        let timing = &self.lesson.timing;
        let start_s = timing.clock.seconds(timing.tick(self.line, 0)) + curve.delay_s;
        let window_s =
            (start_s + 1e-6 * self.window_us.start).max(0.0)..start_s + 1e-6 * self.window_us.end;
        let columns = math::floor_index(self.area.width());
        let samples = thinned(curve.trace, &window_s, columns).into_iter();
        samples.map(|at| (1e6 * (at.at_s - start_s), at.volts)).collect()
    }
}

fn area(top: f64, bottom: f64) -> Area {
    Area { left: LEFT, top, right: RIGHT, bottom }
}

/// A figure of one panel, a strip of named stretches above it.
fn whole<'a>(lesson: &'a Lesson, top: f64, window_us: Range<f64>) -> Waves<'a> {
    Waves {
        lesson,
        area: area(top + 76.0, top + 490.0),
        edge: EDGE,
        line: lesson.line,
        window_us,
        curves: Vec::new(),
        levels: Vec::new(),
        titles: ["at the socket, V", TIME],
    }
}

/// Names stretches of time, given in µs, in a strip above a panel.
fn name(plot: &mut Plot, waves: &Waves<'_>, stretches: Vec<(Range<f64>, String)>) {
    let time = waves.time();
    let ends = time.values.clone();
    let cut = |at: f64| time.at(at.clamp(ends.start, ends.end));
    let stretches: Vec<Stretch> = stretches
        .into_iter()
        .filter(|(us, _)| us.end > ends.start && us.start < ends.end)
        .map(|(us, name)| Stretch { pixels: cut(us.start)..cut(us.end), name })
        .collect();
    for stretch in &stretches {
        let (left, right) = (stretch.pixels.start, stretch.pixels.end);
        plot.area(Area { left, right, ..waves.area }, ink::BAND);
    }
    let top = waves.area.top - STRIP_AND_NAMES - 6.0;
    strip::draw(plot, &stretches, top, LEFT..EDGE);
}

fn socket<'a>(trace: &'a Trace, name: &'a str, pen: Pen) -> Curve<'a> {
    Curve { trace, name, pen, delay_s: 0.0 }
}

fn micro(lesson: &Lesson, count: u32) -> f64 {
    1e6 * clocks(lesson, count)
}

fn black_and_tip(lesson: &Lesson) -> Vec<(f64, String)> {
    let (black_v, tip_v) = (lesson.reading.black_v, lesson.reading.tip_v);
    vec![
        (black_v, format!("black, {}", millivolts(black_v))),
        (tip_v, format!("floor of the pulse, {}", millivolts(tip_v))),
    ]
}

pub(super) fn sync(plot: &mut Plot, lesson: &Lesson, top: f64) {
    let line_us = micro(lesson, lesson.timing.clocks_per_line);
    let pulse_us = micro(lesson, lesson.timing.line_sync);
    let mut waves = whole(lesson, top, -4.0..line_us + pulse_us + 4.0);
    waves.curves.push(socket(&lesson.bare.traces[0], "the voltage", NOW));
    waves.levels = black_and_tip(lesson);
    let pulses = vec![
        (0.0..pulse_us, "sync pulse".to_owned()),
        (pulse_us..line_us, "one line, dark so far".to_owned()),
        (line_us..line_us + pulse_us, "the next one".to_owned()),
    ];
    name(plot, &waves, pulses);
    waves.draw(plot);
}

pub(super) fn porches(plot: &mut Plot, lesson: &Lesson, top: f64) {
    let timing = &lesson.timing;
    let front_us = micro(lesson, timing.clocks_per_line - timing.active_stop);
    let pulse_us = micro(lesson, timing.line_sync);
    let active_us = micro(lesson, timing.active_start);
    let room = 0.25 * (front_us + active_us);
    let mut waves = whole(lesson, top, -front_us - room..active_us + room);
    waves.curves.push(socket(&lesson.bare.traces[0], "the voltage", NOW));
    waves.levels = black_and_tip(lesson);
    let parts = vec![
        (-front_us - room..-front_us, "line before".to_owned()),
        (-front_us..0.0, "front porch".to_owned()),
        (0.0..pulse_us, "sync pulse".to_owned()),
        (pulse_us..active_us, "back porch".to_owned()),
        (active_us..active_us + room, "this line".to_owned()),
    ];
    name(plot, &waves, parts);
    waves.draw(plot);
}

pub(super) fn element(plot: &mut Plot, lesson: &Lesson, index: usize, top: f64) {
    let step = &lesson.steps[index];
    let before = index.checked_sub(1).map_or(&lesson.bare, |index| &lesson.steps[index].field);
    let line_us = micro(lesson, lesson.timing.clocks_per_line);
    let mut waves = whole(lesson, top, -2.0..line_us);
    waves.line = step.line;
    waves.curves.push(socket(&step.field.traces[0], "new in this step", NOW));
    waves.curves.push(socket(&before.traces[0], "as before", OVER));
    waves.levels =
        vec![(lesson.reading.black_v, format!("black, {}", millivolts(lesson.reading.black_v)))];
    if let Some(level_v) = step.shape.level_v {
        waves.levels.push((level_v, format!("{}, {}", step.name, millivolts(level_v))));
    }
    let map = &step.field.trains.map;
    let of_step = |shape: usize| map.shapes[shape].element == step.element;
    let patches = map.line(step.line).iter().filter(|patch| of_step(patch.shape));
    let named = patches.map(|patch| {
        let name = map.shapes[patch.shape].name.clone();
        (micro(lesson, patch.start)..micro(lesson, patch.stop), name)
    });
    name(plot, &waves, named.collect());
    waves.draw(plot);
}

pub(super) fn slice(plot: &mut Plot, lesson: &Lesson, top: f64) {
    let active_us = micro(lesson, lesson.timing.active_start);
    let mut waves = whole(lesson, top, -3.0..active_us);
    let field = lesson.whole();
    waves.curves.push(socket(&field.traces[0], "the voltage", NOW));
    waves.levels = black_and_tip(lesson);
    if let Some(sync) = field.reception.sync {
        waves.levels.push((sync.slice_v, format!("the cut, {}", millivolts(sync.slice_v))));
        let below = waves
            .points(&waves.curves[0])
            .into_iter()
            .find(|&(us, volts)| us > -2.0 && volts < sync.slice_v);
        if let Some((from_us, _)) = below {
            let to_us = from_us + 1e6 * sync.line_sync_s;
            name(plot, &waves, vec![(from_us..to_us, "counts as sync".to_owned())]);
        }
    }
    waves.draw(plot);
}

pub(super) fn clamp(plot: &mut Plot, lesson: &Lesson, top: f64) {
    let line_us = micro(lesson, lesson.timing.clocks_per_line);
    let field = lesson.whole();
    let porch = match lesson.receiver.clamp {
        Clamp::SyncTip => (lesson.reading.tip_v, "tip, held"),
        Clamp::BackPorch => (porch_v(lesson), "back porch"),
        Clamp::None => (0.0, "black for this set"),
    };
    let panel = |from: f64, to: f64, titles| Waves {
        area: area(top + from, top + to),
        titles,
        ..whole(lesson, top, -2.0..line_us)
    };
    let mut arriving = panel(20.0, 212.0, ["at the socket, V", ""]);
    arriving.curves.push(socket(&field.traces[0], "as it arrives", NOW));
    arriving.levels = vec![(porch.0, format!("{}, {}", porch.1, millivolts(porch.0)))];
    arriving.draw(plot);
    let mut clamped = panel(290.0, 490.0, ["in the set, V", TIME]);
    let (trace, delay_s) = (&field.reception.video, field.reception.delay_s);
    clamped.curves.push(Curve { trace, name: "behind the clamp", pen: NOW, delay_s });
    clamped.levels = vec![
        (0.0, "black, 0 mV".to_owned()),
        (lesson.receiver.span_v, format!("full white, {}", millivolts(lesson.receiver.span_v))),
    ];
    clamped.draw(plot);
}

pub(super) fn field_sync(plot: &mut Plot, lesson: &Lesson, top: f64) {
    let line_us = micro(lesson, lesson.timing.clocks_per_line);
    let broad = lesson.timing.field_sync_lines;
    let shown = broad + 5;
    let mut waves = whole(lesson, top, 0.0..f64::from(shown) * line_us);
    waves.line = 0;
    waves.titles[1] = "time from the start of the field, µs";
    waves.curves.push(socket(&lesson.whole().traces[0], "the voltage", NOW));
    waves.levels = black_and_tip(lesson);
    let end_us = f64::from(broad) * line_us;
    let stretches = vec![
        (0.0..end_us, "field sync".to_owned()),
        (end_us..f64::from(shown) * line_us, "lines with a short pulse each".to_owned()),
    ];
    name(plot, &waves, stretches);
    waves.draw(plot);
}
