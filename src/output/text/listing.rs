//! Listings in the text of a run.

use super::{Page, plain_table, write_rows};
use crate::output::number::engineering;
use crate::output::printable;
use crate::output::report::{ListingReport, TestReport};
use serde_json::Value;

/// One line a measurement instead of a table.
pub(in crate::output) const SENSITIVITIES: &str = "sensitivities";
/// Why each differs from its label stands once, under what was understood.
pub(in crate::output) const CAPACITORS: &str = "capacitors";
/// A listing with more rows than this is told for one condition only.
const MOST_ROWS: usize = 16;

/// Figures that belong together, under their title.
pub(in crate::output) fn write(page: &mut Page, test: &TestReport, listing: &ListingReport) {
    if listing.rows.is_empty() {
        return;
    }
    if listing.name == SENSITIVITIES {
        write_sensitivities(page, listing);
        return;
    }
    page.paragraph(2, "", &format!("{}:", listing.title));
    // A column in which nothing stands tells nothing.
    let filled: Vec<usize> = (0..listing.columns.len())
        .filter(|k| {
            let empty = |v: &Value| v.is_null() || v.as_str().is_some_and(str::is_empty);
            let told_above = listing.name == CAPACITORS && listing.columns[*k].name == "why";
            !told_above && listing.rows.iter().any(|row| row.get(*k).is_some_and(|v| !empty(v)))
        })
        .collect();
    let heads: Vec<String> =
        filled.iter().map(|k| listing.columns[*k].name.replace('_', " ")).collect();
    let mut table = plain_table(page.width, heads);
    let shown = shown_rows(test, listing);
    for row in &shown {
        let cells = filled.iter().map(|k| match row.get(*k) {
            Some(Value::Number(number)) => {
                let value = number.as_f64().unwrap_or(f64::NAN);
                engineering(value, &listing.columns[*k].unit, 3)
            }
            Some(Value::String(text)) => printable(text),
            _ => String::new(),
        });
        table.add_row(cells);
    }
    let number =
        |k: &usize| listing.rows.iter().any(|row| row.get(*k).is_some_and(Value::is_number));
    let right: Vec<usize> =
        filled.iter().enumerate().filter(|(_, k)| number(k)).map(|(at, _)| at).collect();
    write_rows(page, &mut table, &right);
    if shown.len() < listing.rows.len() {
        let rest = listing.rows.len() - shown.len();
        page.paragraph(4, "", &format!("({rest} more rows at other conditions in summary.json)"));
    }
}

/// All rows, or of many those at the condition that decided the test: the one named by the first
/// judged measurement that names one, worst verdict first.
pub(in crate::output) fn shown_rows<'a>(
    test: &TestReport,
    listing: &'a ListingReport,
) -> Vec<&'a Vec<Value>> {
    let at = listing.columns.iter().position(|c| c.name == "condition");
    let all = || listing.rows.iter().collect();
    let (Some(at), true) = (at, listing.rows.len() > MOST_ROWS) else { return all() };
    // One row a condition is the overview that people want.
    if listing.rows.windows(2).all(|pair| pair[0].get(at) != pair[1].get(at)) {
        return all();
    }
    let judged = |verdict: &str| {
        let rows = test.measurements.iter().filter(|m| m.limit.is_some() && m.verdict == verdict);
        rows.filter(|m| m.name != "window").find_map(|m| m.settings.get("condition"))
    };
    let decided = ["fail", "not-evaluated", "marginal", "pass"].into_iter().find_map(judged);
    let first = || listing.rows.first().and_then(|row| row.get(at));
    let Some(condition) = decided.or_else(first) else { return all() };
    listing.rows.iter().filter(|row| row.get(at) == Some(condition)).collect()
}

/// `phase_margin: c_out -0.182 deg, EA.lag_resistance 0.381 deg`, the strongest first. How far a
/// window's distance moves follows from the output, and is left to the file.
fn write_sensitivities(page: &mut Page, listing: &ListingReport) {
    let lines = sensitivities(listing);
    if lines.is_empty() {
        return;
    }
    page.paragraph(2, "", "depends most on, per +1 % of:");
    for (name, told) in lines {
        page.paragraph(4, &format!("{name}: "), &told.join(", "));
    }
}

/// For each measurement what it depends on most: `c_out -0.182 deg`, strongest first.
pub(in crate::output) fn sensitivities(listing: &ListingReport) -> Vec<(String, Vec<String>)> {
    let at = |name: &str| listing.columns.iter().position(|c| c.name == name);
    let text = |row: &[Value], column: Option<usize>| {
        let cell = column.and_then(|k| row.get(k));
        cell.and_then(Value::as_str).unwrap_or("").to_owned()
    };
    let (measurement, value) = (at("measurement"), at("value"));
    let (step, change) = (at("step"), at("change"));
    let mut lines: Vec<(String, Vec<String>)> = Vec::new();
    for row in &listing.rows {
        let name = text(row, measurement);
        if name.ends_with("window") || name == "all" {
            continue;
        }
        let steps = text(row, step);
        let by = if steps == "+1 %" || steps.is_empty() {
            String::new()
        } else {
            format!(" per {steps}")
        };
        let told = format!("{} {}{by}", text(row, value), text(row, change));
        match lines.iter_mut().find(|(known, _)| *known == name) {
            Some((_, told_before)) => told_before.push(told),
            None => lines.push((name, vec![told])),
        }
    }
    lines
}
