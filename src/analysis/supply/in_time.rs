//! What a field comes to in time: words as a set receives them, how black moves over the field, and
//! what ripples on each rail.

use crate::analysis::reading::FieldReading;
use crate::analysis::reading::read_field;
use crate::analysis::verdict::LockState;
use crate::analysis::verdict::Seen;
use crate::analysis::verdict::SyncState;
use crate::base::math;
use crate::network::circuit::NodeId;
use crate::scenario::Scenario;
use crate::signal::timing::FieldTiming;
use crate::signal::trace::Trace;
use crate::simulate::Bench;
use crate::simulate::FieldRun;
use crate::simulate::RunError;

/// A field in time.
#[derive(Clone, Debug, PartialEq)]
pub struct InTime {
    /// Black minus tip as received, V.
    pub depth_v: f64,
    /// The word for the sync.
    pub sync: SyncState,
    /// How the picture stands.
    pub lock: Vec<LockState>,
    /// By element: of its shapes the one that is seen worst, its level above black, V, and its word.
    pub seen: Vec<Option<(f64, Seen)>>,
    /// From the highest back porch of the field to the lowest, V: hum and tilt.
    pub porch_moves_v: f64,
    /// From the first back porch of the field to the last, V: tilt, where nothing else moves it.
    pub porch_tilt_v: f64,
    /// Every rail, line by line: from the lowest mean of a line to the highest, V.
    pub rails_ripple_v: Vec<f64>,
    /// Every rail: its lowest moment, V.
    pub rails_lowest_v: Vec<f64>,
}

impl InTime {
    /// Runs the first field of a board.
    pub(crate) fn of(board: &Scenario, rails: &[NodeId]) -> Result<Self, RunError> {
        let bench = Bench::new(board, rails)?;
        let field = bench.run()?.advance_field(&mut |_| {})?;
        let (trains, signal) = (&field.trains, &field.traces[0]);
        let reading = read_field(trains, signal, &field.reception, &board.received, None);
        Ok(Self::read(board, &field, &reading))
    }

    fn read(board: &Scenario, field: &FieldRun, reading: &FieldReading) -> Self {
        let timing = &board.raster.timing;
        let porches = porches(&field.traces[0], timing);
        let (least, most) = ends(porches.iter().copied());
        let tilt = porches.last().zip(porches.first()).map_or(0.0, |(last, first)| last - first);
        let rails = &field.traces[1..];
        Self {
            depth_v: reading.black_v - reading.tip_v,
            sync: reading.sync,
            lock: reading.lock.clone(),
            seen: worst(board, reading),
            porch_moves_v: most - least,
            porch_tilt_v: tilt,
            rails_ripple_v: rails
                .iter()
                .map(|rail| {
                    let (least, most) = ends(line_means(rail, timing).into_iter());
                    most - least
                })
                .collect(),
            rails_lowest_v: rails
                .iter()
                .map(|rail| ends(rail.volts.iter().map(|&volts| f64::from(volts))).0)
                .collect(),
        }
    }
}

fn worst(board: &Scenario, reading: &FieldReading) -> Vec<Option<(f64, Seen)>> {
    let elements = board.raster.elements.iter();
    let of = |element: &String| {
        let shapes = reading.shapes.iter().filter(|shape| shape.element == *element);
        let measured = shapes.filter_map(|shape| shape.delta_v.zip(shape.seen));
        measured.min_by(|a, b| a.0.abs().total_cmp(&b.0.abs()))
    };
    elements.map(of).collect()
}

fn ends(values: impl Iterator<Item = f64>) -> (f64, f64) {
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), value| {
        (least.min(value), most.max(value))
    })
}

/// The mean of a trace from one tick of its field to another, V.
fn mean(trace: &Trace, timing: &FieldTiming, (from, to): (u64, u64)) -> f64 {
    let samples_per_tick = trace.rate.hertz() / timing.clock.hertz();
    let index = |tick: u64| math::floor_index(math::from_u64(tick) * samples_per_tick + 0.5);
    let samples = trace.volts.get(index(from)..index(to)).unwrap_or_default();
    let sum: f64 = samples.iter().map(|&volts| f64::from(volts)).sum();
    sum / math::from_usize(samples.len().max(1))
}

/// The back porch of each line after field sync, V: the second half of what lies between sync and
/// picture.
#[must_use]
pub fn porches(trace: &Trace, timing: &FieldTiming) -> Vec<f64> {
    let start = timing.line_sync + (timing.active_start - timing.line_sync) / 2;
    let lines = timing.field_sync_lines..timing.lines_per_field;
    let porch = |line| (timing.tick(line, start), timing.tick(line, timing.active_start));
    lines.map(|line| mean(trace, timing, porch(line))).collect()
}

/// The mean of each line, V.
#[must_use]
pub fn line_means(trace: &Trace, timing: &FieldTiming) -> Vec<f64> {
    let lines = 0..timing.lines_per_field;
    let whole = |line| (timing.tick(line, 0), timing.tick(line + 1, 0));
    lines.map(|line| mean(trace, timing, whole(line))).collect()
}
