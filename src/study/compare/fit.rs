//! Bounded nonlinear least squares: the method of Levenberg (Quart. Appl. Math. 2 (1944)) and
//! Marquardt (J. SIAM 11 (1963)) with steps cut to the bounds, from several starts. What is tried
//! depends on readings alone, so the same question always gives the same answer.

use super::align::{coarse_shift, likely_shifts};
use super::problem::{Place, Problem, Seen, Shift};
use crate::study::in_parallel;
use nalgebra::{DMatrix, DVector};

/// Starting places looked at: the present values, and points spread over the bounds.
const CANDIDATES: usize = 12;
/// So many of the best are followed to their end.
const STARTS: usize = 3;
/// Steps of one descent.
const MOST_STEPS: usize = 40;
/// A step that lowers the sum of squares by less than this share is the last one.
const SETTLED: f64 = 1e-7;
/// Damping tried side by side, times the present one.
const DAMPINGS: [f64; 4] = [0.1, 1.0, 10.0, 100.0];
const FIRST_DAMPING: f64 = 1e-3;
const MOST_DAMPING: f64 = 1e8;
/// Bases of the sequence that spreads starts (Halton, Numer. Math. 2 (1960)).
const PRIMES: [u32; 8] = [2, 3, 5, 7, 11, 13, 17, 19];
/// The fewest samples that a fit needs besides one for each unknown.
const FEWEST: usize = 5;
/// A place this share of the way between the bounds off one lies on it.
const ON_BOUND: f64 = 1e-4;

/// How a descent ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// The last step changed next to nothing.
    Settled,
    /// No step lowers the residual any further.
    NothingLower,
    /// The steps ran out.
    OutOfSteps,
}

impl Ended {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Settled => "settled: the last step changed next to nothing",
            Self::NothingLower => "settled: no step lowers the residual any further",
            Self::OutOfSteps => "not settled when its steps ran out: narrow the bounds",
        }
    }
}

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
    let usual: Vec<f64> = problem.knobs.iter().map(super::knob::Knob::start).collect();
    let mut all = vec![usual];
    if !problem.knobs.is_empty() {
        all.extend((1..CANDIDATES as u32).map(|k| spread(problem, k)));
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

/// The `k`th of points that fill the bounds evenly.
fn spread(problem: &Problem<'_>, k: u32) -> Vec<f64> {
    let knobs = problem.knobs.iter().zip(PRIMES);
    let at = knobs.map(|(knob, base)| {
        let (mut rest, mut share, mut digit) = (k, 0.0, 1.0);
        while rest > 0 {
            digit /= f64::from(base);
            share += digit * f64::from(rest % base);
            rest /= base;
        }
        let [low, high] = knob.ends();
        low + share * (high - low)
    });
    at.collect()
}

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
    let Descent { mut seen, used, .. } = start;
    let mut damping = FIRST_DAMPING;
    if problem.aside() + problem.knobs.len() == 0 {
        return Descent { seen, used, ended: Ended::Settled };
    }
    let mut slopes = None;
    for _ in 0..MOST_STEPS {
        let known = slopes.take().or_else(|| problem.slopes(&seen, &used));
        let Some(matrix) = known else {
            return Descent { seen, used, ended: Ended::NothingLower };
        };
        let tried = trials(problem, &seen, &matrix, damping);
        let best = look(problem, &seen, &tried, &used);
        match best.filter(|(_, new)| new.sum < seen.sum) {
            Some((factor, new)) => {
                let gained = seen.sum - new.sum;
                let settled = gained <= SETTLED * seen.sum;
                (seen, damping) = (new, (damping * factor).max(1e-12));
                if settled {
                    return Descent { seen, used, ended: Ended::Settled };
                }
            }
            None => {
                damping *= 1e4;
                slopes = Some(matrix);
                if damping > MOST_DAMPING {
                    return Descent { seen, used, ended: Ended::NothingLower };
                }
            }
        }
    }
    Descent { seen, used, ended: Ended::OutOfSteps }
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

/// The best of some places. Where only shift and offset are found, nothing is solved again.
fn look(
    problem: &Problem<'_>,
    seen: &Seen,
    tried: &[(f64, Place)],
    used: &[usize],
) -> Option<(f64, Seen)> {
    let looked: Vec<Option<Seen>> = if problem.knobs.is_empty() {
        let again = |(_, place): &(f64, Place)| {
            Some(problem.against(place.clone(), Vec::new(), seen.solution.clone(), used))
        };
        tried.iter().map(again).collect()
    } else {
        let places: Vec<Place> = tried.iter().map(|(_, place)| place.clone()).collect();
        problem.look(&places, used)
    };
    let factors = tried.iter().map(|(factor, _)| *factor);
    let solved = factors.zip(looked).filter_map(|(factor, seen)| Some((factor, seen?)));
    solved.filter(|(_, s)| s.sum.is_finite()).min_by(|a, b| a.1.sum.total_cmp(&b.1.sum))
}

/// The places that each damping leads to.
fn trials(
    problem: &Problem<'_>,
    seen: &Seen,
    slopes: &DMatrix<f64>,
    damping: f64,
) -> Vec<(f64, Place)> {
    let residual = DVector::from_column_slice(&seen.residual);
    let free = free_columns(problem, seen, &(slopes.tr_mul(&residual)));
    if free.is_empty() {
        return Vec::new();
    }
    let matrix = slopes.select_columns(&free);
    let lengths: Vec<f64> = matrix.column_iter().map(|c| c.norm().max(f64::MIN_POSITIVE)).collect();
    let decomposed = matrix.qr();
    let mut turned = residual;
    decomposed.q_tr_mul(&mut turned);
    let upper = decomposed.r();
    let count = free.len();
    let step = |factor: f64| {
        let mut system = DMatrix::zeros(2 * count, count);
        system.view_mut((0, 0), (count, count)).copy_from(&upper);
        for (k, length) in lengths.iter().enumerate() {
            system[(count + k, k)] = (damping * factor).sqrt() * length;
        }
        let mut right = DVector::zeros(2 * count);
        right.rows_mut(0, count).copy_from(&turned.rows(0, count));
        let step = system.svd(true, true).solve(&right, 0.0).ok()?;
        Some((factor, moved(problem, &seen.place, &free, &step)))
    };
    DAMPINGS.into_iter().filter_map(step).collect()
}

/// The columns that may move: all but those of knobs that lie on a bound and are pushed outwards.
fn free_columns(problem: &Problem<'_>, seen: &Seen, push: &DVector<f64>) -> Vec<usize> {
    let aside = problem.aside();
    let free = |column: &usize| {
        let Some(k) = column.checked_sub(aside) else { return true };
        match bound_at(problem, &seen.place, k) {
            Some(Bound::Lower) => push[*column] > 0.0,
            Some(Bound::Upper) => push[*column] < 0.0,
            None => true,
        }
    };
    (0..aside + problem.knobs.len()).filter(free).collect()
}

/// Which bound a value lies on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bound {
    /// The lower one.
    Lower,
    /// The upper one.
    Upper,
}

/// The bound that knob `k` lies on at a place.
pub(super) fn bound_at(problem: &Problem<'_>, place: &Place, k: usize) -> Option<Bound> {
    let (knob, u) = (problem.knobs.get(k)?, place.u.get(k)?);
    let [low, high] = knob.ends();
    let near = ON_BOUND * (high - low);
    if *u <= low + near {
        Some(Bound::Lower)
    } else if *u >= high - near {
        Some(Bound::Upper)
    } else {
        None
    }
}

fn moved(problem: &Problem<'_>, from: &Place, free: &[usize], step: &DVector<f64>) -> Place {
    let mut place = from.clone();
    let aside = problem.aside();
    for (row, &column) in free.iter().enumerate() {
        let by = step[row];
        match column.checked_sub(aside) {
            Some(k) => {
                let [low, high] = problem.knobs[k].ends();
                place.u[k] = (place.u[k] + by).clamp(low, high);
            }
            None if column == 0 && problem.shift == Shift::Free => place.shift_s += by,
            None => place.offset_v += by,
        }
    }
    place
}
