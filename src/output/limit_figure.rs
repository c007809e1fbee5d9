//! What tests of a rail's limits look like: the limit characteristic with loads, a scan of rates.

use super::chart_parts::{axis, level, listing, numbers, traces};
use super::number::engineering;
use super::plot::chart::{
    Axis, Chart, Direction, Emphasis, Level, Mark, MarkShape, Panel, Scale, Style, Trace,
};
use crate::curve::{Cell, Curve};
use crate::measure::Bound;
use crate::trial::Outcome;

/// Columns of a curve of an overload test ahead of its loads.
const OWN_COLUMNS: usize = 3;
/// A load's line may leave the picture at this many times the highest current.
const WIDER: f64 = 1.12;
/// More rests than this are marked without words: the listing has them.
const MOST_WORDS: usize = 8;
const DIGITS: usize = 3;

/// Output over current with the loads' own lines, every rest marked; below it what the pass devices
/// bear.
pub(super) fn overload(outcome: &Outcome) -> Chart {
    let strong = |mut found: Vec<Trace>| {
        found.iter_mut().for_each(|t| t.emphasis = Emphasis::Strong);
        found
    };
    let mut limit = Panel {
        y: axis("output", "V", Scale::Linear),
        curves: strong(traces(&outcome.curves, "current", "output")),
        lines: vec![level(0.0, "0 V")],
        ..Panel::default()
    };
    let mut power = Panel {
        y: axis("power in the pass devices", "W", Scale::Linear),
        curves: strong(traces(&outcome.curves, "current", "pass_power")),
        ..Panel::default()
    };
    let currents = limit.curves.iter().flat_map(|t| &t.points).map(|p| p.0);
    let (low, high) = currents.fold((0.0_f64, 0.0_f64), |(l, h), a| (l.min(a), h.max(a)));
    if let Some(first) = outcome.curves.first() {
        limit.curves.extend(load_lines(first, WIDER * high));
    }
    let (marks, powers) = rests(outcome);
    limit.marks = marks;
    power.marks = powers;
    let mut x = axis("current delivered", "A", Scale::Linear);
    if high > low {
        x.range = Some((low - 0.02 * (high - low), WIDER * high));
    }
    let mut panels = vec![limit];
    if !power.curves.is_empty() {
        panels.push(power);
    }
    let legend = "disc: a stable rest; cross: an unstable one, the edge between two";
    Chart { x, panels, caption: vec![legend.to_owned()], ..Chart::default() }
}

/// What each load draws, in dashes, as far as the picture goes.
fn load_lines(curve: &Curve, widest_a: f64) -> Vec<Trace> {
    let loads = curve.columns.iter().skip(OWN_COLUMNS);
    let line = |column: &crate::curve::Column| {
        let points = curve.points(&column.name, "output");
        Trace {
            label: format!("load {}", column.name),
            points: points
                .into_iter()
                .map(|(a, v)| if a > widest_a { (f64::NAN, f64::NAN) } else { (a, v) })
                .collect(),
            style: Style::Dashed,
            emphasis: Emphasis::Usual,
        }
    };
    loads.map(line).collect()
}

/// Marks in the upper and in the lower panel.
fn rests(outcome: &Outcome) -> (Vec<Mark>, Vec<Mark>) {
    let Some(found) = listing(outcome, "rests") else { return (Vec::new(), Vec::new()) };
    let columns = ["output", "current", "pass_power"].map(|name| numbers(found, name));
    let [output, current, power] = columns;
    let words = |row: &[Cell], name: &str| {
        let at = found.columns.iter().position(|c| c.name == name);
        match at.and_then(|at| row.get(at)) {
            Some(Cell::Text(text)) => text.clone(),
            _ => String::new(),
        }
    };
    let told = found.rows.len() <= MOST_WORDS;
    let rail = outcome.condition.rail;
    // Where it is meant to rest every load rests: the curve tells it.
    let regulated = |volt: f64| match rail.window {
        Bound::Within { low_v, high_v } => {
            (low_v.abs().min(high_v.abs())..=low_v.abs().max(high_v.abs())).contains(&volt)
        }
        Bound::NotGiven | Bound::Off => false,
    };
    let (mut upper, mut lower) = (Vec::new(), Vec::new());
    for (k, row) in found.rows.iter().enumerate() {
        let (Some(volt), Some(ampere)) = (output[k], current[k]) else { continue };
        let (load, rest) = (words(row, "load"), words(row, "rest"));
        let stable = rest == "stable";
        let shape = if stable { MarkShape::Disc } else { MarkShape::Cross };
        let text = match (told, stable) {
            (false, _) => String::new(),
            (true, true) if regulated(volt) => String::new(),
            (true, true) => format!("{} with {load}", engineering(volt, "V", DIGITS)),
            (true, false) => format!("unstable {}", engineering(volt, "V", DIGITS)),
        };
        let mark = |y: f64, text: String| Mark { x: ampere, y, text, of: String::new(), shape };
        upper.push(mark(volt, text));
        if let Some(watt) = power[k] {
            lower.push(mark(watt, String::new()));
        }
    }
    (upper, lower)
}

/// Droop and peak to peak over the repetition rate, the worst marked.
pub(super) fn rates(outcome: &Outcome) -> Chart {
    let x = Axis {
        label: "repetition rate".to_owned(),
        unit: "Hz",
        ..axis("", "", Scale::Logarithmic)
    };
    let mut panel = Panel { y: axis("output", "V", Scale::Linear), ..Panel::default() };
    let Some(curve) = outcome.curves.first() else { return Chart { x, ..Chart::default() } };
    let rows = [
        ("periodic_peak_to_peak", "peak to peak, every period the same", Style::Solid),
        ("train_droop", "droop of the first or last period", Style::Dashed),
        ("train_overshoot", "overshoot of the first or last period", Style::Dotted),
    ];
    panel.curves = rows
        .map(|(column, label, style)| Trace {
            label: label.to_owned(),
            points: curve.points("rate", column),
            style,
            emphasis: Emphasis::Usual,
        })
        .into();
    let worst = outcome.measurements.iter().find(|m| m.name == "worst_rate").and_then(|m| m.value);
    if let Some(hz) = worst {
        let label = format!("worst, {}", engineering(hz, "Hz", DIGITS));
        panel.lines = vec![Level { at: hz, label, direction: Direction::Vertical }];
    }
    Chart { x, panels: vec![panel], ..Chart::default() }
}
