//! Parts and models: kind, ends and keys, read from the rows of their kind.

use super::block::Pending;
use super::gather::Gatherer;
use super::lookup::Lookup;
use super::naming::{one_of, spelling_mistake};
use super::nodes::NodeUses;
use super::regulator::REGULATOR;
use super::setting::{Desk, Setting, Settings, read_settings};
use super::values::{ROOT, Values};
use crate::device::{Kind, Terminals, kind, kinds};
use crate::diagnostic::{Diagnostic, Diagnostics, Span, nearest};
use crate::document::{KeyName, Node, Reader, Table, Word, name_list, wrong_form};
use crate::quantity::{Dimension, Program};
use std::collections::BTreeMap;

/// The ends of a part whose ends are alike.
const PAIR: [&str; 2] = ["a", "b"];

/// A part as written.
#[derive(Clone, Debug)]
pub(super) struct Part {
    /// `Q1`, or `U1.R2` inside a block.
    pub(super) name: String,
    /// Its name in the file.
    pub(super) span: Span,
    pub(super) kind: &'static Kind,
    /// Names of its ends, and the node at each.
    pub(super) terminals: Vec<&'static str>,
    pub(super) nodes: Vec<String>,
    /// The model it names; the mistake of naming none that fits has been told.
    pub(super) model: Option<String>,
    /// Set when its model could not be used, so that keys may be missing without a word.
    pub(super) spoilt: bool,
    pub(super) settings: Settings,
    pub(super) temperature: Option<(Span, Program)>,
    pub(super) text: Option<String>,
    /// Only there to check a block that no part uses.
    pub(super) unused: bool,
}

/// A model as written.
#[derive(Clone, Debug)]
pub(super) struct Model {
    pub(super) span: Span,
    pub(super) kind: &'static Kind,
    pub(super) settings: Settings,
}

/// Everything that reading a part looks things up in.
pub(super) struct Shelf<'a> {
    pub(super) gatherer: &'a Gatherer<'a>,
    pub(super) values: &'a Values,
    pub(super) models: &'a BTreeMap<String, Option<Model>>,
    /// Models of regulators, which are no concern of other parts.
    pub(super) regulators: &'a BTreeMap<String, Span>,
}

impl Shelf<'_> {
    /// Whether there is such a model for this kind; if not, that is told.
    fn has_model(&self, word: &Word, kind: &Kind, told: &mut Diagnostics) -> bool {
        match self.models.get(&word.text) {
            Some(Some(model)) if model.kind.name == kind.name => return true,
            Some(Some(other)) => {
                told.push(of_another_kind(word, other.kind.name, other.span, kind));
            }
            Some(None) => {}
            None if self.regulators.contains_key(&word.text) => {
                let at = self.regulators.get(&word.text).copied().unwrap_or(word.span);
                told.push(of_another_kind(word, REGULATOR, at, kind));
            }
            None => {
                let hint = match nearest(&word.text, self.models.keys().map(String::as_str)) {
                    Some(near) => format!("write `\"{near}\"`"),
                    None => format!("define it under `[models.{}]`", word.text),
                };
                let message = format!("there is no model `{}`", word.text);
                let mistake = Diagnostic::error(word.span, message).label("no such model");
                told.push(mistake.hint(hint));
            }
        }
        false
    }
}

fn of_another_kind(word: &Word, model: &str, at: Span, kind: &Kind) -> Diagnostic {
    let message = format!("model `{}` is for kind `{model}`, not `{}`", word.text, kind.name);
    let mistake = Diagnostic::error(word.span, message).also(at, "the model");
    mistake.label("a model of another kind")
}

/// The kind a table names; `None` (told) if it names none.
fn kind_of(table: &Table, reader: &mut Reader<'_, '_>) -> Option<&'static Kind> {
    let word = reader.required_text("kind", "\"resistor\"")?;
    let found = kind(&word.text);
    if found.is_none() {
        let names = || kinds().iter().map(|k| k.name);
        let hint = match nearest(&word.text, names()) {
            Some(near) => format!("write `\"{near}\"`"),
            None => format!("write {}", one_of(&names().collect::<Vec<_>>())),
        };
        let message = format!("there is no kind of part `{}`", word.text);
        let span = table.get("kind").map_or(word.span, Node::content_span);
        reader
            .diagnostics()
            .push(Diagnostic::error(span, message).label("unknown kind").hint(hint));
    }
    found
}

/// Reads all models. Those that could not be read stand there as `None`, so that parts that name
/// them are not blamed.
pub(super) fn read_models(
    entries: &[(KeyName, Node)],
    gatherer: &Gatherer<'_>,
    values: &Values,
    told: &mut Diagnostics,
) -> BTreeMap<String, Option<Model>> {
    let mut models = BTreeMap::new();
    let mut nodes = NodeUses::default();
    for (key, node) in entries {
        if let Some(mistake) = spelling_mistake("model", &key.text, key.span) {
            told.push(mistake);
        }
        models.insert(key.text.clone(), None);
        let Some(table) = node.as_table() else {
            told.push(wrong_form(&key.text, node, "a table").hint("begin it with `[models.NAME]`"));
            continue;
        };
        let mut reader = Reader::new(table, format!("model `{}`", key.text), key.span, told);
        let Some(kind) = kind_of(table, &mut reader) else { continue };
        if matches!(kind.terminals, Terminals::Ports) {
            let message = "a model cannot be a block";
            reader
                .diagnostics()
                .push(Diagnostic::error(key.span, message).hint("define it under `[blocks]`"));
            continue;
        }
        let _ = reader.text("text");
        let inputs = Vec::new();
        let lookup = Lookup { gatherer, values, scope: ROOT };
        let mut desk = Desk { lookup, inside: None, nodes: &mut nodes, inputs };
        let mut settings = read_settings(kind, &mut reader, &mut desk);
        spoil(&mut settings, reader.finish(), key.span);
        models.insert(key.text.clone(), Some(Model { span: key.span, kind, settings }));
    }
    models
}

/// Reads one part; `None` if it could not be (told).
pub(super) fn read_part(
    pending: &Pending<'_>,
    shelf: &Shelf<'_>,
    nodes: &mut NodeUses,
    told: &mut Diagnostics,
) -> Option<Part> {
    let Pending { key, table, scope, inside, unused } = pending;
    let mut reader = Reader::new(table, format!("part `{}`", key.text), key.span, told);
    // A regulator still stands here only where its own mistakes have been told.
    let kind = kind_of(table, &mut reader).filter(|kind| kind.name != REGULATOR);
    let Some(kind) = kind else {
        let node = Node::new(table.span, crate::document::Value::Table((*table).clone()));
        nodes.mention_all_texts(&node, inside);
        return None;
    };
    let _ = reader.node("kind");
    let mut ends = Ends { pending, nodes };
    let ends = ends.read(kind, &mut reader);
    let model = reader.text("model");
    let text = reader.text("text").map(|word| word.text);
    let temperature = reader.expression("temperature");
    let inputs = Vec::new();
    let lookup = Lookup { gatherer: shelf.gatherer, values: shelf.values, scope: *scope };
    let mut desk = Desk { lookup, inside: Some(inside), nodes, inputs };
    let mut settings = read_settings(kind, &mut reader, &mut desk);
    let at = |node: &Node, scope: usize, told: &mut Diagnostics| {
        let lookup = Lookup { scope, ..lookup };
        Some((node.span, lookup.quantity("temperature", node, Dimension::KELVIN, told)?))
    };
    let temperature = match (temperature, &inside.temperature) {
        (Some(node), _) => at(node, *scope, reader.diagnostics()),
        (None, Some((node, outer))) => at(node, *outer, reader.diagnostics()),
        (None, None) => None,
    };
    let named = model.is_some();
    let model = model.filter(|word| shelf.has_model(word, kind, reader.diagnostics()));
    let (spoilt, model) = (named && model.is_none(), model.map(|word| word.text));
    spoil(&mut settings, reader.finish(), key.span);
    let (terminals, nodes) = ends?;
    let name = inside.part(&key.text);
    let (span, unused) = (key.span, *unused);
    Some(Part {
        name,
        span,
        kind,
        terminals,
        nodes,
        model,
        spoilt,
        settings,
        temperature,
        text,
        unused,
    })
}

/// Marks keys that a misspelt key was probably meant for, so that they are not said to be missing.
fn spoil(settings: &mut Settings, meant: Vec<&'static str>, span: Span) {
    for key in meant {
        settings.entry(key).or_insert((span, Setting::Spoilt));
    }
}

struct Ends<'a, 't> {
    pending: &'a Pending<'t>,
    nodes: &'a mut NodeUses,
}

impl Ends<'_, '_> {
    fn read(
        &mut self,
        kind: &'static Kind,
        reader: &mut Reader<'_, '_>,
    ) -> Option<(Vec<&'static str>, Vec<String>)> {
        let found = match kind.terminals {
            Terminals::Pair => self.pair(reader),
            Terminals::Named(_) => self.named(kind, reader),
            Terminals::Ports => None,
        };
        self.nodes.incomplete |= found.is_none();
        found
    }

    fn pair(&mut self, reader: &mut Reader<'_, '_>) -> Option<(Vec<&'static str>, Vec<String>)> {
        let node = reader.required("nodes", "[\"a\", \"b\"]")?;
        let words = name_list("nodes", node, reader.diagnostics());
        let inside = &self.pending.inside;
        let names: Vec<String> = words
            .iter()
            .map(|word| self.nodes.mention(word, inside, reader.diagnostics()))
            .collect();
        if names.len() == 2 {
            self.warn_of_itself(&names, reader);
            return Some((PAIR.to_vec(), names));
        }
        if node.as_array().is_some_and(|items| items.len() != names.len()) {
            // An item that is no name has been told.
            return None;
        }
        let message = format!("`nodes` should name two nodes, this names {}", names.len());
        let mistake = Diagnostic::error(node.span, message).label("expected two nodes");
        reader.diagnostics().push(mistake.hint("write `nodes = [\"a\", \"b\"]`"));
        None
    }

    fn named(
        &mut self,
        kind: &'static Kind,
        reader: &mut Reader<'_, '_>,
    ) -> Option<(Vec<&'static str>, Vec<String>)> {
        let Terminals::Named(terminals) = kind.terminals else { return None };
        let mut nodes: BTreeMap<&'static str, String> = BTreeMap::new();
        for terminal in terminals {
            let word = match terminal.default {
                None => reader.required_text(terminal.name, "\"node\""),
                Some(_) => reader.text(terminal.name),
            };
            if let Some(word) = word {
                let name = self.nodes.mention(&word, &self.pending.inside, reader.diagnostics());
                nodes.insert(terminal.name, name);
            }
        }
        let all: Option<Vec<String>> = terminals
            .iter()
            .map(|t| nodes.get(t.name).or_else(|| nodes.get(t.default?)).cloned())
            .collect();
        let all = all?;
        self.warn_of_itself(&all, reader);
        Some((terminals.iter().map(|t| t.name).collect(), all))
    }

    fn warn_of_itself(&self, nodes: &[String], reader: &mut Reader<'_, '_>) {
        let [first, rest @ ..] = nodes else { return };
        if !rest.is_empty() && rest.iter().all(|node| node == first) {
            let key = self.pending.key;
            let message = format!("part `{}` has all its ends at one node", key.text);
            let warning = Diagnostic::warning(key.span, message).label("does nothing");
            reader.diagnostics().push(warning.hint("connect one end to another node"));
        }
    }
}
