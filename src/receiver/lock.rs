//! How a set's lines and fields stand to the sync that it was sent.

use crate::base::math;

/// A set whose lines run away from the sync by more lines than this in a field is called torn, where
/// nothing else is said: a loop that holds slips none, one that does not a line or more. Common
/// practice, no source.
pub const TORN_LINES: f64 = 0.5;

/// How well a set keeps in step, over one of its fields.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Lock {
    /// Where its shown lines start against the sync that was sent for them; `None` if none was
    /// found.
    pub phase: Option<Phase>,
    /// Lines by which its line oscillator runs away from the sync in a field; 0 where it holds.
    /// `None` without sync.
    pub slips: Option<f64>,
    /// Mean line rate of the set, Hz.
    pub line_hz: f64,
    /// Line rate that was sent, Hz.
    pub sent_line_hz: Option<f64>,
    /// Rate of the set's last field, Hz.
    pub field_hz: f64,
    /// Start of the set's field after the start of the field that was sent, lines; `None` if no
    /// field sync was found.
    pub field_phase_lines: Option<f64>,
    /// How far that moves in a field, lines: above 0 the set's field is the longer one.
    pub field_moves_lines: f64,
    /// Fields of sync that it took until one repeated, the picture's own counted; `None` for a
    /// field that only follows another one, and if none repeated.
    pub settled_fields: Option<u32>,
}

/// Start of the set's lines after the leading edge of the line sync, s: above 0 the picture is
/// shifted to the left.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Phase {
    /// Mean over the shown lines.
    pub mean_s: f64,
    /// The least.
    pub low_s: f64,
    /// The greatest.
    pub high_s: f64,
    /// Of the first shown line.
    pub top_s: f64,
}

impl Phase {
    /// Of lines that start at `starts_s`, against the nearest of `edges_s`; both in order.
    #[must_use]
    pub fn of(starts_s: impl Iterator<Item = f64>, edges_s: &[f64]) -> Option<Self> {
        let errors: Vec<f64> = starts_s.filter_map(|start_s| error_s(start_s, edges_s)).collect();
        Some(Self {
            mean_s: errors.iter().sum::<f64>() / math::from_usize(errors.len()),
            low_s: errors.iter().copied().fold(f64::INFINITY, f64::min),
            high_s: errors.iter().copied().fold(f64::NEG_INFINITY, f64::max),
            top_s: *errors.first()?,
        })
    }

    /// From the least to the greatest, s.
    #[must_use]
    pub fn spread_s(&self) -> f64 {
        self.high_s - self.low_s
    }
}

/// Lines by which starts move against edges `period_s` apart, from the first of them to the last.
#[must_use]
pub fn slips(starts_s: &[f64], edges_s: &[f64], period_s: f64) -> f64 {
    let turns: Vec<f64> = starts_s
        .iter()
        .filter_map(|&start_s| Some(error_s(start_s, edges_s)? / period_s))
        .collect();
    let moves = turns.windows(2).map(|pair| pair[1] - pair[0]);
    moves.map(|move_lines| move_lines - math::round(move_lines)).sum::<f64>().abs()
}

/// How far a start lies after the nearest edge, s.
fn error_s(start_s: f64, edges_s: &[f64]) -> Option<f64> {
    let after = edges_s.partition_point(|&edge_s| edge_s < start_s);
    let next = edges_s.get(after).map(|edge_s| start_s - edge_s);
    let before = after.checked_sub(1).map(|before| start_s - edges_s[before]);
    match (before, next) {
        (Some(before), Some(next)) if before > -next => Some(next),
        (Some(before), _) => Some(before),
        (None, next) => next,
    }
}
