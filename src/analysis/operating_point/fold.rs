//! The last way to a rest: along the curve of all solutions over a conductance from every node to ground,
//! round its folds, where a continuation that only ever lowers the conductance finds nothing ahead.
//!
//! Pseudo-arclength continuation (Keller, in: Applications of Bifurcation Theory, Academic Press 1977);
//! through circuits: Yamamura & Horiuchi, IEEE Trans. CAD 9 (1990), from memory. The conductance that
//! leads there is the homotopy of a fixed point, along which a circuit whose voltages stay bounded has a curve
//! that cannot end on the way.

use super::super::curve_of_rests::Curve;
use super::super::newton::{Damping, Held};
use super::{COLD_ITERATIONS, LAST_CONDUCTANCE_S, Search};

/// Where the curve starts: the conductance in S. So strong that nothing else decides.
const START_S: f64 = 1e2;
/// Where it has been lost: no conductance leads back from there.
const LOST_S: f64 = 1e9;
/// First and longest step along the curve, in volts and e-folds of the conductance together, and the shortest.
const STEPS: [f64; 3] = [0.1, 2.0, 1e-8];
/// Steps of the whole curve.
const MOST_STEPS: usize = 4000;
/// Corrections of one step.
const CORRECTIONS: usize = 8;
/// Corrections up to which a step was easy, and the next one may be longer.
const EASY: usize = 4;

impl Search<'_> {
    pub(super) fn round_folds(&mut self) -> Option<Vec<f64>> {
        let what =
            "along all solutions over a conductance from every node to ground, round folds (S)";
        let anchored =
            |siemens| Held { anchor_siemens: siemens, source_scale: 1.0, ..Held::default() };
        let mut z = vec![0.0; self.system.extent()];
        let Some(start_ln) = self.first_of((START_S, LAST_CONDUCTANCE_S), &mut z, &anchored) else {
            self.log(what, "its first step did not converge");
            return None;
        };
        let mut curve = Curve { z, siemens_ln: start_ln, tangent: Vec::new(), towards: -1.0 };
        let mut step = STEPS[0];
        let held = Held { tie_w_per_k: self.tie_w_per_k, source_scale: 1.0, ..Held::default() };
        for _ in 0..MOST_STEPS {
            match self.newton.follow_curve(self.system, &held, &curve, step, CORRECTIONS) {
                Some((next, corrections)) => {
                    curve = next;
                    step = if corrections <= EASY { (1.5 * step).min(STEPS[1]) } else { step };
                }
                None => step *= 0.5,
            }
            let siemens = curve.siemens_ln.exp();
            if siemens <= LAST_CONDUCTANCE_S {
                let held = Held { source_scale: 1.0, ..Held::default() };
                let mut z = curve.z;
                let solved = self.solve(&held, Damping::Junctions, COLD_ITERATIONS, &mut z);
                self.log(what, if solved { "solved" } else { "its end is not an operating point" });
                return solved.then_some(z);
            }
            if step < STEPS[2] || siemens > LOST_S {
                break;
            }
        }
        self.log(what, &format!("lost at {:.3e}", curve.siemens_ln.exp()));
        None
    }
}
