//! The JSON Schema of the circuit file, for editors: made from the tables that reading uses.
//!
//! It knows keys, words and forms, and shows what each key means. Names, units, signs and what the
//! parts make together are for `check`: a schema looks at one place at a time.

mod form;
mod parts;
mod tables;
mod trials;

use serde_json::{Map, Value, json};

/// The dialect.
const DIALECT: &str = "https://json-schema.org/draft/2020-12/schema";

/// The schema, as JSON text in one line: programs read it, and blanks would double it.
pub fn text() -> String {
    format!("{}\n", schema())
}

/// The schema.
pub fn schema() -> Value {
    let mut definitions = Map::new();
    tables::define(&mut definitions);
    parts::define(&mut definitions);
    trials::define(&mut definitions);
    let mut root = json!({
        "$schema": DIALECT,
        "title": "circuit file of railstep",
        "description": "Parts, values and tests of a linear voltage regulator's rail. Quantities are \
                        texts with their unit, such as \"4.7 µF\", or expressions of named values. \
                        `railstep explain NAME` tells more of each kind and measurement. Names, units \
                        and what the parts make together are checked by `railstep check`.",
    });
    if let (Some(root), Value::Object(file)) = (root.as_object_mut(), tables::file()) {
        root.extend(file);
        root.insert("$defs".to_owned(), Value::Object(definitions));
    }
    root
}
