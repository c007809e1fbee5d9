//! `tune.svg`: all candidates over the first two things that are tuned; over the margin where only one
//! is.

use super::{View, percent};
use crate::output::number::{counted, engineering};
use crate::output::plot::chart::{Axis, Choices, Outcome, Scale, choices_svg};
use crate::quantity::Dimension;
use crate::study::tune::{Bound, Fate, Stage, Standing, Tuned};

/// Units that ticks may carry.
const UNITS: [&str; 9] = ["F", "Ω", "H", "V", "A", "s", "Hz", "S", "K"];
/// Margins are drawn no farther down.
const LEAST_MARGIN: f64 = -1.0;

pub(super) fn svg(view: &View<'_>) -> String {
    choices_svg(&choices(view))
}

fn choices(view: &View<'_>) -> Choices {
    let tuning = view.tuning;
    let tuned = tuning.tuned.as_slice();
    let place = |s: &Standing| {
        let x = s.candidate.values.first().copied().unwrap_or(f64::NAN);
        (x, s.candidate.values.get(1).copied().unwrap_or_else(|| margin(s)))
    };
    let mut points: Vec<(f64, f64, Outcome)> = Vec::new();
    for s in tuning.standings.iter().filter(|s| !s.candidate.places.is_empty()) {
        let ((x, y), outcome) = (place(s), outcome(s));
        // With more than two things tuned, several lie at one place: the best is shown.
        match points.iter_mut().find(|p| (p.0, p.1) == (x, y)) {
            Some(known) if better(outcome, known.2) => known.2 = outcome,
            Some(_) => {}
            None => points.push((x, y, outcome)),
        }
    }
    let named = |k: Option<usize>, words: &str| {
        let s = k.and_then(|k| view.standing(k))?;
        let (x, y) = place(s);
        Some((x, y, format!("{words}: {}", view.values(s).join(", "))))
    };
    let x = tuned.first().map_or_else(Axis::default, axis);
    let label = "least margin to a limit".to_owned();
    let margins = Axis { label, unit: "1", scale: Scale::Linear, range: None };
    let y = tuned.get(1).map_or(margins, axis);
    let present = tuning.present.filter(|k| Some(*k) != tuning.choice);
    Choices {
        title: format!("{}: choice of values", view.plan.circuit.title),
        subtitle: subtitle(view),
        caption: caption(view),
        x,
        y,
        points,
        choice: named(tuning.choice, "choice"),
        present: named(present, "as it stands"),
        allowed: allowed(view),
    }
}

fn margin(s: &Standing) -> f64 {
    let score = match &s.fate {
        Fate::Meets => s.margin(),
        Fate::Misses { spot, .. } => spot.score(),
    };
    score.clamp(LEAST_MARGIN, 1.0)
}

fn outcome(s: &Standing) -> Outcome {
    match &s.fate {
        Fate::Meets => Outcome::Meets,
        Fate::Misses { spot, .. } if spot.stage == Stage::Nominal => Outcome::MissesNominal,
        Fate::Misses { .. } => Outcome::MissesWorst,
    }
}

fn better(a: Outcome, b: Outcome) -> bool {
    let rank = |outcome| match outcome {
        Outcome::Meets => 0,
        Outcome::MissesWorst => 1,
        Outcome::MissesNominal => 2,
    };
    rank(a) < rank(b)
}

fn axis(tuned: &Tuned) -> Axis {
    let symbol = tuned.dimension.symbol();
    let unit = UNITS.into_iter().find(|unit| *unit == symbol).unwrap_or("");
    let ratio = tuned.choices.first().zip(tuned.choices.last());
    let wide = ratio.is_some_and(|(a, b)| a.1 > 0.0 && b.1 / a.1 >= 4.0);
    let scale =
        if wide && tuned.dimension != Dimension::NONE { Scale::Logarithmic } else { Scale::Linear };
    Axis { label: tuned.label.clone(), unit, scale, range: None }
}

fn subtitle(view: &View<'_>) -> String {
    let Some(s) = view.tuning.choice.and_then(|k| view.standing(k)) else {
        return format!("verdict {}: no candidate meets what was asked", view.verdict());
    };
    let left = match view.tuning.not_cured.len() {
        0 => String::new(),
        1 => "; 1 requirement that no choice cures is left out".to_owned(),
        n => format!("; {n} requirements that no choice cures are left out"),
    };
    let words = view.choice_words(s);
    format!("verdict {}: {words}, least margin {}{left}", view.verdict(), percent(s.margin()))
}

fn caption(view: &View<'_>) -> Vec<String> {
    let mut lines = vec![format!(
        "{} held against, {}; {}",
        counted(view.scope.moved.len(), "test"),
        if view.tuning.nominal {
            "at nominal values only"
        } else {
            "at every corner and at the worst limits of tolerances"
        },
        view.ended()
    )];
    for region in &view.tuning.regions {
        let range = |bound: &Bound, unit: &str| {
            let text = |v: f64| engineering(v, unit, super::DIGITS);
            format!("{} to {}", text(bound.low.value), text(bound.high.value))
        };
        lines.push(format!(
            "allowed for {}: {} and ESR {} effective; drawn where the tuned values come to that",
            region.part,
            range(&region.capacitance, "F"),
            range(&region.esr, "Ω")
        ));
    }
    lines.push("calculated, not measured".to_owned());
    lines
}

/// The first region whose capacitance and ESR are what the two axes are, in the values of the axes.
fn allowed(view: &View<'_>) -> Option<[f64; 4]> {
    let [x, y, ..] = view.tuning.tuned.as_slice() else { return None };
    let s = view.tuning.choice.and_then(|k| view.standing(k))?;
    let of = |tuned: &Tuned, part: &str| match tuned.touches.as_slice() {
        [(name, key)] if name == part => Some(*key),
        _ => None,
    };
    view.tuning.regions.iter().find_map(|region| {
        let pick = |tuned: &Tuned, value: f64| {
            let bound = match of(tuned, &region.part)? {
                "capacitance" => &region.capacitance,
                "esr" => &region.esr,
                _ => return None,
            };
            Some([bound.low.value, bound.high.value].map(|v| v * value / bound.choice))
        };
        let values = s.candidate.values.as_slice();
        let (across, up) = (pick(x, *values.first()?)?, pick(y, *values.get(1)?)?);
        Some([across[0], across[1], up[0], up[1]])
    })
}
