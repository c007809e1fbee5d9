//! A pole inside a part: what follows a voltage inside it, late.

use super::{Control, Net, Pin};
use std::f64::consts::TAU;

/// Size of the conductance that charges a lag. Nothing outside sees it: it decides only how
/// large the currents inside are.
pub(super) const LAG_S: f64 = 1e-3;

/// The node itself, or a new inner one that follows its voltage above `ground` with a pole at
/// `pole_hz`. It loads nothing, and makes no noise of its own.
pub(super) fn lagging(
    net: &mut Net,
    [from, ground]: [Pin; 2],
    pole_hz: Option<f64>,
    inner: &str,
) -> Pin {
    let Some(pole_hz) = pole_hz else { return from };
    let to = net.inner(inner);
    net.transfer([ground, to], Control::Voltage(from.unknown, ground.unknown), LAG_S);
    net.conductance([to, ground], LAG_S);
    net.capacitance([to, ground], LAG_S / (TAU * pole_hz), None);
    to
}
