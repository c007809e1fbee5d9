//! Sparse LU as a program compiled once: the order of pivots, the places that fill in and the
//! destination of every product are fixed beforehand, so that a matrix with new values is
//! factored and solved by walking flat arrays, without searching and without allocation.
//!
//! Pivots stay where the plan put them; `refine` tells when values have drifted too far for that.

// Measured: in lockstep a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

use super::ordering::{Ordering, order};
use super::short::{Long, REACH, Short};
use super::{Field, Pattern};
use std::fmt;

/// Above this many products a factorisation, their destinations (4 bytes each) no longer stay in
/// the cache, and rows are scattered into a full-length row instead, which needs no stream.
const LONGEST_STREAM: usize = 1 << 21;

/// Length of scratch with which a small matrix is solved fastest.
pub const ROOM: usize = REACH;

/// No pivot can be found: the matrix has no inverse, or none to working precision.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Singular {
    /// An equation (row) that the others already determine.
    pub row: usize,
    /// An unknown (column) that the equations leave open.
    pub column: usize,
}

impl fmt::Display for Singular {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "no usable pivot for unknown {} in equation {}", self.column, self.row)
    }
}

impl std::error::Error for Singular {}

/// Where a row of the factors lies in their values: multipliers, then the pivot, then the rest.
#[derive(Clone, Copy, Debug)]
pub(super) struct Row {
    pub(super) start: u32,
    pub(super) pivot: u32,
    pub(super) end: u32,
}

/// The plan for one pattern: which pivots in which order, and the index streams to follow.
#[derive(Clone, Debug)]
pub struct Elimination {
    slots: usize,
    rows: Vec<Row>,
    /// Row of the matrix that is eliminated k-th.
    row_order: Vec<u32>,
    /// Column of the matrix that is eliminated k-th.
    column_order: Vec<u32>,
    /// Place in pivot order of each value of the factors.
    columns: Vec<u32>,
    /// Slot of the matrix that each value of the factors starts from; `u32::MAX` where it fills in.
    sources: Vec<u32>,
    /// Offset in its row at which each product is subtracted, or nothing if the stream were too long.
    destinations: Option<Vec<u32>>,
    /// The same for a small matrix, which it is then worked by.
    short: Option<Short>,
}

/// The numbers an [`Elimination`] makes of one matrix.
#[derive(Clone, Debug)]
pub struct Factors<F> {
    /// At least [`REACH`] long.
    values: Vec<F>,
    /// The same.
    inverse_pivots: Vec<F>,
    /// A row at full length; empty where the plan has destinations.
    scattered: Vec<F>,
}

impl<F: Field> Factors<F> {
    /// Room for the factors; [`Elimination::factor`] fills it.
    pub fn new(plan: &Elimination) -> Self {
        let zero = F::splat(0.0);
        let scattered = if plan.destinations.is_some() { 0 } else { plan.n() };
        Self {
            values: vec![zero; plan.fill().max(REACH)],
            inverse_pivots: vec![zero; plan.n().max(REACH)],
            scattered: vec![zero; scattered],
        }
    }
}

impl Elimination {
    /// Chooses pivots on representative values and compiles the program for the pattern.
    ///
    /// # Errors
    /// [`Singular`] names an unknown for which neither structure nor values leave a pivot, or the
    /// place of a value that is not finite.
    ///
    /// # Panics
    /// If `values` has not one value a slot.
    pub fn plan<F: Field>(pattern: &Pattern, values: &[F]) -> Result<Self, Singular> {
        Self::plan_within(pattern, values, LONGEST_STREAM)
    }

    /// [`Self::plan`] with the longest stream of destinations given.
    fn plan_within<F: Field>(
        pattern: &Pattern,
        values: &[F],
        longest_stream: usize,
    ) -> Result<Self, Singular> {
        assert_eq!(values.len(), pattern.slots());
        let ordering = order(pattern, values)?;
        let n = pattern.n();
        let mut plan = Self {
            slots: pattern.slots(),
            rows: Vec::with_capacity(n),
            row_order: Vec::new(),
            column_order: Vec::new(),
            columns: Vec::new(),
            sources: Vec::new(),
            destinations: None,
            short: None,
        };
        plan.lay_out_rows(pattern, &ordering);
        plan.row_order = ordering.rows;
        plan.column_order = ordering.columns;
        plan.destinations = plan.find_destinations(longest_stream);
        plan.short = plan.destinations.as_ref().and_then(|stream| Short::of(&plan.long(stream)));
        Ok(plan)
    }

    /// Lays the rows of the factors out, and finds where each value starts from.
    fn lay_out_rows(&mut self, pattern: &Pattern, ordering: &Ordering) {
        let n = pattern.n();
        let mut place = vec![0; n];
        for (k, &column) in ordering.columns.iter().enumerate() {
            place[column as usize] = k as u32;
        }
        let matrix_rows: Vec<(usize, &[u32])> = pattern.rows().collect();
        let mut source = vec![u32::MAX; n];
        for (k, &row) in ordering.rows.iter().enumerate() {
            let (first_slot, columns) = matrix_rows[row as usize];
            for (offset, &column) in columns.iter().enumerate() {
                source[place[column as usize] as usize] = (first_slot + offset) as u32;
            }
            let start = self.columns.len() as u32;
            self.columns.extend_from_slice(&ordering.lower[row as usize]);
            let pivot = self.columns.len() as u32;
            self.columns.push(k as u32);
            self.columns.extend(ordering.upper[k].iter().map(|&column| place[column as usize]));
            self.columns[pivot as usize..].sort_unstable();
            self.rows.push(Row { start, pivot, end: self.columns.len() as u32 });
            self.sources.extend(self.columns[start as usize..].iter().map(|&c| source[c as usize]));
            for &column in columns {
                source[place[column as usize] as usize] = u32::MAX;
            }
        }
    }

    /// What its short form is made of.
    fn long<'a>(&'a self, destinations: &'a [u32]) -> Long<'a> {
        let Self { rows, row_order, column_order, columns, sources, .. } = self;
        Long { rows, row_order, column_order, columns, sources, slots: self.slots, destinations }
    }

    /// Columns of the k-th row of the factors right of its pivot.
    fn right_of_pivot(&self, k: u32) -> &[u32] {
        let row = self.rows[k as usize];
        &self.columns[row.pivot as usize + 1..row.end as usize]
    }

    fn find_destinations(&self, longest: usize) -> Option<Vec<u32>> {
        let mut stream = Vec::new();
        let mut offset = vec![0; self.n()];
        for row in &self.rows {
            let columns = &self.columns[row.start as usize..row.end as usize];
            for (at, &column) in columns.iter().enumerate() {
                offset[column as usize] = at as u32;
            }
            for &k in &columns[..(row.pivot - row.start) as usize] {
                let right = self.right_of_pivot(k);
                if stream.len() + right.len() > longest {
                    return None;
                }
                stream.extend(right.iter().map(|&column| offset[column as usize]));
            }
        }
        Some(stream)
    }

    /// Number of unknowns.
    pub fn n(&self) -> usize {
        self.rows.len()
    }

    /// Number of values in both factors together, the pivots counted once.
    pub fn fill(&self) -> usize {
        self.columns.len()
    }

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
        let done = match (&self.short, reach, &self.destinations) {
            (Some(short), (Some(l_u), Some(inverses)), _) => short.factor(values, l_u, inverses),
            (_, _, Some(destinations)) => self.factor_streamed(destinations, values, factors),
            (_, _, None) => self.factor_scattered(values, factors),
        };
        done.map_err(|k| Singular {
            row: self.row_order[k] as usize,
            column: self.column_order[k] as usize,
        })
    }

    /// Each product goes straight to its place in the row; fails with the pivot's number.
    fn factor_streamed<F: Field>(
        &self,
        mut destinations: &[u32],
        values: &[F],
        factors: &mut Factors<F>,
    ) -> Result<(), usize> {
        let zero = F::splat(0.0);
        for (k, row) in self.rows.iter().enumerate() {
            let range = row.start as usize..row.end as usize;
            let (above, rest) = factors.values.split_at_mut(row.start as usize);
            let target = &mut rest[..range.len()];
            for (value, &source) in target.iter_mut().zip(&self.sources[range]) {
                *value = values.get(source as usize).copied().unwrap_or(zero);
            }
            let multipliers = &self.columns[row.start as usize..row.pivot as usize];
            for (at, &j) in multipliers.iter().enumerate() {
                let multiplier = target[at] * factors.inverse_pivots[j as usize];
                target[at] = multiplier;
                let source = self.rows[j as usize];
                let source = &above[source.pivot as usize + 1..source.end as usize];
                let (here, later) = destinations.split_at(source.len());
                destinations = later;
                for (&to, &value) in here.iter().zip(source) {
                    let to = &mut target[to as usize];
                    *to = *to - multiplier * value;
                }
            }
            factors.inverse_pivots[k] = target[multipliers.len()].inverse().ok_or(k)?;
        }
        Ok(())
    }

    /// Rows are worked on at full length and gathered when done; fails with the pivot's number.
    fn factor_scattered<F: Field>(
        &self,
        values: &[F],
        factors: &mut Factors<F>,
    ) -> Result<(), usize> {
        let zero = F::splat(0.0);
        let full = factors.scattered.as_mut_slice();
        for (k, row) in self.rows.iter().enumerate() {
            let range = row.start as usize..row.end as usize;
            let (above, rest) = factors.values.split_at_mut(row.start as usize);
            let columns = &self.columns[range.clone()];
            for (&column, &source) in columns.iter().zip(&self.sources[range.clone()]) {
                full[column as usize] = values.get(source as usize).copied().unwrap_or(zero);
            }
            for &j in &columns[..(row.pivot - row.start) as usize] {
                let multiplier = full[j as usize] * factors.inverse_pivots[j as usize];
                full[j as usize] = multiplier;
                let source = self.rows[j as usize];
                let source = &above[source.pivot as usize + 1..source.end as usize];
                for (&to, &value) in self.right_of_pivot(j).iter().zip(source) {
                    let to = &mut full[to as usize];
                    *to = *to - multiplier * value;
                }
            }
            factors.inverse_pivots[k] = full[k].inverse().ok_or(k)?;
            for (value, &column) in rest[..range.len()].iter_mut().zip(columns) {
                *value = full[column as usize];
            }
        }
        Ok(())
    }

    /// 1 or −1: the sign of the determinant of the matrix last factored, by its pivots and the order they
    /// were taken in.
    pub fn determinant_sign<F: Field + Into<f64>>(&self, factors: &Factors<F>) -> f64 {
        let inverses = factors.inverse_pivots.iter().take(self.n());
        let pivots: f64 = inverses.map(|&inverse| Into::<f64>::into(inverse).signum()).product();
        pivots * order_sign(&self.row_order) * order_sign(&self.column_order)
    }

    /// Solves A·x = b in place: `b` goes in, x comes out. `work` is scratch of the same length, or, for
    /// a small matrix to be solved faster, of [`ROOM`].
    ///
    /// # Panics
    /// If `b` is not of length n, `work` is shorter, or `factors` was made for another plan.
    #[inline(always)]
    pub fn solve<F: Field>(&self, factors: &Factors<F>, b: &mut [F], work: &mut [F]) {
        let n = self.n();
        assert!(b.len() == n && work.len() >= n && factors.values.len() >= self.fill());
        if let (Some(short), Some(values), Some(inverses), Some(x)) = (
            &self.short,
            factors.values.first_chunk(),
            factors.inverse_pivots.first_chunk(),
            work.first_chunk_mut(),
        ) {
            short.solve(values, inverses, b, x);
            return;
        }
        for (k, (row, &from)) in self.rows.iter().zip(&self.row_order).enumerate() {
            let range = row.start as usize..row.pivot as usize;
            let places = &self.columns[range.clone()];
            let products = places.iter().zip(&factors.values[range]);
            work[k] = subtract_products(b[from as usize], products, work);
        }
        let order = self.rows.iter().zip(&self.column_order).zip(&factors.inverse_pivots);
        for (k, ((row, &to), &inverse)) in order.enumerate().rev() {
            let range = row.pivot as usize + 1..row.end as usize;
            let places = &self.columns[range.clone()];
            let products = places.iter().zip(&factors.values[range]);
            let x = subtract_products(work[k], products, work) * inverse;
            work[k] = x;
            b[to as usize] = x;
        }
    }

    /// Solves Aᵀ·x = b in place, with the factors of A; for complex matrices without conjugation.
    ///
    /// # Panics
    /// As [`Self::solve`].
    pub fn solve_transposed<F: Field>(&self, factors: &Factors<F>, b: &mut [F], work: &mut [F]) {
        let n = self.n();
        assert!(b.len() == n && work.len() >= n && factors.values.len() >= self.fill());
        for (work, &from) in work.iter_mut().zip(&self.column_order) {
            *work = b[from as usize];
        }
        for (k, (row, &inverse)) in self.rows.iter().zip(&factors.inverse_pivots).enumerate() {
            let y = work[k] * inverse;
            work[k] = y;
            let range = row.pivot as usize + 1..row.end as usize;
            for (&to, &value) in self.columns[range.clone()].iter().zip(&factors.values[range]) {
                work[to as usize] = work[to as usize] - value * y;
            }
        }
        for (k, (row, &to)) in self.rows.iter().zip(&self.row_order).enumerate().rev() {
            let x = work[k];
            b[to as usize] = x;
            let range = row.start as usize..row.pivot as usize;
            for (&to, &value) in self.columns[range.clone()].iter().zip(&factors.values[range]) {
                work[to as usize] = work[to as usize] - value * x;
            }
        }
    }
}

/// 1 for an even order, −1 for an odd one: every cycle of even length turns the sign.
fn order_sign(order: &[u32]) -> f64 {
    let mut seen = vec![false; order.len()];
    let mut sign = 1.0;
    for start in 0..order.len() {
        let (mut at, mut length) = (start, 0);
        while !std::mem::replace(&mut seen[at], true) {
            at = order[at] as usize;
            length += 1;
        }
        if length > 0 && length % 2 == 0 {
            sign = -sign;
        }
    }
    sign
}

/// start − Σ value·x\[place\] over (place, value).
#[inline]
fn subtract_products<'a, F: Field + 'a>(
    start: F,
    products: impl Iterator<Item = (&'a u32, &'a F)>,
    x: &[F],
) -> F {
    products.fold(start, |sum, (&at, &value)| sum - value * x[at as usize])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A ring of conductances with one to ground: every row fills in somewhere.
    fn ring(n: usize) -> (Pattern, Vec<f64>) {
        let places = (0..n).flat_map(|i| [(i, i), (i, (i + 1) % n), ((i + 1) % n, i)]);
        let pattern = Pattern::from_entries(n, places);
        let mut values = vec![0.0; pattern.slots()];
        for i in 0..n {
            let (j, g) = ((i + 1) % n, 1.0 + i as f64);
            for (row, column, part) in [(i, i, g), (j, j, g), (i, j, -g), (j, i, -g)] {
                if let Some(slot) = pattern.slot(row, column) {
                    values[slot] += part;
                }
            }
        }
        values[0] += 0.5;
        (pattern, values)
    }

    #[test]
    fn all_forms_of_the_program_give_the_same_bits() -> Result<(), Singular> {
        let (pattern, values) = ring(30);
        let solve = |plan: &Elimination| {
            let mut factors = Factors::new(plan);
            plan.factor(&values, &mut factors)?;
            let (mut b, mut work) = (vec![1.0; 30], vec![0.0; ROOM]);
            plan.solve(&factors, &mut b, &mut work);
            let mut transposed = vec![1.0; 30];
            plan.solve_transposed(&factors, &mut transposed, &mut work);
            Ok((b, transposed))
        };
        let short = Elimination::plan(&pattern, &values)?;
        let streamed = Elimination { short: None, ..short.clone() };
        let scattered = Elimination::plan_within(&pattern, &values, 0)?;
        assert!(short.short.is_some() && streamed.destinations.is_some());
        assert!(scattered.short.is_none() && scattered.destinations.is_none());
        let found = solve(&short)?;
        assert_eq!(found, solve(&streamed)?);
        assert_eq!(found, solve(&scattered)?);
        Ok(())
    }

    #[test]
    fn exact_sign_of_determinants() -> Result<(), Singular> {
        // Cyclic permutations of 3 and of 4: even and odd.
        for (n, wanted) in [(3, 1.0), (4, -1.0)] {
            let pattern = Pattern::from_entries(n, (0..n).map(|i| (i, (i + 1) % n)));
            for sign in [1.0, -1.0] {
                let mut values = vec![1.0; n];
                values[0] = sign;
                let plan = Elimination::plan(&pattern, &values)?;
                let mut factors = Factors::new(&plan);
                plan.factor(&values, &mut factors)?;
                assert_eq!(plan.determinant_sign(&factors), sign * wanted);
            }
        }
        // A ring of conductances to ground is positive definite; one pulled far down turns the sign, as
        // dense elimination has it.
        let (pattern, mut values) = ring(30);
        for turned in [false, true] {
            if turned && let Some(slot) = pattern.slot(7, 7) {
                values[slot] = -50.0;
            }
            let mut dense = nalgebra::DMatrix::zeros(30, 30);
            for (row, (start, columns)) in pattern.rows().enumerate() {
                for (k, &column) in columns.iter().enumerate() {
                    dense[(row, column as usize)] = values[start + k];
                }
            }
            let plan = Elimination::plan(&pattern, &values)?;
            let mut factors = Factors::new(&plan);
            plan.factor(&values, &mut factors)?;
            let wanted: f64 = dense.determinant();
            assert_eq!(wanted.signum(), if turned { -1.0 } else { 1.0 });
            assert_eq!(plan.determinant_sign(&factors), wanted.signum());
        }
        Ok(())
    }

    #[test]
    fn a_short_program_fails_at_the_pivot_that_a_long_one_fails_at() -> Result<(), Singular> {
        let (pattern, values) = ring(5);
        let short = Elimination::plan(&pattern, &values)?;
        let long = Elimination { short: None, ..short.clone() };
        let nothing = vec![0.0; pattern.slots()];
        let outcome = |plan: &Elimination| plan.factor(&nothing, &mut Factors::new(plan));
        assert!(outcome(&short).is_err());
        assert_eq!(outcome(&short), outcome(&long));
        Ok(())
    }
}
