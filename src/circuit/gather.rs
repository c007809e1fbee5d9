//! Reads the circuit file and all it includes, and sorts what they hold by section.

use crate::diagnostic::{Diagnostic, Diagnostics, FileId, Sources, Span};
use crate::document::{Files, KeyName, Node, Reader, Table, Word, read_recovering, wrong_form};
use std::collections::BTreeMap;

/// The most files one circuit is read from.
pub const MOST_FILES: usize = 100;

/// The sections of all files together.
#[derive(Default)]
pub(super) struct Gathered {
    pub(super) title: Option<Word>,
    pub(super) rail: Option<(Span, Table)>,
    pub(super) corners: Option<Table>,
    pub(super) values: Vec<(KeyName, Node)>,
    pub(super) models: Vec<(KeyName, Node)>,
    pub(super) blocks: Vec<(KeyName, Node)>,
    pub(super) parts: Vec<(KeyName, Node)>,
    pub(super) parts_span: Option<Span>,
    pub(super) tests: Vec<Node>,
}

/// Reads files and remembers where each lies.
pub(super) struct Gatherer<'a> {
    files: &'a dyn Files,
    /// All files read so far.
    pub(super) sources: Sources,
    /// Where each lies.
    pub(super) paths: Vec<String>,
    /// All mistakes so far.
    pub(super) diagnostics: Diagnostics,
}

impl<'a> Gatherer<'a> {
    pub(super) fn new(files: &'a dyn Files) -> Self {
        Self {
            files,
            sources: Sources::default(),
            paths: Vec::new(),
            diagnostics: Diagnostics::new(),
        }
    }

    /// Reads the root file; `None` if its syntax is wrong.
    pub(super) fn root(&mut self, name: &str, text: &str) -> Option<Gathered> {
        let file = self.sources.add(name, text);
        let base = name.rsplit(['/', '\\']).next().unwrap_or(name);
        self.paths.push(base.to_owned());
        let table = self.parse(text, file)?;
        let mut all = Gathered::default();
        let place = Span { file, start: 0, end: 0 };
        let mut diagnostics = std::mem::take(&mut self.diagnostics);
        let mut reader = Reader::new(&table, "the circuit file", place, &mut diagnostics);
        all.title = reader.required_text("title", "\"what this circuit is\"");
        let include = reader.node("include");
        let rail = reader.table("rail");
        all.rail =
            rail.map(|rail| (table.entry("rail").map_or(place, |(key, _)| key.span), rail.clone()));
        all.corners = reader.table("corners").cloned();
        for (key, into) in
            [("values", &mut all.values), ("models", &mut all.models), ("blocks", &mut all.blocks)]
        {
            into.extend(reader.table(key).map(|t| t.entries.clone()).unwrap_or_default());
        }
        let example = "{ … } or a section `[parts]`";
        if let Some(node) = reader.required("parts", example) {
            match node.as_table() {
                Some(parts) => all.parts.clone_from(&parts.entries),
                None => reader.diagnostics().push(wrong_form("parts", node, "a table")),
            }
            all.parts_span = table.entry("parts").map(|(key, _)| key.span);
        }
        if let Some(node) = reader.node("tests") {
            if let Some(tests) = node.as_array() {
                all.tests = tests.to_vec();
            } else {
                let mistake = wrong_form("tests", node, "a list of tables");
                reader.diagnostics().push(mistake.hint("begin each test with `[[tests]]`"));
            }
        }
        reader.finish();
        self.diagnostics = diagnostics;
        if let Some(node) = include {
            self.include(node, file, &mut vec![base.to_owned()], &mut all);
        }
        Some(all)
    }

    fn parse(&mut self, text: &str, file: FileId) -> Option<Table> {
        let (table, mistakes) = read_recovering(text, file);
        self.diagnostics.extend(mistakes);
        table
    }

    fn include(&mut self, node: &Node, from: FileId, open: &mut Vec<String>, all: &mut Gathered) {
        for word in crate::document::name_list("include", node, &mut self.diagnostics) {
            if self.diagnostics.is_full() {
                return;
            }
            let path = match resolve(&self.paths, &word.text, from) {
                Ok(path) => path,
                Err(mistake) => {
                    let hint = "name a file in the same folder or a folder below it";
                    self.diagnostics.push(Diagnostic::error(word.span, mistake).hint(hint));
                    continue;
                }
            };
            if let Some(first) = open.iter().position(|p| *p == path) {
                let round: Vec<String> =
                    open[first..].iter().chain([&path]).map(|p| format!("`{p}`")).collect();
                let message =
                    format!("files include one another in a circle: {}", round.join(" → "));
                let hint = "take one of these `include` lines out";
                self.diagnostics.push(Diagnostic::error(word.span, message).hint(hint));
            } else if !self.paths.contains(&path) {
                self.included(path, word.span, open, all);
            }
        }
    }

    fn included(&mut self, path: String, from: Span, open: &mut Vec<String>, all: &mut Gathered) {
        if self.paths.len() >= MOST_FILES {
            let message = format!("more than {MOST_FILES} files are included");
            self.diagnostics.push(Diagnostic::error(from, message));
            return;
        }
        let text = match self.files.read(&path) {
            Ok(text) => text,
            Err(reason) => {
                let message = format!("`{path}` cannot be read: {reason}");
                self.diagnostics.push(Diagnostic::error(from, message).label("included here"));
                return;
            }
        };
        let file = self.sources.add(path.as_str(), text.as_str());
        self.paths.push(path.clone());
        let Some(table) = self.parse(&text, file) else { return };
        let place = Span { file, start: 0, end: 0 };
        let mut reader = Reader::new(&table, "an included file", place, &mut self.diagnostics);
        let _ = reader.text("title");
        let include = reader.node("include");
        for (key, into) in
            [("values", &mut all.values), ("models", &mut all.models), ("blocks", &mut all.blocks)]
        {
            let known: BTreeMap<String, Span> =
                into.iter().map(|(name, _)| (name.text.clone(), name.span)).collect();
            for (name, node) in reader.table(key).map(|t| t.entries.clone()).unwrap_or_default() {
                match known.get(&name.text).copied() {
                    Some(first) => {
                        let message = format!("`{}` is in `{key}` twice", name.text);
                        let mistake = Diagnostic::error(name.span, message)
                            .label("second time")
                            .hint("give one of them another name")
                            .also(first, "first time");
                        reader.diagnostics().push(mistake);
                    }
                    None => into.push((name, node)),
                }
            }
        }
        reader.finish();
        if let Some(node) = include {
            open.push(path);
            self.include(node, file, open, all);
            open.pop();
        }
    }

    /// The text of a data file named in `from`.
    pub(super) fn data(&self, written: &str, from: FileId) -> Result<String, String> {
        let path = resolve(&self.paths, written, from)?;
        self.files.read(&path).map_err(|reason| format!("`{path}` cannot be read: {reason}"))
    }
}

/// A path as written in file `from`, made relative to the root file's folder. It may not leave the
/// folder `from` lies in; `paths` says where each file lies.
pub(super) fn resolve(paths: &[String], written: &str, from: FileId) -> Result<String, String> {
    let own = paths.get(from.0).map_or("", String::as_str);
    let mut path: Vec<&str> = own.split('/').collect();
    path.pop();
    let folder = path.len();
    if written.starts_with('/') || written.contains('\\') || written.contains(':') {
        return Err(format!(
            "`{written}` is not a path relative to this file, with `/` between folders"
        ));
    }
    for step in written.split('/') {
        match step {
            "" | "." => {}
            ".." if path.len() > folder => {
                path.pop();
            }
            ".." => return Err(format!("`{written}` leads out of this file's folder")),
            name => path.push(name),
        }
    }
    if path.len() == folder {
        return Err(format!("`{written}` names no file"));
    }
    Ok(path.join("/"))
}
