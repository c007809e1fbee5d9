//! What the freedom of a datasheet means for the tests of a file: each judged line, droop and phase
//! margin over all models, and whether a verdict rests on the datasheet or on the inside assumed.

use super::freedom::Equal;
use crate::circuit::{Change, Circuit};
use crate::measure::{Measurement, TestKind, Verdict};
use crate::study::{Ground, STUDY_WORK_LIMIT, first_message, in_parallel};
use crate::trial::{Reads, RequirementProgram, RunOptions, Test, Unchanged};
use std::sync::Arc;

/// Told though nothing is asked of them.
const ALWAYS: [&str; 2] = ["droop", "phase_margin"];
/// Looked for at each loop gain, beside what is asked: all else there only costs time.
const OF_LOOPS: [&str; 2] = ["phase_margin", "window"];
/// Which tests are run for every model.
const KINDS: [TestKind; 2] = [TestKind::LoadStep, TestKind::LoopGain];

/// What a verdict rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rests {
    /// It is the same for all models that agree with the datasheet.
    OnSheet,
    /// It is the same for all models, but they miss points of the datasheet.
    OnModels,
    /// It differs among them.
    OnAssumed,
    /// Nothing is asked.
    Unasked,
}

/// One line of a test over all models.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// The test.
    pub test: String,
    /// The measurement with its settings: `recovery` with `band`.
    pub measurement: String,
    /// Settings, `band 1 %`, in words; empty without.
    pub settings: String,
    /// SI symbol.
    pub unit: &'static str,
    /// As the file has it.
    pub limit: Option<String>,
    /// With the best model.
    pub best: Option<f64>,
    /// Lowest and highest of all models that have a number.
    pub range: Option<[f64; 2]>,
    /// One a model.
    pub verdicts: Vec<Verdict>,
    /// What its verdict rests on.
    pub rests: Rests,
    /// The inner value that goes with it most, and the correlation, where it moves.
    pub goes_with: Option<(String, f64)>,
    /// Models for which it has no number, with the first reason.
    pub without: Option<(usize, String)>,
}

/// Below this share of its size a line does not move.
const STILL: f64 = 1e-3;

/// Runs the file's tests for every model; `changes` of each are for the file.
pub(super) fn consequences(
    ground: &Ground<'_>,
    models: &[Equal],
    changes: &[Vec<Change>],
    names: &[String],
) -> Vec<Line> {
    let tests: Vec<usize> =
        (0..ground.tests.len()).filter(|k| KINDS.contains(&ground.tests[*k].kind)).collect();
    let unchanged: Vec<Option<Arc<Unchanged>>> = tests
        .iter()
        .map(|k| Unchanged::of(ground.circuit, &ground.tests[*k]).map(Arc::new))
        .collect();
    let count = changes.len();
    let found = in_parallel(tests.len() * count, ground.threads, |job| {
        let (which, model) = (job / count.max(1), job % count.max(1));
        rows(ground, tests[which], &changes[model], unchanged[which].clone())
    });
    let mut lines = Vec::new();
    for (which, of_test) in found.chunks(count.max(1)).enumerate() {
        let name = &ground.tests[tests[which]].name;
        let Some(Ok(best)) = of_test.first() else {
            lines.extend(unsolved(name, of_test));
            continue;
        };
        for (row, measurement) in best.iter().enumerate() {
            lines.push(line(name, (row, measurement), of_test, (models, names)));
        }
    }
    lines
}

/// The same on the bench, of what the file has no test for.
pub(super) fn on_bench(
    ground: &Ground<'_>,
    (circuit, mut tests): (Circuit, Vec<Test>),
    models: &[Equal],
    names: &[String],
) -> Vec<Line> {
    tests.retain(|test| !ground.tests.iter().any(|own| own.kind == test.kind));
    let (options, threads) = (RunOptions::default(), ground.threads);
    let bench = Ground { circuit: &circuit, tests: &tests, options, threads };
    let changes: Vec<Vec<Change>> = models.iter().map(|m| m.seen.changes.clone()).collect();
    consequences(&bench, models, &changes, names)
}

type Rows = Result<Vec<Measurement>, String>;

fn rows(
    ground: &Ground<'_>,
    test: usize,
    changes: &[Change],
    unchanged: Option<Arc<Unchanged>>,
) -> Rows {
    let test = ground.tests.get(test).ok_or("there is no such test")?;
    let mut options: RunOptions = ground.options.clone();
    options.changes.list.extend_from_slice(changes);
    options.work_limit = options.work_limit.min(STUDY_WORK_LIMIT);
    (options.quick, options.cross_check, options.sample) = (true, false, None);
    options.unchanged = unchanged;
    options.reads = Reads::Measurements;
    if test.kind == TestKind::LoopGain {
        let asked = test.requirements.iter().map(RequirementProgram::name);
        options.watched = Some(OF_LOOPS.into_iter().chain(asked).map(str::to_owned).collect());
    }
    let outcome = crate::trial::run(ground.circuit, test, &options).map_err(first_message)?;
    if let Some(failure) = outcome.failure {
        return Err(failure.message);
    }
    let told = |m: &Measurement| m.limit.is_some() || ALWAYS.contains(&m.name.as_str());
    Ok(outcome.measurements.into_iter().filter(told).collect())
}

/// A test that the best model cannot run.
fn unsolved(name: &str, of_test: &[Rows]) -> Option<Line> {
    let why = of_test.first()?.as_ref().err()?;
    Some(Line {
        test: name.to_owned(),
        measurement: "the whole test".to_owned(),
        settings: String::new(),
        unit: "",
        limit: None,
        best: None,
        range: None,
        verdicts: of_test.iter().map(|_| Verdict::Error).collect(),
        rests: Rests::OnAssumed,
        goes_with: None,
        without: Some((of_test.iter().filter(|r| r.is_err()).count(), why.clone())),
    })
}

fn line(
    test: &str,
    (row, of_best): (usize, &Measurement),
    of_test: &[Rows],
    (models, names): (&[Equal], &[String]),
) -> Line {
    let of = |rows: &Rows| -> Result<Measurement, String> {
        match rows {
            Ok(rows) => rows.get(row).cloned().ok_or_else(|| "it was not measured".to_owned()),
            Err(why) => Err(why.clone()),
        }
    };
    let all: Vec<Result<Measurement, String>> = of_test.iter().map(of).collect();
    let value = |m: &Result<Measurement, String>| m.as_ref().ok().and_then(|m| m.value);
    let values: Vec<Option<f64>> = all.iter().map(value).collect();
    let known = || values.iter().flatten().copied().filter(|v| v.is_finite());
    let range = [known().fold(f64::INFINITY, f64::min), known().fold(f64::NEG_INFINITY, f64::max)];
    let verdict =
        |m: &Result<Measurement, String>| m.as_ref().map_or(Verdict::Error, |m| m.verdict);
    let verdicts: Vec<Verdict> = all.iter().map(verdict).collect();
    let reason = all.iter().find(|m| value(m).is_none()).map(|m| match m {
        Ok(m) => m.reason.clone().unwrap_or_default(),
        Err(why) => why.clone(),
    });
    let missing = values.iter().filter(|v| v.is_none()).count();
    let holds = |v: &Verdict| matches!(v, Verdict::Pass | Verdict::Marginal);
    let first = verdicts.first().is_some_and(holds);
    let rests = if of_best.limit.is_none() || verdicts.iter().all(|v| *v == Verdict::NotEvaluated) {
        Rests::Unasked
    } else if verdicts.iter().all(|v| holds(v) == first) {
        Rests::OnSheet
    } else {
        Rests::OnAssumed
    };
    let moves = range[1] - range[0] > STILL * range[0].abs().max(range[1].abs());
    let settings: Vec<String> = of_best
        .settings
        .iter()
        .filter(|(key, _)| ["band", "at", "level", "of", "definition"].contains(&key.as_str()))
        .map(|(key, value)| format!("{key} {value}"))
        .collect();
    Line {
        test: test.to_owned(),
        measurement: of_best.name.clone(),
        settings: settings.join(", "),
        unit: of_best.unit,
        limit: of_best.limit.clone(),
        best: of_best.value,
        range: Some(range).filter(|r| r[0] <= r[1]),
        verdicts,
        rests,
        goes_with: moves.then(|| goes_with(&values, models, names)).flatten(),
        without: reason.map(|why| (missing, why)),
    }
}

/// The value that a line goes with most among the models.
fn goes_with(values: &[Option<f64>], models: &[Equal], names: &[String]) -> Option<(String, f64)> {
    let pairs: Vec<(&Equal, f64)> =
        models.iter().zip(values).filter_map(|(model, value)| Some((model, (*value)?))).collect();
    let of = |k: usize| {
        let points: Vec<(f64, f64)> =
            pairs.iter().filter_map(|(m, y)| Some((*m.seen.u.get(k)?, *y))).collect();
        correlation(&points)
    };
    let all = names.iter().enumerate().filter_map(|(k, name)| Some((name.clone(), of(k)?)));
    all.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
}

/// Of pairs, −1 to 1; `None` where one side does not move.
fn correlation(points: &[(f64, f64)]) -> Option<f64> {
    let n = points.len() as f64;
    let (sum_x, sum_y) = points.iter().fold((0.0, 0.0), |s, p| (s.0 + p.0, s.1 + p.1));
    let (mean_x, mean_y) = (sum_x / n, sum_y / n);
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for (x, y) in points {
        let (dx, dy) = (x - mean_x, y - mean_y);
        (xx, yy, xy) = (xx + dx * dx, yy + dy * dy, xy + dx * dy);
    }
    let both = (xx * yy).sqrt();
    (both > 0.0).then(|| xy / both)
}

#[cfg(test)]
mod tests {
    use super::correlation;

    #[test]
    fn exact_correlations_of_straight_lines_are_one() {
        let line = |slope: f64| -> Vec<(f64, f64)> {
            [0.0, 1.0, 3.0].iter().map(|x| (*x, 2.0 + slope * x)).collect()
        };
        assert!((correlation(&line(0.5)).unwrap_or(0.0) - 1.0).abs() < 1e-12);
        assert!((correlation(&line(-3.0)).unwrap_or(0.0) + 1.0).abs() < 1e-12);
        assert_eq!(correlation(&line(0.0)), None);
        assert_eq!(correlation(&[]), None);
    }
}
