//! One step in time: the stages, the error estimate, and the curve between the step's ends.

use crate::network::evaluation::Evaluation;
use crate::network::evaluation::Mix;
use crate::network::evaluation::Unknown;
use crate::network::evaluation::Weights;
use crate::network::evaluation::add_to;
use crate::network::evaluation::at;
use crate::network::junctions::Junctions;
use crate::network::matrix::Matrix;
use crate::network::operating_point::worst;
use crate::network::system::Store;
use crate::network::system::System;
use crate::network::tableau::BELOW;
use crate::network::tableau::ERROR;
use crate::network::tableau::GAMMA;
use crate::network::tableau::MOMENTS;
use crate::network::tableau::PREDICTION;
use crate::network::tableau::STAGES;
use crate::network::transient::Counts;

/// Newton iterations in a stage before the step is given up.
const MOST_ITERATIONS: u32 = 14;
/// A stage is solved when the next correction is below this share of the tolerance. What is left
/// over counts for more than its volts where a saturated junction holds most of the charge.
const STAGE_SHARE: f64 = 1e-4;
/// What the rate of the last iterations foretells may be wrong by ten.
const RATE_SHARE: f64 = 0.1;
/// A correction below this share that no longer falls is rounding.
const ROUNDING_SHARE: f64 = 3e-3;
/// A correction of this size leads nowhere, nor does one that is no number, V or A.
const FAR_OFF_V: f64 = 1e6;
/// The slope at a point is taken over this share of the step; see [`Stepper::slope`].
const SLOPE_SHARE: f64 = 1e-3;

/// Where a step arrives.
#[derive(Clone, Debug, Default)]
pub(crate) struct End {
    pub(crate) x: Vec<f64>,
    q: Vec<f64>,
}

/// Takes steps for one system; holds the work space, and what outlives a step: counts, the slope with
/// which the next is expected to set out, and the voltages from which charge is counted.
#[derive(Debug)]
pub(crate) struct Stepper<'a> {
    system: &'a System,
    tolerance_v: f64,
    evaluation: Evaluation,
    /// The factors that stages and the error estimate use.
    factors: Matrix,
    /// The slopes of charge that belong to those factors: row, column, F.
    charge_slopes: Vec<(usize, usize, f64)>,
    /// By how much an iteration with those factors made the last correction smaller.
    rate: f64,
    /// Whether those factors still serve.
    fresh: bool,
    weights: Vec<Weights>,
    /// Charge rates of the stages, −f at each.
    flows: Vec<Vec<f64>>,
    /// Rates of the unknowns at the stages, for predictions and for who watches.
    pub(crate) slopes: Vec<Vec<f64>>,
    goal: Vec<f64>,
    correction: Vec<f64>,
    junctions: Junctions,
    /// Slope with which the next step is expected to set out, V/s.
    ahead: Vec<f64>,
    pub(crate) end: End,
    pub(crate) counts: Counts,
}

impl<'a> Stepper<'a> {
    pub(crate) fn new(system: &'a System, tolerance_v: f64) -> Self {
        let n = system.order;
        Self {
            system,
            tolerance_v,
            evaluation: Evaluation::new(n),
            factors: Matrix::new(n),
            charge_slopes: Vec::new(),
            rate: 1.0,
            fresh: false,
            weights: vec![
                [0.0; crate::network::evaluation::MAX_STATES];
                system.drivers.len() + system.cables.len()
            ],
            flows: vec![vec![0.0; n]; STAGES],
            slopes: vec![vec![0.0; n]; STAGES],
            goal: vec![0.0; n],
            correction: vec![0.0; n],
            junctions: Junctions::default(),
            ahead: vec![0.0; n],
            end: End { x: vec![0.0; n], q: vec![0.0; n] },
            counts: Counts::default(),
        }
    }

    /// Counts the charge of the board's capacitors from `x` on.
    pub(crate) fn count_from(&mut self, x: &[f64]) {
        let stores = self.system.stores.iter();
        self.evaluation.counted_from = stores.map(|store| store.volts(x)).collect();
    }

    /// Charge at `x`.
    pub(crate) fn charge(&mut self, x: &[f64], weights: &[Weights]) -> Vec<f64> {
        self.system.start_junctions(x, &mut self.junctions);
        self.system.evaluate((x, weights), None, &mut self.junctions, &mut self.evaluation);
        self.evaluation.q.clone()
    }

    /// The time constants of the board's capacitors with the resistance that each sees at `x`, s;
    /// `None` if that is not determined.
    pub(crate) fn time_constants(&mut self, x: &[f64], weights: &[Weights]) -> Option<Vec<f64>> {
        let mix = Mix { charge: 0.0, current: 1.0 };
        self.system.start_junctions(x, &mut self.junctions);
        self.system.evaluate((x, weights), Some(mix), &mut self.junctions, &mut self.evaluation);
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

    /// Tries a step. `drive` sets the drivers' weights at a share of the step. Returns the error
    /// estimate as a share of the tolerance, or `None` if a stage could not be solved; the end is
    /// in `self.end` until [`Stepper::accept`].
    pub(crate) fn attempt(
        &mut self,
        step_s: f64,
        x: &[f64],
        q: &[f64],
        drive: &dyn Fn(f64, &mut [Weights]),
    ) -> Option<f64> {
        let reach = GAMMA * step_s;
        self.fresh = false;
        for (stage, moment) in MOMENTS.into_iter().enumerate() {
            let mut weights = std::mem::take(&mut self.weights);
            drive(moment, &mut weights);
            self.set_goal(stage, step_s, x, q);
            let solved = self.newton(reach, STAGE_SHARE * self.tolerance_v, &weights);
            self.weights = weights;
            solved?;
            self.keep_stage(stage, reach);
        }
        self.counts.steps += 1;
        Some(self.error(step_s))
    }

    /// Sets what a stage's charge and unknowns start from, and predicts where it ends.
    fn set_goal(&mut self, stage: usize, step_s: f64, x: &[f64], q: &[f64]) {
        for i in 0..self.system.order {
            let (mut charge, mut volts) = (0.0, 0.0);
            for (j, &below) in BELOW[stage].iter().enumerate().take(stage) {
                charge += below * self.flows[j][i];
                volts += below * self.slopes[j][i];
            }
            self.goal[i] = q[i] + step_s * charge;
            self.slopes[stage][i] = x[i] + step_s * volts;
            let known = self.slopes[..stage].iter().map(|slope| slope[i]);
            let known = std::iter::once(self.ahead[i]).chain(known);
            let ahead: f64 = known.zip(PREDICTION[stage]).map(|(slope, share)| slope * share).sum();
            self.end.x[i] = self.slopes[stage][i] + GAMMA * step_s * ahead;
        }
    }

    /// Keeps a solved stage's flow and slope. The flow is what the charge has moved by, so that
    /// charge is conserved to the last bit whatever Newton's method has left over.
    fn keep_stage(&mut self, stage: usize, reach: f64) {
        for i in 0..self.system.order {
            self.flows[stage][i] = (self.evaluation.q[i] - self.goal[i]) / reach;
            self.slopes[stage][i] = (self.end.x[i] - self.slopes[stage][i]) / reach;
        }
        self.end.q.copy_from_slice(&self.evaluation.q);
    }

    /// Solves q(x) + reach f(x) = goal from `self.end.x`, with the last factors while they serve.
    fn newton(&mut self, reach: f64, enough_v: f64, weights: &[Weights]) -> Option<()> {
        let mix = Mix { charge: 1.0, current: reach };
        self.system.start_junctions(&self.end.x, &mut self.junctions);
        let mut previous = f64::INFINITY;
        for _ in 0..MOST_ITERATIONS {
            self.counts.iterations += 1;
            let evaluation = &mut self.evaluation;
            let wanted = (!self.fresh).then_some(mix);
            self.system.evaluate((&self.end.x, weights), wanted, &mut self.junctions, evaluation);
            for i in 0..self.system.order {
                self.correction[i] = evaluation.q[i] + reach * evaluation.f[i] - self.goal[i];
            }
            if !self.fresh {
                std::mem::swap(&mut self.factors, &mut evaluation.jacobian);
                std::mem::swap(&mut self.charge_slopes, &mut evaluation.charge_slopes);
                self.factors.factorize().ok()?;
                self.counts.factorizations += 1;
                self.fresh = true;
                self.rate = 1.0;
            }
            self.factors.solve(&mut self.correction);
            let (_, size) = worst(&self.correction[..self.system.nodes]);
            if !self.correction.iter().all(|value| value.abs() < FAR_OFF_V) {
                return None;
            }
            // What is left after this correction is about its size times the rate.
            if previous.is_finite() {
                self.rate = (size / previous).min(1.0);
            }
            let stuck = size > 0.3 * previous && size < ROUNDING_SHARE * self.tolerance_v;
            if (self.rate * size < RATE_SHARE * enough_v || stuck) && !evaluation.limited {
                self.take_last_correction();
                return Some(());
            }
            for (x, correction) in self.end.x.iter_mut().zip(&self.correction) {
                *x -= correction;
            }
            if evaluation.limited || size > 0.3 * previous {
                self.fresh = false;
            }
            previous = size;
        }
        None
    }

    /// Takes the correction that was found small enough, too, and the charge that goes with it.
    fn take_last_correction(&mut self) {
        for (x, correction) in self.end.x.iter_mut().zip(&self.correction) {
            *x -= correction;
        }
        for &(row, column, farads) in &self.charge_slopes {
            self.evaluation.q[row] -= farads * self.correction[column];
        }
    }

    /// The embedded error, carried from charge to volts by the stages' own matrix, which keeps it
    /// meaningful for modes faster than the step; largest node, as a share of the tolerance there,
    /// which is one tolerance and another one for every volt.
    ///
    /// # Source
    ///
    /// Hairer and Wanner, section IV.8, on filtering the estimate of a stiff method.
    fn error(&mut self, step_s: f64) -> f64 {
        for i in 0..self.system.order {
            let sum: f64 = ERROR.iter().zip(&self.flows).map(|(e, flow)| e * flow[i]).sum();
            self.correction[i] = step_s * sum;
        }
        self.factors.solve(&mut self.correction);
        let nodes = self.correction[..self.system.nodes].iter().zip(&self.end.x);
        let shares = nodes.map(|(error, volts)| error.abs() / (1.0 + volts.abs()));
        shares.fold(0.0, f64::max) / self.tolerance_v
    }

    /// Moves on to the end of the last step, from which charge is then counted.
    pub(crate) fn accept(&mut self, x: &mut Vec<f64>, q: &mut Vec<f64>) {
        x.clone_from(&self.end.x);
        q.clone_from(&self.end.q);
        for (store, from) in self.system.stores.iter().zip(&mut self.evaluation.counted_from) {
            let volts = store.volts(x);
            let coulombs = store.farads * (volts - *from);
            add_to(q, store.ends[0], -coulombs);
            add_to(q, store.ends[1], coulombs);
            *from = volts;
        }
        self.ahead.copy_from_slice(&self.slopes[STAGES - 1]);
    }

    /// Row and size of what the last Newton iteration left over, A.
    pub(crate) fn worst_residual(&self) -> (usize, f64) {
        worst(&self.evaluation.f[..self.system.nodes])
    }

    /// Where nodes without charge stand right after drivers have jumped, all charge being kept: one
    /// implicit step too short to move any.
    pub(crate) fn restart(&mut self, x: &mut Vec<f64>, q: &[f64], weights: &[Weights]) {
        const INSTANT_S: f64 = 1e-15;
        self.end.x.clone_from(x);
        self.goal.copy_from_slice(q);
        self.fresh = false;
        if self.newton(INSTANT_S, 1e-9, weights).is_some() {
            x.clone_from(&self.end.x);
        }
    }

    /// Expects the next step to set out with this slope.
    pub(crate) fn expect(&mut self, slope: &[f64]) {
        self.ahead.copy_from_slice(slope);
    }

    /// dx/dt at a point of the solution, V/s.
    ///
    /// (C + ε G) ẋ = −f − ε ∂f/∂t holds exactly where C is singular and up to ε over the time
    /// constant elsewhere; ε is a small share of the step, which makes the error of the curve
    /// drawn with these slopes that share of the step's own movement.
    pub(crate) fn slope(
        &mut self,
        x: &[f64],
        weights: &[Weights],
        rates: &[Weights],
        step_s: f64,
    ) -> Vec<f64> {
        let over_s = SLOPE_SHARE * step_s;
        let mix = Mix { charge: 1.0, current: over_s };
        self.system.start_junctions(x, &mut self.junctions);
        self.system.evaluate((x, weights), Some(mix), &mut self.junctions, &mut self.evaluation);
        self.counts.factorizations += 1;
        let mut slope = vec![0.0; self.system.order];
        if self.evaluation.jacobian.factorize().is_err() {
            return slope;
        }
        self.system.drift(x, rates, &mut slope);
        for (slope, f) in slope.iter_mut().zip(&self.evaluation.f) {
            *slope = -f - over_s * *slope;
        }
        self.evaluation.jacobian.solve(&mut slope);
        slope
    }
}

/// A step's two ends, with slopes: enough for the curve between them.
#[derive(Debug)]
pub(crate) struct Ends<'a> {
    pub(crate) start_s: f64,
    pub(crate) step_s: f64,
    pub(crate) x: [&'a [f64]; 2],
    pub(crate) slope: [&'a [f64]; 2],
}

/// One unknown at a share of the step: the cubic with the ends' values and slopes.
pub(crate) fn interpolate_at(ends: &Ends, unknown: usize, share: f64) -> f64 {
    cubic(ends.x.map(|x| x[unknown]), ends.slope.map(|slope| slope[unknown] * ends.step_s), share)
}

/// The cubic with these values at shares 0 and 1, and these slopes there in units of the share.
pub(crate) fn cubic([x0, x1]: [f64; 2], [m0, m1]: [f64; 2], share: f64) -> f64 {
    let rest = 1.0 - share;
    let rise = x1 - x0;
    x0 + share * rise + share * rest * ((m0 - rise) * rest + (rise - m1) * share)
}

impl Ends<'_> {
    /// When `height` of two unknowns rises through 0 within the step, s.
    pub(crate) fn crossing(&self, unknowns: [Unknown; 2], height: impl Fn([f64; 2]) -> f64) -> f64 {
        let value = |share: f64| {
            height(unknowns.map(|unknown| {
                if share >= 1.0 {
                    at(self.x[1], unknown)
                } else {
                    unknown.map_or(0.0, |index| interpolate_at(self, index, share))
                }
            }))
        };
        let (mut below, mut above) = (0.0, 1.0);
        for _ in 0..50 {
            let middle = 0.5 * (below + above);
            if value(middle) < 0.0 { below = middle } else { above = middle }
        }
        self.start_s + above * self.step_s
    }
}

#[cfg(test)]
mod tests {
    use crate::base::math;
    use crate::base::ticks::ClockRate;
    use crate::base::ticks::Tick;
    use crate::base::ticks::TickSpan;
    use crate::network::circuit::NodeId;
    use crate::network::circuit::PartKind;
    use crate::network::operating_point::Network;
    use crate::network::rig::circuit;
    use crate::network::rig::pin;
    use crate::network::transient::Transient;
    use crate::network::transient::TransientSpec;
    use crate::signal::pulse_train::Edge;
    use crate::signal::pulse_train::Level;
    use crate::signal::pulse_train::PulseTrain;

    /// 1 mF holds 2.5 mC, of which the last bit is 0.1 µV on 3 pF.
    #[test]
    fn a_coupling_capacitor_does_not_round_away_the_charge_of_strays_at_its_ends() {
        const FARADS: f64 = 1e-3;
        let ground = NodeId::GROUND;
        let [near, far] = [NodeId(1), NodeId(2)];
        let stray = |node| PartKind::Capacitor { ends: [node, ground], farads: 3e-12 };
        let board = circuit(
            &["ground", "near", "far"],
            vec![
                pin(1, 1e3),
                PartKind::Supply { node: near, volts: 5.0, ohms: 1e3 },
                PartKind::Capacitor { ends: [near, far], farads: FARADS },
                PartKind::Resistor { ends: [far, ground], ohms: 75.0 },
                stray(near),
                stray(far),
            ],
        );
        let network = Network::new(&board).unwrap();
        let start = network.operating_point(&[Level::LOW]).unwrap();
        let spec = TransientSpec {
            clock: ClockRate::new(2_000_000, 1).unwrap(),
            samples_per_clock: 1,
            tolerance_v: 1e-7,
            taps: vec![far],
        };
        let mut run = Transient::new(&network, &board, &start, &[Level::LOW], spec);
        let edge = Edge { at: Tick(20), level: Level::HIGH };
        let train = PulseTrain::new(Level::LOW, [edge], TickSpan(200));
        let samples = run.advance_field(&[train]).unwrap();
        for (tick, &volts) in samples[0].iter().enumerate().skip(21) {
            let after_s = math::from_usize(tick - 20) / 2e6;
            // 2.5 V behind 500 Ω into 75 Ω.
            let left = math::exp(-after_s / (575.0 * FARADS));
            let expected = 2.5 * 75.0 / 575.0 * left;
            assert!((f64::from(volts) - expected).abs() < 1e-6, "{tick}: {volts} {expected}");
        }
    }
}
