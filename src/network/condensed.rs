//! One stage's equations, solved for the curved parts alone.
//!
//! They are linear in most unknowns. Those are eliminated once for each length of a step and each state
//! of the drivers (`network/reduced.rs`), and Newton's method runs on what is left over: the unknowns
//! of junctions, saturating outputs and drivers on their way. Every linear equation is then met at the
//! first try, and an iteration costs what the curved parts cost.
//!
//! What is solved for is how far the unknowns move from x₀. Elimination rounds that off, by 3e-9 of it
//! where 470 µF stand beside 3 pF, and by the same share in all stages of a step; it is not tried again,
//! as it is a share of a move.

use crate::base::math::largest;
use crate::network::dense::Dense;
use crate::network::dense::padded;
use crate::network::elimination::Elimination;
use crate::network::evaluation::Evaluation;
use crate::network::evaluation::Mix;
use crate::network::evaluation::Weights;
use crate::network::junctions::Junctions;
use crate::network::linear_part::LinearPart;
use crate::network::newton::Iterations;
use crate::network::newton::Verdict;
use crate::network::reduced::Kept;
use crate::network::reduced::Reduction;
use crate::network::system::Curved;
use crate::network::system::System;
use crate::network::transient::Counts;
use std::collections::BTreeSet;

/// A stage to be solved: C ẋ + q̇ + f(x) = 0 with x = x₀ + reach · ẋ and q(x) = q₀ + reach · q̇, where C
/// is of the linear parts, q the charge of the curved ones, and x₀ and q₀ follow from earlier stages.
/// Vectors of unknowns are filled up as [`padded`] says.
pub(crate) struct Stage<'s> {
    /// What drives the board.
    pub(crate) weights: &'s [Weights],
    pub(crate) reach: f64,
    /// x₀.
    pub(crate) from: &'s [f64],
    /// q₀, row by row of [`System::charged_rows`].
    pub(crate) goal: &'s [f64],
    /// ẋ as it is expected, then as it is.
    pub(crate) slopes: &'s mut [f64],
    /// x.
    pub(crate) x: &'s mut [f64],
    /// q there.
    pub(crate) charge: &'s mut [f64],
}

/// How an attempt came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Outcome {
    Solved,
    Failed,
    /// The order of elimination does not serve here, or what was taken as linear is not or must not be.
    Unfit,
}

/// Orders of elimination that are kept before all are forgotten.
const MOST_PLANS: usize = 128;

/// An order of elimination, for one set of drivers, chips and semiconductors that are not linear.
#[derive(Debug)]
struct Plan {
    curved: Curved,
    reduction: Reduction,
    /// The unknowns left over, and their rows.
    tail: Vec<usize>,
    tail_rows: Vec<usize>,
    /// Of each charged row its place among the curved parts, those of the rails after the tail's.
    charge_places: Vec<usize>,
    /// The curved parts, which enter the rows left over and those of the rails.
    evaluation: Evaluation,
    /// The inverse of what is left over of the linear part and of the curved parts.
    inverse: Dense,
}

/// The work space for one board.
#[derive(Debug)]
pub(crate) struct Condensed<'a> {
    system: &'a System,
    linear: LinearPart,
    /// The rows with curved charge.
    charged: Vec<usize>,
    plans: Vec<Plan>,
    /// The plan of the present segment.
    now: usize,
    kept: Kept,
    /// What of it serves for the present reach.
    place: usize,
    junctions: Junctions,
    /// How far all unknowns move.
    moves: Vec<f64>,
    nothing: Vec<f64>,
    /// What pushes the tail, what is left of that at an iteration, the last correction, and all of them.
    push: Vec<f64>,
    residual: Vec<f64>,
    correction: Vec<f64>,
    moved: Vec<f64>,
}

impl<'a> Condensed<'a> {
    pub(crate) fn new(system: &'a System) -> Self {
        Self {
            system,
            linear: LinearPart::new(system),
            charged: system.charged_rows().into_iter().collect(),
            plans: Vec::new(),
            now: 0,
            kept: Kept::default(),
            place: 0,
            junctions: Junctions::default(),
            moves: vec![0.0; padded(system.order)],
            nothing: vec![0.0; padded(system.order)],
            push: Vec::new(),
            residual: Vec::new(),
            correction: Vec::new(),
            moved: Vec::new(),
        }
    }

    /// Begins a segment in which some drivers stand still at these weights, with the board at `x`.
    pub(crate) fn begin(&mut self, weights: &[Weights], is_still: &[bool], x: &[f64]) {
        self.linear.take_in(self.system, weights, is_still, x);
        self.plan(weights);
    }

    /// Takes diodes that have woken at `x` as they are from here on; whether there are any.
    pub(crate) fn rouse(&mut self, weights: &[Weights], x: &[f64]) -> bool {
        let are_any = self.linear.rouse(x);
        if are_any {
            self.plan(weights);
        }
        are_any
    }

    /// Finds the order of elimination for what is linear at present. A board with many diodes that sleep
    /// and wake in ever other sets would need ever more of them: those that have woken then stay awake.
    fn plan(&mut self, weights: &[Weights]) {
        if self.plans.len() == MOST_PLANS {
            let woken = self.plans.iter().flat_map(|plan| &plan.curved.semiconductors).copied();
            self.linear.keep_awake(&woken.collect());
            self.plans.clear();
            self.kept = Kept::default();
        }
        let known = self.plans.iter().position(|plan| plan.curved == self.linear.curved);
        self.now = known.unwrap_or_else(|| {
            self.plans.push(Plan::new(self.system, &self.linear, &self.charged));
            self.plans.len() - 1
        });
        let plan = &self.plans[self.now];
        self.kept.begin(self.now, &plan.curved.drivers, &weights[..self.system.drivers.len()]);
        let tail = padded(plan.tail.len());
        for values in [&mut self.push, &mut self.residual, &mut self.correction, &mut self.moved] {
            values.clear();
            values.resize(tail, 0.0);
        }
    }

    /// Eliminates for a step's reach, if that has not been done; whether the order serves.
    fn reach_for(&mut self, reach: f64) -> bool {
        let reduction = &mut self.plans[self.now].reduction;
        self.place = self.kept.place(reach, reduction, &self.linear);
        self.kept.at(self.place).serves
    }

    /// Solves a stage. `iterations` says when the factors of the curved parts are made anew. Where that
    /// fails, the unknowns are as far as it came.
    pub(crate) fn solve(
        &mut self,
        stage: &mut Stage<'_>,
        iterations: &mut Iterations,
        counts: &mut Counts,
    ) -> Outcome {
        if !self.reach_for(stage.reach) {
            return Outcome::Unfit;
        }
        let reduced = self.kept.at(self.place);
        reduced.ahead.multiply(stage.from, &reduced.constant, &mut self.moves);
        self.expect(stage);
        let outcome = self.newton(stage, iterations, counts);
        self.finish(stage);
        if outcome != Outcome::Solved {
            return outcome;
        }
        // A supply that has fallen to a driver's corner on the way, a diode that has woken: what was
        // taken as linear is not.
        if self.linear.holds(stage.x) { Outcome::Solved } else { Outcome::Unfit }
    }

    /// Puts the tail where it is expected, and takes that away from what pushes it.
    fn expect(&mut self, stage: &mut Stage<'_>) {
        let plan = &self.plans[self.now];
        let tail = self.push.iter_mut().zip(&mut self.moved).zip(&plan.tail);
        for ((push, moved), &column) in tail {
            *push = self.moves[column];
            *moved = stage.reach * stage.slopes[column];
            stage.x[column] = stage.from[column] + *moved;
        }
        let push = &mut self.push[..plan.tail.len()];
        for (&place, goal) in plan.charge_places.iter().zip(stage.goal) {
            if let Some(push) = push.get_mut(place) {
                *push += goal;
            }
        }
        for rail in &self.linear.rails {
            stage.x[rail.node] = rail.volts;
        }
        self.kept.at(self.place).rest.subtract_product(&self.moved, &mut self.push);
    }

    /// Newton's method on the unknowns left over.
    fn newton(
        &mut self,
        stage: &mut Stage<'_>,
        iterations: &mut Iterations,
        counts: &mut Counts,
    ) -> Outcome {
        let Plan { tail, tail_rows, evaluation, inverse, .. } = &mut self.plans[self.now];
        let rest = &self.kept.at(self.place).rest;
        let mix = Mix { charge: 1.0, current: stage.reach };
        self.junctions.forget();
        iterations.begin();
        loop {
            counts.iterations += 1;
            let wanted = (!iterations.fresh).then_some(mix);
            let point = (&*stage.x, stage.weights);
            let kind = (&self.linear.curved, wanted);
            self.system.evaluate_curved(point, kind, &mut self.junctions, evaluation);
            let tail_rows = self.residual.iter_mut().zip(&self.push).zip(&*tail_rows);
            for ((residual, push), &row) in tail_rows {
                *residual = push - (evaluation.q[row] + stage.reach * evaluation.f[row]);
            }
            if !iterations.fresh {
                inverse.set_sum(rest, &evaluation.jacobian, tail.len());
                if !inverse.invert() {
                    return self.linear.unsolved();
                }
                counts.factorizations += 1;
                iterations.refreshed();
            }
            inverse.multiply(&self.residual, &self.nothing, &mut self.correction);
            let size = largest(&self.correction[..tail.len()]);
            let verdict = iterations.judge(size, evaluation.limited);
            for ((correction, moved), &column) in
                self.correction.iter().zip(&mut self.moved).zip(&*tail)
            {
                stage.x[column] += correction;
                *moved += correction;
            }
            match verdict {
                Verdict::Enough => return Outcome::Solved,
                Verdict::Lost => return self.linear.unsolved(),
                Verdict::More => rest.subtract_product(&self.correction, &mut self.push),
            }
        }
    }

    /// Solves for all that follows from the unknowns left over.
    fn finish(&mut self, stage: &mut Stage<'_>) {
        self.follow();
        self.push_rails(stage);
        let per_reach = 1.0 / stage.reach;
        for ((slope, x), (from, by)) in
            stage.slopes.iter_mut().zip(&mut *stage.x).zip(stage.from.iter().zip(&self.moves))
        {
            *slope = by * per_reach;
            *x = from + by;
        }
        self.keep_charge(stage);
    }

    /// Lets all unknowns follow the tail.
    fn follow(&mut self) {
        for (&column, moved) in self.plans[self.now].tail.iter().zip(&self.moved) {
            self.moves[column] = *moved;
        }
        self.kept.at(self.place).follow.add_product(&self.moved, &mut self.moves);
    }

    /// Charge after the last correction, which has its charge, too.
    fn keep_charge(&self, stage: &mut Stage<'_>) {
        let Plan { tail, evaluation, charge_places, .. } = &self.plans[self.now];
        let last = &self.correction[..tail.len()];
        let rows = self.charged.iter().zip(charge_places);
        for (charge, (&row, &place)) in stage.charge.iter_mut().zip(rows) {
            *charge = evaluation.q[row] + evaluation.farads.row_product(place, last);
        }
    }

    /// Adds to the currents of ideal sources what curved parts take from their nodes.
    fn push_rails(&mut self, stage: &Stage<'_>) {
        let Plan { tail, evaluation, .. } = &self.plans[self.now];
        let per_reach = 1.0 / stage.reach;
        for (index, rail) in self.linear.rails.iter().enumerate() {
            let last = rail_slope(evaluation, tail.len() + index, &self.correction[..tail.len()]);
            let place = self.charged.iter().position(|&row| row == rail.node);
            let goal = place.map_or(0.0, |place| stage.goal[place]);
            let curved = evaluation.q[rail.node] - goal + stage.reach * evaluation.f[rail.node];
            self.moves[rail.branch] -= (curved + last) * per_reach;
        }
    }

    /// (C + r (G + ∂i/∂x) + ∂q/∂x)⁻¹ (C m + c): what a miss of `missed` in the unknowns, and of `curved`
    /// in the charges, comes to after the stages' own matrix; sets all that are voltages. It belongs to
    /// the last stage.
    pub(crate) fn filter(&mut self, missed: &[f64], curved: &[f64], found: &mut [f64]) {
        let plan = &self.plans[self.now];
        let reduced = self.kept.at(self.place);
        reduced.ahead.multiply(missed, &self.nothing, &mut self.moves);
        let tail = self.push.iter_mut().zip(&mut self.correction).zip(&plan.tail);
        for ((push, own), &column) in tail {
            (*push, *own) = (self.moves[column], missed[column]);
        }
        let push = &mut self.push[..plan.tail.len()];
        for (&place, curved) in plan.charge_places.iter().zip(curved) {
            if let Some(push) = push.get_mut(place) {
                *push += curved;
            }
        }
        // C m is (C + r G) m − r G m.
        reduced.rest.add_product(&self.correction, &mut self.push);
        plan.inverse.multiply(&self.push, &self.nothing, &mut self.moved);
        for (moved, own) in self.moved.iter_mut().zip(&self.correction) {
            *moved -= own;
        }
        self.follow();
        for (found, (missed, by)) in found.iter_mut().zip(missed.iter().zip(&self.moves)) {
            *found = missed + *by;
        }
    }

    /// ẋ at `x`, where the equations drift by so many A/s, which they do where drivers are on their way; see
    /// [`Stepper::slope`](crate::network::step::Stepper::slope).
    pub(crate) fn slope(
        &mut self,
        (x, weights): (&[f64], &[Weights]),
        drift: &[f64],
        over_s: f64,
        slope: &mut [f64],
    ) -> Outcome {
        if !self.reach_for(over_s) {
            return Outcome::Unfit;
        }
        let Plan { tail, tail_rows, evaluation, inverse, .. } = &mut self.plans[self.now];
        let reduced = self.kept.at(self.place);
        self.junctions.forget();
        let mix = Mix { charge: 1.0, current: over_s };
        let kind = (&self.linear.curved, Some(mix));
        self.system.evaluate_curved((x, weights), kind, &mut self.junctions, evaluation);
        inverse.set_sum(&reduced.rest, &evaluation.jacobian, tail.len());
        if !inverse.invert() {
            return self.linear.unsolved();
        }
        reduced.ahead.multiply(x, &reduced.constant, &mut self.moves);
        let curved = |evaluation: &Evaluation, row: usize| {
            over_s * (evaluation.f[row] + over_s * drift[row])
        };
        for ((push, &row), &column) in self.push.iter_mut().zip(&*tail_rows).zip(&*tail) {
            *push = self.moves[column] - curved(evaluation, row);
        }
        inverse.multiply(&self.push, &self.nothing, &mut self.moved);
        self.follow();
        let per_s = 1.0 / over_s;
        let Plan { tail, evaluation, .. } = &self.plans[self.now];
        for (index, rail) in self.linear.rails.iter().enumerate() {
            let last = rail_slope(evaluation, tail.len() + index, &self.moved[..tail.len()]);
            self.moves[rail.branch] -= (curved(evaluation, rail.node) + last) * per_s;
        }
        for (slope, by) in slope.iter_mut().zip(&self.moves) {
            *slope = by * per_s;
        }
        Outcome::Solved
    }
}

/// What a move of the tail adds in a rail's row of the curved parts.
fn rail_slope(evaluation: &Evaluation, row: usize, moved: &[f64]) -> f64 {
    let moved = moved.iter().enumerate();
    moved.map(|(column, by)| evaluation.jacobian.get(row, column) * by).sum()
}

impl Plan {
    /// For what is linear at present.
    fn new(system: &System, linear: &LinearPart, charged: &[usize]) -> Self {
        /// A step's reach that lies between the shortest and the longest, s.
        const USUAL_S: f64 = 1e-9;
        let places = linear.rows.iter().zip(&linear.columns);
        let entries: Vec<(usize, usize, f64)> = places
            .zip(linear.entries(USUAL_S))
            .map(|((&row, &column), value)| (row, column, value))
            .collect();
        let rails = linear.rails.iter();
        let left_out: BTreeSet<usize> = rails.flat_map(|rail| [rail.node, rail.branch]).collect();
        let last: BTreeSet<usize> =
            system.curved_unknowns(&linear.curved).difference(&left_out).copied().collect();
        let elimination = Elimination::new(system.order, &entries, &last, &left_out);
        let head = elimination.head;
        let [tail_rows, tail] =
            [&elimination.rows, &elimination.columns].map(|list| list[head..].to_vec());
        // After what is left over come the rails, and one place for what nobody asks for.
        let size = tail.len() + linear.rails.len() + 1;
        let places = [0, 1].map(|side| {
            let place = |&place: &usize| match place.checked_sub(head) {
                Some(place) if place < tail.len() => place,
                _ => size - 1,
            };
            let mut places: Vec<usize> = elimination.places()[side].iter().map(place).collect();
            for (index, rail) in linear.rails.iter().enumerate() {
                places[rail.node] = tail.len() + index;
            }
            places
        });
        let charge_places = charged.iter().map(|&row| places[0][row]).collect();
        let evaluation = Evaluation::of_some(places, size);
        let reduction = Reduction::new(system.order, linear, elimination);
        let curved = linear.curved.clone();
        let inverse = Dense::default();
        Self { curved, reduction, tail, tail_rows, charge_places, evaluation, inverse }
    }
}

#[cfg(test)]
mod tests;
