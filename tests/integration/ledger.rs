//! Books on a board while it is solved: what flows into every node must stay there, and what the
//! sources deliver must be kept or turned to heat.
//!
//! The currents, charges and energies are those of the equations written down separately
//! ([`crate::plain`]), taken along the curve that samples lie on, by Gauss's rule within every step.
//! Charge and energy that are kept are closed forms at the first and the last moment, so that
//! nothing that happens between two steps escapes.

use crate::plain::Plain;
use backporch::network::circuit::Circuit;
use backporch::network::circuit::PartKind;
use backporch::network::watch::Accepted;

/// How a step is integrated over.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Rule {
    /// At the points by which the solver took it, by the solver's own weights.
    Stages,
    /// On the curve between its ends, at these shares with these weights.
    Curve(&'static [(f64, f64)]),
}

impl Rule {
    /// Shares, weights and unknowns of all rows.
    fn points(self, step: &Accepted<'_>) -> Vec<(f64, f64, Vec<f64>)> {
        match self {
            Self::Stages => {
                let stages = step.stages().into_iter();
                stages
                    .map(|point| (point.share, point.weight, behind_ground(point.unknowns)))
                    .collect()
            }
            Self::Curve(points) => {
                let points = points.iter();
                points
                    .map(|&(share, weight)| (share, weight, behind_ground(step.unknowns(share))))
                    .collect()
            }
        }
    }
}

/// Gauss's rule of three points, exact to the fifth power.
///
/// # Source
///
/// M. Abramowitz and I. Stegun, *Handbook of Mathematical Functions*, table 25.4, moved to 0 to 1.
pub(crate) const THREE_POINTS: Rule = Rule::Curve(&[
    (0.112_701_665_379_258_31, 5.0 / 18.0),
    (0.5, 8.0 / 18.0),
    (0.887_298_334_620_741_7, 5.0 / 18.0),
]);

/// What has passed so far.
pub(crate) struct Ledger<'a> {
    circuit: &'a Circuit,
    rule: Rule,
    /// Place of each of the equations' mixtures among the drivers of a step.
    places: Vec<usize>,
    /// Integral of the currents that leave each row, C.
    left: Vec<f64>,
    /// Integral of their sizes, C.
    passed: Vec<f64>,
    delivered_j: f64,
    heat_j: f64,
    steps: usize,
    /// The unknowns of all rows at the first and the last moment.
    ends: [Vec<f64>; 2],
}

/// How far the books are from balance.
#[derive(Clone, Debug)]
pub(crate) struct Balance {
    /// Worst row: charge that has come from nowhere, as a share of what has passed there.
    pub(crate) charge: f64,
    /// That row.
    pub(crate) row: usize,
    /// Energy that has come from nowhere, as a share of what sources delivered.
    pub(crate) energy: f64,
    pub(crate) steps: usize,
}

/// Where the drivers of the parts that have one, in the order of the parts, stand among a step's
/// drivers: pins, then gates and switches, then adapters.
fn places(circuit: &Circuit) -> Vec<usize> {
    let rank = |kind: &PartKind| match kind {
        PartKind::Pin(_) => Some(0),
        PartKind::Gate(_) | PartKind::AnalogueSwitch(_) => Some(1),
        PartKind::Adapter(_) => Some(2),
        _ => None,
    };
    let ranks: Vec<i32> = circuit.parts.iter().filter_map(|part| rank(&part.kind)).collect();
    let before = |at: usize| {
        let earlier = |(other, rank): (usize, &i32)| (*rank, other) < (ranks[at], at);
        ranks.iter().enumerate().filter(|&pair| earlier(pair)).count()
    };
    (0..ranks.len()).map(before).collect()
}

/// The unknowns of all rows.
fn behind_ground(mut unknowns: Vec<f64>) -> Vec<f64> {
    unknowns.insert(0, 0.0);
    unknowns
}

impl<'a> Ledger<'a> {
    pub(crate) fn new(circuit: &'a Circuit, rule: Rule) -> Self {
        Self {
            circuit,
            rule,
            places: places(circuit),
            left: Vec::new(),
            passed: Vec::new(),
            delivered_j: 0.0,
            heat_j: 0.0,
            steps: 0,
            ends: [Vec::new(), Vec::new()],
        }
    }

    /// Enters a step.
    pub(crate) fn enter(&mut self, step: &Accepted<'_>) {
        if self.steps == 0 {
            self.ends[0] = behind_ground(step.unknowns(0.0));
            self.left = vec![0.0; self.ends[0].len()];
            self.passed = self.left.clone();
        }
        for (share, weight, unknowns) in self.rule.points(step) {
            let drivers = step.drivers(share);
            let mixture: Vec<_> = self.places.iter().map(|&place| drivers[place]).collect();
            let plain = Plain::new(self.circuit, &unknowns, &mixture);
            let part_s = weight * step.length_s();
            for (sum, amps) in self.left.iter_mut().zip(&plain.amps) {
                *sum += part_s * amps;
            }
            for (sum, size) in self.passed.iter_mut().zip(&plain.size) {
                *sum += part_s.abs() * size;
            }
            self.delivered_j += part_s * plain.delivered_w;
            self.heat_j += part_s * plain.heat_w;
        }
        self.ends[1] = behind_ground(step.unknowns(1.0));
        self.steps += 1;
    }

    /// The books, closed.
    pub(crate) fn balance(&self) -> Balance {
        // What is kept does not ask how the drivers stand.
        let idle = vec![[0.0; 8]; self.places.len()];
        let [first, last] =
            self.ends.each_ref().map(|unknowns| Plain::new(self.circuit, unknowns, &idle));
        let mut worst = (0, 0.0);
        // Ground is where all that has no other end comes from.
        for row in 1..self.left.len() {
            let gained = last.coulombs[row] - first.coulombs[row];
            let share = (self.left[row] + gained).abs() / self.passed[row].max(f64::MIN_POSITIVE);
            if share > worst.1 {
                worst = (row, share);
            }
        }
        let lost_j = self.delivered_j - self.heat_j - (last.stored_j - first.stored_j);
        Balance {
            charge: worst.1,
            row: worst.0,
            energy: (lost_j / self.delivered_j).abs(),
            steps: self.steps,
        }
    }
}
