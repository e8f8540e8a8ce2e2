//! The clock by the beat of the field against the mains: how long a hum bar takes to come round.

use crate::analysis::clock::Counts;
use thiserror::Error;

/// What a hum bar does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Bar {
    /// Field and mains are the same: it stands.
    Stands,
    /// It crawls over the whole screen.
    Crawls {
        /// Time to come round, s.
        period_s: f64,
        /// Which way.
        way: Way,
    },
}

/// Which way a bar crawls.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// Down the screen: the field is the faster of the two, and the same point of the mains comes
    /// later in each field.
    Down,
    /// Up the screen: the mains are the faster.
    Up,
}

/// Rates closer than this are one: a bar that takes a day.
const SAME_HZ: f64 = 1e-5;

impl Bar {
    /// What a bar does. Hum at twice the mains makes two bars, each of which still takes this long
    /// to come round by itself.
    #[must_use]
    pub fn of(field_hz: f64, mains_hz: f64) -> Self {
        let beat = field_hz - mains_hz;
        if beat.abs() < SAME_HZ {
            return Self::Stands;
        }
        let way = if beat > 0.0 { Way::Down } else { Way::Up };
        Self::Crawls { period_s: 1.0 / beat.abs(), way }
    }
}

/// What turning the core inwards a little did to the time a bar takes. Inwards is more inductance
/// and a lower clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turned {
    /// It grew: the field came nearer to the mains, from above.
    Grew,
    /// It shrank: the field went away from the mains, below them.
    Shrank,
}

/// What was seen of a bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    /// Time to come round, s; `None` if it stands.
    pub period_s: Option<f64>,
    /// The mains, Hz.
    pub mains_hz: f64,
    /// What turning the core inwards did to it.
    pub turned: Option<Turned>,
    /// Which way it crawls.
    pub way: Option<Way>,
}

/// A clock that gives such a bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Candidate {
    /// The clock, Hz.
    pub clock_hz: f64,
    /// How well it is known to either side, Hz.
    pub doubt_hz: f64,
    /// Its field rate, Hz.
    pub field_hz: f64,
}

/// Why what was seen cannot be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum BeatError {
    /// Turning says one side, the crawl the other.
    #[error(
        "the bar and the core contradict each other: down, or a time that grew as the core was \
         turned in, means a field faster than the mains; up, or a time that shrank, a slower one"
    )]
    Contradiction,
    /// A standing bar has no time and no way.
    #[error("a bar that stands goes neither way, and has no time that could grow")]
    Stands,
}

/// How far the mains stray in the short run, Hz: common practice, no source.
const MAINS_DOUBT_HZ: f64 = 0.05;
/// How well a hand times a bar, s: common practice, no source.
const HAND_S: f64 = 0.3;

/// The clocks that give such a bar: lines × clocks × (mains ± 1/T), the higher first; one of them
/// if it is known on which side the field is.
///
/// # Errors
///
/// [`BeatError`] if what was seen cannot be.
pub fn candidates(seen: &Seen, counts: Counts) -> Result<Vec<Candidate>, BeatError> {
    let by_turn = seen.turned.map(|turned| turned == Turned::Grew);
    let by_way = seen.way.map(|way| way == Way::Down);
    if let (Some(turn), Some(way)) = (by_turn, by_way)
        && turn != way
    {
        return Err(BeatError::Contradiction);
    }
    let is_above = by_turn.or(by_way);
    let clocks = counts.clocks_per_field();
    let at = |field_hz: f64, doubt_hz: f64| Candidate {
        clock_hz: clocks * field_hz,
        doubt_hz: clocks * doubt_hz,
        field_hz,
    };
    let Some(period_s) = seen.period_s else {
        if is_above.is_some() {
            return Err(BeatError::Stands);
        }
        return Ok(vec![at(seen.mains_hz, MAINS_DOUBT_HZ)]);
    };
    let beat_hz = 1.0 / period_s;
    let doubt_hz = MAINS_DOUBT_HZ + HAND_S * beat_hz * beat_hz;
    let sides = [(true, seen.mains_hz + beat_hz), (false, seen.mains_hz - beat_hz)];
    let fitting = sides.into_iter().filter(|(above, field_hz)| {
        is_above.is_none_or(|known| known == *above) && *field_hz > 0.0
    });
    Ok(fitting.map(|(_, field_hz)| at(field_hz, doubt_hz)).collect())
}
