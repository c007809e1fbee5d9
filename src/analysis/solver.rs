//! The linear solver of an analysis: an elimination program that is planned anew when the values
//! it was planned on no longer stand for the present ones. Over real numbers in time and at rest,
//! over complex ones for small signals.

use super::rodas4p::Linear;
use crate::numeric::{
    Elimination, Factors, Field, Pattern, Quality, ROOM, Singular, Workspace, solve_checked,
    solve_transposed_checked,
};
use std::sync::Arc;

/// Factors and solves matrices of one pattern.
#[derive(Clone, Debug)]
pub(crate) struct Solver<F> {
    pattern: Pattern,
    values: Vec<F>,
    planned: Option<(Arc<Elimination>, Factors<F>)>,
    work: Vec<F>,
    right_side: Vec<F>,
    room: Workspace<F>,
    /// Matrices factored so far.
    pub(crate) factorisations: usize,
    /// Plans made so far.
    pub(crate) plans: usize,
}

impl<F: Field> Solver<F> {
    pub(crate) fn new(pattern: &Pattern) -> Self {
        let (n, zero) = (pattern.n(), F::splat(0.0));
        Self {
            values: vec![zero; pattern.slots()],
            pattern: pattern.clone(),
            planned: None,
            work: vec![zero; n.max(ROOM)],
            right_side: vec![zero; n],
            room: Workspace::new(n),
            factorisations: 0,
            plans: 0,
        }
    }

    /// The matrix values to fill before [`Solver::factor`].
    pub(crate) fn values(&mut self) -> &mut [F] {
        &mut self.values
    }

    /// Factors the present values, planning anew if the old plan meets a zero pivot.
    pub(crate) fn factor(&mut self) -> Result<(), Singular> {
        self.factorisations += 1;
        if let Some((plan, factors)) = &mut self.planned
            && plan.factor(&self.values, factors).is_ok()
        {
            return Ok(());
        }
        self.plan()
    }

    fn plan(&mut self) -> Result<(), Singular> {
        self.plans += 1;
        let plan = Elimination::plan(&self.pattern, &self.values)?;
        let mut factors = Factors::new(&plan);
        let outcome = plan.factor(&self.values, &mut factors);
        self.planned = Some((Arc::new(plan), factors));
        outcome
    }

    /// Starts with a plan that was made before for the same pattern. It is given up like one of its own.
    pub(crate) fn adopt(&mut self, plan: &Arc<Elimination>) {
        self.planned = Some((Arc::clone(plan), Factors::new(plan)));
    }

    /// The plan in use, where there is one.
    pub(crate) fn plan_in_use(&self) -> Option<&Arc<Elimination>> {
        self.planned.as_ref().map(|(plan, _)| plan)
    }

    /// The plan in use.
    pub(crate) fn into_plan(self) -> Option<Arc<Elimination>> {
        self.planned.map(|(plan, _)| plan)
    }

    /// The sign of the determinant of what was factored last.
    pub(crate) fn determinant_sign(&self) -> f64
    where
        F: Into<f64>,
    {
        let planned = self.planned.as_ref();
        planned.map_or(0.0, |(plan, factors)| plan.determinant_sign(factors))
    }

    /// Solves in place with the factors at hand.
    #[inline]
    pub(crate) fn solve(&mut self, b: &mut [F]) {
        if let Some((plan, factors)) = &self.planned {
            plan.solve(factors, b, &mut self.work);
        }
    }

    /// Solves in place and proves the result: residual, then one refinement, then a fresh plan.
    pub(crate) fn solve_checked(&mut self, b: &mut [F]) -> Result<(), Singular> {
        self.right_side.copy_from_slice(b);
        if self.quality(b) == Quality::Stale {
            self.plan()?;
            b.copy_from_slice(&self.right_side);
            self.quality(b);
        }
        Ok(())
    }

    /// Solves the transposed system in place, without conjugation, and proves the result likewise.
    pub(crate) fn solve_transposed_checked(&mut self, b: &mut [F]) -> Result<(), Singular> {
        self.right_side.copy_from_slice(b);
        if self.transposed_quality(b) == Quality::Stale {
            self.plan()?;
            b.copy_from_slice(&self.right_side);
            self.transposed_quality(b);
        }
        Ok(())
    }

    fn transposed_quality(&mut self, b: &mut [F]) -> Quality {
        match &self.planned {
            Some((plan, factors)) => {
                let (pattern, values) = (&self.pattern, &self.values);
                solve_transposed_checked(plan, factors, pattern, values, b, &mut self.room)
            }
            None => Quality::Stale,
        }
    }

    fn quality(&mut self, b: &mut [F]) -> Quality {
        match &self.planned {
            Some((plan, factors)) => {
                solve_checked(plan, factors, &self.pattern, &self.values, b, &mut self.room)
            }
            None => Quality::Stale,
        }
    }
}

impl Linear<f64> for Solver<f64> {
    #[inline]
    fn values(&mut self) -> &mut [f64] {
        Solver::values(self)
    }
    #[inline]
    fn factor(&mut self) -> Result<(), Singular> {
        Solver::factor(self)
    }
    #[inline]
    fn solve(&mut self, b: &mut [f64]) {
        Solver::solve(self, b);
    }
    #[inline]
    fn solve_checked(&mut self, b: &mut [f64]) -> Result<(), Singular> {
        Solver::solve_checked(self, b)
    }
}
