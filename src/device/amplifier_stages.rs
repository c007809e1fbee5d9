//! The nonlinear stages of an error amplifier, each with the fewest inputs it needs.
//!
//! Beside its parameters each keeps the plain voltages by which its region is named; these steer
//! words, not values.

// Measured: what is not made part of a loop over variants ends its being done several at once.
#![allow(clippy::inline_always)]

use super::abreast::in_columns;
use super::smooth::{bounded, held_within, soft_minimum, softplus_beside};
use super::{Law, Noise, region};
use crate::numeric::{Dual, Scalar};

/// A tanh stage counts as limited beyond this argument, where it gives 90 % of its limit.
pub(super) const LIMITED_BEYOND: f64 = 1.472_219_489_583_220_4;

/// Over how many volts a clamp takes hold.
pub(super) const CLAMP_WIDTH_V: f64 = 10e-3;
/// The resistance of a clamp that holds.
pub(super) const CLAMP_OHM: f64 = 1e3;

/// A clamp counts as holding from this far inside its limit: there its slope conductance, which is
/// 1/r·1/(1 + e^(d/s)), passes 1 % of 1/r = 10 µS, more than the resistance of any usual stage. In
/// a wound-up amplifier the clamp takes only the input stage's small current, so the node rests
/// short of the limit itself.
pub(super) const HOLDS_WITHIN_V: f64 = 4.595 * CLAMP_WIDTH_V;

/// The share of its limit over which the voltage stage's current passes from one rail to the other.
/// Much sharper, and nodes that hang on inductors would see a corner inside a picosecond.
const BLEND_SHARE: f64 = 1e-2;

/// The share of the span over which the current stage bends into its limits.
const BEND_SHARE: f64 = 0.01;

/// i = I·tanh(g_m·d/I); input: the difference d; current into the internal node.
#[derive(Clone, Copy, Debug)]
pub struct InputStage<T> {
    pub(super) largest_a: T,
    pub(super) per_volt: T,
    noise: Noise<T>,
    limited_beyond_v: f64,
}

impl InputStage<f64> {
    /// From g_m in S, I in A, and the noise of d in V²/Hz.
    pub fn new(transconductance_s: f64, largest_a: f64, noise: Noise<f64>) -> Self {
        let per_volt = transconductance_s / largest_a;
        Self { largest_a, per_volt, noise, limited_beyond_v: LIMITED_BEYOND / per_volt }
    }
}

impl<T: Scalar<Base = T>> Law<T, 1, 1, 0> for InputStage<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 1]) -> ([S; 1], [S; 0]) {
        ([S::lift(self.largest_a) * (bounded(u[0]) * S::lift(self.per_volt)).tanh()], [])
    }

    fn noise(&self, u: &[T; 1]) -> [Noise<T>; 1] {
        let slope_s = self.evaluate(&Dual::inputs(*u)).0[0].slope[0];
        let gain = slope_s.squared();
        let Noise { cause, white, flicker_at_1hz } = self.noise;
        [Noise { cause, white: white * gain, flicker_at_1hz: flicker_at_1hz * gain }]
    }

    fn region(&self, u: &[f64; 1]) -> Option<&'static str> {
        let limited = u[0].abs() > self.limited_beyond_v;
        Some(if limited { region::LIMITED } else { region::LINEAR })
    }

    fn resistive(&self) -> [bool; 1] {
        [false]
    }
}

/// i = (s/r)·(softplus((v − hi)/s) − softplus((lo − v)/s)); inputs: internal node and supply, both
/// above ground; current from the internal node to ground.
#[derive(Clone, Copy, Debug)]
pub struct Clamp<T> {
    low_v: T,
    below_supply_v: T,
    levels: ClampLevels,
}

#[derive(Clone, Copy, Debug)]
#[allow(clippy::struct_field_names)] // the shared postfix is the unit
struct ClampLevels {
    low_v: f64,
    below_supply_v: f64,
    ceiling_v: f64,
}

impl ClampLevels {
    fn region(&self, v: f64, supply_v: f64) -> Option<&'static str> {
        if v > (supply_v - self.below_supply_v).min(self.ceiling_v) - HOLDS_WITHIN_V {
            Some(region::AT_UPPER_SWING)
        } else if v < self.low_v + HOLDS_WITHIN_V {
            Some(region::AT_LOWER_SWING)
        } else {
            None
        }
    }
}

impl Clamp<f64> {
    /// From the lower limit above ground and the upper limit below the supply, in V.
    pub fn new(low_v: f64, below_supply_v: f64) -> Self {
        let levels = ClampLevels { low_v, below_supply_v, ceiling_v: f64::INFINITY };
        Self { low_v, below_supply_v, levels }
    }
}

impl<T: Scalar<Base = T>> Clamp<T> {
    #[inline(always)]
    fn current<S: Scalar<Base = T>>(&self, v: S, high_v: S) -> S {
        let per_width = S::splat(1.0 / CLAMP_WIDTH_V);
        // The stage's own resistance carries far more than a clamp that is far from holding.
        let upper = softplus_beside((v - high_v) * per_width);
        let lower = softplus_beside((S::lift(self.low_v) - v) * per_width);
        S::splat(CLAMP_WIDTH_V / CLAMP_OHM) * (upper - lower)
    }
}

impl<T: Scalar<Base = T>> Law<T, 2, 1, 0> for Clamp<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 2]) -> ([S; 1], [S; 0]) {
        let [v, supply] = u.map(bounded);
        ([self.current(v, supply - S::lift(self.below_supply_v))], [])
    }

    fn region(&self, u: &[f64; 2]) -> Option<&'static str> {
        self.levels.region(u[0], u[1])
    }
}

/// A clamp whose upper limit is the lower of supply − swing and a ceiling, passing from one to the
/// other over the width of the clamp itself, so that no supply voltage makes a corner.
#[derive(Clone, Copy, Debug)]
pub struct CeilingClamp<T> {
    clamp: Clamp<T>,
    ceiling_v: T,
}

impl CeilingClamp<f64> {
    /// From a clamp and the ceiling above ground in V.
    pub fn new(mut clamp: Clamp<f64>, ceiling_v: f64) -> Self {
        clamp.levels.ceiling_v = ceiling_v;
        Self { clamp, ceiling_v }
    }
}

impl<T: Scalar<Base = T>> Law<T, 2, 1, 0> for CeilingClamp<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 2]) -> ([S; 1], [S; 0]) {
        let [v, supply] = u.map(bounded);
        let below_supply = supply - S::lift(self.clamp.below_supply_v);
        let high = soft_minimum(S::lift(self.ceiling_v), below_supply, CLAMP_WIDTH_V);
        ([self.clamp.current(v, high)], [])
    }

    fn region(&self, u: &[f64; 2]) -> Option<&'static str> {
        self.clamp.region(u)
    }
}

/// i = I·tanh((v_x − v_out)/(R·I)); input: v_x − v_out; currents: what the supply delivers into
/// the output, then what ground delivers into it (negative where the stage sinks).
///
/// With y = i/I the supply's share is (y + y²/√(y² + ε²))/2 and ground's is the rest, ε = 1 %:
/// the two always add up to i, none flows at rest, and neither has a corner at zero.
#[derive(Clone, Copy, Debug)]
pub struct VoltageStage<T> {
    drive_a: T,
    per_volt: T,
    limited_beyond_v: f64,
}

impl VoltageStage<f64> {
    /// From R in Ω and I in A.
    pub fn new(output_ohm: f64, drive_a: f64) -> Self {
        let limit_v = output_ohm * drive_a;
        Self { drive_a, per_volt: 1.0 / limit_v, limited_beyond_v: LIMITED_BEYOND * limit_v }
    }
}

impl<T: Scalar<Base = T>> Law<T, 1, 2, 0> for VoltageStage<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 1]) -> ([S; 2], [S; 0]) {
        (split_between_rails((bounded(u[0]) * S::lift(self.per_volt)).tanh(), self.drive_a), [])
    }

    fn region(&self, u: &[f64; 1]) -> Option<&'static str> {
        let limited = u[0].abs() > self.limited_beyond_v;
        Some(if limited { region::AT_DRIVE_LIMIT } else { region::LINEAR })
    }
}

/// A current y·I into the output, as what the supply and what ground deliver of it.
#[inline(always)]
pub(super) fn split_between_rails<S: Scalar>(y: S, largest_a: S::Base) -> [S; 2] {
    let square = y.squared();
    let magnitude = square / (square + S::splat(BLEND_SHARE * BLEND_SHARE)).sqrt();
    let half = S::splat(0.5) * S::lift(largest_a);
    [half * (y + magnitude), half * (y - magnitude)]
}

/// i = lo + w·softplus((x − lo)/w) − w·softplus((x − hi)/w), x = G·v, w = 1 % of hi − lo; input:
/// the internal node above ground.
#[derive(Clone, Copy, Debug)]
pub struct CurrentStage<T> {
    lowest_a: T,
    width_a: T,
    transconductance_s: T,
    lowest_v: f64,
    highest_v: f64,
}

impl CurrentStage<f64> {
    /// From G in S and the limits lo < hi in A.
    pub fn new(transconductance_s: f64, lowest_a: f64, highest_a: f64) -> Self {
        Self {
            lowest_a,
            width_a: BEND_SHARE * (highest_a - lowest_a),
            transconductance_s,
            lowest_v: lowest_a / transconductance_s,
            highest_v: highest_a / transconductance_s,
        }
    }
}

impl<T: Scalar<Base = T>> Law<T, 1, 1, 0> for CurrentStage<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 1]) -> ([S; 1], [S; 0]) {
        let span = S::splat(1.0 / BEND_SHARE);
        let (lowest, width) = (S::lift(self.lowest_a), S::lift(self.width_a));
        let above = (bounded(u[0]) * S::lift(self.transconductance_s) - lowest) / width;
        ([lowest + width * held_within(above, span)], [])
    }

    fn region(&self, u: &[f64; 1]) -> Option<&'static str> {
        Some(if u[0] >= self.highest_v {
            region::AT_DRIVE_LIMIT
        } else if u[0] <= self.lowest_v {
            region::AT_LOWEST_DRIVE
        } else {
            region::LINEAR
        })
    }

    fn resistive(&self) -> [bool; 1] {
        [false]
    }
}

in_columns!(InputStage<f64>: 2, largest_a, per_volt);
in_columns!(Clamp<f64>: 2, low_v, below_supply_v);
in_columns!(CeilingClamp<f64>: 3, clamp.low_v, clamp.below_supply_v, ceiling_v);
in_columns!(VoltageStage<f64>: 2, drive_a, per_volt);
in_columns!(CurrentStage<f64>: 3, lowest_a, width_a, transconductance_s);
