//! What the user gets: pure functions from plain report data to bytes and strings.
//!
//! Nothing here writes a file or prints: the caller decides where the bytes go. Only `summary` and
//! `figure` know what a test gives; all else works on plain report data.

mod advice;
pub mod caution;
mod chart_parts;
pub mod csv;
pub mod curves;
pub mod diagnostics;
pub mod explain;
pub mod figure;
mod limit_figure;
mod number;
pub mod page;
pub mod plot;
pub mod report;
pub mod schema;
pub mod sketch;
pub mod studies;
pub mod summary;
pub mod sweep_figure;
pub mod text;
pub mod understood;
mod wrap;

/// `text` with every control character replaced, so that a name from a file can neither steer
/// a terminal nor make an SVG unreadable. Line breaks and tabs become blanks.
pub fn printable(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\n' | '\r' | '\t' => ' ',
            // U+FFFE and U+FFFF are not characters of XML 1.0 (W3C, production 2).
            c if c.is_control() || c == '\u{fffe}' || c == '\u{ffff}' => '\u{fffd}',
            // Marks that turn the writing direction can make a line read otherwise than it is.
            '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => '\u{fffd}',
            c => c,
        })
        .collect()
}
