//! What a part takes for itself, whatever else it does.

use super::load::CurrentLoad;
use super::smooth::bounded;
use super::{Drive, Input, Law, Net, OverTemperature, Parameters, Pin};
use crate::numeric::Scalar;

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

/// It does not follow temperature, but heats.
impl OverTemperature<2, 1, 0> for CurrentLoad<f64> {
    type Fixed = Self;

    fn at(&self, _: f64) -> Self {
        *self
    }

    #[inline]
    fn evaluate<S: Scalar<Base = f64>>(&self, _: S, u: &[S; 2]) -> ([S; 1], [S; 0]) {
        Law::evaluate(self, u)
    }

    #[inline]
    fn across<S: Scalar<Base = f64>>(&self, u: &[S; 2]) -> [S; 1] {
        [bounded(u[0])]
    }
}
