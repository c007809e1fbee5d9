//! What several models of one regulator make of each requirement: which conclusions rest on the
//! datasheet, and which on what is assumed inside.

use super::Page;
use crate::output::number::engineering;
use crate::output::report::{MeasurementReport, OverModelsReport, TestReport};

/// Instead of a range of which both ends read alike.
const SAME: &str = "the same";
/// Names of failing models that are told; the summary has all.
const MOST_NAMES: usize = 4;

/// `20.4 .. 28.1 mV`; empty where models were not tried.
pub(in crate::output) fn range_text(m: &MeasurementReport) -> String {
    let Some(of) = &m.over_models else { return String::new() };
    match (of.lowest, of.highest) {
        (Some(low), Some(high)) => {
            let [low, high] = [low, high].map(|value| engineering(value, &m.unit, 4));
            if low == high {
                return SAME.to_owned();
            }
            // A unit that both share stands once.
            let unit = |text: &str| text.rsplit_once(' ').map(|(_, unit)| unit.to_owned());
            match (low.rsplit_once(' '), unit(&high)) {
                (Some((number, of_low)), Some(of_high)) if of_low == of_high => {
                    format!("{number} .. {high}")
                }
                _ => format!("{low} .. {high}"),
            }
        }
        _ => "–".to_owned(),
    }
}

/// `; worst of 5 models`, to stand behind the conditions.
pub(in crate::output) fn count_text(test: &TestReport) -> String {
    let models = test.measurements.iter().find_map(|m| Some(m.over_models.as_ref()?.models.len()));
    models.map(|n| format!("; worst of {n} models")).unwrap_or_default()
}

/// The section below the table of a test.
pub(in crate::output) fn write(
    page: &mut Page,
    test: &TestReport,
    measurements: &[&MeasurementReport],
) {
    let tried = measurements.iter().filter_map(|m| Some((*m, m.over_models.as_ref()?)));
    let tried: Vec<(&MeasurementReport, &OverModelsReport)> = tried.collect();
    if tried.is_empty() {
        return;
    }
    let (firm, open): (Vec<_>, Vec<_>) = tried.iter().partition(|(_, of)| of.rests_on != "inside");
    let holds = |of: &OverModelsReport| of.failing.is_empty();
    for (word, which) in [("holds with every model", true), ("holds with no model", false)] {
        let mut names: Vec<String> = Vec::new();
        for (m, _) in firm.iter().filter(|(_, of)| holds(of) == which) {
            let name = format!("{} {}", super::name_text(m), limit_of(m));
            if !names.contains(&name) {
                names.push(name);
            }
        }
        if !names.is_empty() {
            let text = format!("{word}: {}", names.join("; "));
            let lead = match firm.first().map(|(_, of)| of.rests_on.as_str()) {
                Some("datasheet") => "rest on the datasheet: ",
                _ => "the same with all models, which miss points of the datasheet: ",
            };
            page.paragraph(2, lead, &text);
        }
    }
    for (m, of) in &open {
        let text = format!("{} {}: {}", super::name_text(m), limit_of(m), inside_text(of));
        page.paragraph(2, "rest on what is assumed inside: ", &text);
    }
    arguments(page, test, &tried);
}

fn limit_of(m: &MeasurementReport) -> &str {
    m.limit.as_deref().unwrap_or("")
}

/// `fails with 2 of 5 models (…); it goes most with U1.mid_gain (rank correlation -0.90)`
fn inside_text(of: &OverModelsReport) -> String {
    let mut names: Vec<String> =
        of.failing.iter().take(MOST_NAMES).map(|name| format!("`{name}`")).collect();
    if of.failing.len() > MOST_NAMES {
        names.push(format!("{} more", of.failing.len() - MOST_NAMES));
    }
    let goes = match &of.goes_with {
        Some(with) => format!(
            "; it goes most with {} (rank correlation {:.2} over the models)",
            with.path, with.rank_correlation
        ),
        None => String::new(),
    };
    let (failing, models) = (of.failing.len(), of.models.len());
    format!("does not hold with {failing} of {models} models ({}){goes}", names.join(", "))
}

/// The worst models by name; the arguments that make one again where a verdict hangs on it.
fn arguments(
    page: &mut Page,
    test: &TestReport,
    tried: &[(&MeasurementReport, &OverModelsReport)],
) {
    let mut known: Vec<(&OverModelsReport, bool, Vec<&str>)> = Vec::new();
    // Where all come to the same, no model is worse than another.
    for (m, of) in tried.iter().filter(|(m, _)| range_text(m) != SAME) {
        let decides = of.rests_on != "datasheet" || m.verdict != "pass";
        match known.iter_mut().find(|(other, ..)| other.set == of.set) {
            Some((_, any, names)) => {
                *any |= decides;
                if !names.contains(&m.name.as_str()) {
                    names.push(&m.name);
                }
            }
            None => known.push((of, decides, vec![&m.name])),
        }
    }
    let cornered = test.measurements.iter().any(|m| m.corner.is_some());
    let at = if cornered { " at its corner" } else { "" };
    let mut others: Vec<String> = Vec::new();
    for (of, decides, names) in known {
        let (model, names) = (&of.worst_model, names.join(", "));
        if decides {
            let lead = format!("worst with model `{model}`{at}: ");
            page.paragraph(2, &lead, &format!("{}: {names}", of.set));
        } else {
            others.push(format!("`{model}` ({names})"));
        }
    }
    if !others.is_empty() {
        let text = format!("{}; their arguments stand in summary.json", others.join(", "));
        page.paragraph(2, &format!("worst models{at}: "), &text);
    }
}
