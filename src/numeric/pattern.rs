//! Where a square sparse matrix has entries, and products with it. Stops at storage: ordering and
//! elimination are elsewhere.

use super::Field;
use std::ops::Range;

/// The places of a square sparse matrix, row by row. The values live in a slice beside it, one a
/// slot, so that many matrices share one pattern.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pattern {
    starts: Vec<u32>,
    columns: Vec<u32>,
    /// Slots whose values vary by themselves, in ascending order; `None` where nobody said.
    varying: Option<Vec<u32>>,
}

impl Pattern {
    /// The pattern of an `n` × `n` matrix with the given (row, column) places; repeated places
    /// share one slot, and no place is added.
    ///
    /// # Panics
    /// If a place lies outside the matrix.
    pub fn from_entries(n: usize, entries: impl IntoIterator<Item = (usize, usize)>) -> Self {
        let mut places: Vec<(u32, u32)> = entries
            .into_iter()
            .inspect(|&(row, column)| {
                assert!(row < n && column < n, "place ({row}, {column}) in a matrix of {n}");
            })
            .map(|(row, column)| (row as u32, column as u32))
            .collect();
        places.sort_unstable();
        places.dedup();
        let mut starts = vec![0; n + 1];
        for &(row, _) in &places {
            starts[row as usize + 1] += 1;
        }
        for row in 0..n {
            starts[row + 1] += starts[row];
        }
        let columns = places.into_iter().map(|(_, column)| column).collect();
        Self { starts, columns, varying: None }
    }

    /// The same pattern, with the promise that all values but those in `slots` follow from a step size
    /// alone: what is eliminated of the others is good for every matrix at that step size.
    #[must_use]
    pub fn with_varying(mut self, slots: impl IntoIterator<Item = usize>) -> Self {
        let count = self.slots();
        let inside = slots.into_iter().filter(|&slot| slot < count);
        let mut varying: Vec<u32> = inside.map(|slot| slot as u32).collect();
        varying.sort_unstable();
        varying.dedup();
        self.varying = Some(varying);
        self
    }

    /// The same places without the promise.
    #[cfg(test)]
    pub(crate) fn without_varying(self) -> Self {
        Self { varying: None, ..self }
    }

    /// For each row, and for each column, whether it holds a value that varies by itself; `None` where
    /// nobody said which do.
    pub(super) fn varying_lines(&self) -> Option<(Vec<bool>, Vec<bool>)> {
        let varying = self.varying.as_ref()?;
        let (mut rows, mut columns) = (vec![false; self.n()], vec![false; self.n()]);
        for &slot in varying {
            let row = self.starts.partition_point(|&start| start <= slot) - 1;
            rows[row] = true;
            columns[self.columns[slot as usize] as usize] = true;
        }
        Some((rows, columns))
    }

    /// Number of rows, and of columns.
    pub fn n(&self) -> usize {
        self.starts.len() - 1
    }

    /// Number of places, which is the length of a slice of values.
    pub fn slots(&self) -> usize {
        self.columns.len()
    }

    /// Index of the value at (row, column), if that place is in the pattern.
    pub fn slot(&self, row: usize, column: usize) -> Option<usize> {
        if row >= self.n() {
            return None;
        }
        let range = self.range(row);
        let found = self.columns[range.clone()].binary_search(&(column as u32)).ok()?;
        Some(range.start + found)
    }

    /// Each row in turn: the index of its first value, and its columns in ascending order.
    pub fn rows(&self) -> impl Iterator<Item = (usize, &[u32])> {
        (0..self.n()).map(|row| {
            let range = self.range(row);
            (range.start, &self.columns[range])
        })
    }

    /// The columns of each row in turn, in ascending order; their values follow one another likewise.
    pub fn columns_by_row(&self) -> impl Iterator<Item = &[u32]> {
        let mut rest = self.columns.as_slice();
        self.starts.windows(2).map(move |ends| {
            let (row, later) = rest.split_at((ends[1] - ends[0]) as usize);
            rest = later;
            row
        })
    }

    fn range(&self, row: usize) -> Range<usize> {
        self.starts[row] as usize..self.starts[row + 1] as usize
    }
}

/// y = A·x.
///
/// # Panics
/// If `values` has not one value a slot, or `x` and `y` not one a row.
pub fn multiply<F: Field>(pattern: &Pattern, values: &[F], x: &[F], y: &mut [F]) {
    assert!(values.len() == pattern.slots() && y.len() == pattern.n());
    for ((start, columns), y) in pattern.rows().zip(y) {
        *y = columns
            .iter()
            .zip(&values[start..])
            .fold(F::splat(0.0), |sum, (&column, &a)| sum + a * x[column as usize]);
    }
}
