//! The ramp: a capacitor that the chip empties as the field starts and that charges through the
//! potentiometer until it passes a threshold, where the paddle begins.

use crate::base::math;
use std::f64::consts::TAU;

/// The parts beside the potentiometer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ramp {
    /// What it charges towards, V.
    pub supply_v: f64,
    /// Where the paddle begins.
    pub threshold: Threshold,
    /// Fixed resistance in series with the potentiometer, Ω.
    pub series_ohms: f64,
    /// The capacitor, F.
    pub farads: f64,
    /// What the lead adds to it, F.
    pub lead_farads: f64,
    /// Leakage across the capacitor, Ω; infinite if there is none.
    pub leak_ohms: f64,
}

/// When the paddle begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Threshold {
    /// At these volts, whatever the supply.
    Volts(f64),
    /// At this share of the supply.
    Share(f64),
}

/// Mains on the ramp.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hum {
    /// Peak, V.
    pub volts: f64,
    /// Mains frequency, Hz.
    pub hertz: f64,
}

impl Hum {
    /// Its volts at a time after the first field's start.
    #[must_use]
    pub fn at(&self, seconds: f64) -> f64 {
        // Whole periods are taken off first: late fields lose nothing.
        let turns = self.hertz * seconds;
        self.volts * math::sin(TAU * (turns - math::floor(turns)))
    }
}

impl Ramp {
    /// The threshold, V.
    #[must_use]
    pub fn threshold_v(&self) -> f64 {
        match self.threshold {
            Threshold::Volts(volts) => volts,
            Threshold::Share(share) => share * self.supply_v,
        }
    }

    /// Capacitor and lead, F.
    #[must_use]
    pub fn all_farads(&self) -> f64 {
        self.farads + self.lead_farads
    }

    /// What the ramp would end at, V, and its time constant, s, through `ohms` in all.
    #[must_use]
    pub fn charging(&self, ohms: f64) -> (f64, f64) {
        // The leak makes a divider of the resistance, and lies beside it.
        let share = 1.0 / (1.0 + ohms / self.leak_ohms);
        (self.supply_v * share, ohms * share * self.all_farads())
    }

    /// Volts a time after the field's start, through `ohms` in all.
    #[must_use]
    pub fn volts(&self, ohms: f64, seconds: f64) -> f64 {
        let (end_v, time_s) = self.charging(ohms);
        -end_v * math::expm1(-seconds / time_s)
    }

    /// When the threshold is passed, s after the field's start, through `ohms` in all; `None` if
    /// never.
    ///
    /// # Source
    ///
    /// Charging of a capacitor: t = R C ln(V / (V − Vth)). A leak Rl makes V Rl / (R + Rl) of V and
    /// R Rl / (R + Rl) of R.
    #[must_use]
    pub fn crossing_s(&self, ohms: f64) -> Option<f64> {
        let (end_v, time_s) = self.charging(ohms);
        let threshold_v = self.threshold_v();
        (ohms.is_finite() && end_v > threshold_v)
            .then(|| -time_s * math::ln(1.0 - threshold_v / end_v))
    }

    /// How steeply the ramp passes the threshold, V/s; not above 0 if it never does.
    #[must_use]
    pub fn slope(&self, ohms: f64) -> f64 {
        let (end_v, time_s) = self.charging(ohms);
        (end_v - self.threshold_v()) / time_s
    }

    /// The resistance in all through which the threshold is passed after `seconds`, Ω.
    #[must_use]
    pub fn ohms_for(&self, seconds: f64) -> f64 {
        let (_, unit_s) = Self { leak_ohms: f64::INFINITY, ..*self }.charging(1.0);
        let plain = -seconds / (unit_s * math::ln(1.0 - self.threshold_v() / self.supply_v));
        if self.leak_ohms.is_infinite() {
            return plain;
        }
        // A leak only ever makes the ramp slower.
        let (mut low, mut high) = (0.0, plain);
        for _ in 0..200 {
            let middle = 0.5 * (low + high);
            let late = self.crossing_s(middle).is_none_or(|found| found > seconds);
            if late { high = middle } else { low = middle }
        }
        0.5 * (low + high)
    }
}

/// Steps in which a first passage is looked for under hum: far finer than a period of the mains.
pub(crate) const HUM_STEPS: u32 = 1024;
/// What only ever rises is below up to its one passage.
pub(crate) const RISING: u32 = 1;

/// The first time up to `end_s` at which `above` is not below 0, s, if it does not come and go within
/// one of so many steps.
pub(crate) fn first_passage(end_s: f64, steps: u32, above: impl Fn(f64) -> f64) -> Option<f64> {
    let at = |step: u32| end_s * f64::from(step) / f64::from(steps);
    let step = (0..=steps).find(|&step| above(at(step)) >= 0.0)?;
    let (mut before, mut after) = (at(step.saturating_sub(1)), at(step));
    for _ in 0..60 {
        let middle = 0.5 * (before + after);
        if above(middle) < 0.0 { before = middle } else { after = middle }
    }
    Some(after)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::controller::sample::RAMP;

    #[test]
    fn the_ramp_is_at_the_threshold_when_it_is_said_to_pass_it() {
        for leak_ohms in [f64::INFINITY, 2e7, 2e6] {
            let ramp = Ramp { leak_ohms, ..RAMP };
            for ohms in [2e4, 5e5, 1e6] {
                let seconds = ramp.crossing_s(ohms).unwrap();
                assert!((ramp.volts(ohms, seconds) - 1.0).abs() < 1e-12);
                assert!((ramp.ohms_for(seconds) / ohms - 1.0).abs() < 1e-9);
                let step = 1e-7;
                let slope = (ramp.volts(ohms, seconds + step) - ramp.volts(ohms, seconds - step))
                    / (2.0 * step);
                assert!((slope / ramp.slope(ohms) - 1.0).abs() < 1e-6);
                let found = [RISING, HUM_STEPS]
                    .map(|steps| first_passage(1.0, steps, |t| ramp.volts(ohms, t) - 1.0).unwrap());
                assert!(found.iter().all(|found| (found - seconds).abs() < 1e-9));
            }
        }
    }

    /// 6.5 V through 900 k, with 100 k across: 0.65 V is all it comes to.
    #[test]
    fn a_leak_may_keep_the_ramp_below_the_threshold_for_ever() {
        let leaky = Ramp { leak_ohms: 1e5, ..RAMP };
        assert_eq!(leaky.crossing_s(9e5), None);
        assert_eq!(RAMP.crossing_s(f64::INFINITY), None);
    }
}
