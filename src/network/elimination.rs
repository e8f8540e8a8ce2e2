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

/// The factors of the rows that are eliminated, in *places*: pivots first, in their order, then what
/// is left over.
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
    /// The whole, row by row: entries before, factors after [`Elimination::factorize`].
    values: Vec<f64>,
    /// One over each pivot.
    inverses: Vec<f64>,
}

/// A list of places for each pivot, with a number each.
#[derive(Clone, Debug, Default)]
struct Lists {
    places: Vec<usize>,
    factors: Vec<f64>,
    ranges: Vec<Range<usize>>,
}

impl Lists {
    fn push(&mut self, list: impl Iterator<Item = usize>) {
        let start = self.places.len();
        self.places.extend(list);
        self.factors.resize(self.places.len(), 0.0);
        self.ranges.push(start..self.places.len());
    }

    fn of(&self, pivot: usize) -> impl Iterator<Item = (usize, f64)> + '_ {
        let range = self.ranges[pivot].clone();
        let factors = self.factors[range.clone()].iter().copied();
        self.places[range].iter().copied().zip(factors)
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
        let (values, inverses) = (vec![0.0; size * size], vec![0.0; head]);
        Self { size, head, rows, columns, places, below, right, values, inverses }
    }

    /// The places of all rows and all columns; `usize::MAX` for those that are left out.
    pub(crate) fn places(&self) -> &[Vec<usize>; 2] {
        &self.places
    }

    /// Number of unknowns left over.
    pub(crate) fn tail(&self) -> usize {
        self.size - self.head
    }

    /// Takes new entries, by index row * size + column.
    pub(crate) fn load(&mut self, entries: impl Iterator<Item = (usize, f64)>) {
        self.values.fill(0.0);
        for (index, value) in entries {
            self.values[index] += value;
        }
    }

    /// Eliminates; whether the order serves for these entries.
    pub(crate) fn factorize(&mut self) -> bool {
        let n = self.size;
        let mut most_times = 0.0_f64;
        for pivot in 0..self.head {
            let (above, rest) = self.values.split_at_mut((pivot + 1) * n);
            let own = &above[pivot * n..];
            let inverse = 1.0 / own[pivot];
            self.inverses[pivot] = inverse;
            let right = self.right.ranges[pivot].clone();
            for (factor, &place) in
                self.right.factors[right.clone()].iter_mut().zip(&self.right.places[right.clone()])
            {
                *factor = own[place];
            }
            let below = self.below.ranges[pivot].clone();
            for (factor, &place) in
                self.below.factors[below.clone()].iter_mut().zip(&self.below.places[below])
            {
                let row = &mut rest[(place - pivot - 1) * n..][..n];
                let times = row[pivot] * inverse;
                *factor = times;
                most_times = if times.abs() > most_times { times.abs() } else { most_times };
                for (upper, &column) in
                    self.right.factors[right.clone()].iter().zip(&self.right.places[right.clone()])
                {
                    row[column] -= times * upper;
                }
            }
        }
        most_times < MOST_TIMES && self.inverses.iter().all(|inverse| inverse.is_finite())
    }

    /// What is left over, row by row, after [`Elimination::factorize`].
    pub(crate) fn left_over(&self) -> impl Iterator<Item = &[f64]> {
        let rows = self.values[self.head * self.size..].chunks_exact(self.size.max(1));
        rows.map(|row| &row[self.head..])
    }

    /// Carries the eliminated rows of a right-hand side into what is left over.
    pub(crate) fn forward(&self, b: &mut [f64]) {
        for pivot in 0..self.head {
            let value = b[pivot];
            if value != 0.0 {
                for (place, times) in self.below.of(pivot) {
                    b[place] -= times * value;
                }
            }
        }
    }

    /// Solves for the eliminated unknowns, those left over being in their places.
    pub(crate) fn backward(&self, b: &mut [f64]) {
        for pivot in (0..self.head).rev() {
            let known: f64 = self.right.of(pivot).map(|(place, upper)| upper * b[place]).sum();
            b[pivot] = (b[pivot] - known) * self.inverses[pivot];
        }
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
            elimination.load(entries.iter().map(|&(r, c, v)| (rows[r] * size + columns[c], v)));
            prop_assert!(elimination.factorize());
            let right: Vec<f64> = (0..=order).map(|row| if row % 2 == 0 { 1.0 } else { -0.3 }).collect();
            let mut b: Vec<f64> = elimination.rows.iter().map(|&row| right[row]).collect();
            elimination.forward(&mut b);
            let (head, tail) = (elimination.head, elimination.tail());
            let mut rest = Matrix::new(tail);
            for (row, values) in elimination.left_over().enumerate() {
                for (column, &value) in values.iter().enumerate() {
                    rest.add(row, column, value);
                }
            }
            rest.factorize().unwrap();
            rest.solve(&mut b[head..]);
            elimination.backward(&mut b);
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
