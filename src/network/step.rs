//! One step in time: the stages, the error estimate, and the curve between the step's ends.

use crate::network::condensed::Condensed;
use crate::network::condensed::Outcome;
use crate::network::condensed::Stage;
use crate::network::evaluation::MAX_STATES;
use crate::network::evaluation::Unknown;
use crate::network::evaluation::Weights;
use crate::network::evaluation::at;
use crate::network::newton::Iterations;
use crate::network::system::System;
use crate::network::tableau::BELOW;
use crate::network::tableau::ERROR;
use crate::network::tableau::GAMMA;
use crate::network::tableau::MOMENTS;
use crate::network::tableau::PREDICTION;
use crate::network::tableau::STAGES;
use crate::network::transient::Counts;
use crate::network::whole::Whole;

/// The slope at a point is taken over this share of the step; see [`Stepper::slope`]. A power of 2, so
/// that rungs lead to rungs.
const SLOPE_SHARE: f64 = 1.0 / 1024.0;
/// How exactly the board is found right after a jump, V.
const JUMP_V: f64 = 1e-10;

/// Where a step arrives.
#[derive(Clone, Debug, Default)]
pub(crate) struct End {
    pub(crate) x: Vec<f64>,
    q: Vec<f64>,
}

/// Takes steps for one system; holds the work space, and what outlives a step: counts, and the slope
/// with which the next is expected to set out.
#[derive(Debug)]
pub(crate) struct Stepper<'a> {
    system: &'a System,
    tolerance_v: f64,
    condensed: Condensed<'a>,
    whole: Whole<'a>,
    /// Whether the present segment is solved as a whole.
    is_whole: bool,
    iterations: Iterations,
    weights: Vec<Weights>,
    /// Whether the weights stay as they are in the present segment.
    is_still: bool,
    /// What curved charge takes in at the stages, A.
    flows: Vec<Vec<f64>>,
    /// Rates of the unknowns at the stages.
    pub(crate) slopes: Vec<Vec<f64>>,
    goal: Vec<f64>,
    missed: Vec<f64>,
    work: Vec<f64>,
    /// Slope with which the next step is expected to set out, V/s.
    ahead: Vec<f64>,
    pub(crate) end: End,
    pub(crate) counts: Counts,
}

impl<'a> Stepper<'a> {
    pub(crate) fn new(system: &'a System, tolerance_v: f64) -> Self {
        let (n, charged) = (system.order, system.charged_rows().len());
        Self {
            system,
            tolerance_v,
            condensed: Condensed::new(system),
            whole: Whole::new(system),
            is_whole: false,
            iterations: Iterations::new(tolerance_v),
            weights: vec![[0.0; MAX_STATES]; system.drivers.len() + system.cables.len()],
            is_still: false,
            flows: vec![vec![0.0; charged]; STAGES],
            slopes: vec![vec![0.0; n]; STAGES],
            goal: vec![0.0; charged],
            missed: vec![0.0; n],
            work: vec![0.0; n],
            ahead: vec![0.0; n],
            end: End { x: vec![0.0; n], q: vec![0.0; charged] },
            counts: Counts::default(),
        }
    }

    /// Curved charge at `x`.
    pub(crate) fn charge(&mut self, x: &[f64], weights: &[Weights]) -> Vec<f64> {
        self.whole.charge(x, weights)
    }

    /// As [`Whole::time_constants`].
    pub(crate) fn time_constants(&mut self, x: &[f64], weights: &[Weights]) -> Option<Vec<f64>> {
        self.whole.time_constants(x, weights)
    }

    /// Begins a segment with the board at `x`, in which the drivers that stand still have these
    /// weights.
    pub(crate) fn begin(&mut self, x: &[f64], weights: &[Weights], is_still: &[bool]) {
        self.weights.copy_from_slice(weights);
        self.is_still = is_still.iter().all(|&still| still) && self.system.cables.is_empty();
        self.is_whole = false;
        self.condensed.begin(weights, is_still, x);
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
        self.iterations.forget();
        for (stage, moment) in MOMENTS.into_iter().enumerate() {
            if !self.is_still {
                drive(moment, &mut self.weights);
            }
            self.set_goal(stage, step_s, x, q);
            self.solve_stage(stage, reach)?;
            self.keep_flow(stage, reach);
        }
        self.counts.steps += 1;
        Some(self.error(step_s, reach))
    }

    /// Sets what a stage's charge starts from, and predicts its slopes and where they lead.
    fn set_goal(&mut self, stage: usize, step_s: f64, x: &[f64], q: &[f64]) {
        self.goal.copy_from_slice(q);
        self.end.x.copy_from_slice(x);
        let (known, rest) = self.slopes.split_at_mut(stage);
        let slopes = &mut rest[0];
        for (&below, (flow, slope)) in BELOW[stage].iter().zip(self.flows.iter().zip(&*known)) {
            add_multiple(&mut self.goal, step_s * below, flow);
            add_multiple(&mut self.end.x, step_s * below, slope);
        }
        slopes.fill(0.0);
        let known = std::iter::once(&self.ahead).chain(&*known);
        for (slope, share) in known.zip(PREDICTION[stage]).filter(|(_, share)| *share != 0.0) {
            add_multiple(slopes, share, slope);
        }
        add_multiple(&mut self.end.x, GAMMA * step_s, slopes);
    }

    /// Solves a stage from `self.end.x`, with the last factors while they serve.
    fn solve_stage(&mut self, stage: usize, reach: f64) -> Option<()> {
        let mut stage = Stage {
            weights: &self.weights,
            reach,
            goal: &self.goal,
            x: &mut self.end.x,
            slopes: &mut self.slopes[stage],
            charge: &mut self.end.q,
        };
        if !self.is_whole {
            match self.condensed.solve(&mut stage, &mut self.iterations, &mut self.counts) {
                Outcome::Solved => return Some(()),
                Outcome::Failed => return None,
                Outcome::Unfit => {
                    self.is_whole = true;
                    self.iterations.forget();
                }
            }
        }
        self.whole.solve(&mut stage, &mut self.iterations, &mut self.counts).then_some(())
    }

    /// Keeps a solved stage's flow: what the charge has moved by, so that charge is conserved to the last
    /// bit whatever Newton's method has left over.
    fn keep_flow(&mut self, stage: usize, reach: f64) {
        let per_reach = 1.0 / reach;
        for ((flow, q), goal) in self.flows[stage].iter_mut().zip(&self.end.q).zip(&self.goal) {
            *flow = (q - goal) * per_reach;
        }
    }

    /// The embedded error, carried from charge to volts by the stages' own matrix, which keeps it
    /// meaningful for modes faster than the step; largest node, as a share of the tolerance there,
    /// which is one tolerance and another one for every volt.
    ///
    /// # Source
    ///
    /// Hairer and Wanner, section IV.8, on filtering the estimate of a stiff method.
    fn error(&mut self, step_s: f64, reach: f64) -> f64 {
        self.goal.fill(0.0);
        self.missed.fill(0.0);
        for (share, (flow, slope)) in ERROR.into_iter().zip(self.flows.iter().zip(&self.slopes)) {
            add_multiple(&mut self.goal, step_s * share, flow);
            add_multiple(&mut self.missed, step_s * share, slope);
        }
        self.work.fill(0.0);
        self.condensed.add_charging(&self.missed, &self.goal, &mut self.work);
        self.solve_last(reach);
        let nodes = self.work[..self.system.nodes].iter().zip(&self.end.x);
        let shares = nodes.map(|(error, volts)| error.abs() / (1.0 + volts.abs()));
        shares.fold(0.0, f64::max) / self.tolerance_v
    }

    /// Solves with the last factors, which belong to `reach`, for what is in `self.work`.
    fn solve_last(&mut self, reach: f64) {
        if self.is_whole {
            self.whole.solve_last(&mut self.work);
        } else {
            self.condensed.solve_last(&mut self.work, reach);
        }
    }

    /// Moves on to the end of the last step.
    pub(crate) fn accept(&mut self, x: &mut [f64], q: &mut [f64]) {
        x.copy_from_slice(&self.end.x);
        q.copy_from_slice(&self.end.q);
        self.ahead.copy_from_slice(&self.slopes[STAGES - 1]);
    }

    /// Row and size of the largest current that is left over where the last stage ended, A.
    pub(crate) fn worst_residual(&mut self) -> (usize, f64) {
        self.whole.worst_residual(&self.end.x, &self.weights)
    }

    /// Where nodes without charge stand right after drivers have jumped, all charge being kept: one
    /// implicit step too short to move any. [`Stepper::begin`] comes before it.
    pub(crate) fn restart(&mut self, x: &mut [f64], q: &[f64]) {
        /// A femtosecond or so, 2⁻⁵⁰ s.
        const INSTANT_S: f64 = 4.0 * f64::EPSILON;
        self.end.x.copy_from_slice(x);
        self.slopes[0].fill(0.0);
        self.goal.copy_from_slice(q);
        let usual = self.iterations.clone();
        self.iterations = Iterations::new(self.tolerance_v).with_enough(JUMP_V);
        if self.solve_stage(0, INSTANT_S).is_some() {
            x.copy_from_slice(&self.end.x);
        }
        self.iterations = usual;
        self.iterations.forget();
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
        self.counts.factorizations += 1;
        let mut amps = std::mem::take(&mut self.work);
        let mut is_found = false;
        if !self.is_whole {
            let outcome = self.condensed.linearize(x, weights, over_s, &mut amps);
            is_found = outcome == Outcome::Solved;
            self.is_whole = outcome == Outcome::Unfit;
        }
        if self.is_whole {
            is_found = self.whole.linearize(x, weights, over_s, &mut amps);
        }
        let mut slope = vec![0.0; self.system.order];
        self.system.drift(x, rates, &mut slope);
        for (amps, drift) in amps.iter_mut().zip(&slope) {
            *amps = -*amps - over_s * drift;
        }
        self.work = amps;
        if !is_found {
            slope.fill(0.0);
            return slope;
        }
        self.solve_last(over_s);
        slope.copy_from_slice(&self.work);
        slope
    }
}

/// `to += factor * from`.
fn add_multiple(to: &mut [f64], factor: f64, from: &[f64]) {
    for (to, from) in to.iter_mut().zip(from) {
        *to += factor * from;
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
