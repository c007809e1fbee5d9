//! Shapes that laws are built of, each with finite value and slope for every finite argument.
//!
//! Where two branches meet, the slope is taken from one and the same side in every term, so that
//! duals are right on the seam itself.

// Measured: what is not made part of a loop over variants ends its being done several at once.
#![allow(clippy::inline_always)]

use crate::numeric::Scalar;

/// Beyond this argument an exponential goes on along its tangent. e^150 times the smallest
/// saturation current in use is far above any real current, so nothing physical is cut.
pub(super) const LARGEST_EXPONENT: f64 = 150.0;

/// Inputs are held within this many volts before they are used: products of a few of them still
/// fit a double.
const LARGEST_INPUT: f64 = 1e30;

/// The input, or the bound it exceeds.
#[inline(always)]
pub(super) fn bounded<S: Scalar>(u: S) -> S {
    u.minimum(S::splat(LARGEST_INPUT)).maximum(S::splat(-LARGEST_INPUT))
}

/// e^x up to [`LARGEST_EXPONENT`], its tangent beyond.
#[inline(always)]
pub(super) fn limited_exponential<S: Scalar>(x: S) -> S {
    let held = x.minimum(S::splat(LARGEST_EXPONENT));
    held.exp() * (S::splat(1.0) + (x - held))
}

/// ln(1 + e^u) without overflow.
#[inline(always)]
pub(super) fn softplus<S: Scalar>(u: S) -> S {
    u.maximum(S::splat(0.0)) + softplus_bend(u)
}

/// The same where something else is always beside it, such as a conductance across what it limits: an
/// end that is far away costs nothing.
#[inline(always)]
pub(super) fn softplus_beside<S: Scalar>(u: S) -> S {
    u.maximum(S::splat(0.0)) + (-u.absolute()).fading().ln_1p()
}

/// What softplus adds to max(u, 0): ln(1 + e^-|u|).
#[inline(always)]
pub(super) fn softplus_bend<S: Scalar>(u: S) -> S {
    (-u.absolute()).exp().ln_1p()
}

/// 1/x down to `least` > 0, its tangent below: positive and finite for every x.
#[inline(always)]
pub(super) fn limited_reciprocal<S: Scalar>(x: S, least: f64) -> S {
    let held = x.maximum(S::splat(least));
    let inverse = S::splat(1.0) / held;
    inverse * (S::splat(1.0) + (held - x) * inverse)
}

/// x held between 0 and `span`, both corners rounded over 1: softplus(x) − softplus(x − span).
///
/// The two are taken apart, so that far outside no difference of large numbers is left.
#[inline(always)]
pub(super) fn held_within<S: Scalar>(x: S, span: S) -> S {
    let held = span.minimum(x.maximum(S::splat(0.0)));
    held + (softplus_bend(x) - softplus_bend(x - span))
}

/// The smaller of two, rounded over `width`; the larger never enters a difference.
#[inline(always)]
pub(super) fn soft_minimum<S: Scalar>(held: S, other: S, width: f64) -> S {
    let excess = (other - held) * S::splat(1.0 / width);
    held + S::splat(width) * (S::splat(0.0).minimum(excess) - softplus_bend(excess))
}

/// From 0 to 1, half way at u = 0: 1/(1 + e^-u).
#[inline(always)]
pub(super) fn logistic<S: Scalar>(u: S) -> S {
    let (one, zero) = (S::splat(1.0), S::splat(0.0));
    // At 0 itself −|u| has the slope of u: the numerator must be of that side too.
    let fading = (-u.absolute()).exp();
    S::select(zero.less(u), one, fading) / (one + fading)
}
