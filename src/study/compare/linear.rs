//! The linear problem at the end of a fit, from which intervals and ties are told.

use super::fit::Descent;
use super::knob::Knob;
use super::problem::{Problem, SIDE};
use super::student::student;
use nalgebra::DMatrix;

/// The linear problem at the end of a fit.
pub(super) struct Linear<'a> {
    pub(super) knobs: Vec<&'a Knob>,
    /// Indices of those knobs among all.
    pub(super) indices: Vec<usize>,
    /// Shift and offset that are found.
    pub(super) aside: usize,
    /// Upper triangle of the slopes, shift and offset first.
    pub(super) upper: DMatrix<f64>,
    /// Standard deviation of one independent sample, correlation counted.
    pub(super) deviation_v: f64,
    /// Half-width over standard deviation.
    pub(super) t: f64,
    /// What the slopes themselves may be wrong by, as the norm of a column.
    pub(super) blur: f64,
}

impl<'a> Linear<'a> {
    /// Of the knobs `indices`; all others are held where they are.
    pub(super) fn new(
        problem: &Problem<'a>,
        descent: &Descent,
        slopes: &DMatrix<f64>,
        indices: Vec<usize>,
        independent: f64,
    ) -> Self {
        let (aside, samples) = (problem.aside(), descent.used.len() as f64);
        let columns: Vec<usize> = (0..aside).chain(indices.iter().map(|k| k + aside)).collect();
        let unknowns = columns.len() as f64;
        let variance = descent.seen.sum / (samples - unknowns).max(1.0);
        let deviation = variance.sqrt().max(problem.blur_v);
        let knobs: &'a [Knob] = problem.knobs;
        Self {
            knobs: indices.iter().map(|k| &knobs[*k]).collect(),
            indices,
            aside,
            upper: slopes.select_columns(&columns).qr().r(),
            deviation_v: deviation * (samples / independent).sqrt(),
            t: student(independent - unknowns),
            blur: problem.blur_v / (2.0 * SIDE) * samples.sqrt(),
        }
    }

    pub(super) fn values(&self, descent: &Descent) -> Vec<f64> {
        let knobs = self.knobs.iter().zip(&self.indices);
        knobs.map(|(knob, k)| knob.at(descent.seen.place.u[*k])).collect()
    }
}
