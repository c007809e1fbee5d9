//! `model.svg`: how far each point is off, over what it may differ, and where each value lies between
//! its bounds, both over all models.

use super::{Report, words};
use crate::output::plot::chart::{
    Axis, Chart, Emphasis, Level, Mark, MarkShape, Mask, Panel, Scale, Side, Trace,
};
use crate::study::model::{Modelled, Told, Value};

/// Farther off than this a point is drawn at the edge.
const FARTHEST: f64 = 2.5;

pub(super) fn chart(report: &Report<'_>) -> Chart {
    let modelled = report.modelled;
    let fitted: Vec<&Value> = modelled.values.iter().filter(|v| v.interval.is_some()).collect();
    let count = modelled.points.len().max(fitted.len()).max(1);
    let numbered = |names: Vec<String>| {
        let each = names.iter().enumerate().map(|(k, name)| format!("{} {name}", k + 1));
        each.collect::<Vec<_>>().join(", ")
    };
    let points = modelled
        .points
        .iter()
        .map(|p| format!("{}, {}", p.point.words().replace('`', ""), p.point.condition));
    let (mut caption, mut panels) = (Vec::new(), Vec::new());
    if !modelled.points.is_empty() {
        caption.push(format!("points: {}", numbered(points.collect())));
        panels.push(points_panel(modelled));
    }
    panels.push(values_panel(&fitted));
    caption.push(format!("values: {}", numbered(fitted.iter().map(|v| v.name.clone()).collect())));
    if modelled.points.iter().any(|told| told.got.is_err() || told.residual.abs() > FARTHEST) {
        caption
            .push(format!("crosses at ± {FARTHEST}: that far off or farther, or no figure at all"));
    }
    caption.push(format!(
        "bars: over the {} models that agree with the datasheet equally well",
        modelled.ensemble.models.len()
    ));
    caption.push("calculated, not measured".to_owned());
    Chart {
        title: format!("{}: model of {}", report.title, modelled.regulator),
        subtitle: words::outcome(modelled),
        caption,
        x: Axis {
            label: "number".to_owned(),
            unit: "",
            scale: Scale::Linear,
            range: Some((0.5, count as f64 + 0.5)),
        },
        panels,
        ..Chart::default()
    }
}

fn vertical(label: &str, x: f64, ends: [f64; 2]) -> Trace {
    Trace {
        label: label.to_owned(),
        points: vec![(x, ends[0]), (x, ends[1])],
        emphasis: Emphasis::Strong,
        ..Trace::default()
    }
}

fn mark(x: f64, y: f64, text: String, is_met: bool) -> Mark {
    let shape = if is_met { MarkShape::Disc } else { MarkShape::Cross };
    Mark { x, y, text, of: String::new(), shape }
}

fn points_panel(modelled: &Modelled) -> Panel {
    let held = |off: f64| off.clamp(-FARTHEST, FARTHEST);
    let place = |k: usize| k as f64 + 1.0;
    let bar = |(k, told): (usize, &Told)| {
        let ends = told.range?.map(|got| held(told.point.residual(got)));
        Some(vertical("points over all models", place(k), ends))
    };
    let dot = |(k, told): (usize, &Told)| {
        let off = if told.got.is_ok() { held(told.residual) } else { FARTHEST };
        let text = match &told.got {
            Ok(got) => words::figure(*got, told.point.unit),
            Err(_) => "none".to_owned(),
        };
        mark(place(k), off, text, told.is_met())
    };
    let beyond = |at: f64, forbidden: Side| Mask {
        points: vec![(0.5, at), (modelled.points.len() as f64 + 0.5, at)],
        forbidden,
        label: String::new(),
    };
    Panel {
        y: Axis {
            label: "points: found over asked, in what each may differ".to_owned(),
            unit: "",
            scale: Scale::Linear,
            range: Some((-1.1 * FARTHEST, 1.1 * FARTHEST)),
        },
        curves: modelled.points.iter().enumerate().filter_map(bar).collect(),
        masks: vec![beyond(1.0, Side::Above), beyond(-1.0, Side::Below)],
        lines: vec![Level { at: 0.0, label: "as asked".to_owned(), ..Level::default() }],
        marks: modelled.points.iter().enumerate().map(dot).collect(),
    }
}

fn values_panel(fitted: &[&Value]) -> Panel {
    let share = |value: &Value, v: f64| {
        let [low, high] = value.knob.ends();
        ((value.knob.coordinate(v) - low) / (high - low)).clamp(0.0, 1.0)
    };
    let place = |k: usize| k as f64 + 1.0;
    let bar = |(k, value): (usize, &&Value)| {
        let interval = value.interval?;
        let ends = [interval.low, interval.high].map(|v| share(value, v));
        Some(vertical("values over all models", place(k), ends))
    };
    let dot = |(k, value): (usize, &&Value)| {
        let text = words::figure(value.value, value.knob.dimension);
        mark(place(k), share(value, value.value), text, true)
    };
    Panel {
        y: Axis {
            label: "values: place between the bounds, in their logarithm".to_owned(),
            unit: "1",
            scale: Scale::Linear,
            range: Some((-0.05, 1.05)),
        },
        curves: fitted.iter().enumerate().filter_map(bar).collect(),
        masks: Vec::new(),
        lines: Vec::new(),
        marks: fitted.iter().enumerate().map(dot).collect(),
    }
}
