//! What the names of required measurements mean.

use super::Page;
use crate::output::report::Report;

/// Each name once, in the order of the tests.
pub(in crate::output) fn told(report: &Report) -> Vec<(&str, &str)> {
    let mut told: Vec<(&str, &str)> = Vec::new();
    for m in report.tests.iter().flat_map(|t| &t.measurements).filter(|m| m.limit.is_some()) {
        if !m.definition.is_empty() && !told.contains(&(&m.name, &m.definition)) {
            told.push((&m.name, &m.definition));
        }
    }
    told
}

pub(super) fn write(page: &mut Page, report: &Report) {
    let told = told(report);
    if told.is_empty() {
        return;
    }
    page.blank();
    page.paragraph(0, "", "definitions");
    for (name, definition) in told {
        page.paragraph(2, &format!("{name}: "), definition);
    }
}
