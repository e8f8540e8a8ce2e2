//! The waveform that the set is receiving and the one before it, as one stretch of samples.

use crate::base::math;
use std::borrow::Cow;

/// Two waveforms in a row. Times are counted from the start of the later one.
#[derive(Clone, Copy, Debug)]
pub struct Tape<'a> {
    /// Samples before time 0.
    pub earlier: &'a [f32],
    /// Samples from time 0 on.
    pub now: &'a [f32],
    /// Time between samples, s.
    pub step_s: f64,
}

impl<'a> Tape<'a> {
    /// Where a time lies, in samples from the start of the earlier waveform.
    #[must_use]
    pub fn place(&self, time_s: f64) -> f64 {
        time_s / self.step_s + math::from_usize(self.earlier.len())
    }

    /// So many samples from that place on, or fewer at the end.
    #[must_use]
    pub fn samples(&self, first: usize, count: usize) -> Cow<'a, [f32]> {
        let seam = self.earlier.len();
        let last = first.saturating_add(count).min(seam + self.now.len());
        if first >= seam {
            Cow::Borrowed(self.now.get(first - seam..last.max(first) - seam).unwrap_or_default())
        } else if last <= seam {
            Cow::Borrowed(&self.earlier[first..last])
        } else {
            Cow::Owned([&self.earlier[first..], &self.now[..last - seam]].concat())
        }
    }

    /// The samples between two times; none before the earlier waveform.
    #[must_use]
    pub fn between(&self, from_s: f64, to_s: f64) -> Cow<'a, [f32]> {
        let (from, to) = (math::ceil(self.place(from_s)), math::floor(self.place(to_s)));
        if from < 0.0 || to < from {
            return Cow::Borrowed(&[]);
        }
        self.samples(math::floor_index(from), math::floor_index(to - from) + 1)
    }
}
