//! States of a board that differ only by what its slow states hold: its large capacitors, and the
//! height of a ripple above its trough.
//!
//! A coupling capacitor takes a second to come to rest and moves a millivolt in a line, so that no
//! line begins where another one did; nor does it on a rail with ripple. But all else follows in
//! nanoseconds: the states in which lines begin lie on a surface with as many dimensions as there are
//! slow states, and near a point of it they are that point and a slope for each. A ripple goes straight
//! within a stretch, so that its height at the start tells the rest.

use crate::network::evaluation::Unknown;
use crate::network::matrix::Matrix;
use crate::network::state::State;
use crate::network::transient::Transient;

/// How far from a family's centre slopes serve at most, V.
const REACH_V: f64 = 10e-3;

/// How the unknowns change with what one slow state holds.
#[derive(Clone, Debug)]
pub(crate) struct Slope {
    /// Of every unknown, a volt.
    pub(crate) rises: Vec<f64>,
    /// How far from the centre it serves, V.
    pub(crate) reach_v: f64,
}

impl Slope {
    /// What the slow state is moved by to find it, V.
    pub(crate) fn nudge_v(&self) -> f64 {
        0.5 * self.reach_v
    }
}

/// A state and its neighbours.
#[derive(Clone, Debug)]
pub(crate) struct Family {
    pub(crate) centre: State,
    /// What the slow states hold in the centre, V.
    pub(crate) held: Vec<f64>,
    /// For each of them.
    pub(crate) slopes: Vec<Slope>,
}

/// One state of a family: its number, and what the slow states hold, V.
#[derive(Clone, Debug)]
pub(crate) struct Place {
    pub(crate) family: usize,
    pub(crate) held: Vec<f64>,
}

impl Family {
    /// From the centre to what is held, V.
    pub(crate) fn moves(&self, held: &[f64]) -> Vec<f64> {
        held.iter().zip(&self.held).map(|(held, centre)| held - centre).collect()
    }

    /// How far what is held is from the centre, as a share of how far the slopes serve.
    pub(crate) fn way(&self, held: &[f64]) -> f64 {
        let moves = self.moves(held).into_iter().zip(&self.slopes);
        moves.map(|(moved, slope)| (moved / slope.reach_v).abs()).fold(0.0, f64::max)
    }

    /// Lets no slope serve further than others do.
    pub(crate) fn narrow(&mut self, others: &[Slope]) {
        for (slope, other) in self.slopes.iter_mut().zip(others) {
            slope.reach_v = slope.reach_v.min(other.reach_v);
        }
    }

    /// Whether its slopes and others lead to the same within so many tolerances, as far away as a nudge
    /// along slopes that reach as far as these.
    pub(crate) fn slopes_fit(
        &self,
        run: &Transient<'_>,
        others: &[Slope],
        reaching: &[Slope],
        tolerances: f64,
    ) -> bool {
        let mut pairs = self.slopes.iter().zip(others).zip(reaching);
        pairs.all(|((slope, other), reaching)| {
            let [slope, other] = [slope, other].map(|slope| {
                slope.rises.iter().map(|rise| reaching.nudge_v() * rise).collect::<Vec<f64>>()
            });
            run.is_near(&slope, &other, tolerances)
        })
    }

    /// What is added to the centre's unknowns.
    pub(crate) fn shift(&self, held: &[f64]) -> Vec<f64> {
        let mut shift = vec![0.0; self.centre.x.len()];
        for (slope, moved) in self.slopes.iter().zip(self.moves(held)) {
            for (shift, rise) in shift.iter_mut().zip(&slope.rises) {
                *shift += rise * moved;
            }
        }
        shift
    }

    /// The unknowns with what is held.
    pub(crate) fn unknowns(&self, held: &[f64]) -> Vec<f64> {
        self.centre.x.iter().zip(self.shift(held)).map(|(x, shift)| x + shift).collect()
    }
}

/// Those of some pairs of nodes that close no loop with the ones before: what a capacitor in a loop of
/// slow ones holds follows from the others.
pub(crate) fn independent(pairs: impl Iterator<Item = [Unknown; 2]>) -> Vec<[Unknown; 2]> {
    let mut joined: Vec<[Unknown; 2]> = Vec::new();
    for [first, last] in pairs {
        let mut reached = vec![first];
        // As many rounds as there are pairs reach all there is to reach.
        for _ in 0..=joined.len() {
            for &[a, b] in &joined {
                for (from, to) in [(a, b), (b, a)] {
                    if reached.contains(&from) && !reached.contains(&to) {
                        reached.push(to);
                    }
                }
            }
        }
        if !reached.contains(&last) {
            joined.push([first, last]);
        }
    }
    joined
}

/// Slopes that move nothing but an end of each slow capacitor, for a state of which no more is known.
/// All else then follows within the stretch, and all that follows the height of a ripple.
pub(crate) fn bare_slopes(slow: &[[Unknown; 2]], state: &State) -> Vec<Slope> {
    let level = || Slope { rises: vec![0.0; state.x.len()], reach_v: REACH_V };
    let bare = |&[first, last]: &[Unknown; 2]| {
        let mut slope = level();
        match (first, last) {
            (_, Some(last)) => slope.rises[last] = -1.0,
            (Some(first), None) => slope.rises[first] = 1.0,
            (None, None) => {}
        }
        slope
    };
    let mut slopes: Vec<Slope> = slow.iter().map(bare).collect();
    slopes.resize_with(state.held_volts(slow).len(), level);
    slopes
}

/// The ends of one stretch, from either side of a family's centre for each slow state.
#[derive(Debug, Default)]
pub(crate) struct Nudges {
    /// For each slow state.
    pairs: Vec<Pair>,
}

/// The ends with more and with less of a slow state: the unknowns, and what is held there, V.
#[derive(Debug)]
struct Pair {
    ends: [(Vec<f64>, Vec<f64>); 2],
    nudge_v: f64,
}

impl Nudges {
    /// Adds the ends for the next slow state, moved by so many volts to either side.
    pub(crate) fn add(&mut self, ends: [(Vec<f64>, Vec<f64>); 2], nudge_v: f64) {
        self.pairs.push(Pair { ends, nudge_v });
    }

    /// Whether all are where a family says, within so many tolerances.
    pub(crate) fn fit(&self, run: &Transient<'_>, family: &Family, tolerances: f64) -> bool {
        let mut ends = self.pairs.iter().flat_map(|pair| &pair.ends);
        ends.all(|(x, held)| run.is_near(x, &family.unknowns(held), tolerances))
    }

    /// For each slow state, the change of what all hold at the end with what it holds at the
    /// start.
    pub(crate) fn follows(&self) -> Vec<Vec<f64>> {
        let follow =
            |Pair { ends: [(_, more), (_, less)], nudge_v }: &Pair| rise(more, less, *nudge_v);
        self.pairs.iter().map(follow).collect()
    }

    /// Slopes at the end of the stretch against what is held there: those against what was held at
    /// the start are D = X K, where K is how what is held at the end follows it. `None` if the stretch
    /// leaves nothing of it.
    pub(crate) fn slopes(&self) -> Option<Vec<Slope>> {
        let follows = self.follows();
        let count = follows.len();
        let mut matrix = Matrix::new(count);
        for (start, follows) in follows.into_iter().enumerate() {
            for (end, share) in follows.into_iter().enumerate() {
                matrix.add(start, end, share);
            }
        }
        matrix.factorize().ok()?;
        let against =
            |Pair { ends: [(more, _), (less, _)], nudge_v }: &Pair| rise(more, less, *nudge_v);
        let against_start: Vec<Vec<f64>> = self.pairs.iter().map(against).collect();
        let order = against_start.first().map_or(0, Vec::len);
        let slope = |pair: &Pair| Slope { rises: vec![0.0; order], reach_v: 2.0 * pair.nudge_v };
        let mut slopes: Vec<Slope> = self.pairs.iter().map(slope).collect();
        for unknown in 0..order {
            let mut column: Vec<f64> = against_start.iter().map(|rises| rises[unknown]).collect();
            matrix.solve(&mut column);
            for (slope, value) in slopes.iter_mut().zip(column) {
                slope.rises[unknown] = value;
            }
        }
        Some(slopes)
    }
}

/// Change with what is held, from a nudge to either side.
fn rise(more: &[f64], less: &[f64], nudge_v: f64) -> Vec<f64> {
    more.iter().zip(less).map(|(more, less)| (more - less) / (2.0 * nudge_v)).collect()
}
