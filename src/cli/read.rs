//! Reads a circuit file with what the command line sets over it.

use super::{Stop, disk, terminal};
use railstep::circuit::{Change, Changes};
use railstep::diagnostic::Sources;
use railstep::plan::{self, Plan};
use std::path::Path;

/// The plan of a file; its mistakes are shown, and end the command.
pub(super) fn plan(file: &Path, changes: &Changes) -> Result<Plan, Stop> {
    plan_and_sources(file, changes).map(|(plan, _)| plan)
}

/// As [`plan`], with every text that was read.
pub(super) fn plan_and_sources(file: &Path, changes: &Changes) -> Result<(Plan, Sources), Stop> {
    let name = file.display().to_string();
    let text = disk::read_text(file)
        .map_err(|why| Stop::Because(format!("`{name}` cannot be read: {why}")))?;
    let reading = plan::read(&name, &text, &disk::Disk::beside(file), changes);
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
