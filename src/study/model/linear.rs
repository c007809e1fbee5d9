//! The linear problem beside a place: where all other values go when one is held, so that no point
//! lies farther off than it must.

use crate::study::least_squares::Bound;
use nalgebra::{DMatrix, DVector};

/// Rounds of reweighting, each row's by its own residual, which leads to the least worst residual
/// (Lawson 1961; Rice and Usow, Math. Comp. 22 (1968)).
const ROUNDS: usize = 24;
/// No point's weight falls below this.
const LEAST_WEIGHT: f64 = 1e-4;
/// Where the worst point lies no farther off than this, over its limit, the least sum of squares is
/// good enough.
const AT_EASE: f64 = 0.5;
/// Added to the diagonal of the normal equations, over its largest entry.
const RIDGE: f64 = 1e-12;

/// A linear problem: residual r − S·Δ, of which the first rows have limits.
pub(super) struct Linear<'a> {
    pub(super) at: &'a [f64],
    pub(super) residual: &'a [f64],
    pub(super) slopes: &'a DMatrix<f64>,
    pub(super) ends: &'a [[f64; 2]],
    pub(super) limits: &'a [f64],
}

/// How near the worst point lies to its limit; 1 on it.
pub(super) fn reach(residual: &[f64], limits: &[f64]) -> f64 {
    residual.iter().zip(limits).map(|(r, limit)| r.abs() / limit).fold(0.0, f64::max)
}

impl Linear<'_> {
    /// The place with value `k` at `target` (no value is held where `None`), and the residual there.
    pub(super) fn follow(&self, held: Option<(usize, f64)>) -> (Vec<f64>, Vec<f64>) {
        let rows = self.residual.len();
        let mut weights: Vec<f64> =
            (0..rows).map(|i| self.limits.get(i).map_or(1.0, |limit| 1.0 / limit)).collect();
        let mut best: Option<(f64, Vec<f64>, Vec<f64>)> = None;
        for _ in 0..ROUNDS {
            let step = self.step(held, &weights);
            let residual = self.residual_at(&step);
            let reached = reach(&residual, self.limits);
            if best.as_ref().is_none_or(|(known, ..)| reached < *known) {
                let at = self.at.iter().zip(&step).map(|(u, by)| u + by).collect();
                best = Some((reached, at, residual.clone()));
            }
            if reached <= AT_EASE {
                break;
            }
            for (i, limit) in self.limits.iter().enumerate() {
                let share = residual[i].abs() / limit / reached;
                weights[i] = (weights[i] * share.sqrt()).max(LEAST_WEIGHT / limit);
            }
        }
        best.map_or_else(
            || (self.at.to_vec(), self.residual.to_vec()),
            |(_, at, residual)| (at, residual),
        )
    }

    fn residual_at(&self, step: &[f64]) -> Vec<f64> {
        let fallen = self.slopes * DVector::from_column_slice(step);
        self.residual.iter().zip(fallen.iter()).map(|(r, by)| r - by).collect()
    }

    /// The weighted least step within bounds: solved for the values that are free, and those that
    /// leave their bounds held there, until none does.
    fn step(&self, held: Option<(usize, f64)>, weights: &[f64]) -> Vec<f64> {
        let count = self.at.len();
        let mut step: Vec<Option<f64>> = vec![None; count];
        if let Some((k, target)) = held {
            step[k] = Some(target - self.at[k]);
        }
        for _ in 0..=count {
            let free: Vec<usize> = (0..count).filter(|j| step[*j].is_none()).collect();
            let solved = self.solve(&free, &step, weights);
            let out = free.iter().zip(&solved).filter_map(|(&j, by)| {
                let (bound, over) = self.beyond(j, self.at[j] + by)?;
                Some((j, bound, over))
            });
            let worst = out.max_by(|a, b| a.2.total_cmp(&b.2));
            match worst {
                Some((j, bound, _)) => {
                    let [low, high] = self.ends[j];
                    let end = if bound == Bound::Lower { low } else { high };
                    step[j] = Some(end - self.at[j]);
                }
                None => {
                    free.iter().zip(&solved).for_each(|(&j, by)| step[j] = Some(*by));
                    break;
                }
            }
        }
        step.into_iter().map(|by| by.unwrap_or(0.0)).collect()
    }

    /// Which bound a coordinate is beyond, and by what share of the way between both.
    fn beyond(&self, j: usize, u: f64) -> Option<(Bound, f64)> {
        let [low, high] = self.ends[j];
        let way = (high - low).max(f64::MIN_POSITIVE);
        if u < low {
            Some((Bound::Lower, (low - u) / way))
        } else if u > high {
            Some((Bound::Upper, (u - high) / way))
        } else {
            None
        }
    }

    fn solve(&self, free: &[usize], step: &[Option<f64>], weights: &[f64]) -> Vec<f64> {
        let fixed: Vec<f64> = step.iter().map(|by| by.unwrap_or(0.0)).collect();
        let mut right = DVector::from_vec(self.residual_at(&fixed));
        let mut matrix = self.slopes.select_columns(free);
        for (i, weight) in weights.iter().enumerate() {
            right[i] *= weight;
            matrix.row_mut(i).scale_mut(*weight);
        }
        let mut normal = matrix.tr_mul(&matrix);
        let largest = normal.diagonal().iter().copied().fold(f64::MIN_POSITIVE, f64::max);
        for j in 0..free.len() {
            normal[(j, j)] += RIDGE * largest;
        }
        let pulled = matrix.tr_mul(&right);
        match normal.cholesky() {
            Some(factors) => factors.solve(&pulled).iter().copied().collect(),
            None => vec![0.0; free.len()],
        }
    }
}
