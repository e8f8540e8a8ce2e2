//! What elimination has made of the linear parts, kept for what comes again.
//!
//! A stage leads from x₀ by d = r ẋ to where (C + r G) d = −r (G x₀ + p) − (q − q₀ + r i), with q and i
//! the charge and the currents of the curved parts, which stand in the rows left over, the *tail*,
//! and in those of ideal sources. Everything but q and i is linear in x₀ and in how far the tail moves;
//! it is worked out here as matrices, so that a stage costs a product with each.
//!
//! They depend on which drivers count as linear, on the states in which these stand, and on the reach
//! r of a step. What comes of it is the same whether it was kept or is worked out anew, bit for bit.

use crate::network::dense::Dense;
use crate::network::dense::padded;
use crate::network::elimination::Elimination;
use crate::network::elimination::Factors;
use crate::network::evaluation::Weights;
use crate::network::ladder;
use crate::network::linear_part::LinearPart;
use std::collections::HashMap;

/// A linear part with the eliminated unknowns taken out of it.
#[derive(Debug, Default)]
pub(crate) struct Reduced {
    /// From x₀ to how far each unknown moves while the tail stands still; in the places of the tail,
    /// which does not move then, what pushes it: r times a current, C.
    pub(crate) ahead: Dense,
    /// The same for x₀ = 0.
    pub(crate) constant: Vec<f64>,
    /// What the tail's own moves take away from that push.
    pub(crate) rest: Dense,
    /// From how far the tail moves to how far each other unknown follows it.
    pub(crate) follow: Dense,
    /// Whether the order of elimination serves.
    pub(crate) serves: bool,
}

/// Works them out.
#[derive(Debug)]
pub(crate) struct Reduction {
    pub(crate) elimination: Elimination,
    /// Of every linear entry, where it stands in the elimination.
    indices: Vec<usize>,
    factors: Factors,
    /// Right-hand sides, by place: for each x₀, for none, and for each move of the tail.
    sides: Vec<f64>,
    order: usize,
    /// The first of those for moves of the tail, and how many there are in all.
    first_move: usize,
    width: usize,
    /// One of them for a source's current.
    branch: Vec<f64>,
}

impl Reduction {
    /// With an order of elimination for this linear part.
    pub(crate) fn new(order: usize, linear: &LinearPart, elimination: Elimination) -> Self {
        let ([rows, columns], size) = (elimination.places(), elimination.size);
        let indices = linear.rows.iter().zip(&linear.columns).map(|(&row, &column)| {
            let (row, column) = (rows[row], columns[column]);
            if row < size && column < size { row * size + column } else { usize::MAX }
        });
        let indices = indices.collect();
        let first_move = padded(order + 1);
        let width = first_move + padded(elimination.tail());
        Self {
            indices,
            factors: Factors::default(),
            sides: vec![0.0; size * width],
            order,
            first_move,
            width,
            branch: vec![0.0; width],
            elimination,
        }
    }

    /// Eliminates for a reach.
    pub(crate) fn work_out(&mut self, linear: &LinearPart, reach: f64, reduced: &mut Reduced) {
        let entries = self.indices.iter().copied().zip(linear.entries(reach));
        let placed = entries.filter(|&(index, _)| index != usize::MAX);
        reduced.serves = self.elimination.eliminate(placed, &mut self.factors);
        self.set_sides(linear, reach);
        let (order, width, first_move) = (self.order, self.width, self.first_move);
        let (head, tail) = (self.elimination.head, self.elimination.tail());
        reduced.ahead.reset(order, order);
        reduced.constant.clear();
        reduced.constant.resize(padded(order), 0.0);
        reduced.follow.reset(order, tail);
        reduced.rest.reset(tail, tail);
        for (row, values) in self.elimination.rest().enumerate() {
            reduced.rest.set_row(row, values);
        }
        self.factors.forward(&mut self.sides, width);
        let columns = &self.elimination.columns;
        let pushes = self.sides[head * width..].chunks_exact_mut(width).zip(&columns[head..]);
        for (index, (push, &column)) in pushes.enumerate() {
            keep(reduced, column, push, first_move);
            push.fill(0.0);
            push[first_move + index] = 1.0;
        }
        self.factors.backward(&mut self.sides, width);
        for (side, &column) in self.sides.chunks_exact(width).zip(&columns[..head]) {
            keep(reduced, column, side, first_move);
        }
        for index in 0..linear.rails.len() {
            self.add_rail(linear, index, reach, reduced);
        }
    }

    /// Sets the right-hand sides −r (G x₀ + p), with what is known of the rails.
    fn set_sides(&mut self, linear: &LinearPart, reach: f64) {
        let ([rows, columns], size) = (self.elimination.places(), self.elimination.size);
        self.sides.fill(0.0);
        for (row, column, siemens, farads) in linear.all() {
            let Some(side) = self.sides.chunks_exact_mut(self.width).nth(rows[row]) else {
                continue;
            };
            if columns[column] < size {
                side[column] -= reach * siemens;
            } else if let Some(rail) = linear.rails.iter().find(|rail| rail.node == column) {
                // It moves to where it belongs.
                side[column] += farads;
                side[self.order] -= (farads + reach * siemens) * rail.volts;
            }
        }
        for (side, &row) in self.sides.chunks_exact_mut(self.width).zip(&self.elimination.rows) {
            side[self.order] -= reach * linear.pushed()[row];
        }
    }

    /// A rail's node goes to its voltage; what the parts there leave over is the source's current.
    fn add_rail(&mut self, linear: &LinearPart, index: usize, reach: f64, reduced: &mut Reduced) {
        let (order, size, rail) = (self.order, self.elimination.size, &linear.rails[index]);
        self.branch.fill(0.0);
        self.branch[rail.node] = -1.0;
        self.branch[order] = rail.volts;
        keep(reduced, rail.node, &self.branch, self.first_move);
        self.branch.fill(0.0);
        self.branch[rail.branch] = -1.0;
        self.branch[order] = -linear.pushed()[rail.node];
        let per_reach = 1.0 / reach;
        for (column, siemens, farads) in linear.rail_row(rail) {
            self.branch[column] -= siemens;
            let times = farads * per_reach + siemens;
            let place = self.elimination.places()[1][column];
            if place < size {
                let side = &self.sides[place * self.width..][..self.width];
                for (branch, side) in self.branch.iter_mut().zip(side) {
                    *branch -= times * side;
                }
            } else if let Some(other) = linear.rails.iter().find(|rail| rail.node == column) {
                self.branch[column] += times;
                self.branch[order] -= times * other.volts;
            }
        }
        keep(reduced, rail.branch, &self.branch, self.first_move);
    }
}

/// Keeps what was found of one unknown.
fn keep(reduced: &mut Reduced, unknown: usize, side: &[f64], first_move: usize) {
    let order = reduced.ahead.columns();
    reduced.ahead.set_row(unknown, &side[..order]);
    reduced.constant[unknown] = side[order];
    reduced.follow.set_row(unknown, &side[first_move..]);
}

/// Numbers that are kept before all are forgotten.
const MOST_KEPT: usize = 1 << 21;
/// The place of the one that is not kept.
const SCRATCH: usize = 0;

/// Those that are known.
#[derive(Debug)]
pub(crate) struct Kept {
    all: Vec<Reduced>,
    /// Number of each setting: a plan, and the states of its drivers.
    settings: HashMap<Vec<usize>, usize>,
    /// The setting of the present segment; none where a driver stands between two states.
    setting: Option<usize>,
    /// By setting and rung.
    places: HashMap<(usize, u64), usize>,
    /// The reach that was asked for last in the present segment, and its place.
    last: Option<(f64, usize)>,
    /// How many numbers the last one has.
    size: usize,
}

impl Default for Kept {
    fn default() -> Self {
        Self {
            all: vec![Reduced::default()],
            settings: HashMap::new(),
            setting: None,
            places: HashMap::new(),
            last: None,
            size: 0,
        }
    }
}

impl Kept {
    /// Begins a segment with this plan, in which all drivers but the `curved` ones stand at these
    /// weights.
    pub(crate) fn begin(&mut self, plan: usize, curved: &[usize], weights: &[Weights]) {
        let state = |(driver, weights): (usize, &Weights)| {
            let whole = || weights.iter().position(|weight| weight.total_cmp(&1.0).is_eq());
            if curved.contains(&driver) { Some(usize::MAX) } else { whole() }
        };
        let drivers = weights.iter().enumerate().map(state);
        let states: Option<Vec<usize>> = std::iter::once(Some(plan)).chain(drivers).collect();
        let next = self.settings.len();
        self.setting = states.map(|states| *self.settings.entry(states).or_insert(next));
        self.last = None;
    }

    /// What belongs to a reach: its place. It is worked out by `reduction` unless it is known, and kept
    /// if the reach is a rung.
    pub(crate) fn place(
        &mut self,
        reach: f64,
        reduction: &mut Reduction,
        linear: &LinearPart,
    ) -> usize {
        if let Some((last, place)) = self.last
            && last.total_cmp(&reach).is_eq()
        {
            return place;
        }
        let key = self.setting.zip(ladder::rung(reach));
        let known = key.and_then(|key| self.places.get(&key).copied());
        let place = known.unwrap_or_else(|| {
            let place = key.map_or(SCRATCH, |key| self.room(key));
            let reduced = &mut self.all[place];
            reduction.work_out(linear, reach, reduced);
            self.size = reduced.ahead.len() + reduced.follow.len() + reduced.rest.len();
            place
        });
        self.last = Some((reach, place));
        place
    }

    fn room(&mut self, key: (usize, u64)) -> usize {
        if self.all.len() * self.size > MOST_KEPT {
            self.all.truncate(SCRATCH + 1);
            self.places.clear();
        }
        self.all.push(Reduced::default());
        self.places.insert(key, self.all.len() - 1);
        self.all.len() - 1
    }

    pub(crate) fn at(&self, place: usize) -> &Reduced {
        &self.all[place]
    }
}
