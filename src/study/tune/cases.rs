//! Places at which a candidate is tried: a corner of the environment with tolerances at limits. A
//! place is told by positions, not by values, so that the tolerance of what is tuned moves with it.

use crate::circuit::Change;
use crate::study::runner::Runner;
use crate::study::scatter::Scatters;
use crate::study::worst::scatters;

/// Where a reading was taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stage {
    /// With nothing but the candidate changed.
    Nominal,
    /// At a corner of the environment.
    Corners,
    /// At limits of tolerances too.
    Tolerances,
}

impl Stage {
    /// In words that follow "missed".
    pub fn words(self) -> &'static str {
        match self {
            Self::Nominal => "at nominal values",
            Self::Corners => "at a corner",
            Self::Tolerances => "at limits of tolerances",
        }
    }
}

/// One place.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Case {
    /// In which test.
    pub(super) test: usize,
    /// Of the environment.
    pub(super) corner: Vec<Change>,
    /// Position (-1 or 1) of each tolerance that is not at its nominal place.
    pub(super) positions: Vec<(String, f64)>,
}

impl Case {
    pub(super) fn nominal(test: usize) -> Self {
        Self { test, corner: Vec::new(), positions: Vec::new() }
    }

    pub(super) fn stage(&self) -> Stage {
        match (self.corner.is_empty(), self.positions.is_empty()) {
            (true, true) => Stage::Nominal,
            (false, true) => Stage::Corners,
            _ => Stage::Tolerances,
        }
    }

    /// What it changes, over a candidate's own changes.
    pub(super) fn over(&self, runner: &Runner<'_>, base: &[Change]) -> Vec<Change> {
        let mut over = self.corner.clone();
        if !self.positions.is_empty() {
            let scatters = scatters(runner, self.test, base, &self.corner);
            over.extend(scatters.changes(&at(&scatters, &self.positions)));
        }
        over
    }
}

fn at(scatters: &Scatters<'_>, positions: &[(String, f64)]) -> Vec<f64> {
    let of = |path: &str| positions.iter().find(|(p, _)| p == path).map_or(0.0, |(_, at)| *at);
    scatters.list.iter().map(|scatter| of(&scatter.path)).collect()
}

/// The place at which the worst of a requirement was found with `base` set: `over` begins with a
/// corner of the environment, and tolerances at their limits follow.
pub(super) fn case_of(
    runner: &Runner<'_>,
    test: usize,
    base: &[Change],
    over: &[Change],
    corners: &[Vec<Change>],
) -> Case {
    let is_start = |corner: &&Vec<Change>| over.starts_with(corner);
    let corner = corners.iter().filter(is_start).max_by_key(|c| c.len());
    let corner = corner.cloned().unwrap_or_default();
    let rest = over.get(corner.len()..).unwrap_or_default();
    if rest.is_empty() {
        return Case { test, corner, positions: Vec::new() };
    }
    let scatters = scatters(runner, test, base, &corner);
    let mut at = vec![0.0; scatters.list.len()];
    for k in 0..at.len() {
        let path = &scatters.list[k].path;
        let Some(wanted) = rest.iter().find(|change| change.path == *path) else { continue };
        // What follows others is told apart by its text once those stand.
        at[k] = 1.0;
        let is_upper =
            scatters.changes(&at).iter().any(|c| c.path == *path && c.text == wanted.text);
        at[k] = if is_upper { 1.0 } else { -1.0 };
    }
    let list = scatters.list.iter().zip(&at).filter(|(_, at)| **at != 0.0);
    let positions = list.map(|(scatter, at)| (scatter.path.clone(), *at)).collect();
    Case { test, corner, positions }
}
