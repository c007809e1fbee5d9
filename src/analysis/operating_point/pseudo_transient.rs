//! A circuit let go from nothing at all, by backward Euler with steps that grow: it finds its own way up.
//!
//! Pseudo-transient continuation (Kelley and Keyes, SIAM J. Numer. Anal. 35 (1998), from memory). With all of its
//! charges a circuit may swing for ever, or turn so sharply that no step gets on. Where its own nodes alone are
//! slow, what its parts think follows at once, and most loops have nothing left to swing with: the rests are the
//! same.

use super::super::newton::{Damping, Held};
use super::{COLD_ITERATIONS, Search, WARM_ITERATIONS};

/// Capacitance from every slow node to ground, in F; it only sets the pace.
const CAPACITANCE_F: f64 = 1e-9;
/// First and last step in s.
const STEPS_S: [f64; 2] = [1e-10, 1e6];
/// A step this much shorter than the first one leads nowhere.
const SHORTEST: f64 = 1e-9;
/// Steps after which it is given up.
const MOST_STEPS: usize = 2000;

/// What takes its time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Slow {
    /// All charges, and every node.
    Everything,
    /// The nodes that the file names; charges and what is inside parts follow at once.
    OwnNodes,
}

impl Search<'_> {
    pub(super) fn pseudo_transient(&mut self, slow: Slow) -> Option<Vec<f64>> {
        let (what, has_charges) = match slow {
            Slow::Everything => ("a pseudo-transient from zero", true),
            Slow::OwnNodes => ("a pseudo-transient from zero in which parts follow at once", false),
        };
        let mut z = vec![0.0; self.system.extent()];
        let mut rows = vec![0.0; self.system.unknowns.len()];
        let mut h = STEPS_S[0];
        self.charges_at(&mut z, &mut rows);
        for _ in 0..MOST_STEPS {
            let anchor = z.clone();
            let mut trial = z.clone();
            let held = Held {
                rate: if has_charges { 1.0 / h } else { 0.0 },
                rows: &rows,
                anchor_siemens: CAPACITANCE_F / h,
                anchor_at: &anchor,
                anchors_own_nodes: !has_charges,
                source_scale: 1.0,
                leads_to_rest: true,
                ..Held::default()
            };
            if self.solve(&held, Damping::Junctions, WARM_ITERATIONS, &mut trial) {
                z = trial;
                self.newton.charge_rows(self.system, &z, &mut rows);
                h *= 2.0;
            } else {
                h *= 0.125;
            }
            if h > STEPS_S[1] {
                let held = Held { source_scale: 1.0, ..Held::default() };
                let solved = self.solve(&held, Damping::Junctions, COLD_ITERATIONS, &mut z);
                self.log(what, if solved { "solved" } else { "its end is not an operating point" });
                return solved.then_some(z);
            }
            if h < STEPS_S[0] * SHORTEST {
                break;
            }
        }
        self.log(what, &format!("stuck at a step of {h:.1e} s"));
        None
    }
}
