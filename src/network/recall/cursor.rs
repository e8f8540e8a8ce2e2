//! A field from edge to edge.

use crate::signal::pulse_train::Level;
use crate::signal::pulse_train::PulseTrain;
use std::cell::OnceCell;
use std::collections::HashMap;

/// Goes through a field from edge to edge.
pub(super) struct Cursor<'a> {
    trains: &'a [PulseTrain],
    /// Of each train, the next edge.
    next: Vec<usize>,
    pub(super) levels: Vec<Level>,
    pub(super) at: u64,
    pub(super) length: u64,
    /// Of all levels that the pins are given in the field, how long they last, in rising order.
    lasting: OnceCell<HashMap<Vec<Level>, Vec<u64>>>,
}

impl<'a> Cursor<'a> {
    pub(super) fn new(trains: &'a [PulseTrain]) -> Self {
        let length = trains.iter().map(|train| train.length().0).max().unwrap_or(0);
        let levels = trains.iter().map(PulseTrain::initial).collect();
        let (next, lasting) = (vec![0; trains.len()], OnceCell::new());
        let mut cursor = Self { trains, next, levels, at: 0, length, lasting };
        cursor.take_edges();
        cursor
    }

    fn take_edges(&mut self) {
        for ((train, next), level) in self.trains.iter().zip(&mut self.next).zip(&mut self.levels) {
            if let Some(edge) = train.edges().get(*next).filter(|edge| edge.at.0 <= self.at) {
                *level = edge.level;
                *next += 1;
            }
        }
    }

    fn next_edge(&self) -> u64 {
        let edges = self.trains.iter().zip(&self.next);
        let ticks = edges.filter_map(|(train, &next)| train.edges().get(next));
        ticks.map(|edge| edge.at.0).fold(self.length, u64::min)
    }

    /// How long the field lets the levels of now last, wherever they come, in rising order.
    pub(super) fn lengths(&self) -> &[u64] {
        let lasting = self.lasting.get_or_init(|| {
            let mut all: HashMap<Vec<Level>, Vec<u64>> = HashMap::new();
            let mut cursor = Cursor::new(self.trains);
            while !cursor.is_through() {
                let lengths = all.entry(cursor.levels.clone()).or_default();
                if let Err(place) = lengths.binary_search(&cursor.clocks()) {
                    lengths.insert(place, cursor.clocks());
                }
                cursor.advance();
            }
            all
        });
        lasting.get(&self.levels).map_or(&[], Vec::as_slice)
    }

    pub(super) fn is_through(&self) -> bool {
        self.at >= self.length
    }

    /// From here to the next edge.
    pub(super) fn clocks(&self) -> u64 {
        self.next_edge() - self.at
    }

    pub(super) fn advance(&mut self) {
        self.at = self.next_edge();
        self.take_edges();
    }
}
