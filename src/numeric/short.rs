//! The elimination program of a small matrix: places in the factors are single bytes and the factors
//! an array of 256, so that no index needs a check. Everything is computed in the order of the long
//! program, to the same bits.
//!
//! Sums stay in a register and run along rows, nearest column first. Column by column, backward
//! substitution was as fast, but of 375 dampings that a demo's small steps show, a tenth was then off by
//! more than 0.9 % instead of 0.4 % (2026-11-26).

use super::Field;
use super::elimination::Row;
use std::ops::Range;

/// Length of the arrays that a byte can index.
pub(super) const REACH: usize = 256;

/// factor\[value\]·x\[from\]
#[derive(Clone, Copy, Debug)]
struct Product {
    from: u8,
    value: u8,
}

/// The products of a substitution, row by row, and how many each row has.
#[derive(Clone, Debug, Default)]
struct Sums {
    products: Vec<Product>,
    counts: Vec<u8>,
}

/// A multiplier of a row: where it stands, the pivot it is for, and how many products it makes with
/// what stands right of that pivot.
#[derive(Clone, Copy, Debug)]
struct Multiplier {
    at: u8,
    pivot: u8,
    first: u8,
    products: u8,
}

/// How many multipliers a row has, and where its pivot is.
#[derive(Clone, Copy, Debug)]
struct ShortRow {
    multipliers: u8,
    pivot: u8,
}

/// The program.
#[derive(Clone, Debug)]
pub(super) struct Short {
    /// Place in the factors of each slot of the matrix.
    places: Vec<u8>,
    rows: Vec<ShortRow>,
    multipliers: Vec<Multiplier>,
    /// Where each product of a factorisation goes.
    destinations: Vec<u8>,
    /// The forward substitution, first row first, and the backward one, last row first.
    lower: Sums,
    upper: Sums,
}

impl Short {
    /// The program of a plan with these rows, columns of the factors, sources and destinations (as
    /// offsets in the row), if it is small enough.
    pub(super) fn of(
        rows: &[Row],
        columns: &[u32],
        sources: &[u32],
        slots: usize,
        destinations: &[u32],
    ) -> Option<Self> {
        if columns.len() > REACH {
            return None;
        }
        let mut short = Self {
            places: vec![0; slots],
            rows: Vec::with_capacity(rows.len()),
            multipliers: Vec::new(),
            destinations: Vec::with_capacity(destinations.len()),
            lower: Sums::default(),
            upper: Sums::default(),
        };
        for (at, &slot) in sources.iter().enumerate() {
            if let Some(place) = short.places.get_mut(slot as usize) {
                *place = at as u8;
            }
        }
        let mut stream = destinations.iter();
        for row in rows {
            for at in row.start..row.pivot {
                let j = columns[at as usize];
                let source = rows[j as usize];
                let products = source.end - source.pivot - 1;
                let to = |offset: &u32| (row.start + offset) as u8;
                short.destinations.extend(stream.by_ref().take(products as usize).map(to));
                short.multipliers.push(Multiplier {
                    at: at as u8,
                    pivot: j as u8,
                    first: (source.pivot + 1) as u8,
                    products: products as u8,
                });
            }
            let multipliers = (row.pivot - row.start) as u8;
            short.rows.push(ShortRow { multipliers, pivot: row.pivot as u8 });
        }
        for row in rows {
            short.lower.push(columns, row.start..row.pivot);
        }
        for row in rows.iter().rev() {
            short.upper.push(columns, row.pivot + 1..row.end);
        }
        Some(short)
    }

    /// As [`super::Elimination::factor`]; fails with the pivot's number.
    pub(super) fn factor<F: Field>(
        &self,
        matrix: &[F],
        factors: &mut [F; REACH],
        inverse_pivots: &mut [F; REACH],
        invert: impl Fn(F) -> Option<F>,
    ) -> Result<(), usize> {
        factors.fill(F::splat(0.0));
        for (&place, &value) in self.places.iter().zip(matrix) {
            factors[place as usize] = value;
        }
        let (mut multipliers, mut destinations) = (&*self.multipliers, &*self.destinations);
        for (k, row) in self.rows.iter().enumerate() {
            let (here, later) = multipliers.split_at(row.multipliers as usize);
            multipliers = later;
            for multiplier in here {
                let (at, inverse) = (multiplier.at, inverse_pivots[multiplier.pivot as usize]);
                let value = factors[at as usize] * inverse;
                factors[at as usize] = value;
                let (here, later) = destinations.split_at(multiplier.products as usize);
                destinations = later;
                let mut from = multiplier.first;
                for &to in here {
                    let term = value * factors[from as usize];
                    factors[to as usize] = factors[to as usize] - term;
                    from = from.wrapping_add(1);
                }
            }
            inverse_pivots[k % REACH] = invert(factors[row.pivot as usize]).ok_or(k)?;
        }
        Ok(())
    }

    /// Solves in place in pivot order.
    pub(super) fn solve<F: Field>(
        &self,
        factors: &[F; REACH],
        inverse_pivots: &[F; REACH],
        x: &mut [F; REACH],
    ) {
        let mut products = self.lower.products.as_slice();
        for (k, &count) in self.lower.counts.iter().enumerate() {
            let (here, later) = products.split_at(count as usize);
            x[k % REACH] = subtract(x[k % REACH], here, factors, x);
            products = later;
        }
        let mut products = self.upper.products.as_slice();
        let pivots = (0..self.rows.len()).rev().map(|k| k % REACH);
        for (k, &count) in pivots.zip(&self.upper.counts) {
            let (here, later) = products.split_at(count as usize);
            x[k] = subtract(x[k], here, factors, x) * inverse_pivots[k];
            products = later;
        }
    }
}

impl Sums {
    /// One more row: the values of the factors in `range`.
    fn push(&mut self, columns: &[u32], range: Range<u32>) {
        self.counts.push(range.len() as u8);
        let product = |at: u32| Product { from: columns[at as usize] as u8, value: at as u8 };
        self.products.extend(range.map(product));
    }
}

/// start − Σ products.
#[inline]
fn subtract<F: Field>(start: F, products: &[Product], factors: &[F; REACH], x: &[F; REACH]) -> F {
    let term = |product: &Product| factors[product.value as usize] * x[product.from as usize];
    products.iter().fold(start, |sum, product| sum - term(product))
}
