//! TR-BDF2 in charge-oriented form with full Newton iterations: the independent cross-check.
//!
//! R. E. Bank et al., IEEE Trans. CAD 4 (1985) 436–451; third-order companion and filtered
//! estimate: M. E. Hosea & L. F. Shampine, Appl. Numer. Math. 20 (1996) 21–37. In the textbook's
//! sense each charge becomes a companion model: a conductance C/(d·h) and a history current.

use super::solver::Solver;
use super::step::{Point, Step, Unfinished};
use super::{Tolerances, Work};
use crate::numeric::Elimination;
use crate::system::{Linearisation, Pieces, System};
use std::f64::consts::SQRT_2;
use std::sync::Arc;

/// γ = 2 − √2: where the first stage ends.
const GAMMA: f64 = 2.0 - SQRT_2;
/// d = γ/2.
const D: f64 = 1.0 - SQRT_2 / 2.0;
/// w = √2/4.
const W: f64 = SQRT_2 / 4.0;
/// b − b̂, weights of the embedded third-order companion.
const ESTIMATE: [f64; 3] = [W - (1.0 - W) / 3.0, W - (3.0 * W + 1.0) / 3.0, 2.0 * D / 3.0];
/// A stage has converged when the last change is below this share of the tolerances; the next one
/// would be its square.
const CONVERGED: f64 = 1e-3;
/// Iterations of a stage before the step is tried shorter.
const MOST_ITERATIONS: usize = 10;

/// Room for the stages of one system.
#[derive(Clone, Debug)]
pub(crate) struct TrBdf2 {
    solver: Solver<f64>,
    at: Linearisation,
    z: Vec<f64>,
    slopes: Vec<f64>,
    start_rows: Vec<f64>,
    rows: Vec<f64>,
    rhs: Vec<f64>,
    history: Vec<f64>,
    middle_x: Vec<f64>,
    middle_flow: Vec<f64>,
    /// Newton iterations so far.
    pub(crate) iterations: usize,
}

impl TrBdf2 {
    pub(crate) fn new(system: &System) -> Self {
        let rows = vec![0.0; system.unknowns.len()];
        let extent = vec![0.0; system.extent()];
        Self {
            solver: Solver::new(system.pattern()),
            at: Linearisation::new(system),
            z: extent.clone(),
            slopes: extent,
            start_rows: rows.clone(),
            rows: rows.clone(),
            rhs: rows.clone(),
            history: rows.clone(),
            middle_x: rows.clone(),
            middle_flow: rows,
            iterations: 0,
        }
    }

    pub(crate) fn adopt(&mut self, plan: &Arc<Elimination>) {
        self.solver.adopt(plan);
    }

    pub(crate) fn count(&self, work: &mut Work) {
        work.newton_iterations += self.iterations;
        self.solver.count(work);
    }

    pub(crate) fn attempt(
        &mut self,
        system: &System,
        pieces: &Pieces,
        tolerances: &Tolerances,
        from: &Point,
        h: f64,
        step: &mut Step,
    ) -> Result<(), Unfinished> {
        let count = from.x.len();
        let rate = 1.0 / (D * h);
        self.z[..count].copy_from_slice(&from.x);
        system.linear_charges(&self.z, &mut self.start_rows);
        system.scatter_charges(&from.q, &mut self.start_rows);

        self.history.copy_from_slice(&from.flow);
        self.stage(system, (pieces, from.t + GAMMA * h), tolerances, rate)?;
        self.middle_x.copy_from_slice(&self.z[..count]);
        let mut middle_flow = std::mem::take(&mut self.middle_flow);
        self.flow(rate, &mut middle_flow);
        self.middle_flow = middle_flow;

        for (k, history) in self.history.iter_mut().enumerate() {
            *history = (W / D) * (from.flow[k] + self.middle_flow[k]);
        }
        for (k, x) in self.z[..count].iter_mut().enumerate() {
            *x = from.x[k] + (self.middle_x[k] - from.x[k]) / GAMMA;
        }
        self.stage(system, (pieces, from.t + h), tolerances, rate)?;
        step.end.t = from.t + h;
        step.end.x.copy_from_slice(&self.z[..count]);
        step.end.q.copy_from_slice(&self.at.q);
        self.flow(rate, &mut step.end.flow);
        self.judge(from, step);
        Ok(())
    }

    /// Solves rate·(A·Q(x) − start) − history + f(x, t) = 0 for x in `z`.
    fn stage(
        &mut self,
        system: &System,
        (pieces, t): (&Pieces, f64),
        tolerances: &Tolerances,
        rate: f64,
    ) -> Result<(), Unfinished> {
        system.set_time(pieces, t, &mut self.z);
        let mut worst = 1;
        for _ in 0..MOST_ITERATIONS {
            self.iterations += 1;
            self.linearise(system);
            for (k, r) in self.rhs.iter_mut().enumerate() {
                *r = self.history[k] - self.at.f[k] - rate * (self.rows[k] - self.start_rows[k]);
            }
            self.rhs[0] = 0.0;
            self.at.matrix(rate, self.solver.values());
            self.solver.factor_at(rate).map_err(|s| Unfinished { unknown: s.column + 1 })?;
            self.solver
                .solve_checked(&mut self.rhs[1..])
                .map_err(|s| Unfinished { unknown: s.column + 1 })?;
            let (change, unknown) = tolerances.norm(&self.z[..self.rhs.len()], &self.rhs);
            worst = unknown;
            if !change.is_finite() {
                break;
            }
            for (x, s) in self.z.iter_mut().zip(&self.rhs) {
                *x += s;
            }
            if change <= CONVERGED {
                self.linearise(system);
                return Ok(());
            }
        }
        Err(Unfinished { unknown: worst })
    }

    fn linearise(&mut self, system: &System) {
        system.linearise(&self.z, &self.slopes, &mut self.at);
        system.linear_charges(&self.z, &mut self.rows);
        system.scatter_charges(&self.at.q, &mut self.rows);
    }

    /// A·dq/dt by row at the stage just solved, from its charges, so that charge is conserved.
    fn flow(&self, rate: f64, flow: &mut [f64]) {
        for (k, p) in flow.iter_mut().enumerate() {
            *p = rate * (self.rows[k] - self.start_rows[k]) - self.history[k];
        }
        flow[0] = 0.0;
    }

    /// Filtered error estimate and the parabola through start, middle and end.
    fn judge(&mut self, from: &Point, step: &mut Step) {
        for (k, e) in step.error.iter_mut().enumerate() {
            let sum = ESTIMATE[0] * from.flow[k]
                + ESTIMATE[1] * self.middle_flow[k]
                + ESTIMATE[2] * step.end.flow[k];
            *e = sum / D;
        }
        step.error[0] = 0.0;
        self.solver.solve(&mut step.error[1..]);
        for (k, bend) in step.bend0.iter_mut().enumerate() {
            let chord = (1.0 - GAMMA) * from.x[k] + GAMMA * step.end.x[k];
            *bend = (self.middle_x[k] - chord) / (GAMMA * (1.0 - GAMMA));
        }
        step.bend1.fill(0.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Weights sum to zero; values from Hosea & Shampine 1996 (from memory, rederived).
    #[test]
    fn published_companion_weights_differ_by_a_null_sum() {
        let expected = [0.138_071_187_457_698_3, -1.0 / 3.0, 0.195_262_145_875_635];
        for (weight, e) in ESTIMATE.iter().zip(expected) {
            assert!((weight - e).abs() < 1e-14);
        }
        assert!(ESTIMATE.iter().sum::<f64>().abs() < 1e-15);
    }
}
