//! How cost grows: a first field against nodes, against edges a line and against fields, with an empty
//! store each time; and all single faults of a board against threads.

use backporch::analysis::hunt::hunt;
use backporch::analysis::hunt::observe::Look;
use backporch::analysis::hunt::observe::Observation;
use backporch::scenario::Scenario;
use backporch::scenario::load;
use backporch::signal::element::ElementId;
use backporch::simulate::Bench;
use criterion::BenchmarkId;
use criterion::Criterion;
use criterion::criterion_group;
use criterion::criterion_main;
use rayon::ThreadPoolBuilder;
use std::fmt::Write;

fn read(text: &str) -> Scenario {
    load("scaling.toml", &[], &mut |_| Ok(text.to_owned())).expect("the board loads")
}

/// A pin over a ladder of so many resistors with a capacitor at every joint, lit so many times a line
/// on every line of the picture.
fn ladder(nodes: usize, pulses: usize) -> Scenario {
    let mut text = "[chip]\n[chip.timing]\nclock = \"2 MHz\"\nclocks_per_line = 128\nlines = 312\n\
                    sync = 9\nback_porch = 12\nfront_porch = 3\nfield_sync = \"inverted\"\n\
                    field_sync_lines = 4\nfirst_active_line = 24\n[chip.drive]\nkind = \"fixed\"\n\
                    high_volts = 5\nhigh_ohms = 1000\nlow_ohms = 500\n"
        .to_owned();
    let width = 100 / pulses;
    let blocks: Vec<String> = (0..pulses)
        .map(|pulse| {
            let start = 22 + pulse * width;
            format!("{{ lines = [24, 312], clocks = [{start}, {}] }}", start + width.div_ceil(2))
        })
        .collect();
    let _ = write!(text, "[chip.pattern.left]\nactive = [{}]\n", blocks.join(", "));
    let mut from = "left".to_owned();
    for node in 1..nodes {
        let to = if node + 1 == nodes { "plug".to_owned() } else { format!("n{node}") };
        let _ =
            write!(text, "[board.R{node}]\nresistor = \"100\"\nfrom = \"{from}\"\nto = \"{to}\"\n");
        from = to;
    }
    text += "[board.RS]\nresistor = \"1k\"\nfrom = \"sync\"\nto = \"plug\"\n\
             [output]\nnode = \"plug\"\nload = \"75\"\n";
    read(&text)
}

/// So many fields from an empty store.
fn fields(scenario: &Scenario, count: u32) {
    let bench = Bench::new(scenario, &[]).expect("the board is sound");
    let mut run = bench.run().expect("the plan is sound");
    for _ in 0..count {
        run.advance_field(&mut |_| {}).expect("the board is solved");
    }
}

fn growth(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("scaling");
    group.sample_size(10);
    for nodes in [4, 8, 16, 32] {
        let scenario = ladder(nodes, 4);
        group.bench_function(BenchmarkId::new("nodes", nodes), |b| b.iter(|| fields(&scenario, 1)));
    }
    for pulses in [1, 4, 16, 48] {
        let scenario = ladder(8, pulses);
        group.bench_function(BenchmarkId::new("edges a line", 2 * pulses), |b| {
            b.iter(|| fields(&scenario, 1));
        });
    }
    let chapel = load("scenarios/chapel-follower.toml", &[], &mut |p| std::fs::read_to_string(p))
        .expect("the example board loads");
    for count in [1, 4, 16] {
        group.bench_function(BenchmarkId::new("fields", count), |b| {
            b.iter(|| fields(&chapel, count));
        });
    }
    let seen = vec![(ElementId(2), Look::Missing)];
    let known = Observation { seen, ..Observation::default() };
    for threads in [1, 2] {
        let pool = ThreadPoolBuilder::new().num_threads(threads).build().expect("threads start");
        group.bench_function(BenchmarkId::new("threads, all single faults", threads), |b| {
            b.iter(|| pool.install(|| hunt(&chapel, &known)));
        });
    }
    group.finish();
}

criterion_group!(benches, growth);
criterion_main!(benches);
