//! What every p–n junction shares: depletion charge, the scale of its exponential, and how a
//! Newton step onto it is shortened.

// Measured: what is not made part of a loop over variants ends its being done several at once.
#![allow(clippy::inline_always)]

use crate::numeric::Scalar;
use std::f64::consts::SQRT_2;

/// The share of the built-in potential beyond which the capacitance goes on in a straight line.
const KNEE_SHARE: f64 = 0.5;

/// A grading exponent above this is taken as this: at 1 the power law becomes a logarithm, and
/// the difference up to there is below 0.05 % of the capacitance at any voltage in use.
const STEEPEST_GRADING: f64 = 0.9999;

/// A junction counts as conducting above this current.
const ON_A: f64 = 1e-9;

/// Charge of a junction over its voltage:
/// Q = (C₀·φ/(1−m))·(1 − (1 − v/φ)^(1−m)), beyond φ/2 the integral of the capacitance's tangent.
#[derive(Clone, Copy, Debug)]
pub struct Depletion<T> {
    pub(super) scale_c: T,
    pub(super) power: T,
    pub(super) per_potential: T,
    pub(super) knee_v: T,
    pub(super) knee_farad: T,
    pub(super) bend_per_v: T,
}

impl Depletion<f64> {
    /// From the capacitance at 0 V in F, the built-in potential in V and the grading exponent.
    pub fn new(zero_bias_farad: f64, potential_v: f64, grading: f64) -> Self {
        let grading = grading.min(STEEPEST_GRADING);
        let power = 1.0 - grading;
        Self {
            scale_c: zero_bias_farad * potential_v / power,
            power,
            per_potential: 1.0 / potential_v,
            knee_v: KNEE_SHARE * potential_v,
            knee_farad: zero_bias_farad * (1.0 - KNEE_SHARE).powf(-grading),
            bend_per_v: grading / (2.0 * potential_v * (1.0 - KNEE_SHARE)),
        }
    }
}

impl<T: Scalar<Base = T>> Depletion<T> {
    /// Charge in C at `v` in V.
    #[inline(always)]
    pub fn charge<S: Scalar<Base = T>>(&self, v: S) -> S {
        let one = S::splat(1.0);
        let below = v.minimum(S::lift(self.knee_v));
        let above = v - below;
        let share = (one - below * S::lift(self.per_potential)).ln() * S::lift(self.power);
        S::lift(self.scale_c) * (one - share.exp())
            + S::lift(self.knee_farad) * above * (one + S::lift(self.bend_per_v) * above)
    }
}

/// The voltages that mark a junction's exponential. Plain numbers even over lanes: they steer
/// iterations and words, not values.
#[derive(Clone, Copy, Debug)]
pub struct JunctionScale {
    /// n·kT/q in V: an e-fold of current.
    pub width_v: f64,
    /// The voltage in V where the curve bends hardest in a linear plot.
    pub critical_v: f64,
    /// The voltage in V above which it conducts.
    pub on_v: f64,
}

impl JunctionScale {
    /// From the e-fold voltage and the saturation current.
    pub fn new(width_v: f64, saturation_a: f64) -> Self {
        Self {
            width_v,
            critical_v: width_v * (width_v / (SQRT_2 * saturation_a)).ln(),
            on_v: width_v * (1.0 + ON_A / saturation_a).ln(),
        }
    }

    /// Shortens a Newton step that climbs the exponential: the tangent at the start gives the
    /// current the step was after, and the voltage at which the curve itself carries that current
    /// lies only a logarithm away. Steps from below start at the critical voltage.
    pub fn limit(&self, previous_v: f64, proposed_v: f64) -> f64 {
        let start_v = previous_v.max(self.critical_v);
        if proposed_v <= start_v {
            return proposed_v;
        }
        start_v + self.width_v * ((proposed_v - start_v) / self.width_v).ln_1p()
    }
}
