//! Two ramps that are fed through one lead: what one draws, the other misses.

use crate::base::math;
use crate::raster::controller::ramp::RISING;
use crate::raster::controller::ramp::Ramp;
use crate::raster::controller::ramp::first_passage;

/// Two ramps, the resistance through which each is charged, and that of the lead they share.
#[derive(Clone, Copy, Debug)]
pub struct Pair<'a> {
    /// The ramps, on one supply.
    pub ramps: [&'a Ramp; 2],
    /// Resistance of each, Ω, without the shared lead; finite.
    pub ohms: [f64; 2],
    /// The shared lead, Ω, above 0.
    pub common_ohms: f64,
}

/// One capacitor's volts: what it ends at, and two exponentials.
#[derive(Clone, Copy, Debug)]
pub struct Course {
    end_v: f64,
    amounts_v: [f64; 2],
    rates: [f64; 2],
}

impl Course {
    /// Volts a time after the field's start.
    #[must_use]
    pub fn volts(&self, seconds: f64) -> f64 {
        let [first, second] = self.rates.map(|rate| math::exp(rate * seconds));
        self.end_v + self.amounts_v[0] * first + self.amounts_v[1] * second
    }
}

impl Pair<'_> {
    /// The course of each.
    ///
    /// # Source
    ///
    /// Kirchhoff's currents where the leads meet, and dv/dt = A v + b for the two capacitors; both
    /// rates are real and differ, since what each takes from the other has the same sign.
    #[must_use]
    pub fn courses(&self) -> [Course; 2] {
        let siemens = self.ohms.map(|ohms| 1.0 / ohms);
        let all = 1.0 / self.common_ohms + siemens[0] + siemens[1];
        let supply_v = self.ramps[0].supply_v;
        let leak = self.ramps.map(|ramp| 1.0 / ramp.leak_ohms);
        let farads = self.ramps.map(|ramp| ramp.all_farads());
        let own = |one: usize| -(siemens[one] * (1.0 - siemens[one] / all) + leak[one]);
        let between = siemens[0] * siemens[1] / all;
        let matrix =
            [[own(0) / farads[0], between / farads[0]], [between / farads[1], own(1) / farads[1]]];
        let fed = |one: usize| siemens[one] * supply_v / (self.common_ohms * all) / farads[one];
        let feed = [fed(0), fed(1)];
        let half = 0.5 * (matrix[0][0] + matrix[1][1]);
        let apart = 0.5 * (matrix[0][0] - matrix[1][1]);
        let root = (apart * apart + matrix[0][1] * matrix[1][0]).sqrt();
        let rates = [half + root, half - root];
        let determinant = matrix[0][0] * matrix[1][1] - matrix[0][1] * matrix[1][0];
        let course = |one: usize| {
            let other = 1 - one;
            let end_v =
                (matrix[one][other] * feed[other] - matrix[other][other] * feed[one]) / determinant;
            // It starts at 0 V and with the slope of its feed.
            let second = (feed[one] + rates[0] * end_v) / (rates[1] - rates[0]);
            Course { end_v, amounts_v: [-end_v - second, second], rates }
        };
        [course(0), course(1)]
    }

    /// When each passes its threshold, s, up to `end_s`; `None` if not.
    #[must_use]
    pub fn crossings_s(&self, end_s: f64) -> [Option<f64>; 2] {
        let courses = self.courses();
        [0, 1].map(|one| {
            let threshold_v = self.ramps[one].threshold_v();
            // Each only takes from the other what it has yet to gain: both rise throughout.
            first_passage(end_s, RISING, |seconds| courses[one].volts(seconds) - threshold_v)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::controller::ramp::Threshold;

    const RAMP: Ramp = Ramp {
        supply_v: 6.5,
        threshold: Threshold::Volts(1.0),
        series_ohms: 0.0,
        farads: 100e-9,
        lead_farads: 0.0,
        leak_ohms: 5e6,
    };

    /// Two alike share the lead as each would have twice its resistance to itself.
    #[test]
    fn two_alike_see_twice_the_lead() {
        let pair = Pair { ramps: [&RAMP; 2], ohms: [4e5; 2], common_ohms: 5e4 };
        let alone = RAMP.crossing_s(5e5).unwrap();
        for found in pair.crossings_s(0.02) {
            assert!((found.unwrap() - alone).abs() < 1e-9);
        }
    }

    /// The same equations in small steps, by Heun's method.
    #[test]
    fn the_course_is_that_of_small_steps() {
        let other = Ramp { farads: 47e-9, leak_ohms: f64::INFINITY, ..RAMP };
        let pair = Pair { ramps: [&RAMP, &other], ohms: [3e5, 9e5], common_ohms: 2e5 };
        let slopes = |v: [f64; 2]| {
            let all = 1.0 / 2e5 + 1.0 / 3e5 + 1.0 / 9e5;
            let meet = (6.5 / 2e5 + v[0] / 3e5 + v[1] / 9e5) / all;
            [((meet - v[0]) / 3e5 - v[0] / 5e6) / 100e-9, (meet - v[1]) / 9e5 / 47e-9]
        };
        let (mut volts, step) = ([0.0; 2], 1e-5);
        for _ in 0..2000 {
            let first = slopes(volts);
            let second = slopes([0, 1].map(|one| volts[one] + step * first[one]));
            volts = [0, 1].map(|one| volts[one] + 0.5 * step * (first[one] + second[one]));
        }
        for (course, volts) in pair.courses().iter().zip(volts) {
            assert!((course.volts(0.02) - volts).abs() < 1e-6, "{} {volts}", course.volts(0.02));
        }
    }
}
