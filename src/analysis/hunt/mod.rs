//! The hunt: which single faults, or pairs of them, would give what is seen and measured, and which
//! measurement tells the likeliest of them apart.
//!
//! Every fault is made on the resolved circuit and its standing levels are solved, for pins from
//! strong to weak; nothing is guessed from symptoms.

pub mod confirm;
pub mod fault;
pub mod faults;
pub mod fit;
pub mod lasting;
pub mod observe;
pub mod predict;
pub mod split;

use crate::analysis::hunt::confirm::InTime;
use crate::analysis::hunt::fault::Fault;
use crate::analysis::hunt::faults::single_faults;
use crate::analysis::hunt::fit::Against;
use crate::analysis::hunt::fit::Fit;
use crate::analysis::hunt::fit::fit;
use crate::analysis::hunt::observe::Observation;
use crate::analysis::hunt::predict::Prediction;
use crate::analysis::hunt::predict::predict;
use crate::analysis::hunt::predict::rough;
use crate::analysis::hunt::predict::spread;
use crate::analysis::hunt::split::Split;
use crate::analysis::hunt::split::alike;
use crate::analysis::hunt::split::best_splits;
use crate::base::math;
use crate::base::parallel;
use crate::network::error::NetworkError;
use crate::scenario::Scenario;

/// A fault, what it would give, and how well that agrees with what is known.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspect {
    /// The fault, or two of them together.
    pub fault: Fault,
    /// Its levels.
    pub prediction: Prediction,
    /// How well they agree.
    pub fit: Fit,
    /// Share of the likelihood of all suspects, 0 to 1.
    pub share: f64,
    /// Whether no level at any node, in any state, tells it from the first.
    pub alike: bool,
    /// What a field of it shows, if it was run: see [`confirm`](confirm::confirm).
    pub in_time: Option<InTime>,
}

/// The answer.
#[derive(Clone, Debug, PartialEq)]
pub struct Hunt {
    /// Faults that fit, likeliest first; ties stand in the order of the fault list.
    pub suspects: Vec<Suspect>,
    /// How many faults were tried.
    pub tried: usize,
    /// How many of them left a board whose levels cannot be solved.
    pub unsolved: usize,
    /// The measurement that splits the suspects best, if any splits them.
    pub next: Option<Split>,
    /// The best that a meter can make, where that is another.
    pub by_meter: Option<Split>,
    /// The nearest of those that fell out, nearest first.
    pub near: Vec<Near>,
}

/// A fault that fell out, and by what.
#[derive(Clone, Debug, PartialEq)]
pub struct Near {
    /// What it is called.
    pub fault: String,
    /// What speaks most against it.
    pub against: Against,
    /// By how many deviations.
    pub off: f64,
}

/// So many of those that fell out are told of.
const MOST_NEAR: usize = 3;
/// Fallen out by more, a fault is told of only if nothing fits, deviations: twice what fits.
const NEAR_DEVIATIONS: f64 = 8.0;

/// A fault with its levels; `None` where they cannot be solved.
pub type Tried = (Fault, Option<Prediction>);

/// Solves every single fault of the board, once for all that may be observed on it.
///
/// # Errors
///
/// A sound board that cannot be solved.
pub fn try_singles(scenario: &Scenario) -> Result<Vec<Tried>, NetworkError> {
    // The board as drawn must be solvable, or no fault of it tells anything.
    predict(scenario, &Fault::none())?;
    Ok(try_all(scenario, &single_faults(scenario)))
}

/// Weighs solved faults against an observation.
#[must_use]
pub fn weigh(scenario: &Scenario, seen: &Observation, tried: &[Tried]) -> Hunt {
    let unsolved = tried.iter().filter(|(_, levels)| levels.is_none()).count();
    rank(scenario, seen, [tried.len(), unsolved], Weighed::of(scenario, seen, tried))
}

/// Tries every single fault of the board. Levels only: speed and smear are not looked at.
///
/// # Errors
///
/// A sound board that cannot be solved.
pub fn hunt(scenario: &Scenario, seen: &Observation) -> Result<Hunt, NetworkError> {
    Ok(weigh(scenario, seen, &try_singles(scenario)?))
}

/// How often a board with one fault has another: common practice, no source. The other may be any of
/// the list, so a pair is as common as both weights say, shared out over the list.
const SECOND: f64 = 0.1;

/// Tries every pair of single faults, a block of them at a time; `done` hears how many are done and
/// of how many.
///
/// # Errors
///
/// As [`hunt`].
pub fn hunt_pairs(
    scenario: &Scenario,
    seen: &Observation,
    done: &mut dyn FnMut(usize, usize),
) -> Result<Hunt, NetworkError> {
    const BLOCK: usize = 256;
    predict(scenario, &Fault::none())?;
    let singles = single_faults(scenario);
    let sum: f64 = singles.iter().map(|fault| fault.weight).sum();
    let rarity = SECOND / sum;
    let mut all = singles.clone();
    for (at, first) in singles.iter().enumerate().skip(1) {
        all.extend(singles[at + 1..].iter().filter_map(|second| first.and(second, rarity)));
    }
    let (mut found, mut unsolved) = (Weighed::default(), 0);
    for (at, block) in all.chunks(BLOCK).enumerate() {
        // What does not fit is dropped at once: pairs are many and their levels large.
        let tried =
            parallel::map(block, |fault| (fault.clone(), try_pair(scenario, fault, seen).ok()));
        unsolved += tried.iter().filter(|(_, levels)| levels.is_none()).count();
        found.extend(Weighed::of(scenario, seen, &tried));
        done((at * BLOCK + block.len()).min(all.len()), all.len());
    }
    Ok(rank(scenario, seen, [all.len(), unsolved], found))
}

/// Most pairs are far off at the first look and are left at that.
fn try_pair(
    scenario: &Scenario,
    fault: &Fault,
    seen: &Observation,
) -> Result<Prediction, NetworkError> {
    let first = rough(scenario, fault)?;
    if fit(scenario, fault, &first, seen).matches() {
        spread(scenario, fault, first)
    } else {
        Ok(first)
    }
}

fn try_all(scenario: &Scenario, faults: &[Fault]) -> Vec<Tried> {
    parallel::map(faults, |fault| (fault.clone(), predict(scenario, fault).ok()))
}

/// Faults that fit, and the nearest of those that do not.
#[derive(Default)]
struct Weighed {
    suspects: Vec<Suspect>,
    near: Vec<Near>,
}

impl Weighed {
    fn of(scenario: &Scenario, seen: &Observation, tried: &[Tried]) -> Self {
        let mut all = Self::default();
        let solved = tried.iter().filter_map(|(fault, levels)| Some((fault, levels.as_ref()?)));
        for (fault, levels) in solved {
            let fit = fit(scenario, fault, levels, seen);
            if fit.matches() {
                let (fault, prediction) = (fault.clone(), levels.clone());
                all.suspects.push(Suspect {
                    fault,
                    prediction,
                    fit,
                    share: 0.0,
                    alike: false,
                    in_time: None,
                });
            } else if let Some(against) = fit.against {
                all.near.push(Near { fault: fault.name.clone(), against, off: fit.worst });
            }
        }
        all.keep_nearest();
        all
    }

    fn extend(&mut self, other: Self) {
        self.suspects.extend(other.suspects);
        self.near.extend(other.near);
        self.keep_nearest();
    }

    fn keep_nearest(&mut self) {
        self.near.sort_by(|a, b| a.off.total_cmp(&b.off));
        self.near.truncate(MOST_NEAR);
    }
}

fn rank(
    scenario: &Scenario,
    seen: &Observation,
    [tried, unsolved]: [usize; 2],
    weighed: Weighed,
) -> Hunt {
    let Weighed { mut suspects, mut near } = weighed;
    let score = |one: &Suspect| one.fit.log_likelihood + math::ln(one.fault.weight);
    suspects.sort_by(|a, b| score(b).total_cmp(&score(a)));
    let best = suspects.first().map_or(0.0, score);
    let shares: Vec<f64> = suspects.iter().map(|one| math::exp(score(one) - best)).collect();
    let sum: f64 = shares.iter().sum();
    for (suspect, share) in suspects.iter_mut().zip(shares) {
        suspect.share = share / sum;
    }
    if let Some((first, others)) = suspects.split_first_mut() {
        first.alike = true;
        others.iter_mut().for_each(|other| other.alike = alike(scenario, first, other));
    }
    let [next, by_meter] = best_splits(scenario, seen, &suspects);
    near.retain(|one| suspects.is_empty() || one.off <= NEAR_DEVIATIONS);
    Hunt { suspects, tried, unsolved, next, by_meter, near }
}
