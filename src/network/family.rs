//! States of a board that differ only by what its large capacitors hold.
//!
//! A coupling capacitor takes a second to come to rest and moves a millivolt in a line, so that no
//! line begins where another one did. But all else follows it in nanoseconds: the states in which
//! lines begin lie on a surface with as many dimensions as there are slow capacitors, and near a
//! point of it they are that point and a slope for each.

use crate::network::evaluation::Unknown;
use crate::network::evaluation::at;
use crate::network::matrix::Matrix;
use crate::network::state::State;
use crate::network::transient::Transient;

/// How far from a family's centre its slopes serve, V.
pub(crate) const REACH_V: f64 = 10e-3;
/// Volts that a capacitor is moved by to find slopes.
pub(crate) const NUDGE_V: f64 = 5e-3;

/// A state and its neighbours.
#[derive(Clone, Debug)]
pub(crate) struct Family {
    pub(crate) centre: State,
    /// What the slow capacitors hold in the centre, V.
    pub(crate) held: Vec<f64>,
    /// For each of them, the change of every unknown with what it holds.
    pub(crate) slopes: Vec<Vec<f64>>,
}

/// One state of a family: its number, and what the slow capacitors hold, V.
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

    /// Whether the slopes serve for what is held.
    pub(crate) fn reaches(&self, held: &[f64]) -> bool {
        self.moves(held).iter().all(|moved| moved.abs() <= REACH_V)
    }

    /// What is added to the centre's unknowns.
    pub(crate) fn shift(&self, held: &[f64]) -> Vec<f64> {
        let mut shift = vec![0.0; self.centre.x.len()];
        for (slope, moved) in self.slopes.iter().zip(self.moves(held)) {
            for (shift, slope) in shift.iter_mut().zip(slope) {
                *shift += slope * moved;
            }
        }
        shift
    }

    /// The unknowns with what is held.
    pub(crate) fn unknowns(&self, held: &[f64]) -> Vec<f64> {
        self.centre.x.iter().zip(self.shift(held)).map(|(x, shift)| x + shift).collect()
    }
}

/// What the slow capacitors hold, V.
pub(crate) fn held_volts(slow: &[[Unknown; 2]], x: &[f64]) -> Vec<f64> {
    slow.iter().map(|&[first, last]| at(x, first) - at(x, last)).collect()
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
/// All else then follows within the stretch.
pub(crate) fn bare_slopes(slow: &[[Unknown; 2]], order: usize) -> Vec<Vec<f64>> {
    let slope = |&[first, last]: &[Unknown; 2]| {
        let mut slope = vec![0.0; order];
        match (first, last) {
            (_, Some(last)) => slope[last] = -1.0,
            (Some(first), None) => slope[first] = 1.0,
            (None, None) => {}
        }
        slope
    };
    slow.iter().map(slope).collect()
}

/// The ends of one stretch, from either side of a family's centre for each slow capacitor.
#[derive(Debug, Default)]
pub(crate) struct Nudges {
    /// The unknowns, and what is held, V: for each slow capacitor with more on it and with less.
    ends: Vec<(Vec<f64>, Vec<f64>)>,
}

impl Nudges {
    /// Adds an end: its unknowns, and what is held there, V.
    pub(crate) fn add(&mut self, x: &[f64], held: Vec<f64>) {
        self.ends.push((x.to_vec(), held));
    }

    /// Whether what is held at the last two lies even about `centre`, within so many volts.
    pub(crate) fn mirror(&self, centre: &[f64], within_v: f64) -> bool {
        let [.., (_, more), (_, less)] = self.ends.as_slice() else { return false };
        let mut all = more.iter().zip(less).zip(centre);
        all.all(|((more, less), centre)| (more + less - 2.0 * centre).abs() <= within_v)
    }

    /// Whether all are where a family says, within so many tolerances.
    pub(crate) fn fit(&self, run: &Transient<'_>, family: &Family, tolerances: f64) -> bool {
        self.ends.iter().all(|(x, held)| run.is_near(x, &family.unknowns(held), tolerances))
    }

    /// For each slow capacitor, the change of what all hold at the end with what it holds at the
    /// start.
    pub(crate) fn follows(&self) -> Vec<Vec<f64>> {
        self.ends.chunks(2).map(|pair| rise(&pair[0].1, &pair[1].1)).collect()
    }

    /// Slopes at the end of the stretch against what is held there: those against what was held at
    /// the start are D = X K, where K is how what is held at the end follows it. `None` if the stretch
    /// leaves nothing of it.
    pub(crate) fn slopes(&self) -> Option<Vec<Vec<f64>>> {
        let follows = self.follows();
        let count = follows.len();
        let mut matrix = Matrix::new(count);
        for (start, follows) in follows.into_iter().enumerate() {
            for (end, share) in follows.into_iter().enumerate() {
                matrix.add(start, end, share);
            }
        }
        matrix.factorize().ok()?;
        let against_start: Vec<Vec<f64>> =
            self.ends.chunks(2).map(|pair| rise(&pair[0].0, &pair[1].0)).collect();
        let order = against_start.first().map_or(0, Vec::len);
        let mut slopes = vec![vec![0.0; order]; count];
        for unknown in 0..order {
            let mut column: Vec<f64> = against_start.iter().map(|slope| slope[unknown]).collect();
            matrix.solve(&mut column);
            for (slope, value) in slopes.iter_mut().zip(column) {
                slope[unknown] = value;
            }
        }
        Some(slopes)
    }
}

/// Change with what is held, from a nudge to either side.
fn rise(more: &[f64], less: &[f64]) -> Vec<f64> {
    more.iter().zip(less).map(|(more, less)| (more - less) / (2.0 * NUDGE_V)).collect()
}
