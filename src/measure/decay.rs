//! Natural frequencies read off a decaying record: the matrix pencil of Y. Hua and T. K. Sarkar,
//! IEEE Trans. Acoust., Speech, Signal Process. 38 (1990) 814-824.

use nalgebra::{Complex, DMatrix, SymmetricEigen};

/// Width of the data matrix as a share of the samples, where the method is least disturbed.
const PENCIL_SHARE: f64 = 1.0 / 3.0;
/// No more exponentials than this are looked for: a regulator's output shows a handful.
const MOST_TERMS: usize = 12;
/// Models with so many terms, and with one less each, are held against the samples.
const FEWER_TRIED: usize = 4;
/// The richest that leaves no more than so many times the least is taken.
const AS_GOOD: f64 = 2.0;
/// Singular values below this share of the largest are rounding: their squares are, some roundings large,
/// what is found.
const LEAST_NOISE_SHARE: f64 = 1e-7;
/// Iterations that the eigenvalues may take.
const MOST_ITERATIONS: usize = 10_000;

/// One exponential: size·e^(s·t) at its largest sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Term {
    /// rad/s
    pub s: Complex<f64>,
    /// Its share of the samples, in their unit, where it is largest.
    pub size: f64,
}

/// The exponentials that `samples`, evenly `spacing_s` apart, are made of.
///
/// `noise_share` is what the samples are uncertain by, as a share of their largest singular value.
/// Empty if there are fewer than eight samples or nothing moves.
pub fn exponentials(samples: &[f64], spacing_s: f64, noise_share: f64) -> Vec<Term> {
    let count = samples.len();
    if count < 8 || samples.iter().any(|y| !y.is_finite()) {
        return Vec::new();
    }
    let width = ((count as f64 * PENCIL_SHARE) as usize).max(3);
    let data = DMatrix::from_fn(count - width, width + 1, |r, c| samples[r + c]);
    // The right singular vectors by the eigenvalues of the symmetric product: what is looked for stands
    // far above the square root of a rounding, and this iteration does not stop short of it, as the one
    // for singular values now and then does.
    let product = data.tr_mul(&data);
    let Some(eigen) = SymmetricEigen::try_new(product, f64::EPSILON, MOST_ITERATIONS) else {
        return Vec::new();
    };
    let right = eigen.eigenvectors.transpose();
    let sizes = eigen.eigenvalues.map(|square| square.max(0.0).sqrt());
    let largest = sizes.max();
    let mut order: Vec<usize> = (0..sizes.len()).collect();
    order.sort_by(|a, b| sizes[*b].total_cmp(&sizes[*a]));
    let noise_share = noise_share.max(LEAST_NOISE_SHARE);
    order.retain(|k| sizes[*k] > noise_share * largest);
    order.truncate(MOST_TERMS.min(width - 1));
    if order.is_empty() || largest <= 0.0 {
        return Vec::new();
    }
    // A singular vector hardly above the noise may turn a mode into two that are nothing: what the terms
    // leave of the samples tells, whatever anybody expects of them.
    let candidates = (1..=order.len()).rev().take(FEWER_TRIED).filter_map(|count| {
        let factors = factors_of(&right, &order[..count])?;
        let (sizes, left) = shares_of(&factors, samples)?;
        Some((left, factors, sizes))
    });
    let candidates: Vec<_> = candidates.collect();
    let least = candidates.iter().map(|c| c.0).fold(f64::INFINITY, f64::min);
    let best = candidates.into_iter().find(|c| c.0 <= AS_GOOD * least);
    let Some((_, factors, sizes)) = best else { return Vec::new() };
    let terms = factors.iter().zip(sizes);
    terms.map(|(z, size)| Term { s: z.ln() / spacing_s, size }).collect()
}

/// The factors by which each exponential changes from sample to sample, from these right singular vectors.
fn factors_of(right: &DMatrix<f64>, order: &[usize]) -> Option<Vec<Complex<f64>>> {
    let width = right.ncols() - 1;
    let column =
        |shift: usize| DMatrix::from_fn(width, order.len(), |r, c| right[(order[c], r + shift)]);
    let (first, second) = (column(0), column(1));
    let step = first.tr_mul(&first).lu().solve(&first.tr_mul(&second))?;
    let factors = step.complex_eigenvalues();
    Some(factors.iter().copied().filter(|z| z.norm() > 0.0).collect())
}

/// How much of the samples each term makes, by least squares, and the root of the squares that they leave.
fn shares_of(factors: &[Complex<f64>], samples: &[f64]) -> Option<(Vec<f64>, f64)> {
    let count = samples.len();
    let powers = DMatrix::from_fn(count, factors.len(), |r, c| factors[c].powi(r as i32));
    let wanted = DMatrix::from_fn(count, 1, |r, _| Complex::new(samples[r], 0.0));
    if powers.iter().any(|z| !(z.re.is_finite() && z.im.is_finite())) {
        return None;
    }
    let shares = powers.clone().svd(true, true).solve(&wanted, f64::EPSILON).ok()?;
    let left = (wanted - powers * &shares).norm();
    let largest = |z: &Complex<f64>| z.norm().powi(count as i32 - 1).max(1.0);
    Some((factors.iter().zip(shares.iter()).map(|(z, a)| a.norm() * largest(z)).collect(), left))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_a_sum_of_exponentials_gives_back_its_own() {
        let poles = [Complex::new(-2e4, 9.797_958_971e4), Complex::new(-3e3, 0.0)];
        let at = |t: f64| 0.02 + (poles[0] * t).exp().im + 0.5 * (poles[1] * t).exp().re;
        let samples: Vec<f64> = (0..240).map(|k| at(f64::from(k) * 1e-6)).collect();
        let found = exponentials(&samples, 1e-6, 1e-10);
        for pole in poles {
            let near =
                found.iter().map(|term| (term.s - pole).norm()).fold(f64::INFINITY, f64::min);
            assert!(near < 1e-5 * pole.norm(), "{pole} in {found:?}");
        }
        // The constant, the pair and the real one.
        assert_eq!(found.len(), 4);
    }

    #[test]
    fn what_does_not_move_has_no_exponentials() {
        assert!(exponentials(&[0.0; 50], 1e-6, 1e-9).is_empty());
        assert!(exponentials(&[1.0, f64::NAN, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0], 1.0, 1e-9).is_empty());
        assert!(exponentials(&[1.0, 2.0], 1.0, 1e-9).is_empty());
    }
}
