//! Small dense matrices for what is multiplied by vectors again and again.
//!
//! Kept in bands of eight rows, so that a product runs eight rows at once along memory. Vectors that
//! belong to them are filled up with zeros to a whole number of bands; see [`padded`].

use crate::network::matrix::Matrix;

/// Rows of a band.
const BAND: usize = 8;

/// The length of a vector filled up to a whole number of bands.
pub(crate) fn padded(length: usize) -> usize {
    length.next_multiple_of(BAND)
}

/// Adds a column of a band so many times.
#[inline]
fn add(sum: &mut [f64; BAND], column: &[f64; BAND], times: f64) {
    for (sum, entry) in sum.iter_mut().zip(column) {
        *sum += entry * times;
    }
}

/// A vector for each of `N` moments, band beside band, so that sums over moments run along memory.
#[derive(Clone, Debug)]
pub(crate) struct Series<const N: usize> {
    bands: Vec<[[f64; BAND]; N]>,
}

impl<const N: usize> Series<N> {
    /// Zeros of that length, filled up.
    pub(crate) fn new(length: usize) -> Self {
        Self { bands: vec![[[0.0; BAND]; N]; padded(length) / BAND] }
    }

    /// Sets the vector of one moment.
    pub(crate) fn set(&mut self, moment: usize, values: &[f64]) {
        for (band, values) in self.bands.iter_mut().zip(values.as_chunks::<BAND>().0) {
            band[moment] = *values;
        }
    }

    /// Sets the vector of one moment to that of another.
    pub(crate) fn repeat(&mut self, moment: usize, from: usize) {
        for band in &mut self.bands {
            band[moment] = band[from];
        }
    }

    /// One value.
    pub(crate) fn get(&self, moment: usize, index: usize) -> f64 {
        self.bands[index / BAND][moment][index % BAND]
    }

    /// Sets `to` to `base` and so many times the vector of each moment, from the first on.
    pub(crate) fn sum(&self, factors: &[f64], base: &[f64], to: &mut [f64]) {
        let bases = base.as_chunks::<BAND>().0.iter();
        let to = to.as_chunks_mut::<BAND>().0.iter_mut();
        for ((to, base), band) in to.zip(bases).zip(&self.bands) {
            let mut sum = *base;
            for (factor, values) in factors.iter().zip(band) {
                add(&mut sum, values, *factor);
            }
            *to = sum;
        }
    }
}

/// A matrix.
#[derive(Clone, Debug, Default)]
pub(crate) struct Dense {
    columns: usize,
    /// Band after band, column by column.
    bands: Vec<[f64; BAND]>,
    /// The columns in which pivots were found, and how many times each column is then taken away.
    pivots: Vec<usize>,
    times: Vec<f64>,
}

impl Dense {
    /// Takes a size and is nothing but zeros; rows are filled up.
    pub(crate) fn reset(&mut self, rows: usize, columns: usize) {
        self.columns = columns;
        self.bands.clear();
        self.bands.resize(padded(rows) / BAND * columns, [0.0; BAND]);
    }

    pub(crate) fn columns(&self) -> usize {
        self.columns
    }

    /// Number of entries.
    pub(crate) fn len(&self) -> usize {
        self.bands.len() * BAND
    }

    #[cfg(test)]
    pub(crate) fn get(&self, row: usize, column: usize) -> f64 {
        self.bands[row / BAND * self.columns + column][row % BAND]
    }

    /// Sets one row to the first of these values.
    pub(crate) fn set_row(&mut self, row: usize, values: &[f64]) {
        let band = &mut self.bands[row / BAND * self.columns..][..self.columns];
        for (entry, value) in band.iter_mut().zip(values) {
            entry[row % BAND] = *value;
        }
    }

    /// Sets `to` to `base` and the product with `x`.
    pub(crate) fn multiply(&self, x: &[f64], base: &[f64], to: &mut [f64]) {
        let bands = self.bands.chunks_exact(self.columns.max(1));
        let to = to.as_chunks_mut::<BAND>().0.iter_mut().zip(base.as_chunks::<BAND>().0);
        for ((to, base), band) in to.zip(bands) {
            let mut sum = *base;
            for (column, &x) in band.iter().zip(x) {
                add(&mut sum, column, x);
            }
            *to = sum;
        }
    }

    /// Adds the product with `x` to `to`.
    pub(crate) fn add_product(&self, x: &[f64], to: &mut [f64]) {
        let bands = self.bands.chunks_exact(self.columns.max(1));
        for (to, band) in to.as_chunks_mut::<BAND>().0.iter_mut().zip(bands) {
            let mut sum = *to;
            for (column, &x) in band.iter().zip(x) {
                add(&mut sum, column, x);
            }
            *to = sum;
        }
    }

    /// Takes the product with `x` away from `from`.
    pub(crate) fn subtract_product(&self, x: &[f64], from: &mut [f64]) {
        let bands = self.bands.chunks_exact(self.columns.max(1));
        for (from, band) in from.as_chunks_mut::<BAND>().0.iter_mut().zip(bands) {
            let mut rest = *from;
            for (column, &x) in band.iter().zip(x) {
                add(&mut rest, column, -x);
            }
            *from = rest;
        }
    }

    /// Sets it to the sum of a square matrix and of what stands in the first `used` rows and columns of
    /// another one.
    pub(crate) fn set_sum(&mut self, one: &Self, other: &Matrix, used: usize) {
        self.columns = one.columns;
        self.bands.clone_from(&one.bands);
        for (column, other) in other.columns().take(used).enumerate() {
            for (row, value) in other[..used].iter().enumerate() {
                self.bands[row / BAND * self.columns + column][row % BAND] += value;
            }
        }
    }

    /// Replaces a square matrix by its inverse (Gauss and Jordan, by columns); whether it has one.
    pub(crate) fn invert(&mut self) -> bool {
        let n = self.columns;
        self.pivots.clear();
        self.times.resize(n, 0.0);
        for k in 0..n {
            let pivot = self.largest_from(k);
            self.pivots.push(pivot);
            if pivot != k {
                self.bands.chunks_exact_mut(n).for_each(|band| band.swap(k, pivot));
            }
            let own = &mut self.bands[k / BAND * n..][..n];
            for (times, column) in self.times.iter_mut().zip(&mut *own) {
                *times = std::mem::take(&mut column[k % BAND]);
            }
            let size = std::mem::take(&mut self.times[k]);
            if size.is_nan() || size.abs() < f64::MIN_POSITIVE {
                return false;
            }
            own[k][k % BAND] = 1.0;
            let inverse = 1.0 / size;
            for band in self.bands.chunks_exact_mut(n) {
                let pivot = band[k].map(|entry| entry * inverse);
                for (column, times) in band.iter_mut().zip(&self.times) {
                    for (entry, pivot) in column.iter_mut().zip(pivot) {
                        *entry -= times * pivot;
                    }
                }
                band[k] = pivot;
            }
        }
        // Columns that were swapped are rows of the inverse.
        for k in (0..n).rev() {
            if self.pivots[k] != k {
                self.swap_rows(k, self.pivots[k]);
            }
        }
        true
    }

    /// The column from `first` on with the largest entry in row `first`.
    fn largest_from(&self, first: usize) -> usize {
        let row = &self.bands[first / BAND * self.columns..][..self.columns];
        let (mut best, mut most) = (first, row[first][first % BAND].abs());
        for (column, entries) in row.iter().enumerate().skip(first + 1) {
            let size = entries[first % BAND].abs();
            if size > most {
                (best, most) = (column, size);
            }
        }
        best
    }

    fn swap_rows(&mut self, one: usize, other: usize) {
        for column in 0..self.columns {
            let [one_at, other_at] =
                [one, other].map(|row| (row / BAND * self.columns + column, row % BAND));
            let kept = self.bands[one_at.0][one_at.1];
            self.bands[one_at.0][one_at.1] = self.bands[other_at.0][other_at.1];
            self.bands[other_at.0][other_at.1] = kept;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn square(order: usize, values: &[f64]) -> Dense {
        let mut matrix = Dense::default();
        matrix.reset(order, order);
        for row in 0..order {
            matrix.set_row(row, &values[row * order..][..order]);
        }
        matrix
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        /// Zeros on the diagonal ask for pivots.
        #[test]
        fn a_matrix_times_its_inverse_is_one(
            order in 1_usize..13,
            values in prop::collection::vec(-2_i32..3, 144),
        ) {
            let zeros = [0.0; 16];
            let values: Vec<f64> = values.into_iter().map(f64::from).collect();
            let matrix = square(order, &values);
            let mut inverse = matrix.clone();
            prop_assume!(inverse.invert());
            let largest = (0..order * order).map(|at| inverse.get(at / order, at % order).abs());
            prop_assume!(largest.fold(0.0, f64::max) < 1e3);
            for unit in 0..order {
                let mut x = vec![0.0; padded(order)];
                x[unit] = 1.0;
                let (mut solved, mut product) = (x.clone(), x.clone());
                inverse.multiply(&x, &zeros, &mut solved);
                matrix.multiply(&solved, &zeros, &mut product);
                let mut left = x.clone();
                matrix.subtract_product(&solved, &mut left);
                for row in 0..order {
                    prop_assert!((product[row] - x[row]).abs() < 1e-8, "{product:?}");
                    prop_assert!(left[row].abs() < 1e-8, "{left:?}");
                }
            }
        }
    }

    #[test]
    fn what_has_no_inverse_says_so() {
        let mut values = [0.0; 16];
        for k in [0, 1, 3] {
            values[k * 5] = 1.0;
        }
        assert!(!square(4, &values).invert());
        values[2 * 5] = 1.0;
        assert!(square(4, &values).invert());
    }
}
