//! A value that is fitted: what it is called, its bounds, and the coordinate that it is moved along.

use crate::circuit::{Change, Changes, Circuit, Variant};
use crate::quantity::Dimension;
use crate::study::axis::{level, present, unknown};
use crate::study::spell::{quantity_text, spelled};

/// More values are not fitted at once: no trace of one rail tells as many apart.
pub const MOST_KNOBS: usize = 8;

/// One value to fit.
#[derive(Clone, Debug, PartialEq)]
pub struct Knob {
    /// As `--set` takes it.
    pub path: String,
    /// What it measures.
    pub dimension: Dimension,
    /// Lower bound in SI base units.
    pub low: f64,
    /// Upper bound.
    pub high: f64,
    /// What the file says, if that can be told.
    pub present: Option<f64>,
}

impl Knob {
    /// Whether it is moved by ratio; a value that may be zero or below is moved by difference.
    pub fn is_ratio(&self) -> bool {
        self.low > 0.0 && self.dimension != Dimension::KELVIN
    }

    /// The coordinate of a value: its natural logarithm, or its share of the way between the bounds.
    pub fn coordinate(&self, value: f64) -> f64 {
        if self.is_ratio() { value.ln() } else { (value - self.low) / (self.high - self.low) }
    }

    /// The value at a coordinate, not held to the bounds.
    pub fn at(&self, u: f64) -> f64 {
        if self.is_ratio() { u.exp() } else { self.low + u * (self.high - self.low) }
    }

    /// How fast the value goes with the coordinate.
    pub fn slope(&self, value: f64) -> f64 {
        if self.is_ratio() { value } else { self.high - self.low }
    }

    /// The coordinates of both bounds.
    pub fn ends(&self) -> [f64; 2] {
        [self.coordinate(self.low), self.coordinate(self.high)]
    }

    /// The way between the bounds.
    pub fn extent(&self) -> f64 {
        let [low, high] = self.ends();
        high - low
    }

    /// The change that puts the value at a coordinate, held to the bounds, and the coordinate that
    /// its text comes to.
    pub fn change(&self, u: f64) -> (Change, f64) {
        let (change, value) =
            spelled(&self.path, self.at(u).clamp(self.low, self.high), self.dimension);
        (change, self.coordinate(value))
    }

    /// A value as text.
    pub fn text(&self, value: f64) -> String {
        quantity_text(value, self.dimension)
    }

    /// The coordinate that a search starts from when nothing is known but the file.
    pub fn start(&self) -> f64 {
        let [low, high] = self.ends();
        let middle = f64::midpoint(low, high);
        self.present.map_or(middle, |value| {
            let inside = value.clamp(self.low, self.high);
            self.coordinate(inside)
        })
    }
}

/// Reads `NAME=LOW..HIGH`, or `NAME` of a value whose `range` the file gives. `changes` hold for all
/// runs.
///
/// # Errors
/// What is wrong with it and what to type.
pub fn knob(circuit: &Circuit, changes: &Changes, text: &str) -> Result<Knob, String> {
    let told = |why: String| format!("`--fit {text}`: {why}");
    let (path, range) = match text.split_once('=') {
        Some((path, range)) => (path.trim(), Some(range)),
        None => (text.trim(), None),
    };
    let base = circuit.variant(changes).map_err(|_| told("the file is broken".to_owned()))?;
    let (low, high, dimension) = match range {
        Some(range) => ends(path, range).map_err(&told)?,
        None => own_range(circuit, &base, path).map_err(&told)?,
    };
    let knob = Knob { path: path.to_owned(), dimension, low, high, present: present(&base, path) };
    for end in [low, high] {
        let mut changes = changes.clone();
        changes.list.push(spelled(path, end, dimension).0);
        circuit.variant(&changes).map_err(|mistakes| {
            let first = mistakes.into_iter().next();
            told(first.map_or_else(|| unknown(circuit, path), |m| m.message))
        })?;
    }
    Ok(knob)
}

fn form(path: &str) -> String {
    format!("write `--fit {path}=LOW..HIGH`, such as `--fit c_out=1uF..10uF`")
}

fn ends(path: &str, range: &str) -> Result<(f64, f64, Dimension), String> {
    let Some((low, high)) = range.split_once("..") else {
        return Err(format!("`{range}` is no range; {}", form(path)));
    };
    let quantity = |text: &str| {
        level(text.trim()).ok_or_else(|| format!("`{text}` is no quantity; {}", form(path)))
    };
    let ((low_value, is), (high_value, other)) = (quantity(low)?, quantity(high)?);
    if is != other {
        return Err(format!("`{low}` is {}, `{high}` is {}", is.words(), other.words()));
    }
    if !(low_value < high_value) {
        return Err(format!("`{low}` is not below `{high}`"));
    }
    Ok((low_value, high_value, is))
}

fn own_range(
    circuit: &Circuit,
    base: &Variant,
    path: &str,
) -> Result<(f64, f64, Dimension), String> {
    let spec = circuit.values_told.iter().find(|spec| spec.name == path);
    match spec.map(|spec| (spec.range, spec.dimension)) {
        Some((Some([low, high]), dimension)) => Ok((low, high, dimension)),
        Some((None, _)) => Err(format!("the file gives `{path}` no `range`; {}", form(path))),
        None if present(base, path).is_some() => {
            Err(format!("its bounds must be given; {}", form(path)))
        }
        None => Err(unknown(circuit, path)),
    }
}
