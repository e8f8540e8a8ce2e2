//! A look at every step of a run, for who keeps books on the board while it is solved.

use crate::network::dense::Series;
use crate::network::evaluation::MAX_STATES;
use crate::network::sampler::Sampler;
use crate::network::slew::Event;
use crate::network::state::State;
use crate::network::step::Ends;
use crate::network::step::KNOWN;
use crate::network::step::interpolate_at;
use crate::network::tableau::BELOW;
use crate::network::tableau::GAMMA;
use crate::network::tableau::MOMENTS;
use crate::network::tableau::STAGES;
use crate::network::waves::Side;

/// A step that has been taken: the board at both its ends and on the curve between them.
///
/// The unknowns come in this order: voltages of the circuit's nodes without ground, V; voltages
/// inside parts, part after part, V; currents of coils and of supplies without a resistance, part
/// after part, into the part at its first end, A.
#[derive(Debug)]
pub struct Accepted<'a> {
    pub(crate) ends: &'a Ends<'a>,
    pub(crate) state: &'a State,
    /// Rates of the unknowns at the stages, after the one at the start.
    pub(crate) rates: &'a Series<KNOWN>,
}

/// One of the points by which a step was taken.
#[derive(Clone, Debug)]
pub struct StagePoint {
    /// Where it lies, as a share of the step.
    pub share: f64,
    /// Its weight in the step; the weights add to 1, and one is below 0.
    pub weight: f64,
    /// Every unknown there, in the order of [`Accepted`].
    pub unknowns: Vec<f64>,
}

impl Accepted<'_> {
    /// Start of the step, s from the start of the field.
    #[must_use]
    pub fn start_s(&self) -> f64 {
        self.ends.start_s
    }

    /// Length of the step, s.
    #[must_use]
    pub fn length_s(&self) -> f64 {
        self.ends.step_s
    }

    /// Every unknown at a share of the step, 0 to 1: the cubic that samples lie on.
    #[must_use]
    pub fn unknowns(&self, share: f64) -> Vec<f64> {
        let order = self.ends.x[0].len();
        if share >= 1.0 {
            return self.ends.x[1][..order].to_vec();
        }
        (0..order).map(|unknown| interpolate_at(self.ends, unknown, share)).collect()
    }

    /// The points by which the step was taken. Currents there, summed by weight, are what charge the
    /// method has moved: all of it, but for what its iterations have left over.
    #[must_use]
    pub fn stages(&self) -> Vec<StagePoint> {
        let rate = |stage: usize, at: usize| self.rates.get(stage + 1, at);
        let unknown = |stage: usize, at: usize| {
            let below = (0..stage).map(|earlier| BELOW[stage][earlier] * rate(earlier, at));
            let sum = below.sum::<f64>() + GAMMA * rate(stage, at);
            self.ends.x[0][at] + self.ends.step_s * sum
        };
        let order = self.ends.x[0].len();
        let point = |stage: usize| StagePoint {
            share: MOMENTS[stage],
            weight: if stage == STAGES - 1 { GAMMA } else { BELOW[STAGES - 1][stage] },
            unknowns: (0..order).map(|at| unknown(stage, at)).collect(),
        };
        (0..STAGES).map(point).collect()
    }

    /// Share of each state in the output of every driver at a share of the step, 0 to 1: pins in the
    /// circuit's order, then gates and analogue switches (off, on), then adapters (trough, crest).
    #[must_use]
    pub fn drivers(&self, share: f64) -> Vec<[f64; MAX_STATES]> {
        let at_s = self.ends.start_s + share * self.ends.step_s;
        let mut weights = self.state.weights(at_s, Side::Before);
        weights.truncate(weights.len() - self.state.cables.len());
        weights
    }
}

/// Where what a field brings goes to.
pub(crate) struct Outlet<'w> {
    pub(crate) sampler: Sampler,
    pub(crate) watch: Option<&'w mut dyn FnMut(&Accepted<'_>)>,
    pub(crate) marks: Marks,
}

/// Moments at which the state is kept, and the states there with all drivers that have turned and the steps
/// taken so far.
#[derive(Debug, Default)]
pub(crate) struct Marks {
    /// In rising order, s.
    moments: Vec<f64>,
    pub(crate) passed: Vec<(State, Vec<Event>, u64)>,
}

impl Marks {
    /// The next of them, if it is due by then.
    pub(crate) fn due(&self, after_s: f64) -> Option<f64> {
        self.moments.get(self.passed.len()).copied().filter(|&moment| moment <= after_s)
    }
}

impl<'w> Outlet<'w> {
    pub(crate) fn new(sampler: Sampler) -> Self {
        Self { sampler, watch: None, marks: Marks::default() }
    }

    pub(crate) fn watched(self, watch: Option<&'w mut dyn FnMut(&Accepted<'_>)>) -> Self {
        Self { watch, ..self }
    }

    pub(crate) fn with_marks(self, moments: Vec<f64>) -> Self {
        Self { marks: Marks { moments, passed: Vec::new() }, ..self }
    }

    /// Samples a step and shows it.
    pub(crate) fn take_step(&mut self, after_s: f64, step: &Accepted<'_>) {
        self.sampler.take_step(step.ends, after_s);
        if let Some(watch) = &mut self.watch {
            watch(step);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
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

    /// What the pin drives at a share of a step, V.
    fn drive_v(step: &Accepted<'_>, share: f64) -> f64 {
        5.0 * step.drivers(share)[0][1]
    }

    #[test]
    fn a_watched_field_takes_the_same_steps_and_they_join_from_its_start_to_its_end() {
        let board = circuit(
            &["ground", "a"],
            vec![pin(1, 1e3), PartKind::Capacitor { ends: [NodeId(1), NodeId(0)], farads: 1e-9 }],
        );
        let network = Network::new(&board).unwrap();
        let start = network.operating_point(&[Level::LOW]).unwrap();
        let spec = spec(1, 20e-6, vec![NodeId(1)]);
        let run = || Transient::new(&network, &board, &start, &[Level::LOW], spec.clone());
        let edge = Edge { at: Tick(20), level: Level::HIGH };
        let train = PulseTrain::new(Level::LOW, [edge], TickSpan(40));
        let (mut plain, mut watched) = (run(), run());
        let (mut steps, mut reached_s, mut reached_v) = (0, 0.0, 0.0);
        let samples = watched.watch_field(std::slice::from_ref(&train), &mut |step| {
            assert!((step.start_s() - reached_s).abs() < 1e-18);
            // A jump of 5 mA takes 1 nF a few nanovolts on in the instant that it is given.
            assert!((step.unknowns(0.0)[0] - reached_v).abs() < 1e-8);
            let stages = step.stages();
            assert!((stages.iter().map(|stage| stage.weight).sum::<f64>() - 1.0).abs() < 1e-14);
            let moved: f64 = stages
                .iter()
                .map(|stage| stage.weight * (drive_v(step, stage.share) - stage.unknowns[0]))
                .sum::<f64>();
            let rise_v = step.length_s() / 1e-6 * moved;
            // A stage may be left a ten-thousandth of the tolerance off, and the weights over the
            // diagonal coefficient add to 69, signs aside.
            let missed_v = (reached_v + rise_v - step.unknowns(1.0)[0]).abs();
            assert!(missed_v < 69.0 * 1e-4 * 20e-6, "{missed_v} at {}", step.start_s());
            let middle_s = step.start_s() + 0.5 * step.length_s() - 10e-6;
            let volts = 5.0 * (1.0 - math::exp(-middle_s.max(0.0) / 1e-6));
            assert!((step.unknowns(0.5)[0] - volts).abs() < 50e-6);
            let driven_v = if middle_s > 0.0 { 5.0 } else { 0.0 };
            assert!((drive_v(step, 0.5) - driven_v).abs() < 1e-12);
            reached_s = step.start_s() + step.length_s();
            reached_v = step.unknowns(1.0)[0];
            steps += 1;
        });
        assert_eq!(samples, plain.advance_field(&[train]));
        assert_eq!(watched.counts().iterations, plain.counts().iterations);
        assert!((reached_s - 20e-6).abs() < 1e-15 && steps > 10, "{steps} to {reached_s} s");
    }
}
