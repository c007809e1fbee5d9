//! The curves of a test in time as numbers that the page's script draws.
//!
//! Curves are thinned so that the line drawn stays within a fixed share of the panel's range of what was
//! solved; instants and heights are whole multiples of a step, each told as what it adds to the one
//! before. A tenth of the bytes of the table, and no difference on a screen.

use serde::Serialize;

use crate::output::plot::thin::{straightened, thin};
use crate::output::plot::{Curve, Panel, Role, StepPlot};

/// How far the drawn line may be off, as a share of the range of its panel.
const OFF: f64 = 2e-4;
/// Instants are told to this share of the record.
const INSTANT: f64 = 1e-7;
/// Points of a curve beyond which it may be off by more.
const MOST_POINTS: usize = 3000;
/// How often the share may double for that; then only the extremes of columns are kept.
const DOUBLINGS: u32 = 3;
/// First, lowest, highest and last point of each.
const COLUMNS: usize = MOST_POINTS / 4;

#[derive(Serialize)]
struct Record<'a> {
    from: f64,
    to: f64,
    windows: Vec<(&'a str, f64, f64)>,
    panels: Vec<Shown<'a>>,
}

#[derive(Serialize)]
struct Shown<'a> {
    label: &'a str,
    unit: &'a str,
    share: f64,
    bands: Vec<(&'a str, Option<f64>, Option<f64>)>,
    marks: Vec<(&'a str, f64, f64)>,
    curves: Vec<Line<'a>>,
}

#[derive(Serialize)]
struct Line<'a> {
    name: &'a str,
    colour: &'static str,
    dash: &'static [u8],
    x: Coded,
    y: Coded,
}

/// First value, step, and what each further value adds, in steps.
#[derive(Serialize)]
struct Coded(f64, f64, Vec<i64>);

/// How much was left out of the curves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Thinned {
    /// The drawn line is off by this share of its panel's range at most.
    Within(f64),
    /// Some curve swings so often that of each column only the extremes are left.
    Extremes,
}

impl Thinned {
    /// In words.
    pub(super) fn words(self) -> String {
        match self {
            Self::Within(share) => format!(
                "curves are thinned to within {:.2} % of their panel's range",
                share * 100.0
            ),
            Self::Extremes => format!(
                "curves are thinned to the extremes of {COLUMNS} intervals of the record where they \
                 swing most"
            ),
        }
    }

    fn and(&mut self, other: Self) {
        *self = match (*self, other) {
            (Self::Within(a), Self::Within(b)) => Self::Within(a.max(b)),
            _ => Self::Extremes,
        };
    }
}

/// What the script draws, as JSON, and how far it was thinned.
pub(super) fn json(plot: &StepPlot) -> (String, Thinned) {
    let (from, to) = plot.time_range_s;
    let mut off = Thinned::Within(OFF);
    let panels = plot.panels.iter().map(|panel| shown(panel, (from, to), &mut off)).collect();
    let windows = plot.zooms.iter().map(|z| (z.label.as_str(), z.from_s, z.to_s)).collect();
    // Strings and numbers always serialise; what is not finite is written as null.
    (serde_json::to_string(&Record { from, to, windows, panels }).unwrap_or_default(), off)
}

fn shown<'a>(panel: &'a Panel, span: (f64, f64), off: &mut Thinned) -> Shown<'a> {
    let finite = |value: f64| value.is_finite().then_some(value);
    Shown {
        label: &panel.label,
        unit: panel.unit,
        share: panel.height_share,
        bands: panel
            .bands
            .iter()
            .map(|b| (b.label.as_str(), finite(b.low), finite(b.high)))
            .collect(),
        marks: panel
            .marks
            .iter()
            .filter(|m| m.t_s.is_finite() && m.value.is_finite())
            .map(|m| (m.text.as_str(), m.t_s, m.value))
            .collect(),
        curves: panel
            .curves
            .iter()
            .map(|curve| Line {
                dash: if panel.curves.len() == 1 { &[] } else { dash(curve.role) },
                ..line(curve, range(panel), span, off)
            })
            .collect(),
    }
}

/// From the lowest to the highest value of all curves, never nothing.
fn range(panel: &Panel) -> f64 {
    let values = panel.curves.iter().flat_map(|c| &c.points).map(|p| p.1).filter(|v| v.is_finite());
    let (low, high) =
        values.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
    if high > low { high - low } else { high.abs().max(f64::MIN_POSITIVE) }
}

fn line<'a>(curve: &'a Curve, range: f64, (from, to): (f64, f64), off: &mut Thinned) -> Line<'a> {
    let points: Vec<(f64, f64)> = curve
        .points
        .iter()
        .copied()
        .filter(|(t, v)| t.is_finite() && v.is_finite() && *t >= from && *t <= to)
        .collect();
    let mut own = OFF;
    let mut kept = straightened(&points, own * range);
    for _ in 0..DOUBLINGS {
        if kept.len() <= MOST_POINTS {
            break;
        }
        own *= 2.0;
        kept = straightened(&kept, own * range);
    }
    if kept.len() > MOST_POINTS {
        kept = thin(&points, (from, to), COLUMNS).concat();
        off.and(Thinned::Extremes);
    } else {
        off.and(Thinned::Within(own));
    }
    let (x, y) = coded(&kept, INSTANT * (to - from), 0.25 * OFF * range);
    let colour = match curve.role {
        Role::Main => "#0072b2",
        Role::Second => "#d55e00",
        Role::Third => "#009e73",
        Role::Reference => "#5a5a5a",
    };
    Line { name: &curve.name, colour, dash: &[], x, y }
}

/// Tells curves of one panel apart without their colours: lengths drawn and left out, in CSS pixels.
fn dash(role: Role) -> &'static [u8] {
    match role {
        Role::Main => &[],
        Role::Second => &[9, 3],
        Role::Third => &[3, 3],
        Role::Reference => &[2, 4],
    }
}

/// Both sides of a jump are one step of time apart, for the script wants times that rise.
fn coded(points: &[(f64, f64)], step_s: f64, step: f64) -> (Coded, Coded) {
    let (x0, y0) = points.first().copied().unwrap_or_default();
    let (mut xs, mut ys) = (Vec::with_capacity(points.len()), Vec::with_capacity(points.len()));
    let (mut x_before, mut y_before) = (0_i64, 0_i64);
    for &(t, v) in points.iter().skip(1) {
        let x = (((t - x0) / step_s).round() as i64).max(x_before + 1);
        let y = ((v - y0) / step).round() as i64;
        xs.push(x - x_before);
        ys.push(y - y_before);
        (x_before, y_before) = (x, y);
    }
    (Coded(x0, step_s, xs), Coded(y0, step, ys))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

    use super::{OFF, Thinned, json};
    use crate::output::plot::{Curve, Panel, StepPlot};
    use serde_json::Value;

    fn decoded(coded: &Value) -> Vec<f64> {
        let (start, step) = (coded[0].as_f64().unwrap(), coded[1].as_f64().unwrap());
        let added = coded[2].as_array().unwrap().iter().map(|v| v.as_i64().unwrap());
        let sums = added.scan(0, |sum, more| {
            *sum += more;
            Some(*sum)
        });
        std::iter::once(start).chain(sums.map(|sum| start + step * sum as f64)).collect()
    }

    fn plot(points: Vec<(f64, f64)>) -> StepPlot {
        let curve = Curve { name: "output".to_owned(), points, ..Curve::default() };
        let panel = Panel { label: "output".to_owned(), curves: vec![curve], ..Panel::default() };
        StepPlot { time_range_s: (0.0, 1e-3), panels: vec![panel], ..StepPlot::default() }
    }

    #[test]
    fn the_decoded_curve_is_as_close_as_is_told_and_its_times_rise() {
        let ring = |t: f64| 2.8 - 0.02 * (-t * 2e4).exp() * (t * 6e5).sin();
        let mut points: Vec<(f64, f64)> =
            (0..=20_000).map(|i| f64::from(i) * 5e-8).map(|t| (t, ring(t))).collect();
        points.insert(1, (0.0, 2.9));
        let (text, off) = json(&plot(points.clone()));
        let value: Value = serde_json::from_str(&text).unwrap();
        let line = &value["panels"][0]["curves"][0];
        let (x, y) = (decoded(&line["x"]), decoded(&line["y"]));
        assert_eq!(x.len(), y.len());
        assert!(x.len() < points.len() / 5, "{}", x.len());
        assert!(x.windows(2).all(|pair| pair[0] < pair[1]));
        let (low, high) =
            points.iter().fold((9.0f64, 0.0f64), |(l, h), p| (l.min(p.1), h.max(p.1)));
        // Rounding of heights adds an eighth; rounding of instants, slope times half a step.
        assert_eq!(off, Thinned::Within(OFF));
        let allowed = 1.2 * OFF * (high - low) + 0.02 * 6e5 * 0.5e-10;
        for &(t, v) in &points[2..] {
            let k = x.partition_point(|at| *at < t).clamp(1, x.len() - 1);
            let share = (t - x[k - 1]) / (x[k] - x[k - 1]);
            let drawn = y[k - 1] + share * (y[k] - y[k - 1]);
            assert!((drawn - v).abs() <= allowed, "{t}: {drawn} {v}");
        }
    }

    #[test]
    fn a_curve_that_swings_all_the_time_is_held_to_a_few_thousand_points_and_says_so() {
        let points = (0..100_000).map(|i| (f64::from(i) * 1e-8, f64::from(i * 7919 % 1009)));
        let (text, off) = json(&plot(points.collect()));
        assert_eq!(off, Thinned::Extremes);
        assert!(text.len() < 50_000, "{}", text.len());
    }
}
