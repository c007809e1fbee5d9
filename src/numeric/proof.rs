//! A first look at a solution: what is left of each equation, beside its own terms.
//!
//! One flat list of products: of a row's few, a loop within a loop spends most of its time between the
//! two.

// Measured: in lockstep a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

use super::{ACCEPTED_BACKWARD_ERROR, Field, Pattern};

/// The products of a pattern, in the order of its slots, and room for what they leave.
#[derive(Clone, Debug)]
pub struct Proof<F> {
    /// Row and column of each.
    places: Vec<[u32; 2]>,
    /// What is left of each row, and the sizes of its terms.
    rows: Vec<[F; 2]>,
}

/// Whether an equation holds to working precision beside its own terms; not-a-number and what is infinite
/// prove nothing. Where it does, [`super::solve_checked`] finds it good as well.
#[inline(always)]
pub fn is_exact(left: f64, terms: f64) -> bool {
    left.abs() <= ACCEPTED_BACKWARD_ERROR * terms && terms < f64::INFINITY
}

impl<F: Field> Proof<F> {
    /// That of a pattern.
    pub fn of(pattern: &Pattern) -> Self {
        let place = |row: usize| move |&column: &u32| [row as u32, column];
        let rows = pattern.columns_by_row().enumerate();
        Self {
            places: rows.flat_map(|(row, columns)| columns.iter().map(place(row))).collect(),
            rows: vec![[F::splat(0.0); 2]; pattern.n()],
        }
    }

    /// b − A·x and |b| + |A|·|x|, row by row.
    ///
    /// # Panics
    /// If `x` is shorter than a row of the pattern.
    #[inline(always)]
    pub fn look(&mut self, values: &[F], b: &[F], x: &[F]) -> &[[F; 2]] {
        for (row, &b) in self.rows.iter_mut().zip(b) {
            *row = [b, b.size()];
        }
        for (&[row, column], &a) in self.places.iter().zip(values) {
            let product = a * x[column as usize];
            let [left, terms] = &mut self.rows[row as usize];
            *left = *left - product;
            *terms = *terms + product.size();
        }
        &self.rows
    }
}
