//! A copy of the circuit file with values changed in place, under a name that nothing has yet.

use crate::cli::disk::{Disk, read_text, reason};
use crate::cli::unfinished::{file_in, tidy};
use railstep::circuit::{Change, Changes, rewrite::rewritten};
use railstep::plan;
use std::io::{ErrorKind, Write as _};
use std::path::{Path, PathBuf};

/// Names that are tried: `rail-live.toml`, `rail-live-2.toml` …
const MOST_COPIES: usize = 1000;

/// Writes beside the file; into the working directory where that cannot be written to and the copy
/// needs no file from there.
pub(super) fn write(file: &Path, served: &str, changes: &[Change]) -> Result<PathBuf, String> {
    let shown = file.display();
    let text = read_text(file).map_err(|why| format!("`{shown}`: {why}"))?;
    if text != served {
        // The figures on the page are not those of what would be copied.
        return Err(format!("`{shown}` was changed since it was read; start `railstep live` anew"));
    }
    let text = rewritten(&text, changes).map_err(|all| all.join("; "))?;
    let beside = file.parent().unwrap_or(Path::new(""));
    match write_into(beside, file, &text) {
        Err(Trouble::Folder(why)) if !beside.as_os_str().is_empty() => {
            write_into(Path::new(""), file, &text)
                .map_err(|_| format!("`{}` cannot be written to: {why}", beside.display()))
        }
        done => done.map_err(|trouble| match trouble {
            Trouble::Folder(why) | Trouble::Copy(why) => why,
        }),
    }
}

enum Trouble {
    /// Nothing can be written here.
    Folder(String),
    /// The copy would be no circuit.
    Copy(String),
}

fn write_into(folder: &Path, file: &Path, text: &str) -> Result<PathBuf, Trouble> {
    let stem = file.file_stem().unwrap_or("circuit".as_ref()).to_string_lossy().into_owned();
    let first = folder.join(format!("{stem}-live.toml"));
    let name = first.display().to_string();
    let reading = plan::read(&name, text, &Disk::beside(&first), &Changes::default());
    if reading.plan.is_none() {
        let why = reading.diagnostics.into_iter().next().map_or_else(String::new, |m| m.message);
        return Err(Trouble::Copy(format!("the copy would not be read again: {why}")));
    }
    let here = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    let trouble = |error: std::io::Error| Trouble::Folder(reason(&error));
    tidy(here);
    let mut copy = file_in(here).map_err(trouble)?;
    copy.write_all(text.as_bytes()).map_err(trouble)?;
    copy.as_file().sync_all().map_err(trouble)?;
    for count in 1..=MOST_COPIES {
        let path = match count {
            1 => first.clone(),
            _ => folder.join(format!("{stem}-live-{count}.toml")),
        };
        // Made only where nothing is, whatever has come there meanwhile.
        match copy.persist_noclobber(&path) {
            Ok(_) => return Ok(path),
            Err(failed) if failed.error.kind() == ErrorKind::AlreadyExists => copy = failed.file,
            Err(failed) => return Err(trouble(failed.error)),
        }
    }
    Err(Trouble::Copy(format!("there are {MOST_COPIES} copies already; remove some")))
}
