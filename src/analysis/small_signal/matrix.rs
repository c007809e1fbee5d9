//! A complex matrix of one pattern, eliminated by a plan that is made anew when the values it was
//! made on no longer stand for the present ones.

use crate::numeric::{
    Elimination, Factors, Pattern, Quality, Singular, Workspace, solve_checked,
    solve_transposed_checked,
};
use nalgebra::Complex;

type Value = Complex<f64>;

/// Factors and solves complex matrices of one pattern.
#[derive(Clone, Debug)]
pub struct ComplexMatrix {
    pattern: Pattern,
    values: Vec<Value>,
    planned: Option<(Elimination, Factors<Value>)>,
    right_side: Vec<Value>,
    room: Workspace<Value>,
}

impl ComplexMatrix {
    /// Room for matrices of `pattern`, all zero.
    pub fn new(pattern: &Pattern) -> Self {
        let zero = Value::new(0.0, 0.0);
        Self {
            values: vec![zero; pattern.slots()],
            planned: None,
            right_side: vec![zero; pattern.n()],
            room: Workspace::new(pattern.n()),
            pattern: pattern.clone(),
        }
    }

    /// The values to fill before [`ComplexMatrix::factor`], slot by slot.
    pub fn values(&mut self) -> &mut [Value] {
        &mut self.values
    }

    /// Factors the present values.
    ///
    /// # Errors
    /// When they are singular.
    pub fn factor(&mut self) -> Result<(), Singular> {
        if let Some((plan, factors)) = &mut self.planned
            && plan.factor(&self.values, factors).is_ok()
        {
            return Ok(());
        }
        self.plan()
    }

    fn plan(&mut self) -> Result<(), Singular> {
        let plan = Elimination::plan(&self.pattern, &self.values)?;
        let mut factors = Factors::new(&plan);
        let outcome = plan.factor(&self.values, &mut factors);
        self.planned = Some((plan, factors));
        outcome
    }

    /// Solves in place and proves the result: residual, then one refinement, then a fresh plan.
    ///
    /// # Errors
    /// When the fresh plan finds the matrix singular.
    pub fn solve(&mut self, b: &mut [Value]) -> Result<(), Singular> {
        self.right_side.copy_from_slice(b);
        if self.quality(b) == Quality::Stale {
            self.plan()?;
            b.copy_from_slice(&self.right_side);
            self.quality(b);
        }
        Ok(())
    }

    fn quality(&mut self, b: &mut [Value]) -> Quality {
        match &self.planned {
            Some((plan, factors)) => {
                solve_checked(plan, factors, &self.pattern, &self.values, b, &mut self.room)
            }
            None => Quality::Stale,
        }
    }

    /// Solves the transposed system in place, without conjugation, and proves the result as
    /// [`ComplexMatrix::solve`] does.
    ///
    /// # Errors
    /// As [`ComplexMatrix::solve`].
    pub fn solve_transposed(&mut self, b: &mut [Value]) -> Result<(), Singular> {
        self.right_side.copy_from_slice(b);
        if self.transposed_quality(b) == Quality::Stale {
            self.plan()?;
            b.copy_from_slice(&self.right_side);
            self.transposed_quality(b);
        }
        Ok(())
    }

    fn transposed_quality(&mut self, b: &mut [Value]) -> Quality {
        match &self.planned {
            Some((plan, factors)) => {
                let (pattern, values) = (&self.pattern, &self.values);
                solve_transposed_checked(plan, factors, pattern, values, b, &mut self.room)
            }
            None => Quality::Stale,
        }
    }
}
