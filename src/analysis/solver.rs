//! The linear solver of an analysis: an elimination program that is planned anew when the values
//! it was planned on no longer stand for the present ones.

use crate::numeric::{Elimination, Factors, Pattern, Quality, Singular, Workspace, solve_checked};

/// Factors and solves matrices of one pattern.
#[derive(Clone, Debug)]
pub(crate) struct Solver {
    pattern: Pattern,
    values: Vec<f64>,
    planned: Option<(Elimination, Factors<f64>)>,
    work: Vec<f64>,
    right_side: Vec<f64>,
    room: Workspace<f64>,
    /// Matrices factored so far.
    pub(crate) factorisations: usize,
    /// Plans made so far.
    pub(crate) plans: usize,
}

impl Solver {
    pub(crate) fn new(pattern: &Pattern) -> Self {
        let n = pattern.n();
        Self {
            values: vec![0.0; pattern.slots()],
            pattern: pattern.clone(),
            planned: None,
            work: vec![0.0; n],
            right_side: vec![0.0; n],
            room: Workspace::new(n),
            factorisations: 0,
            plans: 0,
        }
    }

    /// The matrix values to fill before [`Solver::factor`].
    pub(crate) fn values(&mut self) -> &mut [f64] {
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
        self.planned = Some((plan, factors));
        outcome
    }

    /// Solves in place with the factors at hand.
    #[inline]
    pub(crate) fn solve(&mut self, b: &mut [f64]) {
        if let Some((plan, factors)) = &self.planned {
            plan.solve(factors, b, &mut self.work);
        }
    }

    /// Solves in place and proves the result: residual, then one refinement, then a fresh plan.
    pub(crate) fn solve_checked(&mut self, b: &mut [f64]) -> Result<(), Singular> {
        self.right_side.copy_from_slice(b);
        if self.quality(b) == Quality::Stale {
            self.plan()?;
            b.copy_from_slice(&self.right_side);
            self.quality(b);
        }
        Ok(())
    }

    fn quality(&mut self, b: &mut [f64]) -> Quality {
        match &self.planned {
            Some((plan, factors)) => {
                solve_checked(plan, factors, &self.pattern, &self.values, b, &mut self.room)
            }
            None => Quality::Stale,
        }
    }
}
