//! The order of those that meet everything: margin first up to what is enough, then cost.

use super::candidates::Candidate;
use super::fate::{Fate, Searched};
use super::held::Spot;
use super::search::Search;
use std::cmp::Ordering;
use std::collections::BTreeMap;

/// Least margin from which a candidate is not preferred for having more: that below which a
/// requirement is only marginally met.
pub const ENOUGH: f64 = 0.1;
/// Of the best least margin, what is enough where nobody reaches [`ENOUGH`].
const NEARLY_BEST: f64 = 0.9;

/// A requirement whose margin differs by less over all that are left does not tell them apart.
const ALIKE: f64 = 0.01;

/// A candidate and what came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// Who.
    pub candidate: Candidate,
    /// Whether it meets everything that counts.
    pub fate: Fate,
    /// Of the requirements that rank, the one with the least margin (an index), and where that is.
    pub nearest: Option<(usize, Spot)>,
    /// How far the search went.
    pub searched: Searched,
    /// The nearest candidate that was rejected, along one of what is tuned: which, and its value over
    /// this one's.
    pub edge: Option<(usize, f64)>,
}

impl Standing {
    /// Least margin; infinite where no requirement has a scale.
    pub fn margin(&self) -> f64 {
        self.nearest.as_ref().map_or(f64::INFINITY, |(_, spot)| spot.score())
    }
}

impl Search<'_, '_> {
    /// The requirements that rank: those that count, without what all that are left meet alike.
    /// All that count where nothing else is left.
    pub(super) fn ranked(&self) -> Vec<bool> {
        let alive = self.alive();
        let differs = |row: usize| {
            let scores =
                alive.iter().filter_map(|&k| Some(self.held[k].spots[row].as_ref()?.score()));
            let finite = scores.filter(|score| score.is_finite());
            let ends = finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), score| {
                (low.min(score), high.max(score))
            });
            ends.1 - ends.0 >= ALIKE
        };
        let ranked: Vec<bool> =
            self.active.iter().enumerate().map(|(row, active)| *active && differs(row)).collect();
        if ranked.contains(&true) { ranked } else { self.active.clone() }
    }

    fn margin(&self, k: usize, ranked: &[bool]) -> f64 {
        self.held[k].nearest(ranked).map_or(f64::INFINITY, |(_, score)| score)
    }

    /// Least margin from which cost decides.
    pub(super) fn enough(&self) -> f64 {
        let ranked = self.ranked();
        let best = self.alive().into_iter().map(|k| self.margin(k, &ranked)).fold(0.0, f64::max);
        ENOUGH.min(NEARLY_BEST * best)
    }

    /// What all that are left meet alike: the requirement with the least margin, and that margin.
    pub(super) fn alike(&self) -> Option<(usize, f64)> {
        let ranked = self.ranked();
        let others: Vec<bool> =
            self.active.iter().zip(&ranked).map(|(active, ranked)| *active && !*ranked).collect();
        let least = self.alive().into_iter().filter_map(|k| self.held[k].nearest(&others));
        least.min_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// Those that meet everything, the best first.
    pub(super) fn ranking(&self) -> Vec<usize> {
        let (enough, ranked) = (self.enough(), self.ranked());
        let order = |&a: &usize, &b: &usize| {
            let (of_a, of_b) = (self.margin(a, &ranked), self.margin(b, &ranked));
            let by_margin = of_b.total_cmp(&of_a);
            let by_cost = cost(&self.candidates[a], &self.candidates[b]);
            let rest = match (of_a >= enough, of_b >= enough) {
                (true, true) => by_cost.then(by_margin),
                (true, false) => Ordering::Less,
                (false, true) => Ordering::Greater,
                (false, false) => by_margin.then(by_cost),
            };
            rest.then(a.cmp(&b))
        };
        let mut ranking = self.alive();
        ranking.sort_by(order);
        ranking
    }

    /// All of them with what came of each.
    pub(super) fn standings(&self) -> Vec<Standing> {
        let places: BTreeMap<&[usize], usize> =
            self.candidates.iter().enumerate().map(|(k, c)| (c.places.as_slice(), k)).collect();
        let ranked = self.ranked();
        let standing = |(k, candidate): (usize, &Candidate)| {
            let nearest = self.held[k].nearest(&ranked);
            let spot = |(row, _): (usize, f64)| Some((row, self.held[k].spots[row].clone()?));
            Standing {
                candidate: candidate.clone(),
                fate: self.fates[k].clone(),
                nearest: nearest.and_then(spot),
                searched: self.searched[k],
                edge: self.edge(candidate, &places),
            }
        };
        self.candidates.iter().enumerate().map(standing).collect()
    }

    fn edge(
        &self,
        candidate: &Candidate,
        places: &BTreeMap<&[usize], usize>,
    ) -> Option<(usize, f64)> {
        let mut found: Vec<(usize, f64)> = Vec::new();
        for axis in 0..candidate.places.len() {
            for up in [false, true] {
                found.extend(self.edge_along(candidate, places, axis, up));
            }
        }
        let far = |ratio: f64| if ratio > 0.0 { ratio.ln().abs() } else { f64::INFINITY };
        found.into_iter().min_by(|a, b| far(a.1).total_cmp(&far(b.1)))
    }

    fn edge_along(
        &self,
        candidate: &Candidate,
        places: &BTreeMap<&[usize], usize>,
        axis: usize,
        up: bool,
    ) -> Option<(usize, f64)> {
        let mut at = candidate.places.clone();
        loop {
            at[axis] = if up { at[axis] + 1 } else { at[axis].checked_sub(1)? };
            let other = *places.get(at.as_slice())?;
            if self.fates[other] != Fate::Meets {
                return Some((axis, self.candidates[other].values[axis] / candidate.values[axis]));
            }
        }
    }
}

/// Smaller, then fewer.
fn cost(a: &Candidate, b: &Candidate) -> Ordering {
    a.size_fv.total_cmp(&b.size_fv).then(a.count.total_cmp(&b.count))
}
