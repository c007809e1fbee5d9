//! Standard output and standard error. A reader that went away is no error.

use railstep::diagnostic::{Diagnostic, Sources};
use railstep::output::diagnostics;
use std::io::Write as _;

/// Width of tables when the terminal does not say.
const WIDTH: usize = 100;

/// Writes to standard output.
pub(super) fn say(text: &str) {
    let mut out = anstream::stdout().lock();
    let _ = out.write_all(text.as_bytes());
    let _ = out.flush();
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

/// Columns of the terminal.
pub(super) fn width() -> usize {
    std::env::var("COLUMNS").ok().and_then(|c| c.parse().ok()).unwrap_or(WIDTH)
}
