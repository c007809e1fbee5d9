//! How far each judged measurement moves when a value is turned: paired runs, one a little above
//! and one a little below.

use super::knobs::{Knob, Knobs, changes_of, knobs, measuring};
use crate::circuit::{Change, Changes, Circuit};
use crate::curve::{Cell, Listing};
use crate::measure::{Measurement, TestKind};
use crate::quantity::engineering;
use crate::trial::{Outcome, RunOptions, Test, Unchanged, go_abreast, run, run_all};
use std::collections::BTreeSet;
use std::sync::Arc;

/// So many values are told for a measurement.
const TOLD: usize = 5;
/// Digits of a change in words.
const DIGITS: usize = 3;
/// Attempted steps of all paired runs together beyond which nothing more is turned: some hundredths
/// of a second where a step takes 2 µs.
const MOST_STEPS: usize = 20_000;
/// A change by a smaller share of a value is none seen: what Newton's iteration leaves at rest.
const LEAST_SHARE: f64 = 1e-6;
/// One-sided changes that differ by more than their mean are told apart: the quantity bends there.
const BENDS: f64 = 1.0;

/// One knob and its runs; none where one of them could not be solved.
pub(super) struct Turned {
    pub(super) knob: Knob,
    pub(super) pair: Option<Pair>,
}

/// What was measured with something turned.
#[derive(Clone)]
pub(super) struct Pair {
    above: Vec<Measurement>,
    /// `None` where only one side was looked at.
    below: Option<Vec<Measurement>>,
}

/// All knobs of a test, turned.
#[derive(Default)]
pub(super) struct AllTurned {
    pub(super) list: Vec<Turned>,
    skipped: Vec<(String, &'static str)>,
}

/// What each measurement with a limit depends on, the five strongest values of each: listings named
/// `sensitivities`, none with `options.quick` and where nothing is judged. Change is per +1 % (of a
/// temperature, per 1 K) of the value; `relative` is that over the measurement, `of_margin` over what
/// is left to the limit, positive where the margin grows; `bend` tells both sides where they differ.
///
/// Central differences over ±1 %, each of one solution at the test's accuracy, for values that are
/// among the strongest by the run upwards; a change below the numerical uncertainty of the measurement
/// counts as none.
pub fn sensitivities(
    circuit: &Circuit,
    test: &Test,
    options: &RunOptions,
    outcome: &Outcome,
) -> Vec<Listing> {
    if options.quick || outcome.failure.is_some() {
        return Vec::new();
    }
    listing(&turn_all(circuit, test, options, outcome), outcome).into_iter().collect()
}

/// Runs every knob of a test up, and those down that will be told.
pub(super) fn turn_all(
    circuit: &Circuit,
    test: &Test,
    options: &RunOptions,
    outcome: &Outcome,
) -> AllTurned {
    // A family of sweeps: its cost is that of many other tests together.
    let judged = judged(outcome);
    if test.kind == TestKind::Dropout || judged.is_empty() {
        return AllTurned::default();
    }
    let Knobs { mut list, mut skipped } = knobs(circuit, test, options);
    // Named values come first, so that these are turned where not all can be.
    let steps = outcome.work.steps + outcome.work.rejected_error + outcome.work.rejected_newton;
    let most = MOST_STEPS / (2 * steps).max(1);
    let left_out = list.drain(most.min(list.len())..);
    skipped.extend(left_out.map(|knob| (knob.path, "so many runs would take too long")));
    let bench = Bench { circuit, test, options, outcome };
    let all_above = bench.turned_all(list.iter().map(|knob| knob.turned(1.0)), &judged);
    let up = |(knob, above): (Knob, Option<Vec<Measurement>>)| Turned {
        knob,
        pair: above.map(|above| Pair { above, below: None }),
    };
    let mut list: Vec<Turned> = list.into_iter().zip(all_above).map(up).collect();
    let strongest: BTreeSet<usize> =
        judged.iter().flat_map(|&k| strongest(&list, outcome, k)).map(|(at, _)| at).collect();
    let down = strongest.iter().map(|&at| list[at].knob.turned(-1.0));
    let all_below = bench.turned_all(down, &judged);
    for (at, below) in strongest.into_iter().zip(all_below) {
        let pair = &mut list[at].pair;
        *pair = pair.take().zip(below).map(|(pair, below)| Pair { below: Some(below), ..pair });
    }
    AllTurned { list, skipped }
}

/// The strongest knobs of measurement `k` by what is known of them, strongest first, of equals that
/// of the file's order; those that do nothing are left out.
fn strongest(list: &[Turned], outcome: &Outcome, k: usize) -> Vec<(usize, Effect)> {
    let effects = list.iter().enumerate();
    let effects = effects.filter_map(|(at, t)| Some((at, effect(t.pair.as_ref()?, outcome, k)?)));
    let mut seen: Vec<(usize, Effect)> = effects.filter(|(_, effect)| effect.seen).collect();
    seen.sort_by(|a, b| b.1.change.abs().total_cmp(&a.1.change.abs()));
    seen.truncate(TOLD);
    seen
}

/// A test and what it came to with nothing turned.
pub(super) struct Bench<'a> {
    pub(super) circuit: &'a Circuit,
    pub(super) test: &'a Test,
    pub(super) options: &'a RunOptions,
    pub(super) outcome: &'a Outcome,
}

impl Bench<'_> {
    /// Two runs with changes by one step up and one down, for the measurements `watched`.
    pub(super) fn pair(
        &self,
        watched: &[usize],
        changes: impl Fn(f64) -> Vec<Change>,
    ) -> Option<Pair> {
        let above = self.turned(changes(1.0), watched)?;
        let below = self.turned(changes(-1.0), watched)?;
        Some(Pair { above, below: Some(below) })
    }

    fn turned(&self, changes: Vec<Change>, watched: &[usize]) -> Option<Vec<Measurement>> {
        let mut test = self.test.clone();
        test.changes.list.extend(changes);
        measured(run(self.circuit, &test, &self.measuring(watched)).ok()?)
    }

    /// A run for each change by itself; where the test can be run abreast, all from the rest with nothing turned.
    fn turned_all(
        &self,
        each: impl Iterator<Item = Change>,
        watched: &[usize],
    ) -> Vec<Option<Vec<Measurement>>> {
        if !go_abreast(self.test) {
            return each.map(|change| self.turned(vec![change], watched)).collect();
        }
        let known = || Unchanged::of(self.circuit, self.test).map(Arc::new);
        let unchanged = self.options.unchanged.clone().or_else(known);
        let options = RunOptions { unchanged, ..self.measuring(watched) };
        // The later of two changes holds, and those of a test come last: what is turned stands behind them here.
        let before = changes_of(self.test, self.options);
        let test = Test { changes: Changes::default(), ..self.test.clone() };
        let with = |change: Change| {
            let mut changes = before.clone();
            changes.list.push(change);
            RunOptions { changes, ..options.clone() }
        };
        let all: Vec<RunOptions> = each.map(with).collect();
        run_all(self.circuit, &test, &all).into_iter().map(|ran| measured(ran.ok()?)).collect()
    }

    fn measuring(&self, watched: &[usize]) -> RunOptions {
        measuring(self.options, watched.iter().map(|&k| self.outcome.measurements[k].unit))
    }
}

fn measured(outcome: Outcome) -> Option<Vec<Measurement>> {
    outcome.failure.is_none().then_some(outcome.measurements)
}

/// What one step up does to a measurement, all linear.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Effect {
    /// In the measurement's unit.
    pub(super) change: f64,
    /// Over its value; `None` of zero.
    pub(super) relative: Option<f64>,
    of_margin: Option<f64>,
    /// In the measurement's unit, of one step up and of one step down.
    sides: [f64; 2],
    /// Whether it is more than the numerical uncertainty.
    pub(super) seen: bool,
}

/// The effect on measurement `k` of an outcome; `None` where one of the runs has no value.
pub(super) fn effect(pair: &Pair, outcome: &Outcome, k: usize) -> Option<Effect> {
    let (here, above) = (outcome.measurements.get(k)?, pair.above.get(k)?);
    let below = pair.below.as_ref().map(|below| below.get(k));
    let value = here.value?;
    let up = above.value? - value;
    let down = match below {
        Some(below) => below?.value? - value,
        None => -up,
    };
    let change = 0.5 * (up - down);
    let over = |of: f64, by: f64| (by != 0.0).then(|| of / by.abs()).filter(|x| x.is_finite());
    let of_margin = match (here.margin, above.margin, below.flatten().and_then(|m| m.margin)) {
        (Some(here), Some(above), Some(below)) => over(0.5 * (above - below), here),
        // A window's value is its distance to the limit.
        _ if here.name.ends_with("window") => over(change, value),
        _ => None,
    };
    let least = (LEAST_SHARE * value.abs()).max(here.numerical_uncertainty.unwrap_or(0.0));
    let seen = change.abs() > least;
    Some(Effect { change, relative: over(change, value), of_margin, sides: [up, down], seen })
}

/// Measurements with a limit and a value, each figure once.
fn judged(outcome: &Outcome) -> Vec<usize> {
    let mut found: Vec<usize> = Vec::new();
    let rows = &outcome.measurements;
    let all = (0..rows.len()).filter(|&k| rows[k].limit.is_some() && rows[k].value.is_some());
    for k in all {
        let same =
            |&j: &usize| rows[j].name == rows[k].name && rows[j].settings == rows[k].settings;
        match found.iter().position(same) {
            // What counts goes before what is only told.
            Some(at) if rows[found[at]].advisory && !rows[k].advisory => found[at] = k,
            Some(_) => {}
            None => found.push(k),
        }
    }
    found
}

/// The five strongest of each measurement.
pub(super) fn listing(turned: &AllTurned, outcome: &Outcome) -> Option<Listing> {
    let judged = judged(outcome);
    if judged.is_empty() || (turned.list.is_empty() && turned.skipped.is_empty()) {
        return None;
    }
    let title = "what each judged measurement depends on most, per step of a value";
    let columns = [
        ("measurement", ""),
        ("value", ""),
        ("step", ""),
        ("change", ""),
        ("relative", "1"),
        ("of_margin", "1"),
        ("bend", ""),
    ];
    let mut listing = Listing::new("sensitivities", title, &columns);
    if !turned.list.is_empty() {
        judged.into_iter().for_each(|k| rows_of(turned, outcome, k, &mut listing));
    }
    let unsolved = turned.list.iter().filter(|t| t.pair.is_none());
    let unsolved = unsolved.map(|t| (&t.knob.path, "turned, the test could not be solved"));
    for (path, why) in turned.skipped.iter().map(|(path, why)| (path, *why)).chain(unsolved) {
        let words = format!("not turned: {why}");
        listing.push(["all".into(), Cell::from(path.as_str()), Cell::Nothing, words.into()]);
    }
    Some(listing)
}

fn rows_of(turned: &AllTurned, outcome: &Outcome, k: usize, listing: &mut Listing) {
    let here = &outcome.measurements[k];
    let name = name_of(outcome, k);
    let seen = strongest(&turned.list, outcome, k);
    if seen.is_empty() {
        listing.push([name.into(), "none seen".into()]);
        return;
    }
    let unit = if here.unit == "1" { "" } else { here.unit };
    for (at, effect) in seen {
        let knob = &turned.list[at].knob;
        listing.push([
            name.as_str().into(),
            knob.path.as_str().into(),
            knob.step_words().into(),
            engineering(effect.change, unit, DIGITS).into(),
            effect.relative.into(),
            effect.of_margin.into(),
            bend(effect.sides, knob, unit).map_or(Cell::Nothing, Cell::Text),
        ]);
    }
}

/// Both sides apart, where they are no straight line.
fn bend([up, down]: [f64; 2], knob: &Knob, unit: &str) -> Option<String> {
    ((up + down).abs() > BENDS * 0.5 * (up - down).abs()).then(|| {
        let [up, down] = [up, down].map(|by| engineering(by, unit, DIGITS));
        let step = knob.step_words();
        format!("bends: {step} {up}, {} {down}", step.replace('+', "-"))
    })
}

/// Its name; with what it was asked with where another bears the same.
fn name_of(outcome: &Outcome, k: usize) -> String {
    let here = &outcome.measurements[k];
    let same = |j: &usize| outcome.measurements[*j].name == here.name;
    if judged(outcome).iter().filter(|j| same(j)).count() < 2 {
        return here.name.clone();
    }
    let asked = here.settings.iter().map(|(key, value)| format!("{key} {value}"));
    format!("{} ({})", here.name, asked.collect::<Vec<_>>().join(", "))
}
