//! What parts with states did, in order of time.

use super::Page;
use crate::output::number::engineering;
use crate::output::report::TestReport;

/// So many are told; the rest stand in the summary.
const MOST_TOLD: usize = 12;

/// One paragraph; nothing where no part has a state.
pub(super) fn write(page: &mut Page, test: &TestReport) {
    let Some(events) = &test.events else { return };
    let count = test.event_count.unwrap_or(events.len());
    if count == 0 {
        page.paragraph(2, "events: ", "none");
        return;
    }
    let told = events.iter().take(MOST_TOLD);
    let mut told: Vec<String> = told
        .map(|event| format!("{} {} {}", engineering(event.time_s, "s", 6), event.part, event.what))
        .collect();
    if count > told.len() {
        told.push(format!("and {} more", count - told.len()));
    }
    page.paragraph(2, "events: ", &told.join("; "));
}
