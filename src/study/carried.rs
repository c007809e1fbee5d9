//! A worst case carried over from the best of several models of a regulator to the others, and which of
//! them is worst there.

use super::models::{Candidate, Models};
use super::runner::{Halt, Runner};
use super::worst::{badness, environment, scatters};
use super::{Reading, Shot};
use crate::circuit::Change;

/// A worst case that was found with the best model, for each of the models: what the environment was
/// stays, and each tolerance is turned to the same side of what it is about there.
///
/// # Errors
/// As [`environment`].
pub(super) fn carried(
    runner: &Runner<'_>,
    models: &Models,
    test: usize,
    worst: &[Change],
) -> Result<Vec<Vec<Change>>, Halt> {
    let corner = environment(runner, test)?.first().map_or(0, Vec::len).min(worst.len());
    let (corner, turned) = worst.split_at(corner);
    let there = scatters(runner, test, models.best(), corner);
    let sides = there.sides(turned);
    let side = |path: &str| {
        let mut known = there.list.iter().zip(&sides);
        known.find(|(scatter, _)| scatter.path == path).map_or(0.0, |(_, side)| *side)
    };
    let with = |model: &Candidate| {
        let mut changes = model.changes.clone();
        changes.extend_from_slice(corner);
        if !turned.is_empty() {
            let here = scatters(runner, test, &model.changes, corner);
            let at: Vec<f64> = here.list.iter().map(|s| side(&s.path)).collect();
            changes.extend(here.changes(&at));
        }
        changes
    };
    Ok(models.list.iter().map(with).collect())
}

/// Which of some readings is worst in one of their rows, the first of equal ones; `None` of none.
pub(super) fn worst_of(readings: &[Reading], row: usize) -> Option<usize> {
    let mut worst: Option<(f64, usize)> = None;
    for (k, reading) in readings.iter().enumerate() {
        let badness = badness(&reading.line(row));
        if worst.is_none_or(|(known, _)| badness > known) {
            worst = Some((badness, k));
        }
    }
    worst.map(|(_, k)| k)
}

/// The shots of one test under several lists of changes.
pub(super) fn shots(test: usize, changes: &[Vec<Change>]) -> impl Iterator<Item = Shot> + '_ {
    changes.iter().map(move |changes| Shot { test, changes: changes.clone() })
}
