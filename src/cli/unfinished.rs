//! What is being written: under names of its own beside its place, so that a file is there whole or not
//! at all, and swept away by the next command where a program was killed over it.
//!
//! Whoever writes holds a lock, which the system gives back when a program ends, however it ends. No
//! clock and no number of a process is asked, for folders may be shared between machines.

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use tempfile::{Builder, NamedTempFile, TempDir};

const BEGINNING: &str = ".railstep-";
const ENDING: &str = ".part";
/// What is locked inside a folder of this kind.
const LOCK: &str = "lock";
/// Times that a file or folder is made anew where others sweep at the same instant.
const TRIES: u32 = 5;

/// A folder inside another one for files that will be moved into that. It goes when it is dropped.
#[derive(Debug)]
pub(super) struct Stage {
    folder: TempDir,
    _lock: File,
}

impl Stage {
    pub(super) fn inside(place: &Path) -> io::Result<Self> {
        let mut tries = 0..TRIES;
        loop {
            let folder = named().tempdir_in(place)?;
            match File::create(folder.path().join(LOCK)) {
                // Another program swept it away before it bore a lock.
                Err(error) if error.kind() == io::ErrorKind::NotFound && tries.next().is_some() => {
                }
                made => {
                    let lock = made?;
                    lock.lock()?;
                    // Who sweeps holds the lock until all is gone.
                    if folder.path().join(LOCK).exists() || tries.next().is_none() {
                        return Ok(Self { folder, _lock: lock });
                    }
                }
            }
        }
    }

    /// Where a file is to be written; names that come from a test end in letters, so that none is the
    /// lock's.
    pub(super) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }
}

/// A file beside the place where it will be put, as readable there as any other.
pub(super) fn file_in(folder: &Path) -> io::Result<NamedTempFile> {
    let mut builder = named();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        // The user's mask is taken from it.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    let mut tries = 0..TRIES;
    loop {
        let file = builder.tempfile_in(folder)?;
        file.as_file().lock()?;
        if file.path().exists() || tries.next().is_none() {
            return Ok(file);
        }
    }
}

fn named() -> Builder<'static, 'static> {
    let mut builder = Builder::new();
    builder.prefix(BEGINNING).suffix(ENDING);
    builder
}

/// Removes what killed programs left in a folder.
pub(super) fn tidy(folder: &Path) {
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let name = entry.file_name();
        let is_ours =
            name.to_str().is_some_and(|n| n.starts_with(BEGINNING) && n.ends_with(ENDING));
        let Some(kind) = entry.file_type().ok().filter(|_| is_ours) else { continue };
        let path = entry.path();
        let locked = if kind.is_dir() { path.join(LOCK) } else { path.clone() };
        // A folder without a lock was left before it got one, or while it was taken away.
        let opened = File::options()
            .read(true)
            .write(kind.is_dir())
            .create(kind.is_dir())
            .truncate(false)
            .open(&locked);
        let Ok(lock) = opened else { continue };
        // What is locked belongs to somebody who still writes. Held until all is gone: whoever made it
        // this instant waits for the lock, and makes another.
        if lock.try_lock().is_ok() {
            let _ = if kind.is_dir() { fs::remove_dir_all(&path) } else { fs::remove_file(&path) };
        }
    }
}
