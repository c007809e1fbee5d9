//! What ends the text of a run: notes, the verdict of the whole.

use super::{name_text, value_text};
use crate::output::report::Report;

/// Said once, however many rows it concerns.
pub(in crate::output) fn uncertainty_notes(report: &Report) -> Vec<String> {
    let judged = report
        .tests
        .iter()
        .flat_map(|t| &t.measurements)
        .filter(|m| m.limit.is_some() && m.value.is_some());
    let (known, unknown): (Vec<_>, Vec<_>) =
        judged.partition(|m| m.numerical_uncertainty.is_some_and(f64::is_finite));
    let mut notes = Vec::new();
    if !known.is_empty() {
        notes.push(
            "± is the numerical uncertainty of the solution, not the accuracy of the rail"
                .to_owned(),
        );
    }
    if !unknown.is_empty() {
        let place = if known.is_empty() { "" } else { " where no ± stands" };
        let consequence = if report.tests.iter().any(|t| t.condition.quick) {
            ": values are judged alone"
        } else {
            ""
        };
        notes.push(format!("numerical uncertainty not evaluated{place}{consequence}"));
    }
    notes
}

/// `verdict: fail (3 tests: 1 fail, 2 pass)`
pub(in crate::output) fn verdict_line(report: &Report) -> String {
    const WORST_FIRST: [&str; 6] =
        ["fail", "error", "not-evaluated", "marginal", "pass", "no-requirements"];
    let counts: Vec<String> = WORST_FIRST
        .iter()
        .map(|word| (word, report.tests.iter().filter(|t| t.verdict == **word).count()))
        .filter(|(_, count)| *count > 0)
        .map(|(word, count)| format!("{count} {word}"))
        .collect();
    let tests = match report.tests.len() {
        0 => "no tests".to_owned(),
        1 => "1 test".to_owned(),
        n => format!("{n} tests: {}", counts.join(", ")),
    };
    format!("verdict: {} ({tests})", report.verdict)
}

/// As many lines of what fails as are read at a glance; the rest stands with its test.
const MOST_NAMED: usize = 8;

/// `transmit burst: droop 44.4 mV, limit <= 30 mV`, of requirements that count.
pub(super) fn what_fails(report: &Report) -> Vec<String> {
    let failing = report.tests.iter().flat_map(|test| {
        let counts = test.measurements.iter().filter(|m| m.verdict == "fail" && !m.advisory);
        counts.map(move |m| {
            let value = m.value.map_or_else(
                || "not measured".to_owned(),
                |value| value_text(value, m, test.condition.accuracy_v),
            );
            let limit = m.limit.as_deref().unwrap_or_default();
            format!("{}: {} {value}, limit {limit}", test.name, name_text(m))
        })
    });
    let mut lines: Vec<String> = failing.collect();
    let more = lines.len().saturating_sub(MOST_NAMED);
    if more > 0 {
        lines.truncate(MOST_NAMED);
        lines.push(format!("and {more} more"));
    }
    lines
}
