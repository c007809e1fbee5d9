//! Standard output and standard error. A reader that went away is no error; results that were printed
//! onto a full disk are.

use super::disk::reason;
use railstep::diagnostic::{Diagnostic, Sources};
use railstep::output::diagnostics;
use std::io::{ErrorKind, IsTerminal as _, Write as _};
use std::sync::atomic::{AtomicBool, Ordering};

/// Width of tables when the terminal does not say.
const WIDTH: usize = 100;

/// Whether something that was to be said is lost.
static LOST: AtomicBool = AtomicBool::new(false);

/// Writes to standard output.
pub(super) fn say(text: &str) {
    let mut out = anstream::stdout().lock();
    let said = out.write_all(text.as_bytes()).and_then(|()| out.flush());
    if let Err(error) = said
        && error.kind() != ErrorKind::BrokenPipe
        && !LOST.swap(true, Ordering::Relaxed)
    {
        complain(&format!("standard output cannot be written: {}", reason(&error)));
    }
}

/// Whether standard output could not take what was said.
pub(super) fn is_lost() -> bool {
    LOST.load(Ordering::Relaxed)
}

/// Writes a line to standard error.
pub(super) fn complain(line: &str) {
    let mut out = anstream::stderr().lock();
    let _ = writeln!(out, "error: {line}");
}

/// Writes a remark to standard error.
pub(super) fn note(line: &str) {
    let mut out = anstream::stderr().lock();
    let _ = writeln!(out, "note: {line}");
}

/// Draws mistakes on standard error.
pub(super) fn show(told: &[Diagnostic], sources: &Sources) {
    if told.is_empty() {
        return;
    }
    let mut out = anstream::stderr().lock();
    let _ = out.write_all(diagnostics::coloured(told, sources).as_bytes());
}

/// Columns of the terminal: what `COLUMNS` says, else its own size.
pub(super) fn width() -> usize {
    let told = std::env::var("COLUMNS").ok().and_then(|columns| columns.parse().ok());
    let own = || {
        let (width, _) = terminal_size::terminal_size_of(std::io::stdout())?;
        Some(usize::from(width.0)).filter(|width| *width > 0)
    };
    told.filter(|width| *width > 0).or_else(own).unwrap_or(WIDTH)
}

/// Whether somebody looks at standard output.
pub(super) fn is_there() -> bool {
    std::io::stdout().is_terminal()
}

/// Whether the locale (POSIX: the first of these variables that says something) has all of Unicode.
pub(super) fn shows_unicode() -> bool {
    let said = |name| std::env::var(name).ok().filter(|value| !value.is_empty());
    let locale = ["LC_ALL", "LC_CTYPE", "LANG"].into_iter().find_map(said);
    locale.is_some_and(|locale| {
        let plain = locale.to_lowercase().replace('-', "");
        plain.contains("utf8")
    })
}
