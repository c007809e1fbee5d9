//! What charts of an outcome are put together from: axes, traces, levels, columns of its listings.

use super::plot::chart::{Axis, Level, Scale, Trace};
use crate::curve::{Cell, Curve, Listing};
use crate::trial::Outcome;

pub(super) fn axis(label: &str, unit: &'static str, scale: Scale) -> Axis {
    Axis { label: label.to_owned(), unit, scale, range: None }
}

/// One solid trace for each curve.
pub(super) fn traces(curves: &[Curve], x: &str, y: &str) -> Vec<Trace> {
    let trace = |c: &Curve| Trace {
        label: c.condition.clone(),
        points: c.points(x, y),
        ..Trace::default()
    };
    curves.iter().map(trace).filter(|t| !t.points.is_empty()).collect()
}

pub(super) fn level(at: f64, label: &str) -> Level {
    Level { at, label: label.to_owned(), ..Level::default() }
}

pub(super) fn listing<'a>(outcome: &'a Outcome, name: &str) -> Option<&'a Listing> {
    outcome.listings.iter().find(|l| l.name == name)
}

/// Numbers of one column, row by row.
pub(super) fn numbers(listing: &Listing, column: &str) -> Vec<Option<f64>> {
    let at = listing.columns.iter().position(|c| c.name == column);
    let number = |row: &Vec<Cell>| match at.and_then(|at| row.get(at)) {
        Some(Cell::Number(value)) => Some(*value),
        _ => None,
    };
    listing.rows.iter().map(number).collect()
}
