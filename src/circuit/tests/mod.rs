//! Circuits read from small files: the good to numbers worked out by hand, the broken to the
//! mistakes the rules ask for.

// A test that cannot go on has failed.
#![allow(clippy::expect_used)]

mod broken;
mod good;
mod mistakes;
mod topology;

use super::{Change, Changes, Circuit, Reading, read};
use crate::diagnostic::{Diagnostic, Sources};
use crate::document::Files;
use std::collections::BTreeMap;

/// Files in memory.
pub(super) struct InMemory(BTreeMap<&'static str, &'static str>);

impl InMemory {
    pub(super) fn of(files: &[(&'static str, &'static str)]) -> Self {
        Self(files.iter().copied().collect())
    }
}

impl Files for InMemory {
    fn read(&self, path: &str) -> Result<String, String> {
        let found = self.0.get(path).map(|text| (*text).to_owned());
        found.ok_or_else(|| "there is no such file".to_owned())
    }
}

/// A source and a resistor, to which a test adds its own lines from line 6 on.
pub(super) const BENCH: &str = r#"title = "bench"
[rail]
[parts]
V1 = { kind = "voltage-source", plus = "a", minus = "gnd", voltage = "5 V" }
R1 = { kind = "resistor", nodes = ["a", "gnd"], resistance = "1 kΩ" }
"#;

pub(super) fn bench(lines: &str) -> String {
    format!("{BENCH}{lines}\n")
}

pub(super) fn reading(text: &str) -> Reading {
    read("netlists/bench.toml", text, &InMemory::of(&[]))
}

pub(super) fn circuit(text: &str) -> Circuit {
    let reading = reading(text);
    let told = shown(&reading.diagnostics.clone().sorted(), &reading.sources);
    reading.circuit.unwrap_or_else(|| panic!("{told:#?}"))
}

/// `file:line:column message` of each; no place is `-`.
pub(super) fn shown(mistakes: &[Diagnostic], sources: &Sources) -> Vec<String> {
    let shown = |d: &Diagnostic| match d.span {
        Some(span) => {
            let (line, column) = sources.line_column(span);
            let file = sources.files.get(span.file.0).map_or("?", |f| f.name.as_str());
            let file = file.rsplit('/').next().unwrap_or(file);
            format!("{file}:{line}:{column} {}", d.message)
        }
        None => format!("- {}", d.message),
    };
    mistakes.iter().map(shown).collect()
}

/// A file with `▶` wherever a mistake is expected, taken out before reading; the mistakes
/// expected, in file order.
pub(super) fn expect(marked: &str, messages: &[&str]) {
    let mut expected = Vec::new();
    let mut text = String::new();
    for piece in marked.split_inclusive('▶') {
        text.push_str(piece.trim_end_matches('▶'));
        if piece.ends_with('▶') {
            let line_start = text.rfind('\n').map_or(0, |k| k + 1);
            let column = text[line_start..].chars().count() + 1;
            let message = messages.get(expected.len()).unwrap_or(&"no message given");
            let line = text.matches('\n').count() + 1;
            expected.push(format!("bench.toml:{line}:{column} {message}"));
        }
    }
    let reading = reading(&text);
    let told = reading.diagnostics.sorted();
    assert_eq!(shown(&told, &reading.sources), expected, "in\n{text}");
    for mistake in told {
        let has_hint =
            mistake.hint.is_some() || !mistake.also.is_empty() || !mistake.label.is_empty();
        assert!(has_hint, "nothing is said of what to do: {}", mistake.message);
        let first = mistake.message.chars().next().unwrap_or('a');
        assert!(!first.is_uppercase(), "{}", mistake.message);
        assert!(!mistake.message.ends_with('.'), "{}", mistake.message);
    }
}

pub(super) fn changes(list: &[(&str, &str)]) -> Changes {
    Changes { list: list.iter().map(|(path, text)| Change::new(*path, *text)).collect() }
}

/// The hint of the only mistake.
pub(super) fn hint(text: &str) -> String {
    let told = reading(text).diagnostics.sorted();
    assert_eq!(told.len(), 1, "{told:#?}");
    told[0].hint.clone().unwrap_or_default()
}
