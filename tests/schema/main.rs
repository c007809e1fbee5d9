//! The schema of the circuit file, held against every file there is: those that are right must fit,
//! those that are wrong in form must not.
#![allow(clippy::unwrap_used)] // a test fails by panicking

mod beyond;
mod validator;

use railstep::device::kinds;
use railstep::diagnostic::FileId;
use railstep::document::{self, Node};
use railstep::measure::DEFINITIONS;
use railstep::output::schema::{schema, text};
use railstep::trial::TEST_KINDS;
use serde_json::{Map, Value};
use std::fs;
use std::path::{Path, PathBuf};
use validator::Validator;

fn json(node: &Node) -> Value {
    match &node.value {
        document::Value::Text(text) => Value::from(text.as_str()),
        document::Value::Integer(whole) => Value::from(*whole),
        document::Value::Float(number) => Value::from(*number),
        document::Value::Boolean(truth) => Value::from(*truth),
        document::Value::Array(items) => items.iter().map(json).collect(),
        document::Value::Table(table) => tree(table),
        document::Value::Other(_) => Value::Null,
    }
}

fn tree(table: &document::Table) -> Value {
    table
        .entries
        .iter()
        .map(|(key, node)| (key.text.clone(), json(node)))
        .collect::<Map<_, _>>()
        .into()
}

/// The tree of a file; `None` if it is no TOML.
fn parsed(text: &str) -> Option<Value> {
    document::read(text, FileId(0)).ok().map(|table| tree(&table))
}

fn files_of(folder: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let all = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut files: Vec<PathBuf> =
        all.filter(|path| path.extension().is_some_and(|ending| ending == "toml")).collect();
    files.sort();
    files
}

/// What is wrong with one place of a file, for a failing test to show.
fn fits(schema: &Value, value: &Value) -> bool {
    Validator { root: schema }.holds(schema, value)
}

#[test]
fn every_file_that_is_shipped_fits() {
    let schema = schema();
    let demos = files_of("netlists");
    let starters = files_of("src/cli/new");
    assert!(demos.len() >= 8 && starters.len() == 2);
    for path in demos.iter().chain(&starters) {
        let tree = parsed(&fs::read_to_string(path).unwrap()).unwrap();
        assert!(fits(&schema, &tree), "{}", path.display());
    }
}

#[test]
fn every_example_of_a_part_and_a_test_fits() {
    let schema = schema();
    for kind in kinds() {
        let tree = parsed(&format!("title = \"t\"\n[parts]\n{}", kind.example)).unwrap();
        assert!(fits(&schema, &tree), "{}", kind.name);
    }
    for row in TEST_KINDS {
        let text = format!("title = \"t\"\nparts = {{}}\n{}", row.example);
        assert!(fits(&schema, &parsed(&text).unwrap()), "{}", row.kind.word());
    }
}

#[test]
fn what_is_wrong_in_form_is_refused_and_the_rest_is_known_by_name() {
    let schema = schema();
    let (mut seen, mut wrong) = (0, Vec::new());
    for path in files_of("tests/broken") {
        let stem = path.file_stem().unwrap().to_str().unwrap().to_owned();
        // What is no TOML no editor gets as far as to hold against a schema.
        let Some(tree) = parsed(&fs::read_to_string(&path).unwrap()) else { continue };
        seen += 1;
        let is_beyond = beyond::BEYOND.iter().any(|(_, names)| names.contains(&stem.as_str()));
        if fits(&schema, &tree) != is_beyond {
            wrong.push(format!("{stem}: {}", if is_beyond { "refused" } else { "let through" }));
        }
    }
    assert!(seen > 100, "{seen}");
    assert!(wrong.is_empty(), "{}\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn mistakes_of_form_are_refused_one_by_one() {
    const PART: &str =
        "R1 = { kind = \"resistor\", nodes = [\"a\", \"gnd\"], resistance = \"1 Ω\" }";
    let schema = schema();
    let file = |part: &str, more: &str| {
        parsed(&format!("title = \"t\"\n[parts]\n{part}\n{more}\n")).unwrap()
    };
    assert!(fits(&schema, &file(PART, "")));
    let step = "[[tests]]\nname = \"s\"\nkind = \"load-step\"\nfrom = \"0\"\nto = \"1 A\"\nedge = 0\nhold = \"1 ms\"";
    assert!(fits(&schema, &file(PART, step)));
    for (from, to) in [
        ("resistor", "resister"),
        ("kind = \"resistor\", ", ""),
        ("resistance =", "resistence ="),
        (", resistance = \"1 Ω\"", ""),
        ("\"1 Ω\"", "1"),
        ("\"1 Ω\"", "true"),
        ("\"1 Ω\"", "\"\""),
        ("[\"a\", \"gnd\"]", "[\"a\"]"),
        ("[\"a\", \"gnd\"]", "\"a\""),
        ("\"1 Ω\"", "\"1 Ω\", tolerance = 1.5"),
        ("\"1 Ω\"", "\"1 Ω\", colour = \"red\""),
        ("R1", "1R"),
    ] {
        assert!(PART.contains(from));
        assert!(!fits(&schema, &file(&PART.replace(from, to), "")), "{from} → {to}");
    }
    for (from, to) in [
        ("load-step", "load-stop"),
        ("name = \"s\"\n", ""),
        ("hold = \"1 ms\"", "hould = \"1 ms\""),
        ("\"1 ms\"", "\"1 ms\"\nrepeat = 1.5"),
        ("\"1 ms\"", "\"1 ms\"\nstart = \"anywhere\""),
        ("\"1 ms\"", "\"1 ms\"\nrequire = { drop = \"<= 1 mV\" }"),
        ("\"1 ms\"", "\"1 ms\"\nrequire = { droop = \"1 mV\" }"),
        ("\"1 ms\"", "\"1 ms\"\nrequire = { recovery = \"<= 1 ms\" }"),
        ("\"1 ms\"", "\"1 ms\"\nrequire = { phase_margin = \">= 45 deg\" }"),
    ] {
        assert!(step.contains(from));
        assert!(!fits(&schema, &file(PART, &step.replace(from, to))), "{from} → {to}");
    }
}

#[test]
fn every_kind_and_measurement_is_there_with_words() {
    let schema = schema();
    let defined = |name: &str| {
        let found = &schema["$defs"][name];
        assert!(found["description"].as_str().is_some_and(|text| !text.is_empty()), "{name}");
        found
    };
    for kind in kinds() {
        let part = defined(&format!("part-{}", kind.name));
        for key in kind.keys {
            let words = part["properties"][key.name]["description"].as_str().unwrap();
            assert!(words.starts_with(key.text), "{} {}", kind.name, key.name);
        }
    }
    for row in TEST_KINDS {
        let test = defined(&format!("test-{}", row.kind.word()));
        for key in row.keys {
            // A form that no schema is known for would stand there as `true`.
            let words = test["properties"][key.name]["description"].as_str().unwrap();
            assert!(words.starts_with(key.text), "{} {}", row.kind.word(), key.name);
        }
    }
    for definition in DEFINITIONS {
        defined(&format!("requirement-{}", definition.name));
    }
}

#[test]
fn no_key_takes_anything_and_the_text_is_the_schema() {
    fn open_places(value: &Value, place: &str, found: &mut Vec<String>) {
        let Some(map) = value.as_object() else { return };
        for (key, inner) in map {
            let here = format!("{place}/{key}");
            if inner == &Value::Bool(true) {
                found.push(here.clone());
            }
            open_places(inner, &here, found);
            for item in inner.as_array().into_iter().flatten() {
                open_places(item, &here, found);
            }
        }
    }
    let schema = schema();
    let mut found = Vec::new();
    open_places(&schema, "", &mut found);
    assert!(found.is_empty(), "{found:?}");
    assert_eq!(serde_json::from_str::<Value>(&text()).unwrap(), schema);
    assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
}
