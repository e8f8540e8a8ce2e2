//! The board in time: waveforms, field by field.
//!
//! Every edge is a breakpoint; between edges the step follows an error estimate. Unless it is given
//! a `Recall`, no result is kept from one edge to the next but the state and the length of a first
//! step, so this path is slow and obvious: it is what the faster one is compared with.

mod crossing;
mod settle;
pub(crate) mod stretches;

use crate::base::ticks::ClockRate;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::Pin;
use crate::network::error::NetworkError;
use crate::network::evaluation::Unknown;
use crate::network::evaluation::Weights;
use crate::network::family::independent;
use crate::network::ladder;
use crate::network::operating_point::Network;
use crate::network::operating_point::OperatingPoint;
use crate::network::recall::Recall;
use crate::network::recall::RecallCounts;
use crate::network::rest::Rest;
use crate::network::rest::Rests;
use crate::network::ripple::Ripple;
use crate::network::sampler::Sampler;
use crate::network::schedule::TURN_S;
use crate::network::schedule::TURNED;
use crate::network::slew::Event;
use crate::network::slew::SAME_MOMENT_S;
use crate::network::slew::Slew;
use crate::network::slew::gate_times_s;
use crate::network::slew::pin_ramp_s;
use crate::network::state::State;
use crate::network::step::Ends;
use crate::network::step::Stepper;
use crate::network::step::interpolate_at;
use crate::network::transient::crossing::Crossing;
use crate::network::watch::Accepted;
use crate::network::watch::Outlet;
use crate::network::waves::Side;
use crate::network::waves::Waves;
use crate::signal::pulse_train::Level;
use crate::signal::pulse_train::PulseTrain;

/// Work done.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Steps taken.
    pub steps: u64,
    /// Steps tried and not taken.
    pub rejected: u64,
    /// Newton iterations.
    pub iterations: u64,
    /// Matrices factorized.
    pub factorizations: u64,
}

/// How finely and how exactly.
#[derive(Clone, Debug)]
pub struct TransientSpec {
    /// The clock that the trains count, Hz.
    pub clock: ClockRate,
    /// Samples a clock, 1 or more.
    pub samples_per_clock: u32,
    /// Error tolerance of one step, V at any node.
    pub tolerance_v: f64,
    /// Nodes to sample.
    pub taps: Vec<NodeId>,
}

/// A board under way, carried from field to field.
#[derive(Debug)]
pub struct Transient<'a> {
    network: &'a Network,
    pins: Vec<Pin>,
    spec: TransientSpec,
    state: State,
    stepper: Stepper<'a>,
    /// Step that last succeeded right after a breakpoint, s.
    restart_step_s: f64,
    /// Drivers that have turned since the run was last begun, to which state and when.
    turns: Vec<Event>,
    /// What is known of this board, if it is to be used.
    recall: Option<Recall>,
    /// Time since contacts and sounders were let go, s; `None` while nothing turns by itself.
    since_s: Option<f64>,
}

/// First step of a run and of a stretch, s.
const FIRST_STEP_S: f64 = 1e-9;

/// A step below this has failed, s.
const SMALLEST_STEP_S: f64 = 1e-17;

impl<'a> Transient<'a> {
    /// A board at rest at an operating point of the network, its pins there at `levels`.
    #[must_use]
    pub fn new(
        network: &'a Network,
        circuit: &Circuit,
        start: &OperatingPoint,
        levels: &[Level],
        spec: TransientSpec,
    ) -> Self {
        let system = &network.system;
        let mut slews: Vec<Slew> =
            levels.iter().map(|level| Slew::rest(usize::from(level.0))).collect();
        slews.extend(start.gates.iter().map(|&high| Slew::rest(usize::from(high))));
        slews.extend(system.timed.iter().map(|_| Slew::rest(0)));
        let inputs = system
            .gates
            .iter()
            .map(|gate| (0..gate.inputs.len()).map(|i| gate.margin(&start.x, i) >= 0.0).collect())
            .collect();
        let ripples = system.ripples.clone();
        let (x, q) = (start.x.clone(), vec![0.0; system.order]);
        let cables =
            system.cables.iter().map(|line| Waves::rest(line, &x, spec.tolerance_v)).collect();
        let state = State { x, q, slews, ripples, cables, inputs, pending: Vec::new() };
        let stepper = Stepper::new(system, spec.tolerance_v);
        let pins = circuit.pins().map(|(_, pin)| pin.clone()).collect();
        let restart_step_s = FIRST_STEP_S;
        let mut run = Self {
            network,
            pins,
            spec,
            state,
            stepper,
            restart_step_s,
            turns: Vec::new(),
            recall: None,
            since_s: Some(0.0),
        };
        run.recharge(0.0);
        run
    }

    /// Lets it put a field together from stretches that it has solved before; see
    /// `network/recall.rs`.
    #[must_use]
    pub fn with_recall(mut self) -> Self {
        let has_ripple = !self.state.ripples.iter().all(Ripple::is_still);
        // What is under way in a cable has no slope against what a slow state holds.
        self.recall = self
            .slow_stores()
            .filter(|slow| (slow.is_empty() && !has_ripple) || self.state.cables.is_empty())
            .map(Recall::new);
        self
    }

    /// The ends of the capacitors that do not come to rest within a third of a line or so, in any of
    /// three states: as the board stands, and with all pins low or high. `None` if that is not known.
    fn slow_stores(&mut self) -> Option<Vec<[Unknown; 2]>> {
        const SLOW_CLOCKS: f64 = 40.0;
        let weights = self.state.weights(0.0, Side::After);
        let mut tau_s = self.stepper.time_constants(&self.state.x, &weights)?;
        for level in [Level::LOW, Level::HIGH] {
            let levels = vec![level; self.pins.len()];
            let Ok(point) = self.network.operating_point(&levels) else { continue };
            let weights = self.network.weights(&levels, &point.gates);
            for (longest, tau_s) in
                tau_s.iter_mut().zip(self.stepper.time_constants(&point.x, &weights)?)
            {
                *longest = longest.max(tau_s);
            }
        }
        let slow_s = SLOW_CLOCKS / self.spec.clock.hertz();
        let ends = self.network.system.stores.iter().map(|store| store.ends);
        let slow = ends.zip(tau_s).filter(|&(_, tau_s)| tau_s >= slow_s);
        Some(independent(slow.map(|(ends, _)| ends)))
    }

    /// How often a stretch was known.
    #[must_use]
    pub fn recall_counts(&self) -> RecallCounts {
        self.recall.as_ref().map(|recall| recall.counts).unwrap_or_default()
    }

    /// Work done so far.
    #[must_use]
    pub fn counts(&self) -> Counts {
        self.stepper.counts
    }

    /// Runs one field of trains, one for each pin, and samples the taps: for each tap
    /// `samples_per_clock` times the trains' length in ticks, the first at the field's start.
    ///
    /// # Errors
    ///
    /// [`NetworkError::StepTooSmall`] with the moment and the node.
    ///
    /// # Panics
    ///
    /// If the trains do not fit the pins.
    pub fn advance_field(&mut self, trains: &[PulseTrain]) -> Result<Vec<Vec<f32>>, NetworkError> {
        assert_eq!(trains.len(), self.pins.len(), "one train for each pin");
        let field_s = self.field_s(trains);
        if self.is_turning(field_s) {
            self.leave();
            return self.follow_field(trains, None);
        }
        let Some(mut recall) = self.recall.take() else { return self.follow_field(trains, None) };
        let before = self.counts().steps;
        let field = if recall.pauses() {
            let field = self.follow_field(trains, None);
            recall.has_paused(self.counts().steps - before);
            field
        } else {
            let field = recall.field(self, trains);
            self.since_s = self.since_s.map(|since_s| since_s + field_s);
            field
        };
        self.recall = Some(recall);
        field
    }

    /// As [`Transient::advance_field`], showing every step to `watch` as it is taken. Steps and
    /// samples are the same; two slopes are worked out for each step that nothing else asks for.
    ///
    /// # Errors
    ///
    /// As [`Transient::advance_field`].
    ///
    /// # Panics
    ///
    /// If the trains do not fit the pins.
    pub fn watch_field(
        &mut self,
        trains: &[PulseTrain],
        watch: &mut dyn FnMut(&Accepted<'_>),
    ) -> Result<Vec<Vec<f32>>, NetworkError> {
        self.leave();
        self.follow_field(trains, Some(watch))
    }

    /// The board is not where the last field ended as far as is known of it.
    fn leave(&mut self) {
        self.recall.iter_mut().for_each(Recall::leave);
    }

    fn follow_field(
        &mut self,
        trains: &[PulseTrain],
        watch: Option<&mut dyn FnMut(&Accepted<'_>)>,
    ) -> Result<Vec<Vec<f32>>, NetworkError> {
        assert_eq!(trains.len(), self.pins.len(), "one train for each pin");
        let length = trains.iter().map(|train| train.length().0).max().unwrap_or(0);
        let end_s = self.spec.clock.seconds(length);
        let events = self.pin_events(trains);
        self.state.pending.extend(events);
        let events = self.timed_events(end_s);
        self.state.pending.extend(events);
        self.state.sort_pending();
        let mut outlet = Outlet::new(Sampler::new(&self.spec, length)).watched(watch);
        outlet.sampler.take(0.0, &self.state.x);
        self.follow(end_s, &mut outlet, None)?;
        self.state.rebase(end_s);
        self.since_s = self.since_s.map(|since_s| since_s + end_s);
        Ok(outlet.sampler.samples)
    }

    /// Follows the board to `end_s`, or until it is at rest if it is told when that is.
    fn follow(
        &mut self,
        end_s: f64,
        outlet: &mut Outlet<'_>,
        mut rests: Option<&mut Rests>,
    ) -> Result<Option<Rest>, NetworkError> {
        let mut time_s = 0.0;
        self.turns.clear();
        while time_s < end_s {
            // Standing levels are those of a mean that the ripples then leave.
            let leaves_mean = time_s <= 0.0 && !self.state.ripples.iter().all(Ripple::is_still);
            let jumped = self.apply_events(time_s) || leaves_mean;
            self.begin_segment(time_s);
            if !self.state.cables.is_empty() {
                self.travel(time_s);
            } else if jumped {
                self.restart();
            }
            let next_s = self.next_breakpoint(time_s, end_s);
            let rest = self.run_segment(&mut time_s, next_s, outlet, rests.as_deref_mut())?;
            if rest.is_some() {
                return Ok(rest);
            }
        }
        Ok(None)
    }

    /// Moves the unknowns, and all that belongs to them.
    pub(crate) fn shift(&mut self, by: &[f64]) {
        for (x, by) in self.state.x.iter_mut().zip(by) {
            *x += by;
        }
        for cable in &mut self.state.cables {
            cable.shift(by);
        }
        self.recharge(0.0);
    }

    /// Sets every curved charge to what belongs to the unknowns, with the drivers as they are at a moment.
    fn recharge(&mut self, time_s: f64) {
        let weights = self.state.weights(time_s, Side::After);
        self.state.q = self.stepper.charge(&self.state.x, &weights);
    }

    fn pin_events(&self, trains: &[PulseTrain]) -> Vec<Event> {
        let mut events = Vec::new();
        for (driver, (train, pin)) in trains.iter().zip(&self.pins).enumerate() {
            let at_s = |tick: u64| self.spec.clock.seconds(tick) + pin.delay_s;
            events.push(Event { at_s: at_s(0), driver, state: usize::from(train.initial().0) });
            events.extend(train.edges().iter().map(|edge| Event {
                at_s: at_s(edge.at.0),
                driver,
                state: usize::from(edge.level.0),
            }));
        }
        events
    }

    /// What turns by itself in the field that begins.
    fn timed_events(&self, field_s: f64) -> Vec<Event> {
        let Some(since_s) = self.since_s else { return Vec::new() };
        let first = self.pins.len() + self.network.system.gates.len();
        let mut events = Vec::new();
        for (driver, schedule) in (first..).zip(&self.network.system.timed) {
            // The next field begins at this very number, so that no turn falls between two fields.
            let until_s = since_s + field_s;
            for (start_s, end_s) in schedule.spans(since_s, until_s) {
                let turns = [(start_s, TURNED), (end_s, 0)].into_iter();
                let within = turns.filter(|&(at_s, _)| at_s < until_s);
                events.extend(within.map(|(at_s, state)| Event {
                    at_s: (at_s - since_s).max(0.0),
                    driver,
                    state,
                }));
            }
        }
        events
    }

    /// Sets the drivers out whose moment has come; whether any of them jumped.
    fn apply_events(&mut self, time_s: f64) -> bool {
        let due = self.state.pending.partition_point(|event| event.at_s <= time_s + SAME_MOMENT_S);
        let events: Vec<Event> = self.state.pending.drain(..due).collect();
        let mut jumped = false;
        for event in events {
            let slew = &self.state.slews[event.driver];
            if slew.to == event.state {
                continue;
            }
            let full_s = self.ramp_s(event, slew.to);
            self.state.slews[event.driver].turn(event.state, time_s, full_s);
            self.turns.push(event);
            jumped |= full_s <= 0.0;
        }
        jumped
    }

    fn ramp_s(&self, event: Event, from: usize) -> f64 {
        match self.pins.get(event.driver) {
            Some(pin) => pin_ramp_s(pin, from, event.state),
            None if self.is_timed(event.driver) => TURN_S,
            None => self.gate_times_s(event.driver - self.pins.len()).1,
        }
    }

    /// Whether something turns by itself in the field that begins, or has not turned back.
    fn is_turning(&self, field_s: f64) -> bool {
        let timed = self.pins.len() + self.network.system.gates.len();
        self.state.slews[timed..].iter().any(|slew| slew.to != 0)
            || !self.timed_events(field_s).is_empty()
    }

    /// Whether a driver turns by itself.
    fn is_timed(&self, driver: usize) -> bool {
        driver >= self.pins.len() + self.network.system.gates.len()
    }

    fn gate_times_s(&self, gate: usize) -> (f64, f64) {
        let logical = &self.network.system.gates[gate];
        let supply = crate::network::evaluation::at(&self.state.x, logical.supply);
        gate_times_s(&logical.gate.speed, supply)
    }

    fn next_breakpoint(&self, time_s: f64, end_s: f64) -> f64 {
        let event = self.state.pending.first().map_or(end_s, |event| event.at_s);
        let arrivals = self.state.slews.iter().map(Slew::end_s);
        let arrival = arrivals.filter(|&end| end > time_s + SAME_MOMENT_S).fold(end_s, f64::min);
        let corners = self.state.ripples.iter().map(|ripple| ripple.next_corner_s(time_s));
        let known_s = corners.fold(event.min(arrival).min(end_s), f64::min);
        self.state.first_arrival_s(known_s)
    }

    /// From breakpoint to breakpoint, or to the first event that a gate adds on the way, or until
    /// the board is at rest: its rest then.
    fn run_segment(
        &mut self,
        time_s: &mut f64,
        next_s: f64,
        outlet: &mut Outlet<'_>,
        mut rests: Option<&mut Rests>,
    ) -> Result<Option<Rest>, NetworkError> {
        let mut step_s = self.restart_step_s;
        let rates = self.state.rates(*time_s);
        let mut slopes = Slopes { rates, start: None, end: None };
        let set_out = self.slope(*time_s, step_s, &mut slopes.rates);
        self.stepper.expect(&set_out);
        slopes.start = Some(set_out);
        let mut first = true;
        let mut stop_s = next_s;
        let mut known: Vec<Crossing> = Vec::new();
        while *time_s < stop_s {
            step_s = self.fit(*time_s, step_s, stop_s - *time_s);
            let after_s = if *time_s + step_s >= stop_s { stop_s } else { *time_s + step_s };
            let step = Span { start_s: *time_s, step_s, after_s };
            slopes.end = None;
            let taken = self.try_step(*time_s, step_s);
            let passed =
                taken.filter(|&error| error <= 1.0 && !self.gentle_misses(&step, &mut slopes));
            let Some(error) = passed else {
                self.stepper.counts.rejected += 1;
                step_s *= taken.map_or(0.2, |error| factor(error).min(0.7));
                step_s = ladder::floor(step_s);
                self.check_step(*time_s, step_s)?;
                known.clear();
                stop_s = next_s;
                continue;
            };
            if known.is_empty() {
                known = self.find_crossings(&step, &mut slopes);
                let events = known.iter().filter_map(|crossing| crossing.event);
                let at_s = events.map(|event| event.at_s).fold(f64::INFINITY, f64::min);
                if at_s < after_s - SAME_MOMENT_S {
                    // The gate answers within this step: take the step again, up to that moment.
                    stop_s = at_s.max(*time_s + SMALLEST_STEP_S);
                    step_s = stop_s - *time_s;
                    known.retain(|crossing| crossing.at_s <= stop_s);
                    continue;
                }
            }
            let end_slope = self.finish_step(&step, &mut slopes, outlet, &known);
            for crossing in known.drain(..) {
                self.state.note(&crossing);
            }
            if first {
                self.restart_step_s = ladder::floor(step_s.clamp(1e-12, 1e-7));
                first = false;
            }
            *time_s = after_s;
            step_s = ladder::floor(step_s * factor(error));
            self.rest_where_calm(*time_s);
            slopes.start = end_slope.filter(|_| self.goes_on(*time_s, step_s / step.step_s));
            let rest = rests.as_deref_mut().and_then(|rests| {
                rests.reached(self.network, &self.state, *time_s, self.spec.tolerance_v)
            });
            if rest.is_some() {
                return Ok(rest);
            }
            let soon = self.state.pending.first().map_or(next_s, |event| event.at_s);
            stop_s = self.state.first_arrival_s(stop_s).min(next_s).min(soon).max(*time_s);
        }
        Ok(None)
    }

    /// Whether the slope at the end of a step serves at the start of the next, so many times as long: what is
    /// left of fast modes counts for more the shorter it was taken over. Waves in a cable have to join.
    fn goes_on(&self, time_s: f64, growth: f64) -> bool {
        match self.state.cables.as_slice() {
            [] => growth <= MOST_GROWN,
            cables => !cables.iter().any(|cable| cable.bends(time_s)),
        }
    }

    /// Shows a step to whoever looks at it and moves on to its end; the slope there, if it was
    /// needed.
    fn finish_step(
        &mut self,
        step: &Span,
        slopes: &mut Slopes,
        outlet: &mut Outlet<'_>,
        crossings: &[Crossing],
    ) -> Option<Vec<f64>> {
        let mut end_slope = None;
        let needed = outlet.sampler.falls_into(step.after_s)
            || outlet.marks.due(step.after_s).is_some()
            || !self.state.cables.is_empty();
        if needed || outlet.watch.is_some() {
            let [start, end] = self.both_slopes(step, slopes);
            let ends = step.ends([&self.state.x, &self.stepper.end.x], [&start, &end]);
            let rates = &self.stepper.slopes;
            outlet.take_step(step.after_s, &Accepted { ends: &ends, state: &self.state, rates });
            while let Some(moment_s) = outlet.marks.due(step.after_s) {
                let state = state_within(&self.state, &ends, moment_s, crossings);
                outlet.marks.passed.push((state, self.turns.clone(), self.counts().steps));
            }
            for cable in &mut self.state.cables {
                cable.keep(&ends);
            }
            // A watcher must not change what the next step begins with.
            end_slope = needed.then_some(end);
        }
        self.stepper.accept(&mut self.state.x, &mut self.state.q);
        end_slope
    }

    /// A step that neither passes the end of the segment nor looks up what has not left yet, and
    /// that ends where the end of an earlier one arrives, if it would pass it: so what is looked up
    /// is smooth, and a wave that runs to and fro is not cut up anew on each pass.
    fn fit(&self, time_s: f64, step_s: f64, left_s: f64) -> f64 {
        const ROUNDING: f64 = 1e-9;
        const STRETCH: f64 = 1.1;
        let longest = self.state.cables.iter().map(Waves::longest_step_s);
        let longest = longest.fold(f64::INFINITY, f64::min);
        let step_s = step_s.min(longest);
        let reach_s = (STRETCH * step_s).min(longest * (1.0 + ROUNDING));
        let is_last = left_s <= reach_s;
        let reach_s = left_s.min(reach_s);
        let smooth_s = self.state.cables.iter().fold(reach_s, |reach_s, cable| {
            cable.smooth_step_s(time_s, reach_s).unwrap_or(reach_s)
        });
        match smooth_s < reach_s {
            true => smooth_s,
            false if is_last => left_s,
            false => step_s,
        }
    }

    /// Whether a gentle form misses too much on the curve of a step: if so, everything travels from
    /// the start of the step on.
    fn gentle_misses(&mut self, step: &Span, slopes: &mut Slopes) -> bool {
        if self.state.cables.iter().all(Waves::is_travelling) {
            return false;
        }
        let [start, end] = self.both_slopes(step, slopes);
        let ends = step.ends([&self.state.x, &self.stepper.end.x], [&start, &end]);
        let misses = self.state.cables.iter().any(|cable| cable.misses(&ends));
        (slopes.start, slopes.end) = (Some(start), Some(end));
        if misses {
            self.travel(step.start_s);
            slopes.start = None;
        }
        misses
    }

    /// Drivers are then either on their way or at rest up to the next breakpoint.
    fn begin_segment(&mut self, time_s: f64) {
        let weights = self.state.weights(time_s, Side::After);
        self.stepper.begin(&self.state.x, &weights, &self.state.are_still(time_s));
    }

    fn restart(&mut self) {
        self.stepper.restart(&mut self.state.x, &self.state.q);
    }

    /// From here on everything in the cables travels.
    fn travel(&mut self, time_s: f64) {
        for cable in &mut self.state.cables {
            cable.travel(time_s);
        }
        self.recharge(time_s);
        self.begin_segment(time_s);
        self.restart();
    }

    /// Lets cables in which nothing steep is under way approximate their delay.
    fn rest_where_calm(&mut self, time_s: f64) {
        let mut rests = false;
        for cable in &mut self.state.cables {
            rests |= cable.rest_if_calm(time_s);
        }
        if rests {
            self.recharge(time_s);
        }
    }

    fn both_slopes(&mut self, step: &Span, slopes: &mut Slopes) -> [Vec<f64>; 2] {
        let start = match slopes.start.take() {
            Some(slope) => slope,
            None => self.slope(step.start_s, step.step_s, &mut slopes.rates),
        };
        let end = match slopes.end.take() {
            Some(slope) => slope,
            None => self.end_slope(step.after_s, step.step_s, &mut slopes.rates),
        };
        [start, end]
    }

    fn try_step(&mut self, time_s: f64, step_s: f64) -> Option<f64> {
        let state = &self.state;
        self.stepper.attempt(step_s, &state.x, &state.q, &|share, index| {
            state.weights_of(index, time_s + share * step_s, Side::Before)
        })
    }

    fn check_step(&mut self, time_s: f64, step_s: f64) -> Result<(), NetworkError> {
        if step_s >= SMALLEST_STEP_S {
            return Ok(());
        }
        let (worst, residual_amps) = self.stepper.worst_residual();
        let node = self.network.unknown_name(worst);
        Err(NetworkError::StepTooSmall { node, time_s, step_s, residual_amps })
    }

    fn slope(&mut self, time_s: f64, step_s: f64, rates: &mut [Weights]) -> Vec<f64> {
        let weights = self.state.weights(time_s, Side::After);
        self.state.set_cable_rates(time_s, Side::After, rates);
        self.stepper.slope(&self.state.x, &weights, rates, step_s)
    }

    fn end_slope(&mut self, time_s: f64, step_s: f64, rates: &mut [Weights]) -> Vec<f64> {
        let weights = self.state.weights(time_s, Side::Before);
        self.state.set_cable_rates(time_s, Side::Before, rates);
        let x = std::mem::take(&mut self.stepper.end.x);
        let slope = self.stepper.slope(&x, &weights, rates, step_s);
        self.stepper.end.x = x;
        slope
    }
}

/// The state at a moment within a step, from which time then counts, but for its charge: on the curve
/// that samples lie on, and after those crossings that lie before it.
fn state_within(before: &State, ends: &Ends, moment_s: f64, crossings: &[Crossing]) -> State {
    let mut state = before.clone();
    let share = ((moment_s - ends.start_s) / ends.step_s).clamp(0.0, 1.0);
    for (unknown, x) in state.x.iter_mut().enumerate() {
        *x = interpolate_at(ends, unknown, share);
    }
    for crossing in crossings.iter().filter(|crossing| crossing.at_s <= moment_s) {
        state.note(crossing);
    }
    state.rebase(moment_s);
    state
}

/// How much longer a step may be than the one before for the slope at that one's end to serve.
const MOST_GROWN: f64 = 1.5;

/// How much longer the next step may be after one with this share of the tolerance.
fn factor(error: f64) -> f64 {
    (0.9 / error.max(1e-6).sqrt().sqrt()).clamp(0.2, 4.0)
}

/// Where a step lies in time.
struct Span {
    start_s: f64,
    step_s: f64,
    after_s: f64,
}

impl Span {
    fn ends<'a>(&self, x: [&'a [f64]; 2], slope: [&'a [f64]; 2]) -> Ends<'a> {
        Ends { start_s: self.start_s, step_s: self.step_s, x, slope }
    }
}

/// Slopes of the solution, worked out only where a sample or a crossing asks for them.
struct Slopes {
    /// How fast the drivers move in this segment.
    rates: Vec<Weights>,
    /// At the start of the step, if known.
    start: Option<Vec<f64>>,
    /// At its end.
    end: Option<Vec<f64>>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::math;
    use crate::network::circuit::PartKind;
    use crate::network::rig::circuit;
    use crate::network::rig::pin;
    use crate::network::rig::step_error;

    #[test]
    fn an_rc_step_follows_its_closed_form() {
        let board = circuit(
            &["ground", "a"],
            vec![pin(1, 1e3), PartKind::Capacitor { ends: [NodeId(1), NodeId(0)], farads: 1e-9 }],
        );
        let error = step_error(&board, 1, |t| 5.0 * (1.0 - math::exp(-t / 1e-6)));
        assert!(error < 50e-6, "{error}");
    }

    #[test]
    fn an_rl_step_follows_its_closed_form() {
        let board = circuit(
            &["ground", "a"],
            vec![
                pin(1, 1e3),
                PartKind::Inductor { ends: [NodeId(1), NodeId(0)], henries: 1e-3, ohms: 0.0 },
            ],
        );
        let error = step_error(&board, 1, |t| 5.0 * math::exp(-t / 1e-6));
        assert!(error < 50e-6, "{error}");
    }

    #[test]
    fn a_series_resonant_circuit_rings_as_its_closed_form_says() {
        let (r, l, c) = (100.0, 100e-6, 1e-9);
        let board = circuit(
            &["ground", "a", "b"],
            vec![
                pin(1, r),
                PartKind::Inductor { ends: [NodeId(1), NodeId(2)], henries: l, ohms: 0.0 },
                PartKind::Capacitor { ends: [NodeId(2), NodeId(0)], farads: c },
            ],
        );
        let damping = r / (2.0 * l);
        let ringing = (1.0 / (l * c) - damping * damping).sqrt();
        let error = step_error(&board, 2, |t| {
            let swing = math::cos(ringing * t) + damping / ringing * math::sin(ringing * t);
            5.0 * (1.0 - math::exp(-damping * t) * swing)
        });
        assert!(error < 300e-6, "{error}");
    }
}
