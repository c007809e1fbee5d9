//! The fit of a trace: starts, shifts, and descents by [`crate::study::least_squares`] from several
//! of them. What is tried depends on readings alone, so the same question always gives the same answer.

use super::align::{coarse_shift, likely_shifts};
use super::knob::Knob;
use super::problem::{Place, Problem, Seen, Shift};
use crate::study::in_parallel;
use crate::study::least_squares::{self, LeastSquares, Looked, spread};
pub use crate::study::least_squares::{Bound, Ended};
use nalgebra::DMatrix;

/// Starting places looked at: the present values, and points spread over the bounds.
const CANDIDATES: usize = 12;
/// So many of the best are followed to their end.
const STARTS: usize = 3;
/// The fewest samples that a fit needs besides one for each unknown.
const FEWEST: usize = 5;

/// Where a descent came to.
#[derive(Clone, Debug)]
pub(super) struct Descent {
    pub(super) seen: Seen,
    /// The samples in use.
    pub(super) used: Vec<usize>,
    pub(super) ended: Ended,
}

impl Descent {
    /// Mean square of the residual.
    pub(super) fn mean_square(&self) -> f64 {
        self.seen.sum / self.used.len().max(1) as f64
    }
}

/// All descents, the best one first.
///
/// # Errors
/// Why there is none.
pub(super) fn fit(problem: &Problem<'_>) -> Result<Vec<Descent>, String> {
    let candidates = candidates(problem)?;
    let starts = candidates.into_iter().take(STARTS);
    let mut found: Vec<Descent> = starts.map(|start| follow(problem, start)).collect();
    found.sort_by(|a, b| a.mean_square().total_cmp(&b.mean_square()));
    Ok(found)
}

/// Starting places with their shifts, the best one first; the one from the file stays among those
/// that are followed.
fn candidates(problem: &Problem<'_>) -> Result<Vec<Descent>, String> {
    let usual: Vec<f64> = problem.knobs.iter().map(Knob::start).collect();
    let mut all = vec![usual];
    if !problem.knobs.is_empty() {
        let ends: Vec<[f64; 2]> = problem.knobs.iter().map(Knob::ends).collect();
        all.extend((1..CANDIDATES as u32).map(|k| spread(&ends, k)));
    }
    let blank = |u: Vec<f64>| Place { u, shift_s: 0.0, offset_v: 0.0 };
    let read: Vec<_> = all.into_iter().map(|u| problem.changes(&blank(u))).collect();
    let lists: Vec<_> = read.iter().map(|(changes, _)| changes.clone()).collect();
    problem.runs.set(problem.runs.get() + lists.len());
    let solved = (problem.solve)(&lists);
    let why = solved.iter().find_map(|s| s.as_ref().err().cloned()).unwrap_or_default();
    let (trace, shift) = (problem.trace, problem.shift);
    let given_s = if let Shift::Given(shift_s) = shift { shift_s } else { 0.0 };
    let first = solved.iter().find_map(|s| s.as_ref().ok()).filter(|_| shift == Shift::Free);
    let likely = first.map(|solution| likely_shifts(trace, solution));
    let shifts = in_parallel(solved.len(), problem.threads, |k| match (&likely, &solved[k]) {
        (Some(likely), Ok(solution)) => coarse_shift(trace, solution, likely),
        _ => given_s,
    });
    let mut found = Vec::new();
    for (((changes, mut place), solution), shift_s) in read.into_iter().zip(solved).zip(shifts) {
        let Ok(solution) = solution else { continue };
        place.shift_s = shift_s;
        let used = problem.covered(&solution, shift_s);
        if used.len() < problem.aside() + problem.knobs.len() + FEWEST {
            continue;
        }
        let mut seen = problem.against(place, changes, solution, &used);
        if problem.offset_free {
            let mean = seen.residual.iter().sum::<f64>() / used.len() as f64;
            let place = Place { offset_v: mean, ..seen.place };
            seen = problem.against(place, seen.changes, seen.solution, &used);
        }
        found.push(Descent { seen, used, ended: Ended::OutOfSteps });
    }
    if found.is_empty() {
        return Err(if why.is_empty() { NO_OVERLAP.to_owned() } else { why });
    }
    // The first one stands for the file; sorting keeps it ahead of those that are no better.
    let first = found.remove(0);
    found.sort_by(|a, b| a.mean_square().total_cmp(&b.mean_square()));
    let place = found.iter().take(STARTS - 1).filter(|d| d.mean_square() < first.mean_square());
    found.insert(place.count(), first);
    Ok(found)
}

const NO_OVERLAP: &str = "too few samples of the trace lie within the record of the test; leave \
                          `--shift` out, or measure around the test's edges";

/// One descent; again where its own shift brought other samples into the record.
fn follow(problem: &Problem<'_>, start: Descent) -> Descent {
    let mut descent = descend(problem, start);
    let used = problem.covered(&descent.seen.solution, descent.seen.place.shift_s);
    let enough = used.len() >= problem.aside() + problem.knobs.len() + FEWEST;
    if enough && used != descent.used {
        let seen = descent.seen;
        let seen = problem.against(seen.place, seen.changes, seen.solution, &used);
        descent = descend(problem, Descent { seen, used, ended: Ended::OutOfSteps });
    }
    descent
}

fn descend(problem: &Problem<'_>, start: Descent) -> Descent {
    let Descent { seen, used, .. } = start;
    let (seen, ended) = least_squares::descend(&OverSamples { problem, used: &used }, seen);
    Descent { seen, used, ended }
}

/// The problem over the samples in use; shift and offset come first among its coordinates.
struct OverSamples<'a, 'b> {
    problem: &'a Problem<'b>,
    used: &'a [usize],
}

impl Looked for Seen {
    fn residual(&self) -> &[f64] {
        &self.residual
    }

    fn sum(&self) -> f64 {
        self.sum
    }
}
impl LeastSquares for OverSamples<'_, '_> {
    type Seen = Seen;

    fn at(&self, seen: &Seen) -> Vec<f64> {
        let Place { u, shift_s, offset_v } = &seen.place;
        let shift = (self.problem.shift == Shift::Free).then_some(*shift_s);
        let offset = self.problem.offset_free.then_some(*offset_v);
        shift.into_iter().chain(offset).chain(u.iter().copied()).collect()
    }

    fn ends(&self) -> Vec<[f64; 2]> {
        let aside = vec![[f64::NEG_INFINITY, f64::INFINITY]; self.problem.aside()];
        aside.into_iter().chain(self.problem.knobs.iter().map(Knob::ends)).collect()
    }

    /// Where only shift and offset are found, nothing is solved again.
    fn look(&self, from: &Seen, places: &[Vec<f64>]) -> Vec<Option<Seen>> {
        let places: Vec<Place> = places.iter().map(|at| self.place(&from.place, at)).collect();
        if !self.problem.knobs.is_empty() {
            return self.problem.look(&places, self.used);
        }
        let again = |place| {
            let solution = from.solution.clone();
            Some(self.problem.against(place, Vec::new(), solution, self.used))
        };
        places.into_iter().map(again).collect()
    }

    fn slopes(&self, seen: &Seen) -> Option<DMatrix<f64>> {
        self.problem.slopes(seen, self.used)
    }
}

impl OverSamples<'_, '_> {
    /// What is not found stays as it was.
    fn place(&self, from: &Place, at: &[f64]) -> Place {
        let (aside, u) = at.split_at(self.problem.aside());
        let mut aside = aside.iter().copied();
        let free_shift = self.problem.shift == Shift::Free;
        let shift_s = free_shift.then(|| aside.next()).flatten().unwrap_or(from.shift_s);
        Place { u: u.to_vec(), shift_s, offset_v: aside.next().unwrap_or(from.offset_v) }
    }
}

/// The bound that knob `k` lies on at a place.
pub(super) fn bound_at(problem: &Problem<'_>, place: &Place, k: usize) -> Option<Bound> {
    let (knob, u) = (problem.knobs.get(k)?, place.u.get(k)?);
    least_squares::bound_at(*u, knob.ends())
}

/// The sum of squares of a solution once shift and offset have settled from where a place has them.
pub(super) fn settled_sum(
    problem: &Problem<'_>,
    seen: &Seen,
    place: &Place,
    used: &[usize],
) -> f64 {
    let aside = Problem { knobs: &[], runs: std::cell::Cell::new(0), ..*problem };
    let place = Place { u: Vec::new(), ..place.clone() };
    let seen = aside.against(place, Vec::new(), seen.solution.clone(), used);
    descend(&aside, Descent { seen, used: used.to_vec(), ended: Ended::OutOfSteps }).seen.sum
}
