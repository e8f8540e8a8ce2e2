//! The words for what is seen.

use crate::receiver::lock::Lock;
use crate::receiver::spec::Reception;
use crate::scenario::LockLines;
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

/// How a picture stands on the screen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum LockState {
    /// In its place.
    Locked,
    /// Beside its place.
    Shifted,
    /// Not straight.
    Bending,
    /// The set's lines are not those that were sent.
    Torn,
    /// The set's fields are not those that were sent.
    Rolling,
    /// The set shows nothing of it.
    Refused,
}

impl LockState {
    /// The word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Locked => "locked",
            Self::Shifted => "shifted",
            Self::Bending => "bending",
            Self::Torn => "torn",
            Self::Rolling => "rolling",
            Self::Refused => "refused",
        }
    }
}

impl LockLines {
    /// The words for how a set keeps in step, at least one. Torn lines have no phase to speak of;
    /// without sync nothing holds the set.
    #[must_use]
    pub fn states(&self, lock: &Lock) -> Vec<LockState> {
        let mut states = Vec::new();
        let torn = lock.slips.is_none_or(|slips| slips > self.torn_lines);
        match lock.phase.filter(|_| !torn) {
            None => states.push(LockState::Torn),
            Some(phase) => {
                if phase.mean_s.abs() > self.shifted_s {
                    states.push(LockState::Shifted);
                }
                if phase.spread_s() > self.bending_s {
                    states.push(LockState::Bending);
                }
            }
        }
        if lock.slips.is_none() || lock.field_moves_lines.abs() > self.rolling_lines {
            states.push(LockState::Rolling);
        }
        if states.is_empty() {
            states.push(LockState::Locked);
        }
        states
    }
}

impl LockLines {
    /// The words for what a set makes of a waveform.
    #[must_use]
    pub fn states_of(&self, reception: &Reception) -> Vec<LockState> {
        if reception.refused() {
            return vec![LockState::Refused];
        }
        self.states(&reception.lock)
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::receiver::lock::Phase;
    use crate::scenario::expect::LOCK_WORDS;

    const LINES: LockLines =
        LockLines { shifted_s: 1.5e-6, bending_s: 0.5e-6, torn_lines: 0.5, rolling_lines: 0.5 };

    fn lock(mean_s: f64, spread_s: f64, slips: f64, field_moves_lines: f64) -> Lock {
        let (low_s, high_s) = (mean_s - 0.5 * spread_s, mean_s + 0.5 * spread_s);
        let phase = Some(Phase { mean_s, low_s, high_s, top_s: high_s });
        Lock { phase, slips: Some(slips), field_moves_lines, ..Lock::default() }
    }

    /// Another state does not compile here until it has a place among the words.
    #[test]
    fn the_words_that_can_be_expected_are_those_of_the_states() {
        let place = |state: LockState| match state {
            LockState::Locked => 0,
            LockState::Shifted => 1,
            LockState::Bending => 2,
            LockState::Torn => 3,
            LockState::Rolling => 4,
            LockState::Refused => 5,
        };
        let all = [
            LockState::Locked,
            LockState::Shifted,
            LockState::Bending,
            LockState::Torn,
            LockState::Rolling,
            LockState::Refused,
        ];
        assert_eq!(all.len(), LOCK_WORDS.len());
        assert!(all.iter().all(|state| LOCK_WORDS[place(*state)] == state.word()));
    }

    #[test]
    fn every_line_has_its_word() {
        for (lock, words) in [
            (lock(1.4e-6, 0.4e-6, 0.4, -0.4), &["locked"][..]),
            (lock(-1.6e-6, 0.0, 0.0, 0.0), &["shifted"]),
            (lock(0.0, 0.6e-6, 0.0, 0.0), &["bending"]),
            (lock(2e-6, 1e-6, 0.0, 0.0), &["shifted", "bending"]),
            (lock(2e-6, 1e-6, 3.1, 0.0), &["torn"]),
            (lock(0.0, 0.0, 0.0, -7.0), &["rolling"]),
            (lock(9e-6, 9e-6, 20.0, 7.0), &["torn", "rolling"]),
            (Lock::default(), &["torn", "rolling"]),
        ] {
            let found: Vec<&str> = LINES.states(&lock).iter().map(|state| state.word()).collect();
            assert_eq!(found, words, "{lock:?}");
        }
    }
}
