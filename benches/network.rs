//! One field of a board, solved line by line and put together from stretches that were solved
//! before. 312 lines at 16 MS/s; the socket alone is sampled. First at the default tolerance of 10 µV,
//! then at the one at which it is 0.1 mV off (0.15 mV where it is coupled): how far each is off, at any
//! node, is measured on eight lines against a tolerance of 2 nV and printed.
//!
//! Two boards of the same shape, a PNP follower behind two OR gates, its transistor with junction and
//! diffusion charge, strays at every node: *plain* has linear pins and gates that are a resistance,
//! *full* has square-law pins and gates that saturate, clamp and take their time.

use backporch::base::math;
use backporch::base::random::Draws;
use backporch::base::ticks::Tick;
use backporch::network::circuit::NodeId;
use backporch::network::operating_point::Network;
use backporch::network::transient::Transient;
use backporch::network::transient::TransientSpec;
use backporch::raster::generate::Raster;
use backporch::scenario::Scenario;
use backporch::scenario::load;
use backporch::signal::pulse_train::Edge;
use backporch::signal::pulse_train::Level;
use backporch::signal::pulse_train::PulseTrain;
use criterion::BatchSize;
use criterion::Criterion;
use criterion::criterion_group;
use criterion::criterion_main;
use std::hint::black_box;

const PINS: [&str; 5] = ["sync", "field", "ball", "left", "right"];
const SQUARE_LAW: &str = "kind = \"square-law\", k_high = 0.5e-3, threshold_high = 1.2, \
    k_low = 1.5e-3, threshold_low = 1.0, rise = \"60 ns\", fall = \"40 ns\"";

fn scenario(path: &str, changes: &[String]) -> Scenario {
    load(path, changes, &mut |path| std::fs::read_to_string(path)).expect("the board loads")
}

fn plain() -> Scenario {
    let changes = ["Q1.transistor=2N3906", "U1a.family=plain", "U1b.family=plain"];
    scenario("scenarios/chapel-follower.toml", &changes.map(str::to_owned))
}

fn full() -> Scenario {
    let pin = |name| format!("chip.pin.{name}={{ {SQUARE_LAW} }}");
    let mut changes: Vec<String> = PINS.into_iter().map(pin).collect();
    changes.push("Q1.transistor=2N3906".to_owned());
    scenario("scenarios/chapel-follower.toml", &changes)
}

fn coupled() -> Scenario {
    scenario("scenarios/hotel-coupled.toml", &[])
}

/// The coupled board on an adapter whose ripple reaches the socket through the chip's pins.
fn rippled() -> Scenario {
    const VARIANT: &str = "base = \"scenarios/hotel-coupled.toml\"\nremove = [\"V1\"]\n[board.V3]\n\
        adapter = \"6.5 V\"\nresistance = \"10\"\nripple = \"60 mV\"\nnode = \"chip_rail\"\n";
    let mut read = |path: &str| match path {
        "rippled.toml" => Ok(VARIANT.to_owned()),
        other => std::fs::read_to_string(other),
    };
    load("rippled.toml", &[], &mut read).expect("the board loads")
}

/// Trains of so many fields, everything moving from one to the next.
fn fields(scenario: &Scenario, count: usize) -> Vec<Vec<PulseTrain>> {
    let mut raster = Raster::new(&scenario.raster).expect("the plan is sound");
    (0..count).map(|_| raster.advance_field().trains).collect()
}

/// The same pins with so many edges in all, at random clocks of the field.
fn random_pulses(first: &[PulseTrain], edges: usize, seed: u64) -> Vec<PulseTrain> {
    let mut draws = Draws::new(seed, 0);
    let pulses = |train: &PulseTrain| {
        let length = train.length();
        let mut clocks: Vec<u64> = (0..edges / first.len())
            .map(|_| math::floor_u32(draws.uniform() * math::from_u64(length.0)).into())
            .collect();
        clocks.sort_unstable();
        clocks.dedup();
        let mut level = Level::LOW;
        let edge = |clock: u64| {
            level = if level == Level::LOW { Level::HIGH } else { Level::LOW };
            Edge { at: Tick(clock), level }
        };
        PulseTrain::new(Level::LOW, clocks.into_iter().map(edge), length)
    };
    first.iter().map(pulses).collect()
}

/// Eight lines out of the middle of a field.
fn some_lines(scenario: &Scenario, field: &[PulseTrain]) -> Vec<PulseTrain> {
    let line = u64::from(scenario.raster.timing.clocks_per_line);
    let (from, to) = (Tick(100 * line), Tick(108 * line));
    field.iter().map(|train| train.part(from, to)).collect()
}

/// How far some lines are off at any node and sample, V.
fn off_v(scenario: &Scenario, network: &Network, field: &[PulseTrain]) -> f32 {
    const EXACT_V: f64 = 2e-9;
    let lines = some_lines(scenario, field);
    let samples = |tolerance_v: f64| {
        let mut exact = scenario.clone();
        exact.solve.tolerance_v = tolerance_v;
        let nodes = (1..scenario.circuit.nodes.len()).map(NodeId).collect();
        let mut run = begun(&exact, network, &lines, nodes);
        run.advance_field(&lines).expect("the lines are solved").concat()
    };
    let (found, exact) = (samples(scenario.solve.tolerance_v), samples(EXACT_V));
    found.iter().zip(&exact).map(|(found, exact)| (found - exact).abs()).fold(0.0, f32::max)
}

/// A board at rest before its first field.
fn at_rest<'a>(scenario: &Scenario, network: &'a Network, trains: &[PulseTrain]) -> Transient<'a> {
    begun(scenario, network, trains, vec![scenario.output.node])
}

fn begun<'a>(
    scenario: &Scenario,
    network: &'a Network,
    trains: &[PulseTrain],
    taps: Vec<NodeId>,
) -> Transient<'a> {
    let idle: Vec<Level> = trains.iter().map(PulseTrain::last_level).collect();
    let start = network.operating_point(&idle).expect("the board stands");
    let spec = TransientSpec {
        clock: scenario.raster.timing.clock,
        samples_per_clock: scenario.solve.samples_per_clock,
        tolerance_v: scenario.solve.tolerance_v,
        taps,
    };
    Transient::new(network, &scenario.circuit, &start, &idle, spec)
}

fn board(criterion: &mut Criterion, name: &str, scenario: &Scenario) {
    let mut group = criterion.benchmark_group(name);
    let network = Network::new(&scenario.circuit).expect("the board is sound");
    let fields = fields(scenario, 60);
    let first = &fields[0];
    show(&format!("{name}: off by {:.0} µV", 1e6 * off_v(scenario, &network, first)));
    group.sample_size(10);
    group.bench_function("no reuse", |b| {
        b.iter_batched(
            || at_rest(scenario, &network, first),
            |mut run| run.advance_field(first),
            BatchSize::PerIteration,
        );
    });
    group.sample_size(50);
    group.bench_function("first field, nothing known", |b| {
        b.iter_batched(
            || at_rest(scenario, &network, first).with_recall(),
            |mut run| run.advance_field(first),
            BatchSize::PerIteration,
        );
    });
    let mut run = at_rest(scenario, &network, first).with_recall();
    run.settle(first).expect("the board settles");
    group.bench_function("the same field again", |b| {
        b.iter(|| black_box(run.advance_field(first)));
    });
    let mut run = at_rest(scenario, &network, first).with_recall();
    run.settle(first).expect("the board settles");
    let (mut next, before) = (0, run.recall_counts());
    group.bench_function("later fields, the ball moving", |b| {
        b.iter(|| {
            next = (next + 1) % fields.len();
            black_box(run.advance_field(&fields[next]))
        });
    });
    let counts = run.recall_counts();
    let (recalled, solved) = (counts.recalled - before.recalled, counts.solved - before.solved);
    show(&format!("{name}: {recalled} stretches recalled, {solved} solved"));
    group.finish();
}

#[expect(clippy::print_stdout, reason = "beside what the bench itself prints")]
fn show(line: &str) {
    println!("{line}");
}

fn copy(criterion: &mut Criterion) {
    let samples = vec![0.5_f32; 319_488];
    criterion.bench_function("copying the samples of a field", |b| b.iter(|| samples.clone()));
}

fn boards(criterion: &mut Criterion) {
    for (name, scenario, loose_v) in [
        ("plain", plain(), 5e-4),
        ("full", full(), 7e-5),
        ("coupled by 470 µF", coupled(), 4e-4),
        ("coupled, on a ripple", rippled(), 4e-4),
    ] {
        board(criterion, name, &scenario);
        let mut loose = scenario;
        loose.solve.tolerance_v = loose_v;
        board(criterion, &format!("{name}, {:.0} µV a step", 1e6 * loose_v), &loose);
    }
}

/// Fields that have nothing of a picture: a thousand edges that seldom come twice alike.
fn random(criterion: &mut Criterion) {
    let mut scenario = plain();
    scenario.solve.tolerance_v = 5e-4;
    let network = Network::new(&scenario.circuit).expect("the board is sound");
    let first = &fields(&scenario, 1)[0];
    let pulses: Vec<_> = (0..20).map(|seed| random_pulses(first, 1000, seed)).collect();
    let mut group = criterion.benchmark_group("a thousand random edges");
    group.sample_size(10);
    group.bench_function("first field, nothing known", |b| {
        b.iter_batched(
            || at_rest(&scenario, &network, first).with_recall(),
            |mut run| run.advance_field(&pulses[0]),
            BatchSize::PerIteration,
        );
    });
    group.bench_function("twenty fields", |b| {
        b.iter_batched(
            || at_rest(&scenario, &network, first).with_recall(),
            |mut run| pulses.iter().for_each(|field| drop(black_box(run.advance_field(field)))),
            BatchSize::PerIteration,
        );
    });
    group.finish();
}

criterion_group!(benches, boards, random, copy);
criterion_main!(benches);
