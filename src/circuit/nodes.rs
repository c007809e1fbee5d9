//! Which nodes the parts mention, and those that only one end mentions.

use super::naming::spelling_mistake;
use crate::diagnostic::{Diagnostic, Diagnostics, Span, nearest};
use crate::document::{Node, Word, name_list};
use std::collections::{BTreeMap, BTreeSet};

/// The reference node.
pub(super) const GND: &str = "gnd";

/// For this many dangling nodes the nearest other is looked for; with more of them the file is
/// wrong in another way, and the search would take long.
const MOST_SEARCHED: usize = 100;

/// How names inside a block map to names of the circuit.
#[derive(Clone, Debug, Default)]
pub(super) struct Inside {
    /// Empty, or `U1.`.
    pub(super) prefix: String,
    /// The node at each port.
    pub(super) ports: BTreeMap<String, String>,
    /// The block's temperature, and the scope it is written in.
    pub(super) temperature: Option<(Node, usize)>,
}

impl Inside {
    /// The circuit's name of a node.
    pub(super) fn node(&self, local: &str) -> String {
        match self.ports.get(local) {
            Some(outer) => outer.clone(),
            None if local == GND => GND.to_owned(),
            None => format!("{}{local}", self.prefix),
        }
    }

    /// The circuit's name of a part.
    pub(super) fn part(&self, local: &str) -> String {
        format!("{}{local}", self.prefix)
    }
}

/// One mention of a node.
#[derive(Clone, Debug)]
struct Mention {
    span: Span,
    local: String,
    /// Whether a single mention is no mistake (the part could not be read).
    lenient: bool,
}

/// All mentions of nodes.
#[derive(Clone, Debug, Default)]
pub(super) struct NodeUses {
    mentions: BTreeMap<String, Vec<Mention>>,
    /// Ports (as `U1.port`) that a part inside the block is connected to.
    ports: BTreeSet<String>,
    /// Set when a part's nodes could not be read, so that no node can be said to dangle.
    pub(super) incomplete: bool,
}

impl NodeUses {
    /// Records a mention and gives the node's name in the circuit.
    pub(super) fn mention(
        &mut self,
        word: &Word,
        inside: &Inside,
        told: &mut Diagnostics,
    ) -> String {
        if let Some(mistake) = spelling_mistake("node", &word.text, word.span) {
            told.push(mistake);
            self.incomplete = true;
        }
        self.record(word, inside, false)
    }

    fn record(&mut self, word: &Word, inside: &Inside, lenient: bool) -> String {
        let name = inside.node(&word.text);
        if inside.ports.contains_key(&word.text) {
            // The node itself is mentioned where the block is used.
            self.ports.insert(inside.part(&word.text));
            return name;
        }
        let mention = Mention { span: word.span, local: word.text.clone(), lenient };
        self.mentions.entry(name.clone()).or_default().push(mention);
        name
    }

    /// Records every text of a part that could not be understood as a node it may have meant.
    pub(super) fn mention_all_texts(&mut self, node: &Node, inside: &Inside) {
        match &node.value {
            crate::document::Value::Text(text) => {
                let word = Word { text: text.clone(), span: node.content_span() };
                self.record(&word, inside, true);
            }
            crate::document::Value::Array(items) => {
                for item in items {
                    self.mention_all_texts(item, inside);
                }
            }
            crate::document::Value::Table(table) => {
                for (_, item) in &table.entries {
                    self.mention_all_texts(item, inside);
                }
            }
            _ => {}
        }
    }

    /// The same of a value that may not be there.
    pub(super) fn mention_all_texts_of(&mut self, node: Option<&Node>, inside: &Inside) {
        if let Some(node) = node {
            self.mention_all_texts(node, inside);
        }
    }

    /// `[c, d]`.
    pub(super) fn pair(
        &mut self,
        key: &str,
        node: &Node,
        inside: &Inside,
        told: &mut Diagnostics,
    ) -> Option<[String; 2]> {
        let words = name_list(key, node, told);
        if let [a, b] = words.as_slice() {
            let a = self.mention(a, inside, told);
            return Some([a, self.mention(b, inside, told)]);
        }
        self.incomplete = true;
        if node.as_array().is_some_and(|items| items.len() != words.len()) {
            // An item that is no name has been told.
            return None;
        }
        let message = format!("`{key}` should name two nodes, this names {}", words.len());
        let hint = format!("write `{key} = [\"a\", \"b\"]`");
        told.push(Diagnostic::error(node.span, message).label("expected two nodes").hint(hint));
        None
    }

    /// Records ports that no part inside the block is connected to.
    pub(super) fn check_ports(&self, inside: &Inside, ports: &[Word], told: &mut Diagnostics) {
        for port in ports.iter().filter(|p| !self.ports.contains(&inside.part(&p.text))) {
            let message = format!("no part of the block is connected to port `{}`", port.text);
            let hint = "connect a part to it, or take the port out";
            told.push(Diagnostic::error(port.span, message).hint(hint));
        }
    }

    /// Whether any part mentions a node.
    pub(super) fn contains(&self, name: &str) -> bool {
        self.mentions.contains_key(name)
    }

    /// The names of all nodes, in order.
    pub(super) fn names(&self) -> impl Iterator<Item = &str> {
        self.mentions.keys().map(String::as_str)
    }

    /// Records nodes that a single end mentions, and a reference node that nothing is connected to.
    pub(super) fn check(&self, parts: Option<Span>, told: &mut Diagnostics) {
        if !self.contains(GND) && !self.mentions.is_empty() {
            let hint = match nearest(GND, self.names()) {
                Some(near) => format!("write `gnd` for `{near}`"),
                None => "connect the parts' common return to the node `gnd`".to_owned(),
            };
            let message = "no part is connected to the reference node `gnd`";
            let mistake = match parts {
                Some(span) => Diagnostic::error(span, message),
                None => Diagnostic::without_place(message),
            };
            told.push(mistake.hint(hint));
        }
        if self.incomplete {
            return;
        }
        let mut dangling = 0;
        for (name, mentions) in &self.mentions {
            let [only] = mentions.as_slice() else { continue };
            if only.lenient || name == GND {
                continue;
            }
            dangling += 1;
            if told.is_full() {
                break;
            }
            let scope = name.strip_suffix(only.local.as_str()).unwrap_or("");
            let others = self.names().filter(|other| *other != name);
            let others = others.take(if dangling <= MOST_SEARCHED { usize::MAX } else { 0 });
            let near = nearest(&only.local, others.filter_map(|other| other.strip_prefix(scope)));
            let hint = match near {
                Some(near) => format!("is `{near}` meant?"),
                None => format!("connect something else to `{}`, or take it out", only.local),
            };
            let message = format!("node `{}` is used only once", only.local);
            told.push(
                Diagnostic::error(only.span, message)
                    .label("nothing else is connected here")
                    .hint(hint),
            );
        }
    }
}
