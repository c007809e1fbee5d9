//! The folder results go to: known to be writable beforehand, and all files put there at once, when each
//! is whole, so that a run that ends early leaves those of an earlier one as they were.

use super::disk::{read_text, reason};
use super::unfinished::{Stage, tidy};
use super::{Stop, interrupt};
use railstep::output::printable;
use std::cell::RefCell;
use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// The file that is written last and lists the others.
pub(super) const SUMMARY: &str = "summary.json";

pub(super) struct Target {
    folder: PathBuf,
    before: BTreeSet<String>,
    written: RefCell<Option<(Stage, Vec<String>)>>,
}

impl Target {
    /// Makes sure that every one of `names` can be written into `folder`.
    pub(super) fn prepare(folder: &Path, names: &[String]) -> Result<Self, Stop> {
        fs::create_dir_all(folder).map_err(|e| match e.kind() {
            // What is missing is no file of the user's but a place where folders can be made.
            io::ErrorKind::NotFound => Stop::Because(format!(
                "`{}` cannot be written: no folder can be made there; name another by --out",
                folder.display()
            )),
            _ => wrong(folder, &e),
        })?;
        tidy(folder);
        Stage::inside(folder).map_err(|e| wrong(folder, &e))?;
        for name in names {
            let path = folder.join(name);
            if path.is_dir() {
                let why = format!("`{}` cannot be written: a folder has that name", path.display());
                return Err(Stop::Because(why));
            }
        }
        interrupt::answer_with(format!("`{}` is as it was", folder.display()));
        let before = files_of_earlier_run(folder);
        Ok(Self { folder: folder.to_path_buf(), before, written: RefCell::default() })
    }

    /// Writes one file beside its place.
    pub(super) fn write(&self, name: &str, bytes: &[u8]) -> Result<(), Stop> {
        let put = || -> io::Result<()> {
            let mut written = self.written.borrow_mut();
            let (stage, names) = match &mut *written {
                Some(begun) => begun,
                None => {
                    // Whoever removed it meanwhile meant what lay there before.
                    fs::create_dir_all(&self.folder)?;
                    written.insert((Stage::inside(&self.folder)?, Vec::new()))
                }
            };
            let mut file = File::create(stage.path(name))?;
            file.write_all(bytes)?;
            file.sync_all()?;
            names.push(name.to_owned());
            Ok(())
        };
        put().map_err(|e| wrong(&self.folder.join(name), &e))
    }

    /// Moves all that was written into its place, in that order.
    pub(super) fn deliver(&self) -> Result<(), Stop> {
        let Some((stage, names)) = self.written.take() else { return Ok(()) };
        let folder = self.folder.display();
        interrupt::answer_with(format!("some files in `{folder}` are new and some are not"));
        for name in names {
            let path = self.folder.join(&name);
            fs::rename(stage.path(&name), &path).map_err(|e| wrong(&path, &e))?;
        }
        Ok(())
    }

    /// The text of a command that names what it wrote, with where that lies.
    pub(super) fn placed(&self, text: &str) -> String {
        const NAMES: &str = "\nwritten: ";
        let folder = printable(&self.folder.display().to_string());
        text.replacen(NAMES, &format!("\nwritten into {folder}:\n  "), 1)
    }

    /// Files that an earlier run wrote here and this one, which writes `now`, does not.
    pub(super) fn stale(&self, now: &[String]) -> Vec<String> {
        let mut left: Vec<String> =
            self.before.iter().filter(|f| !now.contains(f)).cloned().collect();
        left.retain(|name| self.folder.join(name).is_file());
        left
    }
}

fn wrong(what: &Path, why: &io::Error) -> Stop {
    Stop::Because(format!("`{}` cannot be written: {}", what.display(), reason(why)))
}

/// What the summary in a folder lists as written or still lying there.
fn files_of_earlier_run(folder: &Path) -> BTreeSet<String> {
    let text = read_text(&folder.join(SUMMARY)).unwrap_or_default();
    let summary: serde_json::Value = serde_json::from_str(&text).unwrap_or_default();
    let listed = ["files", "stale"].iter().filter_map(|key| summary.get(key)?.as_array());
    let names = listed.flatten().filter_map(|name| name.as_str());
    // Only plain names: an edited summary must not make us look elsewhere.
    names.filter(|n| !n.contains(['/', '\\'])).map(str::to_owned).collect()
}
