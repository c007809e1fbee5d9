//! The books that stand beside a test: energy over the circuit, charge where the rail feeds.

use crate::analysis::{Account, Books, Record};
use crate::circuit::Variant;
use crate::device::Role;
use crate::system::System;

/// How well the books of a test balance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Balance {
    /// Energy in J over the whole circuit.
    pub energy: Account,
    /// Charge in C at the worst of the nodes looked at, with what passed at the busiest of them:
    /// the output node and the nodes inside its capacitors, where what flows in must be C·ΔV;
    /// every named node if there is no rail.
    pub charge: Account,
}

impl Balance {
    /// Draws up the books of a record.
    pub fn of(system: &System, variant: &Variant, record: &Record) -> Self {
        let books = Books::of(system, record);
        let accounts = watched(system, variant).into_iter().map(|k| books.charge[k]);
        let worst = |one: Account, other: Account| Account {
            passed: one.passed.max(other.passed),
            ..if other.worst > one.worst { other } else { one }
        };
        Self { energy: books.energy, charge: accounts.reduce(worst).unwrap_or_default() }
    }
}

fn watched(system: &System, variant: &Variant) -> Vec<usize> {
    let name = variant.rail.as_ref().and_then(|rail| rail.output.as_deref());
    let named = |k: &usize| system.unknowns[*k].role == Role::Node;
    let all = 1..system.unknowns.len();
    let output = all.clone().find(|k| named(k) && Some(system.unknowns[*k].name.as_str()) == name);
    let Some(output) = output else { return all.filter(named).collect() };
    let capacitor = |part: usize| {
        let part = &system.parts[part];
        part.pins.contains(&output)
            && variant.part(&part.name).is_some_and(|p| p.kind.name == "capacitor")
    };
    let inside = |k: &usize| {
        let entry = &system.unknowns[*k];
        entry.role == Role::InnerNode && entry.part.is_some_and(capacitor)
    };
    [output].into_iter().chain(all.filter(inside)).collect()
}
