//! Words that text, JSON and picture share.

use crate::quantity::{Dimension, trimmed};
use crate::study::compare::Bound;
use crate::study::model::{
    Contradiction, Interval, Line, Modelled, Origin, RangeEnd, Rests, Value, Within,
};

/// Digits of figures.
const DIGITS: usize = 4;

/// A figure to four digits.
pub(super) fn figure(value: f64, unit: Dimension) -> String {
    trimmed(value, &unit.symbol(), DIGITS)
}

/// What came of it, in half a sentence.
pub(super) fn outcome(modelled: &Modelled) -> String {
    let missed = modelled.points.iter().filter(|p| !p.is_met()).count();
    match (modelled.points.len(), missed) {
        (0, _) => {
            "the datasheet gives no point to fit; every inner value is as expected".to_owned()
        }
        (1, 0) => "the model gives the one point of the datasheet".to_owned(),
        (1, _) => "the model misses the one point of the datasheet".to_owned(),
        (all, 0) => format!("the model gives all {all} points of the datasheet"),
        (all, missed) => format!("the model misses {missed} of {all} points of the datasheet"),
    }
}

/// `10 %` or `3 dB`.
pub(super) fn within(within: Within) -> String {
    match within {
        Within::Share(share) => format!("{} %", trimmed(100.0 * share, "", 3)),
        Within::Decibel(db) => format!("{} dB", trimmed(db, "", 3)),
    }
}

/// The same as a number and its unit, as files for programs tell it.
pub(super) fn within_in_units(within: Within) -> (f64, &'static str) {
    match within {
        Within::Share(share) => (share, "1"),
        Within::Decibel(db) => (db, "dB"),
    }
}

/// Where a value comes from.
pub(super) fn origin(origin: Origin) -> &'static str {
    match origin {
        Origin::Fitted => "fitted",
        Origin::Alone => "expected",
        Origin::OnBound(Bound::Lower) => "on lower bound",
        Origin::OnBound(Bound::Upper) => "on upper bound",
        Origin::Given => "held",
    }
}

/// `48.2 to 71.0`, a bound reached marked.
pub(super) fn interval(value: &Value) -> String {
    let Some(Interval { low, high, at_bound }) = value.interval else { return "–".to_owned() };
    let told = |v: f64| figure(v, value.knob.dimension);
    let mark = |reached: bool| if reached { "*" } else { "" };
    format!("{}{} to {}{}", told(low), mark(at_bound[0]), told(high), mark(at_bound[1]))
}

/// Values that the datasheet leaves open.
pub(super) fn undetermined(modelled: &Modelled) -> Vec<&Value> {
    let open = |v: &&Value| v.interval.is_some_and(|i| i.is_undetermined());
    modelled.values.iter().filter(open).collect()
}

/// What points stand against each other, a sentence each.
pub(super) fn contradiction(modelled: &Modelled, it: &Contradiction) -> Vec<String> {
    let named = |k: &usize| modelled.points.get(*k).map(|p| p.point.words());
    let list = |points: &[usize]| points.iter().filter_map(named).collect::<Vec<_>>().join(", ");
    if !it.resolves {
        let all = list(&it.points);
        return vec![format!(
            "no model of this kind meets {all}, and leaving out one or two points does not help: look \
             at the rows again, allow more by `within`, or try another `topology` or `compensation`"
        )];
    }
    let (verb, them) =
        if it.points.len() == 1 { ("contradicts", "it") } else { ("contradict", "them") };
    let against =
        if it.against.is_empty() { "the other points".to_owned() } else { list(&it.against) };
    let mut told =
        vec![format!("{} {verb} {against}: without {them} all others are met", list(&it.points))];
    for (k, instead) in it.points.iter().zip(&it.instead) {
        let (Some(one), Some(got)) = (modelled.points.get(*k), instead) else { continue };
        let [asked, got] = [one.point.asked, *got].map(|v| figure(v, one.point.unit));
        told.push(format!(
            "{}: the sheet says {asked}, a model of all others gives {got}",
            one.point.words()
        ));
    }
    told
}

/// An end of the recommended range at which models are not stable; `None` where all are.
pub(super) fn range_end(end: &RangeEnd) -> Option<String> {
    if end.unstable == 0 {
        return None;
    }
    let margin = match &end.best {
        Ok(deg) => format!("the best has a phase margin of {deg:.1}°"),
        Err(why) => format!("the best has none ({why})"),
    };
    Some(if end.contradicts() {
        format!("{}: no model that meets the points is; {margin}", end.name)
    } else {
        format!("{}: {} of {} models are not; {margin}", end.name, end.unstable, end.models)
    })
}

/// What a line rests on.
pub(super) fn rests(line: &Line) -> &'static str {
    match line.rests {
        Rests::OnSheet => "datasheet",
        Rests::OnModels => "these models",
        Rests::OnAssumed => "assumed inside",
        Rests::Unasked => "–",
    }
}

pub(super) fn cautions(modelled: &Modelled) -> Vec<String> {
    let mut cautions = vec![
        "the model behaves as the datasheet says where the datasheet says anything; between and beyond \
         its points the inside assumed decides, and a real part may differ: a load step on the board \
         decides"
            .to_owned(),
    ];
    if !modelled.meets_all() {
        cautions.push(
            "the model misses points of the datasheet; do not rest a verdict on it".to_owned(),
        );
    }
    cautions
}
