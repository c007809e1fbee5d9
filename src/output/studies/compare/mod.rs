//! A comparison with a measured trace, and a substitution check: CSV, picture, JSON and text.

mod figure;
mod json;
mod text;

use super::{Bundle, PAGE_COLUMNS};
use crate::circuit::Change;
use crate::output::csv;
use crate::output::page::{REPORT, Study};
use crate::output::plot::step_svg;
use crate::quantity::{engineering, trimmed};
use crate::study::compare::substitution::{Held, Substitute, Verified};
use crate::study::compare::{Agreement, Ask, Comparison, Fitted, Known, NoiseSource, Trace};
use crate::study::spell::quantity_text;

/// Names of the files that may be written.
pub const FILES: [&str; 4] = [CSV, PICTURE, REPORT, SUMMARY];
const CSV: &str = "compare.csv";
const PICTURE: &str = "compare.svg";
const SUMMARY: &str = "compare.json";

/// All that is told.
#[derive(Clone, Debug)]
pub struct Report<'a> {
    /// The circuit file as the user named it.
    pub file: &'a str,
    /// Its title.
    pub title: &'a str,
    /// What was set over the file for everything.
    pub base: &'a [Change],
    /// The comparison, if a trace was given.
    pub trace: Option<TraceReport<'a>>,
    /// The substitution check, if one was asked for.
    pub substitution: Option<Substitution>,
}

/// A trace with what came of it.
#[derive(Clone, Copy, Debug)]
pub struct TraceReport<'a> {
    /// Its file as the user named it.
    pub file: &'a str,
    /// As it was read.
    pub trace: &'a Trace,
    /// As it was asked.
    pub ask: &'a Ask,
    /// What came of it.
    pub comparison: &'a Comparison,
}

/// A substitution check.
#[derive(Clone, Debug)]
pub struct Substitution {
    /// The capacitor.
    pub substitute: Substitute,
    /// The file of the region, and each key held against it.
    pub region: Option<(String, Vec<Held>)>,
    /// What running the tests gave.
    pub verified: Option<Verified>,
}

impl Substitution {
    /// Whether it passes all that was asked.
    pub fn passes(&self) -> bool {
        let inside = self.region.iter().flat_map(|(_, held)| held).all(|h| h.outside.is_none());
        inside && self.verified.as_ref().is_none_or(|v| v.missed.is_empty())
    }
}

/// Everything that is written and printed; texts at most `width` characters wide.
pub fn bundle(report: &Report<'_>, width: usize) -> Bundle {
    let mut files = Vec::new();
    if let Some(trace) = &report.trace {
        files.push((CSV.to_owned(), rows(trace.comparison)));
        let picture = step_svg(&figure::figure(report.title, trace));
        files.push((PICTURE.to_owned(), picture.into_bytes()));
    }
    let names: Vec<String> = files
        .iter()
        .map(|(name, _)| name.clone())
        .chain([REPORT, SUMMARY].map(str::to_owned))
        .collect();
    let cautions = cautions(report);
    let json = json::json(report, &names, &cautions);
    files.push((SUMMARY.to_owned(), json.clone()));
    let text = |width| text::text(report, &names, &cautions, width);
    let study = Study { word: "comparison", title: report.title, file: report.file };
    Bundle { text: text(width), files, json }.with_page(study, &text(PAGE_COLUMNS))
}

fn rows(comparison: &Comparison) -> Vec<u8> {
    let column = |read: fn(&crate::study::compare::Row) -> f64| -> Vec<f64> {
        comparison.rows.iter().map(read).collect()
    };
    let times = column(|row| row.time_s);
    let measured = column(|row| row.measured_v);
    let simulated = column(|row| row.simulated_v);
    let residual = column(|row| row.measured_v - row.simulated_v);
    csv::csv(&[
        csv::Column { name: "time", unit: "s", values: &times },
        csv::Column { name: "measured", unit: "V", values: &measured },
        csv::Column { name: "simulated", unit: "V", values: &simulated },
        csv::Column { name: "residual", unit: "V", values: &residual },
    ])
}

fn cautions(report: &Report<'_>) -> Vec<String> {
    let mut cautions = Vec::new();
    if report.trace.is_some_and(|t| !t.ask.knobs.is_empty()) {
        cautions.push(
            "fitted values are those at which this circuit agrees best with this trace; what the \
             circuit leaves out goes into them, and no interval knows of it"
                .to_owned(),
        );
    }
    if report.substitution.is_some() {
        cautions.push(
            "the substitution check is calculated and looks at capacitance and ESR alone: rated \
             voltage, polarity, ripple current, temperature and size are for the data sheet, and the \
             load step for a measurement on the board"
                .to_owned(),
        );
    }
    cautions
}

/// `3.76 µF (3.60 µF to 3.93 µF)`, or why there is no interval.
fn fitted_words(fitted: &Fitted) -> String {
    let value = value_text(fitted, fitted.value);
    match &fitted.known {
        Known::Within { low, high, .. } => {
            format!("{value} ({} to {})", value_text(fitted, *low), value_text(fitted, *high))
        }
        Known::OnBound(_) => format!("{value} (on its bound)"),
        Known::Lost => format!("{value} (cannot be told)"),
    }
}

/// To four digits; temperatures to a tenth.
fn value_text(fitted: &Fitted, value: f64) -> String {
    const DIGITS: usize = 4;
    if fitted.knob.dimension == crate::quantity::Dimension::KELVIN {
        return quantity_text((value * 10.0).round() / 10.0, fitted.knob.dimension);
    }
    trimmed(value, &fitted.knob.dimension.symbol(), DIGITS)
}

/// What the residual says, in one sentence.
fn agreement_words(comparison: &Comparison) -> String {
    let left = &comparison.remainder;
    let [rms, noise] = [left.rms_v, left.noise.volt].map(|v| engineering(v, "V", 3));
    match left.agreement {
        Agreement::WithinNoise => {
            format!("trace and circuit agree within the noise: residual {rms} rms, noise {noise}")
        }
        Agreement::AboveNoise => format!(
            "trace and circuit differ by more than the noise: residual {rms} rms, noise {noise}, {} \
             times as much",
            engineering(left.rms_v / left.noise.volt, "", 3)
        ),
        Agreement::BelowNoise if left.noise.source == NoiseSource::Given => format!(
            "trace and circuit agree better than a noise of {noise} allows: residual {rms} rms; is \
             the noise as given?"
        ),
        Agreement::BelowNoise => {
            format!("trace and circuit agree: residual {rms} rms, below the noise of {noise}")
        }
    }
}

/// Where the noise is known from.
fn noise_words(source: NoiseSource) -> String {
    match source {
        NoiseSource::Given => "as given".to_owned(),
        NoiseSource::BeforeEdge { samples } => {
            format!("from {samples} samples ahead of the first edge")
        }
        NoiseSource::Neighbours => "from the differences of neighbouring residuals".to_owned(),
    }
}
