//! `railstep tune`: preferred values that hold everywhere, and the allowed region.

use super::study::{Desk, StudyArguments};
use super::{Stop, terminal};
use clap::Args;
use railstep::output::studies::tune::{FILES, View, bundle};
use railstep::study::Watch;
use railstep::study::tune::{Asked, USUAL_LIMIT, scope, tune, tuned};

#[derive(Debug, Args)]
pub(super) struct TuneArguments {
    #[command(flatten)]
    pub(super) study: StudyArguments,
    /// Vary this value or path: NAME, NAME=LOW..HIGH, or NAME=LOW..HIGH:COUNT (repeatable)
    /// [default: every value that has a series and a range, or a stock list]
    #[arg(long, value_name = "NAME[=LOW..HIGH]")]
    vary: Vec<String>,
    /// Try so many of a capacitor in parallel, such as C_OUT=1..3 (repeatable)
    #[arg(long, value_name = "PART=LEAST..MOST")]
    parallel: Vec<String>,
    /// Leave out corners and tolerances
    #[arg(long)]
    nominal: bool,
    /// Look at no more candidates than these, the nearest to the present design
    #[arg(long, value_name = "N", default_value_t = USUAL_LIMIT as u32,
          value_parser = clap::value_parser!(u32).range(1..=100_000))]
    limit_candidates: u32,
}

pub(super) fn command(arguments: &TuneArguments) -> Result<u8, Stop> {
    let asked = Asked {
        vary: arguments.vary.clone(),
        parallel: arguments.parallel.clone(),
        nominal: arguments.nominal,
        limit: arguments.limit_candidates as usize,
    };
    let mut words: Vec<String> = asked.vary.iter().map(|v| format!("--vary {v}")).collect();
    words.extend(asked.parallel.iter().map(|p| format!("--parallel {p}")));
    words.push(format!("--nominal {}", asked.nominal));
    words.push(format!("--limit-candidates {}", asked.limit));
    let desk = Desk::open(&arguments.study, "tune", &words, &FILES.map(str::to_owned))?;
    let (circuit, changes) = (&desk.plan.circuit, &desk.options.changes);
    let tuned = tuned(circuit, changes, &asked).map_err(Stop::Because)?;
    let scope = scope(&desk.plan.nominal, &desk.plan.tests, &desk.tests, &tuned);
    if scope.moved.is_empty() {
        let why = "none of these tests is moved by what is tuned; choose others by `--test NAME`";
        return Err(Stop::Because(why.to_owned()));
    }
    let runner = desk.runner(&scope.run(), &Watch::Counting)?;
    let tuning = tune(&runner, tuned, &scope, &asked).map_err(|halt| desk.stop(halt))?;
    let file = arguments.study.file.display().to_string();
    let (plan, sheets) = (&desk.plan, runner.sheets.as_slice());
    let (options, scope, tuning) = (&desk.options, &scope, &tuning);
    let view = View { file: &file, plan, options, sheets, scope, tuning };
    let told = bundle(&view, terminal::width());
    drop(runner);
    desk.deliver(&told)?;
    Ok(u8::from(!tuning.is_met()))
}
