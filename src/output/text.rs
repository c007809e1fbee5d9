//! The text of a run for a terminal: what was understood, one table a test, cautions, verdict.
//!
//! Plain characters without colour. Numbers are rounded for people; `summary.json` has them all.

use std::fmt::Write as _;

use comfy_table::{CellAlignment, ContentArrangement, Table};
use serde_json::Value;

use super::advice;
use super::number::{above_noise, difference, engineering, trimmed, with_uncertainty};
use super::printable;
use super::report::{
    Condition, ErrorReport, ExplanationReport, MeasurementReport, OperatingPointReport, PartState,
    Report, TestReport,
};
use super::wrap::wrap;

pub(super) mod closing;
pub(super) mod corners;
pub(super) mod definitions;
mod events;
pub(super) mod listing;
pub(super) mod models;

/// A current (A) or power (W) at rest below this is what an iteration leaves of zero.
const LEFT_OF_ZERO: f64 = 1e-11;
const NARROWEST: usize = 60;
/// The most characters of a line.
pub const WIDEST: usize = 100;

/// The text of a whole run, at most `width` characters a line (held between 60 and 100).
///
/// `understood` are the lines that tell what was read: rail, path from source to output, set
/// voltage, output capacitors, and what each test drives.
pub fn run_text(report: &Report, width: usize, understood: &[String]) -> String {
    run_text_with(report, width, understood, &[])
}

/// As [`run_text`], with the lines of a sketch for each test, in their order; none where a test has
/// none.
pub fn run_text_with(
    report: &Report,
    width: usize,
    understood: &[String],
    sketches: &[Vec<String>],
) -> String {
    let mut page = Page::new(width);
    page.paragraph(0, "", &report.title);
    page.paragraph(0, "", &report.file);
    if !understood.is_empty() {
        page.blank();
        page.paragraph(0, "", "understood");
        for line in understood {
            let indent = line.chars().take_while(|c| *c == ' ').count();
            page.paragraph(2 + indent.min(8), "", line);
        }
    }
    for (index, test) in report.tests.iter().enumerate() {
        page.blank();
        write_test(&mut page, test, sketches.get(index).map_or(&[], Vec::as_slice));
    }
    definitions::write(&mut page, report);
    page.blank();
    for note in closing::uncertainty_notes(report) {
        page.paragraph(0, "note: ", &note);
    }
    for caution in &report.cautions {
        page.paragraph(0, "caution: ", caution);
    }
    if !report.files.is_empty() {
        page.paragraph(0, "written: ", &report.files.join(", "));
    }
    if !report.stale.is_empty() {
        page.paragraph(0, "stale, from an earlier run: ", &report.stale.join(", "));
    }
    if !page.text.ends_with("\n\n") {
        page.blank();
    }
    page.paragraph(0, "", &closing::verdict_line(report));
    for line in closing::what_fails(report) {
        page.paragraph(2, "", &line);
    }
    page.paragraph(0, "", "calculated, not measured");
    page.text
}

/// Lines as they grow.
pub(super) struct Page {
    pub(super) text: String,
    pub(super) width: usize,
}

impl Page {
    /// An empty page, `width` characters wide (held between 60 and 100).
    pub(super) fn new(width: usize) -> Self {
        Self { text: String::new(), width: width.clamp(NARROWEST, WIDEST) }
    }

    /// A text after `lead`, wrapped; further lines hang two deeper.
    pub(super) fn paragraph(&mut self, indent: usize, lead: &str, text: &str) {
        let room = self.width.saturating_sub(indent + 2);
        for (index, line) in wrap(&printable(&format!("{lead}{text}")), room).iter().enumerate() {
            let indent = if index == 0 { indent } else { indent + 2 };
            let _ = writeln!(self.text, "{:indent$}{line}", "");
        }
    }

    pub(super) fn blank(&mut self) {
        self.text.push('\n');
    }
}

fn write_test(page: &mut Page, test: &TestReport, sketch: &[String]) {
    page.paragraph(0, "", &format!("{} ({}): {}", test.name, test.kind, test.verdict));
    page.paragraph(
        2,
        "conditions: ",
        &(condition_text(&test.condition) + &models::count_text(test)),
    );
    if let Some(error) = &test.error {
        page.paragraph(2, "", &error_text(error));
    }
    if let Some(point) = &test.operating_point {
        write_operating_point(page, point);
    }
    for line in sketch {
        let _ = writeln!(page.text, "  {}", printable(line).trim_end());
    }
    let (required, others): (Vec<_>, Vec<_>) =
        test.measurements.iter().partition(|m| m.limit.is_some());
    let accuracy_v = test.condition.accuracy_v;
    write_table(page, &required, test.operating_point.is_none(), accuracy_v);
    for measurement in &required {
        if let Some(reason) = &measurement.reason {
            page.paragraph(2, &format!("{}: ", measurement.name), reason);
        }
    }
    corners::write(page, &required);
    models::write(page, test, &required);
    let nominal = at_nominal(&test.condition);
    write_unrequired(page, &others, (accuracy_v, test.condition.nominal_only));
    events::write(page, test);
    if let Some(causes) = test.explanation.as_deref().filter(|causes| !causes.is_empty()) {
        page.paragraph(2, nominal, &explanation_text(test, causes));
    } else if let Some(limit) = &test.limited_by {
        page.paragraph(2, &format!("{nominal}limited by "), limit);
    }
    for note in &test.notes {
        page.paragraph(2, "", note);
    }
    for one in &test.listings {
        listing::write(page, test, one);
    }
    if let Some(text) = cross_check_text(test) {
        page.paragraph(2, "", &text);
    }
    if let Some(balance) = &test.balance {
        let (energy, charge) = (balance.energy_residual, balance.charge_residual);
        let stored = (balance.energy_residual_of_stored, balance.charge_residual_of_stored);
        let text = format!(
            "books: energy {energy:.1e}, charge {charge:.1e} of what passed; {:.1e}, {:.1e} of what \
             was stored",
            stored.0, stored.1,
        );
        page.paragraph(2, "", &text);
    }
}

/// The judged measurement in which both integration formulas differ most, relative to its value.
pub(super) fn cross_check_text(test: &TestReport) -> Option<String> {
    let differences = test.measurements.iter().filter(|m| m.limit.is_some()).filter_map(|m| {
        let (value, other) = (m.value?, m.cross_check?);
        Some((m, (value - other).abs(), (value - other).abs() / value.abs().max(f64::MIN_POSITIVE)))
    });
    let (worst, by, _) = differences.max_by(|a, b| a.2.total_cmp(&b.2))?;
    let by = engineering(by, &worst.unit, 2);
    Some(format!("cross-check: the second formula differs most in {}, by {by}", worst.name))
}

/// Everything that must stand beside a verdict.
pub(super) fn condition_text(condition: &Condition) -> String {
    let mut parts = Vec::new();
    if let Some(source) = &condition.source {
        parts.push(format!("source {source}"));
    } else if let Some(volts) = condition.source_v {
        parts.push(format!("source {}", engineering(volts, "V", 3)));
    }
    if let Some(load) = &condition.load {
        parts.push(format!("load {load}"));
    }
    if let Some(ambient) = condition.ambient_c {
        parts.push(format!("ambient {ambient} °C"));
    }
    if let Some(edge) = condition.edge_s.map(|edge| trimmed(edge, "s")) {
        // The words for what moves tell its edge already, where they can.
        let told = [&condition.load, &condition.source];
        if !told.into_iter().flatten().any(|words| words.contains(&format!(" in {edge}"))) {
            parts.push(format!("edge {edge}"));
        }
    }
    if let Some(watched) = condition.watched_s {
        parts.push(format!("watched for {}", trimmed(watched, "s")));
    }
    for (name, value) in &condition.values {
        parts.push(format!("{name} = {}", setting(value)));
    }
    parts.push(match condition.window_v {
        Some(window) => format!("window {}", range_text(window)),
        None => "no window given".to_owned(),
    });
    if let Some(window) = condition.transient_window_v
        && condition.transient_window_v != condition.window_v
    {
        parts.push(format!("transient window {}", range_text(window)));
    }
    parts.push(nominal_or_corners(condition).to_owned());
    parts.join("; ")
}

fn nominal_or_corners(condition: &Condition) -> &'static str {
    if condition.nominal_only {
        "nominal values only"
    } else {
        "each requirement at its worst corner, all else at nominal values"
    }
}

/// Said of what stands beside requirements that were judged elsewhere.
pub(super) fn at_nominal(condition: &Condition) -> &'static str {
    if condition.nominal_only { "" } else { "at nominal values: " }
}

fn range_text([low, high]: [f64; 2]) -> String {
    format!("{} .. {}", engineering(low, "V", 4), engineering(high, "V", 4))
}

pub(super) fn error_text(error: &ErrorReport) -> String {
    let mut text = match error.time_s {
        Some(time) => format!("could not be solved at {}", engineering(time, "s", 4)),
        None => "could not be solved".to_owned(),
    };
    if let Some(node) = &error.node {
        let _ = write!(text, ", node `{node}`");
    }
    if let Some(part) = &error.part {
        let _ = write!(text, ", part `{part}`");
    }
    if !error.message.is_empty() {
        let _ = write!(text, ": {}", error.message);
    }
    if !error.tried.is_empty() {
        let _ = write!(text, "; tried: {}", error.tried.join(", "));
    }
    text
}

fn write_operating_point(page: &mut Page, point: &OperatingPointReport) {
    let nodes: Vec<String> = point
        .nodes
        .iter()
        .map(|n| format!("{} {}", n.node, engineering(n.voltage, "V", 4)))
        .collect();
    if !nodes.is_empty() {
        page.paragraph(2, "nodes: ", &nodes.join(", "));
    }
    // A part that carries nothing and has no state, such as a capacitor at rest, tells nothing; what
    // an iteration leaves of zero is nothing too.
    let nothing = |x: Option<f64>| x.is_some_and(|x| x.abs() < LEFT_OF_ZERO);
    let idle = |s: &&PartState| s.region.is_none() && nothing(s.current) && nothing(s.power);
    let parts: Vec<&PartState> = point.parts.iter().filter(|s| !idle(s)).collect();
    if parts.is_empty() {
        return;
    }
    let mut table = plain_table(page.width, ["part", "current", "power", "region"]);
    for state in parts {
        let told =
            |value: Option<f64>, unit| value.map_or_else(String::new, |v| engineering(v, unit, 4));
        let region = state.region.clone().unwrap_or_default();
        let row = [state.part.clone(), told(state.current, "A"), told(state.power, "W"), region];
        table.add_row(row.map(|cell| printable(&cell)));
    }
    write_rows(page, &mut table, &[1, 2]);
}

/// A table without lines, as wide as the page allows.
pub(super) fn plain_table<T: Into<comfy_table::Row>>(width: usize, header: T) -> Table {
    let mut table = Table::new();
    table
        .load_style(comfy_table::presets::NOTHING)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(u16::try_from(width - 2).unwrap_or(u16::MAX))
        .set_header(header);
    table
}

/// The rows of a table, the columns of `right` set to the right.
pub(super) fn write_rows(page: &mut Page, table: &mut Table, right: &[usize]) {
    for column in table.column_iter_mut() {
        column.set_padding((0, 2));
    }
    for &column in right {
        if let Some(column) = table.column_mut(column) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    for line in table.trim_fmt().lines() {
        let _ = writeln!(page.text, "  {}", line.trim_end());
    }
}

/// A voltage whose uncertainty is not known is told down to what the solution was aimed at.
pub(super) fn value_text(value: f64, m: &MeasurementReport, accuracy_v: Option<f64>) -> String {
    match accuracy_v.filter(|_| m.unit == "V" && m.numerical_uncertainty.is_none()) {
        Some(accuracy) => above_noise(value, accuracy),
        None => with_uncertainty(value, m.numerical_uncertainty, &m.unit),
    }
}

/// Required measurements, one row each; with the instant where there is more than one.
fn write_table(
    page: &mut Page,
    measurements: &[&MeasurementReport],
    in_time: bool,
    accuracy_v: Option<f64>,
) {
    if measurements.is_empty() {
        return;
    }
    let mut header = vec!["measurement", "value", "limit", "margin", "verdict"];
    let over_models = measurements.iter().any(|m| m.over_models.is_some());
    header.extend(over_models.then_some("over the models"));
    header.extend(in_time.then_some("at"));
    let mut table = plain_table(page.width, header);
    for m in measurements {
        let value = match m.value {
            Some(value) => value_text(value, m, accuracy_v),
            None => "–".to_owned(),
        };
        let margin = m.margin.filter(|x| x.is_finite()).map_or("–".to_owned(), margin_text);
        let verdict =
            if m.advisory { format!("{} (advisory)", m.verdict) } else { m.verdict.clone() };
        let limit = m.limit.clone().unwrap_or_default();
        let mut row = vec![name_text(m), value, limit, margin, verdict];
        row.extend(over_models.then(|| models::range_text(m)));
        if in_time {
            row.push(place_text(m));
        }
        table.add_row(row.iter().map(|cell| printable(cell)));
    }
    write_rows(page, &mut table, &[3]);
}

/// Where it was decided: an instant, a condition, a frequency.
pub(super) fn place_text(measurement: &MeasurementReport) -> String {
    let instant = measurement.at_s.map(|at| engineering(at, "s", 4));
    let told = |key: &str| measurement.settings.get(key).map(setting);
    let places = [told("frequency"), told("condition"), instant];
    places.into_iter().flatten().collect::<Vec<_>>().join(" at ")
}

/// In percent, rounded down, so that no margin looks like the next better one.
pub(super) fn margin_text(margin: f64) -> String {
    /// Lets 0.29 be 29 % though a hundred times the nearest `f64` falls short of it.
    const ROUNDING: f64 = 1e-9;
    let percent = margin * 100.0;
    if percent.abs() < 10.0 {
        format!("{:.1} %", (percent * 10.0 + ROUNDING).floor() / 10.0)
    } else {
        format!("{:.0} %", (percent + ROUNDING).floor())
    }
}

/// `recovery (band 0.5 %, about settled)`
pub(super) fn name_text(measurement: &MeasurementReport) -> String {
    let settings: Vec<String> = measurement
        .settings
        .iter()
        // A window stands among the conditions, under the same name as the measurement.
        .filter(|(name, _)| !["window", "condition", "frequency"].contains(&name.as_str()))
        .map(|(name, value)| format!("{name} {}", setting(value)))
        .collect();
    if settings.is_empty() {
        measurement.name.clone()
    } else {
        format!("{} ({})", measurement.name, settings.join(", "))
    }
}

fn setting(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

/// Measurements that nothing was required of: values in one list, the others by their reason.
fn write_unrequired(
    page: &mut Page,
    measurements: &[&MeasurementReport],
    (accuracy_v, is_nominal): (Option<f64>, bool),
) {
    let mut values = Vec::new();
    let mut reasons: Vec<(&str, Vec<&str>)> = Vec::new();
    for m in measurements {
        if let Some(value) = m.value {
            let state = m.reason.as_ref().map_or_else(String::new, |reason| format!(" ({reason})"));
            let value = match accuracy_v.filter(|_| m.unit == "V") {
                Some(accuracy) => above_noise(value, accuracy),
                None => with_uncertainty(value, None, &m.unit),
            };
            values.push(format!("{} {value}{state}", name_text(m)));
        } else {
            let reason = m.reason.as_deref().unwrap_or("no reason given");
            // What to write stands in the explanation of each name.
            let reason = reason.split_once(": write ").map_or(reason, |(short, _)| short);
            match reasons.iter_mut().find(|(known, _)| *known == reason) {
                Some((_, names)) => names.push(&m.name),
                None => reasons.push((reason, vec![&m.name])),
            }
        }
    }
    if !values.is_empty() {
        let lead = if is_nominal { "also: " } else { "also, at nominal values: " };
        page.paragraph(2, lead, &values.join(", "));
    }
    if !reasons.is_empty() {
        let told = reasons.iter().map(|(why, names)| format!("{} ({why})", names.join(", ")));
        page.paragraph(2, "not evaluated: ", &told.collect::<Vec<_>>().join("; "));
    }
}

pub(super) fn explanation_text(test: &TestReport, causes: &[ExplanationReport]) -> String {
    let mut text = split_text(causes);
    if let Some(held) = test.of_which_static {
        let _ = write!(text, "; of which static {}", engineering(held, "V", 3));
    }
    if let Some(sag) = test.input_sag {
        let _ = write!(text, "; the input sags by {}", engineering(sag, "V", 3));
    }
    if let Some(limit) = &test.limited_by {
        let _ = write!(text, "; limited by {limit}{}", advice::no_help(limit));
    }
    text
}

/// `droop 20.4 mV = charge 18.8 mV (C_OUT) + esr 1.60 mV (C_OUT)`; what is too small to matter is
/// counted only.
pub(super) fn split_text(causes: &[ExplanationReport]) -> String {
    const TOLD_FROM: f64 = 1e-3;
    let unit = causes.first().map_or("V", |c| &c.unit);
    let droop: f64 = causes.iter().map(|c| c.value).sum();
    let mut text = format!("droop {} =", difference(droop, unit, 3));
    let told = causes.iter().filter(|c| c.value.abs() >= TOLD_FROM * droop.abs());
    for (k, cause) in told.clone().enumerate() {
        let sign = match (k, cause.value < 0.0) {
            (0, true) => " -",
            (0, false) => " ",
            (_, true) => " - ",
            (_, false) => " + ",
        };
        let size = difference(cause.value.abs(), &cause.unit, 3);
        let _ = write!(text, "{sign}{} {size} ({})", cause.cause, cause.part);
    }
    if told.count() < causes.len() {
        text.push_str(", the rest below 0.1 %");
    }
    text
}

#[cfg(test)]
#[path = "text_tests.rs"]
mod tests;
