//! Through which terminals the pass devices deliver to the output.

use crate::circuit::{RailFigures, SeriesPath, Variant, VariantPart, main_ends};

/// Part and terminal of every pass device that ends towards the output; what comes out of these
/// together flows from input to output. A device that only drives the control terminal of another
/// one is left out, for its current comes out of that one.
pub(in crate::trial) fn pass_terminals(
    variant: &Variant,
    rail: &RailFigures,
) -> Vec<(String, usize)> {
    let path = SeriesPath::of(variant, rail);
    let steps = path.iter().flat_map(|p| &p.after).filter(|s| rail.pass.contains(&s.part));
    let (mut near_input, mut near_output) = (Vec::new(), Vec::new());
    near_input.extend(rail.input.as_deref());
    near_output.extend(rail.output.as_deref());
    for step in steps {
        near_input.push(&step.from);
        near_output.push(&step.to);
    }
    let devices: Vec<&VariantPart> = rail.pass.iter().filter_map(|n| variant.part(n)).collect();
    let controls: Vec<&str> = devices.iter().filter_map(|part| control(part)).collect();
    let mut found = Vec::new();
    for part in &devices {
        for [a, b] in main_ends(part) {
            let to = if near_output.contains(&b) || near_input.contains(&a) {
                b
            } else if near_output.contains(&a) || near_input.contains(&b) {
                a
            } else {
                continue;
            };
            if !controls.contains(&to)
                && let Some(terminal) = main_terminal(part, to)
            {
                found.push((part.name.clone(), terminal));
            }
        }
    }
    found
}

/// The node of a transistor's control terminal.
fn control(part: &VariantPart) -> Option<&str> {
    let at = part.terminals.iter().position(|t| ["base", "gate"].contains(&&**t))?;
    part.nodes.get(at).map(String::as_str)
}

/// Which terminal of a device's main ends lies at a node.
fn main_terminal(part: &VariantPart, node: &str) -> Option<usize> {
    let is_main = |terminal: &str| !["base", "gate", "bulk", "body"].contains(&terminal);
    part.nodes
        .iter()
        .enumerate()
        .find(|(k, n)| *n == node && part.terminals.get(*k).is_none_or(|t| is_main(t)))
        .map(|(k, _)| k)
}
