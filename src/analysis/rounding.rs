//! Where Newton's iteration comes no closer since its equations are known to no more digits.
//!
//! An unknown that the equations hardly tell, such as the current of an ideal source into a node that
//! megaamperes pass, moves with their rounding for ever, and what follows from it by a curved law never balances
//! as well as it could. A weak conductance to where the point is changes no solution, and stills the one while
//! the others settle (Levenberg, Quart. Appl. Math. 2, 1944).

use super::newton::{CONVERGED_RELATIVE, Damping, Held, Newton, amounts, tolerance};
use crate::numeric::Singular;
use crate::system::System;

/// So many units of rounding in every term of every row are taken for chance: a row has a few dozen terms,
/// and a law as many inside.
const ROUNDING_UNITS: f64 = 64.0;
/// Draws of the signs of rounding: what one happens to cancel another does not.
const SIGN_DRAWS: usize = 5;
/// A row that sums to less than this share of its terms holds: ten times what changes within tolerance are worth.
const HOLDS: f64 = 1e-8;
/// A point is worth settling from where each row sums to less than this share of its terms.
const NEAR: f64 = 1e-3;
/// The conductances in S that still what moves, each three times the one before.
const STILLING_S: [f64; 2] = [1e-14, 1e-4];

impl Newton {
    /// From where an iteration gave up to where the rounding of the equations alone moves it, if that is near.
    pub(super) fn settle(&mut self, system: &System, held: &Held<'_>, z: &mut [f64]) -> bool {
        let mut siemens = STILLING_S[0];
        loop {
            self.linearise(system, held, Damping::WholeStep, z);
            if !self.holds_within(NEAR, &sizes(system, held, z)) {
                return false;
            }
            if self.direction(held).is_ok() && self.is_rounding_alone(system, held, z) {
                return true;
            }
            if siemens > STILLING_S[1] || self.still(system, held, siemens, z).is_err() {
                return false;
            }
            siemens *= 3.0;
        }
    }

    /// A step from z, where it was linearised last, with a conductance to where it is.
    fn still(
        &mut self,
        system: &System,
        held: &Held<'_>,
        siemens: f64,
        z: &mut [f64],
    ) -> Result<(), Singular> {
        system.add_anchor(siemens, z, z, &mut self.at);
        self.iterations += 1;
        self.at.matrix(held.rate, self.solver.values());
        self.solver.factor()?;
        self.towards_zero()?;
        z.iter_mut().zip(&self.step).for_each(|(x, change)| *x += change);
        Ok(())
    }

    /// Whether the equations hold at z, where it was linearised last: a matrix that is singular but for rounding
    /// makes any step, a short one too.
    pub(super) fn holds(&self, system: &System, held: &Held<'_>, z: &[f64]) -> bool {
        self.holds_within(HOLDS, &sizes(system, held, z))
    }

    /// Whether each row of f, where it was linearised last, sums to less than a share of its terms.
    fn holds_within(&self, share: f64, sizes: &[f64]) -> bool {
        let mut rows = self.at.f.iter().zip(sizes).skip(1);
        // An infinite term is as large as any sum.
        rows.all(|(f, size)| size.is_finite() && f.abs() <= share * size)
    }

    /// Whether the step from z, where it was linearised last, is no longer than what the rounding of its own
    /// equations makes of it, and these hold otherwise: no iteration gets closer by more than chance. Over a
    /// few draws of its signs, by bits of the rows' numbers.
    pub(super) fn is_rounding_alone(
        &mut self,
        system: &System,
        held: &Held<'_>,
        z: &[f64],
    ) -> bool {
        let sizes = sizes(system, held, z);
        if !self.holds_within(CONVERGED_RELATIVE, &sizes) {
            return false;
        }
        let known = |k: usize| tolerance(system.unknowns[k].role, z[k]);
        let mut reach: Vec<f64> = (0..sizes.len()).map(known).collect();
        for draw in 0..SIGN_DRAWS {
            let is_minus = |k: usize| draw > 0 && k >> (draw - 1) & 1 == 1;
            let unit = ROUNDING_UNITS * f64::EPSILON;
            let signed = |(k, size): (usize, &f64)| size * if is_minus(k) { -unit } else { unit };
            let mut shift: Vec<f64> = sizes.iter().enumerate().map(signed).collect();
            self.solver.solve(&mut shift[1..]);
            reach.iter_mut().zip(&shift).for_each(|(most, by)| *most += by.abs());
        }
        self.step.iter().zip(&reach).skip(1).all(|(step, most)| step.abs() <= *most)
    }
}

/// What the terms of each row sum to without their signs: a billionth of it is what changes within tolerance are
/// worth.
fn sizes(system: &System, held: &Held<'_>, z: &[f64]) -> Vec<f64> {
    let mut amounts = amounts(system, z);
    amounts[0] = 0.0;
    amounts.extend(z[amounts.len()..].iter().map(|x| x.abs()));
    let mut sizes = system.sizes(z, &amounts, (held.rate, held.rows));
    if held.anchor_siemens > 0.0 {
        for (k, entry) in system.unknowns.iter().enumerate().skip(1) {
            let size = amounts[k] + held.anchor_at.get(k).copied().unwrap_or(0.0).abs();
            if held.anchors(entry.role) {
                sizes[k] += held.anchor_siemens * size;
            }
        }
    }
    sizes
}
