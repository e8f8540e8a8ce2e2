//! One stage's equations, solved as they stand: Newton's method on all unknowns at once.
//!
//! Slow and obvious. It takes over where the order of elimination of `network/condensed.rs` does not
//! serve, and tests compare the two.

use crate::network::condensed::Stage;
use crate::network::evaluation::Evaluation;
use crate::network::evaluation::Mix;
use crate::network::evaluation::Weights;
use crate::network::evaluation::add_to;
use crate::network::evaluation::at;
use crate::network::junctions::Junctions;
use crate::network::matrix::Matrix;
use crate::network::newton::Iterations;
use crate::network::newton::Verdict;
use crate::network::operating_point::worst;
use crate::network::system::Store;
use crate::network::system::System;
use crate::network::transient::Counts;

/// The work space for one board.
#[derive(Debug)]
pub(crate) struct Whole<'a> {
    system: &'a System,
    evaluation: Evaluation,
    factors: Matrix,
    /// The slopes of charge that belong to the factors: row, column, F.
    charge_slopes: Vec<(usize, usize, f64)>,
    junctions: Junctions,
    correction: Vec<f64>,
}

impl<'a> Whole<'a> {
    pub(crate) fn new(system: &'a System) -> Self {
        Self {
            system,
            evaluation: Evaluation::new(system.order),
            factors: Matrix::new(system.order),
            charge_slopes: Vec::new(),
            junctions: Junctions::default(),
            correction: vec![0.0; system.order],
        }
    }

    fn evaluate(&mut self, x: &[f64], weights: &[Weights], mix: Option<Mix>, from: &[f64]) {
        let evaluation = &mut self.evaluation;
        evaluation.counted_from.clear();
        evaluation.counted_from.extend_from_slice(from);
        self.system.evaluate((x, weights), mix, &mut self.junctions, evaluation);
    }

    /// Charge at `x`, that of the board's capacitors counted from `from`.
    pub(crate) fn charge(&mut self, x: &[f64], weights: &[Weights], from: &[f64]) -> Vec<f64> {
        self.system.start_junctions(x, &mut self.junctions);
        self.evaluate(x, weights, None, from);
        self.evaluation.q.clone()
    }

    /// What the equations leave over at `x` but for charge: row and size of the worst node, A.
    pub(crate) fn worst_residual(&mut self, x: &[f64], weights: &[Weights]) -> (usize, f64) {
        self.system.start_junctions(x, &mut self.junctions);
        self.evaluate(x, weights, None, &[]);
        worst(&self.evaluation.f[..self.system.nodes])
    }

    /// The time constants of the board's capacitors with the resistance that each sees at `x`, s;
    /// `None` if that is not determined.
    pub(crate) fn time_constants(&mut self, x: &[f64], weights: &[Weights]) -> Option<Vec<f64>> {
        let mix = Mix { charge: 0.0, current: 1.0 };
        self.system.start_junctions(x, &mut self.junctions);
        self.evaluate(x, weights, Some(mix), &[]);
        self.evaluation.jacobian.factorize().ok()?;
        let time_constant_s = |store: &Store| {
            let mut amps = vec![0.0; self.system.order];
            add_to(&mut amps, store.ends[0], 1.0);
            add_to(&mut amps, store.ends[1], -1.0);
            self.evaluation.jacobian.solve(&mut amps);
            let ohms = at(&amps, store.ends[0]) - at(&amps, store.ends[1]);
            ohms * store.farads
        };
        Some(self.system.stores.iter().map(time_constant_s).collect())
    }

    /// Solves a stage; whether it could be solved.
    pub(crate) fn solve(
        &mut self,
        stage: &mut Stage<'_>,
        iterations: &mut Iterations,
        counts: &mut Counts,
    ) -> bool {
        let mix = Mix { charge: 1.0, current: stage.reach };
        self.system.start_junctions(stage.x, &mut self.junctions);
        iterations.begin();
        loop {
            counts.iterations += 1;
            let wanted = (!iterations.fresh).then_some(mix);
            self.evaluate(stage.x, stage.weights, wanted, stage.counted_from);
            let rows = self.evaluation.q.iter().zip(&self.evaluation.f).zip(stage.goal);
            for (correction, ((q, f), goal)) in self.correction.iter_mut().zip(rows) {
                *correction = goal - (q + stage.reach * f);
            }
            if !iterations.fresh {
                std::mem::swap(&mut self.factors, &mut self.evaluation.jacobian);
                std::mem::swap(&mut self.charge_slopes, &mut self.evaluation.charge_slopes);
                if self.factors.factorize().is_err() {
                    return false;
                }
                counts.factorizations += 1;
                iterations.refreshed();
            }
            self.factors.solve(&mut self.correction);
            let (_, size) = worst(&self.correction[..self.system.nodes]);
            let verdict = iterations.judge(size, &self.correction, self.evaluation.limited);
            for (x, correction) in stage.x.iter_mut().zip(&self.correction) {
                *x += correction;
            }
            match verdict {
                Verdict::Enough => break,
                Verdict::Lost => return false,
                Verdict::More => {}
            }
        }
        stage.charge.copy_from_slice(&self.evaluation.q);
        // The last correction has its charge, too.
        for &(row, column, farads) in &self.charge_slopes {
            stage.charge[row] += farads * self.correction[column];
        }
        true
    }

    /// Solves with the factors of the last stage, in place.
    pub(crate) fn solve_last(&self, b: &mut [f64]) {
        self.factors.solve(b);
    }

    /// The equations' slopes at `x` over `over_s`, ready for [`Whole::solve_last`], and the currents
    /// there; whether they could be factorized.
    pub(crate) fn linearize(
        &mut self,
        x: &[f64],
        weights: &[Weights],
        over_s: f64,
        amps: &mut [f64],
    ) -> bool {
        let mix = Mix { charge: 1.0, current: over_s };
        self.system.start_junctions(x, &mut self.junctions);
        self.evaluate(x, weights, Some(mix), &[]);
        amps.copy_from_slice(&self.evaluation.f);
        std::mem::swap(&mut self.factors, &mut self.evaluation.jacobian);
        self.factors.factorize().is_ok()
    }
}
