//! The `[rail]` section as it is read.

use super::formula::Formula;
use super::nodes::{GND, NodeUses};
use super::part::Part;
use super::rail::{Rail, Window};
use super::regulator::Regulator;
use super::roles::{Roles, check_node};
use super::values::{AMBIENT, NOMINAL, ROOT, Values};
use crate::diagnostic::{Diagnostic, Diagnostics, Span};
use crate::document::{Node, Reader, Table, Word};
use crate::quantity::Dimension;

/// Nodes of the rail that name quantities, to be compiled when the values are settled.
pub(super) struct RailDraft {
    pub(super) rail: Rail,
    ground: Option<Word>,
    window: Option<Node>,
    transient_window: Option<Node>,
}

/// Reads the section; the nominal voltage and the ambient temperature become values.
pub(super) fn read_rail(
    table: &Table,
    span: Span,
    values: &mut Values,
    told: &mut Diagnostics,
) -> RailDraft {
    let mut reader = Reader::new(table, "`[rail]`", span, told);
    let input = reader.text("input");
    let output = reader.text("output");
    let ground = reader.text("ground");
    let nominal = match output {
        Some(_) => reader.required("nominal", "\"3.3 V\""),
        None => reader.node("nominal"),
    };
    let ambient = reader.node("ambient");
    let rail = Rail {
        span,
        input,
        output,
        ground: ground.as_ref().map_or(GND.to_owned(), |word| word.text.clone()),
        has_nominal: nominal.is_some(),
        window: None,
        transient_window: None,
        source: reader.text("source"),
        supplies: reader.names("supplies").unwrap_or_default(),
        load: reader.text("load"),
        pass: reader.names("pass").unwrap_or_default(),
        amplifier: reader.names("amplifier").unwrap_or_default(),
        output_capacitors: reader.names("output_capacitors"),
        input_capacitors: reader.names("input_capacitors"),
        feedback: reader.text("feedback"),
    };
    let window = reader.node("window").cloned();
    let transient_window = reader.node("transient_window").cloned();
    for (slot, key, node) in [(NOMINAL, "nominal", nominal), (AMBIENT, "ambient", ambient)] {
        if let Some(node) = node {
            let formula = match Formula::read(key, node) {
                Ok(formula) => Some(formula),
                Err(mistake) => {
                    reader.diagnostics().push(mistake);
                    None
                }
            };
            values.give_rail(slot, node.span, formula);
        }
    }
    reader.finish();
    RailDraft { rail, ground, window, transient_window }
}

impl RailDraft {
    /// Puts the parts that play a role inside a regulator in the place of its name.
    pub(super) fn look_inside(mut self, regulators: &[Regulator]) -> Self {
        let look = |words: &mut Vec<Word>, parts: fn(&Regulator) -> Vec<String>| {
            let inside = |word: &Word| match regulators.iter().find(|r| r.name == word.text) {
                None => vec![word.clone()],
                Some(found) => {
                    let named = |text| Word { text, span: word.span };
                    parts(found).into_iter().map(named).collect()
                }
            };
            *words = words.iter().flat_map(inside).collect();
        };
        look(&mut self.rail.pass, Regulator::pass_devices);
        look(&mut self.rail.amplifier, |regulator| vec![regulator.amplifier()]);
        self
    }

    /// Compiles the windows and checks that nodes and parts are there and of the right kind.
    pub(super) fn finish(
        mut self,
        values: &Values,
        nodes: &NodeUses,
        parts: &[Part],
        unread: &[String],
        told: &mut Diagnostics,
    ) -> Rail {
        self.rail.window = self.window.and_then(|node| read_window("window", &node, values, told));
        self.rail.transient_window = self
            .transient_window
            .and_then(|node| read_window("transient_window", &node, values, told));
        let fraction = [&self.rail.window, &self.rail.transient_window]
            .into_iter()
            .find_map(|w| if let Some(Window::Fraction(_, span)) = w { Some(*span) } else { None });
        if let (Some(span), false, None) = (fraction, self.rail.has_nominal, &self.rail.output) {
            let message = "a window in per cent needs `nominal`";
            told.push(
                Diagnostic::error(span, message)
                    .hint("add `nominal = \"…\"`, or write `[low, high]`"),
            );
        }
        for word in self.rail.input.iter().chain(&self.rail.output).chain(&self.ground) {
            check_node(word, nodes, told);
        }
        let roles = Roles { parts, unread };
        roles.check(&self.rail, told);
        self.rail
    }
}

/// A fraction, or `[low, high]` in V.
pub(super) fn read_window(
    key: &str,
    node: &Node,
    values: &Values,
    told: &mut Diagnostics,
) -> Option<Window> {
    let hint = format!("write `{key} = \"2 %\"` or `{key} = [\"2.7 V\", \"2.9 V\"]`");
    let mut program = |node: &Node, unit| match Formula::read(key, node) {
        Ok(formula) => values.compile(&formula, ROOT, unit, told),
        Err(mistake) => {
            told.push(mistake);
            None
        }
    };
    match node.as_array() {
        None => {
            let fraction = program(node, None)?;
            if fraction.dimension().is_none() {
                return Some(Window::Fraction(fraction, node.span));
            }
            let message = format!(
                "`{key}` is a fraction of the nominal voltage or two voltages, but this is {}",
                fraction.dimension().words()
            );
            told.push(Diagnostic::error(node.content_span(), message).hint(hint));
            None
        }
        Some([low, high]) => {
            let volt = Some(Dimension::VOLT);
            let (low, high) = (program(low, volt), program(high, volt));
            Some(Window::Limits(low?, high?, node.span))
        }
        Some(_) => {
            let message =
                format!("`{key}` should be a fraction, or the lowest and the highest voltage");
            told.push(Diagnostic::error(node.span, message).hint(hint));
            None
        }
    }
}
