//! Statistics of residuals: Student's t, the correlation of neighbours, and how many independent
//! samples a correlated residual is worth.

use std::f64::consts::FRAC_PI_2;

/// Probability of the intervals that are told.
pub const CONFIDENCE: f64 = 0.95;
/// Stretches of Simpson's rule.
const STRETCHES: usize = 400;
/// Beyond this many standard widths the density holds nothing that double precision sees.
const TAIL: f64 = 12.0;
/// Halvings of the bracket.
const HALVINGS: usize = 60;
/// Most that correlated neighbours may cost: below this share of the samples the estimate of the
/// correlation itself is worth nothing.
const LEAST_SHARE: f64 = 1e-3;

/// The half-width t of Student's distribution that holds [`CONFIDENCE`], with `freedom` degrees of
/// freedom (at least one is taken).
///
/// With t = √ν·tan θ the density becomes cosᵛ⁻¹ θ, so the share within ±t is the integral of that up to
/// θ over the whole (Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.3 and 26.7.4).
pub fn student(freedom: f64) -> f64 {
    let freedom = freedom.max(1.0);
    // Beyond this the difference to the normal distribution is below one in a million.
    let freedom = freedom.min(1e7);
    let end = (TAIL / freedom.sqrt()).min(FRAC_PI_2);
    let density = |theta: f64| ((freedom - 1.0) * theta.cos().max(1e-300).ln()).exp();
    let whole = simpson(&density, end);
    let (mut low, mut high) = (0.0, end);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        if simpson(&density, middle) < CONFIDENCE * whole { low = middle } else { high = middle }
    }
    freedom.sqrt() * f64::midpoint(low, high).tan()
}

fn simpson(f: &dyn Fn(f64) -> f64, to: f64) -> f64 {
    let h = to / STRETCHES as f64;
    let inner = (1..STRETCHES).map(|k| f(h * k as f64) * if k % 2 == 1 { 4.0 } else { 2.0 });
    (f(0.0) + inner.sum::<f64>() + f(to)) * h / 3.0
}

/// The correlation of neighbours about zero, -1 to 1.
pub(super) fn neighbours(residual: &[f64]) -> f64 {
    let squares: f64 = residual.iter().map(|r| r * r).sum();
    let products: f64 = residual.windows(2).map(|pair| pair[0] * pair[1]).sum();
    if squares > 0.0 { (products / squares).clamp(-1.0, 1.0) } else { 0.0 }
}

/// How many independent samples so many correlated ones are worth: n·(1 − ρ)/(1 + ρ), which is
/// exact for the mean of a first-order autoregressive sequence (Bayley and Hammersley, J. Roy.
/// Statist. Soc. Suppl. 8 (1946)) and a fair account of other smooth sums. A negative correlation,
/// which would make them worth more, is not counted.
pub(super) fn independent(samples: usize, correlation: f64) -> f64 {
    let rho = correlation.max(0.0);
    let n = samples as f64;
    (n * (1.0 - rho) / (1.0 + rho)).max(n * LEAST_SHARE).max(2.0)
}

#[cfg(test)]
mod tests {
    use super::{independent, neighbours, student};

    /// Two-sided 95 % points of Student's t, as every handbook of statistics has them (Fisher and
    /// Yates, Statistical Tables, table III; from memory).
    #[test]
    fn published_points_of_students_t() {
        let table = [(1.0, 12.706), (2.0, 4.303), (3.0, 3.182), (5.0, 2.571), (10.0, 2.228)];
        for (freedom, t) in table.into_iter().chain([(30.0, 2.042), (120.0, 1.980), (1e9, 1.960)]) {
            let found = student(freedom);
            // Half a unit of the last digit printed.
            assert!((found - t).abs() < 6e-4, "{freedom}: {found}, expected {t}");
        }
    }

    #[test]
    fn exact_neighbours_of_known_sequences() {
        assert_eq!(neighbours(&[1.0, -1.0, 1.0, -1.0]), -0.75);
        assert_eq!(neighbours(&[]), 0.0);
        assert_eq!(independent(100, -0.5), 100.0);
        assert!((independent(100, 0.5) - 100.0 / 3.0).abs() < 1e-12);
        assert_eq!(independent(10, 1.0), 2.0);
    }
}
