//! Stretches that serve for all of a family: solved at its centre and, where nothing else tells how
//! they change with what the slow states hold, to either side of it for each of them, as far away as
//! they still change evenly.

use crate::network::family::Family;
use crate::network::family::Nudges;
use crate::network::family::Place;
use crate::network::recall::Recall;
use crate::network::stretch::Stretch;
use crate::network::stretch::bend_v;
use crate::network::stretch::slope_of;
use crate::network::transient::Transient;
use crate::network::transient::stretches::Followed;
use crate::network::transient::stretches::Leg;
use crate::signal::pulse_train::Level;
use std::sync::Arc;

/// How far a nudge may move what is under way at the end of a stretch, s: nothing follows it there.
const NUDGED_S: f64 = 1e-13;
/// How hard a voltage turns where a driver sets out, V/s²: to 5 V in 50 ns, within 5 ns. Shifted by t,
/// a sample there misses its slope by half of this times t².
const CORNER_V_PER_S2: f64 = 5.0 / 50e-9 / 5e-9;
/// How many times less far slopes are made to serve for the sake of one stretch, at most.
const NARROWED_AT_MOST: f64 = 10.0;

/// How far samples from either side of a centre may miss lying even about those from it, in
/// tolerances, and so may what the slow capacitors hold at the end: that is carried from stretch to
/// stretch. At the end of a family's reach it is twice as much that is missed.
const BENT_SHARE: f64 = 1.0;
const CARRIED_SHARE: f64 = 0.1;

/// How far ends from beside a centre may lie from a family's slopes, in tolerances: the steps that
/// led there err by about one each.
pub(super) const FIT_TOLERANCES: f64 = 2.0;

/// How many other families are asked for slopes.
const ORIGINS: usize = 3;

/// From how many families slopes are handed on at most: each is held to them along the way alone that
/// leads from one centre to the next, on which some slow states may hardly have moved.
const HANDED_ON_AT_MOST: u32 = 2;

/// Stretches that begin alike and last for so many clocks, in rising order.
pub(super) struct Course<'f> {
    /// The numbers of the family and of the levels.
    pub(super) from: (usize, usize),
    pub(super) levels: &'f [Level],
    pub(super) lengths: &'f [u64],
}

impl Recall {
    /// Stretches from a family's centre: as many as can be told by slopes. Those of other families serve, if
    /// they foretell what is found at the centre.
    pub(super) fn solve_around(
        &mut self,
        run: &mut Transient<'_>,
        course: &Course<'_>,
    ) -> Vec<Stretch> {
        let &Course { from: (family, levels_number), levels, lengths } = course;
        let Family { centre, held, slopes } = &self.families[family];
        let knows = |other: usize| {
            let known = self.known.get(&(other, levels_number));
            let hands_on = |old: &Arc<Stretch>| old.handed_on < HANDED_ON_AT_MOST;
            other != family && known.is_some_and(|known| known.cut.values().any(hands_on))
        };
        let origins: Vec<(usize, usize)> = self
            .alike_from(run, centre, held, knows)
            .filter(|&other| self.families[other].slopes_fit(run, slopes, slopes, FIT_TOLERANCES))
            .map(|origin| (origin, levels_number))
            .take(ORIGINS)
            .collect();
        self.go_to(run, &Place { family, held: held.clone() });
        let mut stretches = Vec::new();
        let (mut left, mut left_lengths) = (Vec::new(), Vec::new());
        for leg in run.legs(levels, lengths) {
            let told = origins.iter().find_map(|&from| self.foretold(run, from, family, &leg));
            match told {
                Some(stretch) => stretches.push(stretch),
                None => {
                    left_lengths.push(leg.followed.clocks);
                    left.push(leg);
                }
            }
        }
        if !left.is_empty() {
            let course = Course { lengths: &left_lengths, ..*course };
            stretches.extend(self.solve_beside(run, &course, left));
        }
        stretches
    }

    /// A stretch from a family's centre with the slopes of another family's, if they foretell it.
    fn foretold(
        &mut self,
        run: &mut Transient<'_>,
        from: (usize, usize),
        family: usize,
        leg: &Leg,
    ) -> Option<Stretch> {
        let Followed { samples, clocks, steps, .. } = &leg.followed;
        let old = self.known.get(&from)?.stretch(*clocks)?;
        if old.handed_on >= HANDED_ON_AT_MOST {
            return None;
        }
        let moves = self.families[from.0].moves(&self.families[family].held);
        let foretold = old.follow(&moves);
        let held = leg.end.held_volts(&self.slow);
        let carried_v = 2.0 * CARRIED_SHARE * run.tolerance_v();
        // The height of a ripple needs no telling.
        let mut stores = held.iter().zip(&foretold.held).take(self.slow.len());
        let end = &self.families[foretold.family];
        let is_told = leg.end.kind() == end.centre.kind()
            && leg.end.moves_as(&end.centre, NUDGED_S)
            && stores.all(|(held, told)| (held - told).abs() <= carried_v)
            && run.is_near(&leg.end.x, &end.unknowns(&held), FIT_TOLERANCES)
            && old.tells(&moves, samples, BENT_SHARE * run.tolerance_v());
        if !is_told {
            return None;
        }
        let slopes = end.slopes.clone();
        let reached = self.families[from.0].slopes.clone();
        self.families[family].narrow(&reached);
        run.set_state(&leg.end);
        let mut end = self.place(run, Some(slopes.clone()));
        let (there, here) = (&self.families[end.family], &self.families[family]);
        if !there.slopes_fit(run, &slopes, &here.slopes, FIT_TOLERANCES) {
            end = self.new_place(run, Some(slopes));
        }
        let (samples, clocks, steps) = (samples.clone(), *clocks, *steps);
        let (bends, follows) = (Arc::clone(&old.bends), old.follows.clone());
        let handed_on = old.handed_on + 1;
        Some(Stretch { samples, bends, clocks, steps, handed_on, end, follows, stands: None })
    }

    /// Stretches from a family's centre, which were followed as they stand, followed as well from beside it
    /// for every slow state: as many as can be told by slopes. Those are not where other drivers turn beside
    /// the centre, where the ends do not lie on slopes, or where one of these states, in which the board
    /// never is, cannot be followed.
    fn solve_beside(
        &mut self,
        run: &mut Transient<'_>,
        course: &Course<'_>,
        plain: Vec<Leg>,
    ) -> Vec<Stretch> {
        let family = course.from.0;
        let mut beside = Vec::new();
        for slow in 0..self.families[family].held.len() {
            let mut nudged = self.follow_nudged(run, course, slow);
            let too_far = plain.iter().enumerate().filter_map(|(index, leg)| {
                let far = self.too_far(run, leg, nudged.pair(index)?)?;
                (far <= NARROWED_AT_MOST).then_some(far)
            });
            let too_far = too_far.fold(0.0, f64::max);
            if too_far > 1.0 {
                self.families[family].slopes[slow].reach_v /= 1.25 * too_far;
                nudged = self.follow_nudged(run, course, slow);
            }
            beside.push(nudged);
        }
        let told = plain.into_iter().enumerate();
        told.filter_map(|(index, leg)| self.told_by_slopes(run, leg, &beside, index)).collect()
    }

    /// Stretches from either side of a family's centre.
    fn follow_nudged(
        &mut self,
        run: &mut Transient<'_>,
        &Course { from: (family, _), levels, lengths }: &Course<'_>,
        slow: usize,
    ) -> Nudged {
        let before = run.counts().steps;
        let nudge_v = self.families[family].slopes[slow].nudge_v();
        let legs = [nudge_v, -nudge_v].map(|nudge_v| {
            let mut held = self.families[family].held.clone();
            held[slow] += nudge_v;
            self.go_to(run, &Place { family, held });
            run.legs(levels, lengths)
        });
        self.slopes.spend(run.counts().steps - before);
        Nudged { legs, nudge_v }
    }

    /// How many times too far a nudge goes for a stretch to change evenly with it; `None` if it comes out
    /// another one.
    fn too_far(&self, run: &Transient<'_>, plain: &Leg, pair: [&Leg; 2]) -> Option<f64> {
        let turn_s = (2.0 * run.tolerance_v() / CORNER_V_PER_S2).sqrt();
        let mut far: f64 = 0.0;
        for nudged in pair {
            if nudged.end.kind() != plain.end.kind() || !nudged.end.moves_as(&plain.end, NUDGED_S) {
                return None;
            }
            far = far.max(nudged.followed.turns_apart_s(&plain.followed)? / turn_s);
        }
        let [more, less, centre] =
            [pair[0], pair[1], plain].map(|leg| leg.end.held_volts(&self.slow));
        let carried = more.iter().zip(&less).zip(&centre);
        let carried_v = carried
            .map(|((more, less), centre)| (more + less - 2.0 * centre).abs())
            .fold(0.0, f64::max);
        let samples = pair.map(|nudged| nudged.followed.samples.as_slice());
        let bent_v = bend_v(samples, &plain.followed.samples);
        // What bends goes with the square of the nudge.
        let bent = (bent_v / BENT_SHARE).max(carried_v / CARRIED_SHARE) / run.tolerance_v();
        Some(far.max(bent.sqrt()))
    }

    /// A stretch from a family's centre, with how its end and its samples change for each slow state
    /// with more and with less of it; `None` if that is not told by slopes.
    fn told_by_slopes(
        &mut self,
        run: &mut Transient<'_>,
        plain: Leg,
        beside: &[Nudged],
        index: usize,
    ) -> Option<Stretch> {
        let mut nudges = Nudges::default();
        let mut bends = Vec::new();
        for nudged in beside {
            let pair = nudged.pair(index)?;
            if self.too_far(run, &plain, pair)? > 1.0 {
                return None;
            }
            let ends = pair.map(|leg| (leg.end.x.clone(), leg.end.held_volts(&self.slow)));
            nudges.add(ends, nudged.nudge_v);
            let samples = pair.map(|leg| leg.followed.samples.as_slice());
            bends.push(slope_of(samples, nudged.nudge_v));
        }
        run.set_state(&plain.end);
        let slopes = nudges.slopes()?;
        let mut place = self.place(run, Some(slopes.clone()));
        if !nudges.fit(run, &self.families[place.family], FIT_TOLERANCES) {
            place = self.new_place(run, Some(slopes));
            if !nudges.fit(run, &self.families[place.family], FIT_TOLERANCES) {
                return None;
            }
        }
        let Followed { samples, clocks, steps, .. } = plain.followed;
        let (bends, follows, end) = (Arc::new(bends), nudges.follows(), place);
        Some(Stretch { samples, bends, clocks, steps, handed_on: 0, end, follows, stands: None })
    }
}

/// Stretches that begin with so much more and so much less of a slow state.
struct Nudged {
    legs: [Vec<Leg>; 2],
    nudge_v: f64,
}

impl Nudged {
    /// Those of one length, if they could be followed.
    fn pair(&self, index: usize) -> Option<[&Leg; 2]> {
        let [more, less] = &self.legs;
        Some([more.get(index)?, less.get(index)?])
    }
}
