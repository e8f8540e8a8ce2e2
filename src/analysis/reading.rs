//! What each element amounts to on the received waveform.
//!
//! The element map says where each shape lies; the waveform behind the video filter says what is
//! left of it there. Only stretches where no other element is lit are measured.

use crate::analysis::cause::Cause;
use crate::analysis::sight::Sight;
use crate::analysis::verdict::LockState;
use crate::analysis::verdict::Note;
use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;
use crate::base::math;
use crate::profile::pins::Strength;
use crate::receiver::spec::Reception;
use crate::scenario::VerdictLines;
use crate::signal::element::ElementId;
use crate::signal::element::Patch;
use crate::signal::pulse_train::FieldTrains;
use crate::signal::trace::Trace;
use std::ops::Range;

/// Element whose level the others' shade is compared with.
const FIELD_LINES: &str = "field";

/// Shapes at least this wide are read where they have settled, narrower ones at their peak, clocks.
const WIDE: u32 = 4;

/// What is left of an element after its end, above this share of its peak, draws it out.
const TAIL_SHARE: f64 = 0.5;

/// A pulse of less has no edges to speak of, V.
const LEAST_EDGE_V: f64 = 1e-3;

/// Below this share of its settled level a peak is smeared.
const PEAK_SHARE: f64 = 0.8;

/// The reading of one field.
#[derive(Clone, Debug, PartialEq)]
pub struct FieldReading {
    /// Black: the unlit active line, V at the socket.
    pub black_v: f64,
    /// Sync tip, V at the socket.
    pub tip_v: f64,
    /// The word for the depth.
    pub sync: SyncState,
    /// Which part did it, if the sync is weak or failing at rest.
    pub sync_cause: Option<Cause>,
    /// Whether the set finds the sync: without it no picture stands, and the words are of levels only.
    pub sync_found: bool,
    /// The words for how the picture stands on the screen, at least one.
    pub lock: Vec<LockState>,
    /// From black to white, V: what the words are shares of.
    pub span_v: f64,
    /// One reading for each shape that shows in the field, in the order of the element map, every
    /// element at least once.
    pub shapes: Vec<ShapeReading>,
}

impl FieldReading {
    /// Elements that go below the middle of the sync pulse: a set takes them for sync.
    #[must_use]
    pub fn taken_for_sync(&self) -> Vec<&str> {
        let slice_v = 0.5 * (self.black_v + self.tip_v);
        let low = self.shapes.iter().filter(|shape| {
            self.tip_v < self.black_v && shape.level_v.is_some_and(|level_v| level_v < slice_v)
        });
        let mut names: Vec<&str> = low.map(|shape| shape.element.as_str()).collect();
        names.dedup();
        names
    }
}

/// One shape of an element, measured where it lies.
#[derive(Clone, Debug, PartialEq)]
pub struct ShapeReading {
    /// Element name.
    pub element: String,
    /// Shape name; the element's own where it has but one.
    pub shape: String,
    /// Level at its peak, V at the socket; `None` if no part of it lies clear of other elements.
    pub level_v: Option<f64>,
    /// Peak minus the black around it, V.
    pub delta_v: Option<f64>,
    /// The black around it at the picture amplifier, V above the set's black.
    pub surround_v: Option<f64>,
    /// Edge at its start 10–90 %, s, where it could be measured.
    pub rise_s: Option<f64>,
    /// Edge at its end 90–10 %, s, where it could be measured.
    pub fall_s: Option<f64>,
    /// What an eye makes of it.
    pub sight: Option<Sight>,
    /// The word; `None` if it could not be measured.
    pub seen: Option<Seen>,
    /// What else there is to say.
    pub notes: Vec<Note>,
    /// The words at rest with a weak, a typical and a strong chip, if they are not all the same.
    pub band: Vec<(Strength, Seen)>,
    /// Which part did it, if the shape is faint or missing.
    pub cause: Option<Cause>,
}

/// Reads every shape of the field that `signal`, the socket's waveform from the field's start,
/// carries. `settled` holds what each element alone amounts to at rest, V over black, by index;
/// without it nothing is called smeared for a short peak. Causes, bands and what an eye
/// makes of it are left open.
#[must_use]
pub fn read_field(
    trains: &FieldTrains,
    signal: &Trace,
    reception: &Reception,
    lines: &VerdictLines,
    settled: Option<&[f64]>,
) -> FieldReading {
    let field = Field { trains, signal, reception };
    let shown = shown_shapes(trains);
    let measured: Vec<Option<Measured>> =
        shown.iter().map(|(_, shape)| field.measure((*shape)?)).collect();
    let field_lines_v = field_lines_delta(trains, &shown, &measured);
    let shapes = shown.iter().zip(&measured).map(|(&(element, shape), measured)| {
        let name = &trains.map.elements[usize::from(element.0)];
        let against_v = field_lines_v.filter(|_| name != FIELD_LINES);
        let settled_v = settled.and_then(|all| all.get(usize::from(element.0)).copied());
        ShapeReading {
            element: name.clone(),
            shape: shape.map_or(name, |shape| &trains.map.shapes[shape].name).clone(),
            level_v: measured.map(|measured| measured.level_v),
            delta_v: measured.map(|measured| measured.delta_v),
            surround_v: measured.map(|measured| measured.surround_v),
            rise_s: measured.and_then(|measured| measured.rise_s),
            fall_s: measured.and_then(|measured| measured.fall_s),
            sight: None,
            seen: measured.map(|measured| lines.seen(measured.delta_v)),
            notes: measured
                .map(|measured| notes(&measured, lines, against_v, settled_v))
                .unwrap_or_default(),
            band: Vec::new(),
            cause: None,
        }
    });
    let shapes = shapes.collect();
    let (black_v, tip_v) = (field.black_v(), field.tip_v());
    let sync = lines.sync(black_v - tip_v);
    let sync_found = reception.sync.is_some();
    let lock = lines.lock.states_of(reception);
    let span_v = lines.span_v;
    FieldReading { black_v, tip_v, sync, sync_cause: None, sync_found, lock, span_v, shapes }
}

/// The shapes to read, with their element: those with patches, and the name alone of an element
/// that has none in this field.
fn shown_shapes(trains: &FieldTrains) -> Vec<(ElementId, Option<usize>)> {
    let map = &trains.map;
    let drawn = |shape: usize| map.patches.iter().any(|patch| patch.shape == shape);
    let mut shown: Vec<(ElementId, Option<usize>)> = (0..map.shapes.len())
        .filter(|&shape| drawn(shape))
        .map(|shape| (map.shapes[shape].element, Some(shape)))
        .collect();
    for element in (0_u8..).map(ElementId).take(map.elements.len()) {
        if !shown.iter().any(|(shown, _)| *shown == element) {
            shown.push((element, None));
        }
    }
    shown
}

/// What the widest shape of the field lines that could be measured amounts to, V.
fn field_lines_delta(
    trains: &FieldTrains,
    shown: &[(ElementId, Option<usize>)],
    measured: &[Option<Measured>],
) -> Option<f64> {
    let of_field = shown
        .iter()
        .zip(measured)
        .filter(|((element, _), _)| trains.map.elements[usize::from(element.0)] == FIELD_LINES);
    let widest = of_field.filter_map(|(_, measured)| *measured).max_by_key(|m| m.width);
    widest.map(|measured| measured.delta_v)
}

fn notes(
    measured: &Measured,
    lines: &VerdictLines,
    field_lines_v: Option<f64>,
    settled_v: Option<f64>,
) -> Vec<Note> {
    let mut notes = lines.notes(measured.delta_v, field_lines_v);
    // What is not there has no edges either, only the picture's noise.
    let there = lines.seen(measured.delta_v) != Seen::Missing;
    let slow = there && measured.rise_s.is_some_and(|rise_s| rise_s > measured.width_s);
    let short = settled_v.is_some_and(|settled_v| {
        lines.seen(settled_v) != Seen::Missing && measured.delta_v / settled_v < PEAK_SHARE
    });
    if slow || short {
        notes.push(Note::Smeared);
    }
    if there && measured.tail.is_some_and(|tail| tail > TAIL_SHARE) {
        notes.push(Note::DrawnOut);
    }
    notes
}

/// A shape as measured.
#[derive(Clone, Copy, Debug)]
struct Measured {
    delta_v: f64,
    level_v: f64,
    surround_v: f64,
    rise_s: Option<f64>,
    fall_s: Option<f64>,
    /// What is left of the peak some clocks after the end, as a share of it.
    tail: Option<f64>,
    width: u32,
    width_s: f64,
}

/// How high a run stands.
#[derive(Clone, Copy, Debug)]
struct Height {
    /// Peak less the black before it, V in the received waveform.
    delta_v: f64,
    /// The level that makes at the socket, V.
    level_v: f64,
    /// The black before it in the received waveform, V.
    surround_v: f64,
}

/// How clear of other elements a run lies; the clearer the greater.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Clear {
    /// Part of the patch is free.
    Part,
    /// The whole patch is, but something is lit right beside it.
    Whole,
    /// And so is a clock on either side.
    Guarded,
}

/// The part of a patch that is measured.
#[derive(Clone, Copy, Debug)]
struct Run {
    line: u32,
    start: u32,
    stop: u32,
    clear: Clear,
}

struct Field<'a> {
    trains: &'a FieldTrains,
    signal: &'a Trace,
    reception: &'a Reception,
}

impl Field<'_> {
    /// `None` if no part of the shape lies clear of other elements, or none was sampled.
    fn measure(&self, shape: usize) -> Option<Measured> {
        let patches = self.trains.map.patches.iter().filter(|patch| patch.shape == shape);
        let mut runs: Vec<Run> = patches.filter_map(|patch| self.clear_run(patch)).collect();
        let clearest = runs.iter().map(|run| run.clear).max()?;
        runs.retain(|run| run.clear == clearest);
        // Of runs of several widths the widest tell most.
        let width = runs.iter().map(|run| run.stop - run.start).max()?;
        runs.retain(|run| run.stop - run.start == width);
        let heights: Vec<Height> = runs.iter().filter_map(|run| self.height(run)).collect();
        let median = |of: fn(&Height) -> f64| math::median(heights.iter().map(of).collect());
        let delta_v = median(|height| height.delta_v)?;
        // What the noise of the solver makes of nothing has no edges.
        let has_edges = clearest == Clear::Guarded && delta_v.abs() > LEAST_EDGE_V;
        Some(Measured {
            delta_v,
            level_v: median(|height| height.level_v)?,
            surround_v: median(|height| height.surround_v)?,
            rise_s: self.rise_s(&runs, delta_v).filter(|_| has_edges),
            fall_s: self.fall_s(&runs, delta_v).filter(|_| has_edges),
            tail: math::median(runs.iter().filter_map(|run| self.tail(run)).collect()),
            width,
            width_s: self.trains.timing.clock.seconds(u64::from(width)),
        })
    }

    /// The longest stretch of a patch where no other element is lit, the first of equals.
    fn clear_run(&self, patch: &Patch) -> Option<Run> {
        let map = &self.trains.map;
        let element = map.shapes[patch.shape].element;
        let is_clear = |clock: u32| {
            let lit = map.lit(patch.line, clock);
            lit.iter().all(|other| other == element)
        };
        let mut longest = patch.start..patch.start;
        let mut from = patch.start;
        for clock in patch.start..=patch.stop {
            if clock == patch.stop || !is_clear(clock) {
                if clock - from > longest.end - longest.start {
                    longest = from..clock;
                }
                from = clock + 1;
            }
        }
        let whole = longest == (patch.start..patch.stop);
        let unlit_before =
            patch.start.checked_sub(1).is_some_and(|at| map.lit(patch.line, at).is_empty());
        let clear = match (whole, unlit_before && is_clear(patch.stop)) {
            (true, true) => Clear::Guarded,
            (true, false) => Clear::Whole,
            (false, _) => Clear::Part,
        };
        let Range { start, end: stop } = longest;
        (start < stop).then_some(Run { line: patch.line, start, stop, clear })
    }

    fn height(&self, run: &Run) -> Option<Height> {
        let black = f64::from(self.black_clock(run));
        let clocks = (black + 0.25, black + 1.0);
        let black_v = mean(self.received(run.line, clocks))?;
        let socket_black_v = mean(self.at_socket(run.line, clocks))?;
        let (start, stop) = (f64::from(run.start), f64::from(run.stop));
        let delta_v = if run.stop - run.start >= WIDE {
            mean(self.received(run.line, (stop - 0.3 * (stop - start), stop)))? - black_v
        } else {
            // A board's delay moves the peak of a narrow pulse past its own clocks.
            let late = if run.clear == Clear::Guarded { 1.0 } else { 0.0 };
            farthest(self.received(run.line, (start, stop + late)), black_v)?
        };
        Some(Height { delta_v, level_v: socket_black_v + delta_v, surround_v: black_v })
    }

    /// What is left of a run's peak when its own width (of a wide one, a part of it) and a clock for
    /// the board's delay have passed; `None` if anything is lit by then.
    fn tail(&self, run: &Run) -> Option<f64> {
        let clock = run.stop + (run.stop - run.start).min(WIDE) + 1;
        let unlit = |clock: u32| self.trains.map.lit(run.line, clock).is_empty();
        let free = clock < self.trains.timing.active_stop && (run.stop..=clock).all(unlit);
        let black = f64::from(self.black_clock(run));
        let black_v = mean(self.received(run.line, (black + 0.25, black + 1.0)))?;
        let at = f64::from(clock);
        let left_v = mean(self.received(run.line, (at, at + 1.0)))? - black_v;
        free.then_some(left_v / self.height(run)?.delta_v)
    }

    /// The nearest unlit clock before a run; the last of the back porch if there is none.
    fn black_clock(&self, run: &Run) -> u32 {
        let porch = self.trains.timing.active_start.saturating_sub(1);
        let before = (porch..run.start).rev();
        let mut unlit = before.filter(|&clock| self.trains.map.lit(run.line, clock).is_empty());
        unlit.next().unwrap_or(porch)
    }

    /// 10–90 % of the edge at the start of the runs, on the mean of their waveforms, s.
    fn rise_s(&self, runs: &[Run], delta_v: f64) -> Option<f64> {
        let share = self.shares(runs, 1, delta_v)?;
        Some(edge_samples(&share)? * self.signal.step_s())
    }

    /// 90–10 % of the edge at the end of the runs, on the mean of their waveforms, s; `None` if it
    /// has not ended where something else is lit, or after four clocks.
    fn fall_s(&self, runs: &[Run], delta_v: f64) -> Option<f64> {
        const MOST_CLOCKS: u32 = 4;
        let unlit = |run: &Run| {
            let lit = |after: &u32| !self.trains.map.lit(run.line, run.stop + after).is_empty();
            (0..MOST_CLOCKS).find(lit).unwrap_or(MOST_CLOCKS)
        };
        let after = runs.iter().map(unlit).min()?;
        // Read backwards it is an edge that rises.
        let mut share = self.shares(runs, after, delta_v)?;
        share.reverse();
        Some(edge_samples(&share)? * self.signal.step_s())
    }

    /// The mean of the runs' waveforms from a clock before them to `after` clocks after, as shares
    /// of their peak over the black before it.
    fn shares(&self, runs: &[Run], after: u32, delta_v: f64) -> Option<Vec<f64>> {
        let waves: Vec<&[f32]> = runs
            .iter()
            .map(|run| {
                let clocks = (f64::from(run.start) - 1.0, f64::from(run.stop + after));
                self.received(run.line, clocks)
            })
            .collect();
        let length = waves.iter().map(|wave| wave.len()).min()?;
        let count = math::from_usize(waves.len());
        let wave: Vec<f64> = (0..length)
            .map(|at| waves.iter().map(|wave| f64::from(wave[at])).sum::<f64>() / count)
            .collect();
        let per_clock = self.trains.timing.clock.seconds(1) / self.signal.step_s();
        let black = wave.get(..math::floor_index(per_clock).max(1))?;
        let black_v = black.iter().sum::<f64>() / math::from_usize(black.len());
        Some(wave.iter().map(|volts| (volts - black_v) / delta_v).collect())
    }

    /// The median level of the unlit beginnings of the active lines, V at the socket.
    fn black_v(&self) -> f64 {
        let timing = &self.trains.timing;
        let levels = (timing.first_active_line..timing.lines_per_field).filter_map(|line| {
            let patches = self.trains.map.line(line);
            let stop = patches.first().map_or(timing.active_stop, |patch| patch.start);
            let start = timing.active_start + 1;
            let samples = self.at_socket(line, (f64::from(start), f64::from(stop)));
            mean(samples).filter(|_| stop > start)
        });
        math::median(levels.collect()).unwrap_or_default()
    }

    /// The median level of the later half of the line pulses, V at the socket.
    fn tip_v(&self) -> f64 {
        let timing = &self.trains.timing;
        let width = f64::from(timing.line_sync);
        let levels = (timing.field_sync_lines..timing.lines_per_field)
            .filter_map(|line| mean(self.at_socket(line, (0.5 * width, width))));
        math::median(levels.collect()).unwrap_or_default()
    }

    fn at_socket(&self, line: u32, clocks: (f64, f64)) -> &[f32] {
        self.samples(self.signal, line, clocks)
    }

    /// The received samples at the same times. The filter's delay is left in: what an edge does
    /// comes after it, so the time up to an edge is free of it.
    fn received(&self, line: u32, clocks: (f64, f64)) -> &[f32] {
        self.samples(&self.reception.video, line, clocks)
    }

    fn samples<'t>(&self, trace: &'t Trace, line: u32, clocks: (f64, f64)) -> &'t [f32] {
        let timing = &self.trains.timing;
        let line_s = timing.clock.seconds(timing.tick(line, 0));
        // A hair earlier, so that a sample on the very clock counts as after it.
        let place = |clock: f64| {
            math::ceil((line_s + clock * timing.clock.seconds(1)) / trace.step_s() - 1e-6)
        };
        let stop = math::floor_index(place(clocks.1)).min(trace.volts.len());
        trace.volts.get(math::floor_index(place(clocks.0))..stop).unwrap_or_default()
    }
}

fn mean(volts: &[f32]) -> Option<f64> {
    let sum: f64 = volts.iter().map(|&v| f64::from(v)).sum();
    (!volts.is_empty()).then(|| sum / math::from_usize(volts.len()))
}

/// The deviation from `black_v` of the sample farthest from it.
fn farthest(volts: &[f32], black_v: f64) -> Option<f64> {
    let deviations = volts.iter().map(|&v| f64::from(v) - black_v);
    deviations.max_by(|a, b| a.abs().total_cmp(&b.abs()))
}

/// From the last 10 % crossing before the first 90 % crossing to that one, in samples.
fn edge_samples(share: &[f64]) -> Option<f64> {
    let high = share.iter().position(|&s| s >= 0.9)?;
    let low = share[..high].iter().rposition(|&s| s < 0.1)?;
    Some(crossing(share, high.checked_sub(1)?, 0.9) - crossing(share, low, 0.1))
}

/// Where the curve between sample `at` and the next passes `level`. With two samples on an edge,
/// straight lines would make it a quarter too long; the cubic through the four samples around does
/// not.
fn crossing(share: &[f64], at: usize, level: f64) -> f64 {
    let near = |at: usize| share[at.min(share.len() - 1)];
    let (before, from, to, after) =
        (near(at.saturating_sub(1)), near(at), near(at + 1), near(at + 2));
    let (slope_from, slope_to) = (0.5 * (to - before), 0.5 * (after - from));
    let bend = 3.0 * (to - from) - 2.0 * slope_from - slope_to;
    let twist = slope_from + slope_to - 2.0 * (to - from);
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if from + middle * (slope_from + middle * (bend + middle * twist)) < level {
            low = middle;
        } else {
            high = middle;
        }
    }
    math::from_usize(at) + low
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::ticks::ClockRate;
    use crate::receiver::receive;
    use crate::receiver::sample;
    use crate::receiver::spec::ReceiverSpec;
    use crate::receiver::spec::Transfer;
    use crate::scenario::LockLines;
    use crate::signal::element::ElementMap;
    use crate::signal::element::Shape;
    use crate::signal::timing::FieldSync;
    use crate::signal::timing::FieldTiming;

    const FIELD: usize = 0;
    const NET: usize = 1;
    const BALL: usize = 2;
    const LEFT: usize = 3;

    const VERDICT: VerdictLines = VerdictLines {
        span_v: 0.7,
        missing: 30.0 / 700.0,
        faint: 0.2,
        same_shade: 0.1,
        brighter: 1.1,
        sync_good_v: 0.2,
        sync_weak_v: 0.1,
        lock: LockLines {
            shifted_s: 1.5e-6,
            bending_s: 0.5e-6,
            torn_lines: 0.5,
            rolling_lines: 0.5,
        },
    };

    /// A field with lines, net, ball and one player, drawn as one block each.
    fn trains(blocks: &[(usize, u32, u32, u32, u32)]) -> FieldTrains {
        let shape = |(at, name): (usize, &str)| Shape {
            name: name.to_owned(),
            element: ElementId([0, 0, 1, 2][at]),
        };
        let mut patches: Vec<Patch> = blocks
            .iter()
            .flat_map(|&(shape, x, width, y, height)| {
                (y..y + height).map(move |line| Patch { line, start: x, stop: x + width, shape })
            })
            .collect();
        patches.sort_unstable();
        FieldTrains {
            timing: FieldTiming {
                clock: ClockRate::new(2_000_000, 1).unwrap(),
                clocks_per_line: 128,
                lines_per_field: 312,
                line_sync: 9,
                active_start: 21,
                active_stop: 125,
                field_sync: FieldSync::Held,
                field_sync_lines: 4,
                first_active_line: 24,
            },
            pins: Vec::new(),
            trains: Vec::new(),
            map: ElementMap {
                elements: ["field", "ball", "left"].map(str::to_owned).to_vec(),
                shapes: ["top line", "net", "ball", "left paddle"]
                    .into_iter()
                    .enumerate()
                    .map(shape)
                    .collect(),
                patches,
            },
        }
    }

    /// The waveform of a board that adds the elements' levels, then a single pole of `tau_s`.
    fn waveform(trains: &FieldTrains, deltas_v: [f64; 3], tau_s: f64) -> Trace {
        let keep = if tau_s > 0.0 { math::exp(-62.5e-9 / tau_s) } else { 0.0 };
        let mut volts = Vec::new();
        let mut now = 0.0;
        for line in 0..312 {
            for clock in 0..128 {
                let sync = line < 4 || clock < 9;
                let lit: f64 = trains
                    .map
                    .lit(line, clock)
                    .iter()
                    .map(|element| deltas_v[usize::from(element.0)])
                    .sum();
                let target = if sync { 0.1 } else { 0.4 + lit };
                for _ in 0..8 {
                    now = target + (now - target) * keep;
                    volts.push(math::to_f32(now));
                }
            }
        }
        let rate = trains.timing.clock.times(8).unwrap();
        Trace { node: "socket".to_owned(), rate, volts }
    }

    fn set() -> ReceiverSpec {
        let transfer = Transfer::Gamma(2.2);
        ReceiverSpec { transfer, frame: (64, 48), ..sample::set() }
    }

    fn read(
        trains: &FieldTrains,
        deltas_v: [f64; 3],
        tau_s: f64,
        settled: Option<&[f64]>,
    ) -> FieldReading {
        let signal = waveform(trains, deltas_v, tau_s);
        let reception = receive(&signal, &set()).unwrap();
        read_field(trains, &signal, &reception, &VERDICT, settled)
    }

    const COURT: [(usize, u32, u32, u32, u32); 4] = [
        (FIELD, 34, 78, 48, 4),
        (NET, 73, 1, 52, 228),
        (BALL, 60, 2, 100, 7),
        (LEFT, 40, 2, 150, 48),
    ];

    #[test]
    fn levels_words_and_notes_come_from_the_waveform() {
        let reading = read(&trains(&COURT), [0.7, 0.65, 0.1], 0.0, None);
        assert!((reading.black_v - 0.4).abs() < 1e-6);
        assert!((reading.tip_v - 0.1).abs() < 1e-6);
        assert_eq!(reading.sync, SyncState::Good);
        let words: Vec<_> = reading.shapes.iter().map(|s| (s.shape.as_str(), s.seen)).collect();
        let clear = Some(Seen::Clear);
        assert_eq!(
            words,
            [
                ("top line", clear),
                ("net", clear),
                ("ball", clear),
                ("left paddle", Some(Seen::Faint))
            ]
        );
        assert!((reading.shapes[FIELD].delta_v.unwrap() - 0.7).abs() < 1e-3);
        assert!((reading.shapes[FIELD].level_v.unwrap() - 1.1).abs() < 1e-3);
        assert!((reading.shapes[BALL].delta_v.unwrap() - 0.65).abs() < 6e-3);
        assert!((reading.shapes[LEFT].delta_v.unwrap() - 0.1).abs() < 1e-3);
        assert!(reading.shapes[FIELD].notes.is_empty());
        assert_eq!(reading.shapes[BALL].notes, [Note::SameShade]);
        let rise_s = reading.shapes[FIELD].rise_s.unwrap();
        // The filter's 69 ns and the ramp of one sample, 0.8 of 62.5 ns, in square: 85 ns.
        assert!((rise_s - 85e-9).abs() < 9e-9, "{rise_s}");
    }

    #[test]
    fn an_element_darker_than_black_is_dark_and_one_too_bright_is_said_to_be() {
        let reading = read(&trains(&COURT), [0.4, 0.8, -0.15], 0.0, None);
        assert!((reading.shapes[LEFT].delta_v.unwrap() + 0.15).abs() < 2e-3);
        assert_eq!(reading.shapes[LEFT].notes, [Note::Dark]);
        assert_eq!(reading.shapes[BALL].notes, [Note::BrighterThanWhite]);
    }

    #[test]
    fn a_slow_board_smears_what_is_narrow_and_leaves_what_is_wide() {
        let settled = [0.7, 0.7, 0.7];
        let reading = read(&trains(&COURT), settled, 0.4e-6, Some(&settled));
        let smeared = |shape: usize| reading.shapes[shape].notes.contains(&Note::Smeared);
        assert!(smeared(NET));
        // One clock of 0.5 µs against 0.4 µs: 1 − exp(−1.25) of the level, less what the filter
        // takes off the point of the peak: its own rise of 69 ns against the 0.4 µs.
        let net_v = reading.shapes[NET].delta_v.unwrap();
        assert!((0.45..0.7 * 0.7135).contains(&net_v), "{net_v}");
        assert!(!smeared(FIELD) && !smeared(BALL));
        let rise_s = reading.shapes[FIELD].rise_s.unwrap();
        // 2.197 tau, and the filter's own 69 ns in square.
        assert!((rise_s - 0.879e-6).abs() < 0.03e-6, "{rise_s}");
        // A single lag falls as it rises.
        let fall_s = reading.shapes[FIELD].fall_s.unwrap();
        assert!((fall_s - 0.879e-6).abs() < 0.03e-6, "{fall_s}");
    }

    #[test]
    fn only_what_lies_clear_of_other_elements_is_measured() {
        let mut blocks = COURT.to_vec();
        // The ball on the paddle, half of it beside; on every line of the ball.
        blocks[BALL] = (BALL, 41, 2, 160, 7);
        let reading = read(&trains(&blocks), [0.7, 0.5, 0.2], 0.0, None);
        let ball_v = reading.shapes[BALL].delta_v.unwrap();
        assert!((ball_v - 0.5).abs() < 0.21, "{ball_v}");
        assert!((reading.shapes[LEFT].delta_v.unwrap() - 0.2).abs() < 2e-3);
        blocks[BALL] = (BALL, 40, 2, 160, 7);
        let reading = read(&trains(&blocks), [0.7, 0.5, 0.2], 0.0, None);
        assert_eq!(reading.shapes[BALL].seen, None);
        assert_eq!(reading.shapes[BALL].level_v, None);
    }

    #[test]
    fn an_element_that_is_not_drawn_is_named_without_a_word() {
        let reading = read(&trains(&COURT[..2]), [0.7, 0.7, 0.7], 0.0, None);
        let last = &reading.shapes[3];
        assert_eq!((last.element.as_str(), last.shape.as_str()), ("left", "left"));
        assert_eq!(last.seen, None);
    }

    #[test]
    fn a_missing_element_has_no_shade() {
        let reading = read(&trains(&COURT), [0.02, 0.02, 0.7], 0.0, None);
        assert_eq!(reading.shapes[BALL].seen, Some(Seen::Missing));
        assert!(reading.shapes[BALL].notes.is_empty());
    }

    #[test]
    fn a_missing_element_is_not_called_smeared_for_a_slow_edge_but_a_faint_one_is() {
        let slow = |delta_v| Measured {
            delta_v,
            level_v: 0.4 + delta_v,
            surround_v: 0.0,
            rise_s: Some(2e-6),
            fall_s: None,
            tail: Some(0.6),
            width: 2,
            width_s: 1e-6,
        };
        assert!(notes(&slow(0.02), &VERDICT, None, None).is_empty());
        assert_eq!(notes(&slow(0.05), &VERDICT, None, None), [Note::Smeared, Note::DrawnOut]);
    }

    #[test]
    fn what_stays_lit_after_its_end_is_drawn_out_and_what_leaves_in_time_is_not() {
        let trains = trains(&COURT);
        let drawn_out = |late: usize| {
            let mut signal = waveform(&trains, [0.7, 0.7, 0.7], 0.0);
            let quick = signal.volts.clone();
            // Whatever rises rises at once; whatever falls within the picture falls late.
            for at in late..quick.len() {
                let held = quick[at - late..=at].iter().copied().fold(f32::MIN, f32::max);
                signal.volts[at] = if quick[at] < 0.2 { quick[at] } else { held };
            }
            let reception = receive(&signal, &set()).unwrap();
            let reading = read_field(&trains, &signal, &reception, &VERDICT, None);
            let notes = |shape: usize| reading.shapes[shape].notes.contains(&Note::DrawnOut);
            [FIELD, NET, BALL, LEFT].map(notes)
        };
        assert_eq!(drawn_out(8), [false; 4]);
        assert_eq!(drawn_out(25), [false, true, false, false]);
        assert_eq!(drawn_out(50), [true; 4]);
    }
}
