//! What a part takes for itself, whatever else it does.

use super::load::CurrentLoad;
use super::{Drive, Input, Net, Pin};

/// Over how many volts a consumption comes up: a part without supply takes nothing.
const FADE_V: f64 = 0.3;

/// A current from the first pin to the second, i = `ampere`·tanh(v/0.3 V). No test drives it, so
/// it is not the part's level.
pub(super) fn consumption(ampere: f64, pins: [Pin; 2], net: &mut Net) {
    if ampere != 0.0 {
        net.drives.push(Drive::constant(ampere));
        let drive = Input::Drive(net.drives.len() - 1);
        let across = Input::Between(pins[0].unknown, pins[1].unknown);
        net.law(CurrentLoad { fade_v: FADE_V }, &[across, drive], &[pins], &[]);
    }
}
