//! The adapter: a supply whose voltage moves with the mains.

use crate::base::math;
use crate::network::circuit::NodeId;
use crate::network::evaluation::MAX_STATES;
use crate::network::evaluation::Weights;

/// A plug-in adapter: an open voltage with a ripple on it, behind a resistance.
///
/// The ripple is that of a rectifier into a reservoir capacitor under steady load: it rises
/// straight while the rectifier conducts and falls straight while the capacitor feeds the load.
/// `volts` is its mean; `ripple_volts` is stated from peak to peak and does not follow the load.
///
/// # Source
///
/// The usual first approximation of a capacitor-input rectifier (straight charge, straight
/// discharge), any text on power supplies.
#[derive(Clone, Debug, PartialEq)]
pub struct Adapter {
    /// Positive terminal; the negative one is at ground.
    pub node: NodeId,
    /// Mean open voltage, V.
    pub volts: f64,
    /// Internal resistance, Ω, above 0.
    pub ohms: f64,
    /// Peak to peak, V, 0 or more.
    pub ripple_volts: f64,
    /// Ripple frequency: once the mains with one rectifier, twice with a bridge, Hz.
    pub ripple_hertz: f64,
    /// Where in its period the ripple is at the start of the run, 0 to 1; at 0 it begins to rise.
    pub phase: f64,
    /// Share of the period in which the rectifier conducts, above 0 and below 1.
    pub conduction: f64,
}

/// Where a ripple is, and how fast it goes.
#[derive(Clone, Debug)]
pub(crate) struct Ripple {
    own_hertz: f64,
    hertz: f64,
    /// At the start of the field, 0 to 1.
    phase: f64,
    conduction: f64,
}

impl Ripple {
    /// At the start of a run.
    pub(crate) fn new(adapter: &Adapter) -> Self {
        let hertz = adapter.ripple_hertz;
        Self { own_hertz: hertz, hertz, phase: adapter.phase, conduction: adapter.conduction }
    }

    /// Pulled to the nearest whole number of periods in a field, so that the field can repeat.
    pub(crate) fn pull(&mut self, field_s: f64) {
        self.hertz = math::round(self.own_hertz * field_s).max(1.0) / field_s;
    }

    /// Let go again, at the phase that a field starts with.
    pub(crate) fn release(&mut self, phase: f64) {
        self.hertz = self.own_hertz;
        self.phase = phase;
    }

    /// At the start of the field, 0 to 1.
    pub(crate) fn phase(&self) -> f64 {
        self.phase
    }

    fn phase_at(&self, time_s: f64) -> f64 {
        let turns = self.phase + self.hertz * time_s;
        turns - math::floor(turns)
    }

    /// Shares of the trough and the crest.
    pub(crate) fn weights(&self, time_s: f64) -> Weights {
        let phase = self.phase_at(time_s);
        let height = if phase < self.conduction {
            phase / self.conduction
        } else {
            (1.0 - phase) / (1.0 - self.conduction)
        };
        shares(1.0 - height, height)
    }

    /// Their change a second, on the straight piece that begins or lies at `time_s`.
    pub(crate) fn rates(&self, time_s: f64) -> Weights {
        let phase = self.phase_at(time_s + CORNER_S);
        let rate = if phase < self.conduction {
            self.hertz / self.conduction
        } else {
            -self.hertz / (1.0 - self.conduction)
        };
        shares(-rate, rate)
    }

    /// The next corner after `time_s`, s.
    pub(crate) fn next_corner_s(&self, time_s: f64) -> f64 {
        let phase = self.phase_at(time_s + CORNER_S);
        let ahead = if phase < self.conduction { self.conduction - phase } else { 1.0 - phase };
        time_s + CORNER_S + ahead / self.hertz
    }

    /// Moves the origin of time forward.
    pub(crate) fn rebase(&mut self, by_s: f64) {
        self.phase = self.phase_at(by_s);
    }
}

/// A corner this close is passed already, s.
const CORNER_S: f64 = 1e-12;

/// The mean of a ripple, which standing levels take.
pub(crate) fn mean() -> Weights {
    shares(0.5, 0.5)
}

fn shares(trough: f64, crest: f64) -> Weights {
    let mut weights = [0.0; MAX_STATES];
    weights[0] = trough;
    weights[1] = crest;
    weights
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ripple() -> Ripple {
        Ripple::new(&Adapter {
            node: NodeId(1),
            volts: 9.0,
            ohms: 4.0,
            ripple_volts: 1.0,
            ripple_hertz: 100.0,
            phase: 0.1,
            conduction: 0.2,
        })
    }

    #[test]
    fn it_is_straight_between_its_corners_and_comes_round() {
        let ripple = ripple();
        let mut time_s = 0.0;
        for (corner_s, height) in [(1e-3, 1.0), (9e-3, 0.0), (11e-3, 1.0)] {
            let next_s = ripple.next_corner_s(time_s);
            assert!((next_s - corner_s).abs() < 1e-11, "{next_s}");
            let rise = (next_s - time_s) * ripple.rates(time_s)[1];
            let (here, there) = (ripple.weights(time_s)[1], ripple.weights(next_s)[1]);
            assert!((there - height).abs() < 1e-6, "{there}");
            assert!((here + rise - there).abs() < 1e-6);
            time_s = next_s;
        }
    }

    #[test]
    fn pulled_it_repeats_with_the_field_and_released_it_goes_its_own_way() {
        let mut ripple = ripple();
        let field_s = 19.968e-3;
        ripple.pull(field_s);
        ripple.rebase(field_s);
        assert!((ripple.phase() - 0.1).abs() < 1e-9);
        ripple.release(0.1);
        ripple.rebase(field_s);
        assert!((ripple.phase() - (0.1 + 1.9968 - 1.0 - 1.0 + 1.0)).abs() < 1e-9);
    }
}
