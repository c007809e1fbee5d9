//! What a spread says nothing about: values and parts that nothing drawn moves.

use crate::circuit::{Change, Changes, Circuit, Variant, VariantPart};

/// Names of what stays as it is in every run.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Without {
    /// Values of the file.
    pub values: Vec<String>,
    /// Parts none of whose keys moves; the rail's load and source, which tests drive, left out.
    pub parts: Vec<String>,
}

/// Compares the circuit under `base` with itself under what some runs drew.
pub(super) fn without(circuit: &Circuit, base: &[Change], drawn: &[Vec<Change>]) -> Without {
    let of = |more: &[Change]| {
        let list = base.iter().chain(more).cloned().collect();
        circuit.variant(&Changes { list }).ok()
    };
    let Some(still) = of(&[]) else { return Without::default() };
    let moved: Vec<Variant> = drawn.iter().filter_map(|changes| of(changes)).collect();
    let value_of = |variant: &Variant, name: &str| {
        variant.values.iter().find(|v| v.name == name).map(|v| v.value)
    };
    let stays = |name: &str| moved.iter().all(|m| value_of(m, name) == value_of(&still, name));
    let values = still.values.iter().map(|v| v.name.clone()).filter(|name| stays(name)).collect();
    let part_stays = |part: &VariantPart| {
        moved.iter().all(|m| m.part(&part.name).is_some_and(|other| is_same(part, other)))
    };
    let driven: Vec<&str> = still
        .rail
        .iter()
        .flat_map(|rail| [rail.load.as_deref(), rail.source.as_deref()])
        .flatten()
        .collect();
    let parts = still.parts.iter().filter(|p| !driven.contains(&p.name.as_str()));
    let parts = parts.filter(|p| part_stays(p)).map(|p| p.name.clone()).collect();
    Without { values, parts }
}

/// Temperature aside, which moves no figure of the part itself.
fn is_same(part: &VariantPart, other: &VariantPart) -> bool {
    let number = |p: &VariantPart, key: &str| p.parameters.optional(key);
    part.kind.keys.iter().all(|key| number(part, key.name) == number(other, key.name))
        && part.parameters.drive == other.parameters.drive
}
