//! A small dense system of equations, solved by LU decomposition with row pivoting.
//!
//! Boards have a dozen unknowns, where a dense matrix that stays in cache beats any sparse one.

/// A square matrix and, after [`Matrix::factorize`], its factors in the same place.
///
/// Kept column by column, so that every inner loop runs along memory.
#[derive(Clone, Debug, Default)]
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
        self.entries[column * self.order + row] += value;
    }

    /// The columns, one after another, before [`Matrix::factorize`].
    pub(crate) fn columns(&self) -> impl Iterator<Item = &[f64]> {
        self.entries.chunks_exact(self.order.max(1))
    }

    /// One entry, before [`Matrix::factorize`].
    pub(crate) fn get(&self, row: usize, column: usize) -> f64 {
        self.entries[column * self.order + row]
    }

    /// One row times `x`, before [`Matrix::factorize`]; columns beyond its length do not count.
    pub(crate) fn row_product(&self, row: usize, x: &[f64]) -> f64 {
        self.columns().zip(x).map(|(column, x)| column[row] * x).sum()
    }

    /// How large the terms are that add up in each row at `x`, of which the first `nodes` are
    /// voltages, before [`Matrix::factorize`].
    ///
    /// Slopes that cancel in one entry do so at a voltage that is still rounded; so the largest
    /// slope of a row counts with the largest voltage that it has to do with.
    pub(crate) fn sizes(&self, x: &[f64], nodes: usize) -> Vec<f64> {
        let mut sizes = vec![0.0; self.order];
        let mut largest = vec![(0.0_f64, 0.0_f64); self.order];
        for (index, (column, x)) in self.entries.chunks_exact(self.order).zip(x).enumerate() {
            for ((size, (slope, volts)), entry) in sizes.iter_mut().zip(&mut largest).zip(column) {
                *size += (entry * x).abs();
                if index < nodes && *entry != 0.0 {
                    *slope = slope.max(entry.abs());
                    *volts = volts.max(x.abs());
                }
            }
        }
        for (size, (slope, volts)) in sizes.iter_mut().zip(largest) {
            *size += slope * volts;
        }
        sizes
    }

    /// Adds to the first `nodes` entries of the diagonal `least`, or so many of their last bits.
    pub(crate) fn firm(&mut self, nodes: usize, least: f64, bits: f64) {
        for entry in self.entries.iter_mut().step_by(self.order + 1).take(nodes) {
            *entry += least.max(bits * f64::EPSILON * entry.abs());
        }
    }

    /// Multiplies each row by a power of 2 that brings its largest entry near 1; the factors.
    pub(crate) fn level_rows(&mut self) -> Vec<f64> {
        let mut largest = vec![0.0_f64; self.order];
        for column in self.entries.chunks_exact(self.order) {
            for (largest, entry) in largest.iter_mut().zip(column) {
                *largest = largest.max(entry.abs());
            }
        }
        let factors: Vec<f64> = largest.into_iter().map(levelling).collect();
        for column in self.entries.chunks_exact_mut(self.order) {
            for (entry, factor) in column.iter_mut().zip(&factors) {
                *entry *= factor;
            }
        }
        factors
    }

    /// Puts the columns from `first` on before the others: what is solved for comes in that order.
    pub(crate) fn put_first(&mut self, first: usize) {
        self.entries.rotate_left(first * self.order);
    }

    /// Takes the product with `x` away from `from`, before [`Matrix::factorize`].
    pub(crate) fn subtract_product(&self, x: &[f64], from: &mut [f64]) {
        for (column, &x) in self.entries.chunks_exact(self.order.max(1)).zip(x) {
            subtract_multiple(x, column, from);
        }
    }

    /// Largest pivot over smallest, after [`Matrix::factorize`].
    pub(crate) fn spread(&self) -> f64 {
        let pivots = self.entries.iter().step_by(self.order + 1).map(|pivot| pivot.abs());
        let (least, most) = pivots.fold((f64::INFINITY, 0.0_f64), |(least, most), size| {
            (least.min(size), most.max(size))
        });
        most / least
    }

    /// Replaces the entries by their LU factors.
    ///
    /// # Errors
    ///
    /// The column in which no pivot was found: that unknown is not determined.
    pub(crate) fn factorize(&mut self) -> Result<(), usize> {
        let n = self.order;
        if n == 0 {
            return Ok(());
        }
        for k in 0..n {
            let (left, right) = self.entries.split_at_mut((k + 1) * n);
            let column = &mut left[k * n..];
            let pivot = largest_from(column, k);
            let size = column[pivot].abs();
            if size.is_nan() || size < f64::MIN_POSITIVE {
                return Err(k);
            }
            self.pivots[k] = pivot;
            column.swap(k, pivot);
            let inverse = 1.0 / column[k];
            let factors = &mut column[k + 1..];
            factors.iter_mut().for_each(|factor| *factor *= inverse);
            for other in right.chunks_exact_mut(n) {
                other.swap(k, pivot);
                subtract_multiple(other[k], factors, &mut other[k + 1..]);
            }
        }
        self.swap_factors();
        Ok(())
    }

    /// Carries the later row swaps into the factors of the earlier columns, so that a solve can
    /// swap its right-hand side once and for all.
    fn swap_factors(&mut self) {
        let n = self.order;
        for (k, column) in self.entries.chunks_exact_mut(n).enumerate() {
            for later in k + 1..n {
                column.swap(later, self.pivots[later]);
            }
        }
    }

    /// Solves for the right-hand side in place, with the factors.
    pub(crate) fn solve(&self, b: &mut [f64]) {
        let n = self.order;
        for (row, &pivot) in self.pivots.iter().enumerate() {
            b.swap(row, pivot);
        }
        for (k, column) in self.entries.chunks_exact(n.max(1)).enumerate() {
            let (done, rest) = b.split_at_mut(k + 1);
            subtract_multiple(done[k], &column[k + 1..], rest);
        }
        for (k, column) in self.entries.chunks_exact(n.max(1)).enumerate().rev() {
            let (rest, done) = b.split_at_mut(k);
            done[0] /= column[k];
            subtract_multiple(done[0], &column[..k], rest);
        }
    }
}

/// The power of 2 that brings `size` to between 1 and 2; 1 for nothing.
fn levelling(size: f64) -> f64 {
    const EXPONENT: u64 = 0x7ff << 52;
    let power = f64::from_bits(size.to_bits() & EXPONENT);
    if power.is_normal() { 1.0 / power } else { 1.0 }
}

fn largest_from(column: &[f64], first: usize) -> usize {
    let larger = |best: usize, row: usize| {
        if column[row].abs() > column[best].abs() { row } else { best }
    };
    (first + 1..column.len()).fold(first, larger)
}

/// `to -= factor * from`; nothing to do for the many zeros of a sparse column.
fn subtract_multiple(factor: f64, from: &[f64], to: &mut [f64]) {
    if factor != 0.0 {
        for (to, from) in to.iter_mut().zip(from) {
            *to -= factor * from;
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
        for (index, value) in a.into_iter().enumerate() {
            matrix.add(index / 3, index % 3, value);
        }
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
