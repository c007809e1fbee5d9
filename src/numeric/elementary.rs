//! Elementary functions of our own: the same bits on every machine, and straight code without a branch
//! or a table, so that a loop over several variants of a circuit is done some at once.
//!
//! Where most arguments lie near zero a scalar may take the short way ([`tanh`], [`ln_1p`]); the long
//! way ([`tanh_straight`], [`ln_1p_straight`]) gives the same bits.
//!
//! Each is within two units of the last place of the exact value, and most often within one.

// Measured: what is not made part of a loop over variants ends its being done several at once.
#![allow(clippy::inline_always)]

use std::f64::consts::LOG2_E;

/// ln 2 in two parts, the first short enough that its product with any exponent is exact; they and the
/// coefficients of [`ln_1p`] are those of the freely distributable mathematics library of Sun
/// Microsystems (1993), from memory, proven by the tests below.
const LN_2_HIGH: f64 = 6.931_471_803_691_238e-1;
const LN_2_LOW: f64 = 1.908_214_929_270_587_7e-10;
/// Added to a small number it leaves the nearest integer in the last bits.
const ROUNDER: f64 = 6_755_399_441_055_744.0; // 1.5 · 2^52
/// Beyond these e^x is infinite or nothing; they are held so that the exponents below fit.
const EXPONENTS: [f64; 2] = [-746.0, 710.0];

/// Up to this argument, where tanh is a half, eight levels of Lambert's fraction are exact to 1e-16.
const FEW_LEVELS: f64 = 0.55;
/// From here tanh is one to the last place.
const LEVEL_FROM: f64 = 20.0;
/// Below this argument ln(1 + x) and x round to the same number: half of it is below half a rounding.
const SAME_AS_ITS_LOGARITHM: f64 = f64::EPSILON / 2.0;
/// e^-60, 9e-27, is nothing beside anything that stands next to it.
const FADED_OUT: f64 = -60.0;

/// 2^k, where `rounded` is [`ROUNDER`] + k and k an exponent of a normal number.
#[inline(always)]
fn two_to(rounded: f64) -> f64 {
    f64::from_bits(rounded.to_bits().wrapping_add(1023) << 52)
}

/// e^x.
///
/// x = k·ln 2 + r with |r| ≤ ln 2/2 (Cody and Waite, Software Manual for the Elementary Functions,
/// 1980), e^r by its series to r¹³, whose next term is below 1e-17, in Estrin's order, which keeps a
/// processor busy; 2^k in two factors, so that results fade out instead of breaking off.
#[inline(always)]
pub(super) fn exp(x: f64) -> f64 {
    // Both comparisons let not-a-number pass.
    let x = if x < EXPONENTS[0] { EXPONENTS[0] } else { x };
    let x = if x > EXPONENTS[1] { EXPONENTS[1] } else { x };
    let k = (x * LOG2_E + ROUNDER) - ROUNDER;
    let r = (x - k * LN_2_HIGH) - k * LN_2_LOW;
    let (r2, r4) = (r * r, (r * r) * (r * r));
    let low = (1.0 / 2.0 + r * (1.0 / 6.0)) + r2 * (1.0 / 24.0 + r * (1.0 / 120.0));
    let middle =
        (1.0 / 720.0 + r * (1.0 / 5_040.0)) + r2 * (1.0 / 40_320.0 + r * (1.0 / 362_880.0));
    let high = (1.0 / 3_628_800.0 + r * (1.0 / 39_916_800.0))
        + r2 * (1.0 / 479_001_600.0 + r * (1.0 / 6_227_020_800.0));
    let series = 1.0 + (r + r2 * (low + r4 * (middle + r4 * high)));
    let half = k * 0.5 + ROUNDER;
    series * two_to(half) * two_to((k - (half - ROUNDER)) + ROUNDER)
}

/// e^x, and nothing below [`FADED_OUT`].
#[inline(always)]
pub(super) fn fading(x: f64) -> f64 {
    if x < FADED_OUT { 0.0 } else { exp(x) }
}

/// [`fading`] without a branch.
#[inline(always)]
pub(super) fn fading_straight(x: f64) -> f64 {
    let whole = exp(x);
    if x < FADED_OUT { 0.0 } else { whole }
}

/// tanh x, to one unit in the last place near zero.
#[inline(always)]
pub(super) fn tanh(x: f64) -> f64 {
    if x.abs() <= FEW_LEVELS { tanh_near_zero(x) } else { tanh_afar(x) }
}

/// [`tanh`] without a branch.
#[inline(always)]
pub(super) fn tanh_straight(x: f64) -> f64 {
    let (near, afar) = (tanh_near_zero(x), tanh_afar(x));
    if x.abs() <= FEW_LEVELS { near } else { afar }
}

/// By Lambert's continued fraction x/(1 + x²/(3 + x²/(5 + …))) (1768; Abramowitz and Stegun, Handbook of
/// Mathematical Functions, 4.5.70, from memory), its first eight levels multiplied out.
#[inline(always)]
fn tanh_near_zero(x: f64) -> f64 {
    let s = x * x;
    let less = s * (675_675.0 + s * (45_045.0 + s * (594.0 + s)));
    let under = 2_027_025.0 + s * (945_945.0 + s * (51_975.0 + s * (630.0 + s)));
    // The fraction as 1 − less/under: what is taken away is small, and so are its roundings.
    x - x * less / under
}

/// (e^2|x| − 1)/(e^2|x| + 1) with the sign of x.
#[inline(always)]
fn tanh_afar(x: f64) -> f64 {
    let size = x.abs();
    let size = if size > LEVEL_FROM { LEVEL_FROM } else { size };
    let above_one = exp(2.0 * size) - 1.0;
    (above_one / (above_one + 2.0)).copysign(x)
}

/// ln x.
#[inline(always)]
pub(super) fn ln(x: f64) -> f64 {
    // A number too small for a whole mantissa is told by its multiple.
    let small = x < f64::MIN_POSITIVE;
    let normal = if small { x * 18_014_398_509_481_984.0 } else { x }; // 2^54
    let (k, mantissa) = split(normal);
    let k = if small { k - 54.0 } else { k };
    held_to_its_range(x, logarithm(k, mantissa - 1.0, 0.0))
}

/// ln(1 + x).
#[inline(always)]
pub(super) fn ln_1p(x: f64) -> f64 {
    if x.abs() < SAME_AS_ITS_LOGARITHM { x } else { ln_1p_afar(x) }
}

/// [`ln_1p`] without a branch.
#[inline(always)]
pub(super) fn ln_1p_straight(x: f64) -> f64 {
    let afar = ln_1p_afar(x);
    if x.abs() < SAME_AS_ITS_LOGARITHM { x } else { afar }
}

/// What rounding 1 + x loses is given back.
#[inline(always)]
fn ln_1p_afar(x: f64) -> f64 {
    let whole = 1.0 + x;
    let (k, mantissa) = split(whole);
    let lost = if x < 1.0 { x - (whole - 1.0) } else { 1.0 - (whole - x) };
    let (above_one, lost) = if k == 0.0 { (x, 0.0) } else { (mantissa - 1.0, lost / whole) };
    held_to_its_range(whole, logarithm(k, above_one, lost))
}

/// k and m of x = 2^k·m, m between √½ and √2; x a normal number above 0.
#[inline(always)]
fn split(x: f64) -> (f64, f64) {
    /// The bits of √½, from which mantissas are counted,
    const ROOT_HALF: u64 = 0x3fe6_a09e_0000_0000;
    /// those of 1,
    const ONE: u64 = 0x3ff0_0000_0000_0000;
    /// those of a mantissa, and of 2^52, which beside them is a plain integer.
    const MANTISSA: u64 = 0x000f_ffff_ffff_ffff;
    const INTEGER: u64 = 0x4330_0000_0000_0000;
    let bits = x.to_bits().wrapping_add(ONE - ROOT_HALF);
    let k = f64::from_bits((bits >> 52) | INTEGER) - (4_503_599_627_370_496.0 + 1023.0);
    (k, f64::from_bits((bits & MANTISSA).wrapping_add(ROOT_HALF)))
}

/// k·ln 2 + ln(1 + f) + c: ln(1 + f) = f − f²/2 + s·(f²/2 + R(s²)) with s = f/(2 + f), by the method and
/// coefficients of the library named above.
#[inline(always)]
fn logarithm(k: f64, f: f64, c: f64) -> f64 {
    let s = f / (2.0 + f);
    let (z, w) = (s * s, (s * s) * (s * s));
    let even = w
        * (3.999_999_999_940_942e-1
            + w * (2.222_219_843_214_978_4e-1 + w * 1.531_383_769_920_937_3e-1));
    let odd = z
        * (6.666_666_666_666_735e-1
            + w * (2.857_142_874_366_239e-1
                + w * (1.818_357_216_161_805e-1 + w * 1.479_819_860_511_658_6e-1)));
    let half = 0.5 * f * f;
    s * (half + (even + odd)) + (k * LN_2_LOW + c) - half + f + k * LN_2_HIGH
}

/// The logarithm found for x, where x has one.
#[inline(always)]
fn held_to_its_range(x: f64, found: f64) -> f64 {
    /// The bits of what is above all numbers.
    const INFINITE: u64 = 0x7ff0_0000_0000_0000;
    let edge = if x == 0.0 { f64::NEG_INFINITY } else { f64::NAN };
    let edge = if x == f64::INFINITY { x } else { edge };
    // Numbers above zero have their bits in one range; two comparisons would cost a loop its width.
    if x.to_bits().wrapping_sub(1) < INFINITE - 1 { found } else { edge }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Distance in units of the last place of `exact`.
    fn ulps(found: f64, exact: f64) -> f64 {
        let unit = (exact.abs().next_up() - exact.abs()).max(f64::from_bits(1));
        if found == exact { 0.0 } else { (found - exact).abs() / unit }
    }

    /// Arguments of all sizes and both signs between two powers of ten.
    fn arguments(from: i32, to: i32) -> impl Iterator<Item = f64> {
        let steps = 4_000 * (to - from);
        (0..steps).flat_map(move |k| {
            let x = 10_f64.powf(f64::from(from) + f64::from(k) / 4_000.0 + 1.3e-5);
            [x, -x]
        })
    }

    /// The system's functions are the reference; they are good to one unit themselves.
    #[test]
    fn exact_exponentials_are_within_two_units_of_the_system_s() {
        for x in arguments(-18, 3).chain((0..200_000).map(|k| f64::from(k) * 3.7e-3 - 370.0)) {
            assert!(ulps(exp(x), x.exp()) <= 2.0, "{x}: {} {}", exp(x), x.exp());
        }
        assert_eq!([exp(0.0), exp(-0.0), exp(f64::NEG_INFINITY)], [1.0, 1.0, 0.0]);
        assert_eq!([exp(f64::INFINITY), exp(1e300), exp(710.0)], [f64::INFINITY; 3]);
        assert!(exp(f64::NAN).is_nan());
        assert!(
            ulps(exp(709.7), 709.7_f64.exp()) <= 2.0
                && ulps(exp(-740.0), (-740.0_f64).exp()) <= 2.0
        );
    }

    #[test]
    fn exact_tanh_is_within_two_units_of_the_system_s_and_odd() {
        for x in arguments(-12, 3).chain((0..200_000).map(|k| 1e-5 * f64::from(k) + 1e-7)) {
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
            assert_eq!(fading(x), exp(x));
        }
        assert_eq!([fading(-60.1), fading(f64::NEG_INFINITY)], [0.0; 2]);
        assert!(fading(f64::NAN).is_nan());
    }

    #[test]
    fn exact_logarithms_of_one_and_more_are_within_a_unit_of_the_system_s() {
        for x in arguments(-320, 308).filter(|x| *x > -1.0) {
            assert!(ulps(ln_1p(x), x.ln_1p()) <= 1.5, "{x}: {} {}", ln_1p(x), x.ln_1p());
        }
        for x in (0..400_000).map(|k| 1e-5 * f64::from(k) - 0.999_993) {
            assert!(ulps(ln_1p(x), x.ln_1p()) <= 1.5, "{x}: {} {}", ln_1p(x), x.ln_1p());
        }
        assert_eq!(
            [ln_1p(0.0), ln_1p(-1.0), ln_1p(f64::INFINITY)],
            [0.0, f64::NEG_INFINITY, f64::INFINITY]
        );
        assert!(ln_1p(f64::NAN).is_nan() && ln_1p(-1.5).is_nan());
    }

    #[test]
    fn exact_logarithms_are_within_a_unit_of_the_system_s() {
        let near_one = (0..400_000).map(|k| 0.1 + 1e-5 * f64::from(k));
        for x in arguments(-323, 308).filter(|x| *x > 0.0).chain(near_one) {
            assert!(ulps(ln(x), x.ln()) <= 1.5, "{x}: {} {}", ln(x), x.ln());
        }
        assert_eq!([ln(1.0), ln(0.0), ln(f64::INFINITY)], [0.0, f64::NEG_INFINITY, f64::INFINITY]);
        assert!(ln(f64::NAN).is_nan() && ln(-1.5).is_nan() && ln(f64::NEG_INFINITY).is_nan());
    }

    #[test]
    fn straight_ways_give_the_same_bits() {
        let same = |a: f64, b: f64| a.to_bits() == b.to_bits();
        let ends = [0.0, -0.0, f64::NAN, f64::INFINITY, f64::NEG_INFINITY, FEW_LEVELS, FADED_OUT];
        for x in arguments(-320, 308).chain(ends) {
            assert!(same(tanh(x), tanh_straight(x)) && same(fading(x), fading_straight(x)), "{x}");
            assert!(same(ln_1p(x), ln_1p_straight(x)), "{x}");
        }
    }
}
