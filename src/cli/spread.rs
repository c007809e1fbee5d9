//! `railstep spread`: draw, run, search, write, print.

use super::study::{Desk, StudyArguments};
use super::{NOT_SOLVED, Stop, terminal};
use clap::Args;
use railstep::measure::Verdict;
use railstep::output::studies::spread::{Told, bundle, files};
use railstep::study::Watch;
use railstep::study::spread::{Asked, MOST_RUNS, USUAL_RUNS, spread};
use std::path::PathBuf;

#[derive(Debug, Args)]
pub(super) struct SpreadArguments {
    #[command(flatten)]
    pub(super) study: StudyArguments,
    /// Draw so many runs of each test
    #[arg(long, value_name = "N", default_value_t = USUAL_RUNS,
        value_parser = clap::value_parser!(u32).range(1..=i64::from(MOST_RUNS)))]
    runs: u32,
    /// Draw them from this number; another one draws other runs
    #[arg(long, value_name = "S", default_value_t = 1)]
    seed: u64,
    /// Draw a model of a regulator too, each in this file as likely, which `railstep model` writes
    #[arg(long, value_name = "FILE")]
    models: Option<PathBuf>,
    /// Drawn runs only: no search of extreme values, no static budget, no envelope
    #[arg(long)]
    quick: bool,
}

pub(super) fn run(arguments: &SpreadArguments) -> Result<u8, Stop> {
    let SpreadArguments { study, runs, seed, quick, models } = arguments;
    let study = &StudyArguments { models: models.clone(), ..study.clone() };
    let mut asked = vec![format!("--runs {runs}"), format!("--seed {seed}")];
    asked.extend(quick.then(|| "--quick".to_owned()));
    let desk = Desk::open(study, "spread", &asked, &files(*quick))?;
    let mut tests = desk.tests.clone();
    if study.tests.is_empty() {
        tests.retain(|k| !desk.plan.tests[*k].requirements.is_empty());
    }
    if tests.is_empty() {
        tests.clone_from(&desk.tests);
    }
    let runner = desk.runner(&tests, &Watch::Judged)?;
    let asked = Asked { tests, runs: *runs as usize, seed: *seed, quick: *quick };
    let spread = spread(&runner, &asked).map_err(|halt| desk.stop(halt))?;
    let file = study.file.display().to_string();
    let told = Told { file: &file, plan: &desk.plan, runner: &runner, spread: &spread };
    let bundle = bundle(&told, terminal::width());
    let verdict = spread.verdict(&runner);
    drop(runner);
    desk.deliver(&bundle)?;
    Ok(match verdict {
        Verdict::Fail | Verdict::NotEvaluated => 1,
        Verdict::Error => NOT_SOLVED,
        Verdict::Pass | Verdict::Marginal | Verdict::NoRequirements => 0,
    })
}
