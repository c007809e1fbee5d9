//! The linear solver of an analysis: an elimination program that is planned anew when the values
//! it was planned on no longer stand for the present ones. Over real numbers in time and at rest,
//! over complex ones for small signals.

// Measured: a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

use super::Work;
use crate::numeric::{
    Elimination, Factors, Field, Pattern, Proof, Quality, SCRATCH, Singular, Workspace, is_exact,
    solve_checked, solve_transposed_checked,
};
use std::sync::Arc;

/// Matrices whose linear parts are kept: more than the step sizes that a load step of a large network takes
/// between two corners, so that the next corner's are at hand.
const MOST_KEPT: usize = 24;
/// And so many values at most, which is 128 MB of plain numbers.
const MOST_KEPT_VALUES: usize = 1 << 24;

/// Solves the linear equations of a step.
pub(super) trait Linear<F> {
    /// The matrix values to fill before [`Linear::factor_at`].
    fn values(&mut self) -> &mut [F];
    /// Factors them; they are those of a step at this rate in 1/s.
    fn factor_at(&mut self, rate: F) -> Result<(), Singular>;
    /// Solves A·x = b at the price of b, as [`Elimination::solve_spoiling`] does.
    fn solve_spoiling(&mut self, b: &mut [F], x: &mut [F]);
    /// The same, and proves the result.
    fn solve_spoiling_checked(&mut self, b: &mut [F], x: &mut [F]) -> Result<(), Singular>;
}

/// Factors and solves matrices of one pattern.
#[derive(Clone, Debug)]
pub(crate) struct Solver<F> {
    pattern: Pattern,
    values: Vec<F>,
    proof: Proof<F>,
    planned: Option<Planned<F>>,
    most_kept: usize,
    /// How large each unknown is, where every matrix is planned by that.
    amounts: Option<Vec<f64>>,
    work: Vec<F>,
    right_side: Vec<F>,
    room: Workspace<F>,
    /// Matrices factored so far.
    pub(crate) factorisations: usize,
    /// Of these, how many from the start: the linear part too.
    pub(crate) eliminations: usize,
    /// Systems of equations solved so far.
    pub(crate) solves: usize,
    /// Plans made so far.
    pub(crate) plans: usize,
}

/// A plan with what was factored by it.
#[derive(Clone, Debug)]
struct Planned<F> {
    plan: Arc<Elimination>,
    /// Last used last; never empty.
    kept: Vec<Kept<F>>,
}

/// What the values of a matrix follow from, but those that the pattern says vary by themselves.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Constants {
    /// 1/s
    pub(crate) rate: f64,
    /// S from every node to where it was, or to ground.
    pub(crate) anchor_siemens: f64,
    /// W/K from every heated junction to ambient.
    pub(crate) tie_w_per_k: f64,
}

/// The factors of a matrix, whose linear part serves others at the same step size.
#[derive(Clone, Debug)]
struct Kept<F> {
    /// What all values but the varying ones follow from; `None` where they serve no other.
    made_for: Option<Constants>,
    factors: Factors<F>,
}

impl<F: Field> Planned<F> {
    fn new(plan: Arc<Elimination>) -> Self {
        let kept = vec![Kept { made_for: None, factors: Factors::new(&plan) }];
        Self { plan, kept }
    }

    /// The factors last made.
    fn factors(&self) -> Option<&Factors<F>> {
        self.kept.last().map(|kept| &kept.factors)
    }

    /// Factors a matrix, from the start unless its linear part is at hand; gives whether it was.
    fn factor(
        &mut self,
        values: &[F],
        made_for: Option<Constants>,
        most_kept: usize,
    ) -> Result<bool, Singular> {
        let Self { plan, kept } = self;
        let made_for = made_for.filter(|_| plan.keeps_constants());
        let is_unused = |kept: &Kept<F>| kept.made_for.is_none();
        if made_for.is_some()
            && let Some(at) = kept.iter().position(|kept| kept.made_for == made_for)
        {
            kept[at..].rotate_left(1);
            if let Some(Kept { factors, .. }) = kept.last_mut() {
                return plan.factor_varying(values, factors).map(|()| true);
            }
        }
        // What serves no other makes room first; then, where no more may be kept, what was used
        // longest ago.
        let unused = kept.iter().position(is_unused);
        let most = most_kept.min(MOST_KEPT_VALUES / plan.fill().max(1));
        if unused.is_none() && kept.len() < most {
            kept.push(Kept { made_for: None, factors: Factors::new(plan) });
        } else {
            kept[unused.unwrap_or(0)..].rotate_left(1);
        }
        if let Some(last) = kept.last_mut() {
            // Until it has worked out, it serves no other.
            last.made_for = None;
            plan.factor(values, &mut last.factors)?;
            last.made_for = made_for;
        }
        Ok(false)
    }
}

impl<F: Field> Solver<F> {
    pub(crate) fn new(pattern: &Pattern) -> Self {
        let (n, zero) = (pattern.n(), F::splat(0.0));
        Self {
            values: vec![zero; pattern.slots()],
            proof: Proof::of(pattern),
            pattern: pattern.clone(),
            planned: None,
            most_kept: MOST_KEPT,
            amounts: None,
            work: vec![zero; n.max(SCRATCH)],
            right_side: vec![zero; n],
            room: Workspace::new(n),
            factorisations: 0,
            eliminations: 0,
            solves: 0,
            plans: 0,
        }
    }

    /// The same, with fewer matrices kept: for who seldom comes back to one.
    pub(crate) fn keeping(self, most_kept: usize) -> Self {
        Self { most_kept, ..self }
    }

    /// How large each unknown is: until told `None`, each matrix is planned anew, by the sizes of the terms in its
    /// rows instead of those of its values. Where one row sums currents of 10⁵⁰ A and another picoamperes, that tells
    /// what each can say of an unknown; and beside such an unknown the check of a solution takes all others for
    /// noise, so that it does not see when the pivots of other values have gone bad.
    pub(crate) fn plan_by(&mut self, amounts: Option<Vec<f64>>) {
        self.amounts = amounts;
    }

    /// The matrix values to fill before [`Solver::factor`].
    pub(crate) fn values(&mut self) -> &mut [F] {
        &mut self.values
    }

    /// Factors the present values, planning anew if the old plan meets a zero pivot.
    pub(crate) fn factor(&mut self) -> Result<(), Singular> {
        self.factor_for(None)
    }

    /// The same for a step at this rate in 1/s, see [`Solver::factor_with`].
    pub(crate) fn factor_at(&mut self, rate: f64) -> Result<(), Singular> {
        self.factor_with(Constants { rate, ..Constants::default() })
    }

    /// The same, given what all values but those that vary by themselves follow from: they must be those of
    /// any other matrix that was factored with it. To the same bits as if it had not been met before.
    pub(crate) fn factor_with(&mut self, constants: Constants) -> Result<(), Singular> {
        self.factor_for(Some(constants))
    }

    fn factor_for(&mut self, made_for: Option<Constants>) -> Result<(), Singular> {
        self.factorisations += 1;
        if self.amounts.is_none()
            && let Some(planned) = &mut self.planned
            && let Ok(was_kept) = planned.factor(&self.values, made_for, self.most_kept)
        {
            self.eliminations += usize::from(!was_kept);
            return Ok(());
        }
        self.plan()
    }

    fn plan(&mut self) -> Result<(), Singular> {
        self.plans += 1;
        self.eliminations += 1;
        let plan = match &self.amounts {
            None => Elimination::plan(&self.pattern, &self.values)?,
            Some(amounts) => Elimination::plan(&self.pattern, &self.terms(amounts))?,
        };
        let mut planned = Planned::new(Arc::new(plan));
        let outcome = planned.factor(&self.values, None, self.most_kept);
        self.planned = Some(planned);
        outcome.map(drop)
    }

    /// Each value times how large its unknown is.
    fn terms(&self, amounts: &[f64]) -> Vec<F> {
        let columns = self.pattern.columns_by_row().flatten();
        let both = self.values.iter().zip(columns);
        both.map(|(value, column)| *value * F::splat(amounts[*column as usize])).collect()
    }

    /// Starts with a plan that was made before for the same pattern. It is given up like one of its own.
    pub(crate) fn adopt(&mut self, plan: &Arc<Elimination>) {
        self.planned = Some(Planned::new(Arc::clone(plan)));
    }

    /// The plan in use, where there is one.
    pub(crate) fn plan_in_use(&self) -> Option<&Arc<Elimination>> {
        self.planned.as_ref().map(|planned| &planned.plan)
    }

    /// The plan in use.
    pub(crate) fn into_plan(self) -> Option<Arc<Elimination>> {
        self.planned.map(|planned| planned.plan)
    }

    /// Adds what was factored and solved so far to a count.
    pub(crate) fn count(&self, work: &mut Work) {
        work.factorisations += self.factorisations;
        work.eliminations += self.eliminations;
        work.solves += self.solves;
    }

    /// The sign of the determinant of what was factored last.
    pub(crate) fn determinant_sign(&self) -> f64
    where
        F: Into<f64>,
    {
        self.planned.as_ref().map_or(0.0, |planned| {
            planned.factors().map_or(0.0, |factors| planned.plan.determinant_sign(factors))
        })
    }

    /// Solves in place with the factors at hand.
    pub(crate) fn solve(&mut self, b: &mut [F]) {
        self.solves += 1;
        if let Some(planned) = &self.planned
            && let Some(factors) = planned.factors()
        {
            planned.plan.solve(factors, b, &mut self.work);
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
        let Self { pattern, values, room, .. } = self;
        let Some(planned) = &self.planned else { return Quality::Stale };
        let Some(factors) = planned.factors() else { return Quality::Stale };
        solve_transposed_checked(&planned.plan, factors, pattern, values, b, room)
    }

    fn quality(&mut self, b: &mut [F]) -> Quality {
        let Self { pattern, values, room, .. } = self;
        let Some(planned) = &self.planned else { return Quality::Stale };
        let Some(factors) = planned.factors() else { return Quality::Stale };
        let quality = solve_checked(&planned.plan, factors, pattern, values, b, room);
        self.solves += if quality == Quality::Good { 1 } else { 2 };
        quality
    }
}

impl Linear<f64> for Solver<f64> {
    #[inline(always)]
    fn values(&mut self) -> &mut [f64] {
        Solver::values(self)
    }
    #[inline(always)]
    fn factor_at(&mut self, rate: f64) -> Result<(), Singular> {
        Solver::factor_at(self, rate)
    }
    #[inline(always)]
    fn solve_spoiling(&mut self, b: &mut [f64], x: &mut [f64]) {
        self.solves += 1;
        if let Some(planned) = &self.planned
            && let Some(factors) = planned.factors()
        {
            planned.plan.solve_spoiling(factors, b, x, &mut self.work);
        }
    }
    #[inline(always)]
    fn solve_spoiling_checked(&mut self, b: &mut [f64], x: &mut [f64]) -> Result<(), Singular> {
        let own = 1..=self.right_side.len();
        self.right_side.copy_from_slice(&b[own.clone()]);
        self.solve_spoiling(b, x);
        let x = &mut x[own];
        let mut rows = self.proof.look(&self.values, &self.right_side, x).iter();
        if rows.all(|row| is_exact(row[0], row[1])) {
            return Ok(());
        }
        // Counted again there.
        self.solves -= 1;
        x.copy_from_slice(&self.right_side);
        Solver::solve_checked(self, x)
    }
}
#[cfg(test)]
mod tests;
