//! Whole numbers modulo a prime, and what a matrix of them leaves open.
//!
//! The rank of a matrix with random entries in such a field is its rank with any values but
//! accidental ones, and there is no rounding to argue about.

/// 2^61 − 1, a prime.
const PRIME: u64 = (1 << 61) - 1;

pub(crate) fn reduce(bits: u64) -> u64 {
    bits % PRIME
}

fn add(a: u64, b: u64) -> u64 {
    let sum = a + b;
    if sum >= PRIME { sum - PRIME } else { sum }
}

fn negative(a: u64) -> u64 {
    if a == 0 { 0 } else { PRIME - a }
}

pub(crate) fn times(a: u64, b: u64) -> u64 {
    let product = u128::from(a) * u128::from(b);
    u64::try_from(product % u128::from(PRIME)).unwrap()
}

fn inverse(a: u64) -> u64 {
    // a^(p − 2) = 1/a, Fermat.
    let (mut result, mut base, mut power) = (1, a, PRIME - 2);
    while power > 0 {
        if power & 1 == 1 {
            result = times(result, base);
        }
        base = times(base, base);
        power >>= 1;
    }
    result
}

/// A square matrix; row and column `None` are ground's and are left out.
pub(crate) struct Square {
    order: usize,
    rows: Vec<Vec<u64>>,
}

impl Square {
    pub(crate) fn new(order: usize) -> Self {
        Self { order, rows: vec![vec![0; order]; order] }
    }

    pub(crate) fn add(&mut self, row: Option<usize>, column: Option<usize>, value: u64) {
        if let (Some(row), Some(column)) = (row, column) {
            self.rows[row][column] = add(self.rows[row][column], value);
        }
    }

    pub(crate) fn subtract(&mut self, row: Option<usize>, column: Option<usize>, value: u64) {
        self.add(row, column, negative(value));
    }

    /// Unknowns that are not the same in all solutions.
    pub(crate) fn open(mut self) -> Vec<usize> {
        let mut pivots: Vec<Option<usize>> = vec![None; self.order];
        let mut next = 0;
        for (column, pivot) in pivots.iter_mut().enumerate() {
            let Some(found) = (next..self.order).find(|&row| self.rows[row][column] != 0) else {
                continue;
            };
            self.rows.swap(next, found);
            self.clear(next, column);
            *pivot = Some(next);
            next += 1;
        }
        let free: Vec<usize> = (0..self.order).filter(|&column| pivots[column].is_none()).collect();
        let moves = |unknown: &usize| match pivots[*unknown] {
            None => true,
            Some(row) => free.iter().any(|&column| self.rows[row][column] != 0),
        };
        (0..self.order).filter(moves).collect()
    }

    /// Makes the pivot 1 and the rest of its column 0.
    fn clear(&mut self, pivot: usize, column: usize) {
        let by = inverse(self.rows[pivot][column]);
        let row: Vec<u64> = self.rows[pivot].iter().map(|&entry| times(entry, by)).collect();
        for (index, other) in self.rows.iter_mut().enumerate() {
            let factor = negative(other[column]);
            if index != pivot && factor != 0 {
                for (to, &from) in other.iter_mut().zip(&row) {
                    if from != 0 {
                        *to = add(*to, times(factor, from));
                    }
                }
            }
        }
        self.rows[pivot] = row;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_determined_is_found_and_nothing_else() {
        // x0 = 0; x1 + 2 x2 = 0 twice over; x3 by itself.
        let mut square = Square::new(4);
        square.add(Some(0), Some(0), 7);
        for (row, factor) in [(1, 1), (2, 5)] {
            square.add(Some(row), Some(1), factor);
            square.add(Some(row), Some(2), 2 * factor);
        }
        square.subtract(Some(3), Some(3), 4);
        square.add(None, Some(3), 4);
        assert_eq!(square.open(), [1, 2]);
        assert_eq!(times(inverse(1234), 1234), 1);
    }
}
