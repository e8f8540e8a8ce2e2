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

/// The ends of one stretch: of that from a family's centre, and of one from beside it for each slow
/// capacitor.
#[derive(Debug)]
pub(crate) struct Nudges {
    /// What is held at the end from the centre, V.
    held: Vec<f64>,
    ends: Vec<(Vec<f64>, Vec<f64>)>,
}

impl Nudges {
    pub(crate) fn new(held: Vec<f64>) -> Self {
        Self { held, ends: Vec::new() }
    }

    /// Adds an end: its unknowns, and what is held there, V.
    pub(crate) fn add(&mut self, x: &[f64], held: Vec<f64>) {
        self.ends.push((x.to_vec(), held));
    }

    /// Those from beside the centre.
    pub(crate) fn ends(&self) -> impl Iterator<Item = (&Vec<f64>, &Vec<f64>)> {
        self.ends.iter().map(|(x, held)| (x, held))
    }

    /// For each slow capacitor, the change of what all hold at the end with what it holds at the
    /// start.
    pub(crate) fn follows(&self) -> Vec<Vec<f64>> {
        self.ends.iter().map(|(_, held)| rise(held, &self.held)).collect()
    }

    /// Slopes at the end, where the stretch from the centre leads to `x`, against what is held there:
    /// those against what was held at the start are D = X K, where K is how what is held at the end
    /// follows it. `None` if the stretch leaves nothing of it.
    pub(crate) fn slopes(&self, x: &[f64]) -> Option<Vec<Vec<f64>>> {
        let count = self.ends.len();
        let mut matrix = Matrix::new(count);
        for (start, follows) in self.follows().into_iter().enumerate() {
            for (end, share) in follows.into_iter().enumerate() {
                matrix.add(start, end, share);
            }
        }
        matrix.factorize().ok()?;
        let against_start: Vec<Vec<f64>> = self.ends.iter().map(|(end, _)| rise(end, x)).collect();
        let mut slopes = vec![vec![0.0; x.len()]; count];
        for unknown in 0..x.len() {
            let mut column: Vec<f64> = against_start.iter().map(|slope| slope[unknown]).collect();
            matrix.solve(&mut column);
            for (slope, value) in slopes.iter_mut().zip(column) {
                slope[unknown] = value;
            }
        }
        Some(slopes)
    }
}

/// Change with a nudge.
fn rise(nudged: &[f64], plain: &[f64]) -> Vec<f64> {
    nudged.iter().zip(plain).map(|(nudged, plain)| (nudged - plain) / NUDGE_V).collect()
}
