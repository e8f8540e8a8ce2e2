//! What can be heard of a run: the chip's sound pin through its driver into the loudspeaker, and the
//! buzz of a set whose carrier is taken away by the picture.

use crate::base::coupling::Coupling;
use crate::base::math;
use crate::base::ticks::ClockRate;
use crate::network::operating_point::Network;
use crate::network::transient::Transient;
use crate::network::transient::TransientSpec;
use crate::path::gain::MOST_GAIN;
use crate::path::spec::PathSpec;
use crate::path::spec::missing_beat;
use crate::scenario::Scenario;
use crate::scenario::sound::Sound;
use crate::signal::pulse_train::Level;
use crate::signal::pulse_train::PulseTrain;
use crate::signal::trace::Trace;
use crate::simulate::RunError;
use crate::sound::LOWEST_HZ;
use crate::sound::SOUND_HZ;
use crate::sound::band::Band;
use std::num::NonZeroU32;

/// The loudspeakers of a run, field by field.
#[derive(Debug)]
pub(super) struct Ear<'a> {
    transient: Transient<'a>,
    band: Band,
    buzz: Option<BuzzEar<'a>>,
    /// Samples that only one of the two has given yet.
    waiting: [Vec<f32>; 2],
}

/// The loudspeaker of a set that takes its sound from the beat of two carriers.
#[derive(Debug)]
struct BuzzEar<'a> {
    path: &'a PathSpec,
    set_v: f64,
    per_clock: usize,
    band: Band,
    coupling: Option<Coupling>,
}

impl<'a> Ear<'a> {
    /// Ears for a board that is checked.
    pub(super) fn new(network: &'a Network, scenario: &'a Scenario) -> Result<Self, RunError> {
        let Sound { circuit, speaker, set_v } = &scenario.sound;
        let clock = scenario.raster.timing.clock;
        let standing = network.operating_point(&[Level::LOW])?;
        let spec = TransientSpec {
            clock,
            samples_per_clock: 1,
            tolerance_v: scenario.solve.tolerance_v,
            taps: speaker.to_vec(),
        };
        let transient = Transient::new(network, circuit, &standing, &[Level::LOW], spec);
        let per_clock = scenario.solve.samples_per_clock;
        let buzz = scenario.modulator.as_ref().map(|modulator| {
            let per_clock = usize::try_from(per_clock).unwrap_or(1);
            let band = Band::new(clock)?;
            let (path, set_v) = (&modulator.path, *set_v);
            Ok::<_, RunError>(BuzzEar { path, set_v, per_clock, band, coupling: None })
        });
        Ok(Self {
            transient: transient.with_recall(),
            band: Band::new(clock)?,
            buzz: buzz.transpose()?,
            waiting: [Vec::new(), Vec::new()],
        })
    }

    /// What is heard of a field; `input` are the volts at the modulator's input, if there is one.
    pub(super) fn hear(&mut self, pin: &PulseTrain, input: &Trace) -> Result<Vec<f32>, RunError> {
        let ends = self.transient.advance_field(std::slice::from_ref(pin))?;
        let volts: Vec<f32> =
            ends[0].iter().zip(&ends[1]).map(|(one, other)| one - other).collect();
        self.waiting[0].extend(self.band.push(&volts));
        if let Some(buzz) = &mut self.buzz {
            self.waiting[1].extend(buzz.hear(&input.volts));
        }
        Ok(self.mixed())
    }

    /// What is left to be heard.
    pub(super) fn finish(&mut self) -> Vec<f32> {
        self.waiting[0].extend(self.band.finish());
        if let Some(buzz) = &mut self.buzz {
            let rest = buzz.band.finish();
            self.waiting[1].extend(buzz.coupled(rest));
        }
        self.mixed()
    }

    fn mixed(&mut self) -> Vec<f32> {
        let [speaker, set] = &mut self.waiting;
        if self.buzz.is_none() {
            return std::mem::take(speaker);
        }
        let both = speaker.len().min(set.len());
        speaker.drain(..both).zip(set.drain(..both)).map(|(one, other)| one + other).collect()
    }
}

impl BuzzEar<'_> {
    /// The share of the beat that is missing, clock by clock, as sound.
    fn hear(&mut self, volts: &[f32]) -> Vec<f32> {
        let carriers: Vec<f64> =
            volts.iter().map(|&volts| self.path.carrier(f64::from(volts))).collect();
        // Gain control goes by the peak, and makes up for no more than it can.
        let peak = carriers.iter().copied().fold(1.0 / MOST_GAIN, f64::max);
        let per_clock = math::from_usize(self.per_clock);
        let mean = |clock: &[f64]| {
            let missing = clock.iter().map(|carrier| missing_beat(carrier / peak));
            math::to_f32(missing.sum::<f64>() / per_clock)
        };
        let means: Vec<f32> = carriers.chunks(self.per_clock).map(mean).collect();
        if self.coupling.is_none() {
            let sum: f64 = means.iter().map(|&mean| f64::from(mean)).sum();
            let standing = sum / math::from_usize(means.len().max(1));
            let step_s = 1.0 / f64::from(SOUND_HZ);
            self.coupling = Some(Coupling::standing(LOWEST_HZ, step_s, standing));
        }
        let samples = self.band.push(&means);
        self.coupled(samples)
    }

    fn coupled(&mut self, mut samples: Vec<f32>) -> Vec<f32> {
        let Some(coupling) = &mut self.coupling else { return samples };
        coupling.apply(&mut samples);
        // Less beat is less sound: the sign is of no account to the ear.
        samples.iter().map(|&share| math::to_f32(self.set_v * f64::from(share))).collect()
    }
}

/// How many sound samples so many fields make.
#[must_use]
pub fn samples(scenario: &Scenario, fields: u32) -> u64 {
    let clocks = scenario.raster.timing.clocks_per_field().saturating_mul(u64::from(fields));
    Band::samples_after(scenario.raster.timing.clock, clocks)
}

/// The rate of the sound.
#[must_use]
pub fn rate() -> ClockRate {
    const HERTZ: NonZeroU32 = NonZeroU32::new(SOUND_HZ).expect("a sound has samples");
    ClockRate::whole(HERTZ)
}
