//! The tuner's noise.

use crate::base::math;
use crate::base::random::Draws;
use crate::path::spec::PathSpec;
use std::f64::consts::TAU;

/// Boltzmann's constant, J/K.
///
/// # Source
///
/// Exact since 2019: the SI brochure, 9th edition.
const BOLTZMANN: f64 = 1.380_649e-23;
/// Temperature at which noise figures are stated, K.
///
/// # Source
///
/// H. T. Friis, Proceedings of the IRE 32 (1944), 419; 290 K by IRE standards.
const STANDARD_K: f64 = 290.0;
/// The tuner's input, Ω.
///
/// # Source
///
/// Common practice of aerial plugs, no source; 47 CFR 15.115(b)(1)(ii) prints its limit for 75 Ω.
const INPUT_OHMS: f64 = 75.0;

/// The noise of a tuner at its input over a band, V rms across 75 Ω matched: √(k T₀ B R F).
#[must_use]
pub fn noise_v(noise_figure_db: f64, band_hz: f64) -> f64 {
    let figure = math::pow(10.0, noise_figure_db / 10.0);
    (BOLTZMANN * STANDARD_K * band_hz * INPUT_OHMS * figure).sqrt()
}

/// Noise about the carrier for samples, as shares of the full carrier: in phase and in quadrature,
/// white over the sample rate.
#[derive(Debug)]
pub struct Noise {
    /// Deviation of either part.
    deviation: f64,
    seed: u64,
}

impl Noise {
    /// The noise of a tuner that gets `spec.level_v`; `None` if it has none.
    #[must_use]
    pub fn new(spec: &PathSpec, rate_hz: f64) -> Option<Self> {
        let figure = spec.noise_figure_db?;
        // A carrier of rms V is the length 1; noise of that rms has half its power in either part.
        let share = noise_v(figure, rate_hz) / spec.level_v;
        Some(Self { deviation: share * 0.5_f64.sqrt(), seed: spec.seed })
    }

    /// The first `count` samples of a field, the same however many are asked for.
    #[must_use]
    pub fn field(&self, field: u64, count: usize) -> Vec<(f64, f64)> {
        let mut draws = Draws::new(self.seed, field);
        (0..count)
            .map(|_| {
                // Both of Box and Muller's two.
                let radius = self.deviation * (-2.0 * math::ln(draws.uniform())).sqrt();
                let angle = TAU * draws.uniform();
                (radius * math::cos(angle), radius * math::sin(angle))
            })
            .collect()
    }
}
