//! From TOML text to the tree, or to diagnostics of its syntax.

use super::{KeyName, Node, Table, Value};
use crate::diagnostic::{Diagnostic, FileId, MOST_TOLD, Span};
use std::ops::Range;
use toml::de::{DeTable, DeValue};

/// The largest file read, in bytes: as many parts as a circuit may have, each on a line of some eighty.
pub const MOST_BYTES: usize = 8_000_000;

/// The deepest that tables and lists may lie in one another.
pub const MOST_NESTING: usize = 32;

/// What the parser calls a key that is there already.
const DUPLICATE: &str = "duplicate key";

/// Reads one file.
///
/// # Errors
/// The earliest mistake of syntax (those after it are mostly its consequences) and every key that
/// is given twice; or that the file is too large or nested too deep.
pub fn read(text: &str, file: FileId) -> Result<Table, Vec<Diagnostic>> {
    let (table, mistakes) = read_recovering(text, file);
    match table {
        Some(table) if mistakes.is_empty() => Ok(table),
        _ => Err(mistakes),
    }
}

/// Reads one file; where keys given twice are the only mistakes, the tree with the first of each
/// comes along, so that the rest of the file can be checked too.
pub fn read_recovering(text: &str, file: FileId) -> (Option<Table>, Vec<Diagnostic>) {
    let whole = Span { file, start: 0, end: 0 };
    if text.len() > MOST_BYTES {
        let message = format!("the file is larger than {} MB", MOST_BYTES / 1_000_000);
        let hint = "put long tables of points into a CSV file and name it with `file`";
        return (None, vec![Diagnostic::error(whole, message).hint(hint)]);
    }
    let (parsed, errors) = DeTable::parse_recoverable(text);
    let mut place = Place { text, file, too_deep: None };
    let table = place.table(parsed.get_ref(), whole, 0);
    let mut mistakes = Vec::new();
    let (duplicates, syntax): (Vec<_>, Vec<_>) =
        errors.into_iter().partition(|error| error.message() == DUPLICATE);
    let first =
        syntax.iter().filter_map(|e| Some((e.span()?, e.message()))).min_by_key(|e| e.0.start);
    let cut = first.as_ref().map_or(usize::MAX, |(range, _)| range.start);
    if let Some((range, message)) = first {
        mistakes.push(syntax_mistake(place.span(range), message));
    } else if let Some(error) = syntax.first() {
        mistakes.push(syntax_mistake(whole, error.message()));
    }
    let again = duplicates.iter().filter_map(toml::de::Error::span).filter(|r| r.start < cut);
    // Each is looked for in the whole file.
    mistakes
        .extend(again.take(MOST_TOLD).map(|range| given_twice(text, &table, place.span(range))));
    mistakes.extend(place.too_deep.map(|span| {
        let message = format!("tables and lists nested more than {MOST_NESTING} deep");
        Diagnostic::error(span, message).label("too deep")
    }));
    let readable = syntax.is_empty() && place.too_deep.is_none();
    mistakes.sort_by_key(|d| d.span);
    (readable.then_some(table), mistakes)
}

/// The parser's words in our style, with what to type.
fn syntax_mistake(span: Span, message: &str) -> Diagnostic {
    let (what, expected) = message.split_once(", expected ").unwrap_or((message, ""));
    let diagnostic = Diagnostic::error(span, format!("not valid TOML: {what}"));
    let diagnostic = if expected.is_empty() {
        diagnostic
    } else {
        diagnostic.label(format!("expected {expected}"))
    };
    match what {
        "string values must be quoted" | "invalid value" | "missing value" => {
            diagnostic.hint("write quantities in quotes, such as `\"4.7 µF\"`")
        }
        "unclosed inline table" => diagnostic.hint("close the table with `}`"),
        "unclosed array" => diagnostic.hint("close the list with `]`"),
        "missing comma between key-value pairs" | "missing comma between array elements" => {
            diagnostic.hint("put `,` before this")
        }
        "invalid unquoted key" => diagnostic.hint("names are made of letters, digits and `_`"),
        "key with no value" => diagnostic.hint("write `key = \"value\"`"),
        _ => diagnostic,
    }
}

fn given_twice(text: &str, table: &Table, again: Span) -> Diagnostic {
    let name = text.get(again.start..again.end).unwrap_or("").trim_matches(['"', '\'']);
    let diagnostic = Diagnostic::error(again, format!("`{name}` is given twice"))
        .label("second time")
        .hint("keep one of them, or give the other another name");
    match earlier(table, name, again.start).or_else(|| earlier_header(text, again)) {
        Some(first) => diagnostic.also(first, "first time"),
        None => diagnostic,
    }
}

/// The last key of this name before byte `before`, leaving out inline tables that end before it.
fn earlier(table: &Table, name: &str, before: usize) -> Option<Span> {
    let mut best: Option<Span> = None;
    let mut consider = |found: Option<Span>| {
        best = best.into_iter().chain(found).max_by_key(|s| s.start);
    };
    for (key, node) in &table.entries {
        if key.text == name && key.span.start < before {
            consider(Some(key.span));
        }
        // A value of its own braces lies behind its key; a table with a header starts before it.
        let inline = node.span.start > key.span.start;
        if inline && !(node.span.start < before && before < node.span.end) {
            continue;
        }
        match &node.value {
            Value::Table(inner) => consider(earlier(inner, name, before)),
            Value::Array(items) => {
                for inner in items.iter().filter_map(Node::as_table) {
                    consider(earlier(inner, name, before));
                }
            }
            _ => {}
        }
    }
    best
}

/// The name in an earlier line with the same header: the parser keeps only the last of two.
fn earlier_header(text: &str, again: Span) -> Option<Span> {
    let line_start = text.get(..again.start)?.rfind('\n').map_or(0, |i| i + 1);
    let blanks = |line: &str| line.len() - line.trim_start().len();
    let written = text.get(line_start..)?.lines().next()?;
    let header = written.trim();
    let within = (again.start - line_start).checked_sub(blanks(written))?;
    let mut start = 0;
    for line in text.get(..line_start)?.split_inclusive('\n') {
        if header.starts_with('[') && line.trim() == header {
            let name = start + blanks(line) + within;
            return Some(Span { start: name, end: name + (again.end - again.start), ..again });
        }
        start += line.len();
    }
    None
}

struct Place<'a> {
    text: &'a str,
    file: FileId,
    too_deep: Option<Span>,
}

impl Place<'_> {
    fn span(&self, range: Range<usize>) -> Span {
        let end = range.end.min(self.text.len());
        Span { file: self.file, start: range.start.min(end), end }
    }

    fn table(&mut self, table: &DeTable<'_>, span: Span, depth: usize) -> Table {
        let mut entries = Vec::with_capacity(table.len());
        for (key, value) in table {
            let name = KeyName { text: key.get_ref().to_string(), span: self.span(key.span()) };
            entries.push((name, self.node(value.get_ref(), value.span(), depth + 1)));
        }
        entries.sort_by_key(|(name, _)| name.span);
        Table { span, entries }
    }

    fn node(&mut self, value: &DeValue<'_>, range: Range<usize>, depth: usize) -> Node {
        let span = self.span(range);
        if depth > MOST_NESTING {
            self.too_deep.get_or_insert(span);
            return Node::new(span, Value::Other("something nested too deep"));
        }
        let mut content = None;
        let value = match value {
            DeValue::String(text) => {
                content = self.content(span, text);
                Value::Text(text.to_string())
            }
            DeValue::Integer(digits) => integer(digits.as_str(), digits.radix()),
            DeValue::Float(digits) => float(digits.as_str()),
            DeValue::Boolean(truth) => Value::Boolean(*truth),
            DeValue::Datetime(_) => Value::Other("a date"),
            DeValue::Array(items) => Value::Array(
                items.iter().map(|i| self.node(i.get_ref(), i.span(), depth + 1)).collect(),
            ),
            DeValue::Table(table) => Value::Table(self.table(table, span, depth)),
        };
        Node { span, value, content }
    }

    /// Where the text stands letter by letter between its quotes.
    fn content(&self, span: Span, text: &str) -> Option<Span> {
        let written = self.text.get(span.start..span.end)?;
        [3, 1].into_iter().find_map(|quotes| {
            let end = written.len().checked_sub(quotes)?;
            (written.get(quotes..end)? == text).then(|| span.within(quotes, end))
        })
    }
}

fn integer(digits: &str, radix: u32) -> Value {
    match i64::from_str_radix(digits, radix) {
        Ok(whole) => Value::Integer(whole),
        Err(_) if radix == 10 => float(digits),
        Err(_) => Value::Other("a number too large to keep"),
    }
}

fn float(digits: &str) -> Value {
    match digits.parse::<f64>() {
        Ok(number) if number.is_finite() => Value::Float(number),
        _ => Value::Other("a number that is not finite"),
    }
}
