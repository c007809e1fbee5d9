//! Several models of one regulator in a spread: each run draws one, every worst vertex is tried with
//! all of them.

use super::{Draw, Share, fails};
use crate::study::carried::{carried, shots, worst_of};
use crate::study::models::Models;
use crate::study::worst::{Worst, WorstOfTest};
use crate::study::{Halt, Reading, Runner, Shot};

/// Runs a model below which the variance between models tells more about chance.
const RUNS_EACH: usize = 5;

/// The runs of one model.
#[derive(Clone, Debug, PartialEq)]
pub struct ModelShare {
    /// Its name.
    pub name: String,
    /// How many of the runs that drew it fail.
    pub share: Share,
}

/// Tries all models at the worst vertex of each requirement, which was found with the best one.
pub(super) fn try_all(
    runner: &Runner<'_>,
    models: &Models,
    extremes: &mut [WorstOfTest],
) -> Result<(), Halt> {
    let mut places = Vec::new();
    for (which, of) in extremes.iter().enumerate() {
        for (row, worst) in of.rows.iter().enumerate() {
            places.push((which, row, carried(runner, models, of.test, &worst.changes)?));
        }
    }
    let all = places.iter().flat_map(|(which, _, changes)| shots(extremes[*which].test, changes));
    let readings = runner.run(&all.collect::<Vec<Shot>>())?;
    let of_each = readings.chunks(models.count().max(1));
    for ((which, row, mut changes), readings) in places.into_iter().zip(of_each) {
        let Some(worst) = worst_of(readings, row).filter(|k| *k < changes.len()) else { continue };
        let of = &mut extremes[which];
        of.runs += readings.len();
        let (line, failure) = (readings[worst].line(row), readings[worst].failure.clone());
        of.rows[row] = Worst { line, changes: changes.swap_remove(worst), failure };
    }
    Ok(())
}

/// The yield of each model over the runs that drew it.
pub(super) fn shares(models: &Models, draws: &[Draw], readings: &[Reading]) -> Vec<ModelShare> {
    let of = |model: usize| {
        let runs = draws.iter().zip(readings).filter(|(draw, _)| draw.model == Some(model));
        Share::count(runs.map(|(_, reading)| fails(reading.verdict)))
    };
    let each = models.list.iter().enumerate();
    each.map(|(k, model)| ModelShare { name: model.name.clone(), share: of(k) }).collect()
}

/// The share of a measurement's variance that lies between the models, from 0 to 1: the correlation
/// ratio without its bias (Kelley, Proc. Natl. Acad. Sci. 21 (1935)). `None` where nothing varies or
/// runs are too few.
pub(super) fn between(
    models: usize,
    drawn: &[Option<usize>],
    values: &[Option<f64>],
) -> Option<f64> {
    let mut groups: Vec<Vec<f64>> = vec![Vec::new(); models];
    for (model, value) in drawn.iter().zip(values) {
        if let (Some(group), Some(value)) = (model.and_then(|k| groups.get_mut(k)), value) {
            group.push(*value);
        }
    }
    groups.retain(|group| !group.is_empty());
    let count: usize = groups.iter().map(Vec::len).sum();
    if groups.len() < 2 || count < RUNS_EACH * groups.len() {
        return None;
    }
    let squares = |values: &[f64]| {
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        values.iter().map(|v| (v - mean).powi(2)).sum::<f64>()
    };
    let whole = squares(&groups.concat());
    let within: f64 = groups.iter().map(|group| squares(group)).sum();
    let ratio = (within / (count - groups.len()) as f64) / (whole / (count - 1) as f64);
    ratio.is_finite().then(|| (1.0 - ratio).clamp(0.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::between;

    /// Two groups a distance d apart, each spread evenly over a width w: d²/4 between, w²/12 within.
    #[test]
    fn exact_share_of_variance_between_two_groups() {
        let count = 4000_usize;
        let drawn: Vec<Option<usize>> = (0..count).map(|k| Some(k % 2)).collect();
        let evenly = |k: usize| ((k / 2) as f64 + 0.5) / (count / 2) as f64;
        let value = |k: usize| (k % 2) as f64 * 0.5 + evenly(k);
        let values: Vec<Option<f64>> = (0..count).map(|k| Some(value(k))).collect();
        let expected = (0.25 / 4.0) / (0.25 / 4.0 + 1.0 / 12.0);
        let found = between(2, &drawn, &values).unwrap_or_default();
        // What the correction for the number of groups takes off is of the order 1/count.
        assert!((found - expected).abs() < 1e-3, "{found} {expected}");
        let apart: Vec<Option<f64>> = (0..count).map(|k| Some((k % 2) as f64)).collect();
        assert_eq!(between(2, &drawn, &apart), Some(1.0));
    }

    #[test]
    fn nothing_is_said_of_few_runs_or_of_one_model() {
        let values: Vec<Option<f64>> = (0..8).map(|k| Some(f64::from(k))).collect();
        let drawn: Vec<Option<usize>> = (0..8).map(|k| Some(k % 2)).collect();
        assert_eq!(between(2, &drawn, &values), None);
        let values: Vec<Option<f64>> = (0..80).map(|k| Some(f64::from(k))).collect();
        assert_eq!(between(1, &[Some(0); 80], &values), None);
        let drawn: Vec<Option<usize>> = (0..80).map(|k| Some(k % 2)).collect();
        assert_eq!(between(2, &drawn, &[Some(2.5); 80]), None);
        // Next to nothing lies between models that alternate along a slope.
        assert!(between(2, &drawn, &values).is_some_and(|share| share < 0.01));
    }
}
