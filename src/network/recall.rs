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
use crate::network::evaluation::Unknown;
use crate::network::family::Family;
use crate::network::family::NUDGE_V;
use crate::network::family::Nudges;
use crate::network::family::Place;
use crate::network::family::bare_slopes;
use crate::network::family::held_volts;
use crate::network::rest::Rests;
use crate::network::stretch::Stretch;
use crate::network::stretch::mirrors;
use crate::network::stretch::slope_of;
use crate::network::transient::Transient;
use crate::network::transient::stretches::Followed;
use crate::network::transient::stretches::Leg;
use crate::signal::pulse_train::Level;
use crate::signal::pulse_train::PulseTrain;
use std::collections::BTreeMap;
use std::collections::HashMap;
use std::sync::Arc;

/// Numbers that are kept before everything is forgotten, which is looked at before every field: a
/// board that never stands twice alike would gather them without end.
const MOST_NUMBERS: usize = 1 << 24;
/// How many of the last states of a kind are compared with a new one.
const COMPARED: usize = 64;

/// How far a nudge may move what is under way at the end of a stretch, s: nothing follows it there.
const NUDGED_S: f64 = 1e-13;
/// How far a nudge may move the moment at which a driver turns within a stretch, s: the samples of an
/// edge of 5 V in 50 ns then lie within some 20 µV of their slopes.
const TURNED_S: f64 = 2e-11;

/// How far samples from either side of a centre may miss lying even about those from it, in
/// tolerances, and so may what the slow capacitors hold at the end: that is carried from stretch to
/// stretch. At the end of a family's reach it is twice as much that is missed.
const BENT_SHARE: f64 = 2.0;
const CARRIED_SHARE: f64 = 0.1;

/// How far ends from beside a centre may lie from a family's slopes, in tolerances: the steps that
/// led there err by about one each.
const FIT_TOLERANCES: f64 = 2.0;

/// When so many have been solved, and more than were recalled, no more slopes are looked for.
const SOLVED_AT_LEAST: u64 = 256;

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
    /// Capacitors that do not come to rest within a line.
    slow: Vec<[Unknown; 2]>,
    /// States in which a stretch begins, by number, each with its neighbours.
    families: Vec<Family>,
    /// The numbers of those of a kind, and of those at rest.
    alike: HashMap<Vec<usize>, Vec<usize>>,
    resting: HashMap<Vec<usize>, usize>,
    /// The numbers of the pins' levels.
    levels: HashMap<Vec<Level>, usize>,
    /// By the numbers of the family and of the levels.
    known: HashMap<(usize, usize), Known>,
    rests: Rests,
    /// Where the next field begins.
    here: Option<Place>,
    /// How the last field was put together.
    route: Option<Route>,
    /// Numbers kept.
    numbers: usize,
    pub(crate) counts: RecallCounts,
}

/// A stretch to be solved: levels, clocks, and all clocks that the field lets these levels last.
struct Wanted<'f> {
    levels: &'f [Level],
    clocks: u64,
    lengths: &'f [u64],
}

/// A field that was put together from stretches that serve wherever it begins in the same family: of a
/// board without slow capacitors.
#[derive(Debug)]
struct Route {
    trains: Vec<PulseTrain>,
    from: usize,
    /// The stretches, each with the samples that it fills.
    stretches: Vec<(Arc<Stretch>, usize)>,
    end: Place,
}

/// What follows when pins are given levels in a state.
#[derive(Debug, Default)]
struct Known {
    /// Up to where the board is at rest: it serves for as many clocks, and for more.
    whole: Option<Arc<Stretch>>,
    /// By the clocks after which the next edge came earlier than that.
    cut: BTreeMap<u64, Arc<Stretch>>,
}

impl Known {
    fn stretch(&self, clocks: u64) -> Option<Arc<Stretch>> {
        let whole = self.whole.as_ref().filter(|whole| whole.clocks <= clocks);
        whole.or_else(|| self.cut.get(&clocks)).map(Arc::clone)
    }
}

impl Recall {
    /// For a board with these slow capacitors.
    pub(crate) fn new(slow: Vec<[Unknown; 2]>) -> Self {
        Self { slow, ..Self::default() }
    }

    /// The next state is not the one at which the last field ended.
    pub(crate) fn leave(&mut self) {
        self.here = None;
    }

    fn forget(&mut self) {
        let (slow, rests) = (std::mem::take(&mut self.slow), std::mem::take(&mut self.rests));
        *self = Self { slow, rests, counts: self.counts, ..Self::default() };
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
        if self.numbers > MOST_NUMBERS {
            self.forget();
        }
        let mut here = match self.here.take() {
            Some(here) => here,
            None => self.place(run, self.bare_slopes(run)),
        };
        let mut cursor = Cursor::new(trains);
        let capacity = math::to_index(cursor.length) * run.samples_per_clock();
        let mut field: Vec<Vec<f32>> =
            (0..run.tap_volts().len()).map(|_| Vec::with_capacity(capacity)).collect();
        if let Some(end) = self.go_again(here.family, trains, &mut field) {
            self.go_to(run, &end);
            self.here = Some(end);
            return Ok(field);
        }
        let (from, mut stretches) = (here.family, Vec::new());
        let mut ahead = None;
        while let Some(clocks) = cursor.clocks() {
            if !self.families[here.family].reaches(&here.held) {
                here = self.recentre(run, &here);
            }
            let key = (here.family, self.levels_number(&cursor.levels));
            let count = math::to_index(clocks) * run.samples_per_clock();
            let known = self.known.get(&key).and_then(|known| known.stretch(clocks));
            let stretch = match known {
                Some(stretch) => {
                    self.counts.recalled += 1;
                    stretch
                }
                None => {
                    self.counts.solved += 1;
                    let all = ahead.get_or_insert_with(|| self.lengths(trains));
                    let lengths = all.get(&cursor.levels).map_or(&[][..], Vec::as_slice);
                    let wanted = Wanted { levels: &cursor.levels, clocks, lengths };
                    let solved = self.solve(run, &here, key, wanted);
                    solved.map_err(|error| error.later(run.seconds(cursor.at)))?
                }
            };
            let moves = self.families[here.family].moves(&here.held);
            stretch.copy_to(&mut field, &moves, count);
            here = stretch.follow(&moves);
            if self.slow.is_empty() {
                stretches.push((stretch, count));
            }
            cursor.advance();
        }
        self.go_to(run, &here);
        self.route = self.slow.is_empty().then(|| {
            let (trains, end) = (trains.to_vec(), here.clone());
            Route { trains, from, stretches, end }
        });
        self.here = Some(here);
        Ok(field)
    }

    /// How long a field lets levels last, where slopes can tell of one length by way of another.
    fn lengths(&self, trains: &[PulseTrain]) -> HashMap<Vec<Level>, Vec<u64>> {
        if self.slow.is_empty() { HashMap::new() } else { Cursor::new(trains).lengths() }
    }

    /// Puts a field together as the last one was, if it is the same; where it ends.
    fn go_again(
        &mut self,
        from: usize,
        trains: &[PulseTrain],
        field: &mut [Vec<f32>],
    ) -> Option<Place> {
        let route = self.route.as_ref()?;
        if route.from != from || route.trains != trains {
            return None;
        }
        for (stretch, count) in &route.stretches {
            stretch.copy_to(field, &[], *count);
        }
        self.counts.recalled += route.stretches.len() as u64;
        Some(route.end.clone())
    }

    fn levels_number(&mut self, levels: &[Level]) -> usize {
        if let Some(&number) = self.levels.get(levels) {
            return number;
        }
        let number = self.levels.len();
        self.levels.insert(levels.to_vec(), number);
        number
    }

    fn go_to(&self, run: &mut Transient<'_>, place: &Place) {
        let family = &self.families[place.family];
        run.set_state(&family.centre);
        if !self.slow.is_empty() {
            run.shift(&family.shift(&place.held));
        }
    }

    /// A family around a place, with the slopes of the one that no longer reaches it.
    fn recentre(&mut self, run: &mut Transient<'_>, place: &Place) -> Place {
        self.go_to(run, place);
        self.place(run, self.families[place.family].slopes.clone())
    }

    /// A stretch, which is kept if it serves for all of the family; if slopes cannot say what happens
    /// beside a place, it is solved there and serves for nothing else. With it go all that begin as it
    /// does and last for other clocks.
    fn solve(
        &mut self,
        run: &mut Transient<'_>,
        here: &Place,
        key: (usize, usize),
        Wanted { levels, clocks, lengths }: Wanted<'_>,
    ) -> Result<Arc<Stretch>, NetworkError> {
        if self.slow.is_empty() {
            let stretch = Arc::new(self.solve_at(run, here, levels, clocks)?);
            self.keep(key, &stretch);
            return Ok(stretch);
        }
        // Where stretches seldom come again, looking for slopes costs more than it gives.
        let RecallCounts { recalled, solved } = self.counts;
        let is_vain = solved > SOLVED_AT_LEAST && solved > recalled;
        if !is_vain {
            let is_new = |clocks: &u64| {
                self.known.get(&key).is_none_or(|known| known.stretch(*clocks).is_none())
            };
            let lengths: Vec<u64> = lengths.iter().copied().filter(is_new).collect();
            for stretch in self.solve_around(run, here.family, levels, &lengths) {
                self.keep(key, &Arc::new(stretch));
            }
        }
        match self.known.get(&key).and_then(|known| known.stretch(clocks)) {
            Some(stretch) => Ok(stretch),
            None => Ok(Arc::new(self.solve_at(run, here, levels, clocks)?)),
        }
    }

    /// Stretches of these lengths from a family's centre, followed as well from beside it for every slow
    /// capacitor: as many as can be told by slopes. That ends where something turns at another moment
    /// beside the centre, where the ends do not lie on slopes, or where one of these states, in which the
    /// board never is, cannot be followed.
    fn solve_around(
        &mut self,
        run: &mut Transient<'_>,
        family: usize,
        levels: &[Level],
        lengths: &[u64],
    ) -> Vec<Stretch> {
        let held = self.families[family].held.clone();
        self.go_to(run, &Place { family, held: held.clone() });
        let plain = run.legs(levels, lengths);
        let mut beside: Vec<[Vec<Leg>; 2]> = Vec::new();
        for slow in 0..self.slow.len() {
            beside.push([NUDGE_V, -NUDGE_V].map(|nudge_v| {
                let mut held = held.clone();
                held[slow] += nudge_v;
                self.go_to(run, &Place { family, held });
                run.legs(levels, lengths)
            }));
        }
        let mut stretches = Vec::new();
        for (index, leg) in plain.into_iter().enumerate() {
            let pairs: Option<Vec<[&Leg; 2]>> = beside
                .iter()
                .map(|[more, less]| Some([more.get(index)?, less.get(index)?]))
                .collect();
            let stretch = pairs.and_then(|pairs| self.told_by_slopes(run, leg, &pairs));
            let Some(stretch) = stretch else { break };
            stretches.push(stretch);
        }
        stretches
    }

    /// A stretch from a family's centre, with how its end and its samples change for each slow capacitor
    /// with more and with less on it; `None` if that is not told by slopes.
    fn told_by_slopes(
        &mut self,
        run: &mut Transient<'_>,
        plain: Leg,
        pairs: &[[&Leg; 2]],
    ) -> Option<Stretch> {
        let centre = held_volts(&self.slow, &plain.end.x);
        let mut nudges = Nudges::default();
        let mut bends = Vec::new();
        for pair in pairs {
            for nudged in pair {
                let is_alike = nudged.end.kind() == plain.end.kind()
                    && nudged.end.moves_as(&plain.end, NUDGED_S)
                    && nudged.followed.turns_as(&plain.followed, TURNED_S);
                if !is_alike {
                    return None;
                }
                nudges.add(&nudged.end.x, held_volts(&self.slow, &nudged.end.x));
            }
            let samples = pair.map(|nudged| nudged.followed.samples.as_slice());
            let within_v = BENT_SHARE * run.tolerance_v();
            if !nudges.mirror(&centre, CARRIED_SHARE * run.tolerance_v())
                || !mirrors(samples, &plain.followed.samples, within_v)
            {
                return None;
            }
            bends.push(slope_of(samples[0], samples[1]));
        }
        run.set_state(&plain.end);
        let slopes = nudges.slopes()?;
        let mut place = self.place(run, slopes.clone());
        if !nudges.fit(run, &self.families[place.family], FIT_TOLERANCES) {
            place = self.new_place(run, slopes);
            if !nudges.fit(run, &self.families[place.family], FIT_TOLERANCES) {
                return None;
            }
        }
        let Followed { samples, clocks, .. } = plain.followed;
        let follows = nudges.follows();
        Some(Stretch { samples, bends, clocks, end: place, follows, stands: None })
    }

    /// A stretch from one place.
    fn solve_at(
        &mut self,
        run: &mut Transient<'_>,
        here: &Place,
        levels: &[Level],
        clocks: u64,
    ) -> Result<Stretch, NetworkError> {
        self.go_to(run, here);
        // A board with slow capacitors is never at rest.
        let rests = self.slow.is_empty().then_some(&mut self.rests);
        let Followed { samples, clocks, rests, .. } = run.stretch(levels, clocks, rests)?;
        let end =
            if rests { self.resting_place(run) } else { self.place(run, self.bare_slopes(run)) };
        let stands = rests.then(|| run.tap_volts());
        Ok(Stretch { samples, bends: Vec::new(), clocks, end, follows: Vec::new(), stands })
    }

    fn bare_slopes(&self, run: &Transient<'_>) -> Vec<Vec<f64>> {
        bare_slopes(&self.slow, run.state().x.len())
    }

    fn keep(&mut self, from: (usize, usize), stretch: &Arc<Stretch>) {
        self.numbers += stretch.size();
        let known = self.known.entry(from).or_default();
        if stretch.stands.is_some() {
            known.whole = Some(Arc::clone(stretch));
        } else {
            known.cut.insert(stretch.clocks, Arc::clone(stretch));
        }
    }

    /// The place of the state of rest in which `run` is.
    fn resting_place(&mut self, run: &Transient<'_>) -> Place {
        let families = &mut self.families;
        let family = *self.resting.entry(run.state().kind()).or_insert_with(|| {
            let (held, slopes) = (Vec::new(), Vec::new());
            families.push(Family { centre: run.state().clone(), held, slopes });
            families.len() - 1
        });
        Place { family, held: Vec::new() }
    }

    /// The place of the state in which `run` is: in a family that is known, or in one of its own with
    /// these slopes.
    fn place(&mut self, run: &Transient<'_>, slopes: Vec<Vec<f64>>) -> Place {
        let state = run.state();
        let held = held_volts(&self.slow, &state.x);
        let alike = self.alike.entry(state.kind()).or_default();
        let families = &self.families;
        let same = alike.iter().rev().take(COMPARED).copied().find(|&number| {
            let family = &families[number];
            family.reaches(&held) && run.is_same(&family.unknowns(&held), &family.centre)
        });
        match same {
            Some(family) => Place { family, held },
            None => self.new_place(run, slopes),
        }
    }

    /// The place of the state in which `run` is, in a family of its own.
    fn new_place(&mut self, run: &Transient<'_>, slopes: Vec<Vec<f64>>) -> Place {
        let centre = run.state().clone();
        let (held, family) = (held_volts(&self.slow, &centre.x), self.families.len());
        self.alike.entry(centre.kind()).or_default().push(family);
        self.numbers += (2 + slopes.len()) * centre.x.len();
        self.families.push(Family { centre, held: held.clone(), slopes });
        Place { family, held }
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

    /// Of all levels that the pins are given from here on, how long they last, in rising order.
    fn lengths(mut self) -> HashMap<Vec<Level>, Vec<u64>> {
        let mut all: HashMap<Vec<Level>, Vec<u64>> = HashMap::new();
        while let Some(clocks) = self.clocks() {
            let lengths = all.entry(self.levels.clone()).or_default();
            if let Err(place) = lengths.binary_search(&clocks) {
                lengths.insert(place, clocks);
            }
            self.advance();
        }
        all
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
