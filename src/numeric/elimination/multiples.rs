//! Dense kernels of elimination by blocks. Plain loops: the compiler makes wide registers of them where they
//! are called from code for these.

// Measured: a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

use super::super::Field;

/// Sums of products kept side by side, so that none waits for another.
const ABREAST: usize = 8;

/// Subtracts from a row multiples of rows as long, that lie one behind the other: four at a time, so that
/// the row itself is read and written a quarter as often. Rows of four, which small blocks have most, stay
/// in a register.
#[inline(always)]
pub(super) fn subtract_multiples<F: Field>(
    row: &mut [F],
    rows: &[F],
    multiplier: impl Fn(usize) -> F,
) {
    if let Ok(row) = <&mut [F; 4]>::try_from(&mut *row) {
        let mut short = *row;
        subtract_by_four(&mut short, rows, multiplier);
        *row = short;
    } else {
        subtract_by_four(row, rows, multiplier);
    }
}

#[inline(always)]
fn subtract_by_four<F: Field>(row: &mut [F], rows: &[F], multiplier: impl Fn(usize) -> F) {
    let length = row.len();
    let (mut rows, mut k) = (rows, 0);
    // Not by chunks: these divide, which takes longer than the products of a small block.
    while length > 0 && rows.len() >= 4 * length {
        let (four, later) = rows.split_at(4 * length);
        let (first, second) = four.split_at(2 * length);
        let ((a, b), (c, d)) = (first.split_at(length), second.split_at(length));
        let [p, q, s, t]: [F; 4] = std::array::from_fn(|at| multiplier(k + at));
        let values = a.iter().zip(b).zip(c.iter().zip(d));
        for (to, ((&a, &b), (&c, &d))) in row.iter_mut().zip(values) {
            *to = *to - ((p * a + q * b) + (s * c + t * d));
        }
        (rows, k) = (later, k + 4);
    }
    while length > 0 && rows.len() >= length {
        let (values, later) = rows.split_at(length);
        subtract_multiple(row, values, multiplier(k));
        (rows, k) = (later, k + 1);
    }
}

/// Subtracts a multiple of a row from another.
#[inline(always)]
pub(super) fn subtract_multiple<F: Field>(row: &mut [F], values: &[F], factor: F) {
    for (to, &value) in row.iter_mut().zip(values) {
        *to = *to - factor * value;
    }
}

/// Σ a·b, in [`ABREAST`] sums.
#[inline(always)]
pub(super) fn products<F: Field>(a: &[F], b: &[F]) -> F {
    let b = &b[..a.len()];
    let mut sums = [F::splat(0.0); ABREAST];
    let (by_a, by_b) = (a.chunks_exact(ABREAST), b.chunks_exact(ABREAST));
    let last = by_a.remainder().iter().zip(by_b.remainder());
    for (a, b) in by_a.zip(by_b) {
        for (sum, (&a, &b)) in sums.iter_mut().zip(a.iter().zip(b)) {
            *sum = *sum + a * b;
        }
    }
    let [a, b, c, d, e, f, g, h] = sums;
    let all = ((a + e) + (b + f)) + ((c + g) + (d + h));
    last.fold(all, |sum, (&a, &b)| sum + a * b)
}
