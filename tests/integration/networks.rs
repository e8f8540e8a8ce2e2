//! Boards at random: whatever its parts say can be solved is solved, and what cannot is refused at
//! the right place.

mod chance;
mod field;
mod laws;
mod models;
mod pieces;
mod random_boards;
mod rank;
mod residual;
mod rings;

use crate::networks::random_boards::Drawn;
use crate::networks::random_boards::draw;
use crate::networks::rank::Verdict;
use crate::networks::rank::judge;
use backporch::base::parallel;
use backporch::network::circuit::Circuit;
use backporch::network::error::NetworkError;
use backporch::network::operating_point::Network;
use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::io::Write as _;

/// Boards tried with every change.
const EVERY_TIME: u64 = 8_000;
/// Boards tried on request.
const ON_REQUEST: u64 = 100_000;

/// Iterations that a board which is solved may cost: half of what the solver allows itself.
const MOST_ITERATIONS: u32 = 500_000;

/// Boards that were once answered wrongly: coils across junctions driven with absurd currents,
/// nodes that hang by less than the last bit of what surrounds them, latches with several sets of
/// levels.
const ONCE_WRONG: [u64; 21] = [
    13_686, 13_794, 16_961, 24_982, 31_016, 37_880, 41_150, 44_349, 63_075, 68_508, 82_072, 84_756,
    92_563, 1_020_625, 1_022_255, 1_065_593, 1_084_538, 2_037_339, 2_070_175, 3_004_980, 3_099_087,
];

/// What came of one board: how it counts, or what is wrong.
type Outcome = Result<&'static str, String>;

/// Whether an error of the network's preparation points at one of the bad nodes.
fn names_one_of(bad: &BTreeSet<usize>, circuit: &Circuit, error: &NetworkError) -> bool {
    let named = match error {
        NetworkError::Floating { name, .. } => name,
        NetworkError::SourceLoop { node, .. } => node,
        _ => return false,
    };
    circuit.nodes.iter().position(|node| node == named).is_some_and(|node| bad.contains(&node))
}

fn solve(drawn: &Drawn, hungry: bool) -> Outcome {
    let Drawn { circuit, levels } = drawn;
    let network = Network::new(circuit).map_err(|error| format!("refused: {error}"))?;
    let mut last = None;
    for levels in levels {
        match network.operating_point_near(levels, last.as_ref()) {
            Ok(point) => {
                let faults = residual::faults(circuit, &network, &point, levels);
                if !faults.is_empty() {
                    return Err(faults.join("; "));
                }
                if point.iterations > MOST_ITERATIONS {
                    return Err(format!("solved in no less than {} iterations", point.iterations));
                }
                last = Some(point);
            }
            Err(NetworkError::GatesUnsettled { .. }) => {
                return match rings::standing_state(circuit, levels) {
                    None => Ok("without a state"),
                    Some(state) => Err(format!("gates may stand at {state:?}")),
                };
            }
            Err(_) if hungry => return Ok("hungry and refused"),
            Err(error) => return Err(format!("not solved: {error}")),
        }
    }
    Ok(if hungry { "hungry and solved" } else { "solved" })
}

fn try_board(number: u64) -> Outcome {
    let drawn = draw(number);
    match judge(&drawn.circuit, number) {
        Verdict::WellPosed => solve(&drawn, false),
        Verdict::Hungry => solve(&drawn, true),
        Verdict::IllPosed(bad) => match Network::new(&drawn.circuit) {
            Ok(_) => Err(format!("not refused, though {bad:?} are open")),
            Err(error) if names_one_of(&bad, &drawn.circuit, &error) => Ok("refused"),
            Err(error) => Err(format!("refused, but not for {bad:?}: {error}")),
        },
    }
}

/// Tries `count` boards from a number on.
fn try_boards(first: u64, count: u64) -> (BTreeMap<&'static str, usize>, String) {
    try_these(&(first..first + count).collect::<Vec<u64>>())
}

/// Tries boards by number; a line for each that is wrong, and how many there were of each sort.
fn try_these(numbers: &[u64]) -> (BTreeMap<&'static str, usize>, String) {
    let outcomes = parallel::map(numbers, |&number| {
        let outcome = std::panic::catch_unwind(|| try_board(number));
        outcome.unwrap_or_else(|_| Err("panicked".to_owned()))
    });
    let (mut sorts, mut wrong) = (BTreeMap::new(), String::new());
    for (number, outcome) in numbers.iter().zip(outcomes) {
        match outcome {
            Ok(sort) => *sorts.entry(sort).or_insert(0) += 1,
            Err(what) => {
                *sorts.entry("wrong").or_insert(0) += 1;
                let _ = writeln!(wrong, "board {number}: {what}");
            }
        }
    }
    (sorts, wrong)
}

#[test]
fn every_random_board_is_solved_or_refused_where_it_is_bad() {
    let (sorts, wrong) = try_boards(0, EVERY_TIME);
    assert!(wrong.is_empty(), "{sorts:?}\n{wrong}");
}

#[test]
fn a_board_that_was_once_answered_wrongly_stays_right() {
    let (sorts, wrong) = try_these(&ONCE_WRONG);
    assert!(wrong.is_empty(), "{sorts:?}\n{wrong}");
}

/// `FIRST_BOARD=1000000` tries others.
#[test]
#[ignore = "minutes; for a change to the solver"]
fn every_one_of_a_hundred_thousand_random_boards_is_solved_or_refused_where_it_is_bad() {
    let first = std::env::var("FIRST_BOARD").map_or(0, |first| first.parse().unwrap());
    let (sorts, wrong) = try_boards(first, ON_REQUEST);
    let _ = writeln!(std::io::stderr(), "{sorts:?}");
    assert!(wrong.is_empty(), "{sorts:?}\n{wrong}");
}

/// `BOARD=123 cargo test --test integration chosen_board -- --ignored --nocapture`
#[test]
#[ignore = "shows one board, by its number in the variable BOARD"]
fn a_chosen_board_is_solved_or_refused_where_it_is_bad() {
    let number = std::env::var("BOARD").unwrap().parse().unwrap();
    let drawn = draw(number);
    for part in &drawn.circuit.parts {
        let _ = writeln!(std::io::stderr(), "{} {:?}", part.name, part.kind);
    }
    let verdict = judge(&drawn.circuit, number);
    let outcome = try_board(number);
    let _ = writeln!(std::io::stderr(), "{:?}\n{verdict:?}\n{outcome:?}", drawn.levels);
    assert!(outcome.is_ok());
}
