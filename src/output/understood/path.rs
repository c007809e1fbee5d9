//! The way of the current from the source through the pass device to the output.

use crate::circuit::{RailFigures, Variant, VariantPart};
use std::collections::BTreeMap;

/// `path: BT1 → R_CELL → vin → Q1 → vout`; the places alone where parts do not join them in series.
pub(super) fn line(variant: &Variant, rail: &RailFigures) -> Option<String> {
    if let Some(steps) = series(variant, rail) {
        return Some(format!("path: {}", steps.join(" → ")));
    }
    let places = [
        ("source", rail.source.clone()),
        ("input", rail.input.clone()),
        ("pass", (!rail.pass.is_empty()).then(|| rail.pass.join(", "))),
        ("output", rail.output.clone()),
    ];
    let told: Vec<String> =
        places.into_iter().filter_map(|(role, name)| Some(format!("{role} {}", name?))).collect();
    if told.is_empty() {
        return None;
    }
    let missing = rail.source.is_none() || rail.pass.is_empty();
    let why = if missing { "" } else { "; no simple series path found" };
    Some(format!("path: {}{why}", told.join(", ")))
}

fn series(variant: &Variant, rail: &RailFigures) -> Option<Vec<String>> {
    let source = variant.part(rail.source.as_deref()?)?;
    let (input, output) = (rail.input.as_deref()?, rail.output.as_deref()?);
    let ground = rail.ground.as_str();
    let start = source.nodes.iter().find(|node| !is_ground(node, ground))?;
    let before = walk(&variant.parts, (start, input), ground, |part| {
        let passes = rail.pass.contains(&part.name) || part.name == source.name;
        if passes { Vec::new() } else { in_series(part) }
    })?;
    let after = walk(&variant.parts, (input, output), ground, |part| {
        if rail.pass.contains(&part.name) { main_ends(part) } else { in_series(part) }
    })?;
    if !after.iter().any(|step| rail.pass.contains(step)) {
        return None;
    }
    let mut steps = vec![source.name.clone()];
    steps.extend(before);
    steps.push(input.to_owned());
    steps.extend(beside(after, variant, rail));
    steps.push(output.to_owned());
    Some(steps)
}

/// Pass devices that share both main ends are told together.
fn beside(steps: Vec<String>, variant: &Variant, rail: &RailFigures) -> Vec<String> {
    let ends = |name: &str| {
        let mut nodes = main_ends(variant.part(name)?).pop()?;
        nodes.sort_unstable();
        Some(nodes)
    };
    let together = |step: String| {
        let same = |other: &&String| **other != step && ends(other) == ends(&step);
        if !rail.pass.contains(&step) {
            return step;
        }
        let others = rail.pass.iter().filter(same).cloned();
        std::iter::once(step.clone()).chain(others).collect::<Vec<_>>().join(" + ")
    };
    steps.into_iter().map(together).collect()
}

fn is_ground(node: &str, ground: &str) -> bool {
    node == ground || node == "gnd"
}

/// The ends a part joins when it lies in series with the current.
fn in_series(part: &VariantPart) -> Vec<[&str; 2]> {
    match (part.kind.name, part.nodes.as_slice()) {
        ("resistor" | "inductor" | "diode" | "law" | "voltage-source", [a, b]) => vec![[a, b]],
        ("mosfet" | "bipolar", _) => main_ends(part),
        _ => Vec::new(),
    }
}

/// The ends between which a regulating device carries its main current.
fn main_ends(part: &VariantPart) -> Vec<[&str; 2]> {
    let node = |terminal: &str| {
        let at = part.terminals.iter().position(|t| *t == terminal)?;
        part.nodes.get(at).map(String::as_str)
    };
    let pair = match part.kind.name {
        "mosfet" => node("source").zip(node("drain")),
        "bipolar" => node("emitter").zip(node("collector")),
        _ => match part.nodes.as_slice() {
            [a, b] => Some((a.as_str(), b.as_str())),
            _ => None,
        },
    };
    pair.into_iter().map(|(a, b)| [a, b]).collect()
}

/// Names of the parts on a shortest way between two nodes that does not lead through ground.
fn walk<'a>(
    parts: &'a [VariantPart],
    (from, to): (&'a str, &str),
    ground: &str,
    ends: impl Fn(&'a VariantPart) -> Vec<[&'a str; 2]>,
) -> Option<Vec<String>> {
    let edges: Vec<(&VariantPart, [&str; 2])> =
        parts.iter().flat_map(|part| ends(part).into_iter().map(move |e| (part, e))).collect();
    // For each node reached: the node before it and the part between.
    let mut reached: BTreeMap<&str, Option<(&str, &str)>> = BTreeMap::from([(from, None)]);
    let mut front = vec![from];
    while !front.is_empty() && !reached.contains_key(to) {
        let mut next = Vec::new();
        for node in front {
            for (part, [a, b]) in &edges {
                let far = if *a == node { *b } else { *a };
                let touches = *a == node || *b == node;
                if touches && !is_ground(far, ground) && !reached.contains_key(far) {
                    reached.insert(far, Some((node, &part.name)));
                    next.push(far);
                }
            }
        }
        front = next;
    }
    let mut steps = Vec::new();
    let mut at = *reached.get(to)?;
    while let Some((node, part)) = at {
        steps.push(part.to_owned());
        at = *reached.get(node)?;
    }
    steps.reverse();
    Some(steps)
}
