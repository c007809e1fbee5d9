//! Doubts about a file without mistakes: what can be run, but is hardly what was meant. Each is a
//! warning; nothing is refused here, and no verdict depends on it.
//!
//! Everything is seen at operating points and in the linear network around them; no time passes.

mod feedback;
mod figures;
mod limits;
mod network;
mod resonance;
mod rest;
#[cfg(test)]
mod tests;

use super::Plan;
use crate::analysis::operating_point;
use crate::circuit::Variant;
use crate::device::{Drive, Net, Role};
use crate::diagnostic::Diagnostic;
use crate::system::System;
use std::collections::BTreeMap;

/// All doubts about a plan, in no order; `rest` is where it rests at nominal values.
pub(super) fn doubts(plan: &Plan, rest: Option<&Rest>) -> Vec<Diagnostic> {
    let mut told = figures::doubts(plan);
    told.extend(limits::doubts(plan));
    if let Some(rest) = rest {
        told.extend(rest::capacitors(plan, rest));
        if let Some(network) = network::Network::around(rest) {
            told.extend(feedback::doubt(plan, rest, &network));
            told.extend(resonance::doubts(plan, rest, &network));
        }
    }
    told.extend(rest::heaviest_loads(plan));
    told
}

/// A circuit at rest.
pub(super) struct Rest {
    net: Net,
    system: System,
    z: Vec<f64>,
}

impl Rest {
    /// `None` where no operating point is found, which running a test would tell.
    pub(super) fn find(variant: &Variant, drives: &[(String, Drive)]) -> Option<Self> {
        Self::near(variant, drives, None)
    }

    /// The one that is found from another rest of the same variant.
    pub(super) fn beside(&self, variant: &Variant, drives: &[(String, Drive)]) -> Option<Self> {
        Self::near(variant, drives, Some(&self.z))
    }

    fn near(variant: &Variant, drives: &[(String, Drive)], guess: Option<&[f64]>) -> Option<Self> {
        let net = variant.net(drives);
        let system = System::build(&net);
        let found = operating_point(&system, &system.pieces(-1.0), 0.0, guess).ok()?;
        Some(Self { net, system, z: found.z })
    }

    /// V of every named node.
    pub(super) fn volts(&self) -> BTreeMap<String, f64> {
        let nodes = self.net.unknowns.iter().zip(&self.z).filter(|(u, _)| u.role == Role::Node);
        nodes.map(|(u, volt)| (u.name.clone(), *volt)).collect()
    }

    /// Voltage of a node in V.
    fn volt(&self, node: &str) -> Option<f64> {
        self.net.find_node(node).and_then(|k| self.z.get(k).copied())
    }
}
