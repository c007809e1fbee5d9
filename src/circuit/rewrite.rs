//! The text of a circuit file with some of its values changed in place: everything else, comments
//! included, stays as it was written.

use super::Change;
use crate::diagnostic::{FileId, Span};
use crate::document::{self, Node, Table};
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// `text` with what each change names written over; of two to the same place the later one holds.
///
/// # Errors
/// For each change that stands nowhere in this file, why it cannot be written.
pub fn rewritten(text: &str, changes: &[Change]) -> Result<String, Vec<String>> {
    let root = document::read(text, FileId(0))
        .map_err(|told| told.into_iter().map(|mistake| mistake.message).collect::<Vec<_>>())?;
    let mut places: BTreeMap<Span, &str> = BTreeMap::new();
    let mut missing = Vec::new();
    for change in changes {
        match place(&root, &change.path) {
            Some(node) => {
                places.insert(node.span, &change.text);
            }
            None => missing.push(format!(
                "`{}` is not written in this file, so that a copy cannot change it there",
                change.path
            )),
        }
    }
    if !missing.is_empty() {
        return Err(missing);
    }
    let mut new = String::with_capacity(text.len());
    let mut done = 0;
    for (span, value) in places {
        new.push_str(text.get(done..span.start).unwrap_or_default());
        new.push_str(&literal(value));
        done = span.end;
    }
    new.push_str(text.get(done..).unwrap_or_default());
    Ok(new)
}

/// The value that a path of a change means, where it stands in the file itself. A table holds more
/// than a value: only `value` inside it is one.
fn place<'a>(root: &'a Table, path: &str) -> Option<&'a Node> {
    let section = |name: &str| root.get(name)?.as_table();
    if let Some(node) = section("values").and_then(|values| values.get(path)) {
        return scalar(node.as_table().map_or(Some(node), |table| table.get("value"))?);
    }
    let (outer, key) = path.rsplit_once('.')?;
    let table = match outer.split_once('.') {
        Some(("models", name)) => section("models")?.get(name)?.as_table(),
        _ if outer == "rail" => section("rail"),
        _ => section("parts")?.get(outer)?.as_table(),
    };
    scalar(table?.get(key)?)
}

fn scalar(node: &Node) -> Option<&Node> {
    (node.as_text().is_some() || node.as_number().is_some()).then_some(node)
}

/// A basic string of TOML.
fn literal(value: &str) -> String {
    let mut text = String::with_capacity(value.len() + 2);
    text.push('"');
    for c in value.chars() {
        match c {
            '"' | '\\' => text.extend(['\\', c]),
            c if c.is_control() => {
                let _ = write!(text, "\\u{:04X}", u32::from(c));
            }
            c => text.push(c),
        }
    }
    text.push('"');
    text
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

    use super::{literal, rewritten};
    use crate::circuit::Change;

    const TEXT: &str = r#"# a rail
[values]
plain = '1 V'       # kept
long  = { value = "4.7 µF", tolerance = "20 %" } # kept too
count = 3
[rail]
ambient = "25 °C"
[parts]
R1 = { kind = "resistor", nodes = ["a", "b"], resistance = "1 Ω" }
[models.m]
kind = "diode"
saturation_current = "1 nA"
"#;

    fn with(changes: &[(&str, &str)]) -> Result<String, Vec<String>> {
        let list: Vec<Change> =
            changes.iter().map(|(path, text)| Change::new(*path, *text)).collect();
        rewritten(TEXT, &list)
    }

    #[test]
    fn only_the_values_named_are_written_over() {
        let changes = [
            ("plain", "2 V"),
            ("count", "7"),
            ("long", "10 µF"),
            ("rail.ambient", "-40 °C"),
            ("R1.resistance", "2 Ω"),
            ("models.m.saturation_current", "2 nA"),
            ("plain", "3 V"),
        ];
        let expected = TEXT
            .replace("'1 V'", "\"3 V\"")
            .replace("4.7 µF", "10 µF")
            .replace("= 3\n", "= \"7\"\n")
            .replace("25 °C", "-40 °C")
            .replace("1 Ω", "2 Ω")
            .replace("1 nA", "2 nA");
        assert_eq!(with(&changes).unwrap(), expected);
        assert_eq!(with(&[]).unwrap(), TEXT);
    }

    #[test]
    fn what_stands_nowhere_is_told_and_nothing_is_written() {
        let told =
            with(&[("plain", "2 V"), ("gone", "1"), ("R1.tolerance", "1 %"), ("R1.nodes", "a")]);
        assert_eq!(told.unwrap_err().len(), 3);
    }

    #[test]
    fn a_text_cannot_leave_its_quotes() {
        assert_eq!(literal("a\"b\\c\nd"), "\"a\\\"b\\\\c\\u000Ad\"");
    }
}
