//! The values assumed inside a regulator: what each starts from, and how far it may reasonably lie
//! from there.

use crate::quantity::Dimension;

/// A value of the block that stands for a regulator.
#[derive(Clone, Debug, PartialEq)]
pub struct InnerValue {
    /// As in `U1.mid_gain`: `mid_gain`.
    pub name: &'static str,
    /// Its unit.
    pub unit: Dimension,
    /// What it is in this file, SI: estimated from the sheet, or as `inside` gives it.
    pub value: f64,
    /// Below this it makes no sense, SI.
    pub low: f64,
    /// Above this it makes no sense, SI.
    pub high: f64,
    /// How far the estimate may be off: the natural logarithm of a factor, as a standard deviation.
    pub spread: f64,
    /// Whether a fit may move it: not where the sheet gives it outright, nor where `inside` holds it.
    pub free: bool,
    /// What it is, and what of the sheet tells it.
    pub text: &'static str,
}
