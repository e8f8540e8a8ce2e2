//! Cables against bounce diagrams, a closed form and fine ladders.
//!
//! Source of the bounce diagram and of the reflection factor (R − Z) / (R + Z): any text on
//! transmission lines; the sums here are worked out by hand from it. The ladder is the textbook's
//! own derivation of a line: many short pieces of series coil and resistance, and capacitance to
//! ground.

use backporch::base::math;
use backporch::base::ticks::ClockRate;
use backporch::base::ticks::Tick;
use backporch::base::ticks::TickSpan;
use backporch::network::cable::Cable;
use backporch::network::circuit::Circuit;
use backporch::network::circuit::NodeId;
use backporch::network::circuit::Part;
use backporch::network::circuit::PartKind;
use backporch::network::circuit::Pin;
use backporch::network::circuit::PinStage;
use backporch::network::operating_point::Network;
use backporch::network::transient::Counts;
use backporch::network::transient::Transient;
use backporch::network::transient::TransientSpec;
use backporch::signal::pulse_train::Edge;
use backporch::signal::pulse_train::Level;
use backporch::signal::pulse_train::PulseTrain;

const IMPEDANCE: f64 = 75.0;
const SOURCE: NodeId = NodeId(1);
const LOAD: NodeId = NodeId(2);
/// Samples a second.
const SAMPLES_HZ: f64 = 128e6;
const EDGE_S: f64 = 2e-6;
const HEIGHT_V: f64 = 2.0;

/// 20 m at 0.66 of the speed of light (exact in the SI): 101.08 ns, which no sample's moment meets.
fn cable(decibels_per_metre: f64) -> Cable {
    Cable {
        ends: [SOURCE, LOAD],
        impedance_ohms: IMPEDANCE,
        metres: 20.0,
        velocity: 0.66,
        decibels_per_metre,
    }
}

fn delay_s() -> f64 {
    20.0 / (0.66 * 299_792_458.0)
}

/// A pin of 0 and 2 V behind `ohms` at the source end.
fn pin(ohms: f64, rise_s: f64) -> PartKind {
    let level = |offset| PinStage::Linear { offset, share: 0.0, ohms };
    PartKind::Pin(Box::new(Pin {
        node: SOURCE,
        supply: NodeId::GROUND,
        levels: vec![level(0.0), level(HEIGHT_V)],
        delay_s: 0.0,
        rise_s,
        fall_s: rise_s,
        farads: 0.0,
    }))
}

fn resistor(ohms: f64) -> PartKind {
    PartKind::Resistor { ends: [LOAD, NodeId::GROUND], ohms }
}

fn board(more_nodes: usize, kinds: Vec<PartKind>) -> Circuit {
    let mut nodes = ["ground", "source", "load"].map(str::to_owned).to_vec();
    nodes.extend((0..more_nodes).map(|k| format!("piece {k}")));
    let part = |(k, kind)| Part { name: format!("P{k}"), kind };
    Circuit { nodes, parts: kinds.into_iter().enumerate().map(part).collect() }
}

/// Source and load node after a step up at 2 µs, for 100 µs; and the work.
fn step(circuit: &Circuit, tolerance_v: f64) -> ([Vec<f64>; 2], Counts) {
    let network = Network::new(circuit).unwrap();
    let start = network.operating_point(&[Level::LOW]).unwrap();
    let spec = TransientSpec {
        clock: ClockRate::new(2_000_000, 1).unwrap(),
        samples_per_clock: 64,
        tolerance_v,
        taps: vec![SOURCE, LOAD],
    };
    let mut run = Transient::new(&network, circuit, &start, &[Level::LOW], spec);
    let edge = Edge { at: Tick(4), level: Level::HIGH };
    let train = PulseTrain::new(Level::LOW, [edge], TickSpan(200));
    let samples = run.advance_field(&[train]).unwrap();
    let volts = [0, 1].map(|tap| samples[tap].iter().map(|&v| f64::from(v)).collect());
    (volts, run.counts())
}

fn after_s(sample: usize) -> f64 {
    math::from_usize(sample) / SAMPLES_HZ - EDGE_S
}

/// Sum of the bounces that have arrived: source and load node at `t` after the step.
fn bounce_diagram(source_ohms: f64, load_ohms: f64, t: f64) -> [f64; 2] {
    let reflection = |ohms: f64| (ohms - IMPEDANCE) / (ohms + IMPEDANCE);
    let (back, forth) = (reflection(load_ohms), reflection(source_ohms));
    let first = HEIGHT_V * IMPEDANCE / (IMPEDANCE + source_ohms);
    let (mut volts, mut wave, mut at_s) = ([0.0, 0.0], first, 0.0);
    if t > 0.0 {
        volts[0] += wave;
    }
    while at_s < t {
        if t > at_s + delay_s() {
            volts[1] += wave * (1.0 + back);
        }
        wave *= back;
        at_s += 2.0 * delay_s();
        if t > at_s {
            volts[0] += wave * (1.0 + forth);
        }
        wave *= forth;
    }
    volts
}

fn worst(got: &[f64], wanted: impl Fn(f64) -> f64) -> f64 {
    let gaps = got.iter().enumerate().map(|(k, volts)| (volts - wanted(after_s(k))).abs());
    gaps.fold(0.0, f64::max)
}

#[test]
fn steps_bounce_as_the_diagram_says() {
    for (source_ohms, load_ohms) in
        [(75.0, 75.0), (75.0, 1e9), (15.0, 1e6), (1e3, 1e4), (75.0, 0.1), (470.0, 33.0)]
    {
        let parts =
            vec![pin(source_ohms, 0.0), PartKind::Cable(Box::new(cable(0.0))), resistor(load_ohms)];
        let (volts, _) = step(&board(0, parts), 10e-6);
        for (node, volts) in volts.iter().enumerate() {
            let error = worst(volts, |t| bounce_diagram(source_ohms, load_ohms, t)[node]);
            assert!(error < 5e-6, "{source_ohms} {load_ohms} node {node}: {error}");
        }
    }
}

#[test]
fn a_lossy_cable_loses_what_it_says_to_a_wave_and_its_resistance_to_direct_current() {
    // 1 dB in all.
    let parts = vec![pin(75.0, 0.0), PartKind::Cable(Box::new(cable(0.05))), resistor(75.0)];
    let (volts, _) = step(&board(0, parts), 10e-6);
    let first = math::floor_index((EDGE_S + 1.5 * delay_s()) * SAMPLES_HZ);
    let wanted = 0.5 * HEIGHT_V * math::exp(-math::ln(10.0) / 20.0);
    // Lumped at the ends the loss is met up to its square: R/2Z = 0.115.
    assert!((volts[1][first] / wanted - 1.0).abs() < 0.25 * 0.115 * 0.115, "{}", volts[1][first]);
    let series_ohms = cable(0.05).series_ohms();
    let standing = HEIGHT_V * 75.0 / (150.0 + series_ohms);
    let last = volts[1].last().unwrap();
    assert!((last - standing).abs() < 5e-6, "{last} {standing}");
}

#[test]
fn a_capacitor_at_the_far_end_charges_through_the_impedance() {
    const FARADS: f64 = 1e-9;
    let parts = vec![
        pin(75.0, 0.0),
        PartKind::Cable(Box::new(cable(0.0))),
        PartKind::Capacitor { ends: [LOAD, NodeId::GROUND], farads: FARADS },
        resistor(1e9),
    ];
    let (volts, _) = step(&board(0, parts), 10e-6);
    let charged = |t: f64| {
        if t > 0.0 { HEIGHT_V * (1.0 - math::exp(-t / (IMPEDANCE * FARADS))) } else { 0.0 }
    };
    let there = worst(&volts[1], |t| charged(t - delay_s()));
    // What comes back is what the capacitor has less what was sent.
    let here = worst(&volts[0], |t| {
        let sent = if t > 0.0 { 0.5 * HEIGHT_V } else { 0.0 };
        let back = t - 2.0 * delay_s();
        sent + if back > 0.0 { charged(back) - 0.5 * HEIGHT_V } else { 0.0 }
    });
    assert!(there < 40e-6, "{there}");
    assert!(here < 40e-6, "{here}");
}

/// The cable as so many pieces: half a capacitance at either end of each.
fn ladder(pieces: usize, decibels_per_metre: f64) -> Vec<PartKind> {
    let share = 1.0 / math::from_usize(pieces);
    let (henries, farads) = (IMPEDANCE * delay_s() * share, delay_s() / IMPEDANCE * share);
    let ohms = cable(decibels_per_metre).series_ohms() * share;
    let node = |k: usize| match k {
        0 => SOURCE,
        k if k == pieces => LOAD,
        k => NodeId(k + 2),
    };
    let mut parts = Vec::new();
    for k in 0..pieces {
        parts.push(PartKind::Inductor { ends: [node(k), node(k + 1)], henries, ohms });
    }
    for k in 0..=pieces {
        let whole = if k == 0 || k == pieces { 0.5 } else { 1.0 };
        let ends = [node(k), NodeId::GROUND];
        parts.push(PartKind::Capacitor { ends, farads: whole * farads });
    }
    parts
}

#[test]
fn a_ladder_comes_nearer_with_every_piece_more() {
    for decibels_per_metre in [0.0, 0.01] {
        // A low source and a high load, so that it rings, and a capacitor against the ramp's corners,
        // for which no ladder is fine enough.
        let ends = |between: Vec<PartKind>| {
            let ends = [SOURCE, NodeId::GROUND];
            let slow = PartKind::Capacitor { ends, farads: 2e-9 };
            let mut parts = vec![pin(30.0, 200e-9), slow, resistor(200.0)];
            parts.extend(between);
            parts
        };
        let line = vec![PartKind::Cable(Box::new(cable(decibels_per_metre)))];
        let (wanted, _) = step(&board(0, ends(line)), 10e-6);
        let gaps = [5, 10, 20, 40].map(|pieces| {
            let parts = ends(ladder(pieces, decibels_per_metre));
            let (got, _) = step(&board(pieces - 1, parts), 10e-6);
            got[1].iter().zip(&wanted[1]).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
        });
        assert!(gaps.windows(2).all(|pair| pair[1] < pair[0]), "{gaps:?}");
        assert!(gaps[3] < 2e-3, "{gaps:?}");
    }
}

#[test]
fn its_error_falls_with_the_tolerance() {
    let parts = || {
        vec![
            pin(30.0, 20e-9),
            PartKind::Cable(Box::new(cable(0.01))),
            PartKind::Capacitor { ends: [LOAD, NodeId::GROUND], farads: 200e-12 },
            resistor(1e3),
        ]
    };
    let (fine, _) = step(&board(0, parts()), 0.1e-6);
    let errors = [100e-6, 10e-6, 1e-6].map(|tolerance_v| {
        let (got, _) = step(&board(0, parts()), tolerance_v);
        let pairs = |node: usize| got[node].iter().zip(&fine[node]);
        let gaps = [0, 1].into_iter().flat_map(pairs).map(|(a, b)| (a - b).abs());
        gaps.fold(0.0, f64::max)
    });
    assert!(errors[1] < 100e-6, "{errors:?}");
    assert!(errors[1] < errors[0] && errors[2] < errors[1], "{errors:?}");
}

#[test]
fn a_quiet_cable_costs_next_to_nothing() {
    // 0.2 m is 1.01 ns: 100 µs are a hundred thousand delays.
    let short = Cable { metres: 0.2, ..cable(0.01) };
    let parts = vec![
        pin(75.0, 20e-9),
        PartKind::Cable(Box::new(short)),
        PartKind::Capacitor { ends: [LOAD, NodeId::GROUND], farads: 50e-12 },
        resistor(75.0),
    ];
    let (_, counts) = step(&board(0, parts), 10e-6);
    assert!(counts.steps < 2000, "{counts:?}");
}
