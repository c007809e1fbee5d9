//! Tests, their requirements and line shapes: a schema for each kind, from its row.

use super::form::{
    DROPOUT, LIMIT, defined, expression, like, pair, quantity, table, text, told, with_unit, words,
};
use super::tables::properties;
use crate::device::Range;
use crate::measure::{DEFINITIONS, Definition, RequirementOption};
use crate::output::explain::option_text;
use crate::quantity::Dimension;
use crate::trial::{
    COMMON_TEST_KEYS, IN_TIME_ONLY, LINE_SHAPES, LineShape, TEST_KINDS, TestKey, TestKindRow,
};
use serde_json::{Map, Value, json};

/// Schemas of all tests, requirements and line shapes.
pub(super) fn define(all: &mut Map<String, Value>) {
    let kinds: Vec<&str> = TEST_KINDS.iter().map(|row| row.kind.word()).collect();
    let each: Vec<Value> = kinds.iter().map(|kind| defined(&format!("test-{kind}"))).collect();
    let test = json!({
        "type": "object",
        "properties": { "kind": told(words(kinds), "which kind of test") },
        "required": ["kind"],
        "oneOf": each,
    });
    all.insert("test".to_owned(), test);
    for row in TEST_KINDS {
        all.insert(format!("test-{}", row.kind.word()), of_kind(row));
    }
    all.insert(PLAIN.to_owned(), one_or_many(&[]));
    for definition in DEFINITIONS {
        all.insert(format!("requirement-{}", definition.name), requirement(definition));
    }
    all.insert("line-shape".to_owned(), line_shapes());
}

/// The keys of a kind of test, its own and those of every test that it heeds.
pub(super) fn keys_of(row: &'static TestKindRow) -> impl Iterator<Item = &'static TestKey> {
    let heeded = COMMON_TEST_KEYS
        .iter()
        .filter(|key| !row.kind.is_steady() || !IN_TIME_ONLY.contains(&key.name));
    heeded.chain(row.keys)
}

/// Keys that are made here, for their form says too little.
pub(super) const OWN_FORM: [&str; 3] = ["kind", "require", "source_shape"];

fn of_kind(row: &'static TestKindRow) -> Value {
    let mut all = Map::new();
    let kind = json!({ "const": row.kind.word() });
    all.insert("kind".to_owned(), told(kind, row.summary));
    all.extend(properties(keys_of(row).filter(|key| !OWN_FORM.contains(&key.name))));
    let measured = DEFINITIONS.iter().filter(|d| d.belongs_to(row.kind));
    let required =
        measured.map(|d| (d.name.to_owned(), defined(&format!("requirement-{}", d.name))));
    let require = table(required.collect(), &[]);
    all.insert("require".to_owned(), told(require, "what the test must keep"));
    for key in row.keys.iter().filter(|key| key.name == "source_shape") {
        all.insert(key.name.to_owned(), told(defined("line-shape"), key.text));
    }
    let required: Vec<&str> =
        keys_of(row).filter(|key| key.default == "required").map(|key| key.name).collect();
    let mut schema = table(all, &required);
    let known = |keys: &[&str]| keys.iter().all(|key| schema["properties"].get(*key).is_some());
    let both = EITHER.iter().filter(|keys| known(&keys[..]));
    let mut among: Vec<Value> = both.map(|keys| json!({ "not": { "required": keys } })).collect();
    for keys in AT_LEAST_ONE.iter().filter(|keys| known(keys)) {
        let each: Vec<Value> = keys.iter().map(|key| json!({ "required": [key] })).collect();
        among.push(json!({ "anyOf": each }));
    }
    if !among.is_empty() {
        schema["allOf"] = json!(among);
    }
    told(schema, row.summary)
}

/// Keys that say the same thing twice.
const EITHER: [[&str; 2]; 9] = [
    ["load_level", "load_levels"],
    ["source_level", "source_levels"],
    ["ambient", "ambients"],
    ["load_points", "load_file"],
    ["source_points", "source_file"],
    ["source_points", "source_shape"],
    ["source_file", "source_shape"],
    ["width", "duty"],
    ["period", "scan"],
];
/// Keys of which a test that has them needs one.
const AT_LEAST_ONE: [&[&str]; 2] = [
    &["duration", "load_points", "load_file", "source_points", "source_file", "source_shape"],
    &["period", "scan"],
];

/// A requirement without options of its own, which most measurements share.
const PLAIN: &str = "requirement";

fn requirement(definition: &Definition) -> Value {
    let unit = match definition.unit {
        "1" | "count" => String::new(),
        unit => format!(" ({unit})"),
    };
    let form = match definition.options {
        [] => defined(PLAIN),
        options => one_or_many(options),
    };
    told(form, &format!("{}{unit}", definition.text))
}

/// A limit alone, a table with options, or a list of either.
fn one_or_many(options: &[RequirementOption]) -> Value {
    let mut keys = Map::new();
    let limit = "`<= …`, `>= …` or `… .. …`";
    keys.insert("limit".to_owned(), told(like(LIMIT), limit));
    let advisory = "told and judged, but never counted";
    keys.insert("advisory".to_owned(), told(json!({ "type": "boolean" }), advisory));
    let mut required = vec!["limit"];
    for option in options {
        let (form, words) = option_text(*option);
        keys.insert(
            option.key().to_owned(),
            told(option_form(*option), &format!("{words} ({form})")),
        );
        required.extend(option.must_be_given().then(|| option.key()));
    }
    let alone = required.len() == 1;
    let mut one: Vec<Value> = Vec::new();
    one.extend(alone.then(|| like(LIMIT)));
    one.push(table(keys, &required));
    let list = json!({ "type": "array", "items": { "anyOf": one.clone() } });
    one.push(list);
    json!({ "anyOf": one })
}

fn option_form(option: RequirementOption) -> Value {
    match option {
        RequirementOption::Band => expression(),
        RequirementOption::Level | RequirementOption::At => with_unit(),
        RequirementOption::FrequencyBand => pair(&with_unit(), &with_unit()),
        RequirementOption::Definition => like(DROPOUT),
        RequirementOption::Capacitor | RequirementOption::Junction => text(),
        RequirementOption::Share => quantity(Dimension::NONE, Range::Any),
        RequirementOption::About { allowed, .. } => words(allowed.iter().map(|about| about.word())),
    }
}

fn line_shapes() -> Value {
    let each: Vec<Value> = LINE_SHAPES.iter().map(line_shape).collect();
    json!({
        "type": "object",
        "properties": { "shape": words(LINE_SHAPES.iter().map(|shape| shape.name)) },
        "required": ["shape"],
        "oneOf": each,
    })
}

fn line_shape(shape: &LineShape) -> Value {
    let mut keys = Map::new();
    let name = told(json!({ "const": shape.name }), shape.summary);
    keys.insert("shape".to_owned(), name);
    let varieties = |of: fn(&crate::trial::Variety) -> &'static str| {
        let mut all: Vec<&str> = shape.varieties.iter().map(of).filter(|w| !w.is_empty()).collect();
        all.sort_unstable();
        all.dedup();
        all
    };
    let both = [
        ("level", varieties(|v| v.level), "severity or system"),
        ("edition", varieties(|v| v.edition), "edition of the standard"),
    ];
    for (key, known, words_told) in both {
        if !known.is_empty() {
            keys.insert(key.to_owned(), told(words(known), words_told));
        }
    }
    for figure in shape.figures {
        let schema = quantity(figure.dimension(), Range::Any);
        keys.insert(figure.name.to_owned(), told(schema, figure.text));
    }
    told(table(keys, &["shape"]), shape.text)
}
