//! Gate inputs that cross their thresholds within a step, and what the gates make of it.

use crate::network::slew::Event;
use crate::network::state::State;
use crate::network::transient::Slopes;
use crate::network::transient::Span;
use crate::network::transient::Transient;

/// An input counts as crossed once it is past its threshold by this much, V, so that rounding on
/// the threshold itself cannot make it cross again and again.
const CROSSING_MARGIN_V: f64 = 1e-4;

/// What a step leads to that was not known before it.
pub(super) struct Crossing {
    pub(super) at_s: f64,
    gate: usize,
    input: usize,
    pub(super) event: Option<Event>,
}

impl Transient<'_> {
    /// The gate inputs that have crossed their thresholds by the end of the step, in order.
    pub(super) fn find_crossings(&mut self, step: &Span, slopes: &mut Slopes) -> Vec<Crossing> {
        let mut crossed = Vec::new();
        for (gate, logical) in self.network.system.gates.iter().enumerate() {
            for (input, &high) in self.state.inputs[gate].iter().enumerate() {
                let sign = if high { -1.0 } else { 1.0 };
                if sign * logical.margin(&self.stepper.end.x, input) > CROSSING_MARGIN_V {
                    crossed.push((gate, input, sign));
                }
            }
        }
        if crossed.is_empty() {
            return Vec::new();
        }
        let [start, end] = self.both_slopes(step, slopes);
        let ends = step.ends([&self.state.x, &self.stepper.end.x], [&start, &end]);
        let moments = crossed.into_iter().map(|(gate, input, sign)| {
            let logical = &self.network.system.gates[gate];
            let nodes = [logical.inputs[input], logical.supply];
            let height =
                |[input, supply]: [f64; 2]| sign * (input - logical.switching_volts(supply));
            Crossing { at_s: ends.crossing(nodes, height), gate, input, event: None }
        });
        let mut crossings: Vec<Crossing> = moments.collect();
        crossings.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        (slopes.start, slopes.end) = (Some(start), Some(end));
        let mut inputs = self.state.inputs.clone();
        for crossing in &mut crossings {
            crossing.event = self.gate_event(crossing, &mut inputs[crossing.gate]);
        }
        crossings
    }

    /// What a gate's output does after one of its `inputs` has crossed, which is turned.
    fn gate_event(&self, crossing: &Crossing, inputs: &mut [bool]) -> Option<Event> {
        let logical = &self.network.system.gates[crossing.gate];
        let before = logical.gate.logic.output(inputs);
        inputs[crossing.input] = !inputs[crossing.input];
        let after = logical.gate.logic.output(inputs);
        (before != after).then(|| Event {
            at_s: crossing.at_s + self.gate_times_s(crossing.gate).0,
            driver: logical.driver,
            state: usize::from(after),
        })
    }
}

impl State {
    pub(super) fn note(&mut self, crossing: &Crossing) {
        let input = &mut self.inputs[crossing.gate][crossing.input];
        *input = !*input;
        if let Some(event) = crossing.event {
            let place = self.pending.partition_point(|pending| pending.at_s <= event.at_s);
            self.pending.insert(place, event);
        }
    }
}
