//! The keys of a part or model, read from the rows of its kind but not yet worked out.

use super::formula::Formula;
use super::lookup::Lookup;
use super::naming::{name_mistake, word};
use super::nodes::{Inside, NodeUses};
use super::values::InScope;
use super::varies::Varies;
use crate::device::{Form, Key, Kind, MOST_LAW_INPUTS};
use crate::diagnostic::{Diagnostic, Diagnostics, Span};
use crate::document::{Node, Reader, Word, name_list, wrong_form};
use crate::quantity::{Dimension, Names, Program};
use std::collections::BTreeMap;

/// What stands behind a key.
#[derive(Clone, Debug)]
pub(super) enum Setting {
    /// A quantity.
    Quantity(Program),
    /// One of the key's words.
    Word(&'static str),
    /// Points of a curve.
    Points(Vec<Point>),
    /// The voltage between two nodes.
    NodePair([String; 2]),
    /// Parts, each with its place.
    Parts(Vec<(String, Span)>),
    /// A part whose current is sensed.
    Sensed(String),
    /// Input voltages of a law, in slot order.
    Inputs(Vec<[String; 2]>),
    /// Slots: inputs, `t`, then all values of the circuit.
    Law(Program),
    /// A time function.
    Varies(Box<Varies>),
    /// Keys of another kind.
    Table(&'static Kind, Settings),
    /// It stands there but could not be read; told already.
    Spoilt,
}

/// One point of a curve, each figure with its place.
#[derive(Clone, Debug)]
pub(super) struct Point {
    pub(super) x: (Program, Span),
    pub(super) y: (Program, Span),
}

/// The most points of a curve in a part's key: a data sheet's figure has some ten.
const MOST_CURVE_POINTS: usize = 100;

/// Settings by key, each with its place.
pub(super) type Settings = BTreeMap<&'static str, (Span, Setting)>;

/// What reading a part's keys needs besides the keys.
pub(super) struct Desk<'a> {
    pub(super) lookup: Lookup<'a>,
    /// `None` in a model, which has no nodes of its own.
    pub(super) inside: Option<&'a Inside>,
    pub(super) nodes: &'a mut NodeUses,
    /// Names of a law's inputs.
    pub(super) inputs: Vec<String>,
}

/// Reads all keys of a kind.
pub(super) fn read_settings(
    kind: &'static Kind,
    reader: &mut Reader<'_, '_>,
    desk: &mut Desk<'_>,
) -> Settings {
    let mut settings = Settings::new();
    // A law's expression names its inputs, so these are read first.
    let inputs_first = |key: &&Key| !matches!(key.form, Form::Inputs);
    let mut keys: Vec<&Key> = kind.keys.iter().collect();
    keys.sort_by_key(inputs_first);
    for key in keys {
        if let Some(node) = reader.node(key.name) {
            let setting = desk.setting(kind, key, node, reader.diagnostics());
            settings.insert(key.name, (node.span, setting.unwrap_or(Setting::Spoilt)));
        }
    }
    settings
}

impl Desk<'_> {
    fn setting(
        &mut self,
        kind: &'static Kind,
        key: &Key,
        node: &Node,
        told: &mut Diagnostics,
    ) -> Option<Setting> {
        match &key.form {
            Form::Quantity(unit, _) => {
                self.lookup.quantity(key.name, node, *unit, told).map(Setting::Quantity)
            }
            Form::Word(words) => word(key.name, words, node, told).map(Setting::Word),
            Form::Points(unit, ..) => {
                let example = match *unit {
                    Dimension::KELVIN => ["-40 °C", "8"],
                    _ => ["1 V", "80 %"],
                };
                let units = [*unit, Dimension::NONE];
                self.points(key.name, node, units, example, told).map(Setting::Points)
            }
            Form::Pairs((x, _), (y, _)) => {
                let example = match *y {
                    Dimension::SECOND => ["2 K/W", "1 ms"],
                    _ => ["2 K/W", "0.5 mJ/K"],
                };
                self.points(key.name, node, [*x, *y], example, told).map(Setting::Points)
            }
            Form::Part | Form::Parts => {
                let one = matches!(key.form, Form::Part);
                self.parts(key.name, node, one, told).map(Setting::Parts)
            }
            Form::KeysOf(other) => {
                let Some(table) = node.as_table() else {
                    told.push(
                        wrong_form(key.name, node, "a table")
                            .hint(format!("write `{} = {{ … }}`", key.name)),
                    );
                    return None;
                };
                let mut reader = Reader::new(table, format!("`{}`", key.name), node.span, told);
                let settings = read_settings(other, &mut reader, self);
                reader.finish();
                Some(Setting::Table(other, settings))
            }
            Form::Varies(of) => {
                let unit = unit_of(kind, of);
                Varies::read(node, unit, &self.lookup, told).map(|v| Setting::Varies(Box::new(v)))
            }
            Form::NodePair => self.node_pair(key.name, node, told).map(Setting::NodePair),
            Form::SensedPart | Form::HeatPath => {
                self.sensed(key.name, node, told).map(Setting::Sensed)
            }
            Form::Inputs => self.inputs(key.name, node, told).map(Setting::Inputs),
            Form::Expression(unit) => self.law(key.name, node, *unit, told).map(Setting::Law),
            // Blocks are taken apart before their keys would be read.
            Form::BlockName | Form::BlockValues => None,
            // So are regulators.
            Form::Rows(_) | Form::FromTo(..) | Form::Text | Form::InnerValues => None,
        }
    }

    /// `[["x", "y"], …]` of two units.
    fn points(
        &self,
        key: &str,
        node: &Node,
        units: [Dimension; 2],
        [x, y]: [&str; 2],
        told: &mut Diagnostics,
    ) -> Option<Vec<Point>> {
        let hint = format!("write `{key} = [[\"{x}\", \"{y}\"], …]`");
        let Some(items) = node.as_array() else {
            told.push(wrong_form(key, node, "a list of points").hint(hint));
            return None;
        };
        if items.is_empty() || items.len() > MOST_CURVE_POINTS {
            let message = if items.is_empty() {
                format!("`{key}` has no points")
            } else {
                format!(
                    "`{key}` takes at most {MOST_CURVE_POINTS} points, these are {}",
                    items.len()
                )
            };
            told.push(Diagnostic::error(node.span, message).hint(hint));
            return None;
        }
        let point = |item: &Node, told: &mut Diagnostics| {
            let Some([x, y]) = item.as_array() else {
                told.push(wrong_form(key, item, "two figures for a point").hint(hint.as_str()));
                return None;
            };
            let programs = [
                self.lookup.quantity(key, x, units[0], told),
                self.lookup.quantity(key, y, units[1], told),
            ];
            let [px, py] = programs;
            Some(Point { x: (px?, x.span), y: (py?, y.span) })
        };
        let points: Vec<Option<Point>> = items.iter().map(|item| point(item, told)).collect();
        points.into_iter().collect()
    }

    fn node_pair(&mut self, key: &str, node: &Node, told: &mut Diagnostics) -> Option<[String; 2]> {
        let Some(inside) = self.inside else {
            told.push(belongs_to_the_part(key, node));
            return None;
        };
        self.nodes.pair(key, node, inside, told)
    }

    fn parts(
        &self,
        key: &str,
        node: &Node,
        one: bool,
        told: &mut Diagnostics,
    ) -> Option<Vec<(String, Span)>> {
        let Some(inside) = self.inside else {
            told.push(belongs_to_the_part(key, node));
            return None;
        };
        let words = match (one, word_of(node)) {
            (true, Some(word)) => vec![word],
            (true, None) => {
                told.push(wrong_form(key, node, "the name of a part"));
                return None;
            }
            (false, _) => name_list(key, node, told),
        };
        if words.is_empty() {
            return None;
        }
        Some(words.into_iter().map(|word| (inside.part(&word.text), word.span)).collect())
    }

    fn sensed(&self, key: &str, node: &Node, told: &mut Diagnostics) -> Option<String> {
        let Some(inside) = self.inside else {
            told.push(belongs_to_the_part(key, node));
            return None;
        };
        let name = node.as_text();
        if name.is_none() {
            told.push(wrong_form(key, node, "the name of a part"));
        }
        name.map(|name| inside.part(name))
    }

    fn inputs(
        &mut self,
        key: &str,
        node: &Node,
        told: &mut Diagnostics,
    ) -> Option<Vec<[String; 2]>> {
        let Some(inside) = self.inside else {
            told.push(belongs_to_the_part(key, node));
            return None;
        };
        let Some(table) = node.as_table() else {
            told.push(
                wrong_form(key, node, "a table")
                    .hint("write `inputs = { v = [\"node\", \"gnd\"] }`"),
            );
            return None;
        };
        if table.entries.len() > MOST_LAW_INPUTS {
            let message = format!(
                "a law takes at most {MOST_LAW_INPUTS} inputs, these are {}",
                table.entries.len()
            );
            told.push(Diagnostic::error(node.span, message).hint("split it into two laws"));
        }
        let mut pairs = Vec::new();
        for (name, pair) in &table.entries {
            if let Some(mistake) = name_mistake("input", &name.text, name.span) {
                told.push(mistake);
            }
            let pair = self.nodes.pair(&name.text, pair, inside, told);
            self.inputs.push(name.text.clone());
            pairs.push(pair);
        }
        let complete: Option<Vec<[String; 2]>> = pairs.into_iter().collect();
        complete.filter(|pairs| pairs.len() <= MOST_LAW_INPUTS)
    }

    fn law(
        &self,
        key: &str,
        node: &Node,
        unit: Dimension,
        told: &mut Diagnostics,
    ) -> Option<Program> {
        if self.inside.is_none() {
            told.push(belongs_to_the_part(key, node));
            return None;
        }
        let formula = match Formula::read(key, node) {
            Ok(formula) => formula,
            Err(mistake) => {
                told.push(mistake);
                return None;
            }
        };
        let Lookup { values, scope, .. } = self.lookup;
        let own = |name: &String| name == "t" || self.inputs.contains(name);
        let outer = InScope { values, scope };
        let spoilt = formula
            .names()
            .iter()
            .filter(|n| !own(n))
            .any(|n| values.find(scope, n).is_some() && outer.find(n).is_none());
        if spoilt {
            return None;
        }
        match formula.compile(&LawNames { inputs: &self.inputs, outer }, Some(unit)) {
            Ok(program) => Some(program),
            Err(mistakes) => {
                told.extend(mistakes);
                None
            }
        }
    }
}

/// Inputs, then `t`, then the values of the circuit.
struct LawNames<'a> {
    inputs: &'a [String],
    outer: InScope<'a>,
}

impl Names for LawNames<'_> {
    fn find(&self, name: &str) -> Option<(usize, Dimension)> {
        if let Some(slot) = self.inputs.iter().position(|input| input == name) {
            return Some((slot, Dimension::VOLT));
        }
        if name == "t" {
            return Some((self.inputs.len(), Dimension::SECOND));
        }
        let (slot, unit) = self.outer.find(name)?;
        Some((self.inputs.len() + 1 + slot, unit))
    }

    fn all(&self) -> Vec<String> {
        let mut names = self.inputs.to_vec();
        names.push("t".to_owned());
        names.extend(self.outer.all());
        names
    }
}

fn belongs_to_the_part(key: &str, node: &Node) -> Diagnostic {
    Diagnostic::error(node.span, format!("`{key}` cannot be given in a model"))
        .hint("a model has no nodes: give it in the part itself")
}

fn unit_of(kind: &Kind, name: &str) -> Dimension {
    let key = kind.keys.iter().find(|k| k.name == name);
    match key.map(|k| &k.form) {
        Some(Form::Quantity(unit, _)) => *unit,
        _ => Dimension::NONE,
    }
}

/// A word for messages: the text and its place.
pub(super) fn word_of(node: &Node) -> Option<Word> {
    node.as_text().map(|text| Word { text: text.to_owned(), span: node.content_span() })
}
