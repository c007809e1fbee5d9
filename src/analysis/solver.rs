//! The linear solver of an analysis: an elimination program that is planned anew when the values
//! it was planned on no longer stand for the present ones.

use crate::numeric::{Elimination, Factors, Pattern, Singular, backward_error, multiply};

/// Componentwise backward error above which a solution is refined, and above which, refined, the
/// plan is given up: 1e-10 leaves ten digits of each equation, far below any step tolerance.
const GOOD_BACKWARD_ERROR: f64 = 1e-10;

/// Factors and solves matrices of one pattern.
#[derive(Clone, Debug)]
pub(crate) struct Solver {
    pattern: Pattern,
    values: Vec<f64>,
    planned: Option<(Elimination, Factors<f64>)>,
    work: Vec<f64>,
    residual: Vec<f64>,
    solution: Vec<f64>,
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
            residual: vec![0.0; n],
            solution: vec![0.0; n],
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
        self.solution.copy_from_slice(b);
        let mut x = std::mem::take(&mut self.solution);
        self.solve(&mut x);
        if !self.good(&x, b) {
            self.refine(&mut x, b);
            if !self.good(&x, b) {
                // The buffer goes back even when no plan is found: the next solve needs it.
                if let Err(singular) = self.plan() {
                    self.solution = x;
                    return Err(singular);
                }
                x.copy_from_slice(b);
                self.solve(&mut x);
                self.refine(&mut x, b);
            }
        }
        b.copy_from_slice(&x);
        self.solution = x;
        Ok(())
    }

    fn good(&self, x: &[f64], b: &[f64]) -> bool {
        backward_error(&self.pattern, &self.values, x, b) <= GOOD_BACKWARD_ERROR
    }

    fn refine(&mut self, x: &mut [f64], b: &[f64]) {
        let mut residual = std::mem::take(&mut self.residual);
        multiply(&self.pattern, &self.values, x, &mut residual);
        residual.iter_mut().zip(b).for_each(|(r, b)| *r = b - *r);
        self.solve(&mut residual);
        x.iter_mut().zip(&residual).for_each(|(x, r)| *x += r);
        self.residual = residual;
    }
}
