//! Elimination of the unknowns that only linear parts touch.
//!
//! Most rows of a board are resistors, capacitors and sources. They are eliminated first, in an order
//! that is found once and keeps the matrix nearly as empty as it is; what is left over is a small
//! dense system in the unknowns of the curved parts, on which Newton's method runs alone.
//!
//! # Source
//!
//! H. M. Markowitz, "The elimination form of the inverse and its application to linear programming",
//! Management Science 3 (1957), for the order; the rest over is the Schur complement of any text on
//! linear algebra.

use std::collections::BTreeSet;
use std::ops::Range;

/// A pivot is no smaller than this share of the largest entry of its column, when the order is found.
const PIVOT_SHARE: f64 = 0.1;
/// Where, with other numbers, a row has to be taken away this many times, the order no longer serves.
const MOST_TIMES: f64 = 1e4;

/// One entry of a matrix: row, column, value.
pub(crate) type Entry = (usize, usize, f64);

/// What is eliminated in which order, in *places*: pivots first, in their order, then what is left
/// over.
#[derive(Clone, Debug)]
pub(crate) struct Elimination {
    /// Number of places.
    pub(crate) size: usize,
    /// Number of pivots.
    pub(crate) head: usize,
    /// Row and column of the matrix at each place.
    pub(crate) rows: Vec<usize>,
    pub(crate) columns: Vec<usize>,
    /// The places of all rows and columns; none for those that are left out.
    places: [Vec<usize>; 2],
    /// Places below each pivot, and to its right, that are not empty.
    below: Lists,
    right: Lists,
    /// The whole, row by row, while it is eliminated.
    values: Vec<f64>,
}

/// What elimination has made of a matrix.
#[derive(Clone, Debug, Default)]
pub(crate) struct Factors {
    /// What the eliminated rows take away from those below, in order.
    down: Vec<Take>,
    /// One over each pivot.
    inverses: Vec<f64>,
    /// What is then taken away from the eliminated unknowns, from the last pivot up.
    up: Vec<Take>,
}

/// From one place so many times another is taken away.
#[derive(Clone, Copy, Debug)]
struct Take {
    to: usize,
    from: usize,
    times: f64,
}

/// A list of places for each pivot.
#[derive(Clone, Debug, Default)]
struct Lists {
    places: Vec<usize>,
    ranges: Vec<Range<usize>>,
}

impl Lists {
    fn push(&mut self, list: impl Iterator<Item = usize>) {
        let start = self.places.len();
        self.places.extend(list);
        self.ranges.push(start..self.places.len());
    }

    fn of(&self, pivot: usize) -> &[usize] {
        &self.places[self.ranges[pivot].clone()]
    }
}

impl Elimination {
    /// Finds an order for a matrix with these entries, of `order` rows and columns. Rows and columns
    /// in `last` are not eliminated, nor those for which no pivot is left; those in `left_out` are not
    /// there at all.
    pub(crate) fn new(
        order: usize,
        entries: &[Entry],
        last: &BTreeSet<usize>,
        left_out: &BTreeSet<usize>,
    ) -> Self {
        let mut search = Search::new(order, entries, left_out);
        let mut pivots = Vec::new();
        while let Some(pivot) = search.next(last) {
            pivots.push((pivot, search.eliminate(pivot)));
        }
        let [rows, columns] = [0, 1].map(|side| {
            let head = pivots.iter().map(|(pivot, _)| pivot[side]);
            head.chain(search.left[side].iter().copied()).collect::<Vec<usize>>()
        });
        let places = [&rows, &columns].map(|list| places(list, order));
        let (mut below, mut right) = (Lists::default(), Lists::default());
        for (_, [rows, columns]) in &pivots {
            below.push(rows.iter().map(|&row| places[0][row]));
            right.push(columns.iter().map(|&column| places[1][column]));
        }
        let (size, head) = (rows.len(), pivots.len());
        let values = vec![0.0; size * size];
        Self { size, head, rows, columns, places, below, right, values }
    }

    /// The places of all rows and all columns; `usize::MAX` for those that are left out.
    pub(crate) fn places(&self) -> &[Vec<usize>; 2] {
        &self.places
    }

    /// Number of unknowns left over.
    pub(crate) fn tail(&self) -> usize {
        self.size - self.head
    }

    /// Eliminates in a matrix with these entries, by index row * size + column; whether the order
    /// serves for them.
    pub(crate) fn eliminate(
        &mut self,
        entries: impl Iterator<Item = (usize, f64)>,
        factors: &mut Factors,
    ) -> bool {
        self.values.fill(0.0);
        for (index, value) in entries {
            self.values[index] += value;
        }
        let serves = self.reduce(factors);
        self.list_up(factors);
        serves
    }

    /// The matrix that the last elimination has left over, row by row.
    pub(crate) fn rest(&self) -> impl Iterator<Item = &[f64]> {
        let rows = self.values[self.head * self.size..].chunks_exact(self.size.max(1));
        rows.map(|row| &row[self.head..])
    }

    /// The elimination itself, in place.
    fn reduce(&mut self, factors: &mut Factors) -> bool {
        let n = self.size;
        factors.down.clear();
        factors.inverses.clear();
        let mut most_times = 0.0_f64;
        for pivot in 0..self.head {
            let (above, rest) = self.values.split_at_mut((pivot + 1) * n);
            let own = &above[pivot * n..];
            let inverse = 1.0 / own[pivot];
            factors.inverses.push(inverse);
            for &place in self.below.of(pivot) {
                let row = &mut rest[(place - pivot - 1) * n..][..n];
                let times = row[pivot] * inverse;
                factors.down.push(Take { to: place, from: pivot, times });
                most_times = if times.abs() > most_times { times.abs() } else { most_times };
                for &column in self.right.of(pivot) {
                    row[column] -= times * own[column];
                }
            }
        }
        most_times < MOST_TIMES && factors.inverses.iter().all(|inverse| inverse.is_finite())
    }

    /// Lists what a solution takes away on its way up.
    fn list_up(&self, factors: &mut Factors) {
        factors.up.clear();
        for pivot in (0..self.head).rev() {
            let own = &self.values[pivot * self.size..][..self.size];
            let inverse = factors.inverses[pivot];
            factors.up.extend(self.right.of(pivot).iter().map(|&from| Take {
                to: pivot,
                from,
                times: own[from] * inverse,
            }));
        }
    }
}

impl Factors {
    /// Carries the eliminated rows of right-hand sides into what is left over. They lie beside each
    /// other, so many in a row.
    pub(crate) fn forward(&self, rows: &mut [f64], width: usize) {
        for &Take { to, from, times } in &self.down {
            let (above, below) = rows.split_at_mut(to * width);
            take_away(&mut below[..width], times, &above[from * width..][..width]);
        }
    }

    /// Solves for the eliminated unknowns, those left over being in their places.
    pub(crate) fn backward(&self, rows: &mut [f64], width: usize) {
        for (row, inverse) in rows.chunks_exact_mut(width).zip(&self.inverses) {
            row.iter_mut().for_each(|value| *value *= inverse);
        }
        for &Take { to, from, times } in &self.up {
            let (above, below) = rows.split_at_mut(from * width);
            take_away(&mut above[to * width..][..width], times, &below[..width]);
        }
    }
}

fn take_away(row: &mut [f64], times: f64, other: &[f64]) {
    for (value, other) in row.iter_mut().zip(other) {
        *value -= times * other;
    }
}

fn places(list: &[usize], order: usize) -> Vec<usize> {
    let mut places = vec![usize::MAX; order];
    for (place, &index) in list.iter().enumerate() {
        places[index] = place;
    }
    places
}

/// The search for an order, with numbers, so that no pivot is chosen that is hardly there.
struct Search {
    order: usize,
    values: Vec<f64>,
    filled: Vec<bool>,
    /// Rows and columns that are left.
    left: [BTreeSet<usize>; 2],
}

impl Search {
    fn new(order: usize, entries: &[Entry], left_out: &BTreeSet<usize>) -> Self {
        let (mut values, mut filled) = (vec![0.0; order * order], vec![false; order * order]);
        for &(row, column, value) in entries {
            values[row * order + column] += value;
            filled[row * order + column] = true;
        }
        let left: BTreeSet<usize> = (0..order).filter(|at| !left_out.contains(at)).collect();
        Self { order, values, filled, left: [left.clone(), left] }
    }

    /// The entry whose elimination fills the least, among those large enough.
    fn next(&self, last: &BTreeSet<usize>) -> Option<[usize; 2]> {
        let is_filled = |row: &usize, column: &usize| self.filled[row * self.order + column];
        let [rows, columns] = &self.left;
        let in_row: Vec<usize> = rows
            .iter()
            .map(|row| columns.iter().filter(|column| is_filled(row, column)).count())
            .collect();
        let mut best: Option<(usize, [usize; 2])> = None;
        for column in columns.difference(last) {
            let in_column = || rows.iter().zip(&in_row).filter(|(row, _)| is_filled(row, column));
            let size = |row: &usize| self.values[row * self.order + column].abs();
            let largest = in_column().map(|(row, _)| size(row)).fold(0.0, f64::max);
            let beside = in_column().count().saturating_sub(1);
            for (row, in_row) in in_column() {
                let fill = (in_row - 1) * beside;
                let serves = !last.contains(row) && size(row) > 0.0;
                if serves
                    && size(row) >= PIVOT_SHARE * largest
                    && best.is_none_or(|(least, _)| fill < least)
                {
                    best = Some((fill, [*row, *column]));
                }
            }
        }
        best.map(|(_, pivot)| pivot)
    }

    /// Eliminates a pivot; the rows below it and the columns to its right.
    fn eliminate(&mut self, [row, column]: [usize; 2]) -> [Vec<usize>; 2] {
        self.left[0].remove(&row);
        self.left[1].remove(&column);
        let n = self.order;
        let [rows, columns] = &self.left;
        let below: Vec<usize> =
            rows.iter().copied().filter(|other| self.filled[other * n + column]).collect();
        let right: Vec<usize> =
            columns.iter().copied().filter(|other| self.filled[row * n + other]).collect();
        for &other in &below {
            let times = self.values[other * n + column] / self.values[row * n + column];
            for &beside in &right {
                self.values[other * n + beside] -= times * self.values[row * n + beside];
                self.filled[other * n + beside] = true;
            }
        }
        [below, right]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::network::matrix::Matrix;
    use proptest::prelude::*;

    /// A random matrix of nodes joined at random, some of them by currents of ideal parts.
    fn board(order: usize, joins: &[(usize, usize, f64)]) -> Vec<Entry> {
        let mut entries: Vec<Entry> = (0..order).map(|node| (node, node, 1e-3)).collect();
        for &(a, b, size) in joins {
            let (a, b) = (a % order, b % order);
            if a != b {
                entries.extend([(a, a, size), (b, b, size), (a, b, -size), (b, a, -size)]);
            }
        }
        entries
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn what_is_eliminated_and_what_is_left_over_solve_the_whole(
            order in 3_usize..14,
            joins in prop::collection::vec((0_usize..14, 0_usize..14, 1e-6..1.0_f64), 2..30),
            last in prop::collection::btree_set(0_usize..14, 0..5),
        ) {
            let last = last.into_iter().filter(|&at| at < order).collect();
            let mut entries = board(order, &joins);
            // An ideal source between the last node and ground, its current one more unknown.
            entries.extend([(order - 1, order, 1.0), (order, order - 1, 1.0)]);
            let mut elimination = Elimination::new(order + 1, &entries, &last, &BTreeSet::new());
            let [rows, columns] = elimination.places().clone();
            let size = elimination.size;
            let mut factors = Factors::default();
            let placed = entries.iter().map(|&(r, c, v)| (rows[r] * size + columns[c], v));
            prop_assert!(elimination.eliminate(placed, &mut factors));
            let right: Vec<f64> = (0..=order).map(|row| if row % 2 == 0 { 1.0 } else { -0.3 }).collect();
            let mut b: Vec<f64> = elimination.rows.iter().map(|&row| right[row]).collect();
            factors.forward(&mut b, 1);
            let mut rest = Matrix::new(elimination.tail());
            for (row, values) in elimination.rest().enumerate() {
                for (column, &value) in values.iter().enumerate() {
                    rest.add(row, column, value);
                }
            }
            rest.factorize().unwrap();
            rest.solve(&mut b[elimination.head..]);
            factors.backward(&mut b, 1);
            let mut whole = Matrix::new(order + 1);
            for &(row, column, value) in &entries {
                whole.add(row, column, value);
            }
            whole.factorize().unwrap();
            let mut expected = right;
            whole.solve(&mut expected);
            for (value, &column) in b.iter().zip(&elimination.columns) {
                let near = (value - expected[column]).abs();
                prop_assert!(near < 1e-9 * (1.0 + expected[column].abs()), "{near}");
            }
        }
    }
}
