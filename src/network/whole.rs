//! One stage's equations, solved as they stand: Newton's method on all unknowns at once.
//!
//! Slow and obvious. It takes over where the order of elimination of `network/condensed.rs` does not
//! serve, and tests compare the two.

use crate::base::math::largest;
use crate::network::condensed::Stage;
use crate::network::evaluation::Evaluation;
use crate::network::evaluation::Mix;
use crate::network::evaluation::Weights;
use crate::network::evaluation::add_to;
use crate::network::evaluation::at;
use crate::network::junctions::Junctions;
use crate::network::linear_part::LinearPart;
use crate::network::matrix::Matrix;
use crate::network::newton::Iterations;
use crate::network::newton::Verdict;
use crate::network::operating_point::worst;
use crate::network::system::Curved;
use crate::network::system::Store;
use crate::network::system::System;
use crate::network::transient::Counts;

/// The work space for one board.
#[derive(Debug)]
pub(crate) struct Whole<'a> {
    system: &'a System,
    /// All that is linear whatever the drivers do.
    linear: LinearPart,
    charged: Vec<usize>,
    evaluation: Evaluation,
    factors: Matrix,
    /// The slopes of charge that belong to the factors.
    farads: Matrix,
    junctions: Junctions,
    correction: Vec<f64>,
    left: Vec<f64>,
    /// All drivers, chips and semiconductors: none counts as linear.
    curved: Curved,
}

impl<'a> Whole<'a> {
    pub(crate) fn new(system: &'a System) -> Self {
        Self {
            system,
            linear: LinearPart::of_passive(system),
            charged: system.charged_rows().into_iter().collect(),
            evaluation: Evaluation::new(system.order),
            factors: Matrix::new(system.order),
            farads: Matrix::new(system.order),
            junctions: Junctions::default(),
            correction: vec![0.0; system.order],
            left: vec![0.0; system.order],
            curved: system.all_curved(),
        }
    }

    fn evaluate(&mut self, x: &[f64], weights: &[Weights], mix: Option<Mix>) {
        let kind = (&self.curved, mix);
        self.system.evaluate_curved((x, weights), kind, &mut self.junctions, &mut self.evaluation);
        if let Some(mix) = mix {
            self.linear.add_to(mix, &mut self.evaluation.jacobian);
        }
    }

    /// Curved charge at `x`, by [`System::charged_rows`].
    pub(crate) fn charge(&mut self, x: &[f64], weights: &[Weights]) -> Vec<f64> {
        self.junctions.forget();
        self.evaluate(x, weights, None);
        self.charged.iter().map(|&row| self.evaluation.q[row]).collect()
    }

    /// What the equations leave over at `x` but for charge: row and size of the worst node, A.
    pub(crate) fn worst_residual(&mut self, x: &[f64], weights: &[Weights]) -> (usize, f64) {
        self.junctions.forget();
        self.evaluate(x, weights, None);
        let mut amps = vec![0.0; self.system.order];
        self.linear.current_with(&self.evaluation.f, x, &mut amps);
        worst(&amps[..self.system.nodes])
    }

    /// The time constants of the board's capacitors with the resistance that each sees at `x`, s;
    /// `None` if that is not determined.
    pub(crate) fn time_constants(&mut self, x: &[f64], weights: &[Weights]) -> Option<Vec<f64>> {
        let mix = Mix { charge: 0.0, current: 1.0 };
        self.junctions.forget();
        self.evaluate(x, weights, Some(mix));
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
        self.junctions.forget();
        let per_reach = 1.0 / stage.reach;
        for (x, (from, slope)) in stage.x.iter_mut().zip(stage.from.iter().zip(&*stage.slopes)) {
            *x = from + stage.reach * slope;
        }
        iterations.begin();
        loop {
            counts.iterations += 1;
            let wanted = (!iterations.fresh).then_some(mix);
            self.evaluate(stage.x, stage.weights, wanted);
            self.set_correction(stage);
            if !iterations.fresh {
                std::mem::swap(&mut self.factors, &mut self.evaluation.jacobian);
                std::mem::swap(&mut self.farads, &mut self.evaluation.farads);
                if self.factors.factorize().is_err() {
                    return false;
                }
                counts.factorizations += 1;
                iterations.refreshed();
            }
            self.factors.solve(&mut self.correction);
            let size = largest(&self.correction);
            let verdict = iterations.judge(size, self.evaluation.limited);
            for ((x, slope), correction) in
                stage.x.iter_mut().zip(&mut *stage.slopes).zip(&self.correction)
            {
                *x += correction;
                *slope += correction * per_reach;
            }
            match verdict {
                Verdict::Enough => break,
                Verdict::Lost => return false,
                Verdict::More => {}
            }
        }
        // The last correction has its charge, too.
        for (charge, &row) in stage.charge.iter_mut().zip(&self.charged) {
            *charge = self.evaluation.q[row] + self.farads.row_product(row, &self.correction);
        }
        true
    }

    /// Sets the correction to what the equations leave over, −(q − q₀ + r (C ẋ + f)).
    fn set_correction(&mut self, stage: &Stage<'_>) {
        let Evaluation { q, f, .. } = &self.evaluation;
        self.linear.current_with(f, stage.x, &mut self.left);
        self.linear.add_charging(stage.slopes, &mut self.left);
        for ((correction, left), q) in self.correction.iter_mut().zip(&self.left).zip(q) {
            *correction = -(q + stage.reach * left);
        }
        for (&row, goal) in self.charged.iter().zip(stage.goal) {
            self.correction[row] += goal;
        }
    }

    /// As [`Condensed::filter`](crate::network::condensed::Condensed::filter).
    pub(crate) fn filter(&mut self, missed: &[f64], curved: &[f64], found: &mut [f64]) {
        self.left.fill(0.0);
        self.linear.add_charging(missed, &mut self.left);
        for (&row, curved) in self.charged.iter().zip(curved) {
            self.left[row] += curved;
        }
        self.factors.solve(&mut self.left);
        found[..self.left.len()].copy_from_slice(&self.left);
    }

    /// As [`Condensed::slope`](crate::network::condensed::Condensed::slope); whether the equations' slopes
    /// could be factorized.
    pub(crate) fn slope(
        &mut self,
        (x, weights): (&[f64], &[Weights]),
        drift: &[f64],
        over_s: f64,
        slope: &mut [f64],
    ) -> bool {
        let mix = Mix { charge: 1.0, current: over_s };
        self.junctions.forget();
        self.evaluate(x, weights, Some(mix));
        self.linear.current_with(&self.evaluation.f, x, &mut self.left);
        for (left, drift) in self.left.iter_mut().zip(drift) {
            *left = -(*left + over_s * drift);
        }
        std::mem::swap(&mut self.factors, &mut self.evaluation.jacobian);
        if self.factors.factorize().is_err() {
            return false;
        }
        self.factors.solve(&mut self.left);
        slope[..self.left.len()].copy_from_slice(&self.left);
        true
    }
}
