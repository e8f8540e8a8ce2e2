//! The animation and the sound of a run for other programs.

use crate::output::animation::Delay;
use crate::output::json::thousandth;
use crate::raster::rules::Event;
use crate::raster::rules::Tones;
use crate::signal::timing::FieldTiming;
use serde::Serialize;

/// `animation.png`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AnimationReport {
    /// Frames, one a field.
    pub frames: u32,
    /// Seconds for which each is shown are this ...
    pub delay_numerator: u16,
    /// ... over this.
    pub delay_denominator: u16,
    /// Whether that is the field time to the last digit.
    pub exact: bool,
    /// Seconds by which a minute of frames is too long, or below 0 too short; 0 if it is exact.
    pub drift_s_per_minute: f64,
}

impl AnimationReport {
    /// Fills the report.
    #[must_use]
    pub fn new(frames: u32, delay: Delay, timing: &FieldTiming) -> Self {
        Self {
            frames,
            delay_numerator: delay.numerator,
            delay_denominator: delay.denominator,
            exact: delay.is_exact,
            drift_s_per_minute: delay.drift_s_per_minute(timing),
        }
    }
}

/// `sound.wav`: 1.0 is one volt across the loudspeaker.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SoundReport {
    /// Samples a second.
    pub sample_rate_hz: u32,
    /// Samples in the file: the whole ones of the exact time of the fields.
    pub samples: u64,
    /// Pitch of a hit, Hz.
    pub hit_hz: f64,
    /// Pitch of a rebound from a line or a wall, Hz.
    pub rebound_hz: f64,
    /// Pitch of a point, Hz.
    pub score_hz: f64,
    /// How long a tone lasts, ms.
    pub burst_ms: f64,
    /// How many hits sounded.
    pub hits: u32,
    /// How many rebounds.
    pub rebounds: u32,
    /// How many points.
    pub points: u32,
    /// Largest volts of the file, either way, mV.
    pub peak_mv: f64,
    /// Estimated level of the buzz that is mixed in, dB against the whole sound of the set, with all
    /// of it that lies above the sound; null if there is none.
    pub buzz_estimate_db: Option<f64>,
}

impl SoundReport {
    /// A report of nothing heard yet.
    #[must_use]
    pub fn new(tones: &Tones, timing: &FieldTiming, sample_rate_hz: u32) -> Self {
        let pitch = |clocks: u32| thousandth(timing.clock.hertz() / f64::from(clocks));
        Self {
            sample_rate_hz,
            samples: 0,
            hit_hz: pitch(tones.hit),
            rebound_hz: pitch(tones.rebound),
            score_hz: pitch(tones.score),
            burst_ms: thousandth(1e3 * timing.clock.seconds(u64::from(tones.burst))),
            hits: 0,
            rebounds: 0,
            points: 0,
            peak_mv: 0.0,
            buzz_estimate_db: None,
        }
    }

    /// Counts what a field began with.
    pub fn count(&mut self, event: Option<Event>) {
        match event {
            Some(Event::Hit) => self.hits += 1,
            Some(Event::Rebound) => self.rebounds += 1,
            Some(Event::Score) => self.points += 1,
            None => {}
        }
    }

    /// Counts samples, V.
    pub fn hear(&mut self, volts: &[f32]) {
        self.samples += volts.len() as u64;
        let loudest = volts.iter().fold(0.0_f32, |most, volts| most.max(volts.abs()));
        self.peak_mv = self.peak_mv.max(thousandth(1e3 * f64::from(loudest)));
    }

    /// Tells the estimated level of the buzz, dB.
    pub fn estimate_buzz(&mut self, level_db: f64) {
        self.buzz_estimate_db = Some(thousandth(level_db));
    }

    /// "12 hits, 7 rebounds and 2 points sound".
    #[must_use]
    pub fn words(&self) -> String {
        let some = |count: u32, one: &str| {
            if count == 1 { format!("1 {one}") } else { format!("{count} {one}s") }
        };
        let Self { hits, rebounds, points, .. } = *self;
        let (hits, points) = (some(hits, "hit"), some(points, "point"));
        format!("Heard: {hits}, {} and {points}.", some(rebounds, "rebound"))
    }
}
