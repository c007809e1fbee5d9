//! Values, changes and edges of a map in words.

use super::About;
use crate::circuit::{Change, Spacing};
use crate::output::number::{difference, engineering};
use crate::quantity::{Dimension, trimmed};
use crate::study::axis::Axis;
use crate::study::map::{Edge, Map, Point};
use crate::study::spell::{quoted, run_command, set_arguments};

const DIGITS: usize = 3;
/// Where two runs close to each other are told.
const CLOSE_DIGITS: usize = 5;
/// A change of less than this share is left out beside a greater one.
const LEAST_SHARE: f64 = 0.005;
/// From this ratio on a factor reads better than per cents.
const FACTOR: f64 = 10.0;

/// A value of an axis for people: `4.7 µF`.
pub(super) fn value(axis: &Axis, value: f64) -> String {
    if axis.dimension == Dimension::KELVIN {
        return engineering(value, "K", DIGITS);
    }
    trimmed(value, &axis.dimension.symbol(), DIGITS)
}

/// The same with more digits, for two places that lie close together.
pub(super) fn close_place(map: &Map, point: &Point) -> String {
    let value = |axis: &Axis, at: f64| match axis.dimension {
        Dimension::KELVIN => engineering(at, "K", CLOSE_DIGITS),
        dimension => trimmed(at, &dimension.symbol(), CLOSE_DIGITS),
    };
    let each = map.axes.iter().zip(&point.at);
    let words = each.map(|(axis, at)| format!("{} = {}", axis.path, value(axis, *at)));
    words.collect::<Vec<_>>().join(", ")
}

/// All values of a point: `c_out = 4.7 µF, esr_out = 6 mΩ`.
pub(super) fn place(map: &Map, point: &Point) -> String {
    let each = map.axes.iter().zip(&point.at);
    each.map(|(axis, at)| format!("{} = {}", axis.path, value(axis, *at)))
        .collect::<Vec<_>>()
        .join(", ")
}

/// What was found at a point: `20.4 mV`, or why there is no number.
pub(super) fn found(map: &Map, point: &Point) -> String {
    match (point.value, &point.reason) {
        (Some(v), _) => engineering(v, map.row.unit, 4),
        (None, Some(why)) => why.clone(),
        (None, None) => "no number".to_owned(),
    }
}

/// `−23 %`, `× 35`, `+12 K`.
pub(super) fn change(axis: &Axis, from: f64, to: f64, share: Option<f64>) -> String {
    let signed = |text: String| match text.strip_prefix('-') {
        Some(rest) => format!("−{rest}"),
        None => format!("+{text}"),
    };
    match share {
        Some(share) if share + 1.0 >= FACTOR => format!("× {:.0}", share + 1.0),
        Some(share) => {
            let decimals = usize::from(share.abs() < 0.1);
            signed(format!("{:.decimals$} %", share * 100.0))
        }
        None => {
            let unit = axis.dimension.symbol();
            signed(difference(to - from, &unit, DIGITS))
        }
    }
}

/// How far an edge is: `c_out −23 %, esr_out +4.0 %`; axes that hardly move left out.
pub(super) fn way(map: &Map, from: &Point, edge: &Edge) -> String {
    let to = &map.points[edge.holds];
    let small = |share: &Option<f64>| share.is_some_and(|s| s.abs() < LEAST_SHARE);
    let all_small = edge.shares.iter().all(&small);
    let each = map.axes.iter().zip(from.at.iter().zip(&to.at)).zip(&edge.shares);
    let told = each.filter(|(_, share)| all_small || !small(share));
    let words = told.map(|((axis, (was, is)), share)| {
        format!("{} {}", axis.path, change(axis, *was, *is, *share))
    });
    words.collect::<Vec<_>>().join(", ")
}

/// `≤ 30 mV`.
pub(super) fn limit(map: &Map) -> Option<String> {
    map.row.limit_text.as_ref().map(|text| text.replace("<=", "≤").replace(">=", "≥"))
}

/// What is mapped: `phase_margin`, `ripple_rejection (at 1 kHz)`.
pub(super) fn measured(map: &Map) -> String {
    if map.row.settings.is_empty() {
        return map.row.name.clone();
    }
    format!("{} ({})", map.row.name, map.row.settings)
}

/// `droop over c_out and esr_out`.
pub(super) fn heading(map: &Map) -> String {
    let paths: Vec<&str> = map.axes.iter().map(|axis| axis.path.as_str()).collect();
    format!("{} over {}", measured(map), paths.join(" and "))
}

/// `1 µF to 47 µF, 13 places by ratio`.
pub(super) fn range(axis: &Axis) -> String {
    let [low, high] = [axis.low, axis.high].map(|end| value(axis, end));
    let spacing = match axis.spacing {
        Spacing::Linear => "evenly",
        Spacing::Logarithmic => "by ratio",
    };
    format!("{low} to {high}, {} places {spacing}", axis.count)
}

/// The circumstances of all runs.
pub(super) fn conditions(map: &Map, about: &About<'_>) -> String {
    let at = &map.condition;
    let mut parts = vec![format!("{} test `{}`", about.kind.word(), about.test)];
    parts.extend(at.load.iter().map(|load| format!("load {load}")));
    match (&at.source, at.source_v) {
        (Some(words), _) => parts.push(format!("source {words}")),
        (None, Some(volt)) => parts.push(format!("source {}", engineering(volt, "V", 4))),
        (None, None) => {}
    }
    parts.extend(at.ambient_c.map(|c| format!("ambient {c:.0} °C")));
    parts.extend(at.values.iter().map(|(name, value)| format!("{name} = {value}")));
    parts.extend(about.base.iter().map(|c| format!("{} = {} (set)", c.path, c.text)));
    parts.push("all else as it stands in the file".to_owned());
    parts.join(", ")
}

/// Where several models were tried: what a place is, and how many are between the boundary of the first
/// model to fail and that of the last.
pub(super) fn models_words(map: &Map) -> Option<String> {
    let models = map.models.as_ref()?;
    let words = models.words();
    let Some(limit) = &map.row.limit_text else {
        return Some(format!(
            "{words} were run at each place; as nothing is asked none of them is the worst, and the \
             best one, `{}`, is shown",
            models.name(0)
        ));
    };
    let open = super::Tally::of(map).open;
    let between = match open {
        0 => "at no place is it a matter of the model".to_owned(),
        1 => "at 1 place some models hold and some do not".to_owned(),
        n => format!("at {n} places some models hold and some do not"),
    };
    Some(format!(
        "{}: all were run at each place, and boundary and margin are those of the worst one there; {} \
         {limit}: {between}",
        models.described(),
        map.row.name
    ))
}

/// The command that runs a point again.
pub(super) fn command(about: &About<'_>, changes: &[Change]) -> String {
    let mut words = vec![run_command(about.file, about.test)];
    words.extend(about.accuracy.map(|accuracy| format!("--accuracy {}", quoted(accuracy))));
    let all: Vec<Change> = about.base.iter().chain(changes).cloned().collect();
    if !all.is_empty() {
        words.push(set_arguments(&all));
    }
    words.join(" ")
}
