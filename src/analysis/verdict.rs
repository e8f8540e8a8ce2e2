//! The words for what is seen.

use crate::scenario::VerdictLines;

/// How well an element stands out from its surroundings.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Seen {
    /// Not to be seen.
    Missing,
    /// To be seen by who looks for it.
    Faint,
    /// Plainly seen.
    Clear,
}

impl Seen {
    /// The word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Missing => "missing",
            Self::Faint => "faint",
            Self::Clear => "clear",
        }
    }
}

/// What else there is to say about an element.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Note {
    /// Darker than its surroundings.
    Dark,
    /// Within the stated distance of the field lines.
    SameShade,
    /// Above the stated share of the span.
    BrighterThanWhite,
    /// Too slow for its width: edges longer than the element, or the peak short of its level.
    Smeared,
    /// Still there when as much time again as it is wide has passed: a tail to its right.
    DrawnOut,
}

impl Note {
    /// The words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Dark => "dark",
            Self::SameShade => "same shade as the field lines",
            Self::BrighterThanWhite => "brighter than white",
            Self::Smeared => "smeared",
            Self::DrawnOut => "drawn out to the right",
        }
    }
}

/// How well a set can hold on to the sync.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum SyncState {
    /// Too shallow, or upside down.
    Failing,
    /// Shallow: some sets will not hold.
    Weak,
    /// Deep enough.
    Good,
}

impl SyncState {
    /// The word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Failing => "failing",
            Self::Weak => "weak",
            Self::Good => "good",
        }
    }

    /// The word of an element that is as well off.
    #[must_use]
    pub fn seen(self) -> Seen {
        match self {
            Self::Failing => Seen::Missing,
            Self::Weak => Seen::Faint,
            Self::Good => Seen::Clear,
        }
    }

    /// The word of a sync that is as well off as an element.
    #[must_use]
    pub fn like(seen: Seen) -> Self {
        match seen {
            Seen::Missing => Self::Failing,
            Seen::Faint => Self::Weak,
            Seen::Clear => Self::Good,
        }
    }
}

impl VerdictLines {
    /// The word for a level `delta_v` above its surroundings, V.
    #[must_use]
    pub fn seen(&self, delta_v: f64) -> Seen {
        let share = delta_v.abs() / self.span_v;
        if share < self.missing {
            Seen::Missing
        } else if share < self.faint {
            Seen::Faint
        } else {
            Seen::Clear
        }
    }

    /// The notes for a level, against the field lines' level where there are field lines and this
    /// is not them. A missing element has no shade to speak of.
    #[must_use]
    pub fn notes(&self, delta_v: f64, field_delta_v: Option<f64>) -> Vec<Note> {
        let mut notes = Vec::new();
        if self.seen(delta_v) == Seen::Missing {
            return notes;
        }
        if delta_v < 0.0 {
            notes.push(Note::Dark);
        }
        if field_delta_v.is_some_and(|field_v| {
            self.seen(field_v) != Seen::Missing
                && (delta_v - field_v).abs() <= self.same_shade * self.span_v
        }) {
            notes.push(Note::SameShade);
        }
        if delta_v > self.brighter * self.span_v {
            notes.push(Note::BrighterThanWhite);
        }
        notes
    }

    /// The word for a sync depth (black minus tip), V.
    #[must_use]
    pub fn sync(&self, depth_v: f64) -> SyncState {
        if depth_v >= self.sync_good_v {
            SyncState::Good
        } else if depth_v >= self.sync_weak_v {
            SyncState::Weak
        } else {
            SyncState::Failing
        }
    }
}
