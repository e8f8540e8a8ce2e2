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

mod around;
mod cursor;

use crate::base::math;
use crate::network::error::NetworkError;
use crate::network::evaluation::Unknown;
use crate::network::family::Family;
use crate::network::family::Place;
use crate::network::family::Slope;
use crate::network::family::bare_slopes;
use crate::network::recall::around::Course;
use crate::network::recall::around::FIT_TOLERANCES;
use crate::network::recall::cursor::Cursor;
use crate::network::rest::Rests;
use crate::network::ripple::Ripple;
use crate::network::ripple::heights_v;
use crate::network::state::State;
use crate::network::stretch::Stretch;
use crate::network::transient::Transient;
use crate::network::transient::stretches::Followed;
use crate::signal::pulse_train::Level;
use crate::signal::pulse_train::PulseTrain;
use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::collections::HashMap;
use std::sync::Arc;

/// Numbers that are kept before everything is forgotten, which is looked at before every field: a
/// board that never stands twice alike would gather them without end.
const MOST_NUMBERS: usize = 1 << 24;
/// What a family takes beside its unknowns and slopes, as so many of them.
const OF_A_FAMILY: usize = 64;
/// How many of the last states of a kind are compared with a new one.
const COMPARED: usize = 64;

/// How far a ripple may leave that of a family within half a line of so many clocks, in tolerances: by
/// so much is its height wrong at both ends.
const LEFT_TOLERANCES: f64 = 2.0;
const LINE_CLOCKS: u64 = 128;

/// How far the slopes of a family may miss a state that they are asked for, in tolerances.
const ORIGIN_TOLERANCES: f64 = 10.0;

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
    slopes: SlopeAccount,
    pub(crate) counts: RecallCounts,
}

/// A stretch to be solved: levels, clocks, all clocks that the field lets these levels last, and the
/// ripples at its start.
struct Wanted<'f> {
    levels: &'f [Level],
    clocks: u64,
    lengths: &'f [u64],
    ripples: &'f [Ripple],
}

/// A field that was put together from stretches that serve wherever it begins in the same family: of a
/// board without slow states.
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
    /// The clocks after which slopes cannot say where it leads.
    untold: BTreeSet<u64>,
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

    /// Lends a board anew what looking for slopes may cost.
    pub(crate) fn begin_account(&mut self) {
        self.slopes = SlopeAccount::default();
    }

    /// Whether the next field is better followed as it stands.
    pub(crate) fn pauses(&mut self) -> bool {
        self.slopes.pause()
    }

    /// A field was followed as it stands, in so many steps.
    pub(crate) fn has_paused(&mut self, steps: u64) {
        self.leave();
        self.slopes.has_paused(steps);
    }

    /// The next state is not the one at which the last field ended.
    pub(crate) fn leave(&mut self) {
        self.here = None;
    }

    fn forget(&mut self) {
        let (slow, rests) = (std::mem::take(&mut self.slow), std::mem::take(&mut self.rests));
        let (counts, slopes) = (self.counts, self.slopes);
        *self = Self { slow, rests, counts, slopes, ..Self::default() };
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
        let ripples = run.state().ripples.clone();
        let mut here = match self.here.take() {
            Some(here) => here,
            None => self.place(run, None),
        };
        let is_slow = !here.held.is_empty();
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
        while !cursor.is_through() {
            let clocks = cursor.clocks();
            let ripples = later(&ripples, run.seconds(cursor.at));
            if is_slow {
                here = self.meet(run, here, &ripples);
            }
            let count = math::to_index(clocks) * run.samples_per_clock();
            let stretch = self
                .stretch(run, &here, &cursor, &ripples)
                .map_err(|error| error.later(run.seconds(cursor.at)))?;
            let moves = self.moves(&here, &ripples, run.seconds(clocks));
            stretch.copy_to(&mut field, &moves, count);
            here = stretch.follow(&moves);
            if !is_slow {
                stretches.push((stretch, count));
            }
            cursor.advance();
        }
        self.go_to(run, &here);
        run.set_ripples(later(&ripples, run.seconds(cursor.length)));
        self.route = (!is_slow).then(|| {
            let (trains, end) = (trains.to_vec(), here.clone());
            Route { trains, from, stretches, end }
        });
        self.here = Some(here);
        Ok(field)
    }

    /// The stretch from a place up to the next edge.
    fn stretch(
        &mut self,
        run: &mut Transient<'_>,
        here: &Place,
        cursor: &Cursor<'_>,
        ripples: &[Ripple],
    ) -> Result<Arc<Stretch>, NetworkError> {
        let key = (here.family, self.levels_number(&cursor.levels));
        let clocks = cursor.clocks();
        let is_straight = self.goes_as(run, here.family, ripples, clocks);
        let known = self.known.get(&key).filter(|_| is_straight);
        if let Some(stretch) = known.and_then(|known| known.stretch(clocks)) {
            self.counts.recalled += 1;
            self.slopes.save(stretch.steps);
            return Ok(stretch);
        }
        self.counts.solved += 1;
        let has_slopes = !here.held.is_empty() && is_straight;
        let lengths = if has_slopes { cursor.lengths() } else { &[] };
        self.solve(run, here, key, &Wanted { levels: &cursor.levels, clocks, lengths, ripples })
    }

    /// The place from which a stretch sets out, with the ripples as they are there: what leads to it
    /// knows of none but those on the way to their next corners.
    fn meet(&mut self, run: &mut Transient<'_>, mut here: Place, ripples: &[Ripple]) -> Place {
        here.held.truncate(self.slow.len());
        here.held.extend(heights_v(ripples));
        let family = &self.families[here.family];
        if self.goes_as(run, here.family, ripples, 0) && family.way(&here.held) <= 1.0 {
            return here;
        }
        let slopes = family.slopes.clone();
        self.go_to(run, &here);
        run.set_ripples(ripples.to_vec());
        self.place(run, Some(slopes))
    }

    /// Whether ripples go for so many clocks as a family takes them to go, up to no corner.
    fn goes_as(&self, run: &Transient<'_>, family: usize, ripples: &[Ripple], clocks: u64) -> bool {
        let left_v = LEFT_TOLERANCES * run.tolerance_v();
        let half_s = 0.5 * run.seconds(clocks.max(LINE_CLOCKS));
        let centre = &self.families[family].centre;
        centre.ripples.iter().zip(ripples).all(|(taken, ripple)| {
            ripple.next_corner_s(0.0) >= run.seconds(clocks)
                && ripple.kind() == taken.kind()
                && ripple.gains_v(taken, half_s).abs() <= left_v
        })
    }

    /// From a family's centre to a place, V. A ripple that goes a little faster than the family takes it to
    /// go is said to be as high as will be right half-way.
    fn moves(&self, place: &Place, ripples: &[Ripple], length_s: f64) -> Vec<f64> {
        let family = &self.families[place.family];
        let mut moves = family.moves(&place.held);
        let gains = ripples.iter().zip(&family.centre.ripples);
        let gains = gains.filter(|(ripple, _)| !ripple.is_still());
        for (moved, (ripple, taken)) in moves[self.slow.len()..].iter_mut().zip(gains) {
            *moved += ripple.gains_v(taken, 0.5 * length_s);
        }
        moves
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
        if !place.held.is_empty() {
            run.lift(&place.held);
            run.shift(&family.shift(&place.held));
        }
    }

    /// A stretch, which is kept if it serves for all of the family; if slopes cannot say what happens
    /// beside a place, it is solved there and serves for nothing else. With it go all that begin as it
    /// does and last for other clocks.
    fn solve(
        &mut self,
        run: &mut Transient<'_>,
        here: &Place,
        key: (usize, usize),
        wanted: &Wanted<'_>,
    ) -> Result<Arc<Stretch>, NetworkError> {
        let &Wanted { levels, clocks, lengths, .. } = wanted;
        if here.held.is_empty() {
            let stretch = Arc::new(self.solve_at(run, here, wanted)?);
            self.keep(key, &stretch);
            return Ok(stretch);
        }
        let known = self.known.get(&key);
        let is_new = |clocks: &u64| {
            known.is_none_or(|known| {
                !known.untold.contains(clocks) && known.stretch(*clocks).is_none()
            })
        };
        let lengths: Vec<u64> = lengths.iter().copied().filter(is_new).collect();
        if self.slopes.are_used_up() || !lengths.contains(&clocks) {
            return Ok(Arc::new(self.solve_at(run, here, wanted)?));
        }
        let course = Course { from: key, levels, lengths: &lengths };
        for stretch in self.solve_around(run, &course) {
            self.keep(key, &Arc::new(stretch));
        }
        let known = self.known.entry(key).or_default();
        let told = known.stretch(clocks);
        known.untold.extend(lengths.into_iter().filter(|clocks| !known.cut.contains_key(clocks)));
        match told.filter(|_| self.families[here.family].way(&here.held) <= 1.0) {
            Some(stretch) => Ok(stretch),
            None => {
                let stretch = self.solve_at(run, here, wanted)?;
                self.slopes.spend(stretch.steps);
                Ok(Arc::new(stretch))
            }
        }
    }

    /// A stretch from one place.
    fn solve_at(
        &mut self,
        run: &mut Transient<'_>,
        here: &Place,
        &Wanted { levels, clocks, ripples, .. }: &Wanted<'_>,
    ) -> Result<Stretch, NetworkError> {
        self.go_to(run, here);
        run.set_ripples(ripples.to_vec());
        // A board with slow states is never at rest.
        let rests = here.held.is_empty().then_some(&mut self.rests);
        let Followed { samples, clocks, steps, rests, .. } = run.stretch(levels, clocks, rests)?;
        let end = if rests { self.resting_place(run) } else { self.place(run, None) };
        let stands = rests.then(|| run.tap_volts());
        let (bends, follows, handed_on) = (Arc::default(), Vec::new(), 0);
        Ok(Stretch { samples, bends, clocks, steps, handed_on, end, follows, stands })
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
    fn place(&mut self, run: &mut Transient<'_>, slopes: Option<Vec<Slope>>) -> Place {
        run.go_straight();
        let state = run.state();
        let held = state.held_volts(&self.slow);
        let alike = self.alike.get(&state.kind()).map_or(&[][..], Vec::as_slice);
        let near = alike.iter().rev().copied().filter(|&number| {
            self.families[number].way(&held) <= 1.0 && self.goes_as(run, number, &state.ripples, 0)
        });
        let same = near.take(COMPARED).find(|&number| {
            let family = &self.families[number];
            let bent = FIT_TOLERANCES * family.way(&held) * family.way(&held);
            run.is_same(&family.unknowns(&held), &family.centre, bent)
        });
        match same {
            Some(family) => Place { family, held },
            None => self.new_place(run, slopes),
        }
    }

    /// The place of the state in which `run` is, in a family of its own.
    fn new_place(&mut self, run: &Transient<'_>, slopes: Option<Vec<Slope>>) -> Place {
        let centre = run.state().clone();
        let (held, number) = (centre.held_volts(&self.slow), self.families.len());
        let alike = || self.alike_from(run, &centre, &held, |_| true).next();
        let known = slopes.or_else(|| alike().map(|near| self.families[near].slopes.clone()));
        let slopes = known.unwrap_or_else(|| bare_slopes(&self.slow, &centre));
        self.alike.entry(centre.kind()).or_default().push(number);
        self.numbers += OF_A_FAMILY + (2 + slopes.len()) * centre.x.len();
        self.families.push(Family { centre, held: held.clone(), slopes });
        Place { family: number, held }
    }

    /// The families whose slopes tell of a state, roughly and from further away than they serve, the
    /// nearest first.
    fn alike_from(
        &self,
        run: &Transient<'_>,
        state: &State,
        held: &[f64],
        is_wanted: impl Fn(usize) -> bool,
    ) -> impl Iterator<Item = usize> {
        let alike = self.alike.get(&state.kind()).filter(|_| !held.is_empty());
        let wanted = alike.into_iter().flatten().copied().filter(|&number| is_wanted(number));
        let mut far: Vec<(f64, usize)> =
            wanted.map(|number| (self.families[number].way(held), number)).collect();
        let nearest = |a: &(f64, usize), b: &(f64, usize)| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1));
        if far.len() > COMPARED {
            far.select_nth_unstable_by(COMPARED, nearest);
            far.truncate(COMPARED);
        }
        far.sort_unstable_by(nearest);
        far.into_iter().map(|(_, number)| number).filter(|&number| {
            run.is_near(&state.x, &self.families[number].unknowns(held), ORIGIN_TOLERANCES)
        })
    }
}

/// What looking for slopes costs, and what it saves, in steps.
#[derive(Clone, Copy, Debug)]
struct SlopeAccount {
    left: u64,
    pauses: bool,
}

impl SlopeAccount {
    /// What is lent to a board before anything is saved: some tenths of a second.
    const LENT: u64 = 200_000;
    /// A board on which it is used up is followed as it stands until so much has come together again,
    /// of a share of the steps that are taken meanwhile.
    const ENOUGH: u64 = Self::LENT / 4;
    const SHARE: u64 = 32;

    fn spend(&mut self, steps: u64) {
        self.left = self.left.saturating_sub(steps);
    }

    fn save(&mut self, steps: u64) {
        self.left = (self.left + steps).min(Self::LENT);
    }

    fn are_used_up(self) -> bool {
        self.left == 0
    }

    /// Whether it is used up, or was and has not come together again.
    fn pause(&mut self) -> bool {
        self.pauses = self.left == 0 || (self.pauses && self.left < Self::ENOUGH);
        self.pauses
    }

    fn has_paused(&mut self, steps: u64) {
        self.save(steps / Self::SHARE);
    }
}

impl Default for SlopeAccount {
    fn default() -> Self {
        Self { left: Self::LENT, pauses: false }
    }
}

/// Ripples from a later moment on.
fn later(ripples: &[Ripple], by_s: f64) -> Vec<Ripple> {
    ripples.iter().map(|ripple| ripple.later(by_s)).collect()
}
