//! Levels of one board after another that differ in values, one thread: all combinations of
//! elements, with the verdicts.

use backporch::analysis::board_levels::BoardSolver;
use backporch::network::circuit::Circuit;
use backporch::network::circuit::PartKind;
use backporch::scenario::Scenario;
use backporch::scenario::load;
use criterion::Criterion;
use criterion::Throughput;
use criterion::criterion_group;
use criterion::criterion_main;

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
    group.finish();
}

criterion_group!(benches, levels);
criterion_main!(benches);
