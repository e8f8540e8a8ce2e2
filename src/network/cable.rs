//! Cable: a transmission line with a delay, a loss and any ends.
//!
//! What travels away from an end leaves as the wave b = v + Z i, with the current i counted into the
//! cable, and arrives at the other end one delay T later as e, where v = Z i + e.
//!
//! So each end looks like a source e behind Z, and only the delay ties the two together. The loss
//! of the conductors is a series resistance R, half of it at each end: direct current sees R, a
//! matched wave loses exp(−R / 2Z), and what one piece of resistance throws back at an end is of
//! the order of R / 4Z, which a cable whose loss is spread throws back spread over two delays.
//!
//! While a signal is steep, e is looked up in what has left the other end
//! (`network/waves.rs`); while it is gentle, the delay is replaced by
//!
//! e + (T/2) de/dt = b − (T/2) db/dt,
//!
//! which errs by (T³/12) d³b/dt³, so that a step need not be shorter than the cable.
//!
//! # Source
//!
//! The waves are the method of characteristics for a lossless line (Bergeron), and lumped series
//! resistance is the usual way to add its loss: H. W. Dommel, "Digital computer solution of
//! electromagnetic transients in single- and multiphase networks", IEEE Trans. Power Apparatus and
//! Systems 88 (1969). The gentle form is the Padé approximant of order (1, 1) of exp(−sT).

use crate::base::math;
use crate::network::circuit::NodeId;
use crate::network::evaluation::Evaluation;
use crate::network::evaluation::MAX_STATES;
use crate::network::evaluation::Unknown;
use crate::network::evaluation::Weights;
use crate::network::evaluation::at;

/// Speed of light, m/s: exact by the definition of the metre.
const LIGHT_METRES_PER_S: f64 = 299_792_458.0;

/// A length of cable between two nodes, its screen at ground at both ends.
#[derive(Clone, Debug, PartialEq)]
pub struct Cable {
    /// The inner conductor's two ends.
    pub ends: [NodeId; 2],
    /// Characteristic impedance Z, Ω, above 0.
    pub impedance_ohms: f64,
    /// Length, m, above 0.
    pub metres: f64,
    /// Speed of a wave as a share of that of light, above 0, up to 1.
    pub velocity: f64,
    /// Loss of a matched cable, dB/m, 0 or more.
    pub decibels_per_metre: f64,
}

impl Cable {
    /// Delay T from end to end, s.
    #[must_use]
    pub fn delay_s(&self) -> f64 {
        self.metres / (self.velocity * LIGHT_METRES_PER_S)
    }

    /// Series resistance R of inner conductor and screen together, Ω: exp(R / 2Z) is the loss.
    #[must_use]
    pub fn series_ohms(&self) -> f64 {
        let nepers = self.decibels_per_metre * self.metres / 20.0 * math::ln(10.0);
        2.0 * self.impedance_ohms * nepers
    }
}

/// Whether the waves that arrive follow from the gentle form; and if they are looked up, the wave at
/// each end. In place of a driver's [`Weights`].
const GENTLE: usize = 0;
const ARRIVING: [usize; 2] = [1, 2];

/// A cable that follows the gentle form, or stands still.
pub(crate) fn gentle() -> Weights {
    let mut weights = [0.0; MAX_STATES];
    weights[GENTLE] = 1.0;
    weights
}

/// A cable at whose ends these waves arrive, V; or their rates, V/s.
pub(crate) fn travelling(arriving: [f64; 2]) -> Weights {
    let mut weights = [0.0; MAX_STATES];
    for (place, wave) in ARRIVING.into_iter().zip(arriving) {
        weights[place] = wave;
    }
    weights
}

/// A cable among the equations.
#[derive(Clone, Debug)]
pub(crate) struct Line {
    ends: [Unknown; 2],
    /// Unknowns of the waves that arrive at the ends, V.
    arriving: [usize; 2],
    /// Of an end, (Z + R/2)⁻¹.
    siemens: f64,
    impedance_ohms: f64,
    pub(crate) delay_s: f64,
}

impl Line {
    pub(crate) fn new(cable: &Cable, ends: [Unknown; 2], arriving: [usize; 2]) -> Self {
        Self {
            ends,
            arriving,
            siemens: 1.0 / (cable.impedance_ohms + 0.5 * cable.series_ohms()),
            impedance_ohms: cable.impedance_ohms,
            delay_s: cable.delay_s(),
        }
    }

    /// The unknowns of the waves that arrive at the ends.
    pub(crate) fn arriving(&self) -> [usize; 2] {
        self.arriving
    }

    /// All unknowns that it has to do with.
    pub(crate) fn unknowns(&self) -> impl Iterator<Item = usize> {
        self.ends.into_iter().flatten().chain(self.arriving)
    }

    /// Share of an end's voltage in the wave that leaves there; the rest is of the one that
    /// arrives.
    fn share(&self) -> f64 {
        2.0 * self.impedance_ohms * self.siemens
    }

    /// Waves that leave the ends, V; given slopes instead of voltages, their slopes.
    pub(crate) fn leaving(&self, x: &[f64]) -> [f64; 2] {
        [0, 1].map(|end| {
            let arriving = x[self.arriving[end]];
            arriving + self.share() * (at(x, self.ends[end]) - arriving)
        })
    }

    /// Adds the currents into the ends, and the two rows of the waves, in amperes: those of the
    /// gentle form have charge, the others have none.
    pub(crate) fn evaluate(&self, weights: &Weights, x: &[f64], out: &mut Evaluation) {
        let gentle = weights[GENTLE];
        let leaving = self.leaving(x);
        let admittance = 1.0 / self.impedance_ohms;
        let half = 0.5 * self.delay_s * admittance;
        for end in [0, 1] {
            let (node, row) = (self.ends[end], self.arriving[end]);
            let wave = Some(row);
            out.add_current(node, self.siemens * (at(x, node) - x[row]));
            out.add_slope(node, node, self.siemens, 0.0);
            out.add_slope(node, wave, -self.siemens, 0.0);
            let far = gentle * leaving[1 - end] + weights[ARRIVING[end]];
            out.add_current(wave, admittance * (x[row] - far));
            out.q[row] += gentle * half * (x[row] + leaving[1 - end]);
            out.add_slope(wave, wave, admittance, gentle * half);
            let [far_node, far_wave] = [self.ends[1 - end], Some(self.arriving[1 - end])];
            let parts = [(far_node, self.share()), (far_wave, 1.0 - self.share())];
            for (column, part) in parts {
                let part = gentle * part;
                out.add_slope(wave, column, -admittance * part, half * part);
            }
        }
    }

    /// Adds ∂f/∂t while the waves that arrive change at `rates`.
    pub(crate) fn drift(&self, rates: &Weights, out: &mut [f64]) {
        for end in [0, 1] {
            out[self.arriving[end]] -= rates[ARRIVING[end]] / self.impedance_ohms;
        }
    }
}
