//! What a datasheet leaves open: models that meet its points as well as the best one, as far apart as
//! they get.

use super::linear::reach;
use super::question::{Question, Seen, Sought};
use super::walk::{Walk, Walked};
use crate::study::in_parallel;
use crate::study::least_squares::{Bound, LeastSquares};
use crate::study::spread::random::uniform;
use nalgebra::DMatrix;

/// Where the best model misses a point, others may miss it by this factor more.
const NO_WORSE: f64 = 1.1;
/// A model must stay believable: no value farther from what was expected than so many spreads, unless
/// the best one's own is.
const BELIEVABLE: f64 = 2.0;
/// Places that a walk aims at, at the most.
const MOST_AIMED: usize = 12;
const QUICK_AIMED: usize = 4;
/// Combinations of two ends that are looked at, to see models inside the rim too.
const MIXTURES: u64 = 16;
/// A value spans more than this factor: undetermined.
pub const UNDETERMINED: f64 = 10.0;

/// A model that is as good as the best.
#[derive(Clone, Debug)]
pub(super) struct Equal {
    /// `mid_gain lowest`
    pub(super) name: String,
    pub(super) seen: Seen,
}

/// How far one value can go.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Least value of all models found, SI.
    pub low: f64,
    /// Greatest.
    pub high: f64,
    /// Whether a walk came as low, and as high, as one can believe.
    pub at_bound: [bool; 2],
}

impl Interval {
    /// Whether the datasheet leaves it open: as far as one can believe, or over a factor of ten.
    pub fn is_undetermined(&self) -> bool {
        self.at_bound == [true, true] || (self.low > 0.0 && self.high > UNDETERMINED * self.low)
    }
}

/// All models found, and the interval of each value sought.
pub(super) struct Freedom {
    /// The best one first.
    pub(super) models: Vec<Equal>,
    pub(super) intervals: Vec<Interval>,
}

/// What each point may be off for a model to count as good as the best.
pub(super) fn limits(question: &Question<'_>, best: &Seen) -> Vec<f64> {
    let limit = |(k, r): (usize, &f64)| {
        if question.left_out.contains(&k) { f64::INFINITY } else { (NO_WORSE * r.abs()).max(1.0) }
    };
    best.residual[..question.points().len()].iter().enumerate().map(limit).collect()
}

/// Between what each value may go.
fn believable(question: &Question<'_>, best: &Seen) -> Vec<[f64; 2]> {
    let one = |((s, u), [low, high]): ((&Sought, &f64), [f64; 2])| {
        let way = BELIEVABLE * s.spread;
        [(s.expected - way).min(*u).max(low), (s.expected + way).max(*u).min(high)]
    };
    question.sought.iter().zip(&best.u).zip(question.ends()).map(one).collect()
}

/// Walks outward from the best model, each value to both sides.
pub(super) fn freedom(
    question: &Question<'_>,
    (best, slopes): (&Seen, &DMatrix<f64>),
    (seed, quick): (u64, bool),
) -> Freedom {
    let (limits, ends) = (limits(question, best), believable(question, best));
    // Walks go side by side, so that each may take its steps one after the other.
    let alone = Question { threads: 1, left_out: question.left_out.clone(), ..*question };
    let most = if quick { QUICK_AIMED } else { MOST_AIMED };
    let walk = Walk { question: &alone, limits: &limits, ends: &ends, most };
    let sides = [Bound::Lower, Bound::Upper];
    let walked = in_parallel(2 * ends.len(), question.threads, |j| {
        walk.walk((best, slopes), j / 2, sides[j % 2])
    });
    let mut models = vec![Equal { name: "best".to_owned(), seen: best.clone() }];
    for (j, walk) in walked.iter().enumerate() {
        let Some(end) = walk.accepted.last() else { continue };
        let path = &question.sought[j / 2].knob.path;
        let own = path.rsplit('.').next().unwrap_or(path);
        let word = if j % 2 == 0 { "lowest" } else { "highest" };
        models.push(Equal { name: format!("{own} {word}"), seen: end.clone() });
    }
    if !quick {
        models.extend(mixtures(question, &models, (&limits, &ends), seed));
    }
    let all: Vec<&Seen> = walked
        .iter()
        .flat_map(|w| &w.accepted)
        .chain(models.iter().map(|model| &model.seen))
        .collect();
    let intervals = (0..ends.len()).map(|k| interval(question, &all, &walked, k)).collect();
    Freedom { models, intervals }
}

fn interval(question: &Question<'_>, all: &[&Seen], walked: &[Walked<Seen>], k: usize) -> Interval {
    let values: Vec<f64> = all.iter().map(|seen| question.sought[k].knob.at(seen.u[k])).collect();
    let at_bound = [2 * k, 2 * k + 1].map(|j| walked.get(j).is_some_and(|w| w.at_bound));
    Interval {
        low: values.iter().copied().fold(f64::INFINITY, f64::min),
        high: values.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        at_bound,
    }
}

/// Random shares of the ways to two ends at once; those that meet the points.
fn mixtures(
    question: &Question<'_>,
    models: &[Equal],
    (limits, bounds): (&[f64], &[[f64; 2]]),
    seed: u64,
) -> Vec<Equal> {
    let Some((best, ends)) = models.split_first().filter(|(_, ends)| ends.len() > 1) else {
        return Vec::new();
    };
    let place = |n: u64| {
        let draw = |what: &str| uniform(seed, what, n);
        let pick = |what: &str| {
            let k = (draw(what) * ends.len() as f64) as usize;
            &ends[k.min(ends.len() - 1)].seen.u
        };
        let (a, b) = (pick("first end"), pick("second end"));
        let (to_a, to_b) = (draw("way to the first"), draw("way to the second"));
        let mixed = best.seen.u.iter().zip(a).zip(b).zip(bounds);
        let at = mixed.map(|(((u, a), b), [low, high])| {
            (u + to_a * (a - u) + to_b * (b - u)).clamp(*low, *high)
        });
        at.collect()
    };
    let places: Vec<Vec<f64>> = (1..=MIXTURES).map(place).collect();
    let looked = question.look_from(Some(&best.seen), &places);
    let met = looked.into_iter().filter(|seen| reach(&seen.residual, limits) <= 1.0);
    met.enumerate().map(|(k, seen)| Equal { name: format!("mixture {}", k + 1), seen }).collect()
}
