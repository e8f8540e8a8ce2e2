//! Each stage alone, its inputs made outside the clock, and the whole way from scenario text to
//! picture. One field of 312 lines at 16 MS/s.

use backporch::analysis::cause::cause;
use backporch::analysis::compare::compare;
use backporch::analysis::examine::examine;
use backporch::analysis::ladder::ladder;
use backporch::analysis::rating::ratings;
use backporch::analysis::why::why;
use backporch::network::circuit::PartKind;
use backporch::output::field_view;
use backporch::output::field_view::FieldView;
use backporch::output::line_view;
use backporch::output::line_view::LineView;
use backporch::output::png::write_frame;
use backporch::raster::generate::Raster;
use backporch::receiver::receive;
use backporch::receiver::set::Set;
use backporch::scenario::Scenario;
use backporch::scenario::load;
use backporch::signal::element::ElementId;
use backporch::simulate::Bench;
use backporch::simulate::FieldRun;
use criterion::BatchSize;
use criterion::Criterion;
use criterion::criterion_group;
use criterion::criterion_main;
use std::hint::black_box;

const CHAPEL: &str = "scenarios/chapel-follower.toml";
/// Both players are lost on this one.
const LODGE: &str = "scenarios/lodge-joined.toml";

fn board(path: &str) -> Scenario {
    load(path, &[], &mut |path| std::fs::read_to_string(path)).expect("the example board loads")
}

fn scenario() -> Scenario {
    board(CHAPEL)
}

fn field(scenario: &Scenario) -> FieldRun {
    let bench = Bench::new(scenario, &[]).expect("the board is sound");
    let mut run = bench.run().expect("the plan is sound");
    run.advance_field(&mut |_| {}).expect("the board is solved")
}

fn stages(criterion: &mut Criterion) {
    let scenario = scenario();
    let run = field(&scenario);
    let reading = examine(&scenario, &run).expect("the board is solved");

    criterion
        .bench_function("scenario: text to resolved", |b| b.iter(|| black_box(self::scenario())));
    criterion.bench_function("raster: one field", |b| {
        let raster = Raster::new(&scenario.raster).expect("the plan is sound");
        b.iter_batched(
            || raster.clone(),
            |mut raster| raster.advance_field(),
            BatchSize::SmallInput,
        );
    });
    criterion.bench_function("receiver: one field", |b| {
        b.iter(|| receive(black_box(&run.traces[0]), &scenario.receiver));
    });
    criterion.bench_function("receiver: a later field", |b| {
        let mut set = Set::new(&scenario.receiver);
        b.iter(|| set.receive(black_box(&run.traces[0])));
    });
    criterion
        .bench_function("analysis: ladder, 32 levels, 3 loads", |b| b.iter(|| ladder(&scenario)));
    criterion.bench_function("analysis: field reading with causes", |b| {
        b.iter(|| examine(&scenario, &run));
    });
    criterion.bench_function("analysis: cause of one lost element", |b| {
        let lodge = board(LODGE);
        b.iter(|| cause(&lodge, ElementId(2)));
    });
    criterion.bench_function("output: frame.png", |b| {
        b.iter(|| write_frame(&run.reception.picture, &mut Vec::new()));
    });
    criterion.bench_function("output: line.png", |b| {
        let view = LineView {
            title: &scenario.title,
            line: run.trains.map.line_that_shows_most(),
            trains: &run.trains,
            traces: &run.traces,
            reception: &run.reception,
            reading: &reading,
        };
        b.iter(|| line_view::write(&view, &mut Vec::new()));
    });
    criterion.bench_function("output: field.png", |b| {
        let view = FieldView {
            title: &scenario.title,
            timing: &run.trains.timing,
            trace: &run.traces[0],
            reception: &run.reception,
            reading: &reading,
        };
        b.iter(|| field_view::write(&view, &mut Vec::new()));
    });
}

fn whole(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("whole");
    group.sample_size(20);
    group.bench_function("scenario text to picture", |b| b.iter(|| field(&scenario())));
    group.finish();
}

/// What stands on the solved board: who spares its parts, why, and what a difference does.
fn answers(criterion: &mut Criterion) {
    let scenario = board(CHAPEL);
    criterion.bench_function("analysis: ratings", |b| b.iter(|| ratings(&scenario)));
    criterion.bench_function("analysis: why, four elements", |b| {
        let elements = [0, 1, 2, 3].map(ElementId);
        b.iter(|| why(&scenario, &elements));
    });
    criterion.bench_function("analysis: compare, one difference", |b| {
        let mut other = board(CHAPEL);
        if let Some(part) = other.circuit.part("R1")
            && let PartKind::Resistor { ohms, .. } = &mut other.circuit.parts[part.0].kind
        {
            *ohms = 2.2e3;
        }
        b.iter(|| compare(&scenario, &other));
    });
}

criterion_group!(benches, stages, whole, answers);
criterion_main!(benches);
