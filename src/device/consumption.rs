//! What a part takes for itself, whatever else it does.

use super::load::CurrentLoad;
use super::warm::only_heats;
use super::{Drive, Input, Net, Parameters, Pin};

/// Over how many volts a consumption comes up: a part without supply takes nothing.
const FADE_V: f64 = 0.3;

const LAW: CurrentLoad<f64> = CurrentLoad { fade_v: FADE_V };

/// A current from the first pin to the second, i = `ampere`·tanh(v/0.3 V). No test drives it, so
/// it is not the part's level.
pub(super) fn consumption(ampere: f64, pins: [Pin; 2], net: &mut Net) {
    if ampere != 0.0 {
        let inputs = inputs(ampere, pins, net);
        net.law(LAW, &inputs, &[pins], &[]);
    }
}

/// The same of a part that may be on a heat path, which it then heats.
pub(super) fn consumption_of(p: &Parameters, ampere: f64, pins: [Pin; 2], net: &mut Net) {
    match p.heated_by {
        Some(by) if ampere != 0.0 => {
            let inputs = inputs(ampere, pins, net);
            net.warm_law(LAW, by, &inputs, &[pins], &[]);
        }
        _ => consumption(ampere, pins, net),
    }
}

fn inputs(ampere: f64, pins: [Pin; 2], net: &mut Net) -> [Input; 2] {
    net.drives.push(Drive::constant(ampere));
    let drive = Input::Drive(net.drives.len() - 1);
    [Input::Between(pins[0].unknown, pins[1].unknown), drive]
}

only_heats!(CurrentLoad<f64>, current falls through input 0);
