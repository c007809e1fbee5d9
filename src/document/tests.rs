//! The tree against small files whose places were counted by hand.

// A test that cannot go on has failed.
#![allow(clippy::expect_used)]

use super::*;
use crate::diagnostic::{Diagnostics, FileId, Sources};
use proptest::prelude::*;

const FILE: FileId = FileId(0);

/// line:column message, of all mistakes.
fn told(text: &str) -> Vec<String> {
    let mut sources = Sources::default();
    sources.add("a.toml", text);
    let told = |d: &crate::diagnostic::Diagnostic| {
        let (line, column) = d.span.map_or((0, 0), |s| sources.line_column(s));
        format!("{line}:{column} {}", d.message)
    };
    read(text, FILE).err().unwrap_or_default().iter().map(told).collect()
}

fn good(text: &str) -> Table {
    read(text, FILE).unwrap_or_else(|mistakes| panic!("{mistakes:?}"))
}

#[test]
fn entries_stand_in_file_order_with_their_places() {
    let text = "z = 1\na = \"µF\"\n[t]\nb = [true, 2.5]\n";
    let table = good(text);
    assert_eq!(table.keys().collect::<Vec<_>>(), ["z", "a", "t"]);
    let a = table.get("a").expect("a is there");
    assert_eq!(&text[a.span.start..a.span.end], "\"µF\"");
    assert_eq!(&text[a.content_span().start..a.content_span().end], "µF");
    let inner = table.get("t").and_then(Node::as_table).expect("t is a table");
    let items = inner.get("b").and_then(Node::as_array).expect("b is a list");
    assert_eq!(items[0].value, Value::Boolean(true));
    assert_eq!(items[1].as_number(), Some(2.5));
}

#[test]
fn a_string_with_escapes_is_pointed_at_as_a_whole() {
    let text = "a = \"\\u00b5F\"\nb = '''x'''\n";
    let table = good(text);
    let a = table.get("a").expect("a is there");
    assert_eq!(a.as_text(), Some("µF"));
    assert_eq!(a.content_span(), a.span);
    assert!(!a.is_literal());
    let b = table.get("b").expect("b is there");
    assert_eq!(&text[b.content_span().start..b.content_span().end], "x");
}

/// However far either header is set in, the first one's name is pointed at.
#[test]
fn exact_a_header_given_twice_points_at_the_name_in_the_first() {
    for (first, second) in [("", ""), ("", "   "), ("  ", ""), ("\t", "  ")] {
        let text = format!("{first}[name]\na = 1\n{second}[name]\nb = 2\n");
        let mistakes = read(&text, FILE).expect_err("given twice");
        let [mistake] = mistakes.as_slice() else { panic!("{mistakes:?}") };
        let (span, _) = &mistake.also[0];
        assert_eq!((&text[span.start..span.end], span.start), ("name", first.len() + 1));
    }
}

#[test]
fn only_the_earliest_mistake_of_syntax_is_told() {
    let mistakes = told("a = {\nb = 1 2\nc = = 3\n");
    assert_eq!(mistakes.len(), 1, "{mistakes:?}");
    let unquoted = told("a = 1\nc_out = 4.7 µF\n");
    assert_eq!(unquoted.len(), 1, "{unquoted:?}");
    assert!(unquoted[0].starts_with("2:"), "{unquoted:?}");
}

#[test]
fn every_key_given_twice_is_named_with_its_first_place() {
    let text = "[parts]\nR1 = { nodes = 1, nodes = 2 }\nR2 = { nodes = 3 }\nR1 = 5\n[parts]\n";
    assert_eq!(
        told(text),
        ["2:19 `nodes` is given twice", "4:1 `R1` is given twice", "5:2 `parts` is given twice"]
    );
    let mistakes = read(text, FILE).expect_err("duplicates are mistakes");
    let first: Vec<usize> = mistakes.iter().map(|d| d.also[0].0.start).collect();
    assert_eq!(first, [text.find("nodes").unwrap_or(0), text.find("R1").unwrap_or(0), 1]);
}

#[test]
fn deep_nesting_and_large_files_are_refused() {
    let deep = format!("a = {}{}\n", "[".repeat(40), "]".repeat(40));
    assert_eq!(told(&deep), ["1:37 tables and lists nested more than 32 deep"]);
    let very_deep = format!("a = {}\n", "[".repeat(100_000));
    assert!(!told(&very_deep).is_empty());
    let large = " ".repeat(MOST_BYTES + 1);
    assert_eq!(told(&large), ["1:1 the file is larger than 8 MB"]);
}

#[test]
fn numbers_that_are_not_finite_or_too_large_are_not_numbers() {
    let table = good("a = inf\nb = 99999999999999999999\nc = 1e999\nd = 0xffffffffffffffffffff\n");
    assert_eq!(table.get("a").and_then(Node::as_number), None);
    assert_eq!(table.get("b").and_then(Node::as_number), Some(1e20));
    assert_eq!(table.get("c").and_then(Node::as_number), None);
    assert_eq!(table.get("d").and_then(Node::as_number), None);
}

#[test]
fn a_reader_tells_all_that_is_wrong_with_a_table() {
    let table = good("titel = 1\nlimit = 3\ncount = \"x\"\nkind = 2\n");
    let mut diagnostics = Diagnostics::new();
    let place = table.span;
    let mut reader = Reader::new(&table, "the file", place, &mut diagnostics);
    assert_eq!(reader.required_text("title", "\"…\""), None);
    assert_eq!(reader.boolean("count"), None);
    assert_eq!(reader.text("kind"), None);
    assert_eq!(reader.required("level", "\"1 V\""), None);
    assert_eq!(reader.finish(), ["title"]);
    let mistakes = diagnostics.sorted();
    let told: Vec<(&str, Option<&str>)> =
        mistakes.iter().map(|d| (d.message.as_str(), d.hint.as_deref())).collect();
    assert_eq!(
        told,
        [
            ("the file has no `level`", Some("add `level = \"1 V\"`")),
            ("the file has no key `titel`", Some("write `title`")),
            ("the file has no key `limit`", Some("known keys: `count`, `kind`, `level`, `title`"),),
            ("`count` should be true or false, but this is a text", None),
            ("`kind` should be a text in quotes, but this is a number", None),
        ]
    );
}

proptest! {
    #[test]
    fn no_text_makes_reading_panic(text in "\\PC*") {
        let _ = read(&text, FILE);
    }

    #[test]
    fn no_near_toml_makes_reading_panic(pieces in proptest::collection::vec(
        prop::sample::select(vec![
            "[", "]", "[[", "]]", "{", "}", "=", ",", ".", "\n", "\"", "'", "a", "b", "1", "-",
            "#", "\\", "\"\"\"", "µ", " ", "a = 1\n", "[a.b]\n", "a.b = {", "\r", "0x", "1e5",
        ]), 0..40)) {
        let _ = read(&pieces.concat(), FILE);
    }
}
