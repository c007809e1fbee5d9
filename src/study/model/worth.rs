//! What the points tell of each value, and which values they cannot tell apart: from the slopes at
//! the best model, each point good to what it may differ, each value to its spread beforehand.

use super::question::{PRIOR_WEIGHT, Question, Seen};
use crate::study::compare::{Only, combination};
use nalgebra::DMatrix;

/// A value that the points leave at this share of its spread or more stands on what was expected
/// alone.
const ALONE: f64 = 0.9;
/// Values that go together from this correlation on cannot be told apart.
const TIED: f64 = 0.9;

/// Two values that cannot be told apart.
#[derive(Clone, Debug, PartialEq)]
pub struct Tie {
    /// Their names.
    pub names: [String; 2],
    /// Their correlation.
    pub correlation: f64,
    /// What of them is told all the same.
    pub only: Only,
}

impl Tie {
    /// In words.
    pub fn words(&self) -> String {
        let what = match self.only {
            Only::Sum => "only their sum is told",
            Only::Product => "only their product is told",
            Only::Ratio => "only their ratio is told",
            Only::Parallel => "only what they come to in parallel is told",
            Only::Combination | Only::Nothing => "only a combination of them is told",
        };
        let [a, b] = &self.names;
        format!("`{a}` and `{b}`: {what} (correlation {:.2})", self.correlation)
    }
}

/// What the points tell.
pub(super) struct Worth {
    /// One a value: whether it stands on what was expected alone.
    pub(super) alone: Vec<bool>,
    pub(super) ties: Vec<Tie>,
}

pub(super) fn worth(question: &Question<'_>, seen: &Seen, slopes: &DMatrix<f64>) -> Worth {
    let count = question.sought.len();
    let points = question.points().len();
    let mut normal = DMatrix::<f64>::zeros(count, count);
    let told = |row: &usize| !question.left_out.contains(row) && seen.got[*row].is_ok();
    for row in (0..points).filter(told) {
        let slope = slopes.row(row);
        normal += slope.transpose() * slope;
    }
    // The priors' own rows are weighted for the fit; here each counts as what it says.
    for k in 0..count {
        let row = slopes[(points + k, k)] / PRIOR_WEIGHT;
        normal[(k, k)] += row * row;
    }
    let Some(covariance) = normal.cholesky().map(|factors| factors.inverse()) else {
        return Worth { alone: vec![true; count], ties: Vec::new() };
    };
    let deviation = |k: usize| covariance[(k, k)].max(0.0).sqrt();
    let alone = |k: usize| deviation(k) >= ALONE * question.sought[k].spread;
    let mut ties = Vec::new();
    for i in 0..count {
        for j in i + 1..count {
            let correlation = covariance[(i, j)] / (deviation(i) * deviation(j));
            if !(correlation.abs() >= TIED) {
                continue;
            }
            let turn = |k: usize, sign: f64| {
                let knob = &question.sought[k].knob;
                (knob, knob.at(seen.u[k]), sign * deviation(k))
            };
            let only = combination([turn(i, 1.0), turn(j, correlation.signum())]);
            let names = [i, j].map(|k| question.sought[k].knob.path.clone());
            ties.push(Tie { names, correlation, only });
        }
    }
    Worth { alone: (0..count).map(alone).collect(), ties }
}
