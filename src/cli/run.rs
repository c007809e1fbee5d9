//! `railstep run`: read, run all tests, report, write, print.

use super::arguments::{Integrator, RunArguments};
use super::options::{Format, stop, threads_of, volts};
use super::target::{SUMMARY, Target};
use super::{NOT_SOLVED, Stop, read, terminal};
use railstep::analysis::Method;
use railstep::measure::Verdict;
use railstep::output::page::{self, Picture};
use railstep::output::plot::chart::chart_svg;
use railstep::output::report::{ModelsReport, Report, json};
use railstep::output::{
    csv, curves, figure, plot, sketch, summary, sweep_figure, text, understood,
};
use railstep::plan::{Plan, verdict};
use railstep::study::{Ground, Models, at_corners, in_parallel, over_models};
use railstep::trial::{Outcome, RunOptions, Test};
use std::path::{Path, PathBuf};

/// Columns ahead of the lines of a sketch.
const INDENT: usize = 2;

pub(super) fn run(arguments: &RunArguments) -> Result<u8, Stop> {
    if let Some(refusal) = arguments.later.refusal() {
        return Err(Stop::Because(refusal));
    }
    let mut options = options(arguments)?;
    let (plan, _, models) =
        read::plan_with_models(&arguments.file, &options.changes, arguments.models.as_deref())?;
    if let Some(models) = &models {
        options.changes = models.under(&options.changes);
    }
    let set = set_from_outside(arguments);
    let tests = plan.chosen(&arguments.tests).map_err(Stop::Because)?;
    let target = Target::prepare(&folder(arguments), &names_of(&tests))?;
    let outcomes = run_all(&plan, &tests, &options, arguments.threads)?;
    let judged = judged(arguments, &plan, &tests, &outcomes, &options, models.as_ref())?;
    let mut report = summary::report(&arguments.file.display().to_string(), &plan, &judged);
    stand_beside(&mut report, &arguments.sets);
    report.models = arguments.models.as_deref().zip(models).map(|(file, models)| ModelsReport {
        file: file.display().to_string(),
        regulator: models.regulator,
        names: models.list.into_iter().map(|model| model.name).collect(),
    });
    let understood = [set, understood(&plan, &outcomes, &report)].concat();
    write(&target, &plan, &outcomes, &mut report, &understood)?;
    let sketches = sketches(arguments, &plan, &outcomes);
    match arguments.format {
        Format::Json => terminal::say(&String::from_utf8_lossy(&json(&report))),
        Format::Text => {
            let width = terminal::width();
            let text = text::run_text_with(&report, width, &understood, &sketches);
            terminal::say(&target.placed(&text));
        }
    }
    Ok(exit_code(&judged))
}

/// A sketch of the output of each test, where there is a terminal to show it on.
fn sketches(arguments: &RunArguments, plan: &Plan, outcomes: &[Outcome]) -> Vec<Vec<String>> {
    if arguments.screen.no_sketch || arguments.format == Format::Json || !terminal::is_there() {
        return Vec::new();
    }
    let columns = terminal::width().min(text::WIDEST).saturating_sub(INDENT);
    let script =
        if terminal::shows_unicode() { sketch::Script::Braille } else { sketch::Script::Ascii };
    let drawn = |outcome: &Outcome| {
        let figure = figure::step_plot(plan, outcome).filter(|_| !outcome.times_s.is_empty())?;
        Some(sketch::sketch(&figure, columns, script))
    };
    outcomes.iter().map(|outcome| drawn(outcome).unwrap_or_default()).collect()
}

/// What stands otherwise in the file, so that nobody takes the figures for those of the file itself.
fn set_from_outside(arguments: &RunArguments) -> Vec<String> {
    let set: Vec<String> = arguments.sets.iter().map(|set| set.replacen('=', " = ", 1)).collect();
    if set.is_empty() {
        return set;
    }
    vec![format!("set from outside, otherwise than the file has it: {}", set.join(", "))]
}

/// Values from outside belong to the conditions of every test that does not set them itself.
fn stand_beside(report: &mut Report, sets: &[String]) {
    for test in &mut report.tests {
        for (path, text) in sets.iter().filter_map(|set| set.split_once('=')) {
            let values = &mut test.condition.values;
            values.entry(path.trim()).or_insert_with(|| text.trim().into());
        }
    }
}

/// What was read, and the models that took the place of what the file assumes.
fn understood(plan: &Plan, outcomes: &[Outcome], report: &Report) -> Vec<String> {
    let mut understood = understood::lines(plan, outcomes);
    understood.extend(report.models.as_ref().map(|models| {
        let (file, best) = (&models.file, models.names.first().map_or("", String::as_str));
        let count = models.names.len();
        format!(
            "models of {}: {count} from {file}, instead of what the file assumes inside; best is \
             `{best}`",
            models.regulator
        )
    }));
    understood
}

fn options(arguments: &RunArguments) -> Result<RunOptions, Stop> {
    let accuracy_v = arguments.accuracy.as_deref().map(volts).transpose()?;
    Ok(RunOptions {
        changes: read::changes(&arguments.sets)?,
        accuracy_v,
        sample: arguments.sample.map(|n| n as usize),
        method: match arguments.method {
            Integrator::Rodas4p => Method::Rodas4p,
            Integrator::TrBdf2 => Method::TrBdf2,
        },
        quick: arguments.quick,
        cross_check: arguments.cross_check,
        ..RunOptions::default()
    })
}

fn folder(arguments: &RunArguments) -> PathBuf {
    arguments.out.clone().unwrap_or_else(|| {
        Path::new("results").join(arguments.file.file_stem().unwrap_or("circuit".as_ref()))
    })
}

/// Every file that may be written.
fn names_of(tests: &[&Test]) -> Vec<String> {
    let csv = tests.iter().flat_map(|t| {
        let each = sweep_figure::table_suffixes(&t.motion).iter();
        each.map(|suffix| format!("{}{suffix}.csv", t.stem))
    });
    let pictures = tests.iter().flat_map(|t| {
        let each = sweep_figure::suffixes(&t.motion).iter();
        each.map(|suffix| format!("{}{suffix}.svg", t.stem))
    });
    csv.chain(pictures).chain([page::REPORT, SUMMARY].map(str::to_owned)).collect()
}

/// Runs tests side by side; the outcomes are in the order of the tests whatever the number of
/// threads.
fn run_all(
    plan: &Plan,
    tests: &[&Test],
    options: &RunOptions,
    threads: Option<u16>,
) -> Result<Vec<Outcome>, Stop> {
    let done = in_parallel(tests.len(), threads_of(threads), |k| plan.run(tests[k], options));
    let mut outcomes = Vec::with_capacity(done.len());
    for outcome in done {
        match outcome {
            Ok(outcome) => outcomes.push(outcome),
            // Reading has checked every test, so this is a message for the unforeseen.
            Err(mistakes) => {
                let why =
                    mistakes.first().map_or("a test could not be prepared", |m| m.message.as_str());
                return Err(Stop::Because(why.to_owned()));
            }
        }
    }
    Ok(outcomes)
}

/// The outcomes judged at their worst corners and with their worst models, where that was asked for;
/// pictures and waveforms stay nominal.
fn judged(
    arguments: &RunArguments,
    plan: &Plan,
    tests: &[&Test],
    outcomes: &[Outcome],
    options: &RunOptions,
    models: Option<&Models>,
) -> Result<Vec<Outcome>, Stop> {
    let index = |test: &&Test| plan.tests.iter().position(|t| t.stem == test.stem);
    let indices: Vec<usize> = tests.iter().filter_map(index).collect();
    let ground = Ground {
        circuit: &plan.circuit,
        tests: &plan.tests,
        options: options.clone(),
        threads: threads_of(arguments.threads),
    };
    let mut judged = outcomes.to_vec();
    if arguments.corners {
        judged = at_corners(&ground, &indices, &judged, options).map_err(stop)?;
    }
    if let Some(models) = models {
        judged = over_models(&ground, &indices, &judged, options, models).map_err(stop)?;
    }
    Ok(judged)
}

/// CSV and SVG of every test, then the page that shows them all, then the summary, last.
fn write(
    target: &Target,
    plan: &Plan,
    outcomes: &[Outcome],
    report: &mut Report,
    understood: &[String],
) -> Result<(), Stop> {
    let mut pictures = Vec::new();
    for (test, outcome) in outcomes.iter().enumerate() {
        if !outcome.times_s.is_empty() {
            let name = format!("{}.csv", outcome.stem);
            target.write(&name, &record_csv(outcome))?;
            report.files.push(name);
            pictures.extend(figure::step_plot(plan, outcome).map(|plot| Picture {
                test,
                file: format!("{}.svg", outcome.stem),
                svg: plot::step_svg(&plot),
                plot: Some(plot),
            }));
            put(target, report, pictures.last().filter(|p| p.test == test))?;
        }
        if !outcome.curves.is_empty() {
            let name = format!("{}{}.csv", outcome.stem, sweep_figure::curves_suffix(outcome));
            target.write(&name, &curves::csv(&outcome.curves))?;
            report.files.push(name);
            for (suffix, chart) in sweep_figure::charts(plan, outcome) {
                let file = format!("{}{suffix}.svg", outcome.stem);
                pictures.push(Picture { test, file, svg: chart_svg(&chart), plot: None });
                put(target, report, pictures.last())?;
            }
        }
    }
    report.files.extend([page::REPORT, SUMMARY].map(str::to_owned));
    target.write(page::REPORT, &page::run_page(report, understood, &pictures))?;
    report.stale = target.stale(&report.files);
    target.write(SUMMARY, &json(report))?;
    target.deliver()
}

fn put(target: &Target, report: &mut Report, picture: Option<&Picture>) -> Result<(), Stop> {
    let Some(picture) = picture else { return Ok(()) };
    target.write(&picture.file, picture.svg.as_bytes())?;
    report.files.push(picture.file.clone());
    Ok(())
}

fn record_csv(outcome: &Outcome) -> Vec<u8> {
    let time = csv::Column { name: "time", unit: "s", values: &outcome.times_s };
    let others = outcome.columns.iter().map(|c| csv::Column {
        name: &c.name,
        unit: c.unit,
        values: &c.values,
    });
    csv::csv(&std::iter::once(time).chain(others).collect::<Vec<_>>())
}

fn exit_code(outcomes: &[Outcome]) -> u8 {
    match verdict(outcomes) {
        Verdict::Fail | Verdict::NotEvaluated => 1,
        Verdict::Error => NOT_SOLVED,
        Verdict::Pass | Verdict::Marginal | Verdict::NoRequirements => 0,
    }
}
