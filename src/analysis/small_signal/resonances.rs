//! Frequencies at which a circuit may resonate, so that no sweep steps over them, and the same
//! circuit with a node held.

use super::{Natural, SmallSignal};
use std::f64::consts::TAU;

/// Modes damped more than this are as wide as a grid of ten a decade and hide nowhere.
const DAMPED: f64 = 0.5;
/// Each resonance is told with both its flanks, so many half-widths away.
const FLANK: f64 = 3.0;

/// Frequencies in Hz, rising, of weakly damped natural modes and of both flanks of each.
pub fn resonances(natural: &[Natural]) -> Vec<f64> {
    let weak = natural.iter().filter(|mode| mode.s.im > 0.0 && mode.damping().abs() < DAMPED);
    let flanks = |mode: &Natural| {
        let (hz, half_width) = (mode.s.im / TAU, mode.s.re.abs() / TAU);
        [-FLANK, 0.0, FLANK].map(|side| hz + side * half_width)
    };
    let mut found: Vec<f64> = weak.flat_map(flanks).filter(|hz| *hz > 0.0).collect();
    found.sort_by(f64::total_cmp);
    found
}

impl<'a> SmallSignal<'a> {
    /// The same circuit with a node (an unknown) tied to ground, which takes whatever comes.
    #[must_use]
    pub fn with_held(&self, node: usize) -> SmallSignal<'a> {
        let mut other = self.clone();
        let Some(row) = node.checked_sub(1) else { return other };
        let Some((start, columns)) = self.system.pattern().rows().nth(row) else { return other };
        for (k, &column) in columns.iter().enumerate() {
            let own = column as usize == row;
            other.at.conductances[start + k] = if own { 1.0 } else { 0.0 };
            other.at.capacitances[start + k] = 0.0;
        }
        other
    }
}
