//! What the curves of one test look like: which chart each kind of test gets.

use super::chart_parts::{axis, level, listing, numbers, traces};
use super::limit_figure;
use super::number::engineering;
use super::plot::chart::{Axis, Chart, Emphasis, Mark, Mask, Panel, Scale, Side, Style, Trace};
use crate::curve::Cell;
use crate::measure::{Measurement, TestKind, Verdict};
use crate::plan::Plan;
use crate::trial::{Motion, Outcome, Quest};
use std::f64::consts::TAU;

/// Loop gain below this, in dB, tells nothing about margins.
const LEAST_GAIN_DB: f64 = -60.0;
/// Half the width of the complex plane shown around the origin.
const PLANE: f64 = 3.0;
/// Corners of a drawn circle.
const CORNERS: usize = 120;
/// More conditions than this are not marked one by one.
const MOST_MARKS: usize = 6;
/// An output below this share of its highest has bent away.
const BENT: f64 = 0.995;
/// So much of the way down from the bend is shown ahead of it.
const BEYOND: f64 = 0.6;
/// Room left above and below an impedance, as a factor.
const ROOM: f64 = 3.0;
/// Share of the density from which a contributor is drawn.
const LEAST_SHARE: f64 = 0.02;
/// Fewer headrooms than this are no curve.
const FEWEST_HEADROOMS: usize = 3;
const DIGITS: usize = 3;

/// The charts of an outcome that has curves: the end of each file's stem, and the chart.
pub fn charts(plan: &Plan, outcome: &Outcome) -> Vec<(&'static str, Chart)> {
    if outcome.curves.is_empty() {
        return Vec::new();
    }
    let of = |(suffix, mut chart): (&'static str, Chart)| {
        chart.title = format!("{} — {}", outcome.name, plan.circuit.title);
        chart.subtitle = subtitle(outcome);
        let own = std::mem::take(&mut chart.caption).into_iter();
        chart.caption = own.chain(caption(outcome)).collect();
        (suffix, chart)
    };
    let main = match outcome.kind {
        TestKind::LoopGain => bode(outcome),
        TestKind::OutputImpedance => impedance(outcome),
        TestKind::RippleRejection => rejection(outcome),
        TestKind::Noise => noise(outcome),
        TestKind::Dropout => dropout(outcome),
        TestKind::LoadRegulation => against(outcome, "load"),
        TestKind::Overload => limit_figure::overload(outcome),
        TestKind::PulseTrain => return vec![of((RATES, limit_figure::rates(outcome)))],
        _ => against(outcome, "source"),
    };
    let further = match outcome.kind {
        TestKind::LoopGain if asks_for_the_plane(plan, outcome) => {
            Some((".nyquist", plane(outcome)))
        }
        TestKind::RippleRejection => against_headroom(outcome).map(|chart| (".headroom", chart)),
        _ => None,
    };
    [Some(("", main)), further].into_iter().flatten().map(of).collect()
}

/// What a scan of rates is called after the test: the record at the worst of them has its name.
const RATES: &str = ".rates";

/// The ends of file stems that a test of this motion may write tables under: the record over time, or
/// curves, or both.
pub fn table_suffixes(motion: &Motion) -> &'static [&'static str] {
    match motion {
        Motion::Pulses(motion) if motion.scan.is_some() => &["", RATES],
        _ => &[""],
    }
}

/// The end of the file stem of a table of curves, which leaves the test's own name to its record.
pub fn curves_suffix(outcome: &Outcome) -> &'static str {
    if outcome.times_s.is_empty() { "" } else { RATES }
}

/// The ends of file stems that a test of this motion may write charts under.
pub fn suffixes(motion: &Motion) -> &'static [&'static str] {
    match motion {
        Motion::Steady(steady) => match &steady.quest {
            Quest::LoopGain { nyquist: true, .. } => &["", ".nyquist"],
            Quest::RippleRejection { .. } => &["", ".headroom"],
            _ => &[""],
        },
        Motion::Pulses(motion) if motion.scan.is_some() => &["", RATES],
        Motion::Rest
        | Motion::Step(_)
        | Motion::Ramp(_)
        | Motion::Profile(_)
        | Motion::Short(_)
        | Motion::Pulses(_) => &[""],
    }
}

fn asks_for_the_plane(plan: &Plan, outcome: &Outcome) -> bool {
    let test = plan.tests.iter().find(|t| t.name == outcome.name);
    test.is_some_and(|t| suffixes(&t.motion).contains(&".nyquist"))
}

fn subtitle(outcome: &Outcome) -> String {
    let counted = outcome.measurements.iter().filter(|m| m.limit.is_some() && !m.advisory);
    let (passed, other): (Vec<_>, Vec<_>) = counted.partition(|m| m.verdict == Verdict::Pass);
    let words = |m: &Measurement| {
        let found = m.value.map_or_else(|| "–".to_owned(), |v| engineering(v, m.unit, 4));
        let setting = m.settings.get("definition").or(m.settings.get("at"));
        let of = setting.map_or_else(String::new, |words| format!(", {words},"));
        Some(format!("{}{of} {found} ({}, {})", m.name, m.limit.as_deref()?, m.verdict.word()))
    };
    let judged: Vec<String> = other.into_iter().chain(passed).filter_map(words).collect();
    let told =
        if judged.is_empty() { String::new() } else { format!(" — {}", judged.join("; ")) };
    format!("verdict: {}{told}", outcome.verdict.word())
}

fn caption(outcome: &Outcome) -> Vec<String> {
    let mut parts: Vec<String> =
        outcome.condition.values.iter().map(|(name, value)| format!("{name} = {value}")).collect();
    parts.push("nominal values; conditions beside the curves".to_owned());
    vec![parts.join(", "), "Calculated, not measured.".to_owned()]
}

fn frequency() -> Axis {
    axis("frequency", "Hz", Scale::Logarithmic)
}

/// Gain and phase over frequency, every crossover marked with its phase margin.
fn bode(outcome: &Outcome) -> Chart {
    let mut gain = Panel {
        y: axis("loop gain", "dB", Scale::Linear),
        curves: traces(&outcome.curves, "frequency", "gain"),
        lines: vec![level(0.0, "0 dB")],
        ..Panel::default()
    };
    let mut phase = Panel {
        y: axis("phase", "deg", Scale::Linear),
        curves: traces(&outcome.curves, "frequency", "phase"),
        lines: vec![level(-180.0, "−180°")],
        ..Panel::default()
    };
    let values = gain.curves.iter().flat_map(|t| &t.points).map(|p| p.1);
    let (low, high) = values.fold((0.0_f64, 0.0_f64), |(l, h), v| (l.min(v), h.max(v)));
    gain.y.range = Some((low.max(LEAST_GAIN_DB), high + 5.0));
    if let Some(margins) = listing(outcome, "loop_gain") {
        let found = numbers(margins, "crossover").into_iter().zip(numbers(margins, "phase_margin"));
        let many = outcome.curves.len() > MOST_MARKS;
        let least = numbers(margins, "phase_margin").into_iter().flatten().reduce(f64::min);
        for (curve, found) in outcome.curves.iter().zip(found) {
            let (Some(hz), Some(margin)) = found else { continue };
            let told = !many || least == Some(margin);
            let words = format!("{margin:.1}° at {}", engineering(hz, "Hz", DIGITS));
            let text = if told { words } else { String::new() };
            let of = curve.condition.clone();
            gain.marks.push(Mark { x: hz, y: 0.0, text, of: of.clone(), ..Mark::default() });
            let at = curve.points("frequency", "phase");
            if let Some(y) = height_at(&at, hz) {
                phase.marks.push(Mark { x: hz, y, of, ..Mark::default() });
            }
        }
    }
    Chart { x: frequency(), panels: vec![gain, phase], ..Chart::default() }
}

/// Height of a curve at a frequency, straight in the logarithm.
fn height_at(points: &[(f64, f64)], hz: f64) -> Option<f64> {
    let pair = points.windows(2).find(|p| p[0].0 <= hz && hz <= p[1].0)?;
    let share = (hz / pair[0].0).ln() / (pair[1].0 / pair[0].0).ln();
    Some(pair[0].1 + share * (pair[1].1 - pair[0].1))
}

/// The loop gain in the complex plane near -1, with the circle that it stays out of.
fn plane(outcome: &Outcome) -> Chart {
    let near = |points: Vec<(f64, f64)>| -> Vec<(f64, f64)> {
        let far = 2.0 * PLANE;
        let held = |(x, y): (f64, f64)| {
            if x.hypot(y) > 4.0 * PLANE { (f64::NAN, f64::NAN) } else { (x, y) }
        };
        points
            .into_iter()
            .map(held)
            .map(|(x, y)| (x.clamp(-far, far), y.clamp(-far, far)))
            .collect()
    };
    let mut curves: Vec<Trace> = traces(&outcome.curves, "real", "imaginary");
    curves.iter_mut().for_each(|t| t.points = near(std::mem::take(&mut t.points)));
    let circle = |radius: f64, (x, y): (f64, f64), label: &str| Trace {
        label: label.to_owned(),
        points: (0..=CORNERS)
            .map(|k| k as f64 / CORNERS as f64 * TAU)
            .map(|a| (x + radius * a.cos(), y + radius * a.sin()))
            .collect(),
        style: Style::Dotted,
        emphasis: Emphasis::Reference,
    };
    curves.push(circle(1.0, (0.0, 0.0), "gain 1"));
    let least = outcome.measurements.iter().find(|m| m.name == "loop_distance");
    if let Some(distance) = least.and_then(|m| m.value) {
        curves.push(circle(distance, (-1.0, 0.0), "least distance from −1"));
    }
    let mut y = axis("imaginary part", "", Scale::Linear);
    y.range = Some((-PLANE, PLANE));
    let mut x = axis("real part", "", Scale::Linear);
    x.range = Some((-PLANE, PLANE));
    let marks = vec![Mark { x: -1.0, text: "−1".to_owned(), ..Mark::default() }];
    Chart {
        x,
        panels: vec![Panel { y, curves, marks, ..Panel::default() }],
        square: true,
        ..Chart::default()
    }
}

/// Impedance over frequency under its mask, with the capacitors' own of the first condition.
fn impedance(outcome: &Outcome) -> Chart {
    let mut panel = Panel {
        y: axis("output impedance", "Ω", Scale::Logarithmic),
        curves: traces(&outcome.curves, "frequency", "impedance"),
        ..Panel::default()
    };
    if let Some(first) = outcome.curves.first() {
        let points = first.points("frequency", "mask");
        if !points.is_empty() {
            let label = "target".to_owned();
            panel.masks.push(Mask { points, forbidden: Side::Above, label });
        }
        for column in first.columns.iter().filter(|c| c.name.ends_with(".impedance")) {
            // What is made of several stays grey; each capacitor has a colour to be told by.
            let (label, style, emphasis) = match column.name.trim_end_matches(".impedance") {
                "output_capacitors" => {
                    ("output capacitors together".to_owned(), Style::Dashed, Emphasis::Reference)
                }
                "regulator" => {
                    let label = format!("regulator without them, {}", first.condition);
                    (label, Style::Dotted, Emphasis::Reference)
                }
                part => (format!("{part} alone"), Style::Dashed, Emphasis::Usual),
            };
            let points = first.points("frequency", &column.name);
            panel.curves.push(Trace { label, points, style, emphasis });
        }
    }
    // What the others are held against may leave the picture, lest it dwarf what is judged.
    let judged = panel.curves.iter().filter(|t| t.style == Style::Solid);
    let heights = judged.flat_map(|t| &t.points).chain(panel.masks.iter().flat_map(|m| &m.points));
    let heights = heights.map(|p| p.1).filter(|y| *y > 0.0);
    let (low, high) =
        heights.fold((f64::INFINITY, 0.0_f64), |(low, high), y| (low.min(y), high.max(y)));
    panel.y.range = Some((low / ROOM, high * ROOM));
    Chart { x: frequency(), panels: vec![panel], ..Chart::default() }
}

/// Rejection over frequency, the judged one solid.
fn rejection(outcome: &Outcome) -> Chart {
    let mut curves = traces(&outcome.curves, "frequency", "rejection_from_pin");
    let behind = traces(&outcome.curves, "frequency", "rejection_from_source");
    curves.extend(behind.into_iter().map(|t| Trace { style: Style::Dotted, ..t }));
    let y = axis("ripple rejection", "dB", Scale::Linear);
    let panel = Panel { y, curves, lines: vec![level(0.0, "0 dB")], ..Panel::default() };
    let styles = vec![
        (Style::Solid, "from the input pin".to_owned()),
        (Style::Dotted, "from the source".to_owned()),
    ];
    Chart { x: frequency(), panels: vec![panel], styles, ..Chart::default() }
}

/// Rejection at a few frequencies against headroom, where a test has several headrooms at one
/// load and temperature.
fn against_headroom(outcome: &Outcome) -> Option<Chart> {
    let listing = listing(outcome, "ripple_rejection")?;
    let headroom = numbers(listing, "headroom");
    let (hz, db) = (numbers(listing, "frequency"), numbers(listing, "rejection_from_pin"));
    let mut curves: Vec<Trace> = Vec::new();
    for (((row, headroom), hz), db) in listing.rows.iter().zip(headroom).zip(hz).zip(db) {
        let (Some(headroom), Some(hz), Some(db)) = (headroom, hz, db) else { continue };
        let Some(Cell::Text(condition)) = row.first() else { continue };
        let curve = outcome.curves.iter().find(|c| c.condition == *condition);
        let held = curve.map_or(&[][..], |c| &c.held).iter();
        let held = held.filter(|h| h.name == "load" || h.name == "ambient");
        let held = held.map(|h| engineering(h.value, h.unit, DIGITS));
        let label = std::iter::once(engineering(hz, "Hz", DIGITS)).chain(held);
        let label = label.collect::<Vec<_>>().join(", ");
        match curves.iter_mut().find(|t| t.label == label) {
            Some(trace) => trace.points.push((headroom, db)),
            None => curves.push(Trace { label, points: vec![(headroom, db)], ..Trace::default() }),
        }
    }
    curves.iter_mut().for_each(|t| t.points.sort_by(|a, b| a.0.total_cmp(&b.0)));
    curves.iter_mut().for_each(|t| t.points.dedup_by(|a, b| a.0 == b.0));
    curves.retain(|t| t.points.len() >= FEWEST_HEADROOMS);
    if curves.is_empty() {
        return None;
    }
    let y = axis("ripple rejection from the input pin", "dB", Scale::Linear);
    let panel = Panel { y, curves, ..Panel::default() };
    Some(Chart { x: axis("headroom", "V", Scale::Linear), panels: vec![panel], ..Chart::default() })
}

/// Density over frequency, with who contributes most under the first condition.
fn noise(outcome: &Outcome) -> Chart {
    let mut curves = traces(&outcome.curves, "frequency", "density");
    curves.iter_mut().for_each(|t| t.emphasis = Emphasis::Strong);
    if let Some(first) = outcome.curves.first() {
        let total = first.points("frequency", "density");
        let counts = |points: &[(f64, f64)]| {
            points.iter().zip(&total).any(|(part, all)| part.1 >= LEAST_SHARE * all.1)
        };
        let others = first.columns.iter().skip(1).filter(|c| c.name != "density");
        let others = others.map(|c| (c, first.points("frequency", &c.name)));
        curves.extend(others.filter(|(_, points)| counts(points)).map(|(column, points)| Trace {
            label: column.name.replace('.', " "),
            points,
            style: Style::Dashed,
            emphasis: Emphasis::Usual,
        }));
    }
    let y = axis("noise density at the output", "V/√Hz", Scale::Logarithmic);
    let panel = Panel { y, curves, ..Panel::default() };
    Chart { x: frequency(), panels: vec![panel], ..Chart::default() }
}

/// Output against input, falling solid and rising dashed, and the loop gain that is left.
fn dropout(outcome: &Outcome) -> Chart {
    let both = |y: &str| -> Vec<Trace> {
        let mut found = traces(&outcome.curves, "input", y);
        for trace in &mut found {
            if let Some(condition) = trace.label.strip_suffix(", rising") {
                (trace.label, trace.style) = (condition.to_owned(), Style::Dashed);
            } else if let Some(condition) = trace.label.strip_suffix(", falling") {
                trace.label = condition.to_owned();
            }
        }
        found
    };
    let mut output =
        Panel { y: axis("output", "V", Scale::Linear), curves: both("output"), ..Panel::default() };
    let all = || output.curves.iter().flat_map(|t| &t.points);
    let ends = |of: fn(&(f64, f64)) -> f64| {
        all().map(of).fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)))
    };
    let ((left, right), (low, high)) = (ends(|p| p.0), ends(|p| p.1));
    let knee = all().filter(|p| p.1 < BENT * high).map(|p| p.0).fold(left, f64::max);
    if left.is_finite() && high > low {
        let from = left.max(low);
        output.curves.push(Trace {
            label: "output = input".to_owned(),
            points: vec![(from, from), (high, high)],
            style: Style::Dotted,
            emphasis: Emphasis::Reference,
        });
    }
    let mut panels = vec![output];
    let gain = both("low_frequency_loop_gain");
    if !gain.is_empty() {
        let mut y = axis("loop gain at low frequency", "dB", Scale::Linear);
        let heights = gain.iter().flat_map(|t| &t.points).map(|p| p.1);
        let (low, high) = heights.fold((0.0_f64, 0.0_f64), |(l, h), v| (l.min(v), h.max(v)));
        y.range = Some((low.max(LEAST_GAIN_DB), high + 5.0));
        panels.push(Panel { y, curves: gain, ..Panel::default() });
    }
    let styles = vec![
        (Style::Solid, "input falling".to_owned()),
        (Style::Dashed, "input rising".to_owned()),
    ];
    let mut x = axis("input", "V", Scale::Linear);
    if knee > left {
        x.range = Some((left, (knee + BEYOND * (knee - left)).min(right)));
    }
    Chart { x, panels, styles, ..Chart::default() }
}

/// Output against what is moved.
fn against(outcome: &Outcome, what: &str) -> Chart {
    let column = outcome.curves.first().and_then(|c| c.columns.first());
    let (name, unit) = column.map_or((what, ""), |c| (c.name.as_str(), c.unit));
    let curves = traces(&outcome.curves, name, "output");
    let panel = Panel { y: axis("output", "V", Scale::Linear), curves, ..Panel::default() };
    Chart { x: axis(name, unit, Scale::Linear), panels: vec![panel], ..Chart::default() }
}
