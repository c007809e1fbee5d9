//! The elimination program of a small matrix: places in the factors are single bytes and the factors
//! an array of 256, so that no index needs a check, and products of a substitution stand one after the
//! other, column by column: neighbours then go to different places and need not wait for each other. Row
//! by row they took half as long again (34 products: 93 ns to 62 ns, 2026-11-26).

use super::Field;
use super::elimination::Row;

/// Length of the arrays that a byte can index.
pub(super) const REACH: usize = 256;

/// work\[to\] −= factor\[value\]·work\[from\]
#[derive(Clone, Copy, Debug)]
struct Product {
    to: u8,
    from: u8,
    value: u8,
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

/// Where a row's pivot and end are, and how many multipliers it has.
#[derive(Clone, Copy, Debug)]
struct ShortRow {
    multipliers: u8,
    pivot: u8,
    right: u8,
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
    /// Products of the forward and of the backward substitution.
    lower: Vec<Product>,
    upper: Vec<Product>,
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
            lower: Vec::new(),
            upper: Vec::new(),
        };
        for (at, &slot) in sources.iter().enumerate() {
            if let Some(place) = short.places.get_mut(slot as usize) {
                *place = at as u8;
            }
        }
        let mut stream = destinations.iter();
        for (k, row) in rows.iter().enumerate() {
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
                short.lower.push(Product { to: k as u8, from: j as u8, value: at as u8 });
            }
            short.rows.push(ShortRow {
                multipliers: (row.pivot - row.start) as u8,
                pivot: row.pivot as u8,
                right: (row.end - row.pivot - 1) as u8,
            });
        }
        short.lower.sort_by_key(|product| (product.from, product.to));
        for (k, row) in rows.iter().enumerate() {
            let right = row.pivot + 1..row.end;
            short.upper.extend(right.map(|at| Product {
                to: k as u8,
                from: columns[at as usize] as u8,
                value: at as u8,
            }));
        }
        short.upper.sort_by_key(|product| (u8::MAX - product.from, product.to));
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
                let value = factors[multiplier.at as usize];
                let (here, later) = destinations.split_at(multiplier.products as usize);
                destinations = later;
                let mut from = multiplier.first;
                for &to in here {
                    let term = value * factors[from as usize];
                    factors[to as usize] = factors[to as usize] - term;
                    from = from.wrapping_add(1);
                }
                factors[multiplier.at as usize] = value * inverse_pivots[multiplier.pivot as usize];
            }
            let inverse = invert(factors[row.pivot as usize]).ok_or(k)?;
            inverse_pivots[k % REACH] = inverse;
            let mut at = row.pivot;
            for _ in 0..row.right {
                at = at.wrapping_add(1);
                factors[at as usize] = factors[at as usize] * inverse;
            }
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
        let n = self.rows.len();
        apply(&self.lower, factors, x);
        for (x, &inverse) in x[..n].iter_mut().zip(inverse_pivots) {
            *x = *x * inverse;
        }
        apply(&self.upper, factors, x);
    }
}

#[inline]
fn apply<F: Field>(products: &[Product], factors: &[F; REACH], x: &mut [F; REACH]) {
    for product in products {
        let term = factors[product.value as usize] * x[product.from as usize];
        x[product.to as usize] = x[product.to as usize] - term;
    }
}
