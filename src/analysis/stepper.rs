//! One step, by either method, behind one face: attempt, error estimate, dense output.

use super::newton::{Damping, Held, Newton};
use super::rodas4p::Rodas4p;
use super::step::{Point, Step, Unfinished};
use super::tr_bdf2::TrBdf2;
use super::{Accuracy, Tolerances, Work};
use crate::numeric::Elimination;
use crate::system::{Pieces, System};
use std::sync::Arc;

/// Iterations of a backward-Euler step at a corner or in a rescue.
const EULER_ITERATIONS: usize = 60;

/// Above this many unknowns both iterations eliminate by the plan that the micro-step after the first corner
/// was taken by: a plan takes as long as ten eliminations and more.
const PLANNED_ONCE: usize = 500;

/// An integration formula.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Method {
    /// Rosenbrock method of order 4(3), stiffly accurate (Steinebach 1995); the default.
    #[default]
    Rodas4p,
    /// TR-BDF2 of order 2 with full Newton iterations; the independent cross-check.
    TrBdf2,
}

impl Method {
    /// Node tolerance for an accuracy, in V.
    pub fn node_tolerance_v(self, accuracy: Accuracy) -> f64 {
        match self {
            Method::Rodas4p => accuracy.rodas4p_v(),
            Method::TrBdf2 => accuracy.tr_bdf2_v(),
        }
    }

    /// How many times longer a step would have met its tolerances exactly that came to this error norm: its
    /// estimate grows with the fourth power of its size, that of TR-BDF2 with the third.
    pub fn optimum(self, norm: f64) -> f64 {
        match self {
            Method::Rodas4p => norm.sqrt().sqrt().recip(),
            Method::TrBdf2 => norm.cbrt().recip(),
        }
    }
}

/// Takes steps of one system by one method.
#[derive(Clone, Debug)]
pub struct Stepper {
    method: Method,
    rodas4p: Rodas4p,
    /// Where that is the method; rates are always taken by the other.
    tr_bdf2: Option<TrBdf2>,
    newton: Newton,
    z: Vec<f64>,
}

impl Stepper {
    /// A stepper with room for `system`.
    pub fn new(system: &System, method: Method) -> Self {
        Self {
            method,
            rodas4p: Rodas4p::new(system),
            tr_bdf2: (method == Method::TrBdf2).then(|| TrBdf2::new(system)),
            newton: Newton::new(system),
            z: vec![0.0; system.extent()],
        }
    }

    /// Has all matrices factored by a plan that was made before, as long as it suits them.
    pub(crate) fn adopt(&mut self, plan: &Arc<Elimination>) {
        self.rodas4p.adopt(plan);
        self.newton.solver.adopt(plan);
        if let Some(tr_bdf2) = &mut self.tr_bdf2 {
            tr_bdf2.adopt(plan);
        }
    }

    /// The plan by which matrices of the default method are factored, where that is the method.
    pub(crate) fn plan(&self) -> Option<&Arc<Elimination>> {
        self.rodas4p.solver.plan_in_use().filter(|_| self.tr_bdf2.is_none())
    }

    /// The method in use.
    pub fn method(&self) -> Method {
        self.method
    }

    /// Tries one step of size `h` s from `from`; its error is judged by the caller.
    ///
    /// # Errors
    /// When a value is not finite, a matrix is singular or an iteration does not converge.
    pub fn attempt(
        &mut self,
        system: &System,
        pieces: &Pieces,
        tolerances: &Tolerances,
        from: &Point,
        h: f64,
        step: &mut Step,
    ) -> Result<(), Unfinished> {
        match &mut self.tr_bdf2 {
            Some(tr_bdf2) => {
                tr_bdf2.attempt(system, pieces, tolerances, from, h, step)?;
                step.norm = tolerances.largest(&step.end.x, &step.error);
                Ok(())
            }
            None => self.rodas4p.attempt(system, pieces, tolerances, from, h, step),
        }
    }

    /// One backward-Euler step, solved by Newton with junction limits and, failing that, damped:
    /// the right limit after a corner, and the rescue where the error does not fall with the step.
    ///
    /// # Errors
    /// When neither iteration converges.
    pub fn euler(
        &mut self,
        system: &System,
        pieces: &Pieces,
        from: &Point,
        h: f64,
        step: &mut Step,
    ) -> Result<(), Unfinished> {
        let mut rows = vec![0.0; system.unknowns.len()];
        self.z[..from.x.len()].copy_from_slice(&from.x);
        system.linear_charges(&self.z, &mut rows);
        system.scatter_charges(&from.q, &mut rows);
        self.euler_from_charges(system, pieces, from, &rows, h, step)
    }

    /// The same from charges given by row: a start from initial values.
    ///
    /// # Errors
    /// When neither iteration converges.
    pub fn euler_from_charges(
        &mut self,
        system: &System,
        pieces: &Pieces,
        from: &Point,
        rows: &[f64],
        h: f64,
        step: &mut Step,
    ) -> Result<(), Unfinished> {
        let t = from.t + h;
        let held = Held { rate: 1.0 / h, rows, source_scale: 1.0, ..Held::default() };
        let mut outcome = Ok(());
        for damping in [Damping::Junctions, Damping::WholeStep] {
            self.z[..from.x.len()].copy_from_slice(&from.x);
            outcome = self.newton.solve(
                system,
                (pieces, t),
                &held,
                damping,
                EULER_ITERATIONS,
                &mut self.z,
            );
            if outcome.is_ok() {
                break;
            }
        }
        outcome.map_err(|stuck| Unfinished { unknown: stuck.unknown })?;
        step.end.t = t;
        step.end.x.copy_from_slice(&self.z[..from.x.len()]);
        step.end.q.copy_from_slice(&self.newton.at.q);
        if system.n() > PLANNED_ONCE
            && self.rodas4p.solver.plan_in_use().is_none()
            && let Some(plan) = self.newton.solver.plan_in_use()
        {
            self.rodas4p.solver.adopt(plan);
        }
        self.newton.charge_rows(system, &self.z, &mut step.end.flow);
        for (flow, before) in step.end.flow.iter_mut().zip(rows) {
            *flow = (*flow - before) / h;
        }
        step.bend0.fill(0.0);
        step.bend1.fill(0.0);
        Ok(())
    }

    /// Rates of all unknowns at (t, x) in 1/s, by one linear solve over a vanishing step.
    pub fn rates(&mut self, system: &System, pieces: &Pieces, t: f64, x: &[f64]) -> Vec<f64> {
        self.rodas4p.rates(system, pieces, t, x)
    }

    /// Adds what this stepper has done to a count.
    pub fn count(&self, work: &mut Work) {
        work.newton_iterations += self.newton.iterations;
        self.newton.solver.count(work);
        self.rodas4p.count(work);
        if let Some(tr_bdf2) = &self.tr_bdf2 {
            tr_bdf2.count(work);
        }
    }
}
