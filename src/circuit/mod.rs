//! A circuit: values, rail, parts, models and blocks, read from a file with every mistake told at
//! once, and worked out for each variant.
//!
//! Tests are kept as they stand in the file; what they mean is said by the layers above.

// The one mistake of a form is the rare path; boxing it would burden every caller.
#![allow(clippy::result_large_err)]

mod block;
mod change;
mod corners;
mod formula;
mod gather;
mod heat;
mod lookup;
mod naming;
mod nodes;
mod order;
mod parameter;
mod part;
mod path;
mod rail;
mod rail_section;
mod read;
pub mod regulator;
pub mod rewrite;
mod roles;
mod setting;
mod table;
#[cfg(test)]
mod tests;
mod topology;
mod value;
mod values;
mod variant;
mod varies;

pub use block::{MOST_BLOCK_DEPTH, MOST_PARTS};
pub use change::{Change, Changes};
pub use corners::CornerList;
pub use gather::MOST_FILES;
pub use path::{PathStep, SeriesPath, main_ends};
pub use rail::{Rail, RailFigures, Window};
pub use read::{Reading, read};
pub use table::{MOST_POINTS, read_columns};
pub use topology::Start;
pub use value::{Distribution, Spacing, ValueSpec};
pub use variant::{NamedFigure, Variant, VariantPart};

use crate::device::Kind;
use crate::diagnostic::{Diagnostic, Diagnostics, FileId, Span};
use crate::document::Node;
use crate::quantity::{Dimension, Names, Program};
use formula::Formula;
use std::collections::BTreeMap;

/// A circuit without mistakes.
#[derive(Clone, Debug)]
pub struct Circuit {
    /// What the file calls itself.
    pub title: String,
    /// The rail, if described.
    pub rail: Option<Rail>,
    /// The tests as they stand in the file.
    pub tests: Vec<Node>,
    /// What is said of each value of `[values]`.
    pub values_told: Vec<ValueSpec>,
    /// The lists of `[corners]`.
    pub corners: Vec<CornerList>,
    /// The parts known by their datasheets, which were taken apart into others.
    pub regulators: Vec<regulator::Regulator>,
    values: values::Values,
    models: BTreeMap<String, part::Model>,
    parts: Vec<part::Part>,
    /// Parts, and models as `models.NAME`, that could not be read (told).
    unread: Vec<String>,
    /// Where each file lies, relative to the first one's folder.
    paths: Vec<String>,
}

impl Circuit {
    /// Compiles an expression that stands elsewhere in the file (a key of a test) in terms of the
    /// file's values, `rail.nominal` and `rail.ambient`. A bare number will do where no unit is
    /// wanted, and 0 everywhere.
    ///
    /// # Errors
    /// Everything wrong with the expression.
    pub fn compile(&self, node: &Node, wanted: Dimension) -> Result<Program, Vec<Diagnostic>> {
        let formula = Formula::read("this", node).map_err(|mistake| vec![mistake])?;
        let mut told = Diagnostics::new();
        let program = self.values.compile(&formula, values::ROOT, Some(wanted), &mut told);
        program.ok_or_else(|| told.sorted())
    }

    /// The names an expression elsewhere in the file may use.
    pub fn names(&self) -> impl Names + '_ {
        values::InScope { values: &self.values, scope: values::ROOT }
    }

    /// Compiles `[[time, level], …]`, the levels in `unit`.
    ///
    /// # Errors
    /// Everything wrong with the list.
    pub fn compile_points(
        &self,
        key: &str,
        node: &Node,
        unit: Dimension,
    ) -> Result<Vec<(Program, Program)>, Vec<Diagnostic>> {
        let mut told = Diagnostics::new();
        let points = varies::read_points(key, node, &mut told, |key, node, is_time, told| {
            let wanted = if is_time { Dimension::SECOND } else { unit };
            match Formula::read(key, node) {
                Ok(formula) => self.values.compile(&formula, values::ROOT, Some(wanted), told),
                Err(mistake) => {
                    told.push(mistake);
                    None
                }
            }
        });
        points.ok_or_else(|| told.sorted())
    }

    /// Compiles a window: a fraction of the nominal voltage, or `[low, high]`.
    ///
    /// # Errors
    /// Everything wrong with it.
    pub fn compile_window(&self, key: &str, node: &Node) -> Result<Window, Vec<Diagnostic>> {
        let mut told = Diagnostics::new();
        rail_section::read_window(key, node, &self.values, &mut told).ok_or_else(|| told.sorted())
    }

    /// Where a part is named in the file.
    pub fn part_span(&self, part: &str) -> Option<Span> {
        self.part_index(part).map(|index| self.parts[index].span)
    }

    /// Where what a key of a part holds stands, in the part or in its model; the part itself for a
    /// key that neither gives.
    pub fn key_span(&self, part: &str, key: &str) -> Option<Span> {
        let index = self.part_index(part)?;
        let overrides = change::Overrides::default();
        let given = self.merged(index, &overrides).get(key).and_then(|(span, _)| *span);
        given.or_else(|| self.part_span(part))
    }

    /// The kind of a part.
    pub fn part_kind(&self, part: &str) -> Option<&'static Kind> {
        self.part_index(part).map(|index| self.parts[index].kind)
    }

    /// The label of a part for the page, if it has one.
    pub fn part_text(&self, part: &str) -> Option<&str> {
        self.part_index(part).and_then(|index| self.parts[index].text.as_deref())
    }

    /// The formula of a value or of `rail.ambient` as its file has it; `None` where it gives none.
    pub fn written(&self, path: &str) -> Option<&str> {
        let slot = match path {
            "rail.ambient" => Some(values::AMBIENT),
            _ => self.values.by_full_name(path),
        };
        self.values.slots[slot?].formula.as_ref().map(|formula| formula.text.as_str())
    }

    /// Names of all parts in file order, blocks taken apart.
    pub fn part_names(&self) -> impl Iterator<Item = &str> {
        self.parts.iter().filter(|part| !part.unused).map(|part| part.name.as_str())
    }

    /// Names of all nodes parts are connected to, in order, each once.
    pub fn node_names(&self) -> Vec<&str> {
        let used = self.parts.iter().filter(|part| !part.unused);
        let mut names: Vec<&str> = used.flat_map(|p| &p.nodes).map(String::as_str).collect();
        names.sort_unstable();
        names.dedup();
        names
    }

    /// The key of a part whose level a test moves, and what it measures.
    pub fn driven(&self, part: &str) -> Option<(&'static str, Dimension)> {
        let index = self.part_index(part)?;
        let overrides = change::Overrides::default();
        let merged = self.merged(index, &overrides);
        parameter::driven_key(self.parts[index].kind, |key| merged.contains_key(key))
    }

    /// The path of a data file as [`crate::document::Files::read`] takes it, from how it is
    /// written in file `from`.
    ///
    /// # Errors
    /// Why the path is refused.
    pub fn data_path(&self, written: &str, from: FileId) -> Result<String, String> {
        gather::resolve(&self.paths, written, from)
    }

    /// Whether a part of this name stands in the file but could not be read (told already).
    pub fn is_unread(&self, part: &str) -> bool {
        self.unread.iter().any(|unread| unread == part)
    }

    /// Whether a text names a value that could not be read (told already).
    pub fn names_broken_value(&self, text: &str) -> bool {
        let is_part_of_name = |c: char| c.is_alphanumeric() || c == '_' || c == '.';
        let broken = |name: &str| {
            let slot = self.values.find(values::ROOT, name);
            slot.is_some_and(|slot| self.values.dimension(slot).is_none())
        };
        text.split(|c: char| !is_part_of_name(c)).any(broken)
    }

    fn part_index(&self, name: &str) -> Option<usize> {
        self.parts.iter().position(|part| part.name == name && !part.unused)
    }
}
