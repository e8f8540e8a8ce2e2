//! How drivers move from state to state, and what waits to move them.

use crate::base::math::interpolate;
use crate::network::circuit::GateSpeed;
use crate::network::circuit::Pin;
use crate::network::circuit::PinStage;
use crate::network::evaluation::MAX_STATES;
use crate::network::evaluation::Weights;
use crate::network::evaluation::all_on;

/// Events closer than this are one, s.
pub(crate) const SAME_MOMENT_S: f64 = 1e-15;
/// A full straight ramp lasts this much longer than its part from 10 to 90 %.
const WHOLE_OF_10_90: f64 = 1.0 / 0.8;

/// A driver's way from one mixture of states to one state, straight in time.
#[derive(Clone, Debug)]
pub(crate) struct Slew {
    from: Weights,
    pub(crate) to: usize,
    start_s: f64,
    duration_s: f64,
}

impl Slew {
    /// At rest in a state.
    pub(crate) fn rest(state: usize) -> Self {
        Self { from: all_on(state), to: state, start_s: 0.0, duration_s: 0.0 }
    }

    /// Sets out at `start_s` from wherever the driver is then. `full_s` is the time from one pure
    /// state to another; a move that is already part of the way takes its share of it.
    pub(crate) fn turn(&mut self, to: usize, start_s: f64, full_s: f64) {
        let from = self.weights(start_s);
        let duration_s = full_s * (1.0 - from[to]);
        *self = Self { from, to, start_s, duration_s };
    }

    /// When it arrives, s.
    pub(crate) fn end_s(&self) -> f64 {
        self.start_s + self.duration_s
    }

    /// The mixture at a moment after the start.
    pub(crate) fn weights(&self, time_s: f64) -> Weights {
        if time_s >= self.end_s() {
            return all_on(self.to);
        }
        let progress = ((time_s - self.start_s) / self.duration_s).clamp(0.0, 1.0);
        let mut weights = self.from.map(|weight| weight * (1.0 - progress));
        weights[self.to] += progress;
        weights
    }

    /// Change of the mixture per second while under way.
    pub(crate) fn rates(&self, time_s: f64) -> Weights {
        if time_s >= self.end_s() {
            return [0.0; MAX_STATES];
        }
        let mut rates = self.from.map(|weight| -weight / self.duration_s);
        rates[self.to] += 1.0 / self.duration_s;
        rates
    }

    /// Whether two ways to one state are the same from the origin of time on, to within so many
    /// seconds.
    pub(crate) fn is_same(&self, other: &Self, within_s: f64) -> bool {
        let ends = [self, other].map(|slew| slew.end_s().max(0.0));
        let mut weights = self.weights(0.0).into_iter().zip(other.weights(0.0));
        let ramp_s = self.duration_s.max(other.duration_s);
        (ends[0] - ends[1]).abs() <= within_s
            && weights.all(|(a, b)| ramp_s * (a - b).abs() <= within_s)
    }

    /// Moves the origin of time forward.
    pub(crate) fn rebase(&mut self, by_s: f64) {
        self.start_s -= by_s;
    }
}

/// A driver told to go to a state at a moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Event {
    pub(crate) at_s: f64,
    pub(crate) driver: usize,
    pub(crate) state: usize,
}

/// Full time of a pin's own edge, s.
pub(crate) fn pin_ramp_s(pin: &Pin, from: usize, to: usize) -> f64 {
    let rises = height(&pin.levels[to]) > height(&pin.levels[from]);
    let part = if rises { pin.rise_s } else { pin.fall_s };
    part * WHOLE_OF_10_90
}

/// Order of a pin's states from low to high; a pin that lets go rises, as far as its board lets it.
fn height(stage: &PinStage) -> f64 {
    const NOMINAL_SUPPLY: f64 = 6.5;
    match stage {
        PinStage::Linear { offset, share, .. } => offset + share * NOMINAL_SUPPLY,
        PinStage::PullUp { threshold, .. } => NOMINAL_SUPPLY - threshold,
        PinStage::PullDown { .. } => 0.0,
        PinStage::Off { .. } => NOMINAL_SUPPLY,
    }
}

/// From an input's crossing to the start of the output's ramp, and the full ramp, s.
pub(crate) fn gate_times_s(speed: &[GateSpeed], supply_volts: f64) -> (f64, f64) {
    let of = |value: fn(&GateSpeed) -> f64| {
        let points: Vec<(f64, f64)> =
            speed.iter().map(|point| (point.supply_volts, value(point))).collect();
        interpolate(&points, supply_volts).0
    };
    let ramp_s = of(|point| point.transition_s) * WHOLE_OF_10_90;
    let delay_s = of(|point| point.delay_s);
    ((delay_s - 0.5 * ramp_s).max(0.0), ramp_s)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ramp_is_straight_and_arrives() {
        let mut slew = Slew::rest(0);
        slew.turn(1, 2.0, 4.0);
        assert!((slew.weights(3.0)[1] - 0.25).abs() < 1e-12);
        assert!((slew.rates(3.0)[1] - 0.25).abs() < 1e-12);
        assert!((slew.weights(6.0)[1] - 1.0).abs() < 1e-12);
        assert!(slew.rates(6.0).iter().all(|rate| rate.abs() < 1e-12));
    }

    #[test]
    fn a_ramp_turned_back_half_way_takes_half_the_time() {
        let mut slew = Slew::rest(0);
        slew.turn(1, 0.0, 4.0);
        slew.turn(0, 2.0, 4.0);
        assert!((slew.end_s() - 4.0).abs() < 1e-12);
        assert!((slew.weights(3.0)[1] - 0.25).abs() < 1e-12);
    }

    #[test]
    fn a_gate_ramp_is_centred_on_its_delay() {
        let speed = [GateSpeed { supply_volts: 5.0, delay_s: 100e-9, transition_s: 80e-9 }];
        let (start, ramp) = gate_times_s(&speed, 5.0);
        assert!((ramp - 100e-9).abs() < 1e-15);
        assert!((start - 50e-9).abs() < 1e-15);
    }
}
