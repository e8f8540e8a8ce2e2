//! Modulator, tuner and detector, field by field.

use crate::base::math;
use crate::path::PathError;
use crate::path::filter::Sideband;
use crate::path::gain::GainControl;
use crate::path::noise::Noise;
use crate::path::spec::Detector;
use crate::path::spec::PathSpec;
use crate::signal::trace::Trace;

/// What the trace of a detector's output is called, where others have the name of a node.
pub const DETECTOR: &str = "detector";

/// A link that fields are sent over, one after another.
#[derive(Debug)]
pub struct Link {
    spec: PathSpec,
    sideband: Sideband,
    noise: Option<Noise>,
    gain: GainControl,
    /// The end of the field before, as long as the filter looks back; empty before the first.
    before: Vec<(f64, f64)>,
    field: u64,
}

impl Link {
    /// A link for samples `step_s` apart.
    ///
    /// # Errors
    ///
    /// [`PathError::TooFewSamples`] if the sidebands do not fit between the samples.
    pub fn new(spec: &PathSpec, step_s: f64) -> Result<Self, PathError> {
        Ok(Self {
            spec: spec.clone(),
            sideband: Sideband::new(&spec.system.data(), step_s)?,
            noise: Noise::new(spec, 1.0 / step_s),
            gain: GainControl::new(spec.agc_s, step_s),
            before: Vec::new(),
            field: 0,
        })
    }

    /// Sends the next field: volts at the modulator's input in, volts at the set's video input out,
    /// tip at 0, at the same times. What follows the field is taken to begin as it does.
    ///
    /// # Errors
    ///
    /// [`PathError::NoSignal`] if there are fewer samples than the filter is long, or one is no
    /// number.
    pub fn send(&mut self, input: &Trace) -> Result<Trace, PathError> {
        let half = self.sideband.half();
        let volts = &input.volts;
        if volts.len() < half || volts.iter().any(|volts| !volts.is_finite()) {
            return Err(PathError::NoSignal);
        }
        let (real, imaginary) = self.around(volts);
        let (re, im) = self.sideband.filtered(&real, &imaginary);
        let mut carrier: Vec<f64> = match self.spec.detector {
            Detector::Envelope => {
                re.iter().zip(&im).map(|(re, im)| (re * re + im * im).sqrt()).collect()
            }
            Detector::Synchronous => re,
        };
        self.gain.control(&mut carrier);
        self.field += 1;
        let volts = carrier.iter().map(|&share| math::to_f32(self.spec.detected_v(share)));
        Ok(Trace { node: DETECTOR.to_owned(), rate: input.rate, volts: volts.collect() })
    }

    /// Carrier and noise of a field, with what lies before and after it.
    fn around(&mut self, volts: &[f32]) -> (Vec<f64>, Vec<f64>) {
        let half = self.sideband.half();
        let mut all: Vec<(f64, f64)> =
            volts.iter().map(|&volts| (self.spec.carrier(f64::from(volts)), 0.0)).collect();
        let mut after: Vec<(f64, f64)> = all[..half].to_vec();
        let first = all[all.len() - half..].to_vec();
        if let Some(noise) = &self.noise {
            add(&mut all, &noise.field(self.field, volts.len()));
            add(&mut after, &noise.field(self.field + 1, half));
        }
        let ended = all[all.len() - half..].to_vec();
        let mut before = std::mem::replace(&mut self.before, ended);
        if before.is_empty() {
            before = first;
        }
        let around = || before.iter().chain(&all).chain(&after);
        (around().map(|sample| sample.0).collect(), around().map(|sample| sample.1).collect())
    }
}

fn add(samples: &mut [(f64, f64)], noise: &[(f64, f64)]) {
    for (sample, noise) in samples.iter_mut().zip(noise) {
        sample.0 += noise.0;
        sample.1 += noise.1;
    }
}
