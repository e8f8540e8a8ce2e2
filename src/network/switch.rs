//! Analogue switches in the equations.

use crate::base::math::interpolate;
use crate::network::evaluation::Evaluation;
use crate::network::evaluation::Unknown;
use crate::network::evaluation::Weights;
use crate::network::evaluation::add_to;
use crate::network::evaluation::at;

/// The state of a driver in which a switch conducts.
pub(crate) const CLOSED: usize = 1;

/// The conductance that a switch has above its leakage.
#[derive(Debug)]
pub(crate) struct Switch {
    pub(crate) ends: [Unknown; 2],
    pub(crate) supply: Unknown,
    /// (supply V, Ω)
    pub(crate) on_ohms: Vec<(f64, f64)>,
    /// The driver whose state says how far it is closed.
    pub(crate) driver: usize,
}

impl Switch {
    /// Conductance when closed and its slope against the supply, S and S/V.
    fn siemens(&self, supply: f64) -> (f64, f64) {
        let (ohms, slope) = interpolate(&self.on_ohms, supply);
        (1.0 / ohms, -slope / (ohms * ohms))
    }

    fn volts(&self, x: &[f64]) -> f64 {
        at(x, self.ends[0]) - at(x, self.ends[1])
    }

    /// Adds the current at the present state of its driver.
    pub(crate) fn evaluate(&self, weights: &[Weights], x: &[f64], out: &mut Evaluation) {
        let closed = weights[self.driver][CLOSED];
        if closed == 0.0 {
            return;
        }
        let (siemens, per_supply) = self.siemens(at(x, self.supply));
        let volts = self.volts(x);
        out.add_branch(self.ends, closed * siemens * volts, 0.0);
        out.add_branch_slope(self.ends, closed * siemens, 0.0);
        let [first, second] = self.ends;
        out.add_slope(first, self.supply, closed * per_supply * volts, 0.0);
        out.add_slope(second, self.supply, -closed * per_supply * volts, 0.0);
    }

    /// Adds ∂f/∂t while the driver moves at `rates`.
    pub(crate) fn drift(&self, rates: &[Weights], x: &[f64], out: &mut [f64]) {
        let rate = rates[self.driver][CLOSED];
        let amps = rate * self.siemens(at(x, self.supply)).0 * self.volts(x);
        add_to(out, self.ends[0], amps);
        add_to(out, self.ends[1], -amps);
    }
}
