//! What is under way in a cable.

use crate::network::cable::Line;
use crate::network::cable::gentle;
use crate::network::cable::travelling;
use crate::network::evaluation::Weights;
use crate::network::slew::SAME_MOMENT_S;
use crate::network::step::Ends;
use crate::network::step::cubic;
use crate::network::step::interpolate_at;
use std::collections::VecDeque;

/// The gentle form is tried when what has left within a delay is straight to this many tolerances:
/// the curves that are looked up carry noise of about one, which runs to and fro and which the gentle
/// form then smooths.
const STRAIGHT_TOLERANCES: f64 = 4.0;
/// A gentle step may miss by this many what left one delay before, noise and all.
const GENTLE_TOLERANCES: f64 = 4.0;
/// A jump of this many tolerances ends a step when it arrives.
const JUMP_TOLERANCES: f64 = 0.2;
/// The one curve of a step may miss by this many the several that it looks up.
const MERGE_TOLERANCES: f64 = 0.2;
/// Delays that pass before the gentle form is tried again.
const WAIT_DELAYS: f64 = 2.0;

/// Which side of a moment is meant where a wave jumps or bends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Side {
    Before,
    After,
}

/// The waves that left the two ends, from one moment to another: cubics by values and slopes.
#[derive(Clone, Copy, Debug)]
struct Piece {
    start_s: f64,
    step_s: f64,
    /// At start and end, of each cable end, V.
    waves: [[f64; 2]; 2],
    /// V/s.
    slopes: [[f64; 2]; 2],
}

impl Piece {
    fn end_s(&self) -> f64 {
        self.start_s + self.step_s
    }

    fn wave(&self, from: usize, time_s: f64) -> f64 {
        let share = (time_s - self.start_s) / self.step_s;
        let slopes = self.slopes.map(|slopes| slopes[from] * self.step_s);
        cubic(self.waves.map(|waves| waves[from]), slopes, share)
    }

    fn slope(&self, from: usize, time_s: f64) -> f64 {
        let share = (time_s - self.start_s) / self.step_s;
        let rise = self.waves[1][from] - self.waves[0][from];
        let [m0, m1] = self.slopes.map(|slopes| slopes[from] * self.step_s);
        let (bend0, bend1) = (m0 - rise, rise - m1);
        let rest = 1.0 - share;
        let curve = bend0 * rest * (rest - 2.0 * share) + bend1 * share * (2.0 * rest - share);
        (rise + curve) / self.step_s
    }
}

/// One cable's waves under way, and how its ends are treated at present.
#[derive(Clone, Debug)]
pub(crate) struct Waves {
    line: Line,
    tolerance_v: f64,
    /// What has left within the last delay, and may be a little more.
    left: VecDeque<Piece>,
    /// When jumps arrive, in order, s.
    arrivals: VecDeque<f64>,
    is_gentle: bool,
    /// No gentle step before this, s.
    wait_until_s: f64,
}

impl Waves {
    /// At rest with the unknowns `x`.
    pub(crate) fn rest(line: &Line, x: &[f64], tolerance_v: f64) -> Self {
        let waves = line.leaving(x);
        let delay_s = line.delay_s;
        let still = Piece {
            start_s: -2.0 * delay_s,
            step_s: 2.0 * delay_s,
            waves: [waves; 2],
            slopes: [[0.0; 2]; 2],
        };
        Self {
            line: line.clone(),
            tolerance_v,
            left: VecDeque::from([still]),
            arrivals: VecDeque::new(),
            is_gentle: true,
            wait_until_s: 0.0,
        }
    }

    /// The longest step that looks up nothing that has not left yet, s.
    pub(crate) fn longest_step_s(&self) -> f64 {
        if self.is_gentle { f64::INFINITY } else { self.line.delay_s }
    }

    /// The longest step from a moment, none above `longest_s`, at whose end the end of an earlier
    /// step arrives and over which all that arrives is one curve; `None` if no such end arrives.
    pub(crate) fn smooth_step_s(&self, start_s: f64, longest_s: f64) -> Option<f64> {
        if self.is_gentle {
            return None;
        }
        let then_s = start_s - self.line.delay_s;
        let ended_by = |time_s: f64| self.left.partition_point(|piece| piece.end_s() <= time_s);
        let (first, past) = (ended_by(then_s + SAME_MOMENT_S), ended_by(then_s + longest_s));
        let last = (first..past).rev().find(|&last| self.is_one_curve(then_s, first, last))?;
        Some(self.left[last].end_s() - then_s)
    }

    /// Whether one cubic passes for what left from a moment in one piece to the end of another.
    fn is_one_curve(&self, start_s: f64, first: usize, last: usize) -> bool {
        if first == last {
            return true;
        }
        let step_s = self.left[last].end_s() - start_s;
        let [start, end] = [(first, start_s), (last, start_s + step_s)];
        let at_ends = |of: fn(&Piece, usize, f64) -> f64| {
            [start, end].map(|(piece, time_s)| [0, 1].map(|end| of(&self.left[piece], end, time_s)))
        };
        let (waves, slopes) = (at_ends(Piece::wave), at_ends(Piece::slope));
        let one = Piece { start_s, step_s, waves, slopes };
        self.left.range(first..=last).all(|piece| {
            let from_s = piece.start_s.max(start_s);
            [from_s, 0.5 * (from_s + piece.end_s())].into_iter().all(|time_s| {
                let gaps = [0, 1].map(|end| one.wave(end, time_s) - piece.wave(end, time_s));
                gaps.iter().all(|gap| gap.abs() < MERGE_TOLERANCES * self.tolerance_v)
            })
        })
    }

    /// The next moment at which a jump arrives, s.
    pub(crate) fn next_arrival_s(&self) -> Option<f64> {
        self.arrivals.front().copied()
    }

    /// In place of a driver's weights.
    pub(crate) fn weights(&self, time_s: f64, side: Side) -> Weights {
        if self.is_gentle {
            return gentle();
        }
        let then_s = time_s - self.line.delay_s;
        let piece = self.piece(then_s, side);
        travelling([1, 0].map(|from| piece.wave(from, then_s)))
    }

    /// Their change a second.
    pub(crate) fn rates(&self, time_s: f64, side: Side) -> Weights {
        if self.is_gentle {
            return travelling([0.0; 2]);
        }
        let then_s = time_s - self.line.delay_s;
        let piece = self.piece(then_s, side);
        travelling([1, 0].map(|from| piece.slope(from, then_s)))
    }

    /// Whether what arrives changes its slope at this moment.
    pub(crate) fn bends(&self, time_s: f64) -> bool {
        let [before, after] =
            [Side::Before, Side::After].map(|side| self.rates(time_s, side).map(f64::to_bits));
        before != after
    }

    fn piece(&self, then_s: f64, side: Side) -> &Piece {
        let reached = match side {
            Side::Before => then_s - SAME_MOMENT_S,
            Side::After => then_s + SAME_MOMENT_S,
        };
        let after = self.left.partition_point(|piece| piece.start_s <= reached);
        &self.left[after.saturating_sub(1)]
    }

    /// Whether every wave is looked up.
    pub(crate) fn is_travelling(&self) -> bool {
        !self.is_gentle
    }

    /// From here on every wave is looked up.
    pub(crate) fn travel(&mut self, time_s: f64) {
        self.is_gentle = false;
        self.wait_until_s = time_s + WAIT_DELAYS * self.line.delay_s;
        while self.arrivals.front().is_some_and(|&at_s| at_s <= time_s + SAME_MOMENT_S) {
            self.arrivals.pop_front();
        }
    }

    /// Goes over to the gentle form if nothing steep is under way: whether it did. `time_s` is the
    /// end of the last step.
    pub(crate) fn rest_if_calm(&mut self, time_s: f64) -> bool {
        if self.is_gentle || time_s < self.wait_until_s || !self.arrivals.is_empty() {
            return false;
        }
        let [old, middle, new] = [1.0, 0.5, 0.0].map(|delays| {
            let then_s = time_s - delays * self.line.delay_s;
            let piece = self.piece(then_s, Side::Before);
            [0, 1].map(|from| piece.wave(from, then_s))
        });
        self.is_gentle = [0, 1].into_iter().all(|from| {
            let bow = old[from] - 2.0 * middle[from] + new[from];
            bow.abs() < STRAIGHT_TOLERANCES * self.tolerance_v
        });
        self.is_gentle
    }

    /// Whether what arrives, on the curve of a step in the gentle form, is too far from what left one
    /// delay before.
    pub(crate) fn misses(&self, ends: &Ends) -> bool {
        if !self.is_gentle {
            return false;
        }
        let new = self.leaving(ends);
        [0.25, 0.5, 0.75, 1.0].into_iter().any(|share| {
            let time_s = ends.start_s + share * ends.step_s;
            let then_s = time_s - self.line.delay_s;
            let piece = if then_s > ends.start_s { new } else { *self.piece(then_s, Side::Before) };
            [0, 1].into_iter().any(|end| {
                let arrived = interpolate_at(ends, self.line.arriving()[end], share);
                let gap = arrived - piece.wave(1 - end, then_s);
                gap.abs() > GENTLE_TOLERANCES * self.tolerance_v
            })
        })
    }

    fn leaving(&self, ends: &Ends) -> Piece {
        Piece {
            start_s: ends.start_s,
            step_s: ends.step_s,
            waves: ends.x.map(|x| self.line.leaving(x)),
            slopes: ends.slope.map(|slope| self.line.leaving(slope)),
        }
    }

    /// Whether all that is under way is within a share of the tolerance of what leaves at `x`.
    pub(crate) fn is_at_rest(&self, x: &[f64], share: f64) -> bool {
        let leaving = self.line.leaving(x);
        let is_near = |waves: &[f64; 2]| {
            let gaps = waves.iter().zip(leaving).map(|(wave, leaving)| (wave - leaving).abs());
            gaps.fold(0.0, f64::max) <= share * self.tolerance_v
        };
        self.is_gentle
            && self.arrivals.is_empty()
            && self.left.iter().all(|piece| piece.waves.iter().all(is_near))
    }

    /// Takes in what has left during a step.
    pub(crate) fn keep(&mut self, ends: &Ends) {
        let new = self.leaving(ends);
        let delay_s = self.line.delay_s;
        if let Some(last) = self.left.back() {
            let jumps = [0, 1].map(|end| new.waves[0][end] - last.waves[1][end]);
            if jumps.iter().any(|jump| jump.abs() > JUMP_TOLERANCES * self.tolerance_v) {
                self.arrivals.push_back(new.start_s + delay_s);
            }
        }
        self.left.push_back(new);
        let needed_s = new.end_s() - delay_s - 2.0 * SAME_MOMENT_S;
        while self.left.len() > 1 && self.left[0].end_s() < needed_s {
            self.left.pop_front();
        }
    }

    /// Moves all that is under way by what the unknowns are moved by.
    pub(crate) fn shift(&mut self, moved: &[f64]) {
        let by = self.line.leaving(moved);
        for piece in &mut self.left {
            for waves in &mut piece.waves {
                for (wave, by) in waves.iter_mut().zip(by) {
                    *wave += by;
                }
            }
        }
    }

    /// Moves the origin of time forward.
    pub(crate) fn rebase(&mut self, by_s: f64) {
        for piece in &mut self.left {
            piece.start_s -= by_s;
        }
        for at_s in &mut self.arrivals {
            *at_s -= by_s;
        }
        self.wait_until_s -= by_s;
    }
}
