//! The linear network around an operating point, G·x + C·dx/dt = 0, as dense matrices.

use super::Rest;
use crate::system::Linearisation;
use nalgebra::DMatrix;

/// Larger circuits are not looked through: dense eigenvalues cost n³, some 0.1 s at this size.
const MOST_UNKNOWNS: usize = 200;

/// Slopes of all equations. Rows and columns are unknowns, counted from 0 without ground.
pub(super) struct Network {
    /// ∂f/∂x: S in rows of nodes, Ω and plain numbers in those of branches.
    pub(super) statics: DMatrix<f64>,
    /// ∂q/∂x: F and H.
    pub(super) charges: DMatrix<f64>,
}

impl Network {
    /// `None` for circuits too large, or without a finite slope.
    pub(super) fn around(rest: &Rest) -> Option<Self> {
        let system = &rest.system;
        let n = system.n();
        if n == 0 || n > MOST_UNKNOWNS {
            return None;
        }
        let mut at = Linearisation::new(system);
        system.linearise(&rest.z, &vec![0.0; rest.z.len()], &mut at);
        let dense = |values: &[f64]| {
            let entry = |row, column| {
                let slot = system.pattern().slot(row, column);
                slot.and_then(|slot| values.get(slot).copied()).unwrap_or(0.0)
            };
            DMatrix::from_fn(n, n, entry)
        };
        let network = Self { statics: dense(&at.conductances), charges: dense(&at.capacitances) };
        let all = network.statics.iter().chain(network.charges.iter());
        all.into_iter().all(|x| x.is_finite()).then_some(network)
    }
}
