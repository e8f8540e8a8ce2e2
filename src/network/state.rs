//! Everything that a later moment of a board depends on.

use crate::network::evaluation::MAX_STATES;
use crate::network::evaluation::Unknown;
use crate::network::evaluation::Weights;
use crate::network::evaluation::at;
use crate::network::ripple::Motion;
use crate::network::ripple::Ripple;
use crate::network::ripple::behind;
use crate::network::ripple::heights_v;
use crate::network::slew::Event;
use crate::network::slew::SAME_MOMENT_S;
use crate::network::slew::Slew;
use crate::network::waves::Side;
use crate::network::waves::Waves;

/// Everything that a later moment depends on; `q` is the charge of curved parts.
#[derive(Clone, Debug)]
pub(crate) struct State {
    pub(crate) x: Vec<f64>,
    pub(crate) q: Vec<f64>,
    pub(crate) slews: Vec<Slew>,
    pub(crate) ripples: Vec<Ripple>,
    /// What is under way in the cables.
    pub(crate) cables: Vec<Waves>,
    /// Logic state of every gate input, gate after gate.
    pub(crate) inputs: Vec<Vec<bool>>,
    pub(crate) pending: Vec<Event>,
}

impl State {
    /// Puts what is to come in its order.
    pub(crate) fn sort_pending(&mut self) {
        self.pending.sort_by(|a, b| a.at_s.total_cmp(&b.at_s).then(a.driver.cmp(&b.driver)));
    }

    /// Counts time from a later moment.
    pub(crate) fn rebase(&mut self, by_s: f64) {
        for slew in &mut self.slews {
            slew.rebase(by_s);
        }
        for ripple in &mut self.ripples {
            ripple.rebase(by_s);
        }
        for cable in &mut self.cables {
            cable.rebase(by_s);
        }
        for event in &mut self.pending {
            event.at_s -= by_s;
        }
    }

    /// The state that a driver goes to in the end.
    pub(crate) fn goal(&self, driver: usize) -> usize {
        let last = self.pending.iter().rfind(|event| event.driver == driver);
        last.map_or(self.slews[driver].to, |event| event.state)
    }

    /// What has to agree exactly in two states that are the same: where drivers go, what is to come,
    /// and what the gates see.
    pub(crate) fn kind(&self) -> Vec<usize> {
        let drivers = self.slews.iter().map(|slew| slew.to);
        let pending = self.pending.iter().flat_map(|event| [event.driver, event.state]);
        let inputs = self.inputs.iter().flatten().map(|&high| usize::from(high));
        let ripples = self.ripples.iter().map(Ripple::kind);
        drivers.chain(inputs).chain(ripples).chain(pending).collect()
    }

    /// What is slow holds, V: these capacitors, then every ripple that moves above its trough.
    pub(crate) fn held_volts(&self, slow: &[[Unknown; 2]]) -> Vec<f64> {
        let stores = slow.iter().map(|&[first, last]| at(&self.x, first) - at(&self.x, last));
        stores.chain(heights_v(&self.ripples)).collect()
    }

    /// Holds the ripples that move to the pieces on which they are.
    pub(crate) fn go_straight(&mut self) {
        for ripple in self.ripples.iter_mut().filter(|ripple| !ripple.is_still()) {
            *ripple = ripple.straight();
        }
    }

    /// Lifts the ripples that move, straight ones, to so many volts above their troughs: the last of
    /// what is held.
    pub(crate) fn lift(&mut self, held: &[f64]) {
        let moving = self.ripples.iter_mut().rev().filter(|ripple| !ripple.is_still());
        for (ripple, &height_v) in moving.zip(held.iter().rev()) {
            ripple.lift(height_v);
        }
    }

    /// Whether all but the unknowns is as in a state of the same kind, moments to within so many
    /// seconds, and no wave can be under way in either.
    pub(crate) fn moves_as(&self, other: &Self, within_s: f64) -> bool {
        let mut slews = self.slews.iter().zip(&other.slews);
        let mut pending = self.pending.iter().zip(&other.pending);
        self.cables.is_empty()
            && slews.all(|(a, b)| a.is_same(b, within_s))
            && pending.all(|(a, b)| (a.at_s - b.at_s).abs() <= within_s)
    }

    /// What drives the board at a moment: drivers in their order, then cables.
    pub(crate) fn weights(&self, time_s: f64, side: Side) -> Vec<Weights> {
        let all = self.slews.len() + self.ripples.len() + self.cables.len();
        (0..all).map(|index| self.weights_of(index, time_s, side)).collect()
    }

    /// One of them.
    pub(crate) fn weights_of(&self, index: usize, time_s: f64, side: Side) -> Weights {
        let ripple = index.wrapping_sub(self.slews.len());
        if let Some(slew) = self.slews.get(index) {
            slew.weights(time_s)
        } else if let Some(ripple) = self.ripples.get(ripple) {
            self.behind_contact(ripple, time_s).weights
        } else {
            self.cables[ripple - self.ripples.len()].weights(time_s, side)
        }
    }

    /// Which drivers do not move in the segment that begins at `time_s`.
    pub(crate) fn are_still(&self, time_s: f64) -> Vec<bool> {
        let slews = self.slews.iter().map(|slew| slew.end_s() <= time_s + SAME_MOMENT_S);
        slews.chain(self.ripples.iter().map(|_| false)).collect()
    }

    /// How fast the drivers move in the segment that begins at `time_s`; the cables' rates, which
    /// differ from moment to moment, are still to be set. Those of a ripple are straight, but for the
    /// 100 ns in which its contact turns, when it has no time to move itself.
    pub(crate) fn rates(&self, time_s: f64) -> Vec<Weights> {
        let slews = self.slews.iter().map(|slew| rates_after(slew, time_s));
        let ripples = self.ripples.iter().map(|ripple| self.behind_contact(ripple, time_s).rates);
        let cables = self.cables.iter().map(|_| [0.0; MAX_STATES]);
        slews.chain(ripples).chain(cables).collect()
    }

    /// What an adapter does, its contact before it.
    fn behind_contact(&self, ripple: &Ripple, time_s: f64) -> Motion {
        let contact = ripple.contact().map(|driver| {
            let slew = &self.slews[driver];
            Motion { weights: slew.weights(time_s), rates: rates_after(slew, time_s) }
        });
        behind(ripple.motion(time_s), contact)
    }

    pub(crate) fn set_cable_rates(&self, time_s: f64, side: Side, rates: &mut [Weights]) {
        let drivers = self.slews.len() + self.ripples.len();
        for (rates, cable) in rates[drivers..].iter_mut().zip(&self.cables) {
            *rates = cable.rates(time_s, side);
        }
    }

    /// The first moment up to `until_s` at which a jump arrives.
    pub(crate) fn first_arrival_s(&self, until_s: f64) -> f64 {
        self.cables.iter().filter_map(Waves::next_arrival_s).fold(until_s, f64::min)
    }
}

/// How fast a driver moves from a moment on that may be the last of its way.
fn rates_after(slew: &Slew, time_s: f64) -> Weights {
    if slew.end_s() > time_s + SAME_MOMENT_S { slew.rates(time_s) } else { [0.0; MAX_STATES] }
}
