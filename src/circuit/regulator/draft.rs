//! What stands in the table of a regulator or of its model, key by key: read by the rows of the
//! kind, with every mistake told, but not yet put together.

use super::super::formula::Formula;
use super::super::naming;
use crate::device::{Form, Key, Need};
use crate::diagnostic::{Diagnostic, Diagnostics, Span};
use crate::document::{KeyName, Node, Reader, wrong_form};
use crate::quantity::{Dimension, NoNames, Program, engineering};
use std::collections::BTreeMap;

/// The most rows of one list: a data sheet has some ten.
const MOST_ROWS: usize = 100;

/// Figures by key.
pub(super) type Draft = BTreeMap<&'static str, Given>;

/// What stands behind a key, and where.
#[derive(Clone, Debug)]
pub(super) struct Given {
    pub(super) span: Span,
    pub(super) entry: Entry,
}

#[derive(Clone, Debug)]
pub(super) enum Entry {
    /// SI.
    Number(f64),
    Word(&'static str),
    Text(String),
    /// SI.
    FromTo([f64; 2]),
    Rows(Vec<(Span, Draft)>),
    /// Their units depend on what the regulator is made of.
    InnerValues(Vec<(KeyName, Formula)>),
    /// It could not be read; told already.
    Spoilt,
}

/// The number behind a key.
pub(super) fn number(draft: &Draft, key: &str) -> Option<f64> {
    match draft.get(key)?.entry {
        Entry::Number(number) => Some(number),
        _ => None,
    }
}

/// The two ends behind a key.
pub(super) fn from_to(draft: &Draft, key: &str) -> Option<[f64; 2]> {
    match draft.get(key)?.entry {
        Entry::FromTo(ends) => Some(ends),
        _ => None,
    }
}

/// The word behind a key.
pub(super) fn word(draft: &Draft, key: &str) -> Option<&'static str> {
    match draft.get(key)?.entry {
        Entry::Word(word) => Some(word),
        _ => None,
    }
}

/// Reads all keys of a list of keys; `what` says in messages whose they are.
pub(super) fn read_draft(keys: &'static [Key], reader: &mut Reader<'_, '_>) -> Draft {
    let mut draft = Draft::new();
    let what = reader.what().to_owned();
    for key in keys {
        let Some(node) = reader.node(key.name) else { continue };
        let entry = Desk { what: &what, told: reader.diagnostics() }.entry(key, node);
        let entry = entry.unwrap_or(Entry::Spoilt);
        draft.insert(key.name, Given { span: node.span, entry });
    }
    draft
}

/// Tells every required key that is missing.
pub(super) fn tell_missing(
    keys: &'static [Key],
    draft: &Draft,
    (what, place): (&str, Span),
    told: &mut Diagnostics,
) {
    for key in keys.iter().filter(|k| k.need == Need::Required && !draft.contains_key(k.name)) {
        let message = format!("{what} has no `{}`", key.name);
        let mistake = Diagnostic::error(place, message).label(format!("`{}` is missing", key.name));
        told.push(mistake.hint(format!("add `{} = {}`", key.name, example(&key.form))));
    }
}

fn example(form: &Form) -> String {
    match form {
        Form::Quantity(unit, _) => format!("\"… {}\"", unit.symbol()).replace(" \"", "\""),
        Form::Word(words) => format!("\"{}\"", words.first().copied().unwrap_or_default()),
        _ => "…".to_owned(),
    }
}

struct Desk<'a> {
    what: &'a str,
    told: &'a mut Diagnostics,
}

impl Desk<'_> {
    fn entry(&mut self, key: &Key, node: &Node) -> Option<Entry> {
        match &key.form {
            Form::Quantity(unit, range) => {
                let number = plain(key.name, node, *unit, self.told)?;
                let is_fit = range.holds(number);
                if !is_fit {
                    let shown = engineering(number, &unit.symbol(), 3);
                    let wanted = range.words();
                    let message =
                        format!("`{}` of {} must be {wanted}, but is {shown}", key.name, self.what);
                    let mistake = Diagnostic::error(node.content_span(), message);
                    let hint = format!("give `{}` a value {wanted}", key.name);
                    self.told.push(mistake.label(format!("expected {wanted}")).hint(hint));
                }
                is_fit.then_some(Entry::Number(number))
            }
            Form::Word(words) => naming::word(key.name, words, node, self.told).map(Entry::Word),
            Form::Text => {
                let text = node.as_text().map(|text| Entry::Text(text.to_owned()));
                if text.is_none() {
                    self.told.push(wrong_form(key.name, node, "a text in quotes"));
                }
                text
            }
            Form::FromTo(unit, range) => {
                let ends = self.ends(key.name, node, *unit)?;
                let fit = range.holds(ends[0]) && range.holds(ends[1]) && ends[0] <= ends[1];
                if !fit {
                    let message = if ends[0] > ends[1] {
                        format!("`{}` goes from a larger to a smaller figure", key.name)
                    } else {
                        format!("both ends of `{}` must be {}", key.name, range.words())
                    };
                    let hint = format!("write `{} = [\"smallest\", \"largest\"]`", key.name);
                    self.told.push(Diagnostic::error(node.span, message).hint(hint));
                }
                fit.then_some(Entry::FromTo(ends))
            }
            Form::Rows(own) => self.rows(key.name, own, node),
            Form::InnerValues => self.inner_values(key.name, node),
            // No other form stands in the row of a regulator.
            _ => None,
        }
    }

    fn ends(&mut self, key: &str, node: &Node, unit: Dimension) -> Option<[f64; 2]> {
        let Some([low, high]) = node.as_array() else {
            let hint = format!("write `{key} = [\"smallest\", \"largest\"]`");
            self.told.push(wrong_form(key, node, "a list of two quantities").hint(hint));
            return None;
        };
        let ends = [plain(key, low, unit, self.told), plain(key, high, unit, self.told)];
        Some([ends[0]?, ends[1]?])
    }

    fn rows(&mut self, key: &str, own: &'static [Key], node: &Node) -> Option<Entry> {
        let required: Vec<&str> =
            own.iter().filter(|k| k.need == Need::Required).map(|k| k.name).collect();
        let hint = format!("write `{key} = [{{ {} = \"…\" }}, …]`", required.join(" = \"…\", "));
        let items = node.as_array().filter(|items| items.len() <= MOST_ROWS);
        let Some(items) = items else {
            let wanted = format!("a list of at most {MOST_ROWS} tables");
            self.told.push(wrong_form(key, node, &wanted).hint(hint));
            return None;
        };
        let mut rows = Vec::with_capacity(items.len());
        for item in items {
            let Some(table) = item.as_table() else {
                self.told.push(wrong_form(key, item, "a table").hint(hint.as_str()));
                continue;
            };
            let what = format!("a row of `{key}`");
            let mut reader = Reader::new(table, what.as_str(), item.span, self.told);
            let mut row = read_draft(own, &mut reader);
            for meant in reader.finish() {
                row.entry(meant).or_insert(Given { span: item.span, entry: Entry::Spoilt });
            }
            tell_missing(own, &row, (&what, item.span), self.told);
            rows.push((item.span, row));
        }
        Some(Entry::Rows(rows))
    }

    fn inner_values(&mut self, key: &str, node: &Node) -> Option<Entry> {
        let Some(table) = node.as_table() else {
            let hint = format!("write `{key} = {{ mid_gain = \"60\" }}`");
            self.told.push(wrong_form(key, node, "a table").hint(hint));
            return None;
        };
        let mut values = Vec::with_capacity(table.entries.len());
        for (name, node) in &table.entries {
            match Formula::read(&name.text, node) {
                Ok(formula) => values.push((name.clone(), formula)),
                Err(mistake) => self.told.push(mistake),
            }
        }
        Some(Entry::InnerValues(values))
    }
}

fn plain(key: &str, node: &Node, unit: Dimension, told: &mut Diagnostics) -> Option<f64> {
    match Formula::read(key, node) {
        Ok(formula) => figure(&formula, unit, told),
        Err(mistake) => {
            told.push(mistake);
            None
        }
    }
}

/// What a formula that names nothing comes to; anything else is told.
pub(super) fn figure(formula: &Formula, unit: Dimension, told: &mut Diagnostics) -> Option<f64> {
    if let Some(name) = formula.names().first() {
        let message = format!("a datasheet's figure is a plain quantity, but this names `{name}`");
        let hint = "write the figure itself; what is to be varied are the values inside, such as \
                    `U1.mid_gain`";
        told.push(formula.mistake(message).label("expected a quantity").hint(hint));
        return None;
    }
    match formula.compile(&NoNames, Some(unit)) {
        Ok(program) => finite(&program, formula, told),
        Err(mistakes) => {
            told.extend(mistakes);
            None
        }
    }
}

fn finite(program: &Program, formula: &Formula, told: &mut Diagnostics) -> Option<f64> {
    let number = program.evaluate::<f64>(&[]);
    if !number.is_finite() {
        let message = "this does not come to a finite number".to_owned();
        told.push(formula.mistake(message).hint("look for a division by zero"));
    }
    number.is_finite().then_some(number)
}
