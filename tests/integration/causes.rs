//! Boards made at test time, each with one thing wrong: the levels against a second solver, written
//! here, and the named cause against what really brings the element back.
//!
//! Every board is a mixer of a common kind with its elements permuted, its nodes and parts renamed
//! and its values drawn. It works; then one step is spoilt badly and up to two more are moved a
//! little, so that there are innocent parts which are not quite what they were. An element that is
//! then faint or missing counts if exactly one of these steps, undone by itself, makes it clear: that
//! is its cause, whatever the product thinks.

pub(crate) mod board;
mod dense;
mod spoil;

use crate::causes::board::Board;
use crate::causes::board::healthy;
use crate::causes::dense::State;
use crate::causes::dense::deltas;
use crate::causes::dense::level;
use crate::causes::spoil::Step;
use crate::causes::spoil::mild;
use crate::causes::spoil::severe;
use backporch::analysis::cause::Cause;
use backporch::analysis::cause::cause;
use backporch::analysis::cause::put_right;
use backporch::analysis::ladder::SyncSide;
use backporch::analysis::ladder::ladder;
use backporch::base::parallel;
use backporch::scenario::Scenario;
use backporch::scenario::load;
use backporch::signal::element::ElementId;
use chacha20::ChaCha8Rng;
use chacha20::rand_core::SeedableRng;

/// Boards that have to qualify, and boards drawn for it.
const WANTED: usize = 200;
const DRAWN: u64 = 4000;
/// Faint below this, V: 140 of 700 mV.
const CLEAR_V: f64 = 0.140;
/// An element this close to the line is called neither way, V: the solvers may differ by as much.
const DOUBT_V: f64 = 1e-3;

/// An element that has half of what it needs is not judged. To gain a factor of two, either arm of
/// any divider on its way will do, the one made smaller or the other larger by two or three, and both
/// then have values that are as usual as before: nothing on such a board says which of them was
/// meant otherwise. A greater loss has one author.
const NEARLY: f64 = 0.5;

/// Mixers and faults that have to be among them.
const KINDS: [&str; 11] = [
    "adder",
    "diode adder",
    "all in one gate",
    "separate grey",
    "biased follower",
    "low follower",
    "two greys",
    "PNP follower",
    "sync pull-down",
    "dark player",
    "two gates",
];
const SORTS: [&str; 11] = [
    "pins joined",
    "pins joined by a resistor",
    "old network",
    "wrong gate",
    "resistor",
    "part turned",
    "no bias",
    "heavy load",
    "weak pin",
    "rail too high",
    "stuck input",
];

/// What came of one board.
#[derive(Default)]
struct Outcome {
    /// For each element with exactly one true cause, the sort of fault that it is.
    judged: Vec<&'static str>,
    /// What was wrong, in words.
    wrong: Vec<String>,
    kind: &'static str,
    worst_v: f64,
}

fn scenario_of(board: &Board) -> Scenario {
    let text = board.toml();
    load("board.toml", &[], &mut |_| Ok(text.clone()))
        .unwrap_or_else(|problems| panic!("{problems:#?}\n{text}"))
}

fn is_clear(delta_v: f64) -> Option<bool> {
    let size = delta_v.abs();
    ((size - CLEAR_V).abs() > DOUBT_V).then_some(size > CLEAR_V)
}

fn examine(seed: u64) -> Outcome {
    let mut rng = ChaCha8Rng::seed_from_u64(1978);
    rng.set_stream(seed);
    let mut outcome = Outcome::default();
    let board = healthy(&mut rng);
    outcome.kind = board.kind;
    let Some(before) = deltas(&board) else { return outcome };
    if before.iter().any(|&delta| is_clear(delta) != Some(true)) {
        return outcome;
    }
    let fault = severe(&board, &mut rng);
    let mut steps = vec![fault.clone()];
    steps.extend(mild(&board, &fault, &mut rng));
    let spoilt = with(&board, &steps, None);
    let scenario = scenario_of(&spoilt);
    compare_levels(seed, &spoilt, &scenario, &mut outcome);
    let Some(spoilt_v) = deltas(&spoilt) else { return outcome };
    let undone: Vec<Option<Vec<f64>>> =
        (0..steps.len()).map(|step| deltas(&with(&board, &steps, Some(step)))).collect();
    for (element, &delta) in spoilt_v.iter().enumerate() {
        if delta.abs() > NEARLY * CLEAR_V {
            continue;
        }
        let cures: Option<Vec<bool>> = undone
            .iter()
            .map(|after| after.as_ref().and_then(|after| is_clear(after[element])))
            .collect();
        let Some(cures) = cures else { continue };
        if cures.iter().filter(|&&cures| cures).count() != 1 {
            continue;
        }
        let step = cures.iter().position(|&cures| cures).unwrap();
        outcome.judged.push(steps[step].sort);
        let objection = objection(&scenario, element, &steps, step);
        outcome.wrong.extend(objection.map(|words| format!("{seed} {}: {words}", board.kind)));
    }
    outcome
}

/// The healthy board with all steps spoilt but one.
fn with(board: &Board, steps: &[Step], undone: Option<usize>) -> Board {
    let mut result = board.clone();
    for (index, step) in steps.iter().enumerate() {
        if Some(index) != undone {
            step.apply(&mut result);
        }
    }
    result
}

fn compare_levels(seed: u64, board: &Board, scenario: &Scenario, outcome: &mut Outcome) {
    let found = ladder(scenario).unwrap();
    for found in &found.loads[0].levels {
        let state = State { lit: found.on.0, sync: found.sync == SyncSide::Pulse };
        let Some(expected) = level(board, state) else {
            outcome.wrong.push(format!("{seed}: the second solver found no levels"));
            return;
        };
        let off_v = (found.volts - expected).abs();
        outcome.worst_v = outcome.worst_v.max(off_v);
        if off_v > 1e-3 {
            let (on, volts) = (found.on.0, found.volts);
            outcome.wrong.push(format!("{seed}: {on:b} is {volts:.6} V, not {expected:.6} V"));
        }
    }
}

/// What is wrong with the cause that the product names.
fn objection(scenario: &Scenario, element: usize, steps: &[Step], step: usize) -> Option<String> {
    let id = ElementId(u8::try_from(element).unwrap());
    let found = cause(scenario, id).unwrap().expect("an element that is not clear has a cause");
    let Cause { part, words, suspect, cures, .. } = &found;
    let Step { label, names, .. } = &steps[step];
    let cured = suspect.as_ref().is_some_and(|suspect| {
        let mut cured = scenario.clone();
        cured.circuit = put_right(&scenario.circuit, suspect).unwrap();
        cause(&cured, id).unwrap().is_none()
    });
    let right = names.contains(part) && *cures && cured;
    let kind = suspect.as_ref().map(|suspect| suspect.kind);
    (!right).then(|| format!("{label}: expected {names:?}, found {part} {kind:?}: {words}"))
}

#[test]
fn the_named_cause_undone_makes_the_element_clear_and_no_other_step_does() {
    let seeds: Vec<u64> = (0..DRAWN).collect();
    let outcomes = parallel::map(&seeds, |&seed| examine(seed));
    let wrong: Vec<&String> = outcomes.iter().flat_map(|outcome| &outcome.wrong).collect();
    let qualified: Vec<&Outcome> =
        outcomes.iter().filter(|board| !board.judged.is_empty()).collect();
    let boards = qualified.len();
    let judged: usize = qualified.iter().map(|board| board.judged.len()).sum();
    let worst_v = outcomes.iter().map(|outcome| outcome.worst_v).fold(0.0, f64::max);
    assert!(
        wrong.is_empty(),
        "{} wrong of {judged} elements on {boards} boards:\n{}",
        wrong.len(),
        wrong.iter().map(|line| line.as_str()).collect::<Vec<_>>().join("\n")
    );
    assert!(boards >= WANTED, "only {boards} boards qualify");
    assert!(worst_v < 1e-3, "levels are {worst_v} V apart");
    for kind in KINDS {
        let count = qualified.iter().filter(|board| board.kind == kind).count();
        assert!(count >= 10, "only {count} boards of the kind `{kind}`");
    }
    for sort in SORTS {
        let count = qualified.iter().filter(|board| board.judged.contains(&sort)).count();
        assert!(count >= 3, "only {count} boards with the fault `{sort}`");
    }
}
