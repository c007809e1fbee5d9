//! Puts a block in the place of each part of kind `regulator`, before the circuit is read further.

use super::block::{Connected, block_text};
use super::doubts::tell_doubts;
use super::draft::{Draft, Entry, Given, figure, read_draft};
use super::inside::{InnerValue, inside};
use super::read::read_sheet;
use super::sheet::{Datasheet, Level, Topology};
use crate::circuit::gather::Gathered;
use crate::circuit::naming::spelling_mistake;
use crate::device::{Kind, Terminals, kind};
use crate::diagnostic::{Diagnostic, Diagnostics, Sources, Span, nearest};
use crate::document::{KeyName, Node, Reader, Table, Value, Word, read_recovering};
use std::collections::BTreeMap;

/// The kind that is taken apart.
pub(in crate::circuit) const REGULATOR: &str = "regulator";

/// What stands for a regulator.
#[derive(Clone, Debug)]
pub(in crate::circuit) struct TakenApart {
    /// The part's key.
    pub(in crate::circuit) span: Span,
    pub(in crate::circuit) sheet: Datasheet,
    pub(in crate::circuit) inside: Vec<InnerValue>,
    pub(in crate::circuit) block: String,
    /// What would stand in the part's place.
    pub(in crate::circuit) line: String,
}

/// The regulators of a file.
#[derive(Debug, Default)]
pub(in crate::circuit) struct Regulators {
    /// What stands for each, by the name of its block.
    pub(in crate::circuit) blocks: BTreeMap<String, TakenApart>,
    /// Where their models are named.
    pub(in crate::circuit) models: BTreeMap<String, Span>,
}

/// Takes all of them apart. Those with a mistake stay as they are, and their mistakes are told.
pub(in crate::circuit) fn take_apart(
    gathered: &mut Gathered,
    sources: &mut Sources,
    told: &mut Diagnostics,
) -> Regulators {
    let Some(kind) = kind(REGULATOR) else { return Regulators::default() };
    let models = take_models(kind, gathered, told);
    let mut names: Vec<String> = gathered.blocks.iter().map(|(key, _)| key.text.clone()).collect();
    let mut all = BTreeMap::new();
    let mut defined = Vec::new();
    let mut desk = Desk { kind, models: &models, names: &mut names, sources, told };
    let mut round = |entries: &mut Vec<(KeyName, Node)>, around: &str| {
        for (key, node) in entries.iter_mut().filter(|(_, node)| is_regulator(node)) {
            let Some((block, apart)) = desk.part(key, node, around) else { continue };
            all.insert(block.0.text.clone(), apart);
            defined.push(block);
        }
    };
    round(&mut gathered.parts, "");
    for (key, block) in &mut gathered.blocks {
        let Value::Table(table) = &mut block.value else { continue };
        for (_, parts) in table.entries.iter_mut().filter(|(name, _)| name.text == "parts") {
            if let Value::Table(parts) = &mut parts.value {
                round(&mut parts.entries, &key.text);
            }
        }
    }
    gathered.blocks.extend(defined);
    let models = models.into_iter().map(|(name, (span, _))| (name, span)).collect();
    Regulators { blocks: all, models }
}

fn is_regulator(node: &Node) -> bool {
    let kind = node.as_table().and_then(|table| table.get("kind"));
    kind.and_then(Node::as_text) == Some(REGULATOR)
}

/// The models of regulators, each with its place, taken out of those of other kinds.
fn take_models(
    kind: &'static Kind,
    gathered: &mut Gathered,
    told: &mut Diagnostics,
) -> BTreeMap<String, (Span, Draft)> {
    let mut models = BTreeMap::new();
    let all = std::mem::take(&mut gathered.models);
    let (own, others): (Vec<_>, Vec<_>) = all.into_iter().partition(|(_, node)| is_regulator(node));
    gathered.models = others;
    for (key, node) in &own {
        let Some(table) = node.as_table() else { continue };
        told.extend(spelling_mistake("model", &key.text, key.span));
        let mut reader = Reader::new(table, format!("model `{}`", key.text), key.span, told);
        let _ = (reader.node("kind"), reader.text("text"));
        let mut draft = read_draft(kind.keys, &mut reader);
        spoil(&mut draft, reader.finish(), key.span);
        models.insert(key.text.clone(), (key.span, draft));
    }
    models
}

/// Keys that a misspelt one was probably meant for are not said to be missing.
fn spoil(draft: &mut Draft, meant: Vec<&'static str>, span: Span) {
    for key in meant {
        draft.entry(key).or_insert(Given { span, entry: Entry::Spoilt });
    }
}

struct Desk<'a> {
    kind: &'static Kind,
    models: &'a BTreeMap<String, (Span, Draft)>,
    /// Names of blocks that are taken.
    names: &'a mut Vec<String>,
    sources: &'a mut Sources,
    told: &'a mut Diagnostics,
}

impl Desk<'_> {
    /// Reads a part and puts the use of a block in its place; gives the block.
    fn part(
        &mut self,
        key: &KeyName,
        node: &mut Node,
        around: &str,
    ) -> Option<((KeyName, Node), TakenApart)> {
        let table = node.as_table()?;
        let what = format!("part `{}`", key.text);
        let mut reader = Reader::new(table, what.as_str(), key.span, self.told);
        let _ = (reader.node("kind"), reader.text("text"), reader.node("temperature"));
        let connected = terminals(self.kind, &mut reader);
        let model = reader.text("model");
        let mut draft = read_draft(self.kind.keys, &mut reader);
        spoil(&mut draft, reader.finish(), key.span);
        let known = model.as_ref().is_none_or(|word| self.fill(&mut draft, word));
        if !known {
            return None;
        }
        let sheet = read_sheet(self.kind, &draft, (&what, key.span), self.told)?;
        let mut doubts = Diagnostics::new();
        tell_doubts(&sheet, &draft, key.span, &mut doubts);
        let contradicts_itself = doubts.has_errors();
        self.told.append(doubts);
        let connected = connected.filter(|_| !contradicts_itself)?;
        check_terminals(&sheet, &connected, key, self.told)?;
        let mut values = inside(&sheet);
        hold(&mut values, &draft, self.told)?;
        let full =
            if around.is_empty() { key.text.clone() } else { format!("{around}.{}", key.text) };
        let name = self.free_name(&full);
        let is = |terminal: &str| connected.iter().any(|(name, _)| *name == terminal);
        let connected_to =
            Connected { enable: is("enable"), adjust: is("adjust"), bias: is("bias") };
        let block = block_text(&name, (&full, connected_to), &sheet, &values);
        check_numbers(&values, &block, key, self.told)?;
        let defined = self.define(&full, &block)?;
        *node = use_of(table, &name, &connected, key.span, node.span);
        let line = line_of(&key.text, &name, &connected);
        Some((defined, TakenApart { span: key.span, sheet, inside: values, block, line }))
    }

    /// Fills in what the model says and the part does not; false if there is no such model.
    fn fill(&mut self, draft: &mut Draft, word: &Word) -> bool {
        let Some((_, model)) = self.models.get(&word.text) else {
            let hint = match nearest(&word.text, self.models.keys().map(String::as_str)) {
                Some(near) => format!("write `\"{near}\"`"),
                None => {
                    format!("define it under `[models.{}]` with `kind = \"regulator\"`", word.text)
                }
            };
            let message = format!("there is no model `{}` of a regulator", word.text);
            let mistake = Diagnostic::error(word.span, message).label("no such model");
            self.told.push(mistake.hint(hint));
            return false;
        };
        let levels = ["output_voltage", "reference_voltage"];
        let own_level = levels.iter().any(|key| draft.contains_key(key));
        for (&key, given) in model {
            if !(own_level && levels.contains(&key)) {
                draft.entry(key).or_insert_with(|| given.clone());
            }
        }
        true
    }

    fn free_name(&mut self, full: &str) -> String {
        let mut name = format!("{}_inside", full.replace('.', "_"));
        while self.names.contains(&name) {
            name.push('_');
        }
        self.names.push(name.clone());
        name
    }

    /// The block as the reader of files sees it, in a source of its own.
    fn define(&mut self, full: &str, text: &str) -> Option<(KeyName, Node)> {
        let file = self.sources.add(format!("{full} as taken apart"), text);
        let (table, mistakes) = read_recovering(text, file);
        self.told.extend(mistakes);
        let blocks = table?;
        let (key, node) = blocks.get("blocks")?.as_table()?.entries.first()?;
        Some((key.clone(), node.clone()))
    }
}

/// The terminals given, with their nodes; `None` if one that must be is not.
fn terminals(
    kind: &'static Kind,
    reader: &mut Reader<'_, '_>,
) -> Option<Vec<(&'static str, Word)>> {
    let Terminals::Named(all) = kind.terminals else { return None };
    let mut given = Vec::new();
    let mut complete = true;
    for terminal in all {
        let word = match terminal.default {
            None => reader.required_text(terminal.name, "\"node\""),
            Some(_) => reader.text(terminal.name),
        };
        complete &= word.is_some() || (terminal.default.is_some() && !reader.has(terminal.name));
        given.extend(word.map(|word| (terminal.name, word)));
    }
    complete.then_some(given)
}

/// Whether the terminals are those that the sheet calls for.
fn check_terminals(
    sheet: &Datasheet,
    connected: &[(&'static str, Word)],
    key: &KeyName,
    told: &mut Diagnostics,
) -> Option<()> {
    let find = |name: &str| connected.iter().find(|(n, _)| *n == name).map(|(_, word)| word);
    let mut fit = true;
    let mut check = |terminal: &str, wanted: bool, why: &str, why_not: &str| {
        let found = find(terminal);
        let mistake = match (found, wanted) {
            (None, true) => Diagnostic::error(
                key.span,
                format!("part `{}` has no `{terminal}`: {why}", key.text),
            )
            .label(format!("`{terminal}` is missing"))
            .hint(format!("add `{terminal} = \"node\"`")),
            (Some(word), false) => {
                Diagnostic::error(word.span, format!("`{terminal}` has no use here: {why_not}"))
                    .hint("take it out")
            }
            _ => return,
        };
        fit = false;
        told.push(mistake);
    };
    let adjustable = matches!(sheet.level, Level::Reference(_));
    check(
        "adjust",
        adjustable,
        "`reference_voltage` is what stands there",
        "with `output_voltage` the divider is inside",
    );
    let from_bias = sheet.topology == Topology::NmosBias;
    check(
        "bias",
        from_bias,
        "it feeds the driver of an `nmos-bias`",
        "only an `nmos-bias` is driven from a rail of its own",
    );
    let mut missing = |message: String, hint: &str| {
        told.push(Diagnostic::error(key.span, message).hint(hint));
        fit = false;
    };
    if from_bias && sheet.test_bias_v.is_none() {
        let message =
            format!("part `{}` has no `test_bias`: its gate is driven from there", key.text);
        missing(message, "add `test_bias = \"…\"`, the voltage at `bias` where its figures hold");
    }
    if find("enable").is_some() && sheet.enable_v.is_none() {
        let message = format!("part `{}` has `enable` but no `enable_on`", key.text);
        missing(message, "add `enable_on = \"…\"` and `enable_off = \"…\"`, or take `enable` out");
    }
    fit.then_some(())
}

/// Holds the values that `inside` gives.
fn hold(values: &mut [InnerValue], draft: &Draft, told: &mut Diagnostics) -> Option<()> {
    let Some(Entry::InnerValues(held)) = draft.get("inside").map(|given| &given.entry) else {
        return Some(());
    };
    let mut fit = true;
    for (name, formula) in held {
        let names: Vec<&str> = values.iter().map(|value| value.name).collect();
        let Some(value) = values.iter_mut().find(|value| value.name == name.text) else {
            let hint = match nearest(&name.text, names.iter().copied()) {
                Some(near) => format!("write `{near}`"),
                None => format!("its values are {}", names.join(", ")),
            };
            let message = format!("there is no value `{}` inside this regulator", name.text);
            told.push(Diagnostic::error(name.span, message).label("no such value").hint(hint));
            fit = false;
            continue;
        };
        match figure(formula, value.unit, told) {
            Some(figure) if figure > 0.0 => value.hold(figure),
            Some(_) => {
                let message = format!("`{}` must be above zero", name.text);
                told.push(Diagnostic::error(name.span, message).hint("give it a value above zero"));
                fit = false;
            }
            None => fit = false,
        }
    }
    fit.then_some(())
}

/// Whether values and parts have figures that are numbers: those of a sheet that are far from any
/// regulator's lead beyond them.
fn check_numbers(
    values: &[InnerValue],
    block: &str,
    key: &KeyName,
    told: &mut Diagnostics,
) -> Option<()> {
    let is_none = |word: &str| ["inf", "NaN"].contains(&word);
    let parts = block.lines().filter_map(|line| line.split_once(" = {"));
    let mut parts =
        parts.filter(|(_, keys)| keys.split(|c: char| !c.is_alphanumeric()).any(is_none));
    let value = values.iter().find(|value| !value.is_number()).map(|value| value.name);
    let beyond = value.or_else(|| parts.next().map(|(part, _)| part));
    let Some(beyond) = beyond else { return Some(()) };
    let message =
        format!("the figures of part `{}` put the `{beyond}` inside beyond all numbers", key.text);
    let hint = "look for a figure that is many powers of ten off, such as a wrong unit or exponent";
    told.push(Diagnostic::error(key.span, message).label("it cannot be taken apart").hint(hint));
    None
}

/// The same as a line of a circuit file.
fn line_of(part: &str, block: &str, connected: &[(&'static str, Word)]) -> String {
    let ports: Vec<String> = connected
        .iter()
        .map(|(terminal, word)| format!("{terminal} = \"{}\"", word.text))
        .collect();
    let ports = ports.join(", ");
    format!("{part} = {{ kind = \"block\", block = \"{block}\", ports = {{ {ports} }} }}")
}

/// The part as the use of a block.
fn use_of(
    table: &Table,
    block: &str,
    connected: &[(&'static str, Word)],
    at: Span,
    whole: Span,
) -> Node {
    let name = |text: &str| KeyName { text: text.to_owned(), span: at };
    let text = |text: &str| Node::new(at, Value::Text(text.to_owned()));
    let ports = connected.iter().map(|(terminal, word)| {
        let (key, _) = table.entry(terminal).unzip();
        let key = key.cloned().unwrap_or_else(|| name(terminal));
        (key, Node::new(word.span, Value::Text(word.text.clone())))
    });
    let ports = Table { span: whole, entries: ports.collect() };
    let mut entries = vec![
        (name("kind"), text("block")),
        (name("block"), text(block)),
        (name("ports"), Node::new(whole, Value::Table(ports))),
    ];
    let kept =
        table.entries.iter().filter(|(k, _)| ["text", "temperature"].contains(&k.text.as_str()));
    entries.extend(kept.cloned());
    Node::new(whole, Value::Table(Table { span: table.span, entries }))
}
