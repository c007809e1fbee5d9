//! The table of kinds itself.

use crate::device::{Form, Kind, Need, Rule, Terminals, kind, kinds};
use std::collections::BTreeSet;

fn quantity_default_holds(row: &Kind) {
    for key in row.keys {
        if let (Form::Quantity(_, range), Need::Default(number)) = (&key.form, key.need) {
            assert!(
                range.holds(number),
                "`{}` of `{}`: its default is out of range",
                key.name,
                row.name
            );
        }
        if let (Form::Word(words), Need::DefaultWord(word)) = (&key.form, key.need) {
            assert!(
                words.contains(&word),
                "`{}` of `{}`: its default is no choice",
                key.name,
                row.name
            );
        }
        let fits = match key.form {
            Form::Quantity(..) => !matches!(key.need, Need::DefaultWord(_)),
            Form::Word(_) => !matches!(key.need, Need::Default(_)),
            _ => matches!(key.need, Need::Required | Need::Absent),
        };
        assert!(fits, "`{}` of `{}`: its default is of another form", key.name, row.name);
    }
}

#[test]
fn every_row_is_complete() {
    let mut names = BTreeSet::new();
    for row in kinds() {
        assert!(names.insert(row.name), "two kinds are called `{}`", row.name);
        for text in [row.summary, row.law, row.noise, row.source] {
            assert!(!text.is_empty(), "`{}` lacks a text", row.name);
        }
        let opening = format!("{{ kind = \"{}\",", row.name);
        assert!(row.example.contains(&opening), "the example of `{}` is of another kind", row.name);
        let mut keys = BTreeSet::new();
        for key in row.keys {
            assert!(keys.insert(key.name), "`{}` has `{}` twice", row.name, key.name);
            assert!(!key.text.is_empty(), "`{}` of `{}` lacks a text", key.name, row.name);
            let common = ["kind", "model", "text", "temperature", "nodes", "ports"];
            assert!(!common.contains(&key.name), "`{}` of `{}` is taken", key.name, row.name);
            let snake = |c: char| c.is_ascii_lowercase() || c == '_';
            assert!(key.name.chars().all(snake), "`{}` is not in snake case", key.name);
        }
        quantity_default_holds(row);
    }
}

#[test]
fn every_rule_names_keys_of_its_row() {
    for row in kinds() {
        let known = |name: &str| {
            assert!(row.key(name).is_some(), "a rule of `{}` names `{name}`", row.name);
        };
        for rule in row.rules {
            match rule {
                Rule::ExactlyOne(keys) | Rule::AtMostOne(keys) | Rule::Together(keys) => {
                    keys.iter().for_each(|k| known(k));
                }
                Rule::Below(low, high)
                | Rule::NotAbove(low, high)
                | Rule::Different(low, high)
                | Rule::WithinPeriod(low, high) => {
                    [low, high].into_iter().for_each(|k| known(k));
                }
                Rule::NeedsApart(keys, terminal, other) => {
                    keys.iter().for_each(|k| known(k));
                    let Terminals::Named(ends) = &row.terminals else { panic!("`{}`", row.name) };
                    let is_end = |name: &str| ends.iter().any(|end| end.name == name);
                    assert!(is_end(terminal) && is_end(other), "`{}`", row.name);
                }
                Rule::Needs(key, word, needed) => {
                    needed.iter().for_each(|k| known(k));
                    let form = row.key(key).map(|k| &k.form);
                    assert!(matches!(form, Some(Form::Word(words)) if words.contains(word)));
                }
            }
        }
    }
}

#[test]
fn every_terminal_is_named_once_and_defaults_to_an_earlier_one() {
    for row in kinds() {
        let Terminals::Named(terminals) = row.terminals else { continue };
        let mut seen = BTreeSet::new();
        for terminal in terminals {
            assert!(!terminal.text.is_empty());
            assert!(terminal.default.is_none_or(|d| seen.contains(d)), "`{}`", terminal.name);
            assert!(seen.insert(terminal.name));
            assert!(row.key(terminal.name).is_none(), "`{}` is terminal and key", terminal.name);
        }
    }
}

#[test]
fn every_example_gives_what_its_kind_requires() {
    for row in kinds() {
        let gives = |name: &str| row.example.contains(&format!(" {name} = "));
        for key in row.keys.iter().filter(|k| k.need == Need::Required) {
            assert!(gives(key.name), "the example of `{}` lacks `{}`", row.name, key.name);
        }
        for rule in row.rules {
            if let Rule::ExactlyOne(keys) = rule {
                let given = keys.iter().filter(|k| gives(k)).count();
                assert_eq!(given, 1, "the example of `{}` breaks a rule", row.name);
            }
        }
        match row.terminals {
            Terminals::Pair => assert!(gives("nodes"), "the example of `{}`", row.name),
            Terminals::Ports => assert!(gives("ports"), "the example of `{}`", row.name),
            Terminals::Named(terminals) => {
                for terminal in terminals.iter().filter(|t| t.default.is_none()) {
                    assert!(gives(terminal.name), "the example of `{}`", row.name);
                }
            }
        }
        let table = toml::de::DeTable::parse(row.example).expect("an example is a line of TOML");
        assert_eq!(table.get_ref().len(), 1);
    }
}

#[test]
fn kinds_are_found_by_name() {
    // Found is the first of a name: none hides another.
    assert!(kinds().iter().all(|row| kind(row.name).is_some_and(|k| std::ptr::eq(k, *row))));
    assert!(kind("teapot").is_none());
}
