//! How a file of measured samples is laid out: delimiter, decimal sign, heads, and where the samples
//! begin. Instruments write what they like above their samples; what is no row of numbers stands
//! there and is passed over, but for the heads.

use crate::diagnostic::{FileId, Span};
use crate::quantity::{NoNames, parse};

/// Lines that are looked at to tell the delimiter.
const LOOKED_AT: usize = 200;
/// Delimiters that are known, the ones that are no decimal sign first.
const DELIMITERS: [char; 3] = ['\t', ';', ','];

/// One cell with its place in the text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Cell<'a> {
    /// Without blanks and quotes around it.
    pub(super) text: &'a str,
    pub(super) start: usize,
    pub(super) end: usize,
}

impl Cell<'_> {
    pub(super) fn span(&self, file: FileId) -> Span {
        Span { file, start: self.start, end: self.end.max(self.start) }
    }
}

/// A line that is neither blank nor a comment, with the byte at which it begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Line<'a> {
    pub(super) text: &'a str,
    pub(super) start: usize,
}

/// What was made out.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Layout<'a> {
    pub(super) delimiter: char,
    /// Whether numbers are written as `0,5`.
    pub(super) decimal_comma: bool,
    /// One a column; `unit` is empty where the head gives none.
    pub(super) heads: Vec<Head<'a>>,
    /// All lines from the first one of numbers on.
    pub(super) rows: Vec<Line<'a>>,
}

/// The head of a column.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Head<'a> {
    pub(super) cell: Cell<'a>,
    pub(super) name: &'a str,
    pub(super) unit: &'a str,
}

/// Why a text has no layout.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Unreadable {
    /// No line holds two numbers.
    NoRows,
    /// The first line of numbers, which begins at this byte, has no heads above it.
    NoHeads(usize),
}

pub(super) fn layout(text: &str) -> Result<Layout<'_>, Unreadable> {
    let lines = lines(text);
    let numbers = |delimiter: char| {
        let all = lines.iter().take(LOOKED_AT);
        all.filter(|line| is_numbers(line, delimiter)).count()
    };
    // The first of equals: a file of one delimiter has no rows of numbers under the others, but for
    // decimal commas, which stand behind.
    let mut best = (0, ',');
    for delimiter in DELIMITERS {
        let count = numbers(delimiter);
        if count > best.0 {
            best = (count, delimiter);
        }
    }
    let (count, delimiter) = best;
    if count == 0 {
        return Err(Unreadable::NoRows);
    }
    let first = lines.iter().position(|line| is_numbers(line, delimiter)).unwrap_or(0);
    let above: Vec<Vec<Cell<'_>>> = lines[..first].iter().map(|l| cells(l, delimiter)).collect();
    let heads = heads(&above).ok_or(Unreadable::NoHeads(lines[first].start))?;
    let rows = lines[first..].to_vec();
    let decimal_comma = delimiter != ',' && rows.iter().any(|line| line.text.contains(','));
    Ok(Layout { delimiter, decimal_comma, heads, rows })
}

fn lines(text: &str) -> Vec<Line<'_>> {
    let body = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut start = text.len() - body.len();
    let mut found = Vec::new();
    for line in body.split_inclusive('\n') {
        let bare = line.trim_end_matches(['\n', '\r']);
        if !bare.trim().is_empty() && !bare.trim_start().starts_with('#') {
            found.push(Line { text: bare, start });
        }
        start += line.len();
    }
    found
}

/// The cells of a line; a delimiter between quotes belongs to its cell.
pub(super) fn cells<'a>(line: &Line<'a>, delimiter: char) -> Vec<Cell<'a>> {
    let mut found = Vec::new();
    let (mut from, mut quoted) = (0, false);
    let ends = line.text.char_indices().chain([(line.text.len(), delimiter)]);
    for (at, c) in ends {
        if c == '"' && at < line.text.len() {
            quoted = !quoted;
        }
        if at == line.text.len() || (c == delimiter && !quoted) {
            found.push(cell(line, from, at));
            from = at + c.len_utf8();
        }
    }
    // A delimiter behind the last cell opens no further one.
    if found.len() > 1 && found.last().is_some_and(|last| last.text.is_empty()) {
        found.pop();
    }
    found
}

fn cell<'a>(line: &Line<'a>, from: usize, to: usize) -> Cell<'a> {
    let whole = line.text.get(from..to).unwrap_or_default();
    let around = |c: char| c.is_whitespace() || c == '"';
    let text = whole.trim_matches(around);
    let ahead = whole.len() - whole.trim_start_matches(around).len();
    let start = line.start + from + if text.is_empty() { 0 } else { ahead };
    Cell { text, start, end: start + text.len() }
}

/// Whether every cell that holds anything holds a number, and two or more do.
fn is_numbers(line: &Line<'_>, delimiter: char) -> bool {
    let cells = cells(line, delimiter);
    let mut filled = cells.iter().filter(|cell| !cell.text.is_empty());
    filled.clone().count() > 1 && filled.all(|c| number(c.text, delimiter != ',').is_some())
}

/// A number with a decimal point, or also with a decimal comma.
pub(super) fn number(text: &str, comma: bool) -> Option<f64> {
    let plain = |c: char| c.is_ascii_digit() || "+-.,eE".contains(c);
    if !text.chars().all(plain) {
        return None;
    }
    let value: f64 = match text.split_once(',') {
        None => text.parse().ok()?,
        Some((whole, fraction)) if comma && !whole.contains('.') && !fraction.contains('.') => {
            format!("{whole}.{fraction}").parse().ok()?
        }
        Some(_) => return None,
    };
    value.is_finite().then_some(value)
}

/// The line right above the numbers; where that is a line of units alone, with the names above it.
fn heads<'a>(above: &[Vec<Cell<'a>>]) -> Option<Vec<Head<'a>>> {
    let (last, before) = above.split_last()?;
    if last.len() < 2 {
        return None;
    }
    let names = before.last().filter(|names| names.len() == last.len());
    let all_units = last.iter().all(|cell| is_unit(bare_unit(cell.text)));
    let heads = match names.filter(|_| all_units) {
        Some(names) => names
            .iter()
            .zip(last)
            .map(|(cell, unit)| Head { cell: *cell, name: cell.text, unit: bare_unit(unit.text) })
            .collect(),
        None => last.iter().map(|cell| head(*cell)).collect(),
    };
    Some(heads)
}

fn head(cell: Cell<'_>) -> Head<'_> {
    let (name, unit) = split(cell.text);
    Head { cell, name, unit }
}

/// `CH1 [mV]` or `CH1 (mV)` as `CH1` and `mV`.
pub(super) fn split(text: &str) -> (&str, &str) {
    let ends = [('[', ']'), ('(', ')')];
    let found = ends.into_iter().find_map(|(open, close)| {
        let (name, unit) = text.trim().strip_suffix(close)?.rsplit_once(open)?;
        Some((name.trim(), unit.trim()))
    });
    found.unwrap_or((text.trim(), ""))
}

fn bare_unit(text: &str) -> &str {
    let (name, unit) = split(text);
    if name.is_empty() { unit } else { name }
}

fn is_unit(text: &str) -> bool {
    let span = Span { file: FileId(0), start: 0, end: 0 };
    !text.is_empty() && parse(&format!("1 {text}"), span).is_ok_and(|t| t.compile(&NoNames).is_ok())
}
