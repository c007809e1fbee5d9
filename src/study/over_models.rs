//! `run --models`: each requirement judged with every model of a regulator, told where it is worst,
//! and whether that rests on the datasheet or on what is assumed inside.

use super::axis::level;
use super::carried::{carried, shots, worst_of};
use super::corners::{Place, has_limits, rejudged};
use super::in_parallel;
use super::models::Models;
use super::runner::{Forgetful, Ground, Halt, Runner, Watch};
use super::spread::rank_correlation;
use super::{Reading, Shot};
use crate::circuit::Change;
use crate::measure::{GoesWith, Measurement, OfModel, OverModels};
use crate::trial::{Outcome, RunOptions};

/// Fewer models than this tell nothing about what goes with what: of three, every second order of
/// ranks looks like a rule.
const FEWEST: usize = 4;
/// A measurement that moves by less than this share is the same with every model, but for rounding.
const MOVES: f64 = 1e-4;
/// Correlations closer than this are equal but for rounding.
const EQUAL: f64 = 1e-9;

/// Each outcome with its requirements judged at the worst of some models. `outcomes` were taken with
/// the best model, at the worst corners of each requirement where they were looked at; `ground` and
/// `options` have its changes. A corner found with the best model is tried with all of them.
///
/// # Errors
/// As [`Runner::new`] and [`Runner::run`].
pub fn over_models(
    ground: &Ground<'_>,
    tests: &[usize],
    outcomes: &[Outcome],
    options: &RunOptions,
    models: &Models,
) -> Result<Vec<Outcome>, Halt> {
    let solved = |k: &usize| outcomes[*k].failure.is_none() && has_limits(&outcomes[*k]);
    let which: Vec<usize> = (0..tests.len()).filter(solved).collect();
    let mut judged = outcomes.to_vec();
    if which.is_empty() {
        return Ok(judged);
    }
    let chosen: Vec<usize> = which.iter().map(|&k| tests[k]).collect();
    let runner = Runner::new(ground.clone(), &chosen, &Watch::Judged, &Forgetful)?;
    let trials = which.iter().zip(&chosen).map(|(&k, &test)| {
        Ok(Trial { test, of_best: &outcomes[k], rows: rows(&runner, models, test, &outcomes[k])? })
    });
    let trials = trials.collect::<Result<Vec<Trial<'_>>, Halt>>()?;
    // All at once, so that every core has work.
    runner.run(&trials.iter().flat_map(Trial::shots).collect::<Vec<Shot>>())?;
    let found = trials.iter().map(|trial| trial.over(&runner, models));
    let found = found.collect::<Result<Vec<Vec<OverModels>>, Halt>>()?;
    let again = in_parallel(trials.len(), ground.threads, |k| {
        trials[k].judged(&runner, &found[k], options)
    });
    for ((k, mut outcome), trial) in which.into_iter().zip(again).zip(&trials) {
        outcome.notes.insert(0, trial.told(models));
        judged[k] = outcome;
    }
    Ok(judged)
}

/// One test and what is to be run of it.
struct Trial<'o> {
    test: usize,
    /// As the best model makes it.
    of_best: &'o Outcome,
    /// For each requirement the changes of each model.
    rows: Vec<Vec<Vec<Change>>>,
}

fn rows(
    runner: &Runner<'_>,
    models: &Models,
    test: usize,
    of_best: &Outcome,
) -> Result<Vec<Vec<Vec<Change>>>, Halt> {
    let corner = |m: &Measurement| m.corner.clone().unwrap_or_default();
    limited(of_best).map(|m| carried(runner, models, test, &corner(m))).collect()
}

fn limited(outcome: &Outcome) -> impl Iterator<Item = &Measurement> {
    outcome.measurements.iter().filter(|m| m.limit.is_some())
}

impl Trial<'_> {
    fn shots(&self) -> impl Iterator<Item = Shot> {
        self.rows.iter().flat_map(|changes| shots(self.test, changes))
    }

    /// What each requirement comes to over the models, by single solutions.
    fn over(&self, runner: &Runner<'_>, models: &Models) -> Result<Vec<OverModels>, Halt> {
        let each = self.rows.iter().enumerate().map(|(row, changes)| {
            let readings = runner.run(&shots(self.test, changes).collect::<Vec<Shot>>())?;
            let worst = worst_of(&readings, row).unwrap_or(0);
            let each: Vec<OfModel> = models
                .list
                .iter()
                .zip(&readings)
                .map(|(model, reading)| of_model(&model.name, reading, row))
                .collect();
            let changes = changes.get(worst).cloned().unwrap_or_default();
            let goes_with = goes_with(models, &each);
            let missed = models.missed();
            Ok(OverModels { each, worst, changes, missed, goes_with })
        });
        each.collect()
    }

    /// The outcome with each requirement as its worst model makes it, solved as the test itself was.
    fn judged(&self, runner: &Runner<'_>, over: &[OverModels], options: &RunOptions) -> Outcome {
        // The best model has been solved like that already.
        let place = |of: &OverModels| (of.worst > 0).then(|| of.changes.clone());
        let places: Vec<Place> = over.iter().map(place).collect();
        let corners: Vec<_> = limited(self.of_best).map(|m| m.corner.clone()).collect();
        rejudged(runner, self.test, &places, self.of_best, options, |row, m| {
            m.corner = corners.get(row).cloned().flatten();
            let Some(of) = over.get(row) else { return };
            let mut of = of.clone();
            if let Some(worst) = of.each.get_mut(of.worst) {
                // Solved once, a verdict knows no uncertainty; this one does.
                (worst.value, worst.verdict) = (m.value, m.verdict);
            }
            m.over_models = Some(Box::new(of));
        })
    }

    fn told(&self, models: &Models) -> String {
        let words = models.described();
        let where_ = if limited(self.of_best).any(|m| m.corner.is_some()) {
            "each at the corner that is worst with the best model, whose own worst corners may lie \
             elsewhere"
        } else {
            "all else nominal"
        };
        format!(
            "judged with {words}, {where_}; what has no \
             limit, the picture and the waveforms are those of the best model, `{}`",
            models.name(0)
        )
    }
}

fn of_model(name: &str, reading: &Reading, row: usize) -> OfModel {
    let line = reading.line(row);
    OfModel { name: name.to_owned(), value: line.value, verdict: line.verdict }
}

/// The inner value whose order over the models is most like that of the measurement; of equal ones that
/// which differs most from model to model. `None` where the measurement hardly moves.
fn goes_with(models: &Models, each: &[OfModel]) -> Option<GoesWith> {
    let known: Vec<usize> = (0..each.len()).filter(|k| each[*k].value.is_some()).collect();
    if known.len() < FEWEST {
        return None;
    }
    let measured: Vec<f64> = known.iter().filter_map(|k| each[*k].value).collect();
    let ends = |values: &[f64]| {
        values
            .iter()
            .fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], v| [low.min(*v), high.max(*v)])
    };
    let [low, high] = ends(&measured);
    if high - low <= MOVES * high.abs().max(low.abs()) {
        return None;
    }
    let mut found: Option<(f64, f64, &str)> = None;
    for change in models.best() {
        let value = |k: &usize| {
            let set = models.list.get(*k)?.changes.iter().rev().find(|c| c.path == change.path)?;
            level(&set.text).map(|(value, _)| value)
        };
        let Some(inner) = known.iter().map(value).collect::<Option<Vec<f64>>>() else { continue };
        let Some(rho) = rank_correlation(&inner, &measured) else { continue };
        let [low, high] = ends(&inner);
        let differs = (high - low) / high.abs().max(low.abs());
        let more = |(known, known_differs, _): (f64, f64, &str)| {
            let apart = rho.abs() - known.abs();
            apart > EQUAL || (apart > -EQUAL && differs > known_differs)
        };
        if found.is_none_or(more) {
            found = Some((rho, differs, &change.path));
        }
    }
    found.map(|(rank_correlation, _, path)| GoesWith { path: path.to_owned(), rank_correlation })
}
