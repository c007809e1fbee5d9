//! How good a solution is, and one step of improvement. Fixed pivots are safe only with this check:
//! it measures the error of the outcome itself, not a symptom such as large multipliers.

use super::{Elimination, Factors, Field, Pattern, ROOM, SCRATCH};

/// Largest componentwise backward error taken without improvement, and the largest left after it:
/// far above rounding (some 1e-16 a term), and six digits below the tightest error a transient is
/// asked for, so that a solution within it never shows.
pub const ACCEPTED_BACKWARD_ERROR: f64 = 1e-12;

/// Roundings of the largest possible term in a row (its largest value times the largest unknown)
/// that are noise whatever its actual terms: where no source reaches, those are noise themselves and
/// must not be divided by (Arioli, Demmel, Duff, SIAM J. Matrix Anal. Appl. 10 (1989), section 3,
/// who allow a thousand; that would hide a wrong current of picoamperes beside volts).
const NOISE_ROUNDINGS: f64 = 10.0;

/// What [`solve_checked`] found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quality {
    /// The first solution is accurate.
    Good,
    /// Accurate after one step of refinement.
    Refined,
    /// Not accurate even after refinement: the planned pivots do not suit the present values. Plan
    /// again on them. If a plan made on these very values is stale, no better one is to be had.
    Stale,
}

/// Room for [`solve_checked`] and [`solve_transposed_checked`].
#[derive(Clone, Debug)]
pub struct Workspace<F> {
    right_side: Vec<F>,
    residual: Vec<F>,
    work: Vec<F>,
    /// The unknowns at a length that a byte can index.
    long: Vec<F>,
    terms: Vec<f64>,
    largest: Vec<f64>,
}

impl<F: Field> Workspace<F> {
    /// Room for `n` unknowns.
    pub fn new(n: usize) -> Self {
        let zeros = vec![F::splat(0.0); n];
        Self {
            right_side: zeros.clone(),
            residual: zeros,
            work: vec![F::splat(0.0); n.max(SCRATCH)],
            long: vec![F::splat(0.0); n.max(ROOM)],
            terms: vec![0.0; n],
            largest: vec![0.0; n],
        }
    }
}

/// The smallest relative change of single values of A and b that would make `x` exact:
/// max |b − A·x|ᵢ / (|A|·|x| + |b|)ᵢ (Oettli, Prager, Numer. Math. 6 (1964)). Rows where both are
/// zero count as exact; NaN where `x` is not finite. Rows that no source reaches hold nothing but
/// rounding, which counts in full here; [`solve_checked`] knows better.
///
/// # Panics
/// If the lengths do not match the pattern.
pub fn backward_error(pattern: &Pattern, values: &[f64], x: &[f64], b: &[f64]) -> f64 {
    error_of(pattern, values, (x, |column| x[column as usize]), b, Floor::NONE, |_| ())
}

/// Solves A·x = b in place, checks the solution against the matrix and refines it once if need be.
/// The factors may come from slightly other values than `values`; refinement then corrects for it.
///
/// Without accuracy ([`Quality::Stale`]) `b` holds the better of the two solutions.
///
/// # Panics
/// If the lengths do not match the pattern, or the factors were made for another plan.
pub fn solve_checked<F: Field>(
    plan: &Elimination,
    factors: &Factors<F>,
    pattern: &Pattern,
    values: &[F],
    b: &mut [F],
    room: &mut Workspace<F>,
) -> Quality {
    let solve = |b: &mut [F], work: &mut [F]| plan.solve(factors, b, work);
    improve(b, room, solve, |x, b, room| {
        let Workspace { residual, long, .. } = room;
        let mut residual = residual.iter_mut();
        let keep = |left| {
            if let Some(place) = residual.next() {
                *place = left;
            }
        };
        let floor = Floor::OF_NOISE;
        match long.first_chunk_mut::<ROOM>() {
            Some(long) if x.len() <= ROOM => {
                long[..x.len()].copy_from_slice(x);
                // No place is beyond a byte, so none needs a check.
                let at = |column: u32| long[column as usize % ROOM];
                error_of(pattern, values, (x, at), b, floor, keep)
            }
            _ => error_of(pattern, values, (x, |column| x[column as usize]), b, floor, keep),
        }
    })
}

/// As [`solve_checked`], of Aᵀ·x = b; for complex matrices without conjugation.
///
/// # Panics
/// As [`solve_checked`].
pub fn solve_transposed_checked<F: Field>(
    plan: &Elimination,
    factors: &Factors<F>,
    pattern: &Pattern,
    values: &[F],
    b: &mut [F],
    room: &mut Workspace<F>,
) -> Quality {
    let solve = |b: &mut [F], work: &mut [F]| plan.solve_transposed(factors, b, work);
    improve(b, room, solve, |x, b, room| transposed_error(pattern, values, x, b, room))
}

/// What [`NOISE_ROUNDINGS`] come to where an error of [`ACCEPTED_BACKWARD_ERROR`] is looked for.
const FLOOR: f64 = NOISE_ROUNDINGS * f64::EPSILON / ACCEPTED_BACKWARD_ERROR;

/// How the terms of a row are added to, and below which error that need not be known.
#[derive(Clone, Copy)]
struct Floor {
    share: f64,
    /// A row whose error is below this without the floor counts as exact: the floor only lessens it.
    exact: f64,
}

impl Floor {
    const NONE: Self = Self { share: 0.0, exact: 0.0 };
    const OF_NOISE: Self = Self { share: FLOOR, exact: ACCEPTED_BACKWARD_ERROR };
}

/// Solves in place, looks at the backward error, which leaves the residual in `room`, and corrects
/// by the solution for that residual if need be.
fn improve<F: Field>(
    b: &mut [F],
    room: &mut Workspace<F>,
    solve: impl Fn(&mut [F], &mut [F]),
    error: impl Fn(&[F], &[F], &mut Workspace<F>) -> f64,
) -> Quality {
    let mut right_side = std::mem::take(&mut room.right_side);
    right_side.copy_from_slice(b);
    solve(b, &mut room.work);
    let before = error(b, &right_side, room);
    let quality = if before <= ACCEPTED_BACKWARD_ERROR {
        Quality::Good
    } else {
        solve(&mut room.residual, &mut room.work);
        room.work[..b.len()].copy_from_slice(b);
        for (x, &correction) in b.iter_mut().zip(&room.residual) {
            *x = *x + correction;
        }
        let after = error(b, &right_side, room);
        if after <= ACCEPTED_BACKWARD_ERROR {
            Quality::Refined
        } else {
            if before <= after || after.is_nan() {
                b.copy_from_slice(&room.work[..b.len()]);
            }
            Quality::Stale
        }
    };
    room.right_side = right_side;
    quality
}

/// Componentwise backward error; gives b − A·x to `keep`, row by row; `x_at` reads x at a column. To the
/// terms of each row, the floor's share × (largest value in the row × largest unknown) is added. NaN where
/// `x` is not finite.
fn error_of<F: Field>(
    pattern: &Pattern,
    values: &[F],
    (x, x_at): (&[F], impl Fn(u32) -> F),
    b: &[F],
    floor: Floor,
    mut keep: impl FnMut(F),
) -> f64 {
    assert!(values.len() == pattern.slots() && x.len() == pattern.n() && b.len() == pattern.n());
    let mut worst = 0.0_f64;
    let mut values = values;
    for (columns, &b) in pattern.columns_by_row().zip(b) {
        let (here, later) = values.split_at(columns.len());
        values = later;
        let (mut left, mut terms) = (b, b.pivot_size());
        for (&column, &a) in columns.iter().zip(here) {
            let product = a * x_at(column);
            left = left - product;
            terms += product.pivot_size();
        }
        keep(left);
        let size = left.pivot_size();
        // An infinite unknown makes terms infinite, beside which nothing would count.
        if size <= floor.exact * terms && terms < f64::INFINITY {
            continue;
        }
        if size.is_nan() || !terms.is_finite() {
            return f64::NAN;
        }
        let largest = |all: &[F]| all.iter().fold(0.0, |m: f64, one| m.max(one.pivot_size()));
        worst = worst.max(size / (terms + floor.share * largest(here) * largest(x)));
    }
    worst
}

/// [`error_of`] the transposed matrix, with the same floor as [`solve_checked`]; leaves b − Aᵀ·x in
/// the residual.
fn transposed_error<F: Field>(
    pattern: &Pattern,
    values: &[F],
    x: &[F],
    b: &[F],
    room: &mut Workspace<F>,
) -> f64 {
    let Workspace { residual, terms, largest, .. } = room;
    residual.copy_from_slice(b);
    largest.fill(0.0);
    for (terms, b) in terms.iter_mut().zip(b) {
        *terms = b.pivot_size();
    }
    let largest_x = x.iter().fold(0.0, |m: f64, x| m.max(x.pivot_size()));
    for ((start, columns), &x) in pattern.rows().zip(x) {
        for (&column, &a) in columns.iter().zip(&values[start..]) {
            let (column, product) = (column as usize, a * x);
            residual[column] = residual[column] - product;
            terms[column] += product.pivot_size();
            largest[column] = largest[column].max(a.pivot_size());
        }
    }
    let mut worst = 0.0_f64;
    for ((left, terms), largest) in residual.iter().zip(terms).zip(largest) {
        let size = left.pivot_size();
        if size.is_nan() || !terms.is_finite() {
            return f64::NAN;
        }
        if size > 0.0 {
            worst = worst.max(size / (*terms + FLOOR * *largest * largest_x));
        }
    }
    worst
}

#[cfg(test)]
mod tests {
    use super::super::Singular;
    use super::*;

    /// An infinite unknown solves nothing, though its residual is no larger than its terms.
    #[test]
    fn exact_what_is_not_finite_is_no_solution() {
        let pattern = Pattern::from_entries(2, [(0, 0), (0, 1), (1, 1)]);
        for x in [[f64::INFINITY, 1.0], [1.0, f64::NEG_INFINITY], [f64::NAN, 1.0]] {
            let error = backward_error(&pattern, &[1.0, 1.0, 1.0], &x, &[1.0, 1.0]);
            assert!(error.is_nan(), "{x:?}: {error}");
        }
    }

    /// 1e200/1e-200 is no double; what comes out instead is not taken for accurate, either way round.
    #[test]
    fn exact_a_solution_beyond_all_numbers_is_not_accurate() -> Result<(), Singular> {
        let pattern = Pattern::from_entries(2, [(0, 0), (1, 1)]);
        let values = [1e-200, 1.0];
        let plan = Elimination::plan(&pattern, &values)?;
        let (mut factors, mut room) = (Factors::new(&plan), Workspace::new(2));
        plan.factor(&values, &mut factors)?;
        let mut b = [1e200, 1.0];
        let found = solve_checked(&plan, &factors, &pattern, &values, &mut b, &mut room);
        assert_eq!(found, Quality::Stale, "{b:?}");
        let mut b = [1e200, 1.0];
        let found = solve_transposed_checked(&plan, &factors, &pattern, &values, &mut b, &mut room);
        assert_eq!(found, Quality::Stale, "{b:?}");
        Ok(())
    }
}
