//! What a set that makes its picture from numbers asks of a signal before it shows anything.

use crate::base::math;
use crate::base::math::median;
use crate::receiver::slicer::Pulse;
use crate::receiver::slicer::mean_between;
use crate::receiver::spec::SyncMeasure;
use crate::receiver::sync::Separated;
use crate::receiver::time_base::Lines;
use crate::signal::trace::Trace;

/// How near to its place a line edge in field sync counts as there, s.
const IN_PLACE_S: f64 = 1e-6;

/// A property of a signal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Property {
    /// Line rate against the standard's, as a share.
    LineRate,
    /// Fields a second, Hz.
    FieldRate,
    /// Lines in a field.
    Lines,
    /// Black minus tip at the socket, V.
    Depth,
    /// Back porch at the socket, V.
    Offset,
    /// Front porch above the back porch, V.
    Porches,
    /// Share of the lines in field sync that have an edge at their start.
    LineEdges,
    /// How far the field's length is from a whole number of lines and a half, lines.
    Interlace,
    /// Spread of the time between line pulses, s.
    Jitter,
}

/// Where a demand comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Origin {
    /// A maker's data of a television's own circuits.
    Data,
    /// A maker's note on what is still seen sharp: no reason to refuse.
    Detail,
    /// From memory: what fails it may not be refused by the set on the bench.
    Memory,
    /// The scenario says so.
    Stated,
}

/// What a set asks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Demand {
    /// Of what.
    pub property: Property,
    /// Least value, in the property's unit.
    pub low: f64,
    /// Greatest value.
    pub high: f64,
    /// Who says so.
    pub origin: Origin,
}

impl Demand {
    /// Whether a set shows no picture where it is not met: what is known from memory only is no reason.
    #[must_use]
    pub fn may_refuse(&self) -> bool {
        matches!(self.origin, Origin::Data | Origin::Stated)
    }
}

/// A demand, and what the signal has.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Answer {
    /// The demand.
    pub demand: Demand,
    /// What was measured, in the property's unit; `None` without sync.
    pub measured: Option<f64>,
}

impl Answer {
    /// How far inside the nearer end the signal lies, in the property's unit; below 0 outside.
    #[must_use]
    pub fn margin(&self) -> Option<f64> {
        let value = self.measured?;
        Some((value - self.demand.low).min(self.demand.high - value))
    }

    /// Whether the signal has what is asked.
    #[must_use]
    pub fn is_met(&self) -> bool {
        self.margin().is_some_and(|margin| margin >= 0.0)
    }

    /// Whether the set shows no picture for it.
    #[must_use]
    pub fn refuses(&self) -> bool {
        !self.is_met() && self.demand.may_refuse()
    }
}

/// A signal as it is measured for the demands.
pub(super) struct Sent<'a> {
    pub(super) signal: &'a Trace,
    pub(super) sync: &'a Separated,
    pub(super) measure: &'a SyncMeasure,
    pub(super) lines: &'a Lines,
    /// Delay of the video filter, s.
    pub(super) delay_s: f64,
    /// Length of a field that was sent, s.
    pub(super) field_s: f64,
    /// Line rate of the standard, Hz.
    pub(super) nominal_hz: f64,
}

/// The answers, in the order of the demands.
pub(super) fn answers(demands: &[Demand], sent: Option<&Sent<'_>>) -> Vec<Answer> {
    let answer = |demand: &Demand| Answer {
        demand: *demand,
        measured: sent.and_then(|sent| sent.measured(demand.property)),
    };
    demands.iter().map(answer).collect()
}

impl Sent<'_> {
    fn measured(&self, property: Property) -> Option<f64> {
        let lines = self.field_s / self.sync.period_s;
        match property {
            Property::LineRate => Some(1.0 / (self.sync.period_s * self.nominal_hz) - 1.0),
            Property::FieldRate => Some(1.0 / self.field_s),
            Property::Lines => Some(lines),
            Property::Depth => Some(self.measure.porch_v - self.measure.tip_v),
            Property::Offset => Some(self.measure.porch_v),
            Property::Porches => self.porches_v(),
            Property::LineEdges => self.line_edges(),
            Property::Interlace => Some((lines - math::floor(lines) - 0.5).abs()),
            Property::Jitter => self.jitter_s(),
        }
    }

    fn line_pulses(&self) -> impl Iterator<Item = &Pulse> {
        self.sync.line.iter().map(|&at| &self.sync.pulses[at])
    }

    fn porches_v(&self) -> Option<f64> {
        let before = |pulse: &Pulse| {
            let edge_s = pulse.leading_s? - self.delay_s;
            let (from_s, to_s) = (edge_s - 1.2e-6, edge_s - 0.4e-6);
            mean_between(&self.signal.volts, self.signal.step_s(), from_s, to_s)
        };
        let front_v = median(self.line_pulses().skip(1).filter_map(before).collect())?;
        Some(front_v - self.measure.porch_v)
    }

    /// Of the second and third line of each field sync: the first begins with it.
    fn line_edges(&self) -> Option<f64> {
        let edges: Vec<f64> = self.sync.pulses.iter().filter_map(|pulse| pulse.leading_s).collect();
        let inside: Vec<f64> = (self.sync.field_starts_s.iter())
            .flat_map(|&field_s| {
                let after = field_s + 0.5 * self.sync.period_s;
                let starts = self.lines.lines.iter().map(|line| line.start_s);
                starts.filter(move |start_s| *start_s > after).take(2)
            })
            .collect();
        let near = |start_s: f64| edges.iter().any(|edge_s| (edge_s - start_s).abs() < IN_PLACE_S);
        let count = inside.iter().filter(|start_s| near(**start_s)).count();
        (!inside.is_empty()).then(|| math::from_usize(count) / math::from_usize(inside.len()))
    }

    fn jitter_s(&self) -> Option<f64> {
        let edges: Vec<f64> = self.line_pulses().filter_map(|pulse| pulse.leading_s).collect();
        let period_s = self.sync.period_s;
        let intervals = edges.windows(2).map(|pair| pair[1] - pair[0]);
        let apart = intervals.map(|interval_s| interval_s - period_s);
        let near = |apart_s: &f64| apart_s.abs() < 0.1 * period_s;
        let all: Vec<f64> = apart.filter(near).collect();
        let most_s = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let least_s = all.iter().copied().fold(f64::INFINITY, f64::min);
        (!all.is_empty()).then_some(most_s - least_s)
    }
}
