//! Tables of the circuit file that belong to no part: the file itself, `[rail]`, `[values]`,
//! `varies`, `[corners]`, blocks; and what the words of a key's form in their lists stand for.

use super::form::{
    defined, expression, like, named, names, pair, quantity, some, table, text, told, with_unit,
    words,
};
use super::parts;
use crate::device::Range;
use crate::output::explain::{Section, default_words, section};
use crate::quantity::Dimension;
use crate::trial::TestKey;
use serde_json::{Map, Value, json};

/// The most of anything that a test counts, and of rows it adds.
const MOST_COUNTED: u32 = 100_000;
const MOST_SAMPLES: u32 = 10_000_000;

/// Schemas that parts and tests refer to.
pub(super) fn define(all: &mut Map<String, Value>) {
    all.insert("value".to_owned(), value());
    all.insert("varies".to_owned(), varies());
    all.insert("changes".to_owned(), changes(&expression(), "changes"));
    all.insert("corners".to_owned(), changes(&some(&expression()), "corners"));
    all.insert("block".to_owned(), block());
    all.insert("included-file".to_owned(), included_file());
}

/// The keys of a section of the file.
fn keys_of(name: &str) -> &'static [TestKey] {
    section(name).map_or(&[], |section: &Section| section.keys)
}

fn summary_of(name: &str) -> &'static str {
    section(name).map_or("", |section| section.summary)
}

/// A key's schema with its words; `None` where the form of the key is not known.
pub(super) fn key(key: &TestKey) -> Option<Value> {
    let described = format!("{} ({}; {})", key.text, key.form, default_words(key));
    Some(told(form(key.form)?, &described))
}

/// Keys by their names; those of unknown form take anything.
pub(super) fn properties<'a>(keys: impl Iterator<Item = &'a TestKey>) -> Map<String, Value> {
    keys.map(|k| (k.name.to_owned(), key(k).unwrap_or(json!(true)))).collect()
}

fn count(most: u32) -> Value {
    json!({ "type": "integer", "minimum": 1, "maximum": most })
}

/// What the words of a form stand for.
pub(super) fn form(form: &str) -> Option<Value> {
    let number = || quantity(Dimension::NONE, Range::Any);
    let window = || json!({ "anyOf": [expression(), pair(&with_unit(), &with_unit())] });
    Some(match form {
        "text" | "words" => json!({ "type": "string" }),
        "node" | "path" | "part name" | "part name or \"source\"" | "PART.terminal" => text(),
        "\"column [unit]\"" => like("\\[.*\\]\\s*$"),
        "expression" => expression(),
        "fraction" => number(),
        "°C"
        | "V"
        | "s"
        | "Hz"
        | "deg"
        | "Ω"
        | "unit of the load"
        | "unit of the driven part"
        | "unit of the level" => with_unit(),
        "count" => count(MOST_COUNTED),
        "count or s" => json!({ "anyOf": [count(MOST_SAMPLES), text()] }),
        "true or false" => json!({ "type": "boolean" }),
        "[part names]"
        | "part name or [part names]"
        | "[test name, …]"
        | "path or [paths]"
        | "[port names]" => names(),
        "[quantities]" => json!({ "type": "array", "items": expression() }),
        "[unit of the load, …]" | "[V, …]" | "[°C, …]" => some(&with_unit()),
        "[low, high]" => pair(&expression(), &expression()),
        "[Hz, Hz]" => pair(&with_unit(), &with_unit()),
        "fraction or [minus, plus]" => json!({ "anyOf": [number(), pair(&number(), &number())] }),
        "fraction, [low, high] or \"none\"" | "fraction of nominal or [low, high]" => window(),
        "[[s, level], …]" | "[[s, V], …]" | "[[Hz, Ω], …]" => {
            json!({ "type": "array", "items": pair(&with_unit(), &with_unit()) })
        }
        "{ name = \"expression\" }" => defined("changes"),
        "{ file, time, value }" => file_columns(),
        "{ from = Hz, to = Hz, points = count }" => scan(),
        "[{ resistance | current, fade | power, minimum_voltage }, …]" => some(&overload_load()),
        quoted => return quoted_words(quoted),
    })
}

/// `"pin" or "source"`: words that are all listed.
fn quoted_words(form: &str) -> Option<Value> {
    let list = form.replace(" or ", ", ");
    let each: Option<Vec<&str>> =
        list.split(", ").map(|word| word.strip_prefix('"')?.strip_suffix('"')).collect();
    each.map(words)
}

fn file_columns() -> Value {
    let column = like("\\[.*\\]\\s*$");
    let keys = [
        ("file", told(text(), "a CSV file beside the circuit file")),
        ("time", told(column.clone(), "its column of times, as `column [unit]`")),
        ("value", told(column, "its column of levels, as `column [unit]`")),
    ];
    table(
        keys.map(|(key, schema)| (key.to_owned(), schema)).into_iter().collect(),
        &["file", "time", "value"],
    )
}

fn scan() -> Value {
    let keys = [
        ("from", told(with_unit(), "lowest rate (Hz)")),
        ("to", told(with_unit(), "highest rate (Hz)")),
        ("points", told(count(MOST_COUNTED), "how many rates")),
    ];
    table(keys.map(|(key, schema)| (key.to_owned(), schema)).into_iter().collect(), &["from", "to"])
}

fn overload_load() -> Value {
    let sort = |level: &str, unit: &str, bend: Option<&str>| {
        let mut keys = Map::new();
        keys.insert(level.to_owned(), told(with_unit(), &format!("level ({unit})")));
        if let Some(bend) = bend {
            keys.insert(bend.to_owned(), told(with_unit(), "as a part of kind `load` has it (V)"));
        }
        table(keys, &[level])
    };
    json!({ "oneOf": [
        sort("resistance", "Ω", None),
        sort("current", "A", Some("fade")),
        sort("power", "W", Some("minimum_voltage")),
    ] })
}

/// One of `[values]`: an expression, or a table with more.
fn value() -> Value {
    let whole = table(properties(keys_of("values").iter()), &["value"]);
    json!({ "anyOf": [expression(), whole], "description": summary_of("values") })
}

/// A time function: keys belong to the shapes that the head of their text names.
fn varies() -> Value {
    let keys = keys_of("varies");
    let shapes = keys
        .iter()
        .find(|key| key.name == "shape")
        .and_then(|key| quoted_words(key.form))
        .unwrap_or_default();
    let mut each = Vec::new();
    for shape in shapes["enum"].as_array().into_iter().flatten().filter_map(Value::as_str) {
        let own = || keys.iter().filter(|key| shapes_of(key.text).any(|s| s == shape));
        let mut properties = properties(own());
        properties.insert("shape".to_owned(), told(json!({ "const": shape }), "its shape"));
        let mut required = vec!["shape"];
        required.extend(own().filter(|key| key.default == "required").map(|key| key.name));
        each.push(table(properties, &required));
    }
    json!({
        "description": summary_of("varies"),
        "type": "object",
        "properties": { "shape": shapes },
        "required": ["shape"],
        "oneOf": each,
    })
}

/// `sine, pulse, ramp: …` or `sine` alone.
fn shapes_of(text: &str) -> impl Iterator<Item = &str> {
    text.split(':').next().unwrap_or_default().split(", ")
}

/// Values or paths to keys, the latter also with dots as TOML reads them.
fn changes(each: &Value, name: &str) -> Value {
    json!({
        "type": "object",
        "additionalProperties": { "anyOf": [each, defined(name)] },
    })
}

fn block() -> Value {
    let mut properties = properties(keys_of("blocks").iter());
    properties.insert("values".to_owned(), named_of("value", "values of its own"));
    properties.insert("parts".to_owned(), parts::parts());
    told(table(properties, &["ports", "parts"]), summary_of("blocks"))
}

fn named_of(name: &str, description: &str) -> Value {
    told(named(&defined(name)), description)
}

fn rail() -> Value {
    let mut schema = told(table(properties(keys_of("rail").iter()), &[]), summary_of("rail"));
    schema["dependentRequired"] = json!({ "output": ["nominal"] });
    schema
}

/// What a file may hold, whether it is the circuit's own or an included one.
fn shared() -> Map<String, Value> {
    let mut properties: Map<String, Value> =
        properties(keys_of("file").iter().filter(|key| ["title", "include"].contains(&key.name)));
    properties.insert("values".to_owned(), named_of("value", summary_of("values")));
    let models = "models that parts name, shared by all of them";
    properties.insert("models".to_owned(), named_of("model", models));
    properties.insert("blocks".to_owned(), named_of("block", summary_of("blocks")));
    properties
}

fn included_file() -> Value {
    told(table(shared(), &[]), "a file that circuit files include")
}

/// The circuit file as a whole.
pub(super) fn file() -> Value {
    let mut properties = shared();
    properties.insert("rail".to_owned(), rail());
    let corners = "levels at which `run --corners`, tune and spread try values and paths to keys";
    properties.insert("corners".to_owned(), told(defined("corners"), corners));
    properties.insert("parts".to_owned(), parts::parts());
    let tests = json!({ "type": "array", "items": defined("test") });
    properties.insert("tests".to_owned(), told(tests, "what is done and what must hold"));
    table(properties, &["title", "parts"])
}
