//! A stage solved for its curved parts alone against one solved for all unknowns, and what wakes or falls on
//! the way.

use super::*;
use crate::base::math;
use crate::base::ticks::Tick;
use crate::base::ticks::TickSpan;
use crate::network::bipolar::Polarity;
use crate::network::bipolar::TransistorModel;
use crate::network::circuit::Circuit;
use crate::network::circuit::NodeId;
use crate::network::circuit::PartKind;
use crate::network::circuit::Pin;
use crate::network::circuit::PinStage;
use crate::network::device::DiodeModel;
use crate::network::device::Junction;
use crate::network::evaluation::all_on;
use crate::network::operating_point::Network;
use crate::network::rig::circuit;
use crate::network::rig::pin;
use crate::network::rig::spec;
use crate::network::transient::Transient;
use crate::network::whole::Whole;
use crate::signal::pulse_train::Edge;
use crate::signal::pulse_train::Level;
use crate::signal::pulse_train::PulseTrain;

/// Two pins, two ideal rails with a resistor between them, a coil, a coupling capacitor, a diode to a rail,
/// a diode that sleeps, a chip, and a follower with a resistance in its base and its collector at a rail.
fn board() -> Circuit {
    let [ground, rail, base, emitter, plug, other] = [0, 1, 4, 5, 6, 7].map(NodeId);
    let charge = Junction { farads: 5e-12, potential: 0.7, grading: 0.4 };
    let model = TransistorModel {
        base_ohms: 20.0,
        forward_transit_time: 0.4e-9,
        base_emitter: charge,
        base_collector: charge,
        ..TransistorModel::ideal(Polarity::Npn, 1e-14, [150.0, 3.0])
    };
    let resistor = |a, b, ohms| PartKind::Resistor { ends: [NodeId(a), NodeId(b)], ohms };
    let stray = |node| PartKind::Capacitor { ends: [NodeId(node), ground], farads: 3e-12 };
    circuit(
        &["ground", "rail", "left", "right", "base", "emitter", "plug", "other", "fed"],
        vec![
            pin(2, 1e3),
            pin(3, 2e3),
            PartKind::Supply { node: rail, volts: 5.0, ohms: 0.0 },
            resistor(2, 4, 2.2e3),
            resistor(3, 4, 3.3e3),
            resistor(4, 0, 4.7e3),
            PartKind::Diode { anode: base, cathode: rail, model: DiodeModel::ideal(1e-9, 1.8) },
            PartKind::Transistor { collector: rail, base, emitter, model },
            PartKind::Inductor { ends: [emitter, ground], henries: 1e-3, ohms: 150.0 },
            PartKind::Capacitor { ends: [emitter, plug], farads: 1e-6 },
            resistor(6, 0, 75.0),
            stray(2),
            stray(4),
            stray(6),
            PartKind::Supply { node: other, volts: 3.0, ohms: 0.0 },
            resistor(1, 7, 1e3),
            resistor(7, 8, 100.0),
            PartKind::Consumption { node: NodeId(8), amps: 2e-3 },
            PartKind::Capacitor { ends: [NodeId(8), rail], farads: 1e-9 },
            PartKind::Diode { anode: ground, cathode: base, model: DiodeModel::ideal(1e-15, 1.0) },
        ],
    )
}

/// From far off a try may run out of iterations; the next goes on where it ended.
const TRIES: usize = 5;

/// Unknowns and charges after one stage from standing on nothing.
fn solved(is_still: &[bool; 2], reach: f64, condense: bool) -> (Vec<f64>, Vec<f64>) {
    let system = System::new(&board());
    let weights = [all_on(1), all_on(0)];
    let from: Vec<f64> = vec![0.0; padded(system.order)];
    let (mut x, mut slopes) = (from.clone(), from.clone());
    let mut whole = Whole::new(&system);
    let goal = whole.charge(&from, &weights);
    let mut charge = vec![0.0; goal.len()];
    let mut stage = Stage {
        weights: &weights,
        reach,
        from: &from,
        goal: &goal,
        slopes: &mut slopes,
        x: &mut x,
        charge: &mut charge,
    };
    let mut iterations = Iterations::new(1e-7);
    let mut counts = Counts::default();
    if condense {
        let mut condensed = Condensed::new(&system);
        condensed.begin(&weights, is_still, &vec![0.0; system.order]);
        assert!((0..TRIES).any(|_| {
            iterations.forget();
            condensed.solve(&mut stage, &mut iterations, &mut counts) == Outcome::Solved
        }));
    } else {
        assert!((0..TRIES).any(|_| {
            iterations.forget();
            whole.solve(&mut stage, &mut iterations, &mut counts)
        }));
    }
    (x, charge)
}

#[test]
fn curved_parts_alone_lead_where_all_unknowns_at_once_do() {
    for reach in [1e-15, 1e-12, 1e-10, 1e-8, 1e-6, 1e-4] {
        let (x, charge) = solved(&[true, true], reach, false);
        for is_still in [[true, true], [true, false], [false, false]] {
            let (found, held) = solved(&is_still, reach, true);
            for (row, (found, x)) in found.iter().zip(&x).enumerate() {
                assert!((found - x).abs() < 2e-9 * (1.0 + x.abs()), "{reach}: {row}: {found} {x}");
            }
            for (held, charge) in held.iter().zip(&charge) {
                assert!((held - charge).abs() < 2e-9 * charge.abs() + 1e-20, "{held} {charge}");
            }
        }
    }
}

/// A stage to be solved from standing levels, and what is asked after it.
struct Asked<'s> {
    weights: &'s [Weights],
    reach: f64,
    from: &'s [f64],
    goal: &'s [f64],
    missed: &'s [f64],
    curved: &'s [f64],
    drift: &'s [f64],
}

/// What the misses come to, and the slopes, after a stage that `condensed` solves or else `whole`.
fn asked(
    system: &System,
    whole: &mut Whole<'_>,
    condensed: Option<&mut Condensed<'_>>,
    Asked { weights, reach, from, goal, missed, curved, drift }: &Asked<'_>,
) -> [Vec<f64>; 2] {
    let zeros = || vec![0.0; padded(system.order)];
    let (mut x, mut slopes, mut charge) = (zeros(), zeros(), goal.to_vec());
    let (x, slopes, charge) = (&mut x, &mut slopes, &mut charge);
    let mut stage = Stage { weights, reach: *reach, from, goal, slopes, x, charge };
    let (mut iterations, mut counts) = (Iterations::new(1e-7), Counts::default());
    let (mut miss, mut slope) = (zeros(), zeros());
    let at = (*from, *weights);
    if let Some(condensed) = condensed {
        assert_eq!(condensed.solve(&mut stage, &mut iterations, &mut counts), Outcome::Solved);
        condensed.filter(missed, curved, &mut miss);
        assert_eq!(condensed.slope(at, drift, *reach, &mut slope), Outcome::Solved);
    } else {
        assert!(whole.solve(&mut stage, &mut iterations, &mut counts));
        whole.filter(missed, curved, &mut miss);
        assert!(whole.slope(at, drift, *reach, &mut slope));
    }
    [miss, slope]
}

/// From the standing levels. The rail's current has no part in a miss.
#[test]
fn misses_and_slopes_come_to_what_they_do_for_all_unknowns_at_once() {
    let system = System::new(&board());
    let (order, nodes) = (system.order, system.nodes);
    let network = Network::new(&board()).unwrap();
    let point = network.operating_point(&[Level::HIGH, Level::LOW]).unwrap();
    let weights = [all_on(1), all_on(0)];
    let mut from = point.x.clone();
    from.resize(padded(order), 0.0);
    let miss = |at: usize| if at.is_multiple_of(3) { 0.4 } else { -0.1 };
    let missed: Vec<f64> = (0..padded(order))
        .map(|at| if (1..nodes).contains(&at) { miss(at) } else { 0.0 })
        .collect();
    // At the rail, and at the node of the driver that is on its way.
    let mut drift = vec![0.0; order];
    (drift[0], drift[2]) = (3e3, -1e3);
    let mut whole = Whole::new(&system);
    let goal = whole.charge(&from, &weights);
    let curved: Vec<f64> = (1..=goal.len()).map(|at| 1e-12 * math::from_usize(at)).collect();
    for reach in [1e-12, 1e-9, 1e-6] {
        let mut condensed = Condensed::new(&system);
        condensed.begin(&weights, &[true, false], &from);
        let (weights, from, goal) = (&weights, &from, &goal);
        let (missed, curved, drift) = (&missed, &curved, &drift);
        let all = Asked { weights, reach, from, goal, missed, curved, drift };
        let expected = asked(&system, &mut whole, None, &all);
        let found = asked(&system, &mut whole, Some(&mut condensed), &all);
        for (what, count) in [(0, nodes), (1, order)] {
            let (expected, found) = (&expected[what][..count], &found[what][..count]);
            let within = 1e-6 * largest(expected);
            for (at, (expected, found)) in expected.iter().zip(found).enumerate() {
                assert!((expected - found).abs() < within, "{reach}: {at}: {expected} {found}");
            }
        }
    }
}

/// 1 nF that 1 kΩ charges from nothing towards 5 V, and a diode from there to a rail of 2.5 V.
#[test]
fn a_diode_that_slept_at_the_edge_wakes_when_its_node_comes_past_the_rail() {
    let model = DiodeModel::ideal(1e-14, 1.0);
    let board = circuit(
        &["ground", "rail", "node"],
        vec![
            pin(2, 1e3),
            PartKind::Supply { node: NodeId(1), volts: 2.5, ohms: 0.0 },
            PartKind::Capacitor { ends: [NodeId(2), NodeId::GROUND], farads: 1e-9 },
            PartKind::Diode { anode: NodeId(2), cathode: NodeId(1), model },
        ],
    );
    let network = Network::new(&board).unwrap();
    let start = network.operating_point(&[Level::LOW]).unwrap();
    let spec = spec(8, 10e-6, vec![NodeId(2)]);
    let mut run = Transient::new(&network, &board, &start, &[Level::LOW], spec);
    let edge = Edge { at: Tick(0), level: Level::HIGH };
    let train = PulseTrain::new(Level::LOW, [edge], TickSpan(40));
    let samples = run.advance_field(&[train]).unwrap();
    for (k, &volts) in samples[0].iter().enumerate().skip(1) {
        let at_s = math::from_usize(k) / 16e6;
        let charged = 5.0 * (1.0 - math::exp(-at_s / 1e-6));
        if charged < 2.5 {
            assert!((f64::from(volts) - charged).abs() < 50e-6, "{at_s}: {volts} {charged}");
        }
    }
    // In the end all current goes through the diode.
    let last = f64::from(*samples[0].last().unwrap());
    let through = model.forward_current(last - 2.5).value;
    assert!((through - (5.0 - last) / 1e3).abs() < 2e-5 * through, "{last} V, {through} A");
}

/// Where a pin's node and what hangs on it stand 3.5 µs after it has gone high, behind 1 kΩ into 10 Ω and
/// 1 nF.
fn after_edge(nodes: &[&str], parts: Vec<PartKind>) -> Vec<f64> {
    let top = NodeId(1);
    let mut all = vec![
        pin(1, 1e3),
        PartKind::Resistor { ends: [top, NodeId::GROUND], ohms: 10.0 },
        PartKind::Capacitor { ends: [top, NodeId::GROUND], farads: 1e-9 },
    ];
    all.extend(parts);
    let board = circuit(nodes, all);
    let network = Network::new(&board).unwrap();
    let start = network.operating_point(&[Level::LOW]).unwrap();
    let spec = spec(1, 10e-6, (1..nodes.len()).map(NodeId).collect());
    let mut run = Transient::new(&network, &board, &start, &[Level::LOW], spec);
    let edge = Edge { at: Tick(1), level: Level::HIGH };
    let samples = run.advance_field(&[PulseTrain::new(Level::LOW, [edge], TickSpan(8))]).unwrap();
    samples.iter().map(|tap| f64::from(tap[7])).collect()
}

/// Nodes that two diodes alone hold: by symmetry they stand half-way, by what leaks through the diodes.
/// Taken as asleep they would leave the nodes to rounding, or to drift with what little flows.
#[test]
fn nodes_between_two_diodes_alone_stand_where_what_leaks_puts_them() {
    let model = DiodeModel::ideal(1e-14, 1.0);
    let diode =
        |anode, cathode| PartKind::Diode { anode: NodeId(anode), cathode: NodeId(cathode), model };
    let resistor = |a, b, ohms| PartKind::Resistor { ends: [NodeId(a), NodeId(b)], ohms };
    let one = vec![diode(1, 2), diode(2, 0)];
    let triangle = vec![
        diode(1, 2),
        resistor(2, 3, 1.2e3),
        resistor(3, 4, 3.3e3),
        resistor(2, 4, 6.8e3),
        diode(4, 0),
    ];
    for (nodes, parts) in [
        (&["ground", "top", "middle"][..], one),
        (&["ground", "top", "first", "second", "third"][..], triangle),
    ] {
        let volts = after_edge(nodes, parts);
        assert!((volts[0] - 5.0 * 10.0 / 1010.0).abs() < 1e-5, "{volts:?}");
        for middle in &volts[1..] {
            assert!((middle - 0.5 * volts[0]).abs() < 1e-5, "{volts:?}");
        }
    }
}

/// How far short of its supply the pin of [`falling`] stops, V.
const SHORT_V: f64 = 1.1;

/// 10 nF that 1 kΩ takes from 5 V to nothing, and feed a pin at high, 3 kΩ into 3 kΩ.
fn falling() -> Circuit {
    let linear = |offset, share, ohms| PinStage::Linear { offset, share, ohms };
    let of = |node, supply, levels| {
        PartKind::Pin(Box::new(Pin {
            node: NodeId(node),
            supply: NodeId(supply),
            levels,
            delay_s: 0.0,
            rise_s: 0.0,
            fall_s: 0.0,
            farads: 0.0,
        }))
    };
    circuit(
        &["ground", "rail", "pin"],
        vec![
            of(1, 0, vec![linear(5.0, 0.0, 1e3), linear(0.0, 0.0, 1e3)]),
            of(2, 1, vec![linear(0.0, 0.0, 800.0), linear(-SHORT_V, 1.0, 3e3)]),
            PartKind::Capacitor { ends: [NodeId(1), NodeId::GROUND], farads: 10e-9 },
            PartKind::Resistor { ends: [NodeId(2), NodeId::GROUND], ohms: 3e3 },
        ],
    )
}

/// What the pin takes from its supply ends in the middle of a stretch. Exponentials before and after;
/// the corner is rounded.
#[test]
fn a_supply_that_falls_past_a_corner_is_followed() {
    let board = falling();
    let network = Network::new(&board).unwrap();
    let idle = [Level::LOW, Level::HIGH];
    let start = network.operating_point(&idle).unwrap();
    let spec = spec(8, 20e-6, vec![NodeId(1), NodeId(2)]);
    let mut run = Transient::new(&network, &board, &start, &idle, spec);
    let edge = Edge { at: Tick(0), level: Level::HIGH };
    let trains = [
        PulseTrain::new(Level::LOW, [edge], TickSpan(100)),
        PulseTrain::new(Level::HIGH, [], TickSpan(100)),
    ];
    let samples = run.advance_field(&trains).unwrap();
    let (own, drawn) = (1e-3, 1.0 / 6e3);
    let rest_v = SHORT_V * drawn / (own + drawn);
    // The 5 V behind 1 kΩ, and what the pin takes.
    let first_v = (5.0 * own + SHORT_V * drawn) / (own + drawn);
    let per_s = (own + drawn) / 10e-9;
    let corner_s = math::ln((first_v - rest_v) / (SHORT_V - rest_v)) / per_s;
    assert!((5e-6..40e-6).contains(&corner_s), "{corner_s}");
    for (k, (&rail, &pin)) in samples[0].iter().zip(&samples[1]).enumerate().skip(1) {
        let at_s = math::from_usize(k) / 16e6;
        let expected = if at_s < corner_s {
            rest_v + (first_v - rest_v) * math::exp(-per_s * at_s)
        } else {
            SHORT_V * math::exp(-(at_s - corner_s) * own / 10e-9)
        };
        let pin_v = 0.5 * (expected - SHORT_V).max(0.0);
        assert!((f64::from(rail) - expected).abs() < 5e-3, "{at_s}: {rail} {expected}");
        assert!((f64::from(pin) - pin_v).abs() < 15e-3, "{at_s}: {pin} {pin_v}");
    }
}
