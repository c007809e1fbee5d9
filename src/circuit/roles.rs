//! Whether the nodes and parts that the rail names are there and fit their role.

use super::naming::one_of;
use super::nodes::NodeUses;
use super::part::Part;
use super::rail::{AMPLIFIERS, CAPACITOR, Rail};
use crate::diagnostic::{Diagnostic, Diagnostics, nearest};
use crate::document::Word;

/// The most parts that one key of the rail names: each is looked up among all.
const MOST_IN_A_ROLE: usize = 1000;

pub(super) fn check_node(word: &Word, nodes: &NodeUses, told: &mut Diagnostics) {
    if nodes.incomplete || nodes.contains(&word.text) {
        return;
    }
    let hint = match nearest(&word.text, nodes.names()) {
        Some(near) => format!("write `\"{near}\"`"),
        None => "name a node that parts are connected to".to_owned(),
    };
    let message = format!("no part is connected to node `{}`", word.text);
    told.push(Diagnostic::error(word.span, message).label("no such node").hint(hint));
}

pub(super) struct Roles<'a> {
    pub(super) parts: &'a [Part],
    /// Parts whose own mistakes have been told.
    pub(super) unread: &'a [String],
}

impl Roles<'_> {
    pub(super) fn check(&self, rail: &Rail, told: &mut Diagnostics) {
        let sources: &[&str] = &["voltage-source"];
        let loads: &[&str] = &["load", "current-source"];
        let mut all = |key: &str, words: &[Word], kinds: &[&str]| {
            if let Some(word) = words.get(MOST_IN_A_ROLE) {
                let message = format!("`{key}` names more than {MOST_IN_A_ROLE} parts");
                told.push(Diagnostic::error(word.span, message).hint("join some of them in one"));
                return;
            }
            for word in words {
                self.role(key, word, kinds, told);
            }
        };
        all("source", rail.source.as_slice(), sources);
        all("load", rail.load.as_slice(), loads);
        all("supplies", &rail.supplies, sources);
        all("pass", &rail.pass, &[]);
        all("amplifier", &rail.amplifier, &AMPLIFIERS);
        all(
            "output_capacitors",
            rail.output_capacitors.as_deref().unwrap_or_default(),
            &[CAPACITOR],
        );
        all("input_capacitors", rail.input_capacitors.as_deref().unwrap_or_default(), &[CAPACITOR]);
        if let Some(word) = &rail.feedback {
            self.feedback(word, told);
        }
    }

    /// The part, or its absence told.
    fn find(&self, name: &str, word: &Word, told: &mut Diagnostics) -> Option<&Part> {
        let found = self.parts.iter().find(|part| part.name == name && !part.unused);
        // What is inside a part that could not be read is not missed either.
        let within = |unread: &String| {
            name.strip_prefix(unread.as_str()).is_some_and(|r| r.is_empty() || r.starts_with('.'))
        };
        if found.is_none() && !self.unread.iter().any(within) {
            let names = self.parts.iter().filter(|p| !p.unused).map(|p| p.name.as_str());
            let hint = match nearest(name, names) {
                Some(near) => format!("write `{near}`"),
                None => "name one of the parts under `[parts]`".to_owned(),
            };
            let message = format!("there is no part `{name}`");
            told.push(Diagnostic::error(word.span, message).label("no such part").hint(hint));
        }
        found
    }

    fn role(&self, key: &str, word: &Word, kinds: &[&str], told: &mut Diagnostics) {
        let Some(part) = self.find(&word.text, word, told) else { return };
        if kinds.is_empty() || kinds.contains(&part.kind.name) {
            return;
        }
        let wanted = one_of(kinds);
        let message = format!(
            "`{key}` should name a part of kind {wanted}, but `{}` is of kind `{}`",
            part.name, part.kind.name
        );
        let fit = self.parts.iter().find(|p| kinds.contains(&p.kind.name) && !p.unused);
        let mistake = Diagnostic::error(word.span, message)
            .label(format!("expected {wanted}"))
            .also(part.span, "the part");
        told.push(match fit {
            Some(fit) => mistake.hint(format!("`{}` is such a part", fit.name)),
            None => mistake.hint(format!("add a part of kind {wanted}")),
        });
    }

    fn feedback(&self, word: &Word, told: &mut Diagnostics) {
        let Some((part, terminal)) = word.text.rsplit_once('.') else {
            let message =
                format!("`feedback` should be a part and its terminal, this is `{}`", word.text);
            told.push(Diagnostic::error(word.span, message).hint("write it as `EA.sense`"));
            return;
        };
        let Some(part) = self.find(part, word, told) else { return };
        if part.terminals.contains(&terminal) {
            return;
        }
        let message = format!("part `{}` has no terminal `{terminal}`", part.name);
        let hint = match nearest(terminal, part.terminals.iter().copied()) {
            Some(near) => format!("write `{}.{near}`", part.name),
            None => {
                format!("its terminals are {}", one_of(&part.terminals).replace(" or ", " and "))
            }
        };
        told.push(Diagnostic::error(word.span, message).label("no such terminal").hint(hint));
    }
}
