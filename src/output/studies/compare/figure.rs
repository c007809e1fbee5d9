//! The trace over the solution, what is left below it, and the edges magnified.

use super::{TraceReport, agreement_words, fitted_words, noise_words};
use crate::measure::Bound;
use crate::output::figure::{curve, zooms};
use crate::output::plot::{Band, Curve, Mark, Panel, Role, StepPlot, Zoom};
use crate::quantity::engineering;
use crate::study::compare::{Comparison, Row, Solution};

/// A distance of neighbours this many times the usual one is a gap, over which no line is drawn.
const GAP: f64 = 5.0;
/// Band of the residual, in standard deviations of the noise.
const BAND: f64 = 2.0;
/// Shares of the height.
const OVERLAY: f64 = 0.62;
const RESIDUAL: f64 = 0.38;

/// The figure.
pub(super) fn figure(title: &str, told: &TraceReport<'_>) -> StepPlot {
    let comparison = told.comparison;
    let range = range(comparison);
    let zooms = seen_zooms(comparison, range);
    let zoomed = !zooms.is_empty();
    let fitted = fitted_line(comparison);
    // Two lines of a subtitle hold two values.
    let short = comparison.values.len() <= 2;
    let mut subtitle = agreement_words(comparison);
    let mut caption = Vec::new();
    if short && !fitted.is_empty() {
        subtitle = format!("{subtitle}. {fitted}");
    } else {
        caption.extend([fitted].into_iter().filter(|line| !line.is_empty()));
    }
    caption.push(format!(
        "Trace: {}, {} samples, its zero at {} of the record. Noise {} {}. Largest residual {} at {}.",
        told.file,
        comparison.rows.len(),
        engineering(comparison.shift_s, "s", 4),
        engineering(comparison.remainder.noise.volt, "V", 3),
        noise_words(comparison.remainder.noise.source),
        engineering(comparison.remainder.largest_v, "V", 3),
        engineering(comparison.remainder.largest_at_s, "s", 4),
    ));
    caption.push(super::text::conditions(&comparison.outcome.condition));
    StepPlot {
        title: format!("{}, measured and calculated — {title}", comparison.outcome.name),
        subtitle,
        caption,
        time_range_s: range,
        panels: vec![overlay(comparison, zoomed), residual(comparison, zoomed)],
        zooms,
    }
}

fn fitted_line(comparison: &Comparison) -> String {
    let each = comparison.values.iter().map(|f| format!("{} {}", f.knob.path, fitted_words(f)));
    let all: Vec<String> = each.collect();
    if all.is_empty() {
        String::new()
    } else {
        format!("Fitted, with 95 % intervals: {}.", all.join(", "))
    }
}

fn range(comparison: &Comparison) -> (f64, f64) {
    let ends = (comparison.rows.first(), comparison.rows.last());
    let (Some(first), Some(last)) = ends else { return (0.0, 1.0) };
    (first.time_s, last.time_s)
}

/// The usual windows around the edges, as far as the trace reaches into them; none for a trace that
/// is hardly longer.
fn seen_zooms(comparison: &Comparison, (from_s, to_s): (f64, f64)) -> Vec<Zoom> {
    let all = zooms(&comparison.outcome, comparison.solution.end_s());
    let cut = |zoom: Zoom| {
        let (from, to) = (zoom.from_s.max(from_s), zoom.to_s.min(to_s));
        let rows = comparison.rows.iter().filter(|r| r.time_s >= from && r.time_s <= to);
        let reach = rows.clone().map(|r| r.time_s).fold(from, f64::max);
        let enough = rows.count() > 4 && to - from < 0.5 * (to_s - from_s);
        enough.then_some(Zoom { from_s: from, to_s: reach, label: zoom.label })
    };
    all.into_iter().filter_map(cut).collect()
}

fn overlay(comparison: &Comparison, zoomed: bool) -> Panel {
    let drawn = |solution: &Solution, name: &str, role: Role| {
        let waveform = solution.waveform();
        let drawn = waveform.signals.first().map(|s| curve(waveform, s, name)).unwrap_or_default();
        Curve { role, ..drawn }
    };
    let of_trace = points(comparison, |row| row.measured_v);
    let measured = Curve { name: "measured".to_owned(), points: of_trace, role: Role::Main };
    let mut curves = Vec::new();
    curves.extend(comparison.present.as_ref().map(|s| drawn(s, "as in the file", Role::Reference)));
    let words = if comparison.values.is_empty() { "calculated" } else { "calculated, fitted" };
    curves.extend([measured, drawn(&comparison.solution, words, Role::Second)]);
    let mut panel = Panel {
        label: comparison.node.clone(),
        unit: "V",
        curves,
        height_share: OVERLAY,
        zoomed,
        ..Panel::default()
    };
    let rail = comparison.outcome.condition.rail;
    let mut band = |bound: Bound, label: &str| {
        if let Bound::Within { low_v, high_v } = bound {
            panel.bands.push(Band { low: low_v, high: high_v, label: label.to_owned() });
        }
    };
    if comparison.is_output {
        band(rail.window, "window");
        if rail.every_instant() != rail.window {
            band(rail.every_instant(), "transient window");
        }
    }
    panel
}

fn residual(comparison: &Comparison, zoomed: bool) -> Panel {
    let left = &comparison.remainder;
    let points = points(comparison, |row| row.measured_v - row.simulated_v);
    let words = "measured − calculated";
    let reach = BAND * left.noise.volt;
    let largest = format!("largest {}", engineering(left.largest_v, "V", 3));
    Panel {
        label: format!("residual (band: ± {BAND} × noise)"),
        unit: "V",
        curves: vec![Curve { name: words.to_owned(), points, role: Role::Main }],
        bands: vec![Band { low: -reach, high: reach, label: String::new() }],
        marks: vec![Mark { t_s: left.largest_at_s, value: left.largest_v, text: largest }],
        height_share: RESIDUAL,
        zoomed,
    }
}

/// One point a sample, the line interrupted where samples are missing.
fn points(comparison: &Comparison, value: impl Fn(&Row) -> f64) -> Vec<(f64, f64)> {
    let rows = &comparison.rows;
    let mut steps: Vec<f64> = rows.windows(2).map(|p| p[1].time_s - p[0].time_s).collect();
    steps.sort_by(f64::total_cmp);
    let usual = steps.get(steps.len() / 2).copied().unwrap_or(f64::INFINITY);
    let mut points: Vec<(f64, f64)> = Vec::with_capacity(rows.len());
    for row in rows {
        if let Some(&(last, _)) = points.last()
            && row.time_s - last > GAP * usual
        {
            points.push((f64::midpoint(last, row.time_s), f64::NAN));
        }
        points.push((row.time_s, value(row)));
    }
    points
}
