//! One field of a board, solved line by line and put together from stretches that were solved
//! before. 312 lines at 16 MS/s, the default tolerance of 10 µV; the socket alone is sampled.
//!
//! Two boards of the same shape, a PNP follower behind two OR gates, its transistor with junction and
//! diffusion charge, strays at every node: *plain* has linear pins and gates that are a resistance,
//! *full* has square-law pins and gates that saturate, clamp and take their time.

use backporch::network::operating_point::Network;
use backporch::network::transient::Transient;
use backporch::network::transient::TransientSpec;
use backporch::raster::generate::Raster;
use backporch::scenario::Scenario;
use backporch::scenario::load;
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

/// Trains of so many fields, everything moving from one to the next.
fn fields(scenario: &Scenario, count: usize) -> Vec<Vec<PulseTrain>> {
    let mut raster = Raster::new(&scenario.raster).expect("the plan is sound");
    (0..count).map(|_| raster.advance_field().trains).collect()
}

/// A board at rest before its first field.
fn at_rest<'a>(scenario: &Scenario, network: &'a Network, trains: &[PulseTrain]) -> Transient<'a> {
    let idle: Vec<Level> = trains.iter().map(PulseTrain::last_level).collect();
    let start = network.operating_point(&idle).expect("the board stands");
    let spec = TransientSpec {
        clock: scenario.raster.timing.clock,
        samples_per_clock: scenario.solve.samples_per_clock,
        tolerance_v: scenario.solve.tolerance_v,
        taps: vec![scenario.output.node],
    };
    Transient::new(network, &scenario.circuit, &start, &idle, spec)
}

fn board(criterion: &mut Criterion, name: &str, scenario: &Scenario) {
    let mut group = criterion.benchmark_group(name);
    let network = Network::new(&scenario.circuit).expect("the board is sound");
    let fields = fields(scenario, 60);
    let first = &fields[0];
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
    board(criterion, "plain", &plain());
    board(criterion, "full", &full());
    board(criterion, "coupled by 470 µF", &coupled());
}

criterion_group!(benches, boards, copy);
criterion_main!(benches);
