//! Changes to a circuit: which value or key a path means, and what is put there.

use super::Circuit;
use super::formula::Formula;
use super::naming::one_of;
use super::regulator::{REGULATOR, Regulator};
use super::setting::{Setting, Settings};
use super::values::{AMBIENT, NOMINAL, ROOT, Replacement};
use crate::device::{Form, Kind, kind};
use crate::diagnostic::{Diagnostic, Diagnostics, Span, nearest};
use crate::quantity::{Dimension, Program};
use std::collections::BTreeMap;

/// One change: `NAME`, `PART.key`, `models.NAME.key`, `rail.ambient` or `BLOCKPART.NAME`, and the
/// expression that takes its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// What is changed.
    pub path: String,
    /// What it becomes, in terms of the file's values.
    pub text: String,
    /// Where the change is written, if in a file.
    pub span: Option<Span>,
}

impl Change {
    /// A change that stands in no file.
    pub fn new(path: impl Into<String>, text: impl Into<String>) -> Self {
        Self { path: path.into(), text: text.into(), span: None }
    }
}

/// Changes in order; of two to the same thing the later one holds.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Changes {
    /// In order.
    pub list: Vec<Change>,
}

/// Changes found in the circuit and compiled.
#[derive(Clone, Debug, Default)]
pub(super) struct Overrides {
    pub(super) values: BTreeMap<usize, Replacement>,
    pub(super) parts: BTreeMap<(usize, &'static str), (Option<Span>, Setting)>,
    pub(super) models: BTreeMap<(String, &'static str), (Option<Span>, Setting)>,
    pub(super) temperatures: BTreeMap<usize, (Option<Span>, Program)>,
}

impl Circuit {
    pub(super) fn overrides(&self, changes: &Changes, told: &mut Diagnostics) -> Overrides {
        let mut overrides = Overrides::default();
        for change in &changes.list {
            self.add_override(change, &mut overrides, told);
        }
        overrides
    }

    /// Finds what a change means; if that fails, it is told and nothing is added.
    pub(super) fn add_override(
        &self,
        change: &Change,
        overrides: &mut Overrides,
        told: &mut Diagnostics,
    ) {
        let mut mistakes = Diagnostics::new();
        let key = change.span;
        let found = Applying { circuit: self, change, key, told: &mut mistakes }.run(overrides);
        if found.is_none() && mistakes.is_empty() {
            // The value or key itself is broken, which reading has told.
            mistakes.push(at(change, format!("`{}` cannot be changed", change.path)));
        }
        told.append(mistakes);
    }

    /// What is wrong with a change written in the file, whose path stands at `key`. One that is
    /// refused only because what it changes is broken itself is not blamed.
    pub fn check_change(&self, change: &Change, key: Span) -> Vec<Diagnostic> {
        let mut told = Diagnostics::new();
        let key = Some(key);
        let mut applying = Applying { circuit: self, change, key, told: &mut told };
        let _ = applying.run(&mut Overrides::default());
        told.sorted()
    }
}

fn at(change: &Change, message: String) -> Diagnostic {
    placed(change.span, message)
}

fn placed(span: Option<Span>, message: String) -> Diagnostic {
    match span {
        Some(span) => Diagnostic::error(span, message),
        None => Diagnostic::without_place(message),
    }
}

struct Applying<'a> {
    circuit: &'a Circuit,
    change: &'a Change,
    /// Where the path stands.
    key: Option<Span>,
    told: &'a mut Diagnostics,
}

impl Applying<'_> {
    fn run(&mut self, overrides: &mut Overrides) -> Option<()> {
        let circuit = self.circuit;
        let path = self.change.path.as_str();
        match path {
            "rail.ambient" => return self.value(AMBIENT, overrides),
            "rail.nominal" if circuit.rail.as_ref().is_some_and(|r| r.has_nominal) => {
                return self.value(NOMINAL, overrides);
            }
            _ => {}
        }
        if let Some(slot) = circuit.values.by_full_name(path) {
            return self.value(slot, overrides);
        }
        if let Some(rest) = path.strip_prefix("models.") {
            return self.model(rest, overrides);
        }
        // The longest part name that the path begins with: names inside blocks hold dots too.
        let dots = path.match_indices('.').map(|(k, _)| k).collect::<Vec<_>>();
        for &dot in dots.iter().rev() {
            if let Some(index) = circuit.part_index(&path[..dot]) {
                return self.part(index, &path[dot + 1..], overrides);
            }
        }
        self.nothing_there(path)
    }

    fn nothing_there(&mut self, path: &str) -> Option<()> {
        let circuit = self.circuit;
        if circuit.unread.iter().any(|u| path.strip_prefix(u).is_some_and(|p| p.starts_with('.'))) {
            return None;
        }
        let is_figure = |key: &str| kind(REGULATOR).is_some_and(|k| k.key(key).is_some());
        let named = |r: &&Regulator| {
            path.strip_prefix(&r.name).and_then(|p| p.strip_prefix('.')).is_some_and(is_figure)
        };
        if let Some(Regulator { name, .. }) = circuit.regulators.iter().find(named) {
            let message = format!("`{path}` is a figure of a datasheet and stands as it is");
            let hint = format!("vary a value inside, such as `{name}.dc_gain`");
            self.told.push(placed(self.key, message).label("not a value").hint(hint));
            return None;
        }
        let mut names: Vec<String> = circuit.values.full_names().map(str::to_owned).collect();
        names.push("rail.ambient".to_owned());
        if let Some((_, key)) = path.rsplit_once('.') {
            names.extend(circuit.parts.iter().map(|part| format!("{}.{key}", part.name)));
            names.extend(circuit.models.keys().map(|name| format!("models.{name}.{key}")));
        }
        let hint = match nearest(path, names.iter().map(String::as_str)) {
            Some(near) => format!("write `{near}`"),
            None => "write the name of a value, or `PART.key`".to_owned(),
        };
        let message = format!("there is no value or part key `{path}` to change");
        self.told.push(placed(self.key, message).label("nothing of this name").hint(hint));
        None
    }

    fn formula(&mut self) -> Option<Formula> {
        match Formula::of_text(&self.change.text, self.change.span) {
            Ok(formula) => Some(formula),
            Err(mistake) => {
                self.told.push(mistake);
                None
            }
        }
    }

    fn program(&mut self, wanted: Dimension) -> Option<(Formula, Program)> {
        let formula = self.formula()?;
        let program = self.circuit.values.compile(&formula, ROOT, Some(wanted), self.told)?;
        Some((formula, program))
    }

    fn value(&mut self, slot: usize, overrides: &mut Overrides) -> Option<()> {
        let wanted = self.circuit.values.dimension(slot)?;
        let (formula, program) = self.program(wanted)?;
        overrides.values.insert(slot, Replacement { formula, scope: ROOT, program });
        Some(())
    }

    fn model(&mut self, rest: &str, overrides: &mut Overrides) -> Option<()> {
        let (name, key) = rest.split_once('.').unwrap_or((rest, ""));
        let Some(model) = self.circuit.models.get(name) else {
            return self.nothing_there(&self.change.path);
        };
        let (key, setting) = self.setting(model.kind, key, &|key| {
            let changed = overrides.models.get(&(name.to_owned(), key)).map(|(_, s)| s);
            changed.or_else(|| model.settings.get(key).map(|(_, s)| s)).cloned()
        })?;
        overrides.models.insert((name.to_owned(), key), (self.change.span, setting));
        Some(())
    }

    fn part(&mut self, index: usize, key: &str, overrides: &mut Overrides) -> Option<()> {
        let circuit = self.circuit;
        let part = &circuit.parts[index];
        if key == "temperature" {
            let (_, program) = self.program(Dimension::KELVIN)?;
            overrides.temperatures.insert(index, (self.change.span, program));
            return Some(());
        }
        let (key, setting) = self.setting(part.kind, key, &|key| {
            circuit.merged(index, overrides).get(key).map(|(_, setting)| (*setting).clone())
        })?;
        overrides.parts.insert((index, key), (self.change.span, setting));
        Some(())
    }

    /// What a key of a kind becomes; `current` gives what stands behind a sub-table's key.
    fn setting(
        &mut self,
        kind: &'static Kind,
        key: &str,
        current: &dyn Fn(&'static str) -> Option<Setting>,
    ) -> Option<(&'static str, Setting)> {
        let (outer, inner) = match key.split_once('.') {
            Some((outer, inner)) => (outer, Some(inner)),
            None => (key, None),
        };
        let Some(row) = kind.key(outer) else {
            let known = kind.keys.iter().map(|k| k.name);
            let hint = match nearest(outer, known.clone()) {
                Some(near) => format!("write `{near}`"),
                None => format!("known keys: {}", one_of(&known.collect::<Vec<_>>())),
            };
            let message = format!("kind `{}` has no key `{outer}`", kind.name);
            self.told.push(placed(self.key, message).label("unknown key").hint(hint));
            return None;
        };
        match (&row.form, inner) {
            (Form::Quantity(unit, _), None) => {
                let (_, program) = self.program(*unit)?;
                Some((row.name, Setting::Quantity(program)))
            }
            (Form::Word(words), None) => {
                let text = self.change.text.trim();
                if let Some(word) = words.iter().copied().find(|w| *w == text) {
                    return Some((row.name, Setting::Word(word)));
                }
                let message = format!("`{outer}` cannot be `{text}`");
                self.told.push(at(self.change, message).hint(format!("write {}", one_of(words))));
                None
            }
            (Form::KeysOf(other), Some(inner)) => {
                let mut settings = match current(row.name) {
                    Some(Setting::Table(_, settings)) => settings,
                    _ => Settings::new(),
                };
                let (inner, setting) = self.setting(other, inner, &|_| None)?;
                let nowhere = settings.values().next().map(|(span, _)| *span);
                let span = self.change.span.or(nowhere)?;
                settings.insert(inner, (span, setting));
                Some((row.name, Setting::Table(other, settings)))
            }
            _ => {
                let message = format!("`{key}` is no quantity and cannot be changed this way");
                self.told.push(at(self.change, message).hint("change it in the circuit file"));
                None
            }
        }
    }
}
