//! Stretches of signal that have been worked out before.
//!
//! Time is split at the edges of the trains. From one to the next nothing but the board moves, so
//! what comes follows from three things: how the board stands, the levels that its pins are given,
//! and the clocks that pass before the next edge. A field of a thousand edges has some thirty such
//! stretches that differ. Each is solved once, its samples and the state at its end are kept, and a
//! field is put together by copying.
//!
//! A board that comes to rest within a stretch stands at one of a few standing levels from there on:
//! the stretch then serves for any number of clocks from there up, and ends in exactly the same
//! state wherever it was entered. What has not come to rest is the same state as another one if all
//! its voltages lie within a tenth of the tolerance, and all that is under way is the same.
//!
//! Times within a stretch count from its own start, so its samples do not depend on where in a field
//! it was met first.

use crate::base::math;
use crate::network::error::NetworkError;
use crate::network::rest::Rests;
use crate::network::state::State;
use crate::network::transient::Followed;
use crate::network::transient::Transient;
use crate::signal::pulse_train::Level;
use crate::signal::pulse_train::PulseTrain;
use std::collections::BTreeMap;
use std::collections::HashMap;

/// Samples that are kept before everything is forgotten: 64 MiB. A board that never stands twice
/// alike, for its coupling capacitor has moved, would gather them without end.
const MOST_SAMPLES: usize = 1 << 24;
/// How many of the last states of a kind are compared with a new one.
const COMPARED: usize = 64;

/// How often something was known.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct RecallCounts {
    /// Stretches that were copied.
    pub recalled: u64,
    /// Stretches that had to be solved.
    pub solved: u64,
}

/// What is known of one board.
#[derive(Debug, Default)]
pub(crate) struct Recall {
    /// States in which a stretch begins, by number.
    states: Vec<State>,
    /// The numbers of those of a kind, and of those at rest.
    alike: HashMap<Vec<usize>, Vec<usize>>,
    resting: HashMap<Vec<usize>, usize>,
    /// The numbers of the pins' levels.
    levels: HashMap<Vec<Level>, usize>,
    /// By the numbers of the state and of the levels.
    known: HashMap<(usize, usize), Known>,
    rests: Rests,
    /// Number of the state in which the next field begins.
    here: Option<usize>,
    samples: usize,
    pub(crate) counts: RecallCounts,
}

/// What follows when pins are given levels in a state.
#[derive(Debug, Default)]
struct Known {
    /// Up to where the board is at rest: it serves for as many clocks, and for more.
    whole: Option<Stretch>,
    /// By the clocks after which the next edge came earlier than that.
    cut: BTreeMap<u64, Stretch>,
}

/// Samples of every tap up to a state.
#[derive(Debug)]
struct Stretch {
    samples: Vec<Vec<f32>>,
    clocks: u64,
    end: usize,
    /// Where the taps stand from there on, if they do.
    stands: Option<Vec<f32>>,
}

impl Known {
    fn stretch(&self, clocks: u64) -> Option<&Stretch> {
        let whole = self.whole.as_ref().filter(|whole| whole.clocks <= clocks);
        whole.or_else(|| self.cut.get(&clocks))
    }
}

impl Recall {
    /// The next state is not the one at which the last field ended.
    pub(crate) fn leave(&mut self) {
        self.here = None;
    }

    /// Samples of one field, as [`Transient::advance_field`], and `run` at its end.
    ///
    /// # Errors
    ///
    /// As there.
    pub(crate) fn field(
        &mut self,
        run: &mut Transient<'_>,
        trains: &[PulseTrain],
    ) -> Result<Vec<Vec<f32>>, NetworkError> {
        if self.samples > MOST_SAMPLES {
            *self = Self { rests: std::mem::take(&mut self.rests), counts: self.counts, ..Self::default() };
        }
        let mut here = self.here.take().unwrap_or_else(|| self.number(run));
        let mut cursor = Cursor::new(trains);
        let capacity = math::to_index(cursor.length) * run.samples_per_clock();
        let mut field: Vec<Vec<f32>> =
            (0..run.tap_volts().len()).map(|_| Vec::with_capacity(capacity)).collect();
        while let Some(clocks) = cursor.clocks() {
            let levels = self.levels_number(&cursor.levels);
            let known = self.known.get(&(here, levels)).and_then(|known| known.stretch(clocks));
            here = match known {
                Some(stretch) => {
                    self.counts.recalled += 1;
                    stretch.copy_to(&mut field, clocks, run.samples_per_clock())
                }
                None => {
                    self.counts.solved += 1;
                    let solved = self.solve(run, here, &cursor.levels, clocks);
                    let stretch = solved.map_err(|error| error.later(run.seconds(cursor.at)))?;
                    let end = stretch.copy_to(&mut field, clocks, run.samples_per_clock());
                    self.keep((here, levels), stretch);
                    end
                }
            };
            cursor.advance();
        }
        run.set_state(&self.states[here]);
        self.here = Some(here);
        Ok(field)
    }

    fn levels_number(&mut self, levels: &[Level]) -> usize {
        if let Some(&number) = self.levels.get(levels) {
            return number;
        }
        let number = self.levels.len();
        self.levels.insert(levels.to_vec(), number);
        number
    }

    fn solve(
        &mut self,
        run: &mut Transient<'_>,
        start: usize,
        levels: &[Level],
        clocks: u64,
    ) -> Result<Stretch, NetworkError> {
        run.set_state(&self.states[start]);
        let mut rests = Some(std::mem::take(&mut self.rests));
        let followed = run.stretch(levels, clocks, &mut rests);
        self.rests = rests.unwrap_or_default();
        let Followed { samples, clocks, rests } = followed?;
        let end = if rests { self.resting_number(run) } else { self.number(run) };
        Ok(Stretch { samples, clocks, end, stands: rests.then(|| run.tap_volts()) })
    }

    fn keep(&mut self, from: (usize, usize), stretch: Stretch) {
        self.samples += stretch.samples.iter().map(Vec::len).sum::<usize>();
        let known = self.known.entry(from).or_default();
        if stretch.stands.is_some() {
            known.whole = Some(stretch);
        } else {
            known.cut.insert(stretch.clocks, stretch);
        }
    }

    /// The number of the state of rest in which `run` is.
    fn resting_number(&mut self, run: &Transient<'_>) -> usize {
        let states = &mut self.states;
        *self.resting.entry(run.state().kind()).or_insert_with(|| {
            states.push(run.state().clone());
            states.len() - 1
        })
    }

    /// The number of the state in which `run` is.
    fn number(&mut self, run: &Transient<'_>) -> usize {
        let state = run.state();
        let kind = state.kind();
        let alike = self.alike.entry(kind).or_default();
        let recent = alike.iter().rev().take(COMPARED);
        let same = recent.copied().find(|&number| run.is_same(&self.states[number]));
        same.unwrap_or_else(|| {
            let number = self.states.len();
            self.states.push(state.clone());
            alike.push(number);
            number
        })
    }
}

impl Stretch {
    /// Adds the samples of so many clocks to a field; the number of the state at the end.
    fn copy_to(&self, field: &mut [Vec<f32>], clocks: u64, samples_per_clock: usize) -> usize {
        let count = math::to_index(clocks) * samples_per_clock;
        for (volts, samples) in field.iter_mut().zip(&self.samples) {
            volts.extend_from_slice(samples);
        }
        for (volts, &stands) in field.iter_mut().zip(self.stands.iter().flatten()) {
            let rest = count - math::to_index(self.clocks) * samples_per_clock;
            volts.extend(std::iter::repeat_n(stands, rest));
        }
        self.end
    }
}

/// Goes through a field from edge to edge.
struct Cursor<'a> {
    trains: &'a [PulseTrain],
    /// Of each train, the next edge.
    next: Vec<usize>,
    levels: Vec<Level>,
    at: u64,
    length: u64,
}

impl<'a> Cursor<'a> {
    fn new(trains: &'a [PulseTrain]) -> Self {
        let length = trains.iter().map(|train| train.length().0).max().unwrap_or(0);
        let levels = trains.iter().map(PulseTrain::initial).collect();
        let mut cursor = Self { trains, next: vec![0; trains.len()], levels, at: 0, length };
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

    /// From here to the next edge; `None` at the end.
    fn clocks(&self) -> Option<u64> {
        (self.at < self.length).then(|| self.next_edge() - self.at)
    }

    fn advance(&mut self) {
        self.at = self.next_edge();
        self.take_edges();
    }
}
