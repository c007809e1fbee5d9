//! Accuracy: what a step may err by, and which step comes next.

// Measured: in lockstep a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

use super::Method;
use crate::device::Role;
use crate::numeric::Field;
use crate::system::System;

/// Share of the accuracy asked for on the output that a node may err by in one RODAS4P step; its
/// global error is then 1.5 to 1.9 times as large, so that the sum stays below the accuracy.
const RODAS4P_SHARE: f64 = 0.3;
/// The same for TR-BDF2, whose errors add up to 2 to 20 times more.
const TR_BDF2_SHARE: f64 = 0.05;
/// No node tolerance is looser than this, in V, whatever is asked.
const LOOSEST_TOLERANCE_V: f64 = 1e-3;
/// An inductor current may err by this many amperes per volt of tolerance. Ten times less costs
/// three times the steps and makes the output no more exact.
const AMPERE_PER_VOLT: f64 = 10.0;
/// A temperature may err by this many kelvins per volt of tolerance. A junction voltage moves by some
/// 2 mV/K, which a loop in regulation divides by its gain.
const KELVIN_PER_VOLT: f64 = 1000.0;
/// A tolerance grows by this share per volt (ampere) of the value itself.
const RELATIVE: f64 = 0.3;
/// Index-2 unknowns are held at this many times the tolerance: left out they go wild, at full
/// tolerance they cost hundreds of times the steps.
const INDEX_TWO_RELAXED: f64 = 300.0;

/// A micro-step after a corner is never longer than this, in s,
pub(super) const LONGEST_MICRO_STEP_S: f64 = 1e-11;
/// nor than this share of the shorter stretch beside the corner.
pub(super) const MICRO_STEP_SHARE: f64 = 1e-4;
/// The first step after a micro-step, in micro-steps.
pub(super) const RESTART_GROWTH: f64 = 100.0;
/// A step below this share of the present time, or of a stretch, cannot be added to it.
pub(super) const SMALLEST_SHARE: f64 = 4.0 * f64::EPSILON;

/// Share of the optimal step that is taken.
const SAFETY: f64 = 0.9;
/// A step is never followed by one more than this many times longer.
const MOST_GROWTH: f64 = 6.0;
/// Nor tried again at less than this share.
const LEAST_SHRINK: f64 = 0.1;
/// Rungs of the step ladder per factor of two. Few distinct steps, so that work that depends only
/// on the step size can be kept; costs at most 3 % more attempts.
const RUNGS_PER_OCTAVE: usize = 4;
/// 2^(k/4): all rungs of an octave.
const RUNGS: [f64; RUNGS_PER_OCTAVE] =
    [1.0, 1.189_207_115_002_721, std::f64::consts::SQRT_2, 1.681_792_830_507_429];
/// Of a number's bits those that say where in its octave it lies.
const MANTISSA: u64 = (1 << (f64::MANTISSA_DIGITS - 1)) - 1;
/// A step that is below a rung by this share stands on it.
const HAIR: f64 = 1e-10;
/// Above this many unknowns eliminating the linear part for a new step size costs as much as a step and
/// more, and the ladder has
const LARGE: usize = 500;
/// so many rungs an octave. On a plane of 20,000 nodes 174 attempts instead of 139, but 23 eliminations
/// instead of 65, each as long as two steps; on one of 1,000 nodes 212 and 23 instead of 146 and 98.
const RUNGS_OF_LARGE: usize = 1;

/// Target error of the output node in V.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Accuracy(pub f64);

impl Accuracy {
    /// Node tolerance s of RODAS4P in V.
    pub fn rodas4p_v(self) -> f64 {
        (self.0 * RODAS4P_SHARE).min(LOOSEST_TOLERANCE_V)
    }

    /// Node tolerance s of TR-BDF2 in V.
    pub fn tr_bdf2_v(self) -> f64 {
        (self.0 * TR_BDF2_SHARE).min(LOOSEST_TOLERANCE_V)
    }
}

/// How many errors are compared at a time.
const ABREAST: usize = 4;

/// What each unknown may err by in one step.
#[derive(Clone, Debug, PartialEq)]
pub struct Tolerances {
    /// Node tolerance s in V.
    pub node_v: f64,
    absolute: Vec<f64>,
    rungs_per_octave: usize,
}

impl Tolerances {
    /// Tolerances of a system for the node tolerance `node_v`.
    pub fn new(system: &System, node_v: f64) -> Self {
        let each = |(k, entry): (usize, &crate::device::UnknownEntry)| {
            let relaxed = if system.index_two[k] { INDEX_TWO_RELAXED } else { 1.0 };
            match entry.role {
                Role::Ground => f64::INFINITY,
                Role::Node | Role::InnerNode => node_v * relaxed,
                Role::InductorCurrent => node_v * AMPERE_PER_VOLT * relaxed,
                // A source's current follows from the rest of its node; it is left out unless it
                // is determined by a derivative.
                Role::SourceCurrent if system.index_two[k] => node_v * AMPERE_PER_VOLT * relaxed,
                Role::SourceCurrent => f64::INFINITY,
                Role::Temperature => node_v * KELVIN_PER_VOLT,
            }
        };
        Self {
            node_v,
            absolute: system.unknowns.iter().enumerate().map(each).collect(),
            rungs_per_octave: if system.n() > LARGE { RUNGS_OF_LARGE } else { RUNGS_PER_OCTAVE },
        }
    }

    /// The nearest step at or below `h` on the system's ladder.
    pub(crate) fn rung(&self, h: f64) -> f64 {
        rung(h, self.rungs_per_octave)
    }

    /// Largest error against its tolerance (maximum norm) and the unknown that has it.
    pub fn norm(&self, x: &[f64], error: &[f64]) -> (f64, usize) {
        let worst: f64 = self.largest(x, error);
        let has_it = |(k, ratio): (usize, f64)| (ratio == worst || !ratio.is_finite()).then_some(k);
        (worst, self.ratios(x, error).enumerate().find_map(has_it).unwrap_or(0) + 1)
    }

    /// The same without the unknown, for which few steps are asked, and lane by lane.
    #[inline(always)]
    pub(crate) fn largest<F: Field>(&self, x: &[F], error: &[F]) -> F {
        let zero = F::splat(0.0);
        // Side by side, so that none waits for another.
        let (mut worst, mut sums) = ([zero; ABREAST], [zero; ABREAST]);
        let x = x[1..].chunks(ABREAST);
        let error = error[1..].chunks(ABREAST);
        for ((x, error), absolute) in x.zip(error).zip(self.absolute[1..].chunks(ABREAST)) {
            let each = x.iter().zip(error).zip(absolute);
            for (((&x, &error), &absolute), (worst, sum)) in
                each.zip(worst.iter_mut().zip(&mut sums))
            {
                let ratio = ratio(x, error, absolute);
                *worst = ratio.larger(*worst);
                *sum = *sum + ratio;
            }
        }
        let [a, b, c, d] = worst;
        let sum = (sums[0] + sums[1]) + (sums[2] + sums[3]);
        // What is not finite wins, as not-a-number: it is the worst error there is, and no sum hides it.
        a.larger(b).larger(c.larger(d)) + sum * zero
    }

    /// Errors against their tolerances, of all unknowns but ground.
    fn ratios(&self, x: &[f64], error: &[f64]) -> impl Iterator<Item = f64> {
        let each = error.iter().zip(x).zip(&self.absolute).skip(1);
        each.map(|((error, x), absolute)| ratio(*x, *error, *absolute))
    }
}

/// An error against what an unknown may err by.
#[inline(always)]
fn ratio<F: Field>(x: F, error: F, absolute: f64) -> F {
    error.size() / (F::splat(absolute) * (F::splat(1.0) + F::splat(RELATIVE) * x.size()))
}

/// Factor from the step just tried by a method to the next, from its error norm.
pub(crate) fn growth(norm: f64, method: Method, rejected_before: bool) -> f64 {
    let most = if rejected_before { 1.0 } else { MOST_GROWTH };
    if norm == 0.0 {
        return most;
    }
    if !norm.is_finite() {
        return LEAST_SHRINK;
    }
    (SAFETY * method.optimum(norm)).clamp(LEAST_SHRINK, most)
}

/// The nearest rung at or below `h`. Read off its bits: by logarithms it took a hundredth of a study.
fn rung(h: f64, per_octave: usize) -> f64 {
    // A hair above, so that a step already on a rung stays on it.
    let above = h * (1.0 + HAIR);
    if !above.is_normal() {
        return h;
    }
    let octave = f64::from_bits(above.to_bits() & !MANTISSA);
    let rungs = RUNGS.iter().step_by(RUNGS_PER_OCTAVE / per_octave.max(1));
    octave * rungs.rev().find(|rung| octave * **rung <= above).unwrap_or(&1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rungs_are_at_or_below_and_stay() {
        for (per_octave, apart) in [(RUNGS_PER_OCTAVE, 1.2), (RUNGS_OF_LARGE, 2.0)] {
            for h in [1e-12, 3.3e-9, 1.0, 7.7e3] {
                let r = rung(h, per_octave);
                assert!(r <= h * (1.0 + 1e-9) && r > h / apart);
                assert_eq!(rung(r, per_octave), r);
                let rungs_up = r.log2() * per_octave as f64;
                assert!((rungs_up - rungs_up.round()).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn what_is_no_step_stays_what_it_is() {
        for h in [0.0, f64::MIN_POSITIVE / 8.0, f64::INFINITY] {
            assert_eq!(rung(h, RUNGS_PER_OCTAVE), h);
        }
        assert!(rung(f64::NAN, RUNGS_PER_OCTAVE).is_nan());
    }

    /// The error of an unknown that is no number is the worst, whichever unknowns follow it.
    #[test]
    fn exact_not_a_number_is_the_worst_error_wherever_it_stands() {
        let tolerances = Tolerances { node_v: 1e-6, absolute: vec![1e-6; 4], rungs_per_octave: 4 };
        let x = [0.0; 4];
        for place in 1..4 {
            let mut error = [0.0, 1e-7, 3e-6, 2e-7];
            for endless in [f64::NAN, f64::INFINITY] {
                error[place] = endless;
                let (worst, unknown) = tolerances.norm(&x, &error);
                assert!(worst.is_nan() && unknown == place, "{place}: {worst} at {unknown}");
            }
        }
        assert_eq!(tolerances.norm(&x, &[0.0, 1e-7, 3e-6, 2e-7]).1, 2);
    }
}
