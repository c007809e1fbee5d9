//! Reads a circuit file with what the command line sets over it.

use super::{Stop, disk, terminal};
use railstep::circuit::{Change, Changes};
use railstep::diagnostic::Sources;
use railstep::plan::{self, Plan, PlanReading};
use railstep::study::Models;
use railstep::study::ensemble::Ensemble;
use std::path::Path;

/// The plan of a file; its mistakes are shown, and end the command.
pub(super) fn plan(file: &Path, changes: &Changes) -> Result<Plan, Stop> {
    plan_and_sources(file, changes).map(|(plan, _)| plan)
}

/// As [`plan`], with every text that was read.
pub(super) fn plan_and_sources(file: &Path, changes: &Changes) -> Result<(Plan, Sources), Stop> {
    finished(reading(file, changes)?)
}

/// As [`plan_and_sources`], with the best of several models of a regulator where a file of them is
/// named. `outside` wins over the models.
pub(super) fn plan_with_models(
    file: &Path,
    outside: &Changes,
    models: Option<&Path>,
) -> Result<(Plan, Sources, Option<Models>), Stop> {
    let bare = reading(file, outside)?;
    let (Some(path), Some(plan)) = (models, &bare.plan) else {
        let (plan, sources) = finished(bare)?;
        return Ok((plan, sources, None));
    };
    let wrong = |why: String| Stop::Because(format!("`{}`: {why}", path.display()));
    let text = disk::read_text(path).map_err(|why| wrong(format!("it cannot be read: {why}")))?;
    let ensemble = Ensemble::read(&text).map_err(wrong)?;
    let models = Models::of(&ensemble, &plan.circuit, outside).map_err(wrong)?;
    let (plan, mut sources) = plan_and_sources(file, &models.under(outside))?;
    sources.add(path.display().to_string(), text);
    Ok((plan, sources, Some(models)))
}

fn reading(file: &Path, changes: &Changes) -> Result<PlanReading, Stop> {
    let name = file.display().to_string();
    let text = disk::read_text(file)
        .map_err(|why| Stop::Because(format!("`{name}` cannot be read: {why}")))?;
    Ok(plan::read(&name, &text, &disk::Disk::beside(file), changes))
}

fn finished(reading: PlanReading) -> Result<(Plan, Sources), Stop> {
    terminal::show(&reading.diagnostics, &reading.sources);
    let sources = reading.sources;
    reading.plan.map(|plan| (plan, sources)).ok_or(Stop::Told)
}

/// `NAME=VALUE` arguments as changes.
pub(super) fn changes(sets: &[String]) -> Result<Changes, Stop> {
    let mut list = Vec::with_capacity(sets.len());
    for set in sets {
        let pair = set.split_once('=').map(|(path, text)| (path.trim(), text.trim()));
        let Some((path, text)) = pair.filter(|(path, text)| !path.is_empty() && !text.is_empty())
        else {
            let why =
                format!("`--set {set}` is not NAME=VALUE; write for example `--set c_out=10uF`");
            return Err(Stop::Because(why));
        };
        list.push(Change::new(path, text));
    }
    Ok(Changes { list })
}
