//! One step in time: the stages, the error estimate, and the curve between the step's ends.

use crate::network::condensed::Condensed;
use crate::network::condensed::Outcome;
use crate::network::condensed::Stage;
use crate::network::dense::Series;
use crate::network::dense::padded;
use crate::network::evaluation::MAX_STATES;
use crate::network::evaluation::Unknown;
use crate::network::evaluation::Weights;
use crate::network::evaluation::at;
use crate::network::ladder;
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

/// The slope at a point is taken over about this share of the step; see [`Stepper::slope`].
const SLOPE_SHARE: f64 = 1.0 / 1024.0;
/// Number of slopes that a step knows in the end: the one it sets out with, and those of its stages.
pub(crate) const KNOWN: usize = STAGES + 1;
/// How exactly the board is found right after a jump, V.
const JUMP_V: f64 = 1e-10;

/// An end of a step; the unknowns are filled up as [`padded`] says.
#[derive(Clone, Debug, Default)]
pub(crate) struct End {
    pub(crate) x: Vec<f64>,
    q: Vec<f64>,
}

impl End {
    fn set(&mut self, x: &[f64], q: &[f64]) {
        self.x[..x.len()].copy_from_slice(x);
        self.q[..q.len()].copy_from_slice(q);
    }
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
    /// Which of them do not stay as they are in the present segment.
    moving: Vec<usize>,
    /// What curved charge takes in at the stages, A.
    flows: Series<STAGES>,
    /// Rates of the unknowns: with which the next step is expected to set out, then at the stages.
    pub(crate) slopes: Series<KNOWN>,
    /// Where the step starts.
    start: End,
    /// What a stage starts from.
    from: Vec<f64>,
    goal: Vec<f64>,
    /// The rates at the present stage, and what its charge takes in.
    slope: Vec<f64>,
    flow: Vec<f64>,
    missed: Vec<f64>,
    nothing: Vec<f64>,
    /// What the miss comes to.
    found: Vec<f64>,
    drift: Vec<f64>,
    pub(crate) end: End,
    pub(crate) counts: Counts,
}

impl<'a> Stepper<'a> {
    pub(crate) fn new(system: &'a System, tolerance_v: f64) -> Self {
        let (n, charged) = (padded(system.order), padded(system.charged_rows().len()));
        Self {
            system,
            tolerance_v,
            condensed: Condensed::new(system),
            whole: Whole::new(system),
            is_whole: false,
            iterations: Iterations::new(tolerance_v),
            weights: vec![[0.0; MAX_STATES]; system.drivers.len() + system.cables.len()],
            moving: Vec::new(),
            flows: Series::new(charged),
            slopes: Series::new(n),
            start: End { x: vec![0.0; n], q: vec![0.0; charged] },
            slope: vec![0.0; n],
            flow: vec![0.0; charged],
            goal: vec![0.0; charged],
            from: vec![0.0; n],
            missed: vec![0.0; n],
            nothing: vec![0.0; n.max(charged)],
            found: vec![0.0; n],
            drift: vec![0.0; system.order],
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
        let stands = |index: &usize| is_still.get(*index).copied().unwrap_or(false);
        self.moving.clear();
        self.moving.extend((0..weights.len()).filter(|index| !stands(index)));
        self.is_whole = false;
        self.condensed.begin(weights, is_still, x);
    }

    /// Tries a step. `drive` gives the weights of one driver at a share of the step. Returns the error
    /// estimate as a share of the tolerance, or `None` if a stage could not be solved; the end is
    /// in `self.end` until [`Stepper::accept`].
    pub(crate) fn attempt(
        &mut self,
        step_s: f64,
        x: &[f64],
        q: &[f64],
        drive: &dyn Fn(f64, usize) -> Weights,
    ) -> Option<f64> {
        let reach = GAMMA * step_s;
        self.start.set(x, q);
        self.iterations.forget();
        for (stage, moment) in MOMENTS.into_iter().enumerate() {
            for &index in &self.moving {
                self.weights[index] = drive(moment, index);
            }
            self.set_goal(stage, step_s);
            while !self.solve_stage(reach)? {
                self.set_goal(stage, step_s);
            }
            self.keep(stage, reach);
        }
        self.counts.steps += 1;
        Some(self.error(step_s))
    }

    /// Sets what a stage starts from, and expects its slopes.
    fn set_goal(&mut self, stage: usize, step_s: f64) {
        let below = BELOW[stage].map(|below| step_s * below);
        self.flows.sum(&below[..stage], &self.start.q, &mut self.goal);
        // The first of the known slopes has no part in it.
        let mut after_first = [0.0; KNOWN];
        after_first[1..=stage].copy_from_slice(&below[..stage]);
        self.slopes.sum(&after_first[..=stage], &self.start.x, &mut self.from);
        self.slopes.sum(&PREDICTION[stage][..=stage], &self.nothing, &mut self.slope);
    }

    /// Solves a stage from what was set for it, with the last factors while they serve. It is to be set
    /// and solved once more if something that was taken as linear is not.
    fn solve_stage(&mut self, reach: f64) -> Option<bool> {
        let mut stage = Stage {
            weights: &self.weights,
            reach,
            from: &self.from,
            goal: &self.goal,
            slopes: &mut self.slope,
            x: &mut self.end.x,
            charge: &mut self.end.q,
        };
        if !self.is_whole {
            match self.condensed.solve(&mut stage, &mut self.iterations, &mut self.counts) {
                Outcome::Solved => return Some(true),
                Outcome::Failed => return None,
                Outcome::Unfit => {
                    self.is_whole = !self.condensed.rouse(&self.weights, &self.end.x);
                    self.iterations.forget();
                    return Some(false);
                }
            }
        }
        self.whole.solve(&mut stage, &mut self.iterations, &mut self.counts).then_some(true)
    }

    /// Keeps a solved stage's slopes, and its flow: what the charge has moved by, so that charge is
    /// conserved to the last bit whatever Newton's method has left over.
    fn keep(&mut self, stage: usize, reach: f64) {
        let per_reach = 1.0 / reach;
        for ((flow, q), goal) in self.flow.iter_mut().zip(&self.end.q).zip(&self.goal) {
            *flow = (q - goal) * per_reach;
        }
        self.flows.set(stage, &self.flow);
        self.slopes.set(stage + 1, &self.slope);
    }

    /// The embedded error, carried from charge to volts by the stages' own matrix, which keeps it
    /// meaningful for modes faster than the step; largest node, as a share of the tolerance there,
    /// which is one tolerance and another one for every volt.
    ///
    /// # Source
    ///
    /// Hairer and Wanner, section IV.8, on filtering the estimate of a stiff method.
    fn error(&mut self, step_s: f64) -> f64 {
        let shares = ERROR.map(|share| step_s * share);
        self.flows.sum(&shares, &self.nothing, &mut self.goal);
        let mut after_first = [0.0; KNOWN];
        after_first[1..].copy_from_slice(&shares);
        self.slopes.sum(&after_first, &self.nothing, &mut self.missed);
        if self.is_whole {
            self.whole.filter(&self.missed, &self.goal, &mut self.found);
        } else {
            self.condensed.filter(&self.missed, &self.goal, &mut self.found);
        }
        let nodes = self.found[..self.system.nodes].iter().zip(&self.end.x);
        let shares = nodes.map(|(error, volts)| error.abs() / (1.0 + volts.abs()));
        shares.fold(0.0, f64::max) / self.tolerance_v
    }

    /// Moves on to the end of the last step.
    pub(crate) fn accept(&mut self, x: &mut [f64], q: &mut [f64]) {
        x.copy_from_slice(&self.end.x[..x.len()]);
        q.copy_from_slice(&self.end.q[..q.len()]);
        self.slopes.repeat(0, STAGES);
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
        self.from[..x.len()].copy_from_slice(x);
        self.goal[..q.len()].copy_from_slice(q);
        let usual = self.iterations.clone();
        self.iterations = Iterations::new(self.tolerance_v).with_enough(JUMP_V);
        loop {
            self.slope.fill(0.0);
            match self.solve_stage(INSTANT_S) {
                Some(false) => {}
                Some(true) => break x.copy_from_slice(&self.end.x[..x.len()]),
                None => break,
            }
        }
        self.iterations = usual;
        self.iterations.forget();
    }

    /// Expects the next step to set out with this slope.
    pub(crate) fn expect(&mut self, slope: &[f64]) {
        self.slopes.set(0, slope);
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
        let over_s = ladder::floor(SLOPE_SHARE * step_s);
        self.counts.factorizations += 1;
        self.system.drift(x, rates, &mut self.drift);
        let mut slope = vec![0.0; self.from.len()];
        let mut is_found = false;
        if !self.is_whole {
            let outcome = self.condensed.slope((x, weights), &self.drift, over_s, &mut slope);
            is_found = outcome == Outcome::Solved;
            self.is_whole = outcome == Outcome::Unfit;
        }
        if self.is_whole {
            is_found = self.whole.slope((x, weights), &self.drift, over_s, &mut slope);
        }
        if !is_found {
            slope.fill(0.0);
        }
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
    use crate::base::ticks::Tick;
    use crate::base::ticks::TickSpan;
    use crate::network::circuit::NodeId;
    use crate::network::circuit::PartKind;
    use crate::network::operating_point::Network;
    use crate::network::rig::circuit;
    use crate::network::rig::pin;
    use crate::network::rig::spec;
    use crate::network::transient::Transient;
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
        let spec = spec(1, 1e-7, vec![far]);
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
