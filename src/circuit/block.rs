//! Blocks taken apart: each use of one becomes parts with names such as `U1.R2`, in a scope of
//! values of its own.

use super::formula::Formula;
use super::naming::{name_mistake, one_of, spelling_mistake};
use super::nodes::{GND, Inside, NodeUses};
use super::setting::word_of;
use super::value::value_formula;
use super::values::{ROOT, Values};
use crate::diagnostic::{Diagnostic, Diagnostics, Span, nearest};
use crate::document::{KeyName, Node, Reader, Table, Word, name_list, wrong_form};
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

/// The most parts of one circuit, blocks taken apart: a power plane of 20,000 nodes has some 60,000, and its
/// rest takes seconds; much more would run into the memory of a small machine before it is solved.
pub const MOST_PARTS: usize = 100_000;

/// The deepest that blocks may lie in one another.
pub const MOST_BLOCK_DEPTH: usize = 16;

/// The most ports of one block.
const MOST_PORTS: usize = 1000;

/// The most ports and values that all uses of blocks connect together: blocks in blocks multiply them
/// beyond what a file can hold, with no part among them.
const MOST_CONNECTED: usize = 1_000_000;

/// A block as defined.
pub(super) struct Block<'t> {
    span: Span,
    /// Whether it was made here, to stand for a regulator.
    made: bool,
    ports: Vec<Word>,
    values: Vec<(KeyName, Node)>,
    parts: Option<&'t Table>,
}

/// A part found, its keys not yet read.
pub(super) struct Pending<'t> {
    pub(super) key: &'t KeyName,
    pub(super) table: &'t Table,
    pub(super) scope: usize,
    pub(super) inside: Rc<Inside>,
    pub(super) unused: bool,
}

/// Reads the definitions of all blocks.
pub(super) fn read_blocks<'t>(
    entries: &'t [(KeyName, Node)],
    is_made: impl Fn(&str) -> bool,
    told: &mut Diagnostics,
) -> BTreeMap<&'t str, Block<'t>> {
    let mut blocks = BTreeMap::new();
    for (key, node) in entries {
        told_if(spelling_mistake("block", &key.text, key.span), told);
        let Some(table) = node.as_table() else {
            told.push(wrong_form(&key.text, node, "a table").hint("begin it with `[blocks.NAME]`"));
            continue;
        };
        let mut reader = Reader::new(table, format!("block `{}`", key.text), key.span, told);
        let _ = reader.text("text");
        let ports = reader.required("ports", "[\"in\", \"out\"]");
        let values = reader.table("values").map(|t| t.entries.clone()).unwrap_or_default();
        let parts = reader.required("parts", "{ … }");
        if let Some(node) = parts.filter(|node| node.as_table().is_none()) {
            reader.diagnostics().push(wrong_form("parts", node, "a table"));
        }
        reader.finish();
        let mut ports = ports.map(|node| name_list("ports", node, told)).unwrap_or_default();
        if let Some(port) = ports.get(MOST_PORTS) {
            let message = format!("block `{}` has more than {MOST_PORTS} ports", key.text);
            told.push(Diagnostic::error(port.span, message).hint("split the block"));
            ports.truncate(MOST_PORTS);
        }
        check_ports(&ports, told);
        ports.retain(|port| port.text != GND);
        let parts = parts.and_then(Node::as_table);
        let (span, made) = (key.span, is_made(&key.text));
        blocks.insert(key.text.as_str(), Block { span, made, ports, values, parts });
    }
    blocks
}

fn check_ports(ports: &[Word], told: &mut Diagnostics) {
    for (k, port) in ports.iter().enumerate() {
        if port.text == GND {
            let message = "`gnd` is the reference node everywhere and cannot be a port";
            told.push(Diagnostic::error(port.span, message).hint("take it out of the list"));
        }
        told_if(spelling_mistake("port", &port.text, port.span), told);
        if let Some(first) = ports[..k].iter().find(|p| p.text == port.text) {
            let message = format!("port `{}` is listed twice", port.text);
            told.push(Diagnostic::error(port.span, message).also(first.span, "first time"));
        }
    }
}

fn told_if(mistake: Option<Diagnostic>, told: &mut Diagnostics) {
    if let Some(mistake) = mistake {
        told.push(mistake);
    }
}

/// One use of a block.
pub(super) struct Instance {
    pub(super) inside: Rc<Inside>,
    /// The name of the block, …
    pub(super) block: String,
    /// … and its ports.
    pub(super) ports: Vec<Word>,
    /// Only there to check a block that no part uses.
    pub(super) unused: bool,
}

/// Takes blocks apart.
pub(super) struct Expander<'t, 'e> {
    pub(super) blocks: &'e BTreeMap<&'t str, Block<'t>>,
    pub(super) values: &'e mut Values,
    pub(super) nodes: &'e mut NodeUses,
    pub(super) told: &'e mut Diagnostics,
    /// Found so far.
    pub(super) parts: Vec<Pending<'t>>,
    used: BTreeSet<&'t str>,
    open: Vec<&'t str>,
    full: bool,
    /// Ports and values connected so far, and uses of blocks.
    connected: usize,
    /// Blocks taken apart.
    instances: Vec<Instance>,
}

impl<'t, 'e> Expander<'t, 'e> {
    pub(super) fn new(
        blocks: &'e BTreeMap<&'t str, Block<'t>>,
        values: &'e mut Values,
        nodes: &'e mut NodeUses,
        told: &'e mut Diagnostics,
    ) -> Self {
        let (parts, used) = (Vec::new(), BTreeSet::new());
        let (open, instances) = (Vec::new(), Vec::new());
        let (full, connected) = (false, 0);
        Self { blocks, values, nodes, told, parts, used, open, full, connected, instances }
    }

    /// All parts of the circuit, then those of blocks nobody uses (only to be checked). Gives
    /// them and the blocks taken apart.
    pub(super) fn run(
        mut self,
        entries: &'t [(KeyName, Node)],
    ) -> (Vec<Pending<'t>>, Vec<Instance>) {
        self.entries(entries, ROOT, &Rc::default(), false);
        for (&name, block) in self.blocks {
            if !self.used.contains(name) {
                let prefix = format!("{name}.");
                let ports =
                    block.ports.iter().map(|p| (p.text.clone(), format!("{prefix}{}", p.text)));
                let inside = Inside { ports: ports.collect(), prefix, temperature: None };
                let scope = self.values.open_scope(true);
                self.own_values(block, scope, &inside, &BTreeMap::new());
                self.open.push(name);
                self.body(name, block, scope, Rc::new(inside), true);
                self.open.pop();
            }
        }
        (self.parts, self.instances)
    }

    fn body(
        &mut self,
        name: &'t str,
        block: &Block<'t>,
        scope: usize,
        inside: Rc<Inside>,
        unused: bool,
    ) {
        if let Some(parts) = block.parts {
            self.entries(&parts.entries, scope, &inside, unused);
            let (block, ports) = (name.to_owned(), block.ports.clone());
            self.instances.push(Instance { inside, block, ports, unused });
        }
    }

    fn entries(
        &mut self,
        entries: &'t [(KeyName, Node)],
        scope: usize,
        inside: &Rc<Inside>,
        unused: bool,
    ) {
        for (key, node) in entries {
            if self.is_full(key.span) {
                return;
            }
            told_if(spelling_mistake("part", &key.text, key.span), self.told);
            if inside.prefix.is_empty() && ["rail", "models"].contains(&key.text.as_str()) {
                let message = format!("`{}` cannot name a part: it names a section", key.text);
                self.told.push(Diagnostic::error(key.span, message).hint("choose another name"));
            }
            let Some(table) = node.as_table() else {
                let hint = format!("write `{} = {{ kind = \"resistor\", … }}`", key.text);
                self.told.push(wrong_form(&key.text, node, "a table").hint(hint));
                self.nodes.incomplete = true;
                continue;
            };
            if table.get("kind").and_then(Node::as_text) == Some("block") {
                self.instance(key, table, scope, inside, unused);
            } else {
                self.parts.push(Pending { key, table, scope, inside: Rc::clone(inside), unused });
            }
        }
    }

    /// Whether no more can be taken; told once, at the first that cannot.
    fn is_full(&mut self, at: Span) -> bool {
        let limit = if self.parts.len() >= MOST_PARTS {
            format!("the circuit has more than {MOST_PARTS} parts")
        } else if self.connected >= MOST_CONNECTED {
            format!("the blocks of the circuit come to more than {MOST_CONNECTED} ports and values")
        } else {
            return false;
        };
        if !self.full {
            self.told.push(Diagnostic::error(at, limit).hint("split the circuit"));
        }
        self.full = true;
        true
    }

    fn instance(
        &mut self,
        key: &'t KeyName,
        table: &'t Table,
        scope: usize,
        inside: &Inside,
        unused: bool,
    ) {
        let what = format!("block part `{}`", key.text);
        let mut reader = Reader::new(table, what.as_str(), key.span, self.told);
        let _ = (reader.text("kind"), reader.text("text"));
        let name = reader.required_text("block", "\"NAME\"");
        let ports = reader.required("ports", "{ port = \"node\" }");
        let values = reader.table("values");
        let temperature = reader.expression("temperature").cloned();
        reader.finish();
        if let Some(node) = ports.filter(|node| node.as_table().is_none()) {
            self.told.push(
                wrong_form("ports", node, "a table").hint("write `ports = { port = \"node\" }`"),
            );
        }
        let ports = ports.and_then(Node::as_table);
        let blocks = self.blocks;
        let found = name.as_ref().and_then(|name| blocks.get_key_value(name.text.as_str()));
        let Some((&block_name, block)) = found else {
            if let Some(name) = name {
                self.no_such_block(&name);
            }
            self.nodes.mention_all_texts_of(table.get("ports"), inside);
            return;
        };
        self.used.insert(block_name);
        self.connected += 1 + block.ports.len() + block.values.len();
        if let Some(first) = self.open.iter().position(|open| *open == block_name) {
            let round: Vec<String> =
                self.open[first..].iter().chain([&block_name]).map(|b| format!("`{b}`")).collect();
            let message = format!("blocks contain one another in a circle: {}", round.join(" → "));
            self.told.push(Diagnostic::error(key.span, message).hint("take this part out"));
            self.nodes.mention_all_texts_of(table.get("ports"), inside);
            return;
        }
        if self.open.len() >= MOST_BLOCK_DEPTH {
            let message = format!("blocks lie more than {MOST_BLOCK_DEPTH} deep in one another");
            let hint = "take parts out of their blocks";
            self.told.push(Diagnostic::error(key.span, message).hint(hint));
            self.nodes.mention_all_texts_of(table.get("ports"), inside);
            return;
        }
        let own = Inside {
            prefix: format!("{}.", inside.part(&key.text)),
            ports: self.ports(block, ports, key, inside),
            temperature: temperature
                .map(|node| (node, scope))
                .or_else(|| inside.temperature.clone()),
        };
        let own_scope = self.values.open_scope(unused);
        let given = self.given_values(block, values, scope);
        self.own_values(block, own_scope, &own, &given);
        self.open.push(block_name);
        self.body(block_name, block, own_scope, Rc::new(own), unused);
        self.open.pop();
    }

    fn no_such_block(&mut self, name: &Word) {
        let of_the_file = self.blocks.iter().filter(|(_, block)| !block.made);
        let all: Vec<&str> = of_the_file.map(|(name, _)| *name).collect();
        let hint = match nearest(&name.text, all.iter().copied()) {
            Some(near) => format!("write `\"{near}\"`"),
            None if all.is_empty() => format!("define it under `[blocks.{}]`", name.text),
            None => {
                format!("the blocks are {}", one_of(&all).replace(" or ", " and "))
            }
        };
        let message = format!("there is no block `{}`", name.text);
        self.told.push(Diagnostic::error(name.span, message).label("no such block").hint(hint));
    }

    /// The node at each port; ports left out are told and stand at a node of their own.
    fn ports(
        &mut self,
        block: &Block<'t>,
        given: Option<&Table>,
        key: &KeyName,
        inside: &Inside,
    ) -> BTreeMap<String, String> {
        let mut map = BTreeMap::new();
        for port in &block.ports {
            let node = given.and_then(|table| table.get(&port.text));
            let node = match node.map(|node| (node, word_of(node))) {
                Some((_, Some(word))) => self.nodes.mention(&word, inside, self.told),
                Some((node, None)) => {
                    self.told.push(wrong_form(&port.text, node, "the name of a node"));
                    format!("{}.{}", inside.part(&key.text), port.text)
                }
                None => {
                    if given.is_some() {
                        let message =
                            format!("block part `{}` leaves port `{}` open", key.text, port.text);
                        let hint = format!("add `{} = \"node\"` to `ports`", port.text);
                        let mistake =
                            Diagnostic::error(key.span, message).label("a port is missing");
                        self.told.push(mistake.hint(hint).also(port.span, "the port"));
                    }
                    format!("{}.{}", inside.part(&key.text), port.text)
                }
            };
            map.insert(port.text.clone(), node);
        }
        for (name, node) in given.iter().flat_map(|table| &table.entries) {
            if !map.contains_key(&name.text) && !self.told.is_full() {
                self.nodes.mention_all_texts(node, inside);
                let all: Vec<&str> = block.ports.iter().map(|p| p.text.as_str()).collect();
                self.unknown("port", name, &all, block.span);
            }
        }
        map
    }

    fn unknown(&mut self, what: &str, name: &KeyName, all: &[&str], block: Span) {
        let hint = match nearest(&name.text, all.iter().copied()) {
            Some(near) => format!("write `{near}`"),
            None if all.is_empty() => "take it out".to_owned(),
            None => format!("write {}", one_of(all)),
        };
        let message = format!("the block has no {what} `{}`", name.text);
        let mistake = Diagnostic::error(name.span, message).label(format!("no such {what}"));
        self.told.push(mistake.hint(hint).also(block, "the block"));
    }

    /// Values given where the block is used, in terms of the outer scope.
    fn given_values(
        &mut self,
        block: &Block<'t>,
        table: Option<&Table>,
        scope: usize,
    ) -> BTreeMap<String, (Option<Formula>, usize)> {
        let mut given = BTreeMap::new();
        let Some(table) = table else { return given };
        let own: BTreeSet<&str> = block.values.iter().map(|(own, _)| own.text.as_str()).collect();
        for (name, node) in &table.entries {
            if !own.contains(name.text.as_str()) {
                if !self.told.is_full() {
                    let all: Vec<&str> =
                        block.values.iter().map(|(own, _)| own.text.as_str()).collect();
                    self.unknown("value", name, &all, block.span);
                }
                continue;
            }
            let formula = match Formula::read(&name.text, node) {
                Ok(formula) => Some(formula),
                Err(mistake) => {
                    self.told.push(mistake);
                    None
                }
            };
            given.insert(name.text.clone(), (formula, scope));
        }
        given
    }

    fn own_values(
        &mut self,
        block: &Block<'t>,
        scope: usize,
        inside: &Inside,
        given: &BTreeMap<String, (Option<Formula>, usize)>,
    ) {
        for (key, node) in &block.values {
            told_if(name_mistake("value", &key.text, key.span), self.told);
            let own = value_formula(&key.text, node, self.told);
            let (formula, in_scope) = given.get(&key.text).cloned().unwrap_or((own, scope));
            self.values.add(&key.text, inside.part(&key.text), key.span, scope, formula, in_scope);
        }
    }
}
