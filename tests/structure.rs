//! The house rules, read off the sources: layers go one way, files and functions stay short, the
//! library touches nothing outside, the map in DEVELOPERS.md is true.
#![allow(clippy::unwrap_used)] // a test fails by panicking

mod sources;

use proc_macro2::{Delimiter, TokenTree};
use sources::{
    Function, Source, as_group, first_names, functions, is, layers_named, macros_called,
    paths_from, sources, walk,
};
use std::fs;
use std::path::Path;

/// Bottom first: a module names only layers before its own, and itself. `x.rs` and `x/` are layer x.
const LAYERS: [&str; 17] = [
    "diagnostic",
    "numeric",
    "quantity",
    "document",
    "waveform",
    "curve",
    "device",
    "circuit",
    "system",
    "analysis",
    "measure",
    "suitability",
    "trial",
    "study",
    "plan",
    "output",
    "cli",
];

const LONGEST_FILE: usize = 500;
const LONGEST_FUNCTION: usize = 80;

/// Functions that may be longer, with the reason: (path, name, reason).
const LONG_FUNCTIONS: [(&str, &str, &str); 0] = [];

/// What the library leaves to the binary: files, environment, exit.
const OUTSIDE: [&str; 3] = ["fs", "env", "process"];
const PRINTING: [&str; 4] = ["println", "print", "eprintln", "eprint"];

fn report(findings: &[String], rule: &str) {
    assert!(findings.is_empty(), "{rule}:\n{}", findings.join("\n"));
}

#[test]
fn the_rules_see_what_they_are_to_find() {
    let text = "//! head\n\
        use crate::{diagnostic::{A, B}, trial::C};\n\
        // crate::comment::D\n\
        fn f() -> u8 { g!(crate::system::E, \"crate::string::F\"); super::super::output::G }\n\
        mod tests { use super::*; use super::super::super::plan::H; use super::super::I; }\n";
    let source = Source::new("src/numeric/x.rs".to_owned(), text.to_owned());
    let named: Vec<_> = layers_named(&source).into_iter().collect();
    let expected = [("diagnostic", 2), ("output", 4), ("plan", 5), ("system", 4), ("trial", 2)];
    assert_eq!(named, expected.map(|(name, line)| (name.to_owned(), line)));
    assert_eq!(source.layer(), Some("numeric"));

    let text = format!("fn long() {{\n{}}}\nfn short() {{ todo!() }}", "let x = [0];\n".repeat(90));
    let source = Source::new("src/y.rs".to_owned(), text);
    let lengths: Vec<_> = functions(&source)
        .iter()
        .map(|f| (f.name.clone(), f.last_line - f.first_line + 1, is_match_or_table(&f.body)))
        .collect();
    assert_eq!(lengths, [("long".to_owned(), 92, false), ("short".to_owned(), 1, false)]);
    let table = Source::new("src/z.rs".to_owned(), "fn t(x: u8) { match x { _ => 1 } }".to_owned());
    assert!(is_match_or_table(&functions(&table)[0].body));
}

#[test]
fn every_module_is_a_known_layer() {
    let unknown = |source: &Source| {
        let layer = source.layer().filter(|layer| !LAYERS.contains(layer))?;
        Some(format!(
            "{}: add `{layer}` to LAYERS in tests/structure.rs, in its place",
            source.path
        ))
    };
    report(&sources().iter().filter_map(unknown).collect::<Vec<_>>(), "unknown layers");
}

#[test]
fn layers_name_only_lower_layers() {
    let rank = |layer: &str| LAYERS.iter().position(|&known| known == layer);
    let mut findings = Vec::new();
    for source in sources() {
        let Some(own) = source.layer().and_then(rank) else { continue };
        for (name, line) in layers_named(&source) {
            if rank(&name).is_some_and(|other| other > own) {
                findings.push(format!("{}:{line}: `{}` names `{name}`", source.path, LAYERS[own]));
            }
        }
    }
    report(&findings, "a layer names one above it");
}

#[test]
fn files_open_with_their_purpose_and_stay_short() {
    let mut findings = Vec::new();
    for Source { path, text, .. } in sources() {
        let lines = text.lines().count();
        if lines > LONGEST_FILE {
            findings.push(format!("{path}: {lines} lines, {LONGEST_FILE} allowed"));
        }
        if !text.starts_with("//!") && !text.is_empty() {
            findings.push(format!("{path}: does not open with `//!` and what it is for"));
        }
    }
    report(&findings, "files");
}

/// One `match`, or one table: it may be as long as it has rows.
fn is_match_or_table(body: &[TokenTree]) -> bool {
    let one_expression = !body.iter().any(|token| is(token, ";"));
    let is_match = body.first().is_some_and(|token| is(token, "match"));
    let is_table = body.last().is_some_and(|t| as_group(t, Delimiter::Bracket).is_some());
    one_expression && (is_match || is_table)
}

/// Lines of the longest table that stands anywhere in a body.
fn longest_table(body: &[TokenTree]) -> usize {
    let mut longest = 0;
    walk(body, &[], &mut |tokens, _| {
        for group in tokens.iter().filter_map(|token| as_group(token, Delimiter::Bracket)) {
            longest = longest.max(group.span_close().end().line - group.span_open().start().line);
        }
    });
    longest
}

/// Clocks jump: figures, names and journals must not hang on the time of day. Waiting is measured by
/// `Instant`, which never goes back.
#[test]
fn nobody_asks_for_the_time_of_day() {
    let named = |source: &Source| {
        let asks = source.path.starts_with("src/") && source.text.contains("SystemTime");
        asks.then(|| source.path.clone())
    };
    report(&sources().iter().filter_map(named).collect::<Vec<_>>(), "`SystemTime` is named");
}

#[test]
fn functions_stay_short() {
    let mut findings = Vec::new();
    for source in sources() {
        for function in functions(&source) {
            let mut lines = function.last_line - function.first_line + 1;
            if source.is_test() {
                lines -= longest_table(&function.body);
            }
            let excused = LONG_FUNCTIONS
                .iter()
                .any(|&(path, name, _)| path == source.path && name == function.name);
            if lines > LONGEST_FUNCTION && !is_match_or_table(&function.body) && !excused {
                let (path, line, name) = (&source.path, function.first_line, function.name);
                findings.push(format!("{path}:{line}: `{name}` has {lines} lines"));
            }
        }
    }
    report(
        &findings,
        "functions over 80 lines that are not one match or table (of tests: without it)",
    );
}

#[test]
fn no_words_of_unfinished_work() {
    // Put together here, so that this file does not hold them.
    let words = [["TO", "DO"], ["FIX", "ME"], ["XX", "X"]].map(|parts| parts.concat());
    let macros = ["dbg", "todo", "unimplemented"];
    let mut findings = Vec::new();
    for source in sources() {
        for (line, text) in source.text.lines().enumerate() {
            let mut split = text.split(|c: char| !c.is_ascii_alphanumeric() && c != '_');
            if let Some(word) = split.find(|word| words.iter().any(|w| w == word)) {
                findings.push(format!("{}:{}: {word}", source.path, line + 1));
            }
        }
        walk(&source.tokens, &[], &mut |tokens, _| {
            findings.extend(macros_called(tokens, &macros, &source.path));
        });
    }
    report(&findings, "unfinished work");
}

#[test]
fn imports_say_what_they_import() {
    let mut findings = Vec::new();
    for source in sources().iter().filter(|source| !source.is_test()) {
        walk(&source.tokens, &[], &mut |tokens, inside| {
            for path in paths_from(tokens, "super") {
                if is(&path[0], "*") && !inside.iter().any(|module| module == "tests") {
                    let line = path[0].span().start().line;
                    findings.push(format!("{}:{line}: use super::*", source.path));
                }
            }
        });
    }
    report(&findings, "everything imported outside of tests");
}

#[test]
fn the_library_touches_nothing_outside() {
    let mut findings = Vec::new();
    let library = |source: &&Source| source.is_library() && !source.is_test();
    for source in sources().iter().filter(library) {
        walk(&source.tokens, &[], &mut |tokens, _| {
            let outside = paths_from(tokens, "std").into_iter().flat_map(first_names);
            for (name, line) in outside.filter(|(name, _)| OUTSIDE.contains(&name.as_str())) {
                findings.push(format!("{}:{line}: std::{name}", source.path));
            }
            findings.extend(macros_called(tokens, &PRINTING, &source.path));
        });
    }
    report(&findings, "files, environment, processes and printing belong to the binary");
}

/// Whether a function, the lines above it or those above a constant that it reads hold a comment.
fn has_comment(lines: &[&str], function: &Function) -> bool {
    let is_comment = |line: &&str| line.contains("//");
    // A comment may also stand above the attributes.
    let above = function.first_line.saturating_sub(9);
    lines[above..function.last_line].iter().any(is_comment)
        || lines[function.first_line..function.last_line].iter().any(|line| {
            let words = line.split(|c: char| !c.is_ascii_uppercase() && c != '_');
            words.filter(|word| word.len() > 2).any(|word| {
                let definition = format!("const {word}:");
                let at = lines.iter().position(|line| line.starts_with(&definition));
                at.is_some_and(|at| at > 0 && is_comment(&lines[at - 1]))
            })
        })
}

fn has_date(lines: &[&str], function: &Function) -> bool {
    let above = function.first_line.saturating_sub(9);
    lines[above..function.last_line].iter().any(|line| {
        let words = line.split(|c: char| !c.is_ascii_digit() && c != '-');
        words.into_iter().any(|word| word.split('-').map(str::len).eq([4, 2, 2]))
    })
}

#[test]
fn reference_numbers_say_where_they_come_from() {
    let mut findings = Vec::new();
    for source in sources() {
        let lines: Vec<_> = source.text.lines().collect();
        for function in functions(&source) {
            let missing = match function.name.split('_').next() {
                Some("published") if !has_comment(&lines, &function) => "a source in a comment",
                Some("regress") if !has_date(&lines, &function) => "the date of its numbers",
                _ => continue,
            };
            let (path, line, name) = (&source.path, function.first_line, function.name);
            findings.push(format!("{path}:{line}: `{name}` lacks {missing}"));
        }
    }
    report(&findings, "provenance");
}

#[test]
fn the_documents_name_paths_that_exist() {
    let mut findings = Vec::new();
    for document in ["README.md", "DEVELOPERS.md"] {
        let text = fs::read_to_string(document).unwrap();
        let mut named = Vec::new();
        for span in text.split('`').skip(1).step_by(2) {
            let is_file = [".rs", ".md", ".toml"].iter().any(|ending| span.ends_with(ending));
            let folder = ["src/", "tests/", "benches/", "netlists/", ".ci/"];
            let is_path = is_file || folder.iter().any(|folder| span.starts_with(folder));
            let plain = |c: char| c.is_ascii_alphanumeric() || "_-./".contains(c);
            if is_path && span.chars().all(plain) {
                named.push(span);
            }
        }
        let targets = text.split("](").skip(1).filter_map(|rest| rest.split(')').next());
        named.extend(targets.filter(|target| !target.contains("://")));
        let missing = named.iter().filter(|path| !Path::new(path).exists());
        findings.extend(missing.map(|path| format!("{document}: {path}")));
    }
    report(&findings, "no such path");
}

/// Licences that ask for no more than to be named: what is built may be given on.
const LICENCES: [&str; 10] = [
    "MIT",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "ISC",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
];

/// Whether one of the choices that an expression offers is made of known licences alone.
fn is_free(licence: &str) -> bool {
    let plain = licence.replace('/', " OR ");
    let known = |words: &str| LICENCES.contains(&words.trim_matches(['(', ')', ' ']));
    plain.split(" AND ").all(|part| part.split(" OR ").any(known))
}

#[test]
fn every_dependency_is_from_the_registry_and_may_be_given_on() {
    assert!(is_free("(MIT OR Apache-2.0) AND Unicode-3.0") && is_free("GPL-3.0 OR MIT"));
    assert!(!is_free("GPL-3.0") && !is_free("MIT AND GPL-3.0"));
    let call = |program: &str, arguments: &[&str]| {
        let output = std::process::Command::new(program).args(arguments).output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).unwrap()
    };
    let about = call("rustc", &["-vV"]);
    let host = about.lines().find_map(|line| line.strip_prefix("host: ")).unwrap();
    // What is built here has been fetched: nothing else is asked for.
    let listed =
        ["metadata", "--format-version", "1", "--locked", "--offline", "--filter-platform"];
    let listed = call(env!("CARGO"), &[&listed[..], &[host]].concat());
    let listed: serde_json::Value = serde_json::from_str(&listed).unwrap();
    let packages = listed["packages"].as_array().unwrap();
    let own = |package: &&serde_json::Value| package["name"] != "railstep";
    let mut findings = Vec::new();
    for package in packages.iter().filter(own) {
        let (name, licence) = (&package["name"], package["license"].as_str().unwrap_or("none"));
        if !is_free(licence) {
            findings.push(format!("{name}: {licence}"));
        }
        let source = package["source"].as_str().unwrap_or("a folder");
        if source != "registry+https://github.com/rust-lang/crates.io-index" {
            findings.push(format!("{name} is from {source}"));
        }
    }
    assert!(packages.len() > 50, "{}", packages.len());
    report(&findings, "dependencies");
}
