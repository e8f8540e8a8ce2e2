//! What the wiper's contact adds: noise as it stands, spikes and openings as it moves.

use crate::base::random::Draws;
use crate::raster::controller::track::Track;

/// The contact of a wiper.
///
/// # Source
///
/// A model from common practice, without a source: noise as it stands is Gaussian; what dirt and
/// wear add as the wiper moves only ever adds resistance, at moments of a Poisson process.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contact {
    /// Deviation of the resistance as the wiper stands, share of the whole track.
    pub standing: f64,
    /// Spikes each time the worn zone is crossed.
    pub spikes: f64,
    /// Their mean height, share of the whole track; they are distributed exponentially.
    pub spike_height: f64,
    /// Fields that the longest lasts.
    pub spike_fields: u32,
    /// Times that the contact opens each time the worn zone is crossed.
    pub openings: f64,
    /// Middle of the worn zone, share of the rotation.
    pub zone_middle: f64,
    /// Its width, degrees.
    pub zone_deg: f64,
}

/// Longest that a contact stays open, fields.
const OPEN_FIELDS: u32 = 2;

impl Contact {
    /// The same after cleaning: a fifth of the standing noise and a third of the spikes are left.
    /// Where the track is worn through, it stays so.
    #[must_use]
    pub fn cleaned(self) -> Self {
        Self { standing: self.standing / 5.0, spikes: self.spikes / 3.0, ..self }
    }

    /// Whether the wiper is in the worn zone with the knob there.
    #[must_use]
    pub fn is_worn_at(&self, knob: f64, track: &Track) -> bool {
        2.0 * (knob - self.zone_middle).abs() * track.rotation_deg <= self.zone_deg
    }

    /// Resistance added in one field, Ω, infinite while the contact is open: `moved_deg(field)` is
    /// by how much the knob was turned within the worn zone in a field.
    ///
    /// What lasts longer than a field is found by looking back, so that every field can be told by
    /// itself.
    pub(crate) fn added_ohms(
        &self,
        track: &Track,
        (seed, field): (u64, u64),
        moved_deg: impl Fn(u64) -> f64,
    ) -> f64 {
        let longest = u64::from(self.spike_fields.max(OPEN_FIELDS));
        let mut added = 0.0;
        for begun in field.saturating_sub(longest - 1)..=field {
            let mut draws = Draws::new(seed, begun);
            let standing = self.standing * draws.normal();
            if begun == field {
                added += standing;
            }
            let crossings = moved_deg(begun) / self.zone_deg;
            for _ in 0..draws.poisson(self.spikes * crossings) {
                let height = draws.exponential(self.spike_height);
                if begun + u64::from(draws.one_to(self.spike_fields)) > field {
                    added += height;
                }
            }
            for _ in 0..draws.poisson(self.openings * crossings) {
                if begun + u64::from(draws.one_to(OPEN_FIELDS)) > field {
                    return f64::INFINITY;
                }
            }
        }
        added * track.ohms
    }
}
