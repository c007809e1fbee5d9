//! A parsed expression: nodes in the order they are evaluated, each with its place in the text.
//!
//! The nodes lie in one vector, operands before what uses them, so that nothing that walks a
//! tree recurses and a long sum cannot exhaust the stack.

use super::Dimension;
use super::function::Function;
use crate::diagnostic::Span;

/// A parsed expression.
#[derive(Clone, Debug, PartialEq)]
pub struct Tree {
    pub(super) source: Source,
    pub(super) nodes: Vec<Node>,
}

/// The text of an expression and where its file has it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Source {
    pub(super) text: String,
    pub(super) span: Span,
}

/// One operand or operation.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Node {
    pub(super) kind: Kind,
    /// First byte in the text, parentheses around it included.
    pub(super) start: usize,
    /// One past the last byte.
    pub(super) end: usize,
}

/// What a node is; operands are indices of earlier nodes.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Kind {
    Quantity(Quantity),
    Name(String),
    Negate(usize),
    Infix(Infix, usize, usize),
    Call(Function, usize),
    CallTwo(Function, usize, usize),
}

/// A number with its unit, in SI units; a temperature in °C is left in °C, since a sign before it
/// comes before the change to kelvin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Quantity {
    pub(super) value: f64,
    pub(super) dimension: Dimension,
    /// Written in °C, and so a point on a scale and no difference.
    pub(super) celsius: bool,
    /// Written without any unit.
    pub(super) bare: bool,
}

/// An operator between two operands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Infix {
    Add,
    Subtract,
    Multiply,
    Divide,
    Power,
}

impl Source {
    /// The place of bytes `start..end` of the text. A text that stands in its file in another
    /// spelling (with escapes) has only the whole as its place.
    pub(super) fn place(&self, start: usize, end: usize) -> Span {
        if self.span.end.checked_sub(self.span.start) == Some(self.text.len()) {
            self.span.within(start, end)
        } else {
            self.span
        }
    }

    /// Bytes `start..end` of the text in backticks, shortened where it is long.
    pub(super) fn quote(&self, start: usize, end: usize) -> String {
        const LONGEST: usize = 40;
        let text = self.text.get(start..end).unwrap_or_default();
        if text.chars().count() <= LONGEST {
            return format!("`{text}`");
        }
        let beginning: String = text.chars().take(LONGEST - 1).collect();
        format!("`{beginning}…`")
    }
}

impl Tree {
    /// The place of the whole expression.
    pub fn span(&self) -> Span {
        self.source.span
    }

    /// The names it uses, each once, with the place where it is first used.
    pub fn names(&self) -> Vec<(String, Span)> {
        let mut names: Vec<(String, Span)> = Vec::new();
        for node in &self.nodes {
            if let Kind::Name(name) = &node.kind
                && !names.iter().any(|(known, _)| known == name)
            {
                names.push((name.clone(), self.name_place(node, name)));
            }
        }
        names
    }

    /// The place of the name itself, without parentheses around it.
    pub(super) fn name_place(&self, node: &Node, name: &str) -> Span {
        let written = self.source.text.get(node.start..node.end).unwrap_or_default();
        let start = node.start + written.find(name).unwrap_or(0);
        self.source.place(start, start + name.len())
    }
}
