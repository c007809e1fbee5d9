//! What reading a test needs at hand.

use super::require::compile;
use crate::circuit::Circuit;
use crate::diagnostic::{Diagnostic, Diagnostics};
use crate::document::Node;
use crate::quantity::{Dimension, Program};

/// The circuit that it is read for, and where mistakes go.
pub(super) struct Read<'a, 'b> {
    pub(super) circuit: &'a Circuit,
    pub(super) told: &'b mut Diagnostics,
}

impl Read<'_, '_> {
    pub(super) fn compile(&mut self, node: &Node, wanted: Dimension) -> Option<Program> {
        compile(self.circuit, node, wanted, self.told)
    }

    pub(super) fn record(&mut self, mistakes: Vec<Diagnostic>) {
        mistakes.into_iter().for_each(|m| self.told.push(m));
    }
}
