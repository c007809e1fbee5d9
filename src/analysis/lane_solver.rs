//! The linear solver of several variants in lockstep: one plan, and a proof for each lane.
//!
//! A lane for which the first proof fails is not refined here: the variant tries that step alone, which
//! refines it, or makes a plan of its own.

// Measured: in lockstep a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

use super::solver::Linear;
use crate::numeric::{
    Elimination, Factors, Field, LANES, Lanes, Pattern, Proof, Singular, is_exact,
};
use std::sync::Arc;

/// Factors and solves matrices of one pattern, one a lane.
#[derive(Clone, Debug)]
pub(super) struct LaneSolver {
    proof: Proof<Lanes>,
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
            proof: Proof::of(pattern),
            values: vec![zero; pattern.slots()],
            plan: Arc::clone(plan),
            factors: Factors::new(plan),
            work: vec![zero; n],
            right_side: vec![zero; n],
            proven: [false; LANES],
        }
    }

    /// Whether every row of every lane is exact to its terms, without regard to noise: what a variant
    /// alone accepts at first sight.
    #[inline(always)]
    fn prove(&mut self, x: &[Lanes]) {
        let mut doubts = Lanes::splat(0.0);
        for [left, terms] in self.proof.look(&self.values, &self.right_side, x) {
            for (lane, doubts) in doubts.0.iter_mut().enumerate() {
                *doubts += if is_exact(left.0[lane], terms.0[lane]) { 0.0 } else { 1.0 };
            }
        }
        self.proven = doubts.0.map(|doubts| doubts == 0.0);
    }
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
    fn solve_spoiling(&mut self, b: &mut [Lanes], x: &mut [Lanes]) {
        self.plan.solve_spoiling(&self.factors, b, x, &mut self.work);
    }

    #[inline(always)]
    fn solve_spoiling_checked(&mut self, b: &mut [Lanes], x: &mut [Lanes]) -> Result<(), Singular> {
        let own = 1..=self.right_side.len();
        self.right_side.copy_from_slice(&b[own.clone()]);
        self.solve_spoiling(b, x);
        self.prove(&x[own]);
        Ok(())
    }
}
