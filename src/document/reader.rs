//! Typed getters over one table: what is missing, of the wrong form or unknown is recorded, and
//! reading goes on.

use super::{Node, Table};
use crate::diagnostic::{Diagnostic, Diagnostics, Span, nearest};

/// A text and its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Word {
    /// The text.
    pub text: String,
    /// Between the quotes.
    pub span: Span,
}

/// Reads one table key by key.
pub struct Reader<'t, 'd> {
    table: &'t Table,
    what: String,
    place: Span,
    asked: Vec<&'static str>,
    missing: Vec<(&'static str, Diagnostic)>,
    diagnostics: &'d mut Diagnostics,
}

/// What is missing is told also where reading stopped before the end of the table.
impl Drop for Reader<'_, '_> {
    fn drop(&mut self) {
        for (_, mistake) in self.missing.drain(..) {
            self.diagnostics.push(mistake);
        }
    }
}

/// The mistake of a value that has another form than wanted.
pub fn wrong_form(key: &str, node: &Node, wanted: &str) -> Diagnostic {
    Diagnostic::error(
        node.span,
        format!("`{key}` should be {wanted}, but this is {}", node.words()),
    )
    .label(format!("expected {wanted}"))
}

/// A list of names: `["a", "b"]`, or one name alone.
pub fn name_list(key: &str, node: &Node, diagnostics: &mut Diagnostics) -> Vec<Word> {
    let wanted = "a name or a list of names";
    let items = match node.as_array() {
        Some(items) => items,
        None => std::slice::from_ref(node),
    };
    let mut names = Vec::with_capacity(items.len());
    for item in items {
        match item.as_text() {
            Some(text) => names.push(Word { text: text.to_owned(), span: item.content_span() }),
            None => diagnostics.push(wrong_form(key, item, wanted)),
        }
    }
    names
}

impl<'t, 'd> Reader<'t, 'd> {
    /// `what` says in messages whose table it is (`part \`R1\``); `place` is pointed at when a key
    /// is missing.
    pub fn new(
        table: &'t Table,
        what: impl Into<String>,
        place: Span,
        diagnostics: &'d mut Diagnostics,
    ) -> Self {
        let (asked, missing) = (Vec::new(), Vec::new());
        Self { table, what: what.into(), place, asked, missing, diagnostics }
    }

    /// Where this reader's mistakes go, for mistakes told by the caller.
    pub fn diagnostics(&mut self) -> &mut Diagnostics {
        self.diagnostics
    }

    /// Whose table it is.
    pub fn what(&self) -> &str {
        &self.what
    }

    /// Whether the key is there, without asking for it.
    pub fn has(&self, key: &str) -> bool {
        self.table.get(key).is_some()
    }

    /// The value behind a key, whatever it is.
    pub fn node(&mut self, key: &'static str) -> Option<&'t Node> {
        self.asked.push(key);
        self.table.get(key)
    }

    /// The value behind a key that must be there; `example` is shown when it is not. That it is
    /// missing is told when the reader finishes.
    pub fn required(&mut self, key: &'static str, example: &str) -> Option<&'t Node> {
        let found = self.node(key);
        if found.is_none() {
            let mistake = Diagnostic::error(self.place, format!("{} has no `{key}`", self.what))
                .label(format!("`{key}` is missing"))
                .hint(format!("add `{key} = {example}`"));
            self.missing.push((key, mistake));
        }
        found
    }

    /// A text.
    pub fn text(&mut self, key: &'static str) -> Option<Word> {
        let node = self.node(key)?;
        self.word(key, node)
    }

    /// A text that must be there.
    pub fn required_text(&mut self, key: &'static str, example: &str) -> Option<Word> {
        let node = self.required(key, example)?;
        self.word(key, node)
    }

    fn word(&mut self, key: &str, node: &Node) -> Option<Word> {
        match node.as_text() {
            Some(text) => Some(Word { text: text.to_owned(), span: node.content_span() }),
            None => self.wrong(key, node, "a text in quotes"),
        }
    }

    /// A name or a list of names.
    pub fn names(&mut self, key: &'static str) -> Option<Vec<Word>> {
        let node = self.node(key)?;
        Some(name_list(key, node, self.diagnostics))
    }

    /// A quantity or expression in quotes, or a bare number.
    pub fn expression(&mut self, key: &'static str) -> Option<&'t Node> {
        let node = self.node(key)?;
        if node.as_text().is_some() || node.as_number().is_some() {
            return Some(node);
        }
        self.wrong(key, node, "a quantity in quotes")
    }

    /// `true` or `false`.
    pub fn boolean(&mut self, key: &'static str) -> Option<bool> {
        let node = self.node(key)?;
        match node.value {
            super::Value::Boolean(truth) => Some(truth),
            _ => self.wrong(key, node, "true or false"),
        }
    }

    /// A list.
    pub fn array(&mut self, key: &'static str) -> Option<&'t [Node]> {
        let node = self.node(key)?;
        match node.as_array() {
            Some(list) => Some(list),
            None => self.wrong(key, node, "a list in square brackets"),
        }
    }

    /// A table.
    pub fn table(&mut self, key: &'static str) -> Option<&'t Table> {
        let node = self.node(key)?;
        match node.as_table() {
            Some(table) => Some(table),
            None => self.wrong(key, node, "a table"),
        }
    }

    fn wrong<T>(&mut self, key: &str, node: &Node, wanted: &str) -> Option<T> {
        self.diagnostics.push(wrong_form(key, node, wanted));
        None
    }

    /// Records every key that was not asked for, with the nearest that was; a missing key that
    /// such a one was probably meant for is not told a second time. Gives the keys so meant.
    pub fn finish(mut self) -> Vec<&'static str> {
        let mut meant = Vec::new();
        for (key, _) in &self.table.entries {
            if self.asked.contains(&key.text.as_str()) {
                continue;
            }
            if self.diagnostics.is_full() {
                break;
            }
            let open = |k: &&str| self.table.get(k).is_none();
            let near = nearest(&key.text, self.asked.iter().copied().filter(open));
            let near = self.asked.iter().copied().find(|k| Some(*k) == near);
            let hint = match near {
                Some(near) => format!("write `{near}`"),
                None => format!("known keys: {}", list_of(&self.asked)),
            };
            let message = format!("{} has no key `{}`", self.what, key.text);
            let mistake = Diagnostic::error(key.span, message).label("unknown key").hint(hint);
            self.diagnostics.push(mistake);
            meant.extend(near);
        }
        self.missing.retain(|(key, _)| !meant.contains(key));
        meant
    }
}

fn list_of(names: &[&str]) -> String {
    let mut names: Vec<String> = names.iter().map(|n| format!("`{n}`")).collect();
    names.sort();
    names.dedup();
    names.join(", ")
}
