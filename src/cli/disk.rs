//! Files of the disk, as the reader asks for them: relative to the folder of the circuit file.

use railstep::document::Files;
use std::fs;
use std::io::Read as _;
use std::path::{Path, PathBuf};

/// A file larger than this is not read.
const LARGEST_FILE_BYTES: u64 = 64 << 20;

pub(super) struct Disk {
    folder: PathBuf,
}

impl Disk {
    pub(super) fn beside(file: &Path) -> Self {
        Self { folder: file.parent().map(Path::to_path_buf).unwrap_or_default() }
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
            Ok(true) => read_text(&real),
            Ok(false) => Err("it lies outside the folder of the circuit file".to_owned()),
            Err(error) => Err(reason(&error)),
        }
    }
}

/// The text of a file, or why there is none.
pub(super) fn read_text(path: &Path) -> Result<String, String> {
    if fs::metadata(path).map_err(|e| reason(&e))?.is_dir() {
        return Err("it is a folder".to_owned());
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

/// An error of the operating system in plain words.
pub(super) fn reason(error: &std::io::Error) -> String {
    match error.kind() {
        std::io::ErrorKind::NotFound => "there is no such file".to_owned(),
        std::io::ErrorKind::PermissionDenied => "permission is denied".to_owned(),
        std::io::ErrorKind::AlreadyExists => "a file of that name is in the way".to_owned(),
        std::io::ErrorKind::NotADirectory => "a part of the path is a file".to_owned(),
        std::io::ErrorKind::StorageFull => "no space is left".to_owned(),
        _ => error.to_string(),
    }
}
