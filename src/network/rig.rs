//! A small board and a step, for tests of parts against closed forms.

use crate::base::math;
use crate::base::ticks::ClockRate;
use crate::base::ticks::Tick;
use crate::base::ticks::TickSpan;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::Part;
use crate::network::circuit::PartKind;
use crate::network::circuit::Pin;
use crate::network::circuit::PinStage;
use crate::network::operating_point::Network;
use crate::network::transient::Transient;
use crate::network::transient::TransientSpec;
use crate::signal::pulse_train::Edge;
use crate::signal::pulse_train::Level;
use crate::signal::pulse_train::PulseTrain;

/// A pin that steps from 0 to 5 V behind `ohms`.
pub(crate) fn pin(node: usize, ohms: f64) -> PartKind {
    let level = |offset| PinStage::Linear { offset, share: 0.0, ohms };
    PartKind::Pin(Box::new(Pin {
        node: NodeId(node),
        supply: NodeId::GROUND,
        levels: vec![level(0.0), level(5.0)],
        delay_s: 0.0,
        rise_s: 0.0,
        fall_s: 0.0,
        farads: 0.0,
    }))
}

/// Parts `P0`, `P1` ... between nodes; ground comes first.
pub(crate) fn circuit(nodes: &[&str], parts: Vec<PartKind>) -> Circuit {
    let parts = parts.into_iter().enumerate();
    Circuit {
        nodes: nodes.iter().map(|&node| node.to_owned()).collect(),
        parts: parts.map(|(i, kind)| Part { name: format!("P{i}"), kind }).collect(),
    }
}

/// What is asked of a run with a chip whose clock is 2 MHz.
pub(crate) fn spec(samples_per_clock: u32, tolerance_v: f64, taps: Vec<NodeId>) -> TransientSpec {
    let clock = ClockRate::new(2_000_000, 1).unwrap();
    TransientSpec { clock, samples_per_clock, tolerance_v, taps }
}

/// Largest distance from `expected` (V against s after the edge) of the node's response to one
/// 0 to 5 V step of the pin at 10 µs, from 100 µs of samples at 16 MHz.
pub(crate) fn step_error(circuit: &Circuit, node: usize, expected: impl Fn(f64) -> f64) -> f64 {
    let network = Network::new(circuit).unwrap();
    let start = network.operating_point(&[Level::LOW]).unwrap();
    let spec = spec(8, 20e-6, vec![NodeId(node)]);
    let mut run = Transient::new(&network, circuit, &start, &[Level::LOW], spec);
    let edge = Edge { at: Tick(20), level: Level::HIGH };
    let train = PulseTrain::new(Level::LOW, [edge], TickSpan(200));
    let samples = run.advance_field(&[train]).unwrap();
    assert_eq!(samples[0].len(), 1600);
    samples[0].iter().enumerate().fold(0.0, |worst, (k, &volts)| {
        let after_s = math::from_usize(k) / 16e6 - 10e-6;
        let want = if after_s > 0.0 { expected(after_s) } else { 0.0 };
        worst.max((f64::from(volts) - want).abs())
    })
}
