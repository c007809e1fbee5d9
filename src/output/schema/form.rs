//! What may stand behind a key, as schemas: quantities, names, words, lists of them.

use crate::device::Range;
use crate::quantity::Dimension;
use serde_json::{Map, Value, json};

/// Of names of values, parts, models, blocks, ports and inputs.
pub(super) const NAME: &str = "^[A-Za-z_][A-Za-z0-9_]*$";
/// Of a text that says something.
pub(super) const NOT_BLANK: &str = "\\S";
/// Of a limit: a relation and a bound, or two bounds.
pub(super) const LIMIT: &str = "^\\s*([<>]=|[≤≥])\\s*\\S|\\S\\s*\\.\\.\\s*\\S";
/// Of a definition of dropout.
pub(super) const DROPOUT: &str = "^\\s*fully on\\s*$|\\S\\s*below\\s*$";

/// `schema` with the words that an editor shows.
pub(super) fn told(mut schema: Value, description: &str) -> Value {
    if let Some(map) = schema.as_object_mut()
        && !description.is_empty()
    {
        map.insert("description".to_owned(), json!(description));
    }
    schema
}

/// A text that is not blank.
pub(super) fn text() -> Value {
    json!({ "type": "string", "pattern": NOT_BLANK })
}

/// A text of this pattern.
pub(super) fn like(pattern: &str) -> Value {
    json!({ "type": "string", "pattern": pattern })
}

/// A quantity or expression of any dimension.
pub(super) fn expression() -> Value {
    json!({ "type": ["string", "number"], "pattern": NOT_BLANK })
}

/// A quantity or expression of a dimension: a bare number only where it has no unit, or 0.
pub(super) fn quantity(dimension: Dimension, range: Range) -> Value {
    if !dimension.is_none() {
        return json!({ "anyOf": [text(), { "const": 0 }] });
    }
    let mut schema = expression();
    let (least, most) = match range {
        Range::Any => (None, None),
        Range::Positive | Range::AboveAbsoluteZero => (Some(("exclusiveMinimum", 0)), None),
        Range::NonNegative => (Some(("minimum", 0)), None),
        Range::Fraction => (Some(("minimum", 0)), Some(("maximum", 1))),
        Range::FractionBelowOne => (Some(("minimum", 0)), Some(("exclusiveMaximum", 1))),
        Range::PositiveFraction => (Some(("exclusiveMinimum", 0)), Some(("maximum", 1))),
        Range::LeavesSomething => (Some(("exclusiveMinimum", -1)), None),
        Range::Count => (Some(("minimum", 1)), None),
    };
    for (keyword, bound) in least.into_iter().chain(most) {
        schema[keyword] = json!(bound);
    }
    schema
}

/// A quantity with a unit.
pub(super) fn with_unit() -> Value {
    quantity(Dimension::VOLT, Range::Any)
}

/// One of these words.
pub(super) fn words<'a>(words: impl IntoIterator<Item = &'a str>) -> Value {
    json!({ "enum": words.into_iter().collect::<Vec<_>>() })
}

/// A name, or a list of names.
pub(super) fn names() -> Value {
    json!({ "anyOf": [{ "type": "string" }, { "type": "array", "items": { "type": "string" } }] })
}

/// Two of these.
pub(super) fn pair(first: &Value, second: &Value) -> Value {
    json!({ "type": "array", "prefixItems": [first, second], "minItems": 2, "maxItems": 2 })
}

/// The names of two nodes.
pub(super) fn node_pair() -> Value {
    pair(&json!({ "type": "string" }), &json!({ "type": "string" }))
}

/// At least one of these.
pub(super) fn some(of: &Value) -> Value {
    json!({ "type": "array", "items": of, "minItems": 1 })
}

/// A table from names to these.
pub(super) fn named(of: &Value) -> Value {
    json!({
        "type": "object",
        "propertyNames": { "pattern": NAME },
        "additionalProperties": of,
    })
}

/// A table with these keys and no others.
pub(super) fn table(properties: Map<String, Value>, required: &[&str]) -> Value {
    let mut schema = json!({ "type": "object" });
    schema["properties"] = Value::Object(properties);
    if !required.is_empty() {
        schema["required"] = json!(required);
    }
    schema["additionalProperties"] = json!(false);
    schema
}

/// A reference to a definition.
pub(super) fn defined(name: &str) -> Value {
    json!({ "$ref": format!("#/$defs/{name}") })
}
