//! The levels of many boards at once against those of one board at a time.

use crate::boards::examples;
use crate::boards::load;
use crate::follower::Follower;
use crate::published;
use backporch::analysis::board_levels::BoardSolver;
use backporch::analysis::ladder::ladder;
use backporch::base::math;
use backporch::network::circuit::Circuit;
use backporch::network::circuit::PartKind;
use backporch::scenario::Scenario;

/// Volts by which the two may differ: both stop when steps are far smaller.
const TOLERANCE_V: f64 = 1e-8;

/// Every resistor another value, up to three times more or less, by a rule that only looks like chance.
fn shaken(scenario: &Scenario, lot: u32) -> Scenario {
    let mut result = scenario.clone();
    let mut state = 0x9e37_79b9_u32.wrapping_mul(lot + 1);
    for part in &mut result.circuit.parts {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let share = f64::from(state >> 8) / f64::from(1_u32 << 24);
        if let PartKind::Resistor { ohms, .. } = &mut part.kind {
            *ohms *= math::pow(3.0, 2.0 * share - 1.0);
        }
    }
    result
}

/// Largest difference over all combinations, V.
fn difference_v(solver: &BoardSolver<'_>, changed: &Scenario) -> f64 {
    let quick = solver.solve(&changed.circuit).unwrap();
    let plain = &ladder(changed).unwrap().loads[0];
    assert_eq!(quick.volts[0].len(), plain.levels.len());
    assert_eq!(quick.sync.state, plain.sync.state);
    let words = |levels: &[backporch::analysis::ladder::ElementLevel]| {
        levels.iter().map(|level| (level.seen, level.notes.clone())).collect::<Vec<_>>()
    };
    assert_eq!(words(&quick.elements), words(&plain.elements));
    let pairs = quick.volts[0].iter().zip(&plain.levels);
    pairs.map(|(volts, level)| (volts - level.volts).abs()).fold(0.0, f64::max)
}

#[test]
fn every_example_has_the_levels_of_its_ladder_and_so_has_it_with_other_resistors() {
    let mut worst: f64 = 0.0;
    let mut boards = 0;
    for path in examples() {
        let scenario = &load(&path);
        if scenario.raster.elements.len() > 8 {
            continue;
        }
        let solver = BoardSolver::new(scenario, &[]).unwrap();
        for lot in 0..6 {
            let changed = if lot == 0 { scenario.clone() } else { shaken(scenario, lot) };
            let off = difference_v(&solver, &changed);
            assert!(off < TOLERANCE_V, "{}, lot {lot}: {off} V", scenario.name);
            worst = worst.max(off);
            boards += 1;
        }
    }
    published::show(&format!("{boards} boards, at most {worst:.1e} V apart"));
}

#[test]
fn the_biased_follower_of_the_tables_has_them_too() {
    let scenario = Follower::default().scenario();
    let solver = BoardSolver::new(&scenario, &[]).unwrap();
    for lot in 0..200 {
        let off = difference_v(&solver, &shaken(&scenario, lot));
        assert!(off < TOLERANCE_V, "lot {lot}: {off} V");
    }
}

/// A board is solved the same whatever was solved before it.
#[test]
fn the_order_of_boards_does_not_matter() {
    let scenario = Follower::default().scenario();
    let solver = BoardSolver::new(&scenario, &[]).unwrap();
    let circuits: Vec<Circuit> = (0..8).map(|lot| shaken(&scenario, lot).circuit).collect();
    let forwards: Vec<_> = circuits.iter().map(|one| solver.solve(one).unwrap()).collect();
    let mut backwards: Vec<_> =
        circuits.iter().rev().map(|one| solver.solve(one).unwrap()).collect();
    backwards.reverse();
    assert!(forwards == backwards);
}
