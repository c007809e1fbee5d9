//! The way of the current from the source through the pass device to the output.

use crate::circuit::{PathStep, RailFigures, SeriesPath, Variant, main_ends};

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
    let path = SeriesPath::of(variant, rail)?;
    let parts = |steps: Vec<PathStep>| steps.into_iter().map(|step| step.part).collect::<Vec<_>>();
    let mut steps = vec![rail.source.clone()?];
    steps.extend(parts(path.before));
    steps.extend(rail.input.clone());
    steps.extend(beside(parts(path.after), variant, rail));
    steps.extend(rail.output.clone());
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
