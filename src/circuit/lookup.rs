//! Where the keys of a part find what they name: values seen from its scope, data files beside it.

use super::formula::Formula;
use super::gather::Gatherer;
use super::values::Values;
use crate::diagnostic::Diagnostics;
use crate::document::Node;
use crate::quantity::{Dimension, Program};

/// Files and values, seen from one scope.
#[derive(Clone, Copy)]
pub(super) struct Lookup<'a> {
    pub(super) gatherer: &'a Gatherer<'a>,
    pub(super) values: &'a Values,
    pub(super) scope: usize,
}

impl Lookup<'_> {
    /// A quantity of a known dimension.
    pub(super) fn quantity(
        &self,
        key: &str,
        node: &Node,
        unit: Dimension,
        told: &mut Diagnostics,
    ) -> Option<Program> {
        match Formula::read(key, node) {
            Ok(formula) => self.values.compile(&formula, self.scope, Some(unit), told),
            Err(mistake) => {
                told.push(mistake);
                None
            }
        }
    }
}
