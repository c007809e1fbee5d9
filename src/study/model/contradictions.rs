//! Points that no model meets: which of them, left out, lets all others be met, and against whom it
//! stands.

use super::linear::{Linear, reach};
use super::question::{Question, Seen};
use crate::study::least_squares::{LeastSquares, descend};
use nalgebra::DMatrix;

/// A point stands against another that takes at least this share of its pull.
const AGAINST: f64 = 0.2;
/// Leaving a point out is tried by a fit where the linear problem sees all others within this many
/// times what is accepted: it knows nothing of bends.
const WORTH_TRYING: f64 = 2.0;
/// Fits that are made for it, at the most.
const MOST_FITS: usize = 2;
/// So many of the missed points are looked at together with each other one.
const MOST_PAIRED: usize = 8;
/// Steps of each: they start where all but one point is nearly met.
const PATIENCE: usize = 4;

/// Points that cannot be met together with the others.
#[derive(Clone, Debug, PartialEq)]
pub struct Contradiction {
    /// Those that, left out, let all others be met: indices of points.
    pub points: Vec<usize>,
    /// Those against which they stand.
    pub against: Vec<usize>,
    /// What the model of all others has for each of `points`.
    pub instead: Vec<Option<f64>>,
    /// Whether all others are met without them; otherwise they are all that the best model misses.
    pub resolves: bool,
}

/// The smallest set found, `None` where all points are met.
pub(super) fn contradiction(
    question: &Question<'_>,
    best: &Seen,
    slopes: &DMatrix<f64>,
) -> Option<Contradiction> {
    let count = question.points().len();
    let missed: Vec<usize> = (0..count).filter(|k| best.residual[*k].abs() > 1.0).collect();
    if missed.is_empty() {
        return None;
    }
    let mut candidates: Vec<(f64, Vec<usize>)> = Vec::new();
    let singles = (0..count).map(|k| vec![k]);
    // Of what is missed by most one is in any pair that is worth a try.
    let mut worst = missed.clone();
    worst.sort_by(|a, b| best.residual[*b].abs().total_cmp(&best.residual[*a].abs()));
    worst.truncate(MOST_PAIRED);
    let pairs =
        worst.iter().flat_map(|&a| (0..count).filter(move |b| *b != a).map(move |b| vec![a, b]));
    for set in singles.chain(pairs) {
        candidates.push((without(question, best, slopes, &set), set));
    }
    // Smaller sets first, of equal size the one that leaves the others nearest.
    candidates.sort_by(|a, b| a.1.len().cmp(&b.1.len()).then(a.0.total_cmp(&b.0)));
    let worth = candidates.into_iter().filter(|(reached, _)| *reached <= WORTH_TRYING);
    for (_, set) in worth.take(MOST_FITS) {
        let question = Question { left_out: set.clone(), patience: PATIENCE, ..*question };
        let (seen, _) = descend(&question, question.again(best));
        if seen.residual[..count].iter().all(|r| r.abs() <= 1.0) {
            return Some(told(&question, best, slopes, (set, &seen), true));
        }
    }
    Some(told(question, best, slopes, (missed, best), false))
}

fn told(
    question: &Question<'_>,
    best: &Seen,
    slopes: &DMatrix<f64>,
    (points, seen): (Vec<usize>, &Seen),
    resolves: bool,
) -> Contradiction {
    let instead = points.iter().map(|k| seen.got[*k].as_ref().ok().copied()).collect();
    let against = against(question.points().len(), best, slopes, &points);
    Contradiction { points, against, instead, resolves }
}

/// How near the worst of the other points lies to what is accepted in the linear problem.
fn without(question: &Question<'_>, best: &Seen, slopes: &DMatrix<f64>, set: &[usize]) -> f64 {
    let count = question.points().len();
    let limit = |k: usize| if set.contains(&k) { 1e9 } else { 1.0 };
    let limits: Vec<f64> = (0..count).map(limit).collect();
    let (at, ends) = (question.at(best), question.ends());
    let residual = &best.residual;
    let problem = Linear { at: &at, residual, slopes, ends: &ends, limits: &limits };
    reach(&problem.follow(None).1, &limits)
}

/// At the best model the pulls of all points cancel: who takes the pull of these.
fn against(count: usize, best: &Seen, slopes: &DMatrix<f64>, points: &[usize]) -> Vec<usize> {
    let pull = |k: usize| slopes.row(k).transpose() * best.residual[k];
    let own = points.iter().map(|k| pull(*k)).reduce(|a, b| a + b);
    let Some(own) = own.filter(|own| own.norm() > 0.0) else { return Vec::new() };
    let share = |k: usize| -pull(k).dot(&own) / own.norm_squared();
    let mut found: Vec<usize> =
        (0..count).filter(|k| !points.contains(k) && share(*k) >= AGAINST).collect();
    found.sort_by(|a, b| share(*b).total_cmp(&share(*a)));
    found
}
