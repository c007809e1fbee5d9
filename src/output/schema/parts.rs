//! Parts and models: a schema for each kind, from its row.

use super::form::{
    NAME, defined, expression, named, names, node_pair, pair, quantity, some, table, text, told,
    with_unit, words,
};
use crate::device::{Form, Key, Kind, Need, Rule, Terminals, kinds};
use crate::output::explain::key_form;
use serde_json::{Map, Value, json};

/// The most points of a curve, and rows of a list.
const MOST_POINTS: usize = 100;
/// The most inputs of a law.
const MOST_INPUTS: usize = crate::device::MOST_LAW_INPUTS;

/// Schemas of all kinds of parts and models, and of either as a whole.
pub(super) fn define(all: &mut Map<String, Value>) {
    let is_block = |kind: &Kind| matches!(kind.terminals, Terminals::Ports);
    let models = || kinds().iter().filter(|kind| !is_block(kind));
    let parts: Vec<&str> = kinds().iter().map(|kind| kind.name).collect();
    all.insert("part".to_owned(), one_of_kinds("part", &parts));
    all.insert(
        "model".to_owned(),
        one_of_kinds("model", &models().map(|kind| kind.name).collect::<Vec<_>>()),
    );
    for kind in kinds() {
        all.insert(format!("part-{}", kind.name), part(kind));
    }
    for kind in models() {
        all.insert(format!("model-{}", kind.name), model(kind));
    }
}

fn one_of_kinds(what: &str, kinds: &[&str]) -> Value {
    let each: Vec<Value> = kinds.iter().map(|kind| defined(&format!("{what}-{kind}"))).collect();
    json!({
        "type": "object",
        "properties": { "kind": told(words(kinds.iter().copied()), "which kind of part") },
        "required": ["kind"],
        "oneOf": each,
    })
}

fn kind_word(kind: &Kind) -> Value {
    told(json!({ "const": kind.name }), &format!("{}\n\n{}", kind.summary, kind.law))
}

/// Whether a key may stand in a model, which has no nodes.
fn belongs_to_a_model(key: &Key) -> bool {
    !matches!(
        key.form,
        Form::NodePair
            | Form::SensedPart
            | Form::HeatPath
            | Form::Inputs
            | Form::Expression(_)
            | Form::Part
            | Form::Parts
            | Form::BlockName
            | Form::BlockValues
    )
}

fn part(kind: &Kind) -> Value {
    let mut properties = Map::new();
    properties.insert("kind".to_owned(), kind_word(kind));
    let mut required = vec!["kind"];
    match kind.terminals {
        Terminals::Pair => {
            let nodes = "its two ends, alike; voltage and current are counted from the first to the \
                         second";
            properties.insert("nodes".to_owned(), told(node_pair(), nodes));
            required.push("nodes");
        }
        Terminals::Named(terminals) => {
            for terminal in terminals {
                let default = terminal.default.map(|d| format!("; that of `{d}` when left out"));
                let words = format!("node: {}{}", terminal.text, default.unwrap_or_default());
                properties.insert(terminal.name.to_owned(), told(text(), &words));
                required.extend(terminal.default.is_none().then_some(terminal.name));
            }
        }
        Terminals::Ports => {
            let ports = told(named(&text()), "the node at each port of the block");
            properties.insert("ports".to_owned(), ports);
            required.push("ports");
        }
    }
    properties.extend(keys(kind.keys.iter()));
    if !matches!(kind.terminals, Terminals::Ports) {
        let model = "name in [models]; gives every key not given here";
        properties.insert("model".to_owned(), told(text(), model));
    }
    let temperature = "temperature of the part (°C; default rail.ambient)";
    properties.insert("temperature".to_owned(), told(with_unit(), temperature));
    properties.insert("text".to_owned(), told(json!({ "type": "string" }), "label for reports"));
    let (in_model, own): (Vec<&Key>, Vec<&Key>) = kind
        .keys
        .iter()
        .filter(|key| key.need == Need::Required)
        .partition(|key| belongs_to_a_model(key));
    required.extend(own.iter().map(|key| key.name));
    let mut schema = told(table(properties, &required), kind.summary);
    if let Some(own) = without_model(kind, &in_model) {
        if matches!(kind.terminals, Terminals::Ports) {
            schema["allOf"] = json!([own]);
        } else {
            schema["anyOf"] = json!([{ "required": ["model"] }, own]);
        }
    }
    schema
}

fn model(kind: &Kind) -> Value {
    let mut properties = Map::new();
    properties.insert("kind".to_owned(), kind_word(kind));
    properties.extend(keys(kind.keys.iter().filter(|key| belongs_to_a_model(key))));
    properties.insert("text".to_owned(), told(json!({ "type": "string" }), "label for reports"));
    told(table(properties, &["kind"]), kind.summary)
}

/// What must hold among the keys of a part that no model completes.
fn without_model(kind: &Kind, required: &[&Key]) -> Option<Value> {
    let needs = |keys: &[&str]| json!({ "required": keys });
    let mut all = Vec::new();
    if !required.is_empty() {
        all.push(needs(&required.iter().map(|key| key.name).collect::<Vec<_>>()));
    }
    for rule in kind.rules {
        match rule {
            Rule::ExactlyOne(keys) => {
                let each: Vec<Value> = keys.iter().map(|key| needs(&[key])).collect();
                all.push(json!({ "oneOf": each }));
            }
            Rule::AtMostOne(keys) => {
                let each: Vec<Value> = keys.iter().map(|key| needs(&[key])).collect();
                all.push(json!({ "oneOf": [{ "not": { "anyOf": each } }, { "oneOf": each }] }));
            }
            Rule::Together(keys) => {
                let each: Vec<Value> = keys.iter().map(|key| needs(&[key])).collect();
                all.push(json!({ "anyOf": [needs(keys), { "not": { "anyOf": each } }] }));
            }
            Rule::Needs(key, word, keys) => {
                let is = json!({ "properties": { (*key): { "const": word } } });
                let stands_in = kind.key(key).is_some_and(|k| k.need == Need::DefaultWord(word));
                let condition =
                    if stands_in { is } else { json!({ "allOf": [is, needs(&[key])] }) };
                all.push(json!({ "anyOf": [{ "not": condition }, needs(keys)] }));
            }
            // What figures and nodes come to is not seen in the form of a file.
            Rule::Below(..)
            | Rule::NotAbove(..)
            | Rule::Different(..)
            | Rule::WithinPeriod(..)
            | Rule::NeedsApart(..) => {}
        }
    }
    match all.len() {
        0 => None,
        1 => all.pop(),
        _ => Some(json!({ "allOf": all })),
    }
}

fn keys<'a>(keys: impl Iterator<Item = &'a Key>) -> Map<String, Value> {
    keys.map(|key| (key.name.to_owned(), described(key))).collect()
}

fn described(key: &Key) -> Value {
    let mut schema = told(form(&key.form), &format!("{} ({})", key.text, key_form(key)));
    if let Need::DefaultWord(word) = key.need {
        schema["default"] = json!(word);
    }
    schema
}

/// A table inside a part, complete by itself.
fn inner(own: &[Key]) -> Value {
    let required: Vec<&str> =
        own.iter().filter(|key| key.need == Need::Required).map(|key| key.name).collect();
    table(keys(own.iter()), &required)
}

fn form(form: &Form) -> Value {
    match form {
        Form::Quantity(dimension, range) => quantity(*dimension, *range),
        Form::Word(all) => words(all.iter().copied()),
        Form::NodePair => node_pair(),
        Form::SensedPart | Form::HeatPath | Form::Part | Form::BlockName | Form::Text => text(),
        Form::Inputs => {
            let mut schema = named(&node_pair());
            schema["maxProperties"] = json!(MOST_INPUTS);
            schema
        }
        Form::Expression(_) => expression(),
        Form::Varies(_) => defined("varies"),
        Form::Points(x, x_range, y_range) => {
            let y = quantity(crate::quantity::Dimension::NONE, *y_range);
            points(&quantity(*x, *x_range), &y)
        }
        Form::Pairs((x, x_range), (y, y_range)) => {
            points(&quantity(*x, *x_range), &quantity(*y, *y_range))
        }
        Form::Parts => names(),
        Form::KeysOf(kind) => inner(kind.keys),
        Form::BlockValues | Form::InnerValues => named(&expression()),
        Form::Rows(own) => {
            json!({ "type": "array", "items": inner(own), "maxItems": MOST_POINTS })
        }
        Form::FromTo(dimension, range) => {
            let end = quantity(*dimension, *range);
            pair(&end, &end)
        }
    }
}

fn points(x: &Value, y: &Value) -> Value {
    let mut schema = some(&pair(x, y));
    schema["maxItems"] = json!(MOST_POINTS);
    schema
}

/// `[parts]`
pub(super) fn parts() -> Value {
    json!({
        "type": "object",
        "description": "parts by their reference designators",
        "propertyNames": { "pattern": NAME },
        "additionalProperties": defined("part"),
    })
}
