//! Fields put together from stretches that were solved before, against fields solved line by line:
//! pulses at random, and fields that follow one another.

use crate::boards::load;
use backporch::base::ticks::Tick;
use backporch::base::ticks::TickSpan;
use backporch::network::circuit::Circuit;
use backporch::network::operating_point::Network;
use backporch::network::transient::Transient;
use backporch::network::transient::TransientSpec;
use backporch::raster::generate::Raster;
use backporch::scenario::Scenario;
use backporch::signal::pulse_train::Edge;
use backporch::signal::pulse_train::Level;
use backporch::signal::pulse_train::PulseTrain;
use chacha20::ChaCha8Rng;
use chacha20::rand_core::Rng;
use chacha20::rand_core::SeedableRng;
use std::path::Path;

/// Of a field.
const CLOCKS: u64 = 4000;
/// What the two ways may be apart, V: see `counts.rs`.
const APART_V: f32 = 60e-6;

fn scenario(name: &str) -> Scenario {
    load(&Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("scenarios/{name}.toml")))
}

/// Every pin turned at random moments, a clock apart or hundreds.
fn trains(pins: usize, edges: usize, random: &mut ChaCha8Rng) -> Vec<PulseTrain> {
    let train = |_| {
        let mut at: Vec<u64> = (0..edges).map(|_| random.next_u64() % CLOCKS).collect();
        at.sort_unstable();
        at.dedup();
        let edges = at.into_iter().enumerate().map(|(index, at)| {
            let level = if index % 2 == 0 { Level::HIGH } else { Level::LOW };
            Edge { at: Tick(at), level }
        });
        PulseTrain::new(Level::LOW, edges, TickSpan(CLOCKS))
    };
    (0..pins).map(train).collect()
}

/// A board coupled by 470 µF, and what differs from it.
fn coupled_with(more: &str) -> Scenario {
    let variant = format!("base = \"scenarios/hotel-coupled.toml\"\n{more}");
    let mut fetch = |name: &str| match name {
        "variant.toml" => Ok(variant.clone()),
        other => std::fs::read_to_string(other),
    };
    backporch::scenario::load("variant.toml", &[], &mut fetch).unwrap()
}

fn run<'a>(network: &'a Network, circuit: &Circuit, scenario: &Scenario) -> Transient<'a> {
    let idle: Vec<Level> = circuit.pins().map(|_| Level::LOW).collect();
    let start = network.operating_point(&idle).unwrap();
    let spec = TransientSpec {
        clock: scenario.raster.timing.clock,
        samples_per_clock: scenario.solve.samples_per_clock,
        tolerance_v: scenario.solve.tolerance_v,
        taps: vec![scenario.output.node],
    };
    Transient::new(network, circuit, &start, &idle, spec)
}

fn worst_v(a: &[f32], b: &[f32]) -> f32 {
    assert_eq!(a.len(), b.len());
    a.iter().zip(b).map(|(a, b)| (a - b).abs()).fold(0.0, f32::max)
}

#[test]
fn pulses_at_random_come_out_the_same() {
    let mut random = ChaCha8Rng::seed_from_u64(20_261_126);
    let names =
        ["chapel-follower", "barn-biased", "hotel-coupled", "part-fet", "part-coil", "part-supply"];
    for name in names {
        let scenario = scenario(name);
        let network = Network::new(&scenario.circuit).unwrap();
        let pins = scenario.circuit.pins().count();
        let mut plain = run(&network, &scenario.circuit, &scenario);
        let mut reused = run(&network, &scenario.circuit, &scenario).with_recall();
        for edges in [6, 60, 200] {
            let trains = trains(pins, edges, &mut random);
            let expected = plain.advance_field(&trains).unwrap();
            let found = reused.advance_field(&trains).unwrap();
            let apart_v = worst_v(&expected[0], &found[0]);
            assert!(apart_v < APART_V, "{name}, {edges} edges a pin: {apart_v} V apart");
        }
    }
}

/// Two coupling capacitors that hold the same, a loop of three, and one that moves with a current that
/// is no straight line in what it holds.
#[test]
fn large_capacitors_in_loops_and_at_a_junction_come_out_the_same() {
    let part = |name: &str, farads: &str, from: &str, to: &str| {
        format!("[board.{name}]\ncapacitor = \"{farads}\"\nfrom = \"{from}\"\nto = \"{to}\"\n")
    };
    let twin = part("C2", "470 uF", "emitter", "lead");
    let shunt = part("C3", "10 uF", "lead", "ground");
    let loops = shunt.clone() + &part("C4", "10 uF", "emitter", "ground");
    for more in [twin, shunt, loops] {
        let scenario = coupled_with(&more);
        let network = Network::new(&scenario.circuit).unwrap();
        let pins = scenario.circuit.pins().count();
        let mut random = ChaCha8Rng::seed_from_u64(3);
        let trains = trains(pins, 40, &mut random);
        let expected = run(&network, &scenario.circuit, &scenario).advance_field(&trains).unwrap();
        let mut reused = run(&network, &scenario.circuit, &scenario).with_recall();
        let found = reused.advance_field(&trains).unwrap();
        let apart_v = worst_v(&expected[0], &found[0]);
        assert!(apart_v < APART_V, "{apart_v} V apart with\n{more}");
    }
}

/// A coupled board on an adapter: one whose ripple takes a part of the rail, with a large capacitor, and
/// one whose ripple takes a fifth of it, with a smaller one, so that both move much in a field.
#[test]
fn fields_on_a_rail_with_ripple_come_out_the_same() {
    let board = |farads: &str, ohms: u32, ripple: &str| {
        coupled_with(&format!(
            "remove = [\"V1\", \"C1\"]\n\
             [board.C1]\ncapacitor = \"{farads}\"\nfrom = \"emitter\"\nto = \"lead\"\n\
             [board.V3]\nadapter = \"6.5 V\"\nresistance = {ohms}\nripple = \"{ripple}\"\n\
             node = \"chip_rail\"\n",
        ))
    };
    for (scenario, is_mostly_recalled) in
        [(board("470 uF", 10, "60 mV"), true), (board("22 uF", 30, "1.2 V"), false)]
    {
        let network = Network::new(&scenario.circuit).unwrap();
        let mut plain = run(&network, &scenario.circuit, &scenario);
        let mut reused = run(&network, &scenario.circuit, &scenario).with_recall();
        let mut raster = Raster::new(&scenario.raster).unwrap();
        let first = raster.advance_field().trains;
        let settled = [&mut plain, &mut reused].map(|run| run.settle(&first).unwrap().0);
        let apart_v = worst_v(&settled[0][0], &settled[1][0]);
        assert!(apart_v < APART_V, "settled: {apart_v} V apart");
        let learned = reused.recall_counts();
        for _ in 0..3 {
            let trains = raster.advance_field().trains;
            let expected = plain.advance_field(&trains).unwrap();
            let found = reused.advance_field(&trains).unwrap();
            let apart_v = worst_v(&expected[0], &found[0]);
            assert!(apart_v < APART_V, "{apart_v} V apart");
        }
        let counts = reused.recall_counts();
        let (solved, recalled) =
            (counts.solved - learned.solved, counts.recalled - learned.recalled);
        let solved = if is_mostly_recalled { 20 * solved } else { solved };
        assert!(solved < recalled, "{solved} stretches solved, {recalled} recalled");
    }
}

/// A zener in the way, on a ripple: hardly a stretch comes twice alike, and looking for slopes stops.
#[test]
fn a_board_on_which_nothing_comes_again_is_followed_as_it_stands() {
    let variant = "base = \"scenarios/part-zener.toml\"\nremove = [\"V1\"]\n[board.V9]\n\
                   adapter = \"9 V\"\nresistance = 10\nripple = \"1.5 V\"\nnode = \"raw\"\n";
    let mut fetch = |name: &str| match name {
        "variant.toml" => Ok(variant.to_owned()),
        other => std::fs::read_to_string(other),
    };
    let scenario = backporch::scenario::load("variant.toml", &[], &mut fetch).unwrap();
    let network = Network::new(&scenario.circuit).unwrap();
    let mut plain = run(&network, &scenario.circuit, &scenario);
    let mut reused = run(&network, &scenario.circuit, &scenario).with_recall();
    let mut raster = Raster::new(&scenario.raster).unwrap();
    for _ in 0..12 {
        let trains = raster.advance_field().trains;
        plain.advance_field(&trains).unwrap();
        reused.advance_field(&trains).unwrap();
    }
    let (long, found) = (plain.counts().steps, reused.counts().steps);
    assert!(found < 2 * long, "{found} steps in place of {long}");
}

#[test]
fn a_field_that_comes_again_is_only_copied_and_is_the_same_to_the_last_bit() {
    let mut random = ChaCha8Rng::seed_from_u64(7);
    let scenario = scenario("chapel-follower");
    let network = Network::new(&scenario.circuit).unwrap();
    let pins = scenario.circuit.pins().count();
    let mut reused = run(&network, &scenario.circuit, &scenario).with_recall();
    let [first, second] = [0, 1].map(|_| trains(pins, 40, &mut random));
    // Once more, so that both fields have come after each other.
    let mut follow = |trains: &[PulseTrain]| {
        let solved = reused.recall_counts().solved;
        let field = reused.advance_field(trains).unwrap();
        (field, reused.recall_counts().solved - solved)
    };
    follow(&first);
    let (solved, some) = follow(&second);
    follow(&first);
    let (copied, none) = follow(&second);
    assert!(some > 0 && none == 0, "{some} stretches solved the first time, {none} the second");
    assert!(solved == copied, "a copied field differs from the one it was copied from");
}
