//! Where nodes and parts stand at rest.

use crate::analysis::OperatingPoint;
use crate::device::Role;
use crate::system::{Quantity, System};

/// A node's level at rest.
#[derive(Clone, Debug, PartialEq)]
pub struct NodeLevel {
    /// Its name.
    pub name: String,
    /// V
    pub volt: f64,
}

/// Where a part works at rest.
#[derive(Clone, Debug, PartialEq)]
pub struct PartRegion {
    /// Its name.
    pub name: String,
    /// Its regions in the trade's words, one an element.
    pub regions: Vec<&'static str>,
    /// Current into its first terminal in A.
    pub ampere: f64,
    /// W absorbed.
    pub watt: f64,
}

pub(super) fn levels_and_regions(
    system: &System,
    rest: &OperatingPoint,
) -> (Vec<NodeLevel>, Vec<PartRegion>) {
    let named = system.unknowns.iter().zip(&rest.z).filter(|(u, _)| u.role == Role::Node);
    let levels = named.map(|(u, &volt)| NodeLevel { name: u.name.clone(), volt }).collect();
    let seen = system.observe(&rest.z, &vec![0.0; rest.z.len()]);
    let all = system.regions(&rest.z);
    let part = |(index, part): (usize, &crate::device::PartEntry)| PartRegion {
        name: part.name.clone(),
        regions: all.iter().filter(|(name, _)| *name == part.name).map(|(_, r)| *r).collect(),
        ampere: system.read(&seen, Quantity::Current(index, 0)),
        watt: system.read(&seen, Quantity::Power(index)),
    };
    // A heat path has no terminals and carries no current.
    let electric = system.parts.iter().enumerate().filter(|(_, part)| !part.pins.is_empty());
    (levels, electric.map(part).collect())
}
