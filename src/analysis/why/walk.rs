//! One run with every node of the ways recorded, and the pulses cut out of it.

use crate::analysis::cause::Subject;
use crate::analysis::cause::lag;
use crate::analysis::cause::route::Hop;
use crate::analysis::cause::scene::CUT_OFF_V;
use crate::analysis::cause::scene::Scene;
use crate::analysis::why::Pulse;
use crate::analysis::why::edges;
use crate::analysis::why::edges::Edge;
use crate::analysis::why::edges::Idle;
use crate::analysis::why::edges::Place;
use crate::analysis::why::edges::Wait;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartKind;
use crate::network::error::NetworkError;
use crate::scenario::Scenario;
use crate::signal::element::ElementId;
use crate::signal::element::Patch;
use crate::signal::pulse_train::FieldTrains;
use crate::signal::trace::Trace;
use crate::simulate::Bench;
use crate::simulate::RunError;
use std::ops::Range;

/// Samples of a field at most: as many to a clock as fit, for edges are short.
const MOST_SAMPLES: u64 = 3_000_000;
const MOST_PER_CLOCK: u64 = 64;

/// Clocks that are seen before and after a pulse.
const BEFORE: u32 = 3;
const AFTER: u32 = 6;

/// A field with its ways recorded.
pub(super) struct Walk<'a> {
    scenario: &'a Scenario,
    trains: FieldTrains,
    traces: Vec<(NodeId, Trace)>,
}

impl<'a> Walk<'a> {
    /// Runs the first field.
    pub(super) fn new(scenario: &'a Scenario, scenes: &[Scene<'_>]) -> Result<Self, RunError> {
        let mut nodes: Vec<NodeId> = scenes.iter().flat_map(recorded).collect();
        nodes.sort_unstable();
        nodes.dedup();
        nodes.retain(|node| *node != scenario.output.node && *node != NodeId::GROUND);
        let mut fine = scenario.clone();
        let clocks = scenario.raster.timing.clocks_per_field();
        let per_clock = (MOST_SAMPLES / clocks).clamp(1, MOST_PER_CLOCK);
        fine.solve.samples_per_clock =
            u32::try_from(per_clock).unwrap_or(1).max(scenario.solve.samples_per_clock);
        // The way ends at the output: what a modulator and a tuner make of it is no part of it.
        fine.modulator = None;
        let bench = Bench::new(&fine, &nodes)?;
        let field = bench.run()?.advance_field(&mut |_| {})?;
        let traces = field.nodes.iter().copied().zip(field.traces).collect();
        Ok(Self { scenario, trains: field.trains, traces })
    }

    fn trace(&self, node: NodeId) -> Option<&Trace> {
        self.traces.iter().find(|(known, _)| *known == node).map(|(_, trace)| trace)
    }

    /// The pulse at every node of the best way, from the pin's own on.
    pub(super) fn pulses(&self, scene: &Scene<'_>) -> Result<Vec<Pulse>, NetworkError> {
        let Some(way) = scene.ways.first() else { return Ok(Vec::new()) };
        let Some(place) = self.place(scene.subject) else { return Ok(Vec::new()) };
        let first = way.hops.first().map_or(self.scenario.output.node, |hop| hop.from);
        let mut pulses = vec![self.pulse(scene, first, &place)?];
        for hop in &way.hops {
            let mut pulse = self.pulse(scene, hop.to, &place)?;
            for (edge, start_s) in
                [(&mut pulse.lead, place.lit.start), (&mut pulse.trail, place.lit.end)]
            {
                if let Some(edge) = edge {
                    let time = start_s..start_s + edge.delay_s;
                    edge.waits = self.waits(scene, hop, &time);
                }
            }
            pulses.push(pulse);
        }
        Ok(pulses)
    }

    fn pulse(&self, scene: &Scene<'_>, node: NodeId, place: &Place) -> Result<Pulse, NetworkError> {
        let empty =
            Trace { node: String::new(), rate: self.trains.timing.clock, volts: Vec::new() };
        let trace = self.trace(node).unwrap_or(&empty);
        let noise_v = self.noise_v(scene, node)?;
        // What only feeds through at the edges is no pulse.
        let height = edges::height(trace, place);
        let height = height.filter(|_| scene.pulse_v(node).abs() >= edges::LEAST_V);
        let edge = |falls| -> Option<Edge> { edges::edge(trace, place, height?, falls, noise_v) };
        Ok(Pulse {
            node: self.scenario.circuit.node_name(node).to_owned(),
            volts: edges::samples(trace, &place.seen).to_vec(),
            start_s: place.seen.start - place.lit.start,
            step_s: trace.step_s(),
            width_s: place.lit.end - place.lit.start,
            lead: edge(false),
            trail: edge(true),
        })
    }

    /// Noise at a node, rms over the set's bandwidth, V: that of its resistance, and at the socket
    /// the set's own.
    ///
    /// # Source
    ///
    /// H. Nyquist, "Thermal agitation of electric charge in conductors", Physical Review 32 (1928):
    /// v² = 4 k T R B.
    fn noise_v(&self, scene: &Scene<'_>, node: NodeId) -> Result<f64, NetworkError> {
        const BOLTZMANN: f64 = 1.380_649e-23;
        const KELVIN: f64 = 300.0;
        let ohms = lag::resistance(scene, node)?.max(0.0);
        let set = &self.scenario.receiver;
        let thermal = 4.0 * BOLTZMANN * KELVIN * ohms * set.bandwidth_hz;
        let own_v = if node == self.scenario.output.node { set.viewing.noise_v } else { 0.0 };
        Ok((thermal + own_v * own_v).sqrt())
    }

    /// How long a transistor on the way is cut off or saturated in a stretch of time.
    fn waits(&self, scene: &Scene<'_>, hop: &Hop, time: &Range<f64>) -> Vec<Wait> {
        let part = scene.part(hop.part);
        let PartKind::Transistor { collector, base, emitter, model } = &part.kind else {
            return Vec::new();
        };
        let sign = model.polarity.sign();
        let [collector, base, emitter] = [collector, base, emitter].map(|node| self.trace(*node));
        let Some(some) = base.or(emitter).or(collector) else { return Vec::new() };
        let forward = |to: Option<&Trace>, time_s: f64| {
            sign * (edges::volts(base, time_s) - edges::volts(to, time_s))
        };
        let off = edges::time_of(some, time, |at| forward(emitter, at) < CUT_OFF_V);
        let full = edges::time_of(some, time, |at| {
            forward(emitter, at) >= CUT_OFF_V && forward(collector, at) >= CUT_OFF_V
        });
        [(Idle::CutOff, off), (Idle::Stored, full)]
            .into_iter()
            .filter(|(_, time_s)| *time_s > 0.0)
            .map(|(state, time_s)| Wait { part: part.name.clone(), state, time_s })
            .collect()
    }

    fn place(&self, subject: Subject) -> Option<Place> {
        match subject {
            Subject::Element(element) => self.element_place(element),
            Subject::Sync => self.sync_place(),
        }
    }

    /// A line pulse with nothing lit around it, in the middle of the field or below.
    fn sync_place(&self) -> Option<Place> {
        let (map, timing) = (&self.trains.map, &self.trains.timing);
        let (lines, clocks) = (timing.lines_per_field, timing.clocks_per_line);
        let first = timing.first_active_line.max(1);
        let before = |line: u32| (clocks - BEFORE..clocks).map(move |clock| (line - 1, clock));
        let within = |line: u32| (0..timing.line_sync + AFTER).map(move |clock| (line, clock));
        let is_alone = |line: &u32| {
            let mut around = before(*line).chain(within(*line));
            around.all(|(line, clock)| map.lit(line, clock).is_empty())
        };
        let line = (first.max(lines / 2)..lines).find(is_alone)?;
        let start = timing.tick(line, 0);
        let at = |tick: u64| timing.clock.seconds(tick);
        let stop = start + u64::from(timing.line_sync);
        Some(Place {
            lit: at(start)..at(stop),
            seen: at(start - u64::from(BEFORE))..at(stop + u64::from(AFTER)),
            clock_s: at(1),
        })
    }

    /// A run of the element that lies clear of all others, the widest of them, in the middle of its
    /// lines.
    fn element_place(&self, element: ElementId) -> Option<Place> {
        let map = &self.trains.map;
        let timing = &self.trains.timing;
        let clear = |patch: &&Patch| {
            map.shapes[patch.shape].element == element
                && patch.start >= timing.active_start + BEFORE
                && patch.stop + AFTER <= timing.active_stop
                && (patch.start - BEFORE..patch.stop + AFTER).all(|clock| {
                    let is_own = (patch.start..patch.stop).contains(&clock);
                    let lit = map.lit(patch.line, clock);
                    if is_own { lit.iter().all(|other| other == element) } else { lit.is_empty() }
                })
        };
        let runs: Vec<&Patch> = map.patches.iter().filter(clear).collect();
        let width = runs.iter().map(|run| run.stop - run.start).max()?;
        let widest: Vec<&&Patch> =
            runs.iter().filter(|run| run.stop - run.start == width).collect();
        let run = widest[widest.len() / 2];
        let at = |clock: u32| timing.clock.seconds(timing.tick(run.line, clock));
        Some(Place {
            lit: at(run.start)..at(run.stop),
            seen: at(run.start - BEFORE)..at(run.stop + AFTER),
            clock_s: timing.clock.seconds(1),
        })
    }
}

/// The nodes of a scene's best way, and those of the transistors on it.
fn recorded(scene: &Scene<'_>) -> Vec<NodeId> {
    let hops = scene.ways.iter().take(1).flat_map(|way| &way.hops);
    let mut nodes = Vec::new();
    for hop in hops {
        nodes.extend([hop.from, hop.to]);
        if let PartKind::Transistor { collector, base, emitter, .. } = &scene.part(hop.part).kind {
            nodes.extend([*collector, *base, *emitter]);
        }
    }
    nodes
}
