//! The output of one pin over one field, as its edges.

use crate::base::ticks::{Tick, TickSpan};
use crate::signal::element::ElementMap;
use crate::signal::timing::FieldTiming;

/// Index of a pin's output level: 0 is low and 1 high for an ordinary pin; a combined pin has more.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Level(pub u8);

impl Level {
    /// The low state of an ordinary pin.
    pub const LOW: Self = Self(0);
    /// The high state of an ordinary pin.
    pub const HIGH: Self = Self(1);
}

/// A change of level.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Edge {
    /// When.
    pub at: Tick,
    /// The level from then on.
    pub level: Level,
}

/// One pin's output over one field. Nothing is sampled, so a train has no rate.
///
/// # Units
///
/// Clock periods since the start of the field.
///
/// # Invariants
///
/// Edges rise strictly in time, each changes the level, all lie before the end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PulseTrain {
    initial: Level,
    edges: Vec<Edge>,
    length: TickSpan,
}

impl PulseTrain {
    /// A train from its levels: `initial`, then `edges` in any mixture of real and idle changes,
    /// not falling in time. Edges that change nothing are dropped; of several at one tick the last
    /// counts.
    ///
    /// # Panics
    ///
    /// If the edges are not in order or one lies at or past `length`.
    #[must_use]
    pub fn new(initial: Level, edges: impl IntoIterator<Item = Edge>, length: TickSpan) -> Self {
        let mut kept: Vec<Edge> = Vec::new();
        for edge in edges {
            assert!(edge.at.0 < length.0, "an edge lies past the end of its train");
            if let Some(last) = kept.last() {
                assert!(last.at <= edge.at, "edges of a train are out of order");
                if last.at == edge.at {
                    kept.pop();
                }
            }
            let level = kept.last().map_or(initial, |last| last.level);
            if edge.level != level {
                kept.push(edge);
            }
        }
        Self { initial, edges: kept, length }
    }

    /// Level before the first edge.
    #[must_use]
    pub fn initial(&self) -> Level {
        self.initial
    }

    /// The edges, rising in time.
    #[must_use]
    pub fn edges(&self) -> &[Edge] {
        &self.edges
    }

    /// Length of the train.
    #[must_use]
    pub fn length(&self) -> TickSpan {
        self.length
    }

    /// Level at a moment; an edge counts from its own tick on.
    #[must_use]
    pub fn level_at(&self, at: Tick) -> Level {
        let before = self.edges.partition_point(|edge| edge.at <= at);
        before.checked_sub(1).map_or(self.initial, |last| self.edges[last].level)
    }

    /// What it does from one tick up to another, counted from there.
    ///
    /// # Panics
    ///
    /// If `to` lies before `from`.
    #[must_use]
    pub fn part(&self, from: Tick, to: Tick) -> Self {
        let inside = self.edges.iter().filter(|edge| edge.at > from && edge.at < to);
        let edges = inside.map(|edge| Edge { at: Tick(edge.at.0 - from.0), level: edge.level });
        Self::new(self.level_at(from), edges, TickSpan(to.0 - from.0))
    }

    /// Level after the last edge.
    #[must_use]
    pub fn last_level(&self) -> Level {
        self.edges.last().map_or(self.initial, |edge| edge.level)
    }
}

/// One field as the chip puts it out: a train for every pin, and where each element lies.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FieldTrains {
    /// Clock and line structure.
    pub timing: FieldTiming,
    /// Pin names, in the chip's order.
    pub pins: Vec<String>,
    /// One train for each pin, in the same order; each as long as the field.
    pub trains: Vec<PulseTrain>,
    /// Which clocks belong to which element.
    pub map: ElementMap,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_has_the_levels_of_the_whole_at_each_of_its_ticks() {
        let edges = [(3, Level::HIGH), (5, Level::LOW), (8, Level::HIGH), (11, Level::LOW)];
        let edges = edges.map(|(at, level)| Edge { at: Tick(at), level });
        let whole = PulseTrain::new(Level::LOW, edges, TickSpan(14));
        for from in 0..14 {
            for to in from + 1..=14 {
                let part = whole.part(Tick(from), Tick(to));
                assert_eq!(part.length(), TickSpan(to - from));
                for at in from..to {
                    assert_eq!(
                        part.level_at(Tick(at - from)),
                        whole.level_at(Tick(at)),
                        "{from} {at}"
                    );
                }
            }
        }
    }
}
