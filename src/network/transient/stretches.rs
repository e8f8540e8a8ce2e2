//! The waveform from any state that the board is put into, up to the next edge.

use crate::base::math;
use crate::network::circuit::NodeId;
use crate::network::error::NetworkError;
use crate::network::rest::REST_SHARE;
use crate::network::rest::Rest;
use crate::network::rest::Rests;
use crate::network::rest::are_near;
use crate::network::rest::at_rest;
use crate::network::ripple::Ripple;
use crate::network::sampler::Sampler;
use crate::network::slew::Event;
use crate::network::slew::SAME_MOMENT_S;
use crate::network::state::State;
use crate::network::transient::FIRST_STEP_S;
use crate::network::transient::Transient;
use crate::network::watch::Outlet;
use crate::network::waves::Side;
use crate::signal::pulse_train::Level;

/// A stretch that has been followed.
#[derive(Debug)]
pub(crate) struct Followed {
    /// Of every tap.
    pub(crate) samples: Vec<Vec<f32>>,
    pub(crate) clocks: u64,
    /// Drivers that turned, to which state and when, s.
    pub(crate) turns: Vec<Event>,
    /// Steps that it took.
    pub(crate) steps: u64,
    /// Whether the board is at rest at its end.
    pub(crate) rests: bool,
}

/// A stretch, and the board at its end.
#[derive(Debug)]
pub(crate) struct Leg {
    pub(crate) followed: Followed,
    pub(crate) end: State,
}

impl Followed {
    /// How far the moments at which drivers turned are from those in another one, s; `None` if others
    /// turned.
    pub(crate) fn turns_apart_s(&self, other: &Self) -> Option<f64> {
        let pairs = || self.turns.iter().zip(&other.turns);
        let is_same = self.turns.len() == other.turns.len()
            && pairs().all(|(a, b)| (a.driver, a.state) == (b.driver, b.state));
        is_same.then(|| pairs().map(|(a, b)| (a.at_s - b.at_s).abs()).fold(0.0, f64::max))
    }
}

impl Transient<'_> {
    /// Follows the board from an edge, at which its pins are given `levels`, until it is at rest or so
    /// many clocks have passed.
    ///
    /// # Errors
    ///
    /// As [`Transient::advance_field`].
    pub(crate) fn stretch(
        &mut self,
        levels: &[Level],
        clocks: u64,
        rests: Option<&mut Rests>,
    ) -> Result<Followed, NetworkError> {
        let mut outlet = self.set_out(levels, clocks);
        let before = self.counts().steps;
        let rested = self.follow(self.spec.clock.seconds(clocks), &mut outlet, rests)?;
        let (samples, turns) = (outlet.sampler.samples, std::mem::take(&mut self.turns));
        let steps = self.counts().steps - before;
        let mut followed = Followed { samples, clocks, turns, steps, rests: false };
        match rested {
            Some(rest) => self.rest(&rest, &mut followed),
            None => self.state.rebase(self.seconds(clocks)),
        }
        Ok(followed)
    }

    /// Stretches that begin at the same edge and last for so many clocks, in rising order: as many of them
    /// as can be followed.
    pub(crate) fn legs(&mut self, levels: &[Level], lengths: &[u64]) -> Vec<Leg> {
        let Some((&longest, shorter)) = lengths.split_last() else { return Vec::new() };
        let moments = shorter.iter().map(|&clocks| self.seconds(clocks)).collect();
        let mut outlet = self.set_out(levels, longest).with_marks(moments);
        let before = self.counts().steps;
        let is_whole = self.follow(self.seconds(longest), &mut outlet, None).is_ok();
        let Outlet { sampler, mut marks, .. } = outlet;
        for (state, ..) in &mut marks.passed {
            state.q = self.stepper.charge(&state.x, &state.weights(0.0, Side::After));
        }
        let leg = |clocks: u64, (end, turns, steps): (State, Vec<Event>, u64)| {
            let count = math::to_index(clocks) * self.samples_per_clock();
            let samples = sampler.samples.iter().map(|tap| tap[..count].to_vec()).collect();
            let steps = steps - before;
            Leg { followed: Followed { samples, clocks, turns, steps, rests: false }, end }
        };
        let passed = shorter.iter().zip(marks.passed);
        let mut legs: Vec<Leg> = passed.map(|(&clocks, passed)| leg(clocks, passed)).collect();
        if is_whole {
            let mut end = self.state.clone();
            end.rebase(self.seconds(longest));
            legs.push(leg(longest, (end, self.turns.clone(), self.counts().steps)));
        }
        legs
    }

    /// Gives the pins levels at an edge, from which so many clocks are followed.
    fn set_out(&mut self, levels: &[Level], clocks: u64) -> Outlet<'static> {
        self.restart_step_s = FIRST_STEP_S;
        for (driver, level) in levels.iter().enumerate() {
            let event = Event { at_s: self.pins[driver].delay_s, driver, state: level.0.into() };
            if self.state.goal(driver) != event.state {
                self.state.pending.push(event);
            }
        }
        self.state.sort_pending();
        let mut outlet = Outlet::new(Sampler::new(&self.spec, clocks));
        outlet.sampler.take(0.0, &self.state.x);
        outlet
    }

    /// Puts a board that has come to rest on its standing levels, and ends what was followed with the
    /// clock in which it did.
    fn rest(&mut self, rest: &Rest, followed: &mut Followed) {
        self.state = at_rest(self.network, &self.state, &rest.x, self.spec.tolerance_v);
        self.recharge(0.0);
        let clocks = math::floor_u32(rest.at_s * self.spec.clock.hertz());
        followed.clocks = followed.clocks.min(u64::from(clocks) + 1);
        followed.rests = true;
        let count = math::to_index(followed.clocks) * self.samples_per_clock();
        for (samples, volts) in followed.samples.iter_mut().zip(self.tap_volts()) {
            samples.resize(count, volts);
        }
    }

    pub(crate) fn state(&self) -> &State {
        &self.state
    }

    pub(crate) fn set_state(&mut self, state: &State) {
        self.state.clone_from(state);
    }

    /// Puts ripples that move to where they are.
    pub(crate) fn set_ripples(&mut self, ripples: Vec<Ripple>) {
        if !ripples.iter().all(Ripple::is_still) {
            self.state.ripples = ripples;
            self.recharge(0.0);
        }
    }

    /// As [`State::lift`].
    pub(crate) fn lift(&mut self, held: &[f64]) {
        self.state.lift(held);
    }

    /// As [`State::go_straight`].
    pub(crate) fn go_straight(&mut self) {
        self.state.go_straight();
    }

    /// Whether the board stands at `x`, to within as much as matters and so many tolerances, and all else
    /// is as in a state of the same kind.
    pub(crate) fn is_same(&self, x: &[f64], other: &State, tolerances: f64) -> bool {
        self.is_near(&self.state.x, x, REST_SHARE + tolerances)
            && self.state.moves_as(other, SAME_MOMENT_S)
    }

    /// Whether two sets of unknowns are the same within so many tolerances.
    pub(crate) fn is_near(&self, a: &[f64], b: &[f64], tolerances: f64) -> bool {
        are_near(a, b, &self.network.system, tolerances * self.spec.tolerance_v)
    }

    pub(crate) fn tolerance_v(&self) -> f64 {
        self.spec.tolerance_v
    }

    pub(crate) fn samples_per_clock(&self) -> usize {
        math::to_index(self.spec.samples_per_clock.into())
    }

    pub(crate) fn seconds(&self, clocks: u64) -> f64 {
        self.spec.clock.seconds(clocks)
    }

    /// Voltages of the taps, V.
    pub(crate) fn tap_volts(&self) -> Vec<f32> {
        let volts = |tap: &NodeId| tap.0.checked_sub(1).map_or(0.0, |index| self.state.x[index]);
        self.spec.taps.iter().map(|tap| math::to_f32(volts(tap))).collect()
    }
}
