//! Charge and energy on every example board: what flows into a node stays there, and what sources
//! deliver is kept or turned to heat.

use crate::boards::examples;
use crate::boards::load;
use crate::ledger::Balance;
use crate::ledger::Ledger;
use crate::ledger::Rule;
use crate::ledger::THREE_POINTS;
use crate::plain::rows;
use crate::published::show;
use crate::stiff;
use crate::stiff::CLOCK_HZ;
use backporch::base::math;
use backporch::base::ticks::ClockRate;
use backporch::base::ticks::Tick;
use backporch::base::ticks::TickSpan;
use backporch::network::circuit::Circuit;
use backporch::network::circuit::PartKind;
use backporch::network::operating_point::Network;
use backporch::network::transient::Transient;
use backporch::network::transient::TransientSpec;
use backporch::raster::generate::Raster;
use backporch::scenario::Scenario;
use backporch::signal::pulse_train::Edge;
use backporch::signal::pulse_train::FieldTrains;
use backporch::signal::pulse_train::Level;
use backporch::signal::pulse_train::PulseTrain;
use std::collections::BTreeSet;

/// Lines at the start of the field, with field sync or the most of it.
const FIRST_LINES: u64 = 6;

/// The lines that are followed: the first of the field, and for every pin the first four of the
/// picture in which it moves.
fn some_lines(trains: &FieldTrains) -> Vec<u64> {
    let per_line = u64::from(trains.timing.clocks_per_line);
    let first_active = u64::from(trains.timing.first_active_line);
    let mut lines: BTreeSet<u64> = (0..FIRST_LINES).collect();
    for train in &trains.trains {
        let moves = train.edges().iter().map(|edge| edge.at.0 / per_line);
        let active = moves.filter(|&line| line >= first_active);
        let chosen: BTreeSet<u64> = active.collect();
        lines.extend(chosen.into_iter().take(4));
    }
    lines.into_iter().collect()
}

/// A train of those lines, joined.
fn cut(train: &PulseTrain, lines: &[u64], per_line: u64) -> PulseTrain {
    let mut edges = Vec::new();
    let mut level = train.initial();
    for (place, &line) in (0..).zip(lines) {
        for clock in 0..per_line {
            let next = train.level_at(Tick(line * per_line + clock));
            if next != level {
                edges.push(Edge { at: Tick(place * per_line + clock), level: next });
                level = next;
            }
        }
    }
    let count = u64::try_from(lines.len()).unwrap();
    PulseTrain::new(train.initial(), edges, TickSpan(count * per_line))
}

/// A board with what its pins do while it is followed.
struct Case {
    name: String,
    circuit: Circuit,
    trains: Vec<PulseTrain>,
    clock: ClockRate,
    tolerance_v: f64,
}

impl Case {
    /// Every example board, followed through some lines.
    fn examples(lines: impl Fn(&FieldTrains) -> Vec<u64>) -> Vec<Self> {
        examples()
            .iter()
            .map(|path| {
                let mut scenario = load(path);
                turn_ripples(&mut scenario);
                let field = Raster::new(&scenario.raster).unwrap().advance_field();
                let lines = lines(&field);
                let per_line = u64::from(field.timing.clocks_per_line);
                let trains =
                    field.trains.iter().map(|train| cut(train, &lines, per_line)).collect();
                let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
                let (circuit, tolerance_v) = (scenario.circuit, scenario.solve.tolerance_v);
                Self { name, circuit, trains, clock: field.timing.clock, tolerance_v }
            })
            .collect()
    }

    /// The boards that a general-purpose solver follows too: square-law pins, coils without loss.
    fn witnessed() -> Vec<Self> {
        let clock = ClockRate::new(CLOCK_HZ, 1).unwrap();
        let case = |stiff::Case { name, circuit, trains, default_v }| Self {
            name: name.to_owned(),
            circuit,
            trains,
            clock,
            tolerance_v: default_v,
        };
        stiff::cases().into_iter().map(case).collect()
    }

    /// The books by each of the rules.
    fn balances(&self, tolerance_v: f64, rules: &[Rule]) -> Vec<Balance> {
        let circuit = &self.circuit;
        let network = Network::new(circuit).unwrap();
        let idle: Vec<Level> = self.trains.iter().map(PulseTrain::initial).collect();
        let standing = network.operating_point(&idle).unwrap();
        let clock = self.clock;
        let spec = TransientSpec { clock, samples_per_clock: 1, tolerance_v, taps: Vec::new() };
        let mut run = Transient::new(&network, circuit, &standing, &idle, spec);
        let mut ledger = Ledger::new(circuit, rules, rows(circuit));
        run.watch_field(&self.trains, &mut |step| ledger.enter(step)).unwrap();
        ledger.balances()
    }

    /// The name of a row.
    fn place(&self, row: usize) -> &str {
        self.circuit.nodes.get(row).map_or("inside a part", String::as_str)
    }
}

/// Lets every ripple turn from rising to falling 0.3 ms after the start.
fn turn_ripples(scenario: &mut Scenario) {
    for part in &mut scenario.circuit.parts {
        if let PartKind::Adapter(adapter) = &mut part.kind {
            adapter.phase = adapter.conduction - 0.3e-3 * adapter.ripple_hertz;
        }
    }
}

/// What may be off: a share of the charge that passes through a node, or of the energy that the
/// sources deliver. First by the solver's own points, where what is left is what its iterations have
/// left over, then on the curve that samples lie on.
const BY_POINTS: f64 = 1e-7;
const ON_CURVE: f64 = 1e-6;

/// Checks every board at its own tolerance, shows what is left over, and returns how far charge is
/// off on the curve.
fn check(cases: &[Case], on_curve: f64) -> Vec<f64> {
    show(
        "| board | steps | charge, by the points | where | energy | charge, on the curve | where | energy |",
    );
    let mut failures = Vec::new();
    let mut charges = Vec::new();
    for case in cases {
        let both = case.balances(case.tolerance_v, &[Rule::Stages, THREE_POINTS]);
        let (points, curve) = (&both[0], &both[1]);
        show(&format!(
            "| {} | {} | {:.1e} | {} | {:.1e} | {:.1e} | {} | {:.1e} |",
            case.name,
            points.steps,
            points.charge,
            case.place(points.row),
            points.energy,
            curve.charge,
            case.place(curve.row),
            curve.energy
        ));
        assert!(points.steps > 400, "{}: only {} steps", case.name, points.steps);
        let kept = points.charge <= BY_POINTS && points.energy <= BY_POINTS;
        if !kept || !(0.0..=on_curve).contains(&curve.energy) {
            failures.push(case.name.as_str());
        }
        charges.push(curve.charge);
    }
    assert!(failures.is_empty(), "{failures:?}");
    charges
}

/// At the default tolerance: charge at every node, and energy, by the solver's own points; energy on
/// the curve.
#[test]
fn charge_and_energy_balance_on_every_example() {
    let cases = Case::examples(some_lines);
    let fine = check(&cases, ON_CURVE);
    // Charge on the curve is off by what the curve is: it falls with the tolerance.
    let coarse =
        cases.iter().map(|case| case.balances(8.0 * case.tolerance_v, &[THREE_POINTS])[0].charge);
    let falls: Vec<f64> = coarse.zip(&fine).map(|(coarse, fine)| fine / coarse).collect();
    let median = math::median(falls).unwrap();
    show(&format!("charge on the curve against that at eight times the tolerance: {median:.2}"));
    assert!(median < 0.3, "{median}");
}

/// The unbiased follower misses the examples' bar on the curve, by 1.4e-6 of the little energy that
/// two lines take.
#[test]
fn charge_and_energy_balance_on_the_boards_of_the_witness() {
    check(&Case::witnessed(), 2.0 * ON_CURVE);
}

#[test]
#[ignore = "minutes"]
fn charge_and_energy_balance_over_whole_fields() {
    check(
        &Case::examples(|trains| (0..u64::from(trains.timing.lines_per_field)).collect()),
        ON_CURVE,
    );
}
