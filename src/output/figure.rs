//! The step response of one test as a figure: load, output with its windows, input, and the edges
//! magnified.

use super::number::{above_noise, engineering};
use super::plot::{Band, Curve, Mark, Panel, Role, StepPlot, Zoom};
use super::summary::causes;
use super::text::split_text;
use crate::measure::scene::signal;
use crate::measure::{Bound, Measurement, TestKind, Verdict};
use crate::plan::Plan;
use crate::quantity::ZERO_CELSIUS_K;
use crate::trial::Outcome;
use crate::waveform::{Signal, Waveform};

/// The label of the panel that shows the output.
pub(super) const OUTPUT: &str = "output";
/// Points drawn between two neighbours of the record, so that curves look like what was solved.
const INNER_POINTS: usize = 8;
/// An excursion of a start below this share of nominal is not marked.
const NO_EXCURSION: f64 = 1e-3;
/// Times of a rail that is switched which a magnified window must hold.
const LASTING: [&str; 4] = ["start_time", "start_settling", "hold_up", "discharge_time"];
/// A magnified window reaches this many recovery times (or edge times) past its edge.
const ZOOM_REACH: f64 = 3.0;
/// A magnified window starts this share of its length ahead of its edge.
const ZOOM_LEAD: f64 = 0.15;

/// The figure of a test that ran through time; `None` for a test at rest.
pub fn step_plot(plan: &Plan, outcome: &Outcome) -> Option<StepPlot> {
    let waveform = &outcome.waveform;
    let end = *waveform.time_s.last().filter(|_| outcome.at_rest.is_none())?;
    let zooms = zooms(outcome, end);
    let panels = [
        load_panel(outcome),
        output_panel(outcome, !zooms.is_empty()),
        input_panel(outcome),
        control_panel(plan, outcome),
        pass_panel(outcome),
        junction_panel(outcome),
    ];
    Some(StepPlot {
        title: format!("{} — {}", outcome.name, plan.circuit.title),
        subtitle: subtitle(outcome),
        caption: caption(outcome),
        time_range_s: (waveform.time_s.first().copied().unwrap_or(0.0), end),
        panels: panels.into_iter().flatten().collect(),
        zooms,
    })
}

/// The verdict and what was judged; what did not pass stands first, as the line may be cut.
fn subtitle(outcome: &Outcome) -> String {
    let counted = outcome.measurements.iter().filter(|m| m.limit.is_some() && !m.advisory);
    let (passed, other): (Vec<_>, Vec<_>) = counted.partition(|m| m.verdict == Verdict::Pass);
    let text = |m: &Measurement, value: f64| match m.unit {
        "V" => above_noise(value, outcome.condition.accuracy_v),
        unit => engineering(value, unit, 4),
    };
    let words = |m: &Measurement| {
        let found = m.value.map_or_else(|| "–".to_owned(), |v| text(m, v));
        Some(format!("{} {found} ({}, {})", m.name, m.limit.as_deref()?, m.verdict.word()))
    };
    let judged: Vec<String> = other.into_iter().chain(passed).filter_map(words).collect();
    match judged.len() {
        0 => format!("verdict: {}", outcome.verdict.word()),
        _ => format!("verdict: {} — {}", outcome.verdict.word(), judged.join("; ")),
    }
}

fn caption(outcome: &Outcome) -> Vec<String> {
    let at = &outcome.condition;
    let mut parts = Vec::new();
    if let Some(load) = &at.load {
        parts.push(format!("load {load}"));
    }
    match (&at.source, at.source_v) {
        (Some(words), _) => parts.push(format!("source {words}")),
        (None, Some(volt)) => parts.push(format!("source {}", engineering(volt, "V", 4))),
        (None, None) => {}
    }
    parts.extend(at.ambient_c.map(|c| format!("ambient {c:.0} °C")));
    parts.extend(at.values.iter().map(|(name, value)| format!("{name} = {value}")));
    parts.push("nominal values".to_owned());
    let split = outcome.explanation.as_ref().map(causes).filter(|causes| !causes.is_empty());
    let split = split.map(|causes| split_text(&causes));
    let conditions = std::iter::once(parts.join(", "));
    conditions.chain(split).chain(["Calculated, not measured.".to_owned()]).collect()
}

fn panel(label: String, unit: &'static str, curve: Curve, height_share: f64) -> Panel {
    Panel { label, unit, curves: vec![curve], height_share, ..Panel::default() }
}

fn load_panel(outcome: &Outcome) -> Option<Panel> {
    let name = match outcome.kind {
        TestKind::LineStep | TestKind::StartUp | TestKind::PowerDown => signal::SOURCE_CURRENT,
        TestKind::ShortCircuit => signal::SHORT_CURRENT,
        _ => signal::LOAD_CURRENT,
    };
    let found = outcome.waveform.signal(name)?;
    if !moves(&found.values) {
        return None;
    }
    let words = match name {
        signal::LOAD_CURRENT => "load current",
        signal::SHORT_CURRENT => "current through the short",
        _ => "source current",
    };
    Some(panel(words.to_owned(), "A", curve(&outcome.waveform, found, words), 0.22))
}

fn input_panel(outcome: &Outcome) -> Option<Panel> {
    let found = outcome.waveform.signal(signal::INPUT)?;
    let words = "regulator input";
    Some(panel(words.to_owned(), "V", curve(&outcome.waveform, found, words), 0.25))
}

/// What flows through the pass device when the power goes: backwards below the zero line.
fn pass_panel(outcome: &Outcome) -> Option<Panel> {
    let found = outcome.waveform.signal(signal::PASS_CURRENT).filter(|s| moves(&s.values))?;
    let words = "current through pass device";
    Some(panel(words.to_owned(), "A", curve(&outcome.waveform, found, words), 0.22))
}

/// What steers the pass device: the amplifier's output current where it drives a base, else the
/// node at its output. Where it lies flat at its limit, it shows why the rail gives way.
fn control_panel(plan: &Plan, outcome: &Outcome) -> Option<Panel> {
    let [amplifier] = plan.nominal.rail.as_ref()?.amplifier.as_slice() else { return None };
    let part = plan.nominal.part(amplifier)?;
    let output = part.terminals.iter().position(|t| *t == "output")?;
    let (column, words) = if part.parameters.word("stage") == "current" {
        (format!("{amplifier}.output_current"), "amplifier output current")
    } else {
        (part.nodes.get(output)?.clone(), "amplifier output")
    };
    let column = outcome.columns.iter().find(|c| c.name == column)?;
    if !moves(&column.values) {
        return None;
    }
    let points = outcome.times_s.iter().copied().zip(column.values.iter().copied()).collect();
    let curve = Curve { name: words.to_owned(), points, role: Role::Second };
    Some(panel(words.to_owned(), column.unit, curve, 0.22))
}

/// The junctions that change their temperature.
fn junction_panel(outcome: &Outcome) -> Option<Panel> {
    const ROLES: [Role; 3] = [Role::Main, Role::Second, Role::Third];
    let junctions = outcome.waveform.signals.iter().filter_map(|signal| {
        let path = signal.name.strip_prefix(signal::JUNCTION)?;
        moves(&signal.values).then_some((path, signal))
    });
    let drawn = |((path, signal), role): ((&str, &Signal), Role)| {
        let mut curve = curve(&outcome.waveform, signal, path);
        curve.points.iter_mut().for_each(|(_, kelvin)| *kelvin -= ZERO_CELSIUS_K);
        Curve { role, ..curve }
    };
    let curves: Vec<Curve> = junctions.zip(ROLES).map(drawn).collect();
    let label = "junction temperature".to_owned();
    let panel = Panel { label, unit: "°C", height_share: 0.25, ..Panel::default() };
    (!curves.is_empty()).then_some(Panel { curves, ..panel })
}

/// Whether a curve is more than a level with noise on it.
fn moves(values: &[f64]) -> bool {
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    high - low > 1e-5 * high.abs().max(low.abs())
}

fn output_panel(outcome: &Outcome, zoomed: bool) -> Option<Panel> {
    let found = outcome.waveform.signal(signal::OUTPUT)?;
    let mut panel = panel(OUTPUT.to_owned(), "V", curve(&outcome.waveform, found, "output"), 0.53);
    panel.zoomed = zoomed;
    let mut band = |bound: Bound, label: &str| {
        if let Bound::Within { low_v, high_v } = bound {
            panel.bands.push(Band { low: low_v, high: high_v, label: label.to_owned() });
        }
    };
    let rail = outcome.condition.rail;
    band(rail.window, "window");
    if rail.every_instant() != rail.window {
        band(rail.every_instant(), "transient window");
    }
    panel.marks = outcome.measurements.iter().filter_map(|m| mark(outcome, found, m)).collect();
    panel.marks.extend(event_marks(outcome, found));
    Some(panel)
}

/// Numbers that happen at one instant of the output.
fn mark(outcome: &Outcome, output: &Signal, m: &Measurement) -> Option<Mark> {
    const ALWAYS: [&str; 9] = [
        "droop",
        "overshoot",
        "train_droop",
        "train_overshoot",
        "start_time",
        "start_dip",
        "start_overshoot",
        "hold_up",
        "discharge_time",
    ];
    const WHERE_ASKED: [&str; 4] = ["recovery", "release_recovery", "start_settling", "recovered"];
    let name = m.name.as_str();
    let told = ALWAYS.contains(&name) || (WHERE_ASKED.contains(&name) && m.limit.is_some());
    let (value, at_s) = (m.value.filter(|_| told)?, m.at_s?);
    // A start that ends from below has its highest value anywhere at its end.
    let nominal_v = outcome.condition.rail.nominal_v.map_or(0.0, f64::abs);
    if name.starts_with("start_") && m.unit == "V" && value < NO_EXCURSION * nominal_v {
        return None;
    }
    let height = outcome.waveform.at(output, at_s, crate::waveform::Side::After)?;
    let words = m.name.replace('_', " ");
    Some(Mark {
        t_s: at_s,
        value: height,
        text: format!("{words} {}", engineering(value, m.unit, 3)),
    })
}

/// The first events, written on the output where they happen.
fn event_marks(outcome: &Outcome, output: &Signal) -> Vec<Mark> {
    const MOST_MARKED: usize = 6;
    let events = outcome.events.iter().flat_map(|events| &events.list).take(MOST_MARKED);
    events
        .filter_map(|event| {
            let side = crate::waveform::Side::After;
            let value = outcome.waveform.at(output, event.time_s, side)?;
            let text = format!("{} {}", event.part, event.what);
            Some(Mark { t_s: event.time_s, value, text })
        })
        .collect()
}

/// A short window around the first edge and the first way back, when the record is much longer.
pub(super) fn zooms(outcome: &Outcome, end: f64) -> Vec<Zoom> {
    let labels = match outcome.kind {
        TestKind::LoadStep | TestKind::PulseTrain => ["loading edge", "releasing edge"],
        TestKind::ShortCircuit => ["short made", "short taken away"],
        TestKind::StartUp => ["start", "start"],
        TestKind::PowerDown => ["power goes", "power goes"],
        _ => ["first edge", "second edge"],
    };
    let lasts = |m: &&Measurement| m.name.contains("recovery") || LASTING.contains(&&*m.name);
    let recoveries = outcome.measurements.iter().filter(lasts).filter(|m| m.unit == "s");
    let slowest = recoveries.filter_map(|m| m.value).fold(0.0, f64::max);
    let edges = outcome.excitation.edges.iter().take(2).zip(labels);
    edges
        .filter_map(|(edge, label)| {
            let length =
                ZOOM_REACH * slowest.max(2.0 * (edge.end_s - edge.start_s)).max(end / 100.0);
            let from_s = (edge.start_s - ZOOM_LEAD * length).max(0.0);
            let to_s = (edge.start_s + length).min(end);
            let label = if edge.change < 0.0 && outcome.kind == TestKind::LoadStep {
                labels[1]
            } else {
                label
            };
            (length < 0.5 * end).then(|| Zoom { from_s, to_s, label: label.to_owned() })
        })
        .collect()
}

pub(super) fn curve(waveform: &Waveform, signal: &Signal, name: &str) -> Curve {
    let mut points = Vec::with_capacity(waveform.time_s.len() * INNER_POINTS);
    for (k, (&t, &v)) in waveform.time_s.iter().zip(&signal.values).enumerate() {
        if let (Some(before), Some([b0, b1])) =
            (k.checked_sub(1), k.checked_sub(1).and_then(|j| signal.bends.get(j)))
        {
            let (t0, v0) = (waveform.time_s[before], signal.values[before]);
            for inner in 1..INNER_POINTS {
                let x = inner as f64 / INNER_POINTS as f64;
                let y = (1.0 - x) * v0 + x * (v + (1.0 - x) * (b0 + x * b1));
                points.push((t0 + x * (t - t0), y));
            }
        }
        points.push((t, v));
    }
    Curve { name: name.to_owned(), points, role: Role::Main }
}
