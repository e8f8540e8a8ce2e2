//! The parts that make a board what `[expect]` asks for: every combination of them, or, where those are
//! too many, a search that begins from many places by lot.

use crate::analysis::board_levels::BoardSolver;
use crate::analysis::ladder::LadderError;
use crate::analysis::spread::judge::Judge;
use crate::base::math;
use crate::base::parallel;
use crate::network::circuit::Circuit;
use crate::network::circuit::PartId;
use crate::network::circuit::PartKind;
use crate::scenario::Scenario;
use chacha20::ChaCha8Rng;
use chacha20::rand_core::Rng;
use chacha20::rand_core::SeedableRng;
use std::collections::BTreeSet;
use thiserror::Error;

/// A setting and the parts that it makes others, for each of its values.
#[derive(Clone, Debug, PartialEq)]
pub struct Move {
    /// What is set.
    pub path: String,
    /// For each value, the parts that are then others.
    pub edits: Vec<Vec<(PartId, PartKind)>>,
}

/// Why a setting cannot be moved.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum MoveError {
    /// It adds or removes parts or nodes.
    #[error("`{path}` changes more than what a part is")]
    NotAPart {
        /// The setting.
        path: String,
    },
    /// It has several values, and none of them changes anything.
    #[error("`{path}` changes no part")]
    Nothing {
        /// The setting.
        path: String,
    },
    /// Two settings change one part.
    #[error("`{first}` and `{second}` both change `{part}`")]
    Clash {
        /// One setting.
        first: String,
        /// The other.
        second: String,
        /// The part.
        part: String,
    },
}

impl Move {
    /// From the board with each value of a setting.
    ///
    /// # Errors
    ///
    /// [`MoveError`] if the values differ in more than parts, or in none.
    pub fn new(path: &str, base: &Scenario, changed: &[Scenario]) -> Result<Self, MoveError> {
        let edit = |scenario: &Scenario| {
            let (old, new) = (&base.circuit, &scenario.circuit);
            let names = |circuit: &Circuit| {
                circuit.parts.iter().map(|part| part.name.clone()).collect::<Vec<_>>()
            };
            let like = old.nodes == new.nodes
                && names(old) == names(new)
                && base.raster == scenario.raster
                && base.output == scenario.output
                && base.modulator == scenario.modulator
                && base.verdict == scenario.verdict;
            if !like {
                return Err(MoveError::NotAPart { path: path.to_owned() });
            }
            let pairs = old.parts.iter().zip(&new.parts).enumerate();
            let others = pairs.filter(|(_, (old, new))| old.kind != new.kind);
            Ok(others.map(|(index, (_, new))| (PartId(index), new.kind.clone())).collect())
        };
        let edits: Vec<Vec<(PartId, PartKind)>> =
            changed.iter().map(edit).collect::<Result<_, _>>()?;
        // One value alone holds a part where it is; several that make no difference are a slip.
        if edits.len() > 1 && edits.iter().all(Vec::is_empty) {
            return Err(MoveError::Nothing { path: path.to_owned() });
        }
        Ok(Self { path: path.to_owned(), edits })
    }

    fn parts(&self) -> BTreeSet<PartId> {
        self.edits.iter().flatten().map(|(part, _)| *part).collect()
    }
}

/// Refuses two moves of one part.
///
/// # Errors
///
/// [`MoveError::Clash`].
pub fn check_apart(base: &Scenario, moves: &[Move]) -> Result<(), MoveError> {
    for (index, second) in moves.iter().enumerate() {
        for first in &moves[..index] {
            if let Some(part) = first.parts().intersection(&second.parts()).next() {
                return Err(MoveError::Clash {
                    first: first.path.clone(),
                    second: second.path.clone(),
                    part: base.circuit.parts[part.0].name.clone(),
                });
            }
        }
    }
    Ok(())
}

/// How to search.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SearchSpec {
    /// Where chance begins.
    pub seed: u64,
    /// Boards that may be solved: if all combinations are no more, they are.
    pub budget: u64,
    /// Boards that are kept.
    pub keep: usize,
}

/// A board that was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// The value taken of each move.
    pub picks: Vec<usize>,
    /// Sum of the squares of [`Candidate::off`].
    pub cost: f64,
    /// How far each judged expectation lies from the middle of its range, in half widths.
    pub off: Vec<f64>,
}

/// What a search found.
#[derive(Clone, Debug, PartialEq)]
pub struct Search {
    /// Boards that were solved.
    pub tried: u64,
    /// Boards that there are.
    pub of: u128,
    /// Whether all of them were: if so the first is the best there is.
    pub exhaustive: bool,
    /// Whether the user ended it early.
    pub ended: bool,
    /// The best, the nearest first; of two alike the one with the earlier values.
    pub ranked: Vec<Candidate>,
}

/// Boards between two looks at the clock and at Ctrl-C.
const CHUNK: u64 = 4096;

/// Searches. `on` is told how many boards are done of how many, and may end it.
///
/// # Errors
///
/// As [`BoardSolver::new`].
pub fn search(
    scenario: &Scenario,
    moves: &[Move],
    spec: SearchSpec,
    on: &mut dyn FnMut(u64, u64) -> bool,
) -> Result<Search, LadderError> {
    let judge = Judge::new(scenario, false);
    let solver = judge.solver()?;
    let trial = Trial { scenario, moves, judge: &judge, solver: &solver };
    let of: u128 = moves.iter().map(|one| one.edits.len() as u128).product();
    let mut search = Search {
        tried: 0,
        of,
        exhaustive: of <= u128::from(spec.budget),
        ended: false,
        ranked: Vec::new(),
    };
    if search.exhaustive {
        trial.every(&mut search, spec, on);
    } else {
        trial.by_lot(&mut search, spec, on);
    }
    Ok(search)
}

struct Trial<'a> {
    scenario: &'a Scenario,
    moves: &'a [Move],
    judge: &'a Judge<'a>,
    solver: &'a BoardSolver<'a>,
}

impl Trial<'_> {
    /// A board with these values; `None` if it cannot be solved, or is further off than `bound`.
    fn candidate(&self, picks: Vec<usize>, bound: f64) -> Option<Candidate> {
        let mut circuit = self.scenario.circuit.clone();
        for (one, &pick) in self.moves.iter().zip(&picks) {
            for (part, kind) in &one.edits[pick] {
                circuit.parts[part.0].kind.clone_from(kind);
            }
        }
        let mut levels = self.solver.solve_levels(&circuit).ok()?;
        if self.solver.wants_source() {
            // Two more solves, which most boards need not be given.
            let without: f64 = self.judge.off_but_source(&levels).iter().map(|o| o * o).sum();
            if without > bound {
                return None;
            }
            levels.source_ohms = Some(self.solver.source_ohms(&circuit, &levels).ok()?);
        }
        let off = self.judge.off(&levels);
        Some(Candidate { picks, cost: off.iter().map(|off| off * off).sum(), off })
    }

    fn candidates(&self, picks: &[Vec<usize>], bound: f64) -> Vec<Candidate> {
        let found = parallel::map(picks, |picks| self.candidate(picks.clone(), bound));
        found.into_iter().flatten().collect()
    }

    /// The values of combination `number`, the last move fastest.
    fn picks(&self, mut number: u64) -> Vec<usize> {
        let mut picks: Vec<usize> = self
            .moves
            .iter()
            .rev()
            .map(|one| {
                let count = one.edits.len() as u64;
                let pick = number % count;
                number /= count;
                math::to_index(pick)
            })
            .collect();
        picks.reverse();
        picks
    }

    fn every(&self, search: &mut Search, spec: SearchSpec, on: &mut dyn FnMut(u64, u64) -> bool) {
        let count = u64::try_from(search.of).unwrap_or(u64::MAX);
        while search.tried < count {
            let to = (search.tried + CHUNK).min(count);
            let picks: Vec<Vec<usize>> = (search.tried..to).map(|n| self.picks(n)).collect();
            let bound = bound(&search.ranked, spec.keep);
            merge(&mut search.ranked, self.candidates(&picks, bound), spec.keep);
            search.tried = to;
            if !on(to, count) {
                search.ended = to < count;
                search.exhaustive = !search.ended;
                return;
            }
        }
    }

    /// From one board drawn by lot after another: each move in turn takes the best of all its values,
    /// the others held, until none makes it better.
    fn by_lot(&self, search: &mut Search, spec: SearchSpec, on: &mut dyn FnMut(u64, u64) -> bool) {
        let mut rng = ChaCha8Rng::seed_from_u64(spec.seed);
        while search.tried < spec.budget {
            let start: Vec<usize> = self
                .moves
                .iter()
                .map(|one| math::to_index(rng.next_u64() % one.edits.len() as u64))
                .collect();
            let mut best: Option<Candidate> = None;
            let mut place = start;
            // As many moves as there are without any that helps, and the climb is over.
            let (mut idle, mut turn) = (0, 0);
            while idle < self.moves.len() && search.tried < spec.budget {
                let index = turn % self.moves.len();
                turn += 1;
                let left = math::to_index(spec.budget - search.tried);
                let values = 0..self.moves[index].edits.len().min(left);
                let with = |value: usize| {
                    let mut picks = place.clone();
                    picks[index] = value;
                    picks
                };
                let around: Vec<Vec<usize>> = values.map(with).collect();
                search.tried += around.len() as u64;
                // Neither a step of the climb nor kept.
                let least = best.as_ref().map_or(f64::INFINITY, |best| best.cost);
                let found = self.candidates(&around, least.max(bound(&search.ranked, spec.keep)));
                let nearest = found.iter().min_by(|a, b| order(a, b)).cloned();
                merge(&mut search.ranked, found, spec.keep);
                match nearest {
                    Some(next) if best.as_ref().is_none_or(|best| next.cost < best.cost) => {
                        place.clone_from(&next.picks);
                        best = Some(next);
                        idle = 0;
                    }
                    _ => idle += 1,
                }
                if !on(search.tried.min(spec.budget), spec.budget) {
                    search.ended = true;
                    return;
                }
            }
        }
    }
}

fn order(a: &Candidate, b: &Candidate) -> std::cmp::Ordering {
    a.cost.total_cmp(&b.cost).then_with(|| a.picks.cmp(&b.picks))
}

/// What is further off than this is not kept.
fn bound(ranked: &[Candidate], keep: usize) -> f64 {
    if ranked.len() < keep { f64::INFINITY } else { ranked[keep - 1].cost }
}

/// Keeps the best, each once.
fn merge(ranked: &mut Vec<Candidate>, found: Vec<Candidate>, keep: usize) {
    let worst = bound(ranked, keep);
    ranked.extend(found.into_iter().filter(|one| one.cost <= worst));
    ranked.sort_by(order);
    ranked.dedup_by(|a, b| a.picks == b.picks);
    ranked.truncate(keep);
}
