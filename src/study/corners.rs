//! `run --corners`: a test at every corner of its environment and at the worst vertex of its
//! tolerances, each requirement judged where it is worst.

use super::in_parallel;
use super::runner::{Forgetful, Ground, Halt, Runner, Watch};
use super::shot::Shot;
use super::worst::{Depth, Worst, environment, worst};
use crate::circuit::Change;
use crate::curve::{Cell, Listing};
use crate::measure::{Measurement, Verdict, overall};
use crate::trial::{Outcome, RunOptions};

/// Each outcome, which was taken with nothing changed, with its requirements judged at their worst
/// corners. `outcomes` belong to the tests of these indices; `options` are those they were run with.
///
/// What has no limit stays as it was. A worst corner is solved as the test itself was, so that its
/// uncertainty is known; with `options.quick` tolerances are searched one vertex deep only.
///
/// # Errors
/// As [`Runner::new`] and [`Runner::run`].
pub fn at_corners(
    ground: &Ground<'_>,
    tests: &[usize],
    outcomes: &[Outcome],
    options: &RunOptions,
) -> Result<Vec<Outcome>, Halt> {
    let solved = |k: &usize| outcomes[*k].failure.is_none() && has_limits(&outcomes[*k]);
    let which: Vec<usize> = (0..tests.len()).filter(solved).collect();
    let mut judged = outcomes.to_vec();
    if which.is_empty() {
        return Ok(judged);
    }
    let chosen: Vec<usize> = which.iter().map(|&k| tests[k]).collect();
    let runner = Runner::new(ground.clone(), &chosen, &Watch::Judged, &Forgetful)?;
    let depth = if options.quick { Depth::Signs } else { Depth::Searched };
    let found = worst(&runner, &chosen, &[], depth)?;
    let again = in_parallel(found.len(), ground.threads, |k| {
        let rows = found[k].rows.as_slice();
        judged_at(&runner, chosen[k], rows, &outcomes[which[k]], options)
    });
    for ((k, outcome), of_test) in which.into_iter().zip(again).zip(&found) {
        let mut outcome = outcome;
        outcome.listings.insert(0, corners_table(&runner, of_test.test)?);
        outcome.notes.insert(0, told(&runner, of_test.test, of_test.runs)?);
        judged[k] = outcome;
    }
    Ok(judged)
}

/// Whether anything of it is judged.
pub(super) fn has_limits(outcome: &Outcome) -> bool {
    outcome.measurements.iter().any(|m| m.limit.is_some())
}

/// Where a requirement is judged; `None` where it stays as it was solved.
pub(super) type Place = Option<Vec<Change>>;

/// The outcome with each requirement as it is at its worst corner.
fn judged_at(
    runner: &Runner<'_>,
    test: usize,
    rows: &[Worst],
    nominal: &Outcome,
    options: &RunOptions,
) -> Outcome {
    let place = |worst: &Worst| Some(worst.changes.clone()).filter(|c| !c.is_empty());
    let places: Vec<Place> = rows.iter().map(place).collect();
    rejudged(runner, test, &places, nominal, options, |row, m| {
        m.corner = rows.get(row).map(|worst| worst.changes.clone());
    })
}

/// The outcome with each requirement solved and judged again at its place; `tell` marks each of them,
/// by its row.
pub(super) fn rejudged(
    runner: &Runner<'_>,
    test: usize,
    places: &[Place],
    nominal: &Outcome,
    options: &RunOptions,
    tell: impl Fn(usize, &mut Measurement),
) -> Outcome {
    let mut judged = nominal.clone();
    let all = judged.measurements.iter_mut().enumerate();
    let with_limit = all.filter(|(_, m)| m.limit.is_some());
    let mut solved: Vec<(&[Change], Result<Outcome, String>)> = Vec::new();
    let mut failure = None;
    for (row, ((k, measurement), place)) in with_limit.zip(places).enumerate() {
        let Some(changes) = place.as_deref() else {
            tell(row, measurement);
            continue;
        };
        if !solved.iter().any(|(known, _)| *known == changes) {
            solved.push((changes, runner.outcome_with(test, changes, options)));
        }
        match solved.iter().find(|(known, _)| *known == changes).map(|(_, outcome)| outcome) {
            Some(Ok(outcome)) => {
                // The rows of a test are the same at every corner.
                if let Some(found) = outcome.measurements.get(k) {
                    *measurement = found.clone();
                }
                if let Some(why) = &outcome.failure {
                    measurement.reason = Some(format!("not solved there: {}", why.message));
                    failure = Some(why.clone());
                }
            }
            Some(Err(why)) => {
                (measurement.value, measurement.verdict) = (None, Verdict::Error);
                measurement.reason = Some(why.clone());
            }
            None => {}
        }
        tell(row, measurement);
    }
    judged.verdict = overall(&judged.measurements);
    if let Some(failure) = failure {
        judged.failure = Some(failure);
        judged.verdict = Verdict::worst([judged.verdict, Verdict::Error]);
    }
    judged
}

/// Every corner of the environment with its verdict; tolerances are not in it.
fn corners_table(runner: &Runner<'_>, test: usize) -> Result<Listing, Halt> {
    let title = "corners of the environment, tolerances apart";
    let columns = [("corner", ""), ("verdict", ""), ("least_margin", "1"), ("of", "")];
    let mut table = Listing::new("corners", title, &columns);
    let corners = environment(runner, test)?;
    let shots: Vec<Shot> =
        corners.iter().map(|changes| Shot { test, changes: changes.clone() }).collect();
    let rows = runner.sheet(test).map_or(&[][..], |sheet| &sheet.rows);
    for (corner, reading) in corners.iter().zip(runner.run(&shots)?) {
        let least = reading.lines.iter().zip(rows).filter(|(_, row)| !row.advisory);
        let least = least.filter_map(|(line, row)| Some((line.slack?, row.name.as_str())));
        let least = least.min_by(|a, b| a.0.total_cmp(&b.0));
        let corner = if corner.is_empty() { "nominal".to_owned() } else { corner_words(corner) };
        table.push([
            corner.into(),
            reading.verdict.word().into(),
            least.map(|l| l.0).into(),
            least.map_or(Cell::Nothing, |l| l.1.into()),
        ]);
    }
    Ok(table)
}

fn corner_words(corner: &[Change]) -> String {
    let words = corner.iter().map(|change| format!("{} {}", change.path, change.text));
    words.collect::<Vec<String>>().join(", ")
}

fn told(runner: &Runner<'_>, test: usize, runs: usize) -> Result<String, Halt> {
    let corners = environment(runner, test)?.len();
    let scatters = super::worst::scatters(runner, test, &[], &[]);
    let names: Vec<&str> = scatters.list.iter().map(|s| s.path.as_str()).collect();
    let environment = match corners {
        1 => "no corners of the environment".to_owned(),
        n => format!("{n} corners of the environment"),
    };
    let tolerances = match names.as_slice() {
        [] => "nothing here has a tolerance".to_owned(),
        names => format!("the worst vertex of the tolerances of {} was searched", names.join(", ")),
    };
    let idle = idle_corners(runner, test);
    let idle = match idle.as_slice() {
        [] => String::new(),
        [one] => format!("; of `[corners]`, {one} moves nothing in this test"),
        all => format!("; of `[corners]`, {} move nothing in this test", all.join(", ")),
    };
    Ok(format!("worst of {runs} runs: {environment}; {tolerances}{idle}"))
}

/// The lists of `[corners]` that nothing in a test follows: the level of a source that the test itself
/// gives in figures, say.
fn idle_corners<'a>(runner: &Runner<'a>, test: usize) -> Vec<&'a str> {
    let lists = runner.corner_lists(test);
    let idle = lists.filter(|list| !list.changes.iter().any(|c| runner.moves(test, c)));
    idle.map(|list| list.path.as_str()).collect()
}
