//! The linear solver of several variants in lockstep: one plan, and a proof for each lane.
//!
//! A lane for which the first proof fails is not refined here: the variant tries that step alone, which
//! refines it, or makes a plan of its own.

// Measured: in lockstep a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

use super::solver::Linear;
use crate::numeric::{
    ACCEPTED_BACKWARD_ERROR, Elimination, Factors, Field, LANES, Lanes, Pattern, ROOM, Singular,
};
use std::sync::Arc;

/// Factors and solves matrices of one pattern, one a lane.
#[derive(Clone, Debug)]
pub(super) struct LaneSolver {
    pattern: Pattern,
    values: Vec<Lanes>,
    plan: Arc<Elimination>,
    factors: Factors<Lanes>,
    work: Vec<Lanes>,
    right_side: Vec<Lanes>,
    /// Which lanes were solved to working precision by the last checked solution.
    pub(super) proven: [bool; LANES],
}

impl LaneSolver {
    pub(super) fn new(pattern: &Pattern, plan: &Arc<Elimination>) -> Self {
        let (n, zero) = (pattern.n(), Lanes::splat(0.0));
        Self {
            pattern: pattern.clone(),
            values: vec![zero; pattern.slots()],
            plan: Arc::clone(plan),
            factors: Factors::new(plan),
            work: vec![zero; n.max(ROOM)],
            right_side: vec![zero; n],
            proven: [false; LANES],
        }
    }

    /// Whether every row of every lane is exact to its terms, without regard to noise: what a variant
    /// alone accepts at first sight.
    #[inline(always)]
    fn prove(&mut self, x: &[Lanes]) {
        let mut proven = [true; LANES];
        let mut values = self.values.as_slice();
        for (columns, &b) in self.pattern.columns_by_row().zip(&self.right_side) {
            let (here, later) = values.split_at(columns.len());
            values = later;
            let (mut left, mut terms) = (b, size(b));
            for (&column, &a) in columns.iter().zip(here) {
                let product = a * x[column as usize];
                left -= product;
                terms += size(product);
            }
            for (lane, proven) in proven.iter_mut().enumerate() {
                // Not-a-number proves nothing, nor does what is infinite.
                *proven &= left.0[lane].abs() <= ACCEPTED_BACKWARD_ERROR * terms.0[lane]
                    && terms.0[lane] < f64::INFINITY;
            }
        }
        self.proven = proven;
    }
}

#[inline(always)]
fn size(x: Lanes) -> Lanes {
    Lanes(x.0.map(f64::abs))
}

impl Linear<Lanes> for LaneSolver {
    #[inline(always)]
    fn values(&mut self) -> &mut [Lanes] {
        &mut self.values
    }

    #[inline(always)]
    fn factor_at(&mut self, _: Lanes) -> Result<(), Singular> {
        self.plan.factor(&self.values, &mut self.factors)
    }

    #[inline(always)]
    fn solve(&mut self, b: &mut [Lanes]) {
        self.plan.solve(&self.factors, b, &mut self.work);
    }

    #[inline(always)]
    fn solve_checked(&mut self, b: &mut [Lanes]) -> Result<(), Singular> {
        self.right_side.copy_from_slice(b);
        self.solve(b);
        self.prove(b);
        Ok(())
    }
}
