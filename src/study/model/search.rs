//! The best model: descents from where the values are expected and from places spread around it.

use super::question::{Question, Seen};
use crate::study::least_squares::{Ended, LeastSquares, descend, spread};
use crate::study::spread::random::uniform;

/// Starting places looked at, the expected one among them.
const CANDIDATES: usize = 12;
/// So many of the best are followed to their end.
const STARTS: usize = 3;
/// The same when it must be quick.
const QUICK_CANDIDATES: usize = 6;
const QUICK_STARTS: usize = 2;
/// Starts lie within so many spreads of what is expected, either side.
const REACH: f64 = 1.5;
/// A descent that ends with no more than this above the best root mean square agrees with it: a
/// twentieth of what a point may differ.
const AGREES: f64 = 0.05;

/// What came of the search.
pub(super) struct Search {
    pub(super) best: Seen,
    pub(super) ended: Ended,
    /// Descents, and how many of them came to a model as good.
    pub(super) starts: usize,
    pub(super) agreed: usize,
}

/// # Errors
/// Why no place could be measured at all.
pub(super) fn search(question: &Question<'_>, seed: u64, quick: bool) -> Result<Search, String> {
    let (candidates, starts) =
        if quick { (QUICK_CANDIDATES, QUICK_STARTS) } else { (CANDIDATES, STARTS) };
    let mut places = vec![question.expected()];
    if !question.sought.is_empty() {
        places.extend((1..candidates as u32).map(|k| around(question, seed, k)));
    }
    let mut seen = question.look_from(None, &places);
    let reason = seen.iter().flat_map(|s| &s.got).find_map(|g| g.as_ref().err().cloned());
    seen.retain(|s| s.got.iter().any(Result::is_ok) || s.got.is_empty());
    if seen.is_empty() {
        return Err(reason.unwrap_or_else(|| "no point could be measured".to_owned()));
    }
    // The first stands for what is expected; sorting keeps it ahead of those that are no better.
    let first = seen.remove(0);
    seen.sort_by(|a, b| a.sum.total_cmp(&b.sum));
    let better = seen.iter().take(starts - 1).filter(|s| s.sum < first.sum).count();
    seen.insert(better, first);
    let followed: Vec<(Seen, Ended)> =
        seen.into_iter().take(starts).map(|start| descend(question, start)).collect();
    let count = followed.len();
    let best = followed.iter().min_by(|a, b| a.0.sum.total_cmp(&b.0.sum));
    let (best, ended) = best.cloned().ok_or("nothing could be solved")?;
    let limit = question.misfit(&best) + AGREES;
    let agreed = followed.iter().filter(|(seen, _)| question.misfit(seen) <= limit).count();
    Ok(Search { best, ended, starts: count, agreed })
}

/// The `k`th start: Halton's point, moved by what the seed says and wrapped, over so many spreads
/// around what is expected.
fn around(question: &Question<'_>, seed: u64, k: u32) -> Vec<f64> {
    let unit = vec![[0.0, 1.0]; question.sought.len()];
    let shares = spread(&unit, k);
    let place = question.sought.iter().zip(shares).zip(question.ends());
    let at = place.map(|((s, share), [low, high])| {
        let moved = (share + uniform(seed, &s.knob.path, 1)).fract();
        (s.expected + REACH * s.spread * (2.0 * moved - 1.0)).clamp(low, high)
    });
    at.collect()
}
