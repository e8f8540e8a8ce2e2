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
    /// The order of elimination does not serve here, or what was taken as linear is not.
    Unfit,
}

/// An order of elimination, for one set of drivers and chips that are not linear.
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
        let are_any = self.linear.rouse(self.system, x);
        if are_any {
            self.plan(weights);
        }
        are_any
    }

    /// Finds the order of elimination for what is linear at present.
    fn plan(&mut self, weights: &[Weights]) {
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
    /// fails, the slopes say how far it came.
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
        if !self.newton(stage, iterations, counts) {
            let per_reach = 1.0 / stage.reach;
            for (&column, moved) in self.plans[self.now].tail.iter().zip(&self.moved) {
                stage.slopes[column] = moved * per_reach;
            }
            return Outcome::Failed;
        }
        self.finish(stage);
        // A supply that has fallen to a driver's corner on the way, a diode that has woken: what was
        // taken as linear is not.
        if self.linear.holds(self.system, stage.x) { Outcome::Solved } else { Outcome::Unfit }
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
    ) -> bool {
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
                    return false;
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
                Verdict::Enough => return true,
                Verdict::Lost => return false,
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
            return Outcome::Failed;
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
    /// For the drivers and chips that are linear at present.
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
mod tests {
    use super::*;
    use crate::base::math;
    use crate::base::ticks::ClockRate;
    use crate::base::ticks::Tick;
    use crate::base::ticks::TickSpan;
    use crate::network::bipolar::Polarity;
    use crate::network::bipolar::TransistorModel;
    use crate::network::circuit::Circuit;
    use crate::network::circuit::NodeId;
    use crate::network::circuit::PartKind;
    use crate::network::circuit::Pin;
    use crate::network::circuit::PinStage;
    use crate::network::device::DiodeModel;
    use crate::network::device::Junction;
    use crate::network::evaluation::all_on;
    use crate::network::operating_point::Network;
    use crate::network::rig::circuit;
    use crate::network::rig::pin;
    use crate::network::transient::Transient;
    use crate::network::transient::TransientSpec;
    use crate::network::whole::Whole;
    use crate::signal::pulse_train::Edge;
    use crate::signal::pulse_train::Level;
    use crate::signal::pulse_train::PulseTrain;

    /// Two pins, an ideal rail, a coil, a coupling capacitor, a diode to the rail and a follower with
    /// resistances of its own.
    fn board() -> Circuit {
        let [ground, rail, base, emitter, plug] = [0, 1, 4, 5, 6].map(NodeId);
        let charge = Junction { farads: 5e-12, potential: 0.7, grading: 0.4 };
        let model = TransistorModel {
            base_ohms: 20.0,
            collector_ohms: 3.0,
            forward_transit_time: 0.4e-9,
            base_emitter: charge,
            base_collector: charge,
            ..TransistorModel::ideal(Polarity::Npn, 1e-14, [150.0, 3.0])
        };
        let resistor = |a, b, ohms| PartKind::Resistor { ends: [NodeId(a), NodeId(b)], ohms };
        let stray = |node| PartKind::Capacitor { ends: [NodeId(node), ground], farads: 3e-12 };
        circuit(
            &["ground", "rail", "left", "right", "base", "emitter", "plug"],
            vec![
                pin(2, 1e3),
                pin(3, 2e3),
                PartKind::Supply { node: rail, volts: 5.0, ohms: 0.0 },
                resistor(2, 4, 2.2e3),
                resistor(3, 4, 3.3e3),
                resistor(4, 0, 4.7e3),
                PartKind::Diode { anode: base, cathode: rail, model: DiodeModel::ideal(1e-9, 1.8) },
                PartKind::Transistor { collector: rail, base, emitter, model },
                PartKind::Inductor { ends: [emitter, ground], henries: 1e-3, ohms: 150.0 },
                PartKind::Capacitor { ends: [emitter, plug], farads: 1e-6 },
                resistor(6, 0, 75.0),
                stray(2),
                stray(4),
                stray(6),
            ],
        )
    }

    /// From far off a try may run out of iterations; the next goes on where it ended.
    const TRIES: usize = 5;

    /// Unknowns and charges after one stage from standing on nothing.
    fn solved(is_still: &[bool; 2], reach: f64, condense: bool) -> (Vec<f64>, Vec<f64>) {
        let system = System::new(&board());
        let weights = [all_on(1), all_on(0)];
        let from: Vec<f64> = vec![0.0; padded(system.order)];
        let (mut x, mut slopes) = (from.clone(), from.clone());
        let mut whole = Whole::new(&system);
        let goal = whole.charge(&from, &weights);
        let mut charge = vec![0.0; goal.len()];
        let mut stage = Stage {
            weights: &weights,
            reach,
            from: &from,
            goal: &goal,
            slopes: &mut slopes,
            x: &mut x,
            charge: &mut charge,
        };
        let mut iterations = Iterations::new(1e-7);
        let mut counts = Counts::default();
        if condense {
            let mut condensed = Condensed::new(&system);
            condensed.begin(&weights, is_still, &vec![0.0; system.order]);
            assert!((0..TRIES).any(|_| {
                iterations.forget();
                condensed.solve(&mut stage, &mut iterations, &mut counts) == Outcome::Solved
            }));
        } else {
            assert!((0..TRIES).any(|_| {
                iterations.forget();
                whole.solve(&mut stage, &mut iterations, &mut counts)
            }));
        }
        (x, charge)
    }

    #[test]
    fn curved_parts_alone_lead_where_all_unknowns_at_once_do() {
        for reach in [1e-15, 1e-12, 1e-10, 1e-8, 1e-6, 1e-4] {
            let (x, charge) = solved(&[true, true], reach, false);
            for is_still in [[true, true], [true, false], [false, false]] {
                let (found, held) = solved(&is_still, reach, true);
                for (row, (found, x)) in found.iter().zip(&x).enumerate() {
                    assert!(
                        (found - x).abs() < 2e-9 * (1.0 + x.abs()),
                        "{reach}: {row}: {found} {x}"
                    );
                }
                for (held, charge) in held.iter().zip(&charge) {
                    assert!((held - charge).abs() < 2e-9 * charge.abs() + 1e-20, "{held} {charge}");
                }
            }
        }
    }

    /// Where misses and slopes lead from the standing levels; the rail's current has no part in a miss.
    #[test]
    fn misses_and_slopes_come_to_what_they_do_for_all_unknowns_at_once() {
        let system = System::new(&board());
        let network = Network::new(&board()).unwrap();
        let idle = [Level::HIGH, Level::LOW];
        let point = network.operating_point(&idle).unwrap();
        let weights = [all_on(1), all_on(0)];
        let order = system.order;
        let missed: Vec<f64> = (0..padded(order))
            .map(|at| {
                if at == 0 || at >= system.nodes {
                    0.0
                } else {
                    if at % 3 == 0 { 0.4 } else { -0.1 }
                }
            })
            .collect();
        // At the rail, and at the node of the driver that is on its way.
        let mut drift = vec![0.0; order];
        (drift[0], drift[2]) = (3e3, -1e3);
        let mut from = vec![0.0; padded(order)];
        from[..order].copy_from_slice(&point.x);
        for reach in [1e-12, 1e-9, 1e-6] {
            let mut whole = Whole::new(&system);
            let goal = whole.charge(&from, &weights);
            let curved: Vec<f64> =
                (1..=goal.len()).map(|at| 1e-12 * math::from_usize(at)).collect();
            let mut condensed = Condensed::new(&system);
            condensed.begin(&weights, &[true, false], &from);
            let zeros = || vec![0.0; padded(order)];
            let found = [false, true].map(|condense| {
                let (mut x, mut slopes, mut charge) = (zeros(), zeros(), goal.clone());
                let mut stage = Stage {
                    weights: &weights,
                    reach,
                    from: &from,
                    goal: &goal,
                    slopes: &mut slopes,
                    x: &mut x,
                    charge: &mut charge,
                };
                let (mut iterations, mut counts) = (Iterations::new(1e-7), Counts::default());
                let (mut miss, mut slope) = (zeros(), zeros());
                let at = (&*from, weights.as_slice());
                if condense {
                    let outcome = condensed.solve(&mut stage, &mut iterations, &mut counts);
                    assert_eq!(outcome, Outcome::Solved);
                    condensed.filter(&missed, &curved, &mut miss);
                    let outcome = condensed.slope(at, &drift, reach, &mut slope);
                    assert_eq!(outcome, Outcome::Solved);
                } else {
                    assert!(whole.solve(&mut stage, &mut iterations, &mut counts));
                    whole.filter(&missed, &curved, &mut miss);
                    assert!(whole.slope(at, &drift, reach, &mut slope));
                }
                (miss, slope)
            });
            let [(miss, slope), (found_miss, found_slope)] = found;
            let largest_miss = largest(&miss[..system.nodes]);
            for at in 0..system.nodes {
                let apart = (miss[at] - found_miss[at]).abs();
                assert!(
                    apart < 1e-6 * largest_miss,
                    "{reach}: {at}: {} {}",
                    miss[at],
                    found_miss[at]
                );
            }
            for (at, (one, other)) in slope.iter().zip(&found_slope).enumerate().take(order) {
                let largest = largest(&slope[..order]);
                assert!((one - other).abs() < 1e-6 * largest, "{reach}: {at}: {one} {other}");
            }
        }
    }

    /// 1 nF that 1 kΩ charges from nothing towards 5 V, and a diode from there to a rail of 2.5 V.
    #[test]
    fn a_diode_that_slept_at_the_edge_wakes_when_its_node_comes_past_the_rail() {
        let model = DiodeModel::ideal(1e-14, 1.0);
        let board = circuit(
            &["ground", "rail", "node"],
            vec![
                pin(2, 1e3),
                PartKind::Supply { node: NodeId(1), volts: 2.5, ohms: 0.0 },
                PartKind::Capacitor { ends: [NodeId(2), NodeId::GROUND], farads: 1e-9 },
                PartKind::Diode { anode: NodeId(2), cathode: NodeId(1), model },
            ],
        );
        let network = Network::new(&board).unwrap();
        let start = network.operating_point(&[Level::LOW]).unwrap();
        let spec = TransientSpec {
            clock: ClockRate::new(2_000_000, 1).unwrap(),
            samples_per_clock: 8,
            tolerance_v: 10e-6,
            taps: vec![NodeId(2)],
        };
        let mut run = Transient::new(&network, &board, &start, &[Level::LOW], spec);
        let edge = Edge { at: Tick(0), level: Level::HIGH };
        let train = PulseTrain::new(Level::LOW, [edge], TickSpan(40));
        let samples = run.advance_field(&[train]).unwrap();
        for (k, &volts) in samples[0].iter().enumerate().skip(1) {
            let at_s = math::from_usize(k) / 16e6;
            let charged = 5.0 * (1.0 - math::exp(-at_s / 1e-6));
            if charged < 2.5 {
                assert!((f64::from(volts) - charged).abs() < 50e-6, "{at_s}: {volts} {charged}");
            }
        }
        // In the end all current goes through the diode.
        let last = f64::from(*samples[0].last().unwrap());
        let through = model.forward_current(last - 2.5).value;
        assert!((through - (5.0 - last) / 1e3).abs() < 2e-5 * through, "{last} V, {through} A");
    }

    /// How far short of its supply the pin of [`falling`] stops, V.
    const SHORT_V: f64 = 1.1;

    /// 10 nF that 1 kΩ takes from 5 V to nothing, and feed a pin at high, 3 kΩ into 3 kΩ.
    fn falling() -> Circuit {
        let linear = |offset, share, ohms| PinStage::Linear { offset, share, ohms };
        let of = |node, supply, levels| {
            PartKind::Pin(Box::new(Pin {
                node: NodeId(node),
                supply: NodeId(supply),
                levels,
                delay_s: 0.0,
                rise_s: 0.0,
                fall_s: 0.0,
                farads: 0.0,
            }))
        };
        circuit(
            &["ground", "rail", "pin"],
            vec![
                of(1, 0, vec![linear(5.0, 0.0, 1e3), linear(0.0, 0.0, 1e3)]),
                of(2, 1, vec![linear(0.0, 0.0, 800.0), linear(-SHORT_V, 1.0, 3e3)]),
                PartKind::Capacitor { ends: [NodeId(1), NodeId::GROUND], farads: 10e-9 },
                PartKind::Resistor { ends: [NodeId(2), NodeId::GROUND], ohms: 3e3 },
            ],
        )
    }

    /// What the pin takes from its supply ends in the middle of a stretch. Exponentials before and after;
    /// the corner is rounded.
    #[test]
    fn a_supply_that_falls_past_a_corner_is_followed() {
        let board = falling();
        let network = Network::new(&board).unwrap();
        let idle = [Level::LOW, Level::HIGH];
        let start = network.operating_point(&idle).unwrap();
        let spec = TransientSpec {
            clock: ClockRate::new(2_000_000, 1).unwrap(),
            samples_per_clock: 8,
            tolerance_v: 20e-6,
            taps: vec![NodeId(1), NodeId(2)],
        };
        let mut run = Transient::new(&network, &board, &start, &idle, spec);
        let edge = Edge { at: Tick(0), level: Level::HIGH };
        let trains = [
            PulseTrain::new(Level::LOW, [edge], TickSpan(100)),
            PulseTrain::new(Level::HIGH, [], TickSpan(100)),
        ];
        let samples = run.advance_field(&trains).unwrap();
        let (own, drawn) = (1e-3, 1.0 / 6e3);
        let rest_v = SHORT_V * drawn / (own + drawn);
        // The 5 V behind 1 kΩ, and what the pin takes.
        let first_v = (5.0 * own + SHORT_V * drawn) / (own + drawn);
        let per_s = (own + drawn) / 10e-9;
        let corner_s = math::ln((first_v - rest_v) / (SHORT_V - rest_v)) / per_s;
        assert!((5e-6..40e-6).contains(&corner_s), "{corner_s}");
        for (k, (&rail, &pin)) in samples[0].iter().zip(&samples[1]).enumerate().skip(1) {
            let at_s = math::from_usize(k) / 16e6;
            let expected = if at_s < corner_s {
                rest_v + (first_v - rest_v) * math::exp(-per_s * at_s)
            } else {
                SHORT_V * math::exp(-(at_s - corner_s) * own / 10e-9)
            };
            let pin_v = 0.5 * (expected - SHORT_V).max(0.0);
            assert!((f64::from(rail) - expected).abs() < 5e-3, "{at_s}: {rail} {expected}");
            assert!((f64::from(pin) - pin_v).abs() < 15e-3, "{at_s}: {pin} {pin_v}");
        }
    }
}
