//! The hunt over a board of twenty parts: all single faults, and all pairs of them. Levels only.

use backporch::analysis::hunt::hunt;
use backporch::analysis::hunt::hunt_pairs;
use backporch::analysis::hunt::observe::Look;
use backporch::analysis::hunt::observe::Observation;
use backporch::scenario::Scenario;
use backporch::scenario::load;
use backporch::signal::element::ElementId;
use criterion::Criterion;
use criterion::criterion_group;
use criterion::criterion_main;
use std::time::Duration;

fn chapel() -> Scenario {
    load("scenarios/chapel-follower.toml", &[], &mut |path| std::fs::read_to_string(path))
        .expect("the example board loads")
}

/// Field lines seen, both players gone, the ball still bounces.
fn players_gone() -> Observation {
    let seen = vec![
        (ElementId(0), Look::Clear),
        (ElementId(2), Look::Missing),
        (ElementId(3), Look::Missing),
    ];
    Observation { seen, bounces: Some(true), ..Observation::default() }
}

fn hunts(criterion: &mut Criterion) {
    let (scenario, known) = (chapel(), players_gone());
    let mut group = criterion.benchmark_group("hunt");
    group.sample_size(10);
    group.bench_function("every single fault", |b| b.iter(|| hunt(&scenario, &known)));
    group.measurement_time(Duration::from_secs(60));
    group.bench_function("every pair", |b| {
        b.iter(|| hunt_pairs(&scenario, &known, &mut |_, _| {}));
    });
    group.finish();
}

criterion_group!(benches, hunts);
criterion_main!(benches);
