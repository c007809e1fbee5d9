//! Elimination plans of one circuit for others that differ from it in their values alone: thousands of
//! variants need not look for pivots each. Where a plan does not suit a variant's values, the solver
//! notices and makes its own.

use super::control::LONGEST_MICRO_STEP_S;
use super::operating_point::{GROWTHS, STRAY_F};
use super::rodas4p::GAMMA;
use super::solver::Solver;
use crate::numeric::{Elimination, Pattern};
use crate::system::{Linearisation, Pieces, System};
use std::sync::Arc;

/// The rate in 1/s of the first matrix that a step of the default method factors: after the micro-step
/// behind t = 0, and as long.
const FIRST_RATE: f64 = 1.0 / (GAMMA * LONGEST_MICRO_STEP_S);

/// How the matrices of a circuit are factored.
#[derive(Clone, Debug)]
pub struct Plans {
    pattern: Pattern,
    pub(super) at_rest: Arc<Elimination>,
    pub(super) in_motion: Arc<Elimination>,
    /// For the two growths at which a saddle is told.
    pub(super) growing: [Arc<Elimination>; 2],
}

impl Plans {
    /// Plans on the values at the rest `z`, an extended vector; `None` where there is no pivot.
    pub fn of(system: &System, pieces: &Pieces, z: &[f64]) -> Option<Self> {
        let mut at = Linearisation::new(system);
        let mut slopes = vec![0.0; system.extent()];
        system.set_slopes(pieces, 0.0, &mut slopes);
        system.linearise(z, &slopes, &mut at);
        let plan = |rate: f64, stray_f: f64| {
            let (mut at, mut solver) = (at.clone(), Solver::new(system.pattern()));
            system.add_anchor(rate * stray_f, &[], z, &mut at);
            at.matrix(rate, solver.values());
            solver.factor().ok()?;
            solver.into_plan()
        };
        let [slow, fast] = GROWTHS.map(|growth| plan(growth, STRAY_F));
        Some(Self {
            pattern: system.pattern().clone(),
            at_rest: plan(0.0, 0.0)?,
            in_motion: plan(FIRST_RATE, 0.0)?,
            growing: [slow?, fast?],
        })
    }

    /// Whether they are for matrices of this system.
    pub fn suit(&self, system: &System) -> bool {
        self.pattern == *system.pattern()
    }
}
