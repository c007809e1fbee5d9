//! Sparse LU as a program compiled once: the order of pivots, the places that fill in and the
//! destination of every product are fixed beforehand, so that a matrix with new values is
//! factored and solved by walking flat arrays, without searching and without allocation.
//!
//! Pivots stay where the plan put them; `refine` tells when values have drifted too far for that.
//!
//! Where the pattern says which values vary by themselves, their rows and columns go last. What comes
//! before them is then eliminated once per step size, and only a small block at every step.
//!
//! There are three forms of the program, by size: steps of two products (`short.rs`), rows with a stream of
//! indices, and dense blocks (`blocks.rs`). On a plane of 20,000 nodes blocks are eliminated in a third of the
//! time that rows take, and solved in half of it (`benches/grid.rs`).

// Measured: in lockstep a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

#[cfg(test)]
mod block_tests;
mod blocks;
mod by_blocks;
mod factor;
mod fronts;
mod multiples;
#[cfg(test)]
mod tests;
mod tree;

use blocks::Blocks;

use super::degree::order;
use super::ordering::Ordering;
use super::short::{Long, REACH, Short};
use super::{Field, Pattern};
use std::fmt;
use std::ops::Range;

/// Above this many products a factorisation, their destinations (4 bytes each) no longer stay in
/// the cache, and rows are scattered into a full-length row instead, which needs no stream.
const LONGEST_STREAM: usize = 1 << 21;

/// Above this many unknowns a matrix is worked by dense blocks, where its structure lends itself to them. Rows
/// of smaller ones stay in the cache, index and all, and what they come to is left to the bit as it was.
const BLOCKED: usize = 2_000;

/// Length of right sides and of unknowns with which a small matrix is solved fastest. The last of each is
/// the zero that is multiplied where a row has an odd number of products.
pub const ROOM: usize = REACH;
/// Both of them.
pub const SCRATCH: usize = 2 * ROOM;

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
    /// First value in a column that waits for the second phase; the end where the row itself does not.
    later: u32,
}

impl Row {
    /// Its places from the first multiplier of the phase on, and how many multipliers there are.
    fn first_phase(self) -> (Range<usize>, usize) {
        (self.start as usize..self.end as usize, (self.pivot.min(self.later) - self.start) as usize)
    }

    /// The same of the second phase, for a row that waits.
    fn second_phase(self) -> (Range<usize>, usize) {
        (self.later as usize..self.end as usize, (self.pivot - self.later) as usize)
    }
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
    /// Number of rows that are done with in the first phase; all of them where nothing waits.
    split: usize,
    /// Whether the first phase is good for every matrix at one step size.
    keeps: bool,
    /// Where each product is subtracted, in both phases.
    products: [Products; 2],
    /// The same for a small matrix, which it is then worked by.
    short: Option<Short>,
    /// The same for a large one, which then has no rows.
    blocks: Option<Blocks>,
}

/// Where the products of a phase are subtracted.
#[derive(Clone, Debug)]
enum Products {
    /// At these offsets from the first multiplier of each row.
    Streamed(Vec<u32>),
    /// In a row at full length: the offsets would be too many.
    Scattered,
}

/// The numbers an [`Elimination`] makes of one matrix.
#[derive(Clone, Debug)]
pub struct Factors<F> {
    /// At least [`REACH`] long.
    values: Vec<F>,
    /// The same.
    inverse_pivots: Vec<F>,
    /// A row at full length; empty where the plan has a place for every product.
    scattered: Vec<F>,
    /// What the first phase leaves of the rows that wait, in the columns that wait.
    begun: Vec<F>,
}

impl<F: Field> Factors<F> {
    /// Room for the factors; [`Elimination::factor`] fills it.
    pub fn new(plan: &Elimination) -> Self {
        let zero = F::splat(0.0);
        let is_scattered =
            plan.blocks.is_none() && plan.products.iter().any(|p| matches!(p, Products::Scattered));
        Self {
            values: vec![zero; plan.fill().max(REACH)],
            inverse_pivots: vec![zero; plan.n().max(REACH)],
            scattered: vec![zero; if is_scattered { plan.n() } else { 0 }],
            begun: vec![zero; plan.begun()],
        }
    }
}

/// The short form with what it works on.
struct Small<'a, F> {
    short: &'a Short,
    /// Factors and inverse pivots.
    made: (&'a [F; REACH], &'a [F; REACH]),
    b: &'a mut [F; REACH],
    x: &'a mut [F; REACH],
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
        Self::plan_within(pattern, values, LONGEST_STREAM, BLOCKED)
    }

    /// [`Self::plan`] with the longest stream of destinations given.
    fn plan_within<F: Field>(
        pattern: &Pattern,
        values: &[F],
        longest_stream: usize,
        blocked: usize,
    ) -> Result<Self, Singular> {
        assert_eq!(values.len(), pattern.slots());
        let mut ordering = order(pattern, values)?;
        let n = pattern.n();
        let split = ordering.constant.unwrap_or(n);
        let blocks = (n > blocked).then(|| Blocks::of(pattern, &mut ordering, split)).flatten();
        let mut plan = Self {
            slots: pattern.slots(),
            rows: Vec::with_capacity(n),
            row_order: Vec::new(),
            column_order: Vec::new(),
            columns: Vec::new(),
            sources: Vec::new(),
            split,
            keeps: ordering.constant.is_some(),
            products: [Products::Scattered, Products::Scattered],
            short: None,
            blocks,
        };
        if plan.blocks.is_none() {
            plan.lay_out_rows(pattern, &ordering);
        }
        plan.row_order = ordering.rows;
        plan.column_order = ordering.columns;
        if plan.blocks.is_some() {
            return Ok(plan);
        }
        let first = plan.rows.iter().map(|row| row.first_phase());
        let second = plan.rows[plan.split..].iter().map(|row| row.second_phase());
        let products = [
            plan.find_destinations(longest_stream, first),
            plan.find_destinations(longest_stream, second),
        ];
        plan.short = match &products[0] {
            Products::Streamed(stream) if !plan.keeps => Short::of(&plan.long(stream)),
            _ => None,
        };
        plan.products = products;
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
            let end = self.columns.len() as u32;
            let waits =
                self.columns[start as usize..].partition_point(|&c| (c as usize) < self.split);
            let later = if self.rows.len() < self.split { end } else { start + waits as u32 };
            self.rows.push(Row { start, pivot, end, later });
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

    /// Where the products of a phase go, each row of which has its places from the first multiplier on
    /// and the number of multipliers.
    fn find_destinations(
        &self,
        longest: usize,
        rows: impl Iterator<Item = (Range<usize>, usize)>,
    ) -> Products {
        let mut stream = Vec::new();
        let mut offset = vec![0; self.n()];
        for (places, multipliers) in rows {
            let columns = &self.columns[places];
            for (at, &column) in columns.iter().enumerate() {
                offset[column as usize] = at as u32;
            }
            for &k in &columns[..multipliers] {
                let right = self.right_of_pivot(k);
                if stream.len() + right.len() > longest {
                    return Products::Scattered;
                }
                stream.extend(right.iter().map(|&column| offset[column as usize]));
            }
        }
        Products::Streamed(stream)
    }

    /// Number of values in rows and columns that wait.
    fn begun(&self) -> usize {
        let in_rows = self.rows.iter().skip(self.split).map(|row| (row.end - row.later) as usize);
        match self.blocks {
            Some(_) => (self.n() - self.split).pow(2),
            None => in_rows.sum(),
        }
    }

    /// Number of unknowns.
    pub fn n(&self) -> usize {
        self.row_order.len()
    }

    /// Number of values in both factors together, the pivots counted once.
    pub fn fill(&self) -> usize {
        self.blocks.as_ref().map_or(self.columns.len(), |blocks| blocks.values + self.n())
    }

    /// 1 or −1: the sign of the determinant of the matrix last factored, by its pivots and the order they
    /// were taken in.
    pub fn determinant_sign<F: Field + Into<f64>>(&self, factors: &Factors<F>) -> f64 {
        let inverses = factors.inverse_pivots.iter().take(self.n());
        let pivots: f64 = inverses.map(|&inverse| Into::<f64>::into(inverse).signum()).product();
        pivots * order_sign(&self.row_order) * order_sign(&self.column_order)
    }

    /// Solves A·x = b for right sides and unknowns counted from one, at the price of `b`; what stands for
    /// ground, at the start, is not touched. A small matrix is solved fastest where both have [`ROOM`], the
    /// last of each a zero. `work` is scratch of length n.
    ///
    /// # Panics
    /// If `b` and `x` are not longer than n, `work` is shorter, or `factors` was made for another plan.
    #[inline(always)]
    pub fn solve_spoiling<F: Field>(
        &self,
        factors: &Factors<F>,
        b: &mut [F],
        x: &mut [F],
        work: &mut [F],
    ) {
        match self.small(factors, b, x) {
            Some(Small { short, made, b, x }) => short.solve(made, b, x),
            None => self.solve_long(factors, &mut b[1..=self.n()], &mut x[1..=self.n()], work),
        }
    }

    fn solve_long<F: Field>(&self, factors: &Factors<F>, b: &mut [F], x: &mut [F], work: &mut [F]) {
        match &self.blocks {
            Some(blocks) => {
                self.solve_by_blocks(blocks, factors, b, work);
                self.restore_columns(work, x);
            }
            None => {
                x.copy_from_slice(b);
                self.solve_by_rows(factors, x, work);
            }
        }
    }

    /// Solves A·x = b in place: `b` goes in, x comes out. `work` is scratch of the same length, or, for a small
    /// matrix to be solved faster, of [`SCRATCH`], all zeros before it is first used.
    ///
    /// # Panics
    /// If `b` is not of length n, `work` is shorter, or `factors` was made for another plan.
    pub fn solve<F: Field>(&self, factors: &Factors<F>, b: &mut [F], work: &mut [F]) {
        let n = self.n();
        assert!(b.len() == n);
        if let Some((right_sides, unknowns)) = work.split_at_mut_checked(ROOM)
            && let Some(Small { short, made, b: right_sides, x }) =
                self.small(factors, right_sides, unknowns)
        {
            right_sides[1..=n].copy_from_slice(b);
            short.solve(made, right_sides, x);
            b.copy_from_slice(&x[1..=n]);
            return;
        }
        self.solve_by_rows(factors, b, work);
    }

    /// The short form with what it works on, where the matrix and both sides have one.
    #[inline(always)]
    fn small<'a, F: Field>(
        &'a self,
        factors: &'a Factors<F>,
        b: &'a mut [F],
        x: &'a mut [F],
    ) -> Option<Small<'a, F>> {
        let made = (factors.values.first_chunk()?, factors.inverse_pivots.first_chunk()?);
        let (b, x) = (b.first_chunk_mut()?, x.first_chunk_mut()?);
        Some(Small { short: self.short.as_ref()?, made, b, x })
    }

    fn solve_by_rows<F: Field>(&self, factors: &Factors<F>, b: &mut [F], work: &mut [F]) {
        assert!(work.len() >= self.n() && factors.values.len() >= self.fill());
        if let Some(blocks) = &self.blocks {
            self.solve_by_blocks(blocks, factors, b, work);
            return self.restore_columns(work, b);
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

    /// Into `work`, in pivot order, at the price of `b`.
    fn solve_by_blocks<F: Field>(
        &self,
        blocks: &Blocks,
        factors: &Factors<F>,
        b: &mut [F],
        work: &mut [F],
    ) {
        let work = &mut work[..self.n()];
        for (work, &from) in work.iter_mut().zip(&self.row_order) {
            *work = b[from as usize];
        }
        blocks.solve((&factors.values, &factors.inverse_pivots), work, b, false);
    }

    /// Solutions in pivot order to where their columns are.
    fn restore_columns<F: Field>(&self, work: &[F], x: &mut [F]) {
        for (&work, &to) in work.iter().zip(&self.column_order) {
            x[to as usize] = work;
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
        if let Some(blocks) = &self.blocks {
            let work = &mut work[..n];
            blocks.solve((&factors.values, &factors.inverse_pivots), work, b, true);
            for (&work, &to) in work.iter().zip(&self.row_order) {
                b[to as usize] = work;
            }
            return;
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
