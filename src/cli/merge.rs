//! `railstep study merge`: joins the parts of a study that was spread over machines.

use super::arguments::{Arguments, MergeArguments};
use super::options::Format;
use super::{Stop, journal};
use clap::Parser as _;
use std::fs;
use std::path::{Path, PathBuf};

/// The command that made the parts, to be made again with their runs known.
pub(super) fn command(arguments: &MergeArguments) -> Result<Arguments, Stop> {
    let mut journals = Vec::new();
    for given in &arguments.parts {
        journals.extend(journals_in(given)?);
    }
    let Some(first) = journals.first().cloned() else {
        return Err(Stop::Because("no journals of parts lie there".to_owned()));
    };
    let (head, _) = journal::read(&first)?;
    let words = std::iter::once("railstep".to_owned()).chain(head.command.iter().cloned());
    let unreadable =
        || Stop::Because(format!("the command in `{}` cannot be read any more", first.display()));
    let mut command = Arguments::try_parse_from(words).map_err(|_| unreadable())?;
    let study = command.command.study_mut().ok_or_else(unreadable)?;
    study.shard = None;
    study.known = journals;
    study.threads = arguments.threads.or(study.threads);
    study.format = arguments.format.unwrap_or(Format::Text);
    study.out = Some(match &arguments.out {
        Some(out) => out.clone(),
        None => first.parent().unwrap_or(Path::new(".")).to_path_buf(),
    });
    Ok(command)
}

/// A journal itself, or all in a folder, in order of their names.
fn journals_in(given: &Path) -> Result<Vec<PathBuf>, Stop> {
    if !given.is_dir() {
        return Ok(vec![given.to_path_buf()]);
    }
    let entries = fs::read_dir(given).map_err(|e| {
        Stop::Because(format!("`{}`: {}", given.display(), super::disk::reason(&e)))
    })?;
    let paths = entries.filter_map(|entry| Some(entry.ok()?.path()));
    let is_part = |path: &PathBuf| {
        let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        name.contains(".part-") && path.extension().is_some_and(|e| e == journal::ENDING)
    };
    let mut found: Vec<PathBuf> = paths.filter(is_part).collect();
    found.sort();
    Ok(found)
}
