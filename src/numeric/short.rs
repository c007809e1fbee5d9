//! The elimination program of a small matrix: every place is a single byte and every array 256 long, so
//! that no index needs a check. Right sides and unknowns are counted from one, as a circuit counts them:
//! ground comes first. Everything is computed in the order of the long program, to the same
//! bits.
//!
//! Rows of a circuit hold one or two products, so a loop over rows with a loop over products inside
//! spends most of its time between the two. Here one flat list of steps takes up to two products each:
//! longer rows take several steps, shorter ones multiply by the nothing that stands at [`NOTHING`].
//!
//! Sums run along rows, nearest column first. Column by column, backward substitution was as fast, but
//! of 375 dampings that a demo's small steps show, a tenth was then off by more than 0.9 % instead of
//! 0.4 % (2026-11-26).

// Measured: in lockstep a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

use super::Field;
use super::elimination::Row;
use std::ops::Range;

/// Length of the arrays that a byte can index.
pub(super) const REACH: usize = 256;

/// Where nothing is kept: a zero among factors and unknowns, a one among inverse pivots.
const NOTHING: usize = REACH - 1;

/// b\[at\] −= Σ factor\[value\]·b\[from\] over two products.
#[derive(Clone, Copy, Debug)]
struct Forward {
    at: u8,
    values: [u8; 2],
    from: [u8; 2],
}

/// b\[at\] −= Σ factor\[value\]·x\[from\], and x\[to\] is that over the pivot; over one, and not yet of use,
/// until its row's last step.
#[derive(Clone, Copy, Debug)]
struct Backward {
    to: u8,
    pivot: u8,
    sum: Forward,
}

/// factor\[at\] is divided by a pivot, and that many times two factors subtracted from two others.
#[derive(Clone, Copy, Debug)]
struct Multiplier {
    at: u8,
    pivot: u8,
    from: [u8; 2],
    to: [u8; 2],
}

/// How many steps lead to a row's pivot, and where it is.
#[derive(Clone, Copy, Debug)]
struct ShortRow {
    steps: u8,
    pivot: u8,
}

/// The program.
#[derive(Clone, Debug)]
pub(super) struct Short {
    /// Place in the factors of each slot of the matrix.
    places: Vec<u8>,
    /// Places in the factors that no slot fills.
    filled_in: Vec<u8>,
    rows: Vec<ShortRow>,
    multipliers: Vec<Multiplier>,
    forward: Vec<Forward>,
    backward: Vec<Backward>,
}

/// What a long program says, to be shortened.
pub(super) struct Long<'a> {
    pub(super) rows: &'a [Row],
    /// Row and column of the matrix that are eliminated k-th.
    pub(super) row_order: &'a [u32],
    pub(super) column_order: &'a [u32],
    /// Place in pivot order of each value of the factors.
    pub(super) columns: &'a [u32],
    /// Slot that each value starts from.
    pub(super) sources: &'a [u32],
    pub(super) slots: usize,
    /// Where each product goes, as offsets in the row.
    pub(super) destinations: &'a [u32],
}

impl Short {
    /// The short form of a program, if it is small enough.
    pub(super) fn of(long: &Long<'_>) -> Option<Self> {
        if long.columns.len() > NOTHING || long.rows.len() >= NOTHING {
            return None;
        }
        let mut short = Self {
            places: vec![0; long.slots],
            filled_in: Vec::new(),
            rows: Vec::with_capacity(long.rows.len()),
            multipliers: Vec::with_capacity(long.columns.len()),
            forward: Vec::with_capacity(long.columns.len()),
            backward: Vec::with_capacity(long.columns.len()),
        };
        for (at, &slot) in long.sources.iter().enumerate() {
            match short.places.get_mut(slot as usize) {
                Some(place) => *place = at as u8,
                None => short.filled_in.push(at as u8),
            }
        }
        short.lay_factorisation(long);
        let row_of = |k: u32| long.row_order[k as usize] + 1;
        let column_of = |k: u32| long.column_order[k as usize] + 1;
        for (k, row) in long.rows.iter().enumerate() {
            short.forward.extend(sums(long, k, row.start..row.pivot, row_of));
        }
        for (k, row) in long.rows.iter().enumerate().rev() {
            let (at, to) = (row_of(k as u32) as u8, column_of(k as u32) as u8);
            let unfinished = |sum: Forward| Backward { to, pivot: NOTHING as u8, sum };
            let steps = sums(long, k, row.pivot + 1..row.end, column_of);
            short.backward.extend(steps.map(unfinished));
            short.finish(k, at, to);
        }
        Some(short)
    }

    /// The step last laid ends the k-th row, if it is one of its own; else one is laid that does.
    fn finish(&mut self, k: usize, at: u8, to: u8) {
        let nothing = [NOTHING as u8; 2];
        match self.backward.last_mut() {
            Some(last) if last.sum.at == at => last.pivot = k as u8,
            _ => {
                let sum = Forward { at, values: nothing, from: nothing };
                self.backward.push(Backward { to, pivot: k as u8, sum });
            }
        }
    }

    fn lay_factorisation(&mut self, long: &Long<'_>) {
        let mut stream = long.destinations;
        for row in long.rows {
            let before = self.multipliers.len();
            for at in row.start..row.pivot {
                let j = long.columns[at as usize];
                let source = long.rows[j as usize];
                let products = source.pivot + 1..source.end;
                let (here, later) = stream.split_at(products.len());
                stream = later;
                let mut pivot = j as u8;
                let both: Vec<(u32, u32)> = products.zip(here.iter().copied()).collect();
                let none: &[(u32, u32)] = &[];
                let pairs = both.chunks(2).chain((both.is_empty()).then_some(none));
                for pair in pairs {
                    let mut step = Multiplier {
                        at: at as u8,
                        pivot,
                        from: [NOTHING as u8; 2],
                        to: [NOTHING as u8; 2],
                    };
                    for (k, (from, offset)) in pair.iter().enumerate() {
                        (step.from[k], step.to[k]) = (*from as u8, (row.start + offset) as u8);
                    }
                    self.multipliers.push(step);
                    // It is divided once.
                    pivot = NOTHING as u8;
                }
            }
            let steps = (self.multipliers.len() - before) as u8;
            self.rows.push(ShortRow { steps, pivot: row.pivot as u8 });
        }
    }

    /// As [`super::Elimination::factor`]; fails with the pivot's number.
    #[inline(always)]
    pub(super) fn factor<F: Field>(
        &self,
        matrix: &[F],
        factors: &mut [F; REACH],
        inverse_pivots: &mut [F; REACH],
    ) -> Result<(), usize> {
        let zero = F::splat(0.0);
        // After a failure it may be anything.
        factors[NOTHING] = zero;
        inverse_pivots[NOTHING] = F::splat(1.0);
        for &place in &self.filled_in {
            factors[place as usize] = zero;
        }
        for (&place, &value) in self.places.iter().zip(matrix) {
            factors[place as usize] = value;
        }
        let mut multipliers = self.multipliers.as_slice();
        for (k, row) in self.rows.iter().enumerate() {
            let (here, later) = multipliers.split_at(row.steps as usize);
            multipliers = later;
            for step in here {
                let value = factors[step.at as usize] * inverse_pivots[step.pivot as usize];
                factors[step.at as usize] = value;
                let ([from, other_from], [to, other_to]) = (step.from, step.to);
                let term = value * factors[from as usize];
                factors[to as usize] = factors[to as usize] - term;
                let term = value * factors[other_from as usize];
                factors[other_to as usize] = factors[other_to as usize] - term;
            }
            inverse_pivots[k % REACH] = factors[row.pivot as usize].inverse().ok_or(k)?;
        }
        Ok(())
    }

    /// As [`super::Elimination::solve_spoiling`]; at [`NOTHING`] both have a zero.
    #[inline(always)]
    pub(super) fn solve<F: Field>(
        &self,
        (factors, inverse_pivots): (&[F; REACH], &[F; REACH]),
        b: &mut [F; REACH],
        x: &mut [F; REACH],
    ) {
        for step in &self.forward {
            b[step.at as usize] = step.left(factors, b[step.at as usize], b);
        }
        for &Backward { to, pivot, sum } in &self.backward {
            let left = sum.left(factors, b[sum.at as usize], x);
            b[sum.at as usize] = left;
            x[to as usize] = left * inverse_pivots[pivot as usize];
        }
    }
}

impl Forward {
    /// What is left `of` a sum after two products.
    #[inline(always)]
    fn left<F: Field>(self, factors: &[F; REACH], of: F, x: &[F; REACH]) -> F {
        let term = |k: usize| factors[self.values[k] as usize] * x[self.from[k] as usize];
        of - term(0) - term(1)
    }
}

/// The sum of the k-th row over the factors in `range`, two products a step.
fn sums(
    long: &Long<'_>,
    k: usize,
    range: Range<u32>,
    from: impl Fn(u32) -> u32,
) -> impl Iterator<Item = Forward> {
    let at = long.row_order[k] as u8 + 1;
    let end = range.end;
    range.step_by(2).map(move |first| {
        let mut step = Forward { at, values: [NOTHING as u8; 2], from: [NOTHING as u8; 2] };
        for (which, value) in (first..end.min(first + 2)).enumerate() {
            step.values[which] = value as u8;
            step.from[which] = from(long.columns[value as usize]) as u8;
        }
        step
    })
}
