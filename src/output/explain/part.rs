//! The entry of a part kind.

use super::Page;
use crate::device::{Form, Key, Kind, Need, Range, Rule, Terminals};
use crate::output::number::trimmed;
use crate::quantity::Dimension;

pub(super) fn write(page: &mut Page, kind: &Kind) {
    page.title(kind.name, "a kind of part");
    page.text(kind.summary);
    page.heading("terminals");
    write_terminals(page, kind);
    page.heading("keys");
    for key in kind.keys {
        page.key(key.name, &form(key), key.text);
    }
    for key in kind.keys {
        let Form::Rows(own) = key.form else { continue };
        page.heading(&format!("keys of each of `{}`", key.name));
        for key in own {
            page.key(key.name, &form(key), key.text);
        }
    }
    if !matches!(kind.terminals, Terminals::Ports) {
        page.key("model", "name in [models]; may be left out", "gives every key not given here");
    }
    page.key("temperature", "°C; default rail.ambient", "temperature of the part");
    page.key("text", "words; may be left out", "label for reports");
    if !kind.rules.is_empty() {
        page.heading("rules");
        for rule in kind.rules {
            page.hanging(2, "", &rule_text(rule));
        }
    }
    page.heading("law");
    page.text(kind.law);
    page.heading("noise");
    page.text(kind.noise);
    page.heading("source");
    page.text(kind.source);
    page.example(kind.example);
}

fn write_terminals(page: &mut Page, kind: &Kind) {
    match kind.terminals {
        Terminals::Pair => {
            page.text("nodes = [a, b]: alike; voltage and current are counted from a to b");
        }
        Terminals::Named(terminals) => {
            for terminal in terminals {
                let default = terminal.default.map(|d| format!("; that of `{d}` when left out"));
                let text = format!("{}{}", terminal.text, default.unwrap_or_default());
                page.hanging(2, &format!("{}: ", terminal.name), &text);
            }
        }
        Terminals::Ports => page.text("ports = { port = node }: as the block names them"),
    }
}

/// What may stand behind a key, and what holds when it is left out.
pub(in crate::output) fn form(key: &Key) -> String {
    let mut parts = vec![what(&key.form)];
    if let Form::Quantity(_, range) = key.form {
        parts.extend(range_text(range));
    }
    if let Form::Points(_, _, range) = key.form {
        parts.extend(range_text(range));
    }
    parts.push(match key.need {
        Need::Required => "required".to_owned(),
        Need::Absent => "may be left out".to_owned(),
        Need::DefaultWord(word) => format!("default \"{word}\""),
        Need::Default(number) => format!("default {}", number_text(&key.form, number)),
    });
    parts.join("; ")
}

fn what(form: &Form) -> String {
    match form {
        Form::Quantity(
            dimension,
            Range::Fraction
            | Range::FractionBelowOne
            | Range::PositiveFraction
            | Range::LeavesSomething,
        ) if dimension.is_none() => "number or %".to_owned(),
        Form::Quantity(dimension, _) => unit(*dimension),
        Form::Word(words) => {
            words.iter().map(|w| format!("\"{w}\"")).collect::<Vec<_>>().join(" or ")
        }
        Form::NodePair => "[c, d]".to_owned(),
        Form::SensedPart => "name of a voltage-source or inductor".to_owned(),
        Form::HeatPath => "name of a heat-path".to_owned(),
        Form::Inputs => "{ x = [c, d], … }".to_owned(),
        Form::Expression(dimension) => format!("expression in {}", unit(*dimension)),
        Form::Varies(key) => format!("{{ shape = … }}, see `varies`; added to `{key}`"),
        Form::Points(x, _, y) => {
            let y = if matches!(y, Range::PositiveFraction) { "number or %" } else { "number" };
            format!("[[{}, {y}], …], the first rising", unit(*x))
        }
        Form::Pairs((x, _), (y, _)) => format!("[[{}, {}], …]", unit(*x), unit(*y)),
        Form::Part => "name of a part".to_owned(),
        Form::Parts => "names of parts".to_owned(),
        Form::KeysOf(kind) => format!("{{ … }} with the keys of `{}`", kind.name),
        Form::BlockName => "name in [blocks]".to_owned(),
        Form::BlockValues => "{ name = \"expression\" }".to_owned(),
        Form::Rows(keys) => {
            let own: Vec<&str> =
                keys.iter().filter(|k| k.need == Need::Required).map(|k| k.name).collect();
            format!("[{{ {}, … }}, …]", own.join(", "))
        }
        Form::FromTo(dimension, _) => format!("[from, to] in {}", unit(*dimension)),
        Form::Text => "words".to_owned(),
        Form::InnerValues => "{ name = \"quantity\" }".to_owned(),
    }
}

fn unit(dimension: Dimension) -> String {
    match dimension {
        Dimension::NONE => "number".to_owned(),
        Dimension::KELVIN => "°C".to_owned(),
        other => other.symbol(),
    }
}

fn range_text(range: Range) -> Option<String> {
    let text = match range {
        Range::Any => return None,
        Range::Positive => "above 0",
        Range::NonNegative => "0 or above",
        Range::Fraction => "0 to 1",
        Range::FractionBelowOne => "0 to below 1",
        Range::PositiveFraction => "above 0, up to 1",
        Range::LeavesSomething => "above -1",
        Range::AboveAbsoluteZero => "above absolute zero",
        Range::Count => "whole, from 1 up",
    };
    Some(text.to_owned())
}

fn number_text(form: &Form, number: f64) -> String {
    match form {
        Form::Quantity(dimension, _) if *dimension == Dimension::KELVIN => trimmed(number, "K"),
        Form::Quantity(dimension, _) => crate::quantity::trimmed(number, &dimension.symbol(), 4),
        _ => format!("{number}"),
    }
}

fn rule_text(rule: &Rule) -> String {
    let list = |keys: &[&str], join: &str| {
        keys.iter().map(|k| format!("`{k}`")).collect::<Vec<_>>().join(join)
    };
    match rule {
        Rule::ExactlyOne(keys) => format!("exactly one of {}", list(keys, ", ")),
        Rule::AtMostOne(keys) => format!("at most one of {}", list(keys, ", ")),
        Rule::Together(keys) => format!("{}: all or none", list(keys, ", ")),
        Rule::Needs(key, word, keys) => {
            format!("with {key} = \"{word}\": {} must be given", list(keys, ", "))
        }
        Rule::Below(low, high) => format!("`{low}` must be below `{high}`"),
        Rule::NotAbove(low, high) => format!("`{low}` must not be above `{high}`"),
        Rule::Different(one, other) => format!("`{one}` and `{other}` must differ"),
        Rule::WithinPeriod(width, rate) => format!("`{width}` must not be above 1/`{rate}`"),
        Rule::NeedsApart(keys, terminal, other) => {
            format!("{}: only with `{terminal}` at another node than `{other}`", list(keys, ", "))
        }
    }
}
