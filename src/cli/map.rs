//! `railstep map`: one measurement over one or two values.

use super::study::{Desk, StudyArguments};
use super::{Stop, terminal};
use clap::Args;
use railstep::output::studies::map::{About, FILES, bundle};
use railstep::study::axis::{Axis, axis};
use railstep::study::map::{Plot, USUAL_COUNT, map, subject};
use std::path::PathBuf;

#[derive(Debug, Args)]
pub(super) struct MapArguments {
    #[command(flatten)]
    pub(super) study: StudyArguments,
    /// Vary a value: NAME=LOW..HIGH[:COUNT[:linear|log]], or NAME[:COUNT] over the range that the
    /// file gives (once or twice)
    #[arg(long = "vary", value_name = "RANGE", required = true)]
    vary: Vec<String>,
    /// Run each place with every model of a regulator in this file, which `railstep model` writes:
    /// boundary and margin are those of the worst one
    #[arg(long, value_name = "FILE")]
    models: Option<PathBuf>,
    /// Map this measurement, or `margin`: the least margin of all requirements [default: that of the
    /// first requirement]
    #[arg(long, value_name = "MEASUREMENT")]
    of: Option<String>,
    /// Give a run up after so many step attempts [default and most: 20000]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    work_limit: Option<u32>,
}

pub(super) fn run(arguments: &MapArguments) -> Result<u8, Stop> {
    let mut asked: Vec<String> = arguments.vary.iter().map(|v| format!("--vary {v}")).collect();
    asked.extend(arguments.of.iter().map(|of| format!("--of {of}")));
    asked.extend(arguments.work_limit.iter().map(|n| format!("--work-limit {n}")));
    let study = StudyArguments { models: arguments.models.clone(), ..arguments.study.clone() };
    let mut desk = Desk::open(&study, "map", &asked, &FILES.map(str::to_owned))?;
    if let Some(limit) = arguments.work_limit {
        desk.options.work_limit = limit as usize;
    }
    let (axes, finer) = axes(&desk, &arguments.vary)?;
    let named = if arguments.study.tests.is_empty() { &[][..] } else { desk.tests.as_slice() };
    let ground = desk.ground();
    let subject = subject(&ground, named, arguments.of.as_deref()).map_err(Stop::Because)?;
    let plot = Plot { axes, finer, subject };
    let runner = desk.runner(&[plot.subject.test], &plot.subject.watch())?;
    let found = map(&runner, &plot).map_err(|halt| desk.stop(halt))?;
    let test = &desk.plan.tests[plot.subject.test];
    // What a model sets stands among the changes of each point.
    let base = super::read::changes(&study.sets)?;
    let about = About {
        file: &arguments.study.file.display().to_string(),
        title: &desk.plan.circuit.title,
        test: &test.name,
        kind: test.kind,
        base: &base.list,
        accuracy: arguments.study.accuracy.as_deref(),
        width: terminal::width(),
    };
    let bundle = bundle(&found, &about);
    drop(runner);
    desk.deliver(&bundle)?;
    Ok(0)
}

/// The axes, and whether cells at the boundary are split: where no count is given.
fn axes(desk: &Desk, vary: &[String]) -> Result<(Vec<Axis>, bool), Stop> {
    if vary.len() > 2 {
        let why = "a map varies one or two values; leave the other `--vary` out".to_owned();
        return Err(Stop::Because(why));
    }
    let read = |text: &String| axis(&desk.plan.circuit, &desk.options.changes, text);
    let mut axes =
        vary.iter().map(read).collect::<Result<Vec<Axis>, _>>().map_err(Stop::Because)?;
    let counted =
        |text: &String| text.split_once('=').map_or(text.as_str(), |(_, r)| r).contains(':');
    let finer = axes.len() == 2 && !vary.iter().any(counted);
    if finer {
        axes.iter_mut().for_each(|axis| axis.count = USUAL_COUNT);
    }
    Ok((axes, finer))
}
