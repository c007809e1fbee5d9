//! What the user gets: pure functions from plain report data to bytes and strings.
//!
//! Nothing here knows circuits or solvers, and nothing writes a file or prints: the caller
//! fills in the report structures and decides where the bytes go.

pub mod caution;
pub mod csv;
pub mod diagnostics;
mod number;
pub mod plot;
pub mod report;
pub mod text;
mod wrap;

/// `text` with every control character replaced, so that a name from a file can neither steer
/// a terminal nor make an SVG unreadable. Line breaks and tabs become blanks.
fn printable(text: &str) -> String {
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
