//! A waveform against a stored one.

use crate::signal::trace::Trace;

/// A waveform as a file keeps it.
#[derive(Clone, Debug, PartialEq)]
pub struct StoredWave {
    /// Samples a second, rounded to whole hertz.
    pub rate_hz: u32,
    /// Samples, V; every one a finite number.
    pub volts: Vec<f32>,
}

/// How a waveform stands to the stored one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Likeness {
    /// Of the same rate and length, and nowhere further apart than this.
    Apart {
        /// Largest difference of two samples, V.
        worst_v: f64,
        /// The sample at which it lies, the first of equals.
        sample: usize,
    },
    /// Another rate, Hz.
    OtherRate {
        /// Of the stored one, rounded.
        stored_hz: u32,
        /// Of the board's.
        found_hz: f64,
    },
    /// Another number of samples.
    OtherLength {
        /// Of the stored one.
        stored: usize,
        /// Of the board's.
        found: usize,
    },
    /// Nothing is stored yet.
    NotStored,
    /// It has just been stored.
    Accepted,
}

impl Likeness {
    /// Compares sample by sample.
    #[must_use]
    pub fn of(stored: &StoredWave, found: &Trace) -> Self {
        let found_hz = found.rate.hertz();
        // The file holds whole hertz.
        if (found_hz - f64::from(stored.rate_hz)).abs() > 0.5 + 1e-6 {
            return Self::OtherRate { stored_hz: stored.rate_hz, found_hz };
        }
        let (stored, found) = (&stored.volts, &found.volts);
        if stored.len() != found.len() {
            return Self::OtherLength { stored: stored.len(), found: found.len() };
        }
        let (mut worst_v, mut sample) = (0.0, 0);
        for (at, (a, b)) in stored.iter().zip(found).enumerate() {
            let apart_v = (f64::from(*a) - f64::from(*b)).abs();
            if apart_v > worst_v {
                (worst_v, sample) = (apart_v, at);
            }
        }
        Self::Apart { worst_v, sample }
    }

    /// Whether it is near enough.
    #[must_use]
    pub fn is_within(&self, within_v: f64) -> bool {
        match self {
            Self::Apart { worst_v, .. } => *worst_v <= within_v,
            Self::Accepted => true,
            Self::OtherRate { .. } | Self::OtherLength { .. } | Self::NotStored => false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::ticks::ClockRate;

    fn likeness(stored: &[f32], rate_hz: u32) -> Likeness {
        let rate = ClockRate::new(48_000_001, 3).unwrap();
        let found = Trace { node: "plug".to_owned(), rate, volts: vec![0.25, 0.5, 1.0] };
        Likeness::of(&StoredWave { rate_hz, volts: stored.to_vec() }, &found)
    }

    #[test]
    fn the_worst_sample_decides() {
        let apart = likeness(&[0.25, 0.75, 0.875], 16_000_000);
        assert_eq!(apart, Likeness::Apart { worst_v: 0.25, sample: 1 });
        assert!(apart.is_within(0.25) && !apart.is_within(0.249));
    }

    #[test]
    fn another_rate_or_length_is_no_likeness_however_wide_the_tolerance() {
        let length = likeness(&[0.25, 0.5], 16_000_000);
        assert_eq!(length, Likeness::OtherLength { stored: 2, found: 3 });
        let rate = likeness(&[0.25, 0.5, 1.0], 16_000_001);
        assert!(matches!(rate, Likeness::OtherRate { stored_hz: 16_000_001, .. }));
        assert!(!length.is_within(1e3) && !rate.is_within(1e3));
        assert!(!Likeness::NotStored.is_within(1e3));
    }
}
