//! What each test drives, and what it changes.

use crate::device::Drive;
use crate::output::number::trimmed;
use crate::plan::Plan;
use crate::quantity::{Dimension, trimmed as plain};
use crate::trial::{Driven, Excitation, Motion, Mover, StepMotion, Test, excite};
use std::fmt::Write as _;

/// `burst: load-step of I_RADIO 2 mA → 180 mA, edge 100 ns, hold 600 µs; v_cell = 2.95 V`
pub(super) fn line(plan: &Plan, test: &Test) -> String {
    let mut parts = vec![format!("{}: {}", test.name, motion(plan, test))];
    parts.extend(test.changes.list.iter().map(|c| match c.path.as_str() {
        "rail.ambient" => format!("ambient {}", c.text),
        path => format!("{path} = {}", c.text),
    }));
    parts.join("; ")
}

fn motion(plan: &Plan, test: &Test) -> String {
    let word = test.kind.word();
    let mut changes = plan.changes.clone();
    changes.list.extend(test.changes.list.iter().cloned());
    // A plan holds only tests that can be worked out.
    let Some(variant) = plan.circuit.variant(&changes).ok() else { return word.to_owned() };
    let Some(excitation) = excite(test, &variant).ok() else { return word.to_owned() };
    let at = |driven: &Option<Driven>| {
        let driven = driven.as_ref()?;
        let given = excitation.drives.iter().find(|(part, _)| *part == driven.part).map(|d| &d.1);
        let drive = given.or(variant.part(&driven.part)?.parameters.drive.as_ref())?;
        Some(format!("{} {}", driven.part, levels(drive, driven.dimension)))
    };
    match &test.motion {
        Motion::Step(step) => {
            let (mover, other) = match step.mover {
                Mover::Load => (&test.load, &test.source),
                Mover::Source => (&test.source, &test.load),
            };
            let moved = mover.as_ref().map_or_else(String::new, |driven| {
                let [from, to] =
                    [&step.from, &step.to].map(|p| level(variant.evaluate(p), driven.dimension));
                format!(" of {} {from} → {to}", driven.part)
            });
            let beside = at(other).map_or_else(String::new, |told| format!(", with {told}"));
            format!("{word}{moved}{}{beside}", times(&excitation, step))
        }
        Motion::Ramp(_) => {
            let moved = match (&excitation.by_words, &test.source, &excitation.source_words) {
                (Some((part, told)), ..) => format!(" by {part} {told}"),
                (None, Some(source), Some(told)) => format!(" of {} {told}", source.part),
                _ => String::new(),
            };
            let source = at(&test.source).filter(|_| excitation.by_words.is_some());
            let beside: Vec<String> = [source, at(&test.load)].into_iter().flatten().collect();
            let with = if beside.is_empty() { "" } else { ", with " };
            let watched = trimmed(excitation.end_s, "s");
            format!("{word}{moved} for {watched}{with}{}", beside.join(", "))
        }
        Motion::Steady(_) => {
            let told = |driven: &Option<Driven>, words: &Option<String>| match (driven, words) {
                (Some(driven), Some(words)) => Some(format!("{} {words}", driven.part)),
                _ => at(driven),
            };
            let source = told(&test.source, &excitation.source_words);
            let load = told(&test.load, &excitation.load_words);
            let ambient = excitation.ambient_words.as_ref().map(|words| format!("at {words}"));
            let all = [Some(word.to_owned()), source, load, ambient];
            all.into_iter().flatten().collect::<Vec<_>>().join(", ")
        }
        Motion::Short(_) | Motion::Pulses(_) => {
            let moved = match (&test.load, &excitation.load_words) {
                (Some(driven), Some(words)) => Some(format!("{} {words}", driven.part)),
                (None, Some(words)) => Some(words.clone()),
                _ => None,
            };
            let all = [Some(word.to_owned()), moved, at(&test.source)];
            all.into_iter().flatten().collect::<Vec<_>>().join(", ")
        }
        Motion::Rest | Motion::Profile(_) => {
            let watched = (excitation.end_s > 0.0)
                .then(|| format!(" for {}", trimmed(excitation.end_s, "s")));
            let driven: Vec<String> =
                [at(&test.source), at(&test.load)].into_iter().flatten().collect();
            let driven =
                if driven.is_empty() { "nothing driven".to_owned() } else { driven.join(", ") };
            format!("{word}{}, {driven}", watched.unwrap_or_default())
        }
    }
}

/// Edges and dwells of a step, as they came out.
fn times(excitation: &Excitation, step: &StepMotion) -> String {
    let length = |k: usize| excitation.edges.get(k).map_or(0.0, |e| e.end_s - e.start_s);
    // A difference of two instants carries rounding that a duration as written has not.
    let edge = excitation.edge_s.unwrap_or_else(|| length(0));
    let back = length(1);
    let dwell =
        |k: usize| excitation.dwells.get(k).map_or(0.0, |d| d.window.to_s - d.window.from_s);
    let mut told = format!(", edge {}", trimmed(edge, "s"));
    if (back - edge).abs() > 1e-6 * edge.max(back) {
        let _ = write!(told, ", edge back {}", trimmed(back, "s"));
    }
    let (hold, settle) = (trimmed(dwell(1), "s"), trimmed(dwell(2), "s"));
    let _ = write!(told, ", hold {hold}");
    if settle != hold {
        let _ = write!(told, ", settle {settle}");
    }
    if step.repeat > 1 {
        let _ = write!(told, ", {} times", step.repeat);
    }
    told
}

fn level(level: f64, dimension: Dimension) -> String {
    plain(level, &dimension.symbol(), 4)
}

/// A steady level, or the extremes of one that moves.
fn levels(drive: &Drive, dimension: Dimension) -> String {
    use crate::device::Shape;
    match &drive.shape {
        None => level(drive.constant, dimension),
        Some(Shape::Points { points, .. }) => {
            let (low, high) = drive.range();
            let count = points.len();
            format!("{count} points, {} to {}", level(low, dimension), level(high, dimension))
        }
        Some(Shape::Sine { amplitude, frequency_hz, .. }) => format!(
            "{} ± {} at {}",
            level(drive.constant, dimension),
            level(amplitude.abs(), dimension),
            trimmed(*frequency_hz, "Hz")
        ),
        Some(Shape::Pieces(_)) => {
            let (low, high) = drive.range();
            format!("{} to {}", level(low, dimension), level(high, dimension))
        }
    }
}
