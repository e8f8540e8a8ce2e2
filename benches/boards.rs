//! Levels of one board after another that differ in values, one thread: all combinations of
//! elements, with the verdicts.

use backporch::analysis::board_levels::BoardSolver;
use backporch::analysis::spread::Board;
use backporch::analysis::spread::Look;
use backporch::analysis::spread::Run;
use backporch::analysis::spread::RunSpec;
use backporch::network::circuit::Circuit;
use backporch::network::circuit::PartKind;
use backporch::scenario::Scenario;
use backporch::scenario::load;
use criterion::Criterion;
use criterion::Throughput;
use criterion::criterion_group;
use criterion::criterion_main;
use rayon::ThreadPoolBuilder;
use std::ops::ControlFlow;

const TABLE: &str = "scenarios/table-follower.toml";

fn board(path: &str) -> Scenario {
    load(path, &[], &mut |path| std::fs::read_to_string(path)).expect("the example board loads")
}

/// Resistors within 5 % of their values.
fn lots(scenario: &Scenario) -> Vec<Circuit> {
    let mut state = 1_u32;
    let mut lot = || {
        let mut circuit = scenario.circuit.clone();
        for part in &mut circuit.parts {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let share = f64::from(state >> 8) / f64::from(1_u32 << 24);
            if let PartKind::Resistor { ohms, .. } = &mut part.kind {
                *ohms *= 0.95 + 0.1 * share;
            }
        }
        circuit
    };
    (0..256).map(|_| lot()).collect()
}

fn levels(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("boards");
    group.throughput(Throughput::Elements(256));
    for name in ["table-follower", "barn-biased", "chapel-follower"] {
        let scenario = board(&format!("scenarios/{name}.toml"));
        let solver = BoardSolver::new(&scenario, &[]).expect("the board is solved");
        let lots = lots(&scenario);
        group.bench_function(format!("levels of 256 boards: {name}"), |b| {
            b.iter(|| lots.iter().filter(|one| solver.solve(one).is_ok()).count());
        });
    }
    group.throughput(Throughput::Elements(32));
    group.sample_size(10);
    for (name, tolerance) in [("default tolerance", "10 uV"), ("0.2 mV", "0.2 mV")] {
        let set = [format!("solve.tolerance={tolerance}")];
        let scenario = load(TABLE, &set, &mut |path| std::fs::read_to_string(path));
        let scenario = scenario.expect("the example board loads");
        let spec = RunSpec { seed: 1, look: Look::Line(None) };
        let run = Run::new(&scenario, spec).expect("the board is solved");
        group.bench_function(format!("one line in time of 32 boards, {name}"), |b| {
            b.iter(|| (0..32).filter(|&k| run.board(k).measured.is_some()).count());
        });
    }
    group.throughput(Throughput::Elements(4096));
    let scenario = board(TABLE);
    let spec = RunSpec { seed: 1, look: Look::Levels };
    let run = Run::new(&scenario, spec).expect("the board is solved");
    for threads in [1, 2] {
        let pool = ThreadPoolBuilder::new().num_threads(threads).build().expect("threads start");
        group.bench_function(
            format!("4096 boards drawn, solved, judged: {threads} threads"),
            |b| {
                b.iter(|| {
                    let mut good = 0;
                    let mut take = |boards: &[Board]| -> Result<ControlFlow<()>, ()> {
                        let measured = boards.iter().filter_map(|one| one.measured.as_ref());
                        good += measured.filter(|one| one.is_good()).count();
                        Ok(ControlFlow::Continue(()))
                    };
                    pool.install(|| run.boards(0..4096, &mut take)).expect("nothing ends it");
                    good
                });
            },
        );
    }
    group.finish();
}

criterion_group!(benches, levels);
criterion_main!(benches);
