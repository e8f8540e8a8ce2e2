//! Boards that have come to rest between two edges.

use crate::network::operating_point::Network;
use crate::network::operating_point::OperatingPoint;
use crate::network::ripple::Ripple;
use crate::network::slew::SAME_MOMENT_S;
use crate::network::slew::Slew;
use crate::network::state::State;
use crate::network::system::System;
use crate::network::waves::Waves;
use crate::signal::pulse_train::Level;
use std::collections::HashMap;

/// A board is at rest when no node is further from its standing level than this share of the
/// tolerance there.
pub(crate) const REST_SHARE: f64 = 0.1;
/// A coil's current counts as the volts that it makes across this, Ω.
const CURRENT_OHMS: f64 = 10.0;

/// A board that has come to rest.
#[derive(Debug)]
pub(crate) struct Rest {
    /// When, s.
    pub(crate) at_s: f64,
    /// The unknowns at the standing levels.
    pub(crate) x: Vec<f64>,
}

/// Standing levels, by the states of the drivers, worked out when they are first asked for.
#[derive(Debug, Default)]
pub(crate) struct Rests {
    known: HashMap<Vec<usize>, Option<Vec<f64>>>,
}

impl Rests {
    /// Whether `state`, whose moment is `time_s`, is at its standing levels, all its drivers and waves
    /// at rest.
    pub(crate) fn reached(
        &mut self,
        network: &Network,
        state: &State,
        time_s: f64,
        tolerance_v: f64,
    ) -> Option<Rest> {
        let is_still = state.pending.is_empty()
            && state.ripples.iter().all(Ripple::is_still)
            && state.slews.iter().all(|slew| slew.end_s() <= time_s + SAME_MOMENT_S);
        if !is_still {
            return None;
        }
        let drivers: Vec<usize> = state.slews.iter().map(|slew| slew.to).collect();
        let standing = self
            .known
            .entry(drivers)
            .or_insert_with_key(|drivers| standing(network, drivers, &state.x));
        let standing = standing.as_deref()?;
        let is_there = are_near(&state.x, standing, &network.system, REST_SHARE * tolerance_v)
            && state.cables.iter().all(|cable| cable.is_at_rest(standing, REST_SHARE));
        is_there.then(|| Rest { at_s: time_s, x: standing.to_vec() })
    }
}

/// Whether two sets of unknowns are the same within a tolerance, V, which is that much again for every
/// volt. Currents of ideal supplies follow from the others.
pub(crate) fn are_near(a: &[f64], b: &[f64], system: &System, tolerance_v: f64) -> bool {
    let mut volts = a.iter().zip(b).take(system.nodes);
    volts.all(|(a, b)| (a - b).abs() <= tolerance_v * (1.0 + b.abs()))
        && system.coils.iter().all(|&coil| CURRENT_OHMS * (a[coil] - b[coil]).abs() <= tolerance_v)
}

/// The standing levels with the drivers in these states, looked for from `x` on; `None` if the gates do
/// not keep them there, or none are found: such a board is never said to rest.
fn standing(network: &Network, drivers: &[usize], x: &[f64]) -> Option<Vec<f64>> {
    let (pins, gates) = drivers.split_at(network.system.pins);
    let levels: Option<Vec<Level>> =
        pins.iter().map(|&state| u8::try_from(state).ok().map(Level)).collect();
    let gates = &gates[..network.system.gates.len()];
    let gate_states = gates.iter().map(|&state| state == 1).collect();
    let near = OperatingPoint { x: x.to_vec(), gates: gate_states, iterations: 0 };
    let point = network.operating_point_near(&levels?, Some(&near)).ok()?;
    let keeps = point.gates.iter().zip(gates).all(|(&high, &state)| usize::from(high) == state);
    keeps.then_some(point.x)
}

/// A state at rest, from one whose drivers are.
pub(crate) fn at_rest(network: &Network, state: &State, x: &[f64], tolerance_v: f64) -> State {
    let system = &network.system;
    let margin = |gate: usize, input: usize| system.gates[gate].margin(x, input) >= 0.0;
    State {
        x: x.to_vec(),
        q: Vec::new(),
        slews: state.slews.iter().map(|slew| Slew::rest(slew.to)).collect(),
        ripples: state.ripples.clone(),
        cables: system.cables.iter().map(|line| Waves::rest(line, x, tolerance_v)).collect(),
        inputs: (state.inputs.iter().enumerate())
            .map(|(gate, inputs)| (0..inputs.len()).map(|input| margin(gate, input)).collect())
            .collect(),
        pending: Vec::new(),
    }
}
