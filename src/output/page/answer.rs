//! What the live page is told after a turn, as JSON: words ready to be shown, curves ready to be drawn.

use super::thin::{Fineness, thinned};
use crate::circuit::Change;
use crate::measure::Verdict;
use crate::output::figure::step_plot;
use crate::output::number::engineering;
use crate::output::plot::chart::chart_svg;
use crate::output::plot::{Panel, StepPlot};
use crate::output::report::{MeasurementReport, TestReport};
use crate::output::text::{
    condition_text, error_text, explanation_text, margin_text, name_text, place_text, value_text,
};
use crate::output::{summary, sweep_figure};
use crate::plan::Plan;
use crate::study::live::{Knob, LoopFigures, Turned};
use crate::study::spell::{quantity_text, run_command, set_arguments};
use crate::trial::{Motion, Test};
use serde::Serialize;

/// Significant digits of what is drawn: a microvolt on three volts, with a digit to spare.
const DIGITS: i32 = 7;
/// Significant digits of the loop's figures.
const LOOP_DIGITS: usize = 3;

/// What came of a turn.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Answer {
    /// Index of the test.
    pub test: usize,
    /// `pass`, `marginal`, `fail` …
    pub verdict: &'static str,
    /// The verdict with what decided it, in a sentence.
    pub words: String,
    /// What it was run at.
    pub condition: String,
    /// What has a limit.
    pub rows: Vec<Row>,
    /// What has none.
    pub further: Vec<Row>,
    /// Curves over time, from top to bottom.
    pub panels: Vec<Drawn>,
    /// Short windows of the record.
    pub zooms: Vec<Window>,
    /// Pictures of a test at rest, as SVG documents.
    pub pictures: Vec<String>,
    /// The loop at the levels that the test visits.
    pub loops: Vec<LoopRow>,
    /// What made the droop, what limited the recovery, and what else was found.
    pub notes: Vec<String>,
    /// One for each that can be turned, in their order.
    pub values: Vec<ValueTold>,
    /// What to type for the same.
    pub command: String,
}

/// A line of a table.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Row {
    /// With its options.
    pub name: String,
    /// With its unit; a dash where there is none.
    pub value: String,
    /// As required.
    pub limit: String,
    /// In percent.
    pub margin: String,
    /// In words.
    pub verdict: String,
    /// Where it was decided.
    pub at: String,
    /// Why there is no value, or what state the rail is in.
    pub reason: String,
}

/// A panel with one vertical axis.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Drawn {
    /// What it shows.
    pub label: String,
    /// SI base unit.
    pub unit: &'static str,
    /// Lines.
    pub curves: Vec<Line>,
    /// Allowed regions; `null` where an end is open.
    pub bands: Vec<Allowed>,
    /// Measured numbers where they happen.
    pub marks: Vec<Noted>,
}

/// A line.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Line {
    /// What it is.
    pub name: String,
    /// s, never falling; two equal times are a jump.
    pub t: Vec<f64>,
    /// As many.
    pub v: Vec<f64>,
}

/// An allowed region.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Allowed {
    /// Lower end.
    pub low: Option<f64>,
    /// Upper end.
    pub high: Option<f64>,
    /// Its name.
    pub label: String,
}

/// A measured number.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Noted {
    /// s
    pub t: f64,
    /// Height.
    pub v: f64,
    /// In words.
    pub text: String,
}

/// A short window of the record.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Window {
    /// s
    pub from: f64,
    /// s
    pub to: f64,
    /// What happens there.
    pub label: String,
}

/// The loop at one condition.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LoopRow {
    /// The levels.
    pub condition: String,
    /// In degrees, or why there is none.
    pub phase_margin: String,
    /// In hertz, or why there is none.
    pub crossover: String,
}

/// A value as it stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ValueTold {
    /// As `--set` takes it.
    pub path: String,
    /// As it is written.
    pub text: String,
    /// In SI base units; `null` where it could not be worked out.
    pub value: Option<f64>,
    /// What it comes to, where what is written is not a plain quantity.
    pub comes_to: String,
    /// What the test itself sets it to, whatever is turned.
    pub pinned: Option<String>,
}

/// A mistake, and the value whose text it is in where that can be told.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Mistake {
    /// The value's path.
    pub path: Option<String>,
    /// What is wrong and what to type.
    pub words: String,
}

/// What is asked besides the outcome itself.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// The file as the user named it.
    pub file: &'a str,
    /// The plan it came to.
    pub plan: &'a Plan,
    /// What can be turned.
    pub knobs: &'a [Knob],
    /// The test.
    pub test: usize,
    /// All that is changed.
    pub changes: &'a [Change],
    /// Whether it is one of many that follow a hand, and curves are sent in as few points as look the same.
    pub draft: bool,
}

/// The answer to a turn.
pub fn answer(asked: &Asked<'_>, turned: &Turned) -> Answer {
    let outcome = &turned.outcome;
    let report = summary::report(asked.file, asked.plan, std::slice::from_ref(outcome));
    let told = report.tests.into_iter().next().unwrap_or_default();
    let plot = step_plot(asked.plan, outcome).unwrap_or_default();
    let charts = sweep_figure::charts(asked.plan, outcome);
    let (limited, further): (Vec<_>, Vec<_>) =
        told.measurements.iter().partition(|m| m.limit.is_some());
    let row = |m: &MeasurementReport| row(m, &told);
    Answer {
        test: asked.test,
        verdict: outcome.verdict.word(),
        words: sentence(outcome.verdict, &told),
        condition: condition_text(&told.condition),
        rows: limited.into_iter().map(row).collect(),
        further: further.into_iter().map(row).collect(),
        panels: plot.panels.iter().map(|panel| drawn(panel, fineness(asked.draft))).collect(),
        zooms: windows(&plot),
        pictures: charts.iter().map(|(_, chart)| chart_svg(chart)).collect(),
        loops: turned.loops.iter().map(loop_row).collect(),
        notes: notes(&told),
        values: values(asked),
        command: command(asked),
    }
}

fn row(m: &MeasurementReport, test: &TestReport) -> Row {
    let margin = m.margin.filter(|x| x.is_finite()).map_or_else(|| "–".to_owned(), margin_text);
    let value = m.value.map(|value| value_text(value, m, test.condition.accuracy_v));
    let advisory = if m.advisory { " (advisory)" } else { "" };
    Row {
        name: name_text(m),
        value: value.unwrap_or_else(|| "–".to_owned()),
        limit: m.limit.as_deref().unwrap_or_default().replace("<=", "≤").replace(">=", "≥"),
        margin,
        verdict: format!("{}{advisory}", m.verdict),
        at: place_text(m),
        reason: m.reason.clone().unwrap_or_default(),
    }
}

/// `fail: overshoot 65.5 mV, limit <= 30 mV`
fn sentence(verdict: Verdict, test: &TestReport) -> String {
    let word = verdict.word();
    if let Some(error) = &test.error {
        return error_text(error);
    }
    let counts = |m: &&MeasurementReport| m.limit.is_some() && !m.advisory;
    let deciding = test.measurements.iter().filter(counts).find(|m| m.verdict == word);
    let Some(m) = deciding else { return word.replace('-', " ") };
    let row = row(m, test);
    let of = match verdict {
        Verdict::Pass => {
            let count = test.measurements.iter().filter(counts).count();
            let advisory = test.measurements.iter().filter(|m| m.limit.is_some() && m.advisory);
            let besides = match advisory.count() {
                0 => String::new(),
                n => format!(" ({n} advisory not counted)"),
            };
            return if count == 1 {
                format!("pass: {} {}, limit {}", row.name, row.value, row.limit)
            } else {
                format!("pass: all {count} requirements hold{besides}")
            };
        }
        Verdict::NotEvaluated => return format!("not evaluated: {}, {}", row.name, row.reason),
        _ => word,
    };
    format!("{of}: {} {}, limit {}", row.name, row.value, row.limit)
}

fn fineness(draft: bool) -> Fineness {
    if draft { Fineness::Moving } else { Fineness::Resting }
}

fn drawn(panel: &Panel, fineness: Fineness) -> Drawn {
    let line = |curve: &crate::output::plot::Curve| {
        let points = thinned(&curve.points, fineness);
        let (t, v) = points.iter().map(|&(t, v)| (short(t), short(v))).unzip();
        Line { name: curve.name.clone(), t, v }
    };
    let end = |value: f64| value.is_finite().then_some(value);
    let allowed = |band: &crate::output::plot::Band| Allowed {
        low: end(band.low),
        high: end(band.high),
        label: band.label.clone(),
    };
    let noted = |mark: &crate::output::plot::Mark| Noted {
        t: mark.t_s,
        v: mark.value,
        text: mark.text.clone(),
    };
    Drawn {
        label: panel.label.clone(),
        unit: panel.unit,
        curves: panel.curves.iter().map(line).collect(),
        bands: panel.bands.iter().map(allowed).collect(),
        marks: panel.marks.iter().map(noted).collect(),
    }
}

/// To a few digits, so that what is sent stays small.
fn short(value: f64) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return 0.0;
    }
    let places = DIGITS - 1 - value.abs().log10().floor() as i32;
    // Beyond this a power of ten is no finite number, and what is left is nothing to look at.
    if places > 300 {
        return 0.0;
    }
    let scale = 10f64.powi(places);
    (value * scale).round() / scale
}

fn windows(plot: &StepPlot) -> Vec<Window> {
    let window = |zoom: &crate::output::plot::Zoom| Window {
        from: zoom.from_s,
        to: zoom.to_s,
        label: zoom.label.clone(),
    };
    plot.zooms.iter().map(window).collect()
}

fn loop_row(at: &LoopFigures) -> LoopRow {
    let told = |figure: &Result<f64, String>, unit: &str| match figure {
        Ok(value) => engineering(*value, unit, LOOP_DIGITS),
        Err(why) => why.clone(),
    };
    LoopRow {
        condition: at.condition.clone(),
        phase_margin: told(&at.phase_margin, "deg"),
        crossover: told(&at.crossover, "Hz"),
    }
}

fn notes(test: &TestReport) -> Vec<String> {
    let causes = test.explanation.as_deref().filter(|causes| !causes.is_empty());
    let limited = test.limited_by.as_ref().map(|limit| format!("limited by {limit}"));
    let first = causes.map(|causes| explanation_text(test, causes)).or(limited);
    first.into_iter().chain(test.notes.iter().cloned()).collect()
}

fn values(asked: &Asked<'_>) -> Vec<ValueTold> {
    let test = asked.plan.tests.get(asked.test);
    let changes = crate::circuit::Changes { list: asked.changes.to_vec() };
    let variant = asked.plan.circuit.variant(&changes).ok();
    let told = |knob: &Knob| {
        let set = asked.changes.iter().rfind(|change| change.path == knob.path);
        let text = set.map_or(&knob.own_text, |change| &change.text).clone();
        let value = variant.as_ref().and_then(|variant| {
            if knob.path == "rail.ambient" {
                return variant.rail.as_ref().map(|rail| rail.ambient_k);
            }
            variant.values.iter().find(|v| v.name == knob.path).map(|v| v.value)
        });
        let plain = is_one_quantity(&text)
            && crate::study::spell::quantity_value(&text, knob.dimension).is_some();
        let comes_to = value.filter(|_| !plain).map(|v| quantity_text(v, knob.dimension));
        let pinned = test.and_then(|test| pinned(test, &knob.path));
        ValueTold {
            path: knob.path.clone(),
            text,
            value: value.filter(|v| v.is_finite()),
            comes_to: comes_to.unwrap_or_default(),
            pinned,
        }
    };
    asked.knobs.iter().map(told).collect()
}

/// Whether nothing in it is added or multiplied; what is divided or raised may belong to a unit.
fn is_one_quantity(text: &str) -> bool {
    !text.trim_start_matches(['-', '+', ' ']).contains(['+', '-', '*', '('])
}

/// What a test sets a value to by itself.
fn pinned(test: &Test, path: &str) -> Option<String> {
    let ambients = matches!(&test.motion, Motion::Steady(m) if !m.ambients.is_empty());
    if path == "rail.ambient" && ambients {
        return Some("its own temperatures".to_owned());
    }
    test.changes.list.iter().rfind(|change| change.path == path).map(|change| change.text.clone())
}

/// The whole command, ready for a shell.
fn command(asked: &Asked<'_>) -> String {
    let test = asked.plan.tests.get(asked.test).map_or("", |test| &test.name);
    let sets = set_arguments(asked.changes);
    let line = run_command(asked.file, test);
    if sets.is_empty() { line } else { format!("{line} {sets}") }
}

/// The bytes of an answer, or of anything else that is told.
pub fn json<T: Serialize>(told: &T) -> Vec<u8> {
    // Structures of texts and numbers always serialise, and memory takes every write.
    serde_json::to_vec(told).unwrap_or_default()
}
