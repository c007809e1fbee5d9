//! Figures as text that reads back to the very same figure.

use crate::device::temperature::ZERO_CELSIUS_K;
use crate::diagnostic::{FileId, Span};
use crate::quantity::{Dimension, NoNames, parse, trimmed};

/// As many digits as tell any two numbers apart.
const MOST_DIGITS: usize = 17;

/// A quantity with as few digits as read back to `value` itself: `4.7 µF`, `150 °C`.
pub(super) fn spelled(value: f64, unit: Dimension) -> String {
    let (shown, symbol) = if unit == Dimension::KELVIN {
        (value - ZERO_CELSIUS_K, "°C".to_owned())
    } else {
        (value, unit.symbol())
    };
    let reads_back = |text: &String| figure(text, unit) == Some(value);
    (1..=MOST_DIGITS)
        .map(|digits| trimmed(shown, &symbol, digits))
        .find(reads_back)
        .unwrap_or_else(|| format!("{value:e} {}", unit.symbol()))
}

/// An estimate needs no more digits than this.
pub(super) fn to_three_digits(value: f64) -> f64 {
    format!("{value:.2e}").parse().unwrap_or(value)
}

/// A resistor of a divider: its ratio must hold far better than any accuracy.
pub(super) fn to_six_digits(value: f64) -> f64 {
    format!("{value:.5e}").parse().unwrap_or(value)
}

/// What a text comes to as a quantity.
fn figure(text: &str, unit: Dimension) -> Option<f64> {
    let span = Span { file: FileId(0), start: 0, end: text.len() };
    let program = parse(text, span).ok()?.compile_as(&NoNames, unit).ok()?;
    Some(program.evaluate::<f64>(&[]))
}
