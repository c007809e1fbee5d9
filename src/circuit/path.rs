//! The way of the current from the source through the pass device to the output, as far as parts join
//! these places in series.

use super::{RailFigures, Variant, VariantPart};
use std::collections::BTreeMap;

/// A part on the way, and the nodes it is entered and left by.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PathStep {
    /// Its name.
    pub part: String,
    /// The node towards the source.
    pub from: String,
    /// The node towards the output.
    pub to: String,
}

/// The two stretches of the way.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SeriesPath {
    /// From the source to the input pin, the source itself left out.
    pub before: Vec<PathStep>,
    /// From the input pin to the output.
    pub after: Vec<PathStep>,
}

impl SeriesPath {
    /// The shortest way that does not lead through ground; `None` where something of it is not named,
    /// where parts do not join the places in series, or where no pass device lies on it.
    pub fn of(variant: &Variant, rail: &RailFigures) -> Option<Self> {
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
        let has_pass = after.iter().any(|step| rail.pass.contains(&step.part));
        has_pass.then_some(Self { before, after })
    }
}

fn is_ground(node: &str, ground: &str) -> bool {
    node == ground || node == "gnd"
}

/// The ends a part joins when it lies in series with the current.
fn in_series(part: &VariantPart) -> Vec<[&str; 2]> {
    match (part.kind.name, part.nodes.as_slice()) {
        ("resistor" | "inductor" | "diode" | "law" | "voltage-source", [a, b]) => vec![[a, b]],
        ("mosfet" | "bipolar" | "current-limit", _) => main_ends(part),
        _ => Vec::new(),
    }
}

/// The ends between which a regulating device carries its main current.
pub fn main_ends(part: &VariantPart) -> Vec<[&str; 2]> {
    let node = |terminal: &str| {
        let at = part.terminals.iter().position(|t| *t == terminal)?;
        part.nodes.get(at).map(String::as_str)
    };
    let pair = match part.kind.name {
        "mosfet" => node("source").zip(node("drain")),
        "bipolar" => node("emitter").zip(node("collector")),
        "current-limit" => node("input").zip(node("output")),
        "adjustable-shunt" => node("cathode").zip(node("anode")),
        _ => match part.nodes.as_slice() {
            [a, b] => Some((a.as_str(), b.as_str())),
            _ => None,
        },
    };
    pair.into_iter().map(|(a, b)| [a, b]).collect()
}

/// The parts on a shortest way between two nodes that does not lead through ground.
fn walk<'a>(
    parts: &'a [VariantPart],
    (from, to): (&'a str, &str),
    ground: &str,
    ends: impl Fn(&'a VariantPart) -> Vec<[&'a str; 2]>,
) -> Option<Vec<PathStep>> {
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
    let mut at = to;
    while let Some((node, part)) = *reached.get(at)? {
        let (part, from, to) = (part.to_owned(), node.to_owned(), at.to_owned());
        steps.push(PathStep { part, from, to });
        at = node;
    }
    steps.reverse();
    Some(steps)
}
