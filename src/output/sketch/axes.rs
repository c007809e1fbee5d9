//! What stands beside and below a sketch: values and limits at their rows, times at round steps.

use super::canvas::Frame;
use super::{DIGITS, Script, Shown};
use crate::output::number::{engineering, trimmed};

/// Columns that one label of a time and the air about it take.
const LABEL_COLUMNS: usize = 14;
/// Columns between two labels at least.
const BETWEEN: usize = 2;

/// The label of each row, from the top: both ends, and limits where they lie.
pub(super) fn value_labels(shown: &Shown, unit: &str, rows: usize) -> Vec<String> {
    let mut labels = vec![String::new(); rows];
    let frame =
        Frame { columns: 1, rows, time_s: (0.0, 1.0), value: shown.range, script: Script::Braille };
    for value in [shown.range.1, shown.range.0].iter().chain(&shown.limits) {
        if let Some(label) = labels.get_mut(frame.row(*value)) {
            *label = engineering(*value, unit, DIGITS);
        }
    }
    labels
}

/// The axis and its labels.
pub(super) fn time_lines(frame: &Frame) -> impl Iterator<Item = String> {
    let [corner, line, tick] = match frame.script {
        Script::Braille => ['└', '─', '┬'],
        Script::Ascii => ['+', '-', '+'],
    };
    let mut axis: Vec<char> = vec![line; frame.columns];
    let mut labels: Vec<char> = Vec::new();
    for t_s in ticks(frame) {
        let column = frame.column(t_s);
        axis[column] = tick;
        let label: Vec<char> = trimmed(t_s, "s").chars().collect();
        let start = column.min(frame.columns.saturating_sub(label.len()));
        if labels.is_empty() || start >= labels.len() + BETWEEN {
            labels.resize(start, ' ');
            labels.extend(label);
        }
    }
    let axis = std::iter::once(corner).chain(axis).collect();
    let labels = std::iter::once(' ').chain(labels).collect();
    [axis, labels].into_iter()
}

/// Multiples of 1, 2 or 5 times a power of ten, as many as have room.
fn ticks(frame: &Frame) -> Vec<f64> {
    let (from, to) = frame.time_s;
    let wanted = (frame.columns / LABEL_COLUMNS).max(1) as f64;
    let least = (to - from) / wanted;
    let power = 10_f64.powi(least.log10().floor() as i32);
    let step = [1.0, 2.0, 5.0, 10.0].iter().map(|f| f * power).find(|s| *s >= least);
    let step = step.unwrap_or(least);
    let first = (from / step).ceil();
    let count = ((to / step).floor() - first) as usize;
    (0..=count.min(frame.columns)).map(|k| (first + k as f64) * step).collect()
}
