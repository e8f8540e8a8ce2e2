//! A small dense system of equations, solved by LU decomposition with row pivoting.
//!
//! Boards have a dozen unknowns, where a dense matrix that stays in cache beats any sparse one.

/// A square matrix and, after [`Matrix::factorize`], its factors in the same place.
#[derive(Clone, Debug)]
pub(crate) struct Matrix {
    order: usize,
    entries: Vec<f64>,
    pivots: Vec<usize>,
}

impl Matrix {
    /// A zero matrix of that order.
    pub(crate) fn new(order: usize) -> Self {
        Self { order, entries: vec![0.0; order * order], pivots: vec![0; order] }
    }

    /// Sets every entry to 0.
    pub(crate) fn clear(&mut self) {
        self.entries.fill(0.0);
    }

    /// Adds to one entry.
    pub(crate) fn add(&mut self, row: usize, column: usize, value: f64) {
        self.entries[row * self.order + column] += value;
    }

    /// Replaces the entries by their LU factors.
    ///
    /// # Errors
    ///
    /// The column in which no pivot was found: that unknown is not determined.
    pub(crate) fn factorize(&mut self) -> Result<(), usize> {
        let n = self.order;
        for column in 0..n {
            let pivot = self.find_pivot(column);
            let size = self.entries[pivot * n + column].abs();
            if size.is_nan() || size < f64::MIN_POSITIVE {
                return Err(column);
            }
            self.pivots[column] = pivot;
            if pivot != column {
                for k in 0..n {
                    self.entries.swap(column * n + k, pivot * n + k);
                }
            }
            self.eliminate(column);
        }
        Ok(())
    }

    fn find_pivot(&self, column: usize) -> usize {
        let n = self.order;
        let mut best = column;
        for row in column + 1..n {
            if self.entries[row * n + column].abs() > self.entries[best * n + column].abs() {
                best = row;
            }
        }
        best
    }

    fn eliminate(&mut self, column: usize) {
        let n = self.order;
        let (top, below) = self.entries.split_at_mut((column + 1) * n);
        let pivot_row = &top[column * n..];
        let inverse = 1.0 / pivot_row[column];
        for row in below.chunks_exact_mut(n) {
            if row[column] != 0.0 {
                let factor = row[column] * inverse;
                row[column] = factor;
                for k in column + 1..n {
                    row[k] -= factor * pivot_row[k];
                }
            }
        }
    }

    /// Solves for the right-hand side in place, with the factors.
    pub(crate) fn solve(&self, b: &mut [f64]) {
        let n = self.order;
        for (row, &pivot) in self.pivots.iter().enumerate() {
            b.swap(row, pivot);
        }
        for row in 1..n {
            let factors = &self.entries[row * n..row * n + row];
            let sum: f64 = factors.iter().zip(&b[..row]).map(|(l, x)| l * x).sum();
            b[row] -= sum;
        }
        for row in (0..n).rev() {
            let factors = &self.entries[row * n + row + 1..(row + 1) * n];
            let sum: f64 = factors.iter().zip(&b[row + 1..]).map(|(u, x)| u * x).sum();
            b[row] = (b[row] - sum) / self.entries[row * n + row];
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_system_that_needs_pivoting_is_solved() {
        let mut matrix = Matrix::new(3);
        let a = [0.0, 2.0, 1.0, 1.0, 0.0, -1.0, 4.0, 1.0, 0.0];
        matrix.entries.copy_from_slice(&a);
        matrix.factorize().unwrap();
        let x = [3.0, -1.0, 2.0];
        let mut b: Vec<f64> =
            a.chunks(3).map(|row| row.iter().zip(&x).map(|(a, x)| a * x).sum()).collect();
        matrix.solve(&mut b);
        assert!(b.iter().zip(&x).all(|(got, want)| (got - want).abs() < 1e-14), "{b:?}");
    }

    #[test]
    fn an_undetermined_unknown_is_named() {
        let mut matrix = Matrix::new(2);
        matrix.add(0, 0, 1.0);
        assert_eq!(matrix.factorize(), Err(1));
    }
}
