//! The keywords of JSON Schema 2020-12 that the circuit file's schema uses; any other is a panic, so
//! that nothing is passed over.

use serde_json::Value;

/// Keywords that say something to people only, or hold what others refer to.
const SILENT: [&str; 6] = ["$schema", "$defs", "title", "description", "default", "examples"];

/// A schema with its definitions.
pub(crate) struct Validator<'a> {
    pub(crate) root: &'a Value,
}

impl Validator<'_> {
    /// Whether `value` is what `schema` describes.
    pub(crate) fn holds(&self, schema: &Value, value: &Value) -> bool {
        match schema {
            Value::Bool(all) => *all,
            Value::Object(keywords) => {
                keywords.iter().all(|(word, rule)| self.keyword(schema, (word, rule), value))
            }
            _ => panic!("no schema: {schema}"),
        }
    }

    fn keyword(&self, schema: &Value, (word, rule): (&str, &Value), value: &Value) -> bool {
        let each = || rule.as_array().unwrap().iter();
        let number = |holds: fn(f64, f64) -> bool| {
            value.as_f64().is_none_or(|x| holds(x, rule.as_f64().unwrap()))
        };
        let count = |length: Option<usize>, holds: fn(u64, u64) -> bool| {
            length.is_none_or(|n| holds(n as u64, rule.as_u64().unwrap()))
        };
        let (list, map) = (value.as_array(), value.as_object());
        match word {
            "type" => match rule {
                Value::Array(all) => all.iter().any(|one| is_of(one, value)),
                one => is_of(one, value),
            },
            "const" => same(rule, value),
            "enum" => each().any(|one| same(one, value)),
            "allOf" => each().all(|one| self.holds(one, value)),
            "anyOf" => each().any(|one| self.holds(one, value)),
            "oneOf" => each().filter(|one| self.holds(one, value)).count() == 1,
            "not" => !self.holds(rule, value),
            "$ref" => {
                let pointer = rule.as_str().unwrap().strip_prefix('#').unwrap();
                let there = self.root.pointer(pointer);
                self.holds(there.unwrap_or_else(|| panic!("nothing at {pointer}")), value)
            }
            "minimum" => number(|x, limit| x >= limit),
            "maximum" => number(|x, limit| x <= limit),
            "exclusiveMinimum" => number(|x, limit| x > limit),
            "exclusiveMaximum" => number(|x, limit| x < limit),
            "pattern" => value.as_str().is_none_or(|text| fits(rule.as_str().unwrap(), text)),
            "minItems" => count(list.map(Vec::len), |n, limit| n >= limit),
            "maxItems" => count(list.map(Vec::len), |n, limit| n <= limit),
            "maxProperties" => count(map.map(serde_json::Map::len), |n, limit| n <= limit),
            "prefixItems" => {
                list.is_none_or(|items| items.iter().zip(each()).all(|(x, s)| self.holds(s, x)))
            }
            "items" => list.is_none_or(|items| items.iter().all(|x| self.holds(rule, x))),
            "required" => {
                map.is_none_or(|map| each().all(|key| map.contains_key(key.as_str().unwrap())))
            }
            "properties" => map.is_none_or(|map| {
                let known = rule.as_object().unwrap();
                known.iter().all(|(key, s)| map.get(key).is_none_or(|x| self.holds(s, x)))
            }),
            "propertyNames" => map.is_none_or(|map| {
                map.keys().all(|key| self.holds(rule, &Value::String(key.clone())))
            }),
            "additionalProperties" => map.is_none_or(|map| {
                let known = schema.get("properties").and_then(Value::as_object);
                let is_known = |key: &str| known.is_some_and(|known| known.contains_key(key));
                map.iter().all(|(key, x)| is_known(key) || self.holds(rule, x))
            }),
            "dependentRequired" => map.is_none_or(|map| {
                let given =
                    rule.as_object().unwrap().iter().filter(|(key, _)| map.contains_key(*key));
                let mut needed = given.flat_map(|(_, keys)| keys.as_array().unwrap());
                needed.all(|key| map.contains_key(key.as_str().unwrap()))
            }),
            silent => {
                assert!(SILENT.contains(&silent), "`{silent}` is not looked at here");
                true
            }
        }
    }
}

fn is_of(name: &Value, value: &Value) -> bool {
    match name.as_str().unwrap() {
        "string" => value.is_string(),
        "number" => value.is_number(),
        "integer" => value.as_f64().is_some_and(|x| x.fract() == 0.0),
        "boolean" => value.is_boolean(),
        "array" => value.is_array(),
        "object" => value.is_object(),
        other => panic!("no type: {other}"),
    }
}

/// Numbers are alike by what they are worth.
fn same(one: &Value, other: &Value) -> bool {
    match (one.as_f64(), other.as_f64()) {
        (Some(x), Some(y)) => x == y,
        _ => one == other,
    }
}

/// The few patterns in use, each by hand.
fn fits(pattern: &str, text: &str) -> bool {
    let blank = |part: &str| part.trim().is_empty();
    let trimmed = text.trim();
    match pattern {
        "\\S" => !blank(text),
        "^[A-Za-z_][A-Za-z0-9_]*$" => {
            text.chars().next().is_some_and(|c| c.is_ascii_alphabetic() || c == '_')
                && text.chars().all(|c| c.is_ascii_alphanumeric() || c == '_')
        }
        "^\\s*([<>]=|[≤≥])\\s*\\S|\\S\\s*\\.\\.\\s*\\S" => {
            let bound = ["<=", ">=", "≤", "≥"].iter().find_map(|sign| trimmed.strip_prefix(sign));
            let between = text
                .match_indices("..")
                .any(|(at, dots)| !blank(&text[..at]) && !blank(&text[at + dots.len()..]));
            bound.is_some_and(|rest| !blank(rest)) || between
        }
        "^\\s*fully on\\s*$|\\S\\s*below\\s*$" => {
            trimmed == "fully on" || trimmed.strip_suffix("below").is_some_and(|rest| !blank(rest))
        }
        "\\[.*\\]\\s*$" => trimmed.ends_with(']') && trimmed.contains('['),
        other => panic!("the pattern `{other}` is not looked at here"),
    }
}
