//! Factoring with a plan: both phases, each with a place for every product or with rows at full length.

// Measured: in lockstep a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

use super::{Elimination, Factors, Field, Products, Singular};
use std::ops::Range;

/// A phase's places for products, as far as they are not yet used, or the row at full length.
enum Places<'a, F> {
    Streamed(&'a [u32]),
    Scattered(&'a mut [F]),
}

impl<'a, F> Places<'a, F> {
    fn of(products: &'a Products, scattered: &'a mut [F]) -> Self {
        match products {
            Products::Streamed(stream) => Places::Streamed(stream),
            Products::Scattered => Places::Scattered(scattered),
        }
    }
}

/// What rows above have come to.
struct Above<'a, F> {
    values: &'a [F],
    inverse_pivots: &'a [F],
}

impl Elimination {
    /// Factors the matrix of these values with the planned pivots.
    ///
    /// # Errors
    /// [`Singular`] where a pivot comes out zero or not finite; the factors are then unusable, but
    /// may be filled again.
    ///
    /// # Panics
    /// If `values` has not one value a slot of the planned pattern, or `factors` was made for
    /// another plan.
    #[inline(always)]
    pub fn factor<F: Field>(&self, values: &[F], factors: &mut Factors<F>) -> Result<(), Singular> {
        assert!(values.len() == self.slots && factors.values.len() >= self.fill());
        let reach = (factors.values.first_chunk_mut(), factors.inverse_pivots.first_chunk_mut());
        if let (Some(short), (Some(l_u), Some(inverses))) = (&self.short, reach) {
            return short.factor(values, l_u, inverses).map_err(|k| self.singular(k));
        }
        self.factor_constant(values, factors)?;
        self.factor_varying(values, factors)
    }

    /// Whether [`Self::factor_constant`] is good for all matrices at one step size. It is where the
    /// pattern says what varies by itself, and that is little and the matrix not small.
    pub fn keeps_constants(&self) -> bool {
        self.keeps
    }

    /// The first phase of [`Self::factor`]: all that no value that varies by itself has a part in.
    ///
    /// # Errors
    /// As [`Self::factor`].
    ///
    /// # Panics
    /// As [`Self::factor`].
    #[inline(always)]
    pub fn factor_constant<F: Field>(
        &self,
        values: &[F],
        factors: &mut Factors<F>,
    ) -> Result<(), Singular> {
        assert!(values.len() == self.slots && factors.values.len() >= self.fill());
        if let Some(blocks) = &self.blocks {
            let Factors { values: made, inverse_pivots, begun, .. } = factors;
            let outcome = blocks.factor_constant(values, made, inverse_pivots, begun);
            return outcome.map_err(|k| self.singular(k));
        }
        let mut places = Places::of(&self.products[0], &mut factors.scattered);
        let mut begun = factors.begun.as_mut_slice();
        for (k, row) in self.rows.iter().enumerate() {
            let (range, multipliers) = row.first_phase();
            let (above, rest) = factors.values.split_at_mut(range.start);
            let above = Above { values: above, inverse_pivots: &factors.inverse_pivots };
            let target = &mut rest[..range.len()];
            let (own, waiting) = target.split_at_mut((row.later - row.start) as usize);
            for (value, &source) in own.iter_mut().zip(&self.sources[range.clone()]) {
                *value = of_slot(values, source);
            }
            waiting.fill(F::splat(0.0));
            self.subtract(&mut places, range, multipliers, &above, target);
            if k < self.split {
                let inverse = target[multipliers].inverse().ok_or_else(|| self.singular(k))?;
                factors.inverse_pivots[k] = inverse;
            } else {
                let waiting = &target[(row.later - row.start) as usize..];
                let (here, later) = begun.split_at_mut(waiting.len());
                here.copy_from_slice(waiting);
                begun = later;
            }
        }
        Ok(())
    }

    /// The second phase: the block of rows and columns that wait, begun by the first phase on a matrix
    /// that differs from this one in values that vary by themselves at most.
    ///
    /// # Errors
    /// As [`Self::factor`].
    ///
    /// # Panics
    /// As [`Self::factor`].
    #[inline(always)]
    pub fn factor_varying<F: Field>(
        &self,
        values: &[F],
        factors: &mut Factors<F>,
    ) -> Result<(), Singular> {
        assert!(values.len() == self.slots && factors.values.len() >= self.fill());
        if let Some(blocks) = &self.blocks {
            let Factors { values: made, inverse_pivots, begun, .. } = factors;
            let outcome = blocks.factor_varying(values, made, inverse_pivots, begun);
            return outcome.map_err(|k| self.singular(k));
        }
        let mut places = Places::of(&self.products[1], &mut factors.scattered);
        let mut begun = factors.begun.as_slice();
        for (k, row) in self.rows.iter().enumerate().skip(self.split) {
            let (range, multipliers) = row.second_phase();
            let (above, rest) = factors.values.split_at_mut(range.start);
            let above = Above { values: above, inverse_pivots: &factors.inverse_pivots };
            let target = &mut rest[..range.len()];
            let (here, later) = begun.split_at(target.len());
            begun = later;
            let sources = self.sources[range.clone()].iter();
            for (value, (&begun, &source)) in target.iter_mut().zip(here.iter().zip(sources)) {
                *value = begun + of_slot(values, source);
            }
            self.subtract(&mut places, range, multipliers, &above, target);
            let inverse = target[multipliers].inverse().ok_or_else(|| self.singular(k))?;
            factors.inverse_pivots[k] = inverse;
        }
        Ok(())
    }

    /// Divides the first so many values of a row by their pivots and subtracts these multiples of rows
    /// above from it. `range` is where the row has its values.
    #[inline(always)]
    fn subtract<F: Field>(
        &self,
        places: &mut Places<'_, F>,
        range: Range<usize>,
        multipliers: usize,
        above: &Above<'_, F>,
        target: &mut [F],
    ) {
        let columns = &self.columns[range];
        match places {
            Places::Streamed(stream) => {
                for (at, &j) in columns[..multipliers].iter().enumerate() {
                    let multiplier = target[at] * above.inverse_pivots[j as usize];
                    target[at] = multiplier;
                    let source = self.rows[j as usize];
                    let source = &above.values[source.pivot as usize + 1..source.end as usize];
                    let (here, later) = stream.split_at(source.len());
                    *stream = later;
                    for (&to, &value) in here.iter().zip(source) {
                        let to = &mut target[to as usize];
                        *to = *to - multiplier * value;
                    }
                }
            }
            Places::Scattered(full) => {
                for (&column, &value) in columns.iter().zip(&*target) {
                    full[column as usize] = value;
                }
                for &j in &columns[..multipliers] {
                    let multiplier = full[j as usize] * above.inverse_pivots[j as usize];
                    full[j as usize] = multiplier;
                    let source = self.rows[j as usize];
                    let source = &above.values[source.pivot as usize + 1..source.end as usize];
                    for (&to, &value) in self.right_of_pivot(j).iter().zip(source) {
                        let to = &mut full[to as usize];
                        *to = *to - multiplier * value;
                    }
                }
                for (value, &column) in target.iter_mut().zip(columns) {
                    *value = full[column as usize];
                }
            }
        }
    }

    /// No pivot in the k-th place.
    fn singular(&self, k: usize) -> Singular {
        Singular { row: self.row_order[k] as usize, column: self.column_order[k] as usize }
    }
}

/// The value of a slot; nothing where a place fills in.
#[inline(always)]
fn of_slot<F: Field>(values: &[F], slot: u32) -> F {
    values.get(slot as usize).copied().unwrap_or(F::splat(0.0))
}
