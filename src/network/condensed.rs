//! One stage's equations, solved for the curved parts alone.
//!
//! They are linear in most unknowns. Those are eliminated once for each length of a step and each state
//! of the drivers (`network/elimination.rs`), and Newton's method runs on what is left over: the
//! unknowns of junctions, saturating outputs and drivers on their way. Every linear equation is then
//! met at the first try, and an iteration costs what the curved parts cost. What has been eliminated
//! depends on nothing but that length and those states; it is kept for the lengths that come again.
//!
//! What is solved for is how far the unknowns lie from where they were expected. Elimination rounds that
//! off, by 3e-9 of it where 470 µF stand beside 3 pF; it is not tried again, as it is a share of a small
//! move.

use crate::base::math::largest;
use crate::network::elimination::Elimination;
use crate::network::evaluation::Evaluation;
use crate::network::evaluation::Mix;
use crate::network::evaluation::Weights;
use crate::network::junctions::Junctions;
use crate::network::linear_part::LinearPart;
use crate::network::matrix::Matrix;
use crate::network::newton::Iterations;
use crate::network::newton::Verdict;
use crate::network::reduced::Kept;
use crate::network::system::System;
use crate::network::transient::Counts;
use std::collections::BTreeSet;

/// A stage to be solved: C ẋ + q̇ + f(x) = 0 with x = x₀ + reach · ẋ and q(x) = q₀ + reach · q̇, where C
/// is of the linear parts, q the charge of the curved ones, and x₀ and q₀ follow from earlier stages.
pub(crate) struct Stage<'s> {
    /// What drives the board.
    pub(crate) weights: &'s [Weights],
    pub(crate) reach: f64,
    /// q₀, row by row of [`System::charged_rows`].
    pub(crate) goal: &'s [f64],
    /// Where Newton's method starts, on x₀ + reach · ẋ, and where it ended.
    pub(crate) x: &'s mut [f64],
    /// ẋ there.
    pub(crate) slopes: &'s mut [f64],
    /// q there.
    pub(crate) charge: &'s mut [f64],
}

impl Stage<'_> {
    /// Moves one of the unknowns.
    pub(crate) fn shift(&mut self, unknown: usize, by: f64, per_reach: f64) {
        self.x[unknown] += by;
        self.slopes[unknown] += by * per_reach;
    }

    /// Sets `amps` to what the linear parts carry and take in, less what q₀ has of the charged rows over
    /// the reach.
    pub(crate) fn set_linear(&self, linear: &LinearPart, charged: &[usize], amps: &mut [f64]) {
        let per_reach = 1.0 / self.reach;
        linear.current(self.x, amps);
        linear.add_charging(self.slopes, amps);
        for (&row, goal) in charged.iter().zip(self.goal) {
            amps[row] -= goal * per_reach;
        }
    }

    /// Takes its charge from that of all rows.
    pub(crate) fn keep_charge(&mut self, charged: &[usize], q: &[f64]) {
        for (charge, &row) in self.charge.iter_mut().zip(charged) {
            *charge = q[row];
        }
    }
}

/// How an attempt came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Outcome {
    Solved,
    Failed,
    /// The order of elimination does not serve here, or what was taken as linear is not.
    Unfit,
}

/// An order of elimination, for one set of drivers that are linear.
#[derive(Debug)]
struct Plan {
    straight: Vec<bool>,
    elimination: Elimination,
    /// Of every linear entry, where it stands in the elimination.
    indices: Vec<usize>,
    /// The curved parts, which enter the rows left over and those of the rails.
    evaluation: Evaluation,
    /// The inverse of what is left over of the linear part and of the curved parts.
    inverse: Matrix,
    /// What is left of the equations at an iteration.
    residual: Vec<f64>,
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
    /// Right-hand side, by rows and in places.
    left: Vec<f64>,
    placed: Vec<f64>,
    /// The last correction, and all of them, of the unknowns left over.
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
            left: vec![0.0; system.order],
            placed: Vec::new(),
            correction: Vec::new(),
            moved: Vec::new(),
        }
    }

    /// Begins a segment in which some drivers stand still at these weights, with the board at `x`.
    pub(crate) fn begin(&mut self, weights: &[Weights], is_still: &[bool], x: &[f64]) {
        self.linear.take_in(self.system, weights, is_still, x);
        let known = self.plans.iter().position(|plan| plan.straight == self.linear.straight);
        self.now = known.unwrap_or_else(|| {
            self.plans.push(Plan::new(self.system, &self.linear));
            self.plans.len() - 1
        });
        let plan = &self.plans[self.now];
        self.kept.begin(self.now, &plan.straight, weights);
        self.placed.resize(plan.elimination.size, 0.0);
        self.correction.resize(plan.elimination.tail(), 0.0);
        self.moved.resize(plan.elimination.tail(), 0.0);
    }

    /// Eliminates for a step's reach, if that has not been done; whether the order serves.
    fn reach_for(&mut self, reach: f64) -> bool {
        let (place, is_new) = self.kept.place(reach);
        self.place = place;
        let reduced = self.kept.at_mut(place);
        if is_new {
            let Plan { elimination, indices, .. } = &mut self.plans[self.now];
            let entries = indices.iter().copied().zip(self.linear.entries(reach));
            let placed = entries.filter(|&(index, _)| index != usize::MAX);
            reduced.serves = elimination.eliminate(placed, &mut reduced.factors);
        }
        reduced.serves
    }

    /// Solves a stage. `iterations` says when the factors of the curved parts are made anew.
    pub(crate) fn solve(
        &mut self,
        stage: &mut Stage<'_>,
        iterations: &mut Iterations,
        counts: &mut Counts,
    ) -> Outcome {
        if !self.reach_for(stage.reach) {
            return Outcome::Unfit;
        }
        let per_reach = 1.0 / stage.reach;
        for rail in &self.linear.rails {
            stage.shift(rail.node, rail.volts - stage.x[rail.node], per_reach);
        }
        stage.set_linear(&self.linear, &self.charged, &mut self.left);
        self.place(-stage.reach);
        self.junctions.forget();
        let is_found = self.newton(stage, iterations, counts);
        let left_over = self.plans[self.now].elimination.left_over();
        for (moved, &column) in self.moved.iter().zip(left_over) {
            stage.slopes[column] += moved * per_reach;
        }
        if !is_found {
            return Outcome::Failed;
        }
        self.finish(stage, per_reach);
        // A supply that has fallen to a driver's corner on the way: what was taken as linear is not.
        if self.linear.holds(stage.x) { Outcome::Solved } else { Outcome::Unfit }
    }

    /// Puts so many times the right-hand side into its places and carries the eliminated rows into the
    /// others.
    fn place(&mut self, times: f64) {
        let elimination = &self.plans[self.now].elimination;
        for (placed, &row) in self.placed.iter_mut().zip(&elimination.rows) {
            *placed = times * self.left[row];
        }
        self.kept.at(self.place).factors.forward(&mut self.placed);
    }

    /// Newton's method on the unknowns left over.
    fn newton(
        &mut self,
        stage: &mut Stage<'_>,
        iterations: &mut Iterations,
        counts: &mut Counts,
    ) -> bool {
        let Plan { elimination, evaluation, inverse, residual, .. } = &mut self.plans[self.now];
        let rest = &self.kept.at(self.place).factors.rest;
        let head = elimination.head;
        let [rows, columns] = [&elimination.rows[head..], &elimination.columns[head..]];
        let mix = Mix { charge: 1.0, current: stage.reach };
        self.moved.fill(0.0);
        iterations.begin();
        loop {
            counts.iterations += 1;
            let wanted = (!iterations.fresh).then_some(mix);
            let point = (&*stage.x, stage.weights);
            let kind = (self.linear.straight.as_slice(), wanted);
            self.system.evaluate_curved(point, kind, &mut self.junctions, evaluation);
            for ((residual, placed), &row) in
                residual.iter_mut().zip(&self.placed[head..]).zip(rows)
            {
                *residual = placed - (evaluation.q[row] + stage.reach * evaluation.f[row]);
            }
            if !iterations.fresh {
                inverse.set_sum(rest, &evaluation.jacobian);
                if inverse.invert().is_err() {
                    return false;
                }
                counts.factorizations += 1;
                iterations.refreshed();
            }
            inverse.multiply(residual, &mut self.correction);
            let verdict = iterations.judge(largest(&self.correction), evaluation.limited);
            let all = self.correction.iter().zip(columns).zip(&mut self.moved);
            for ((correction, &column), moved) in all {
                stage.x[column] += correction;
                *moved += correction;
            }
            match verdict {
                Verdict::Enough => return true,
                Verdict::Lost => return false,
                Verdict::More => {}
            }
            rest.subtract_product(&self.correction, &mut self.placed[head..]);
        }
    }

    /// Solves for all that follows from the unknowns left over.
    fn finish(&mut self, stage: &mut Stage<'_>, per_reach: f64) {
        let elimination = &self.plans[self.now].elimination;
        let head = elimination.head;
        self.placed[head..].copy_from_slice(&self.moved);
        self.kept.at(self.place).factors.backward(&mut self.placed);
        for (moved, &column) in self.placed.iter().zip(&elimination.columns[..head]) {
            stage.shift(column, *moved, per_reach);
        }
        self.follow_rails(stage, per_reach);
        self.keep_charge(stage);
    }

    /// Charge after the last correction, which has its charge, too.
    fn keep_charge(&mut self, stage: &mut Stage<'_>) {
        let Plan { elimination, evaluation, .. } = &mut self.plans[self.now];
        let [_, places] = elimination.places();
        for &(row, column, farads) in &evaluation.charge_slopes {
            let place = places[column].wrapping_sub(elimination.head);
            if let Some(correction) = self.correction.get(place) {
                evaluation.q[row] += farads * correction;
            }
        }
        stage.keep_charge(&self.charged, &evaluation.q);
    }

    /// Sets the currents of ideal sources to what their nodes' rows leave over.
    fn follow_rails(&self, stage: &mut Stage<'_>, per_reach: f64) {
        let Plan { elimination, evaluation, .. } = &self.plans[self.now];
        let tail = elimination.tail();
        for (index, rail) in self.linear.rails.iter().enumerate() {
            let last: f64 = (self.correction.iter().enumerate())
                .map(|(column, by)| evaluation.jacobian.get(tail + index, column) * by)
                .sum();
            let place = self.charged.iter().position(|&row| row == rail.node);
            let goal = place.map_or(0.0, |place| stage.goal[place]);
            let curved = evaluation.q[rail.node] - goal + stage.reach * evaluation.f[rail.node];
            let linear = self.linear.rail_current(rail, stage.x, stage.slopes);
            let amps = -(curved + last) * per_reach - linear;
            stage.shift(rail.branch, amps - stage.x[rail.branch], per_reach);
        }
    }

    /// Solves with the factors of the last stage for a right-hand side by rows; in its place comes what
    /// it moves, with ideal sources' nodes at rest.
    pub(crate) fn solve_last(&mut self, b: &mut [f64], reach: f64) {
        self.left.copy_from_slice(b);
        self.place(1.0);
        let Plan { elimination, evaluation, inverse, .. } = &self.plans[self.now];
        let (head, tail) = (elimination.head, elimination.tail());
        inverse.multiply(&self.placed[head..], &mut self.moved);
        self.placed[head..].copy_from_slice(&self.moved);
        self.kept.at(self.place).factors.backward(&mut self.placed);
        b.fill(0.0);
        for (value, &column) in self.placed.iter().zip(&elimination.columns) {
            b[column] = *value;
        }
        for (index, rail) in self.linear.rails.iter().enumerate() {
            let curved: f64 = (self.moved.iter().enumerate())
                .map(|(column, by)| evaluation.jacobian.get(tail + index, column) * by)
                .sum();
            let all = curved + self.linear.rail_row(rail, reach, b);
            b[rail.branch] = (self.left[rail.node] - all) / reach;
        }
    }

    /// The equations' slopes at `x` over `over_s`, ready for [`Condensed::solve_last`], and the currents
    /// there.
    pub(crate) fn linearize(
        &mut self,
        x: &[f64],
        weights: &[Weights],
        over_s: f64,
        amps: &mut [f64],
    ) -> Outcome {
        if !self.reach_for(over_s) {
            return Outcome::Unfit;
        }
        let Plan { evaluation, inverse, .. } = &mut self.plans[self.now];
        self.junctions.forget();
        let mix = Mix { charge: 1.0, current: over_s };
        let kind = (self.linear.straight.as_slice(), Some(mix));
        self.system.evaluate_curved((x, weights), kind, &mut self.junctions, evaluation);
        self.linear.current_with(&evaluation.f, x, amps);
        inverse.set_sum(&self.kept.at(self.place).factors.rest, &evaluation.jacobian);
        if inverse.invert().is_ok() { Outcome::Solved } else { Outcome::Failed }
    }

    /// Adds what charges take in at these slopes, curved charge taking in so much, A.
    pub(crate) fn add_charging(&self, slopes: &[f64], curved: &[f64], amps: &mut [f64]) {
        self.linear.add_charging(slopes, amps);
        for (&row, curved) in self.charged.iter().zip(curved) {
            amps[row] += curved;
        }
    }
}

impl Plan {
    /// For the drivers that are linear at present.
    fn new(system: &System, linear: &LinearPart) -> Self {
        /// A step's reach that lies between the shortest and the longest, s.
        const USUAL_S: f64 = 1e-9;
        let places = linear.rows.iter().zip(&linear.columns);
        let entries: Vec<(usize, usize, f64)> = places
            .zip(linear.entries(USUAL_S))
            .map(|((&row, &column), value)| (row, column, value))
            .collect();
        let rails = linear.rails.iter();
        let left_out: BTreeSet<usize> = rails.flat_map(|rail| [rail.node, rail.branch]).collect();
        let curved: BTreeSet<usize> =
            system.curved_unknowns(&linear.straight).difference(&left_out).copied().collect();
        let elimination = Elimination::new(system.order, &entries, &curved, &left_out);
        let [rows, columns] = elimination.places();
        let indices = entries.iter().map(|&(row, column, _)| {
            let inside = rows[row] < elimination.size && columns[column] < elimination.size;
            if inside { rows[row] * elimination.size + columns[column] } else { usize::MAX }
        });
        let indices = indices.collect();
        // After what is left over come the rails, and one place for what nobody asks for.
        let (head, tail) = (elimination.head, elimination.tail());
        let size = tail + linear.rails.len() + 1;
        let places = [rows, columns].map(|places| {
            let place = |&place: &usize| match place.checked_sub(head) {
                Some(place) if place < tail => place,
                _ => size - 1,
            };
            let mut places: Vec<usize> = places.iter().map(place).collect();
            for (index, rail) in linear.rails.iter().enumerate() {
                places[rail.node] = tail + index;
            }
            places
        });
        let evaluation = Evaluation::of_some(places, size);
        let straight = linear.straight.clone();
        let inverse = Matrix::new(tail);
        let residual = vec![0.0; tail];
        Self { straight, elimination, indices, evaluation, inverse, residual }
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
        let mut x: Vec<f64> = vec![0.0; system.order];
        let mut slopes = x.clone();
        let mut whole = Whole::new(&system);
        let goal = whole.charge(&x, &weights);
        let mut charge = vec![0.0; goal.len()];
        let mut stage = Stage {
            weights: &weights,
            reach,
            goal: &goal,
            x: &mut x,
            slopes: &mut slopes,
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
