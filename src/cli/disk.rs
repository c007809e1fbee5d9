//! Files of the disk, as the reader asks for them: relative to the folder of the circuit file.

use railstep::document::Files;
use std::cell::Cell;
use std::fs;
use std::io::Read as _;
use std::path::{Path, PathBuf};

/// A file larger than this is not read.
const LARGEST_FILE_BYTES: u64 = 64 << 20;
/// All files that one circuit names may come to this: a short row of a table takes four times its bytes
/// in memory.
const LARGEST_SUM_BYTES: usize = 256 << 20;

pub(super) struct Disk {
    folder: PathBuf,
    read_bytes: Cell<usize>,
}

impl Disk {
    pub(super) fn beside(file: &Path) -> Self {
        let folder = file.parent().map(Path::to_path_buf).unwrap_or_default();
        Self { folder, read_bytes: Cell::new(0) }
    }

    fn count(&self, text: String) -> Result<String, String> {
        self.read_bytes.set(self.read_bytes.get().saturating_add(text.len()));
        if self.read_bytes.get() > LARGEST_SUM_BYTES {
            let most = LARGEST_SUM_BYTES >> 20;
            return Err(format!("the files that the circuit names come to more than {most} MB"));
        }
        Ok(text)
    }
}

impl Files for Disk {
    fn read(&self, path: &str) -> Result<String, String> {
        let real = self.folder.join(path);
        // A link must not lead out of the folder that the file belongs to.
        let folder = if self.folder.as_os_str().is_empty() { Path::new(".") } else { &self.folder };
        let inside = fs::canonicalize(folder)
            .and_then(|folder| Ok(fs::canonicalize(&real)?.starts_with(folder)));
        match inside {
            Ok(true) => self.count(read_text(&real)?),
            Ok(false) => Err("it lies outside the folder of the circuit file".to_owned()),
            Err(error) => Err(reason(&error)),
        }
    }
}

/// The text of a file, or why there is none.
pub(super) fn read_text(path: &Path) -> Result<String, String> {
    let kind = fs::metadata(path).map_err(|e| reason(&e))?.file_type();
    if kind.is_dir() {
        return Err("it is a folder".to_owned());
    }
    if is_pipe(kind) && !["/dev", "/proc"].iter().any(|own| path.starts_with(own)) {
        return Err("it is a pipe, and perhaps nobody writes to it; name a file".to_owned());
    }
    // Pipes and devices tell no length, so the limit is kept while reading.
    let mut bytes = Vec::new();
    let file = fs::File::open(path).map_err(|e| reason(&e))?;
    file.take(LARGEST_FILE_BYTES + 1).read_to_end(&mut bytes).map_err(|e| reason(&e))?;
    if bytes.len() as u64 > LARGEST_FILE_BYTES {
        return Err(format!("it is larger than {} MB", LARGEST_FILE_BYTES >> 20));
    }
    String::from_utf8(bytes).map_err(|e| {
        let right = &e.as_bytes()[..e.utf8_error().valid_up_to()];
        let line = right.split(|b| *b == b'\n').count();
        format!("it is not UTF-8 text (first wrong byte in line {line})")
    })
}

/// Whether opening waits for somebody who writes. Those that a shell passes on, `/dev/fd/63`, have one.
#[cfg(unix)]
fn is_pipe(kind: fs::FileType) -> bool {
    use std::os::unix::fs::FileTypeExt as _;
    kind.is_fifo()
}

#[cfg(not(unix))]
fn is_pipe(_: fs::FileType) -> bool {
    false
}

/// An error of the operating system in plain words.
pub(super) fn reason(error: &std::io::Error) -> String {
    match error.kind() {
        std::io::ErrorKind::NotFound => "there is no such file".to_owned(),
        std::io::ErrorKind::PermissionDenied => "permission is denied".to_owned(),
        std::io::ErrorKind::AlreadyExists => "a file of that name is in the way".to_owned(),
        std::io::ErrorKind::NotADirectory => "a part of the path is a file".to_owned(),
        std::io::ErrorKind::StorageFull => "no space is left".to_owned(),
        std::io::ErrorKind::QuotaExceeded => "no space is left to this user".to_owned(),
        std::io::ErrorKind::ReadOnlyFilesystem => "this disk can only be read".to_owned(),
        _ => error.to_string(),
    }
}
