//! The folder results go to: each file whole or not at all, and known to be writable beforehand.

use super::Stop;
use super::disk::reason;
use railstep::output::printable;
use std::collections::BTreeSet;
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// The file that is written last and lists the others.
pub(super) const SUMMARY: &str = "summary.json";

pub(super) struct Target {
    folder: PathBuf,
    before: BTreeSet<String>,
}

impl Target {
    /// Makes sure that every one of `names` can be written into `folder`.
    pub(super) fn prepare(folder: &Path, names: &[String]) -> Result<Self, Stop> {
        let wrong = |what: &Path, why: &std::io::Error| {
            Stop::Because(format!("`{}` cannot be written: {}", what.display(), reason(why)))
        };
        fs::create_dir_all(folder).map_err(|e| match e.kind() {
            // What is missing is no file of the user's but a place where folders can be made.
            std::io::ErrorKind::NotFound => Stop::Because(format!(
                "`{}` cannot be written: no folder can be made there; name another by --out",
                folder.display()
            )),
            _ => wrong(folder, &e),
        })?;
        NamedTempFile::new_in(folder).map_err(|e| wrong(folder, &e))?;
        for name in names {
            let path = folder.join(name);
            if path.is_dir() {
                let why = format!("`{}` cannot be written: a folder has that name", path.display());
                return Err(Stop::Because(why));
            }
        }
        Ok(Self { folder: folder.to_path_buf(), before: files_of_earlier_run(folder) })
    }

    /// Writes one file beside its place and renames it into it.
    pub(super) fn write(&self, name: &str, bytes: &[u8]) -> Result<(), Stop> {
        let path = self.folder.join(name);
        let put = || -> std::io::Result<()> {
            let mut beside = NamedTempFile::new_in(&self.folder)?;
            beside.write_all(bytes)?;
            beside.as_file().sync_all()?;
            readable_by_others(beside.as_file())?;
            beside.persist(&path).map_err(|e| e.error)?;
            Ok(())
        };
        put().map_err(|e| {
            Stop::Because(format!("`{}` cannot be written: {}", path.display(), reason(&e)))
        })
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

/// A temporary file is private; results are as readable as any other file.
#[cfg(unix)]
pub(super) fn readable_by_others(file: &fs::File) -> std::io::Result<()> {
    use std::os::unix::fs::PermissionsExt as _;
    file.set_permissions(fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
pub(super) fn readable_by_others(_: &fs::File) -> std::io::Result<()> {
    Ok(())
}

/// What the summary in a folder lists as written or still lying there.
fn files_of_earlier_run(folder: &Path) -> BTreeSet<String> {
    let text = fs::read_to_string(folder.join(SUMMARY)).unwrap_or_default();
    let summary: serde_json::Value = serde_json::from_str(&text).unwrap_or_default();
    let listed = ["files", "stale"].iter().filter_map(|key| summary.get(key)?.as_array());
    let names = listed.flatten().filter_map(|name| name.as_str());
    // Only plain names: an edited summary must not make us look elsewhere.
    names.filter(|n| !n.contains(['/', '\\'])).map(str::to_owned).collect()
}
