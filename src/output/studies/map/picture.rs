//! A map as a picture: a field of colours over two values, a curve over one.

use super::words::{conditions, found, heading, limit, measured, models_words, way};
use super::{About, Tally};
use crate::circuit::Spacing;
use crate::measure::Limit;
use crate::output::number::trimmed;
use crate::output::plot::chart::{
    Axis as Ruler, Chart, Direction, Emphasis, Level, Mark, Mask, Panel, Scale, Side, Trace,
    chart_svg,
};
use crate::output::plot::heat::{Colours, Heat, Patch, Pointer, Present, heat_svg};
use crate::quantity::Dimension;
use crate::study::axis::Axis;
use crate::study::map::{Kind, MARGIN, Map, Point};

/// A field whose values span more than this is coloured by ratio.
const WIDE: f64 = 12.0;
/// Margins below this are all as dark as it.
const LEAST_MARGIN: f64 = -1.0;
/// 0 °C in K.
const ZERO_CELSIUS_K: f64 = 273.15;

pub(super) fn svg(map: &Map, about: &About<'_>) -> String {
    if map.axes.len() > 1 { heat_svg(&heat(map, about)) } else { chart_svg(&curve(map, about)) }
}

/// Units that an axis can tell with prefixes; others stand in its label.
fn unit(dimension: Dimension) -> &'static str {
    const KNOWN: [(Dimension, &str); 11] = [
        (Dimension::VOLT, "V"),
        (Dimension::AMPERE, "A"),
        (Dimension::SECOND, "s"),
        (Dimension::KELVIN, "°C"),
        (Dimension::OHM, "Ω"),
        (Dimension::SIEMENS, "S"),
        (Dimension::FARAD, "F"),
        (Dimension::HENRY, "H"),
        (Dimension::WATT, "W"),
        (Dimension::HERTZ, "Hz"),
        (Dimension::DEGREE, "deg"),
    ];
    KNOWN.iter().find(|(known, _)| *known == dimension).map_or("", |(_, unit)| unit)
}

/// A value as the axis shows it.
fn shown(axis: &Axis, value: f64) -> f64 {
    if axis.dimension == Dimension::KELVIN { value - ZERO_CELSIUS_K } else { value }
}

fn ruler(axis: &Axis) -> Ruler {
    let unit = unit(axis.dimension);
    let symbol = axis.dimension.symbol();
    let mut label = axis.path.clone();
    if axis.label != axis.path {
        label = format!("{label} — {}", axis.label);
    }
    if unit.is_empty() && !symbol.is_empty() {
        label = format!("{label} [{symbol}]");
    }
    let scale = match axis.spacing {
        Spacing::Linear => Scale::Linear,
        Spacing::Logarithmic => Scale::Logarithmic,
    };
    let range = Some((shown(axis, axis.low), shown(axis, axis.high)));
    Ruler { label, unit, scale, range }
}

fn title(map: &Map, about: &About<'_>) -> String {
    format!("{} — {}, {}", heading(map), about.test, about.title)
}

fn subtitle(map: &Map) -> String {
    let tally = Tally::of(map);
    let mut parts = Vec::new();
    if let Some(limit) = limit(map) {
        let share = 100.0 * tally.holds as f64 / tally.places.max(1) as f64;
        parts.push(format!(
            "{} {limit} holds at {share:.0} % of {} places",
            map.row.name, tally.places
        ));
    }
    if let Some(present) = &map.present {
        let point = &map.points[present.point];
        let verdict = match (limit(map), point.holds) {
            (None, _) => "",
            (Some(_), true) => " (holds)",
            (Some(_), false) => " (misses)",
        };
        parts.push(format!("present design {}{verdict}", found(map, point)));
        match &map.nearest {
            Some(edge) => parts.push(format!("nearest edge {}", way(map, point, edge))),
            None if limit(map).is_some() => parts.push("no edge inside this range".to_owned()),
            None => {}
        }
        if present.is_crossed {
            parts.push("the limit passes through its tolerances".to_owned());
        }
    }
    parts.join("; ")
}

fn caption(map: &Map, about: &About<'_>) -> Vec<String> {
    let tally = Tally::of(map);
    let runs = format!(
        "{} places, {} runs between them at the boundary, {} at edges and at the present design",
        tally.places, tally.finer, tally.others,
    );
    let clipped = colours(map).axis.range.is_some();
    let dark = if clipped { " Margins below −100 % are as dark as that." } else { "" };
    let models = models_words(map).map(|mut words| {
        words.push('.');
        words
    });
    let lines = [Some(conditions(map, about)), models];
    let last = format!("{runs}.{dark} Calculated, not measured.");
    lines.into_iter().flatten().chain([last]).collect()
}

fn heat(map: &Map, about: &About<'_>) -> Heat {
    let patches = map.patches.iter();
    let blind = map.points.iter().filter(|p| p.value.is_none()).find_map(|p| p.reason.clone());
    let bounded = map.row.limit_text.is_some();
    let all = |pick: fn(&crate::study::map::Patch) -> &Vec<Vec<[f64; 2]>>| {
        map.patches.iter().flat_map(|p| pick(p).iter().cloned()).collect::<Vec<_>>()
    };
    let present = map.present.as_ref().map(|present| {
        let point = &map.points[present.point];
        let spots = present.corners.iter().chain([&present.point]).map(|k| map.points[*k].place);
        let span = |worse: fn(f64, f64) -> f64, start: f64| {
            spots.clone().fold([start; 2], |a, p| [worse(a[0], p[0]), worse(a[1], p[1])])
        };
        let span = (span(f64::min, f64::INFINITY), span(f64::max, f64::NEG_INFINITY));
        Present {
            at: point.place,
            tolerances: (!present.corners.is_empty()).then_some(span),
            text: format!("present design: {}", found(map, point)),
        }
    });
    let nearest = map.nearest.as_ref().zip(map.present.as_ref()).map(|(edge, present)| {
        let from = &map.points[present.point];
        Pointer {
            to: map.points[edge.holds].place,
            text: format!("nearest edge: {}", way(map, from, edge)),
        }
    });
    Heat {
        title: title(map, about),
        subtitle: subtitle(map),
        caption: caption(map, about),
        x: ruler(&map.axes[0]),
        y: ruler(&map.axes[1]),
        scale: colours(map),
        patches: patches.map(|p| Patch { from: p.from, to: p.to, values: p.values }).collect(),
        missing: if bounded { all(|p| &p.missing) } else { Vec::new() },
        blank: all(|p| &p.blank),
        blank_text: blind.as_deref().and_then(|why| why.split(':').next()).unwrap_or("").to_owned(),
        boundary: map.boundary.clone(),
        boundary_text: limit(map).map(|l| format!("{} {l}", map.row.name)).unwrap_or_default(),
        present,
        nearest,
    }
}

fn colours(map: &Map) -> Colours {
    let values = map.patches.iter().flat_map(|p| p.values).flatten();
    let low = values.clone().fold(f64::INFINITY, f64::min);
    let high = values.fold(f64::NEG_INFINITY, f64::max);
    let plain = ["dB", "deg"].contains(&map.row.unit);
    let by_ratio = !plain && low > 0.0 && high / low >= WIDE;
    let scale = if by_ratio { Scale::Logarithmic } else { Scale::Linear };
    let clipped = map.row.name == MARGIN && low < LEAST_MARGIN && high > LEAST_MARGIN;
    let range = clipped.then_some((LEAST_MARGIN, high));
    let axis = Ruler { label: measured(map), unit: map.row.unit, scale, range };
    let text = |relation: &str, value: f64| format!("{relation} {}", trimmed(value, map.row.unit));
    let limits = match map.row.limit {
        Some(Limit::AtMost(high)) => vec![(high, text("≤", high), true)],
        Some(Limit::AtLeast(low)) => vec![(low, text("≥", low), false)],
        Some(Limit::Between(low, high)) => {
            vec![(low, text("≥", low), false), (high, text("≤", high), true)]
        }
        None => Vec::new(),
    };
    let larger_is_better = matches!(map.row.limit, Some(Limit::AtLeast(_)));
    Colours { axis, larger_is_better, limits }
}

fn curve(map: &Map, about: &About<'_>) -> Chart {
    let axis = &map.axes[0];
    let x = ruler(axis);
    let mut points: Vec<&Point> = map.points.iter().filter(|p| p.kind != Kind::Tolerance).collect();
    points.sort_by(|a, b| a.at[0].total_cmp(&b.at[0]));
    let at = |p: &Point| (shown(axis, p.at[0]), p.value.unwrap_or(f64::NAN));
    let trace = Trace {
        label: measured(map),
        points: points.into_iter().map(at).collect(),
        emphasis: Emphasis::Strong,
        ..Trace::default()
    };
    let mut panel = Panel {
        y: Ruler { label: measured(map), unit: map.row.unit, scale: Scale::Linear, range: None },
        ..Panel::default()
    };
    let ends = x.range.unwrap_or((0.0, 1.0));
    let mut forbid = |value: f64, forbidden: Side, relation: &str| {
        let label = format!("limit {relation} {}", trimmed(value, map.row.unit));
        panel.masks.push(Mask { points: vec![(ends.0, value), (ends.1, value)], forbidden, label });
    };
    match map.row.limit {
        Some(Limit::AtMost(high)) => forbid(high, Side::Above, "≤"),
        Some(Limit::AtLeast(low)) => forbid(low, Side::Below, "≥"),
        Some(Limit::Between(low, high)) => {
            forbid(low, Side::Below, "≥");
            forbid(high, Side::Above, "≤");
        }
        None => {}
    }
    let mark = |point: &Point, text: String| {
        let (x, y) = at(point);
        Mark { x, y, text, of: measured(map), ..Mark::default() }
    };
    if let Some(present) = &map.present {
        let point = &map.points[present.point];
        panel.marks.push(mark(point, format!("present design: {}", found(map, point))));
        for (limit, word) in present.limits.iter().flatten().flatten().zip(["−", "+"]) {
            panel.lines.push(Level {
                at: shown(axis, *limit),
                label: format!("tolerance {word}"),
                direction: Direction::Vertical,
            });
        }
    }
    for edge in &map.edges {
        let point = &map.points[edge.holds];
        panel.marks.push(mark(point, format!("edge: {}", super::words::place(map, point))));
    }
    panel.curves.push(trace);
    Chart {
        title: title(map, about),
        subtitle: subtitle(map),
        caption: caption(map, about),
        x,
        panels: vec![panel],
        ..Chart::default()
    }
}
