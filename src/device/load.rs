//! The load of a rail: constant current, resistance or power, each well behaved down to 0 V.

use super::noise::four_kt_of;
use super::row::quantity;
use super::smooth::bounded;
use super::source::drive_of;
use super::{
    Input, Kind, Law, Need, Net, Noise, NoiseCause, Nonlinear, Parameters, Pin, Range, Rule,
    Terminals,
};
use crate::numeric::Scalar;
use crate::quantity::Dimension;

/// `load`
pub(super) static LOAD: Kind = Kind {
    name: "load",
    summary: "what the rail feeds: a constant current, a resistance or a constant power",
    terminals: Terminals::Pair,
    keys: &[
        quantity(
            "current",
            Dimension::AMPERE,
            Range::NonNegative,
            Need::Absent,
            "constant current, falling to zero with the voltage over `fade`",
        ),
        quantity("resistance", Dimension::OHM, Range::Positive, Need::Absent, "resistance"),
        quantity(
            "power",
            Dimension::WATT,
            Range::NonNegative,
            Need::Absent,
            "constant power, let go below `minimum_voltage`",
        ),
        quantity(
            "fade",
            Dimension::VOLT,
            Range::Positive,
            Need::Default(0.1),
            "voltage over which a constant current falls to zero",
        ),
        quantity(
            "minimum_voltage",
            Dimension::VOLT,
            Range::Positive,
            Need::Default(0.5),
            "voltage below which a constant power is let go; at twice it 0.2 % is missing",
        ),
    ],
    rules: &[Rule::ExactlyOne(&["current", "resistance", "power"])],
    law: "i = current·tanh(v/fade), or v/resistance, \
          or power·v³/√(v⁸ + minimum_voltage⁸), from the first node to the second",
    noise: "thermal, of a resistance: 4kT/R; a load of constant current or power makes none: give \
            it by a current-source in parallel with noise_density",
    source: "definitions; the fading keeps each load solvable down to 0 V",
    example: r#"I_LOAD = { kind = "load", nodes = ["vout", "gnd"], current = "2 mA" }"#,
    lay: lay_load,
};

fn lay_load(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[a, b] = pins else { return };
    let key = ["current", "resistance", "power"].into_iter().find(|k| p.optional(k).is_some());
    let Some(key) = key else { return };
    let drive = net.drive(drive_of(p, key));
    let inputs = [Input::Between(a.unknown, b.unknown), Input::Drive(drive)];
    let law = match key {
        "current" => CurrentLoad { fade_v: p.number("fade") }.into(),
        "resistance" => Nonlinear::from(ResistanceLoad { four_kt: four_kt_of(p) }),
        _ => PowerLoad { minimum_v: p.number("minimum_voltage") }.into(),
    };
    net.law(law, &inputs, &[[a, b]], &[]);
}

/// i = level·tanh(v/fade); inputs: voltage, level in A.
#[derive(Clone, Copy, Debug)]
pub struct CurrentLoad<T> {
    /// V
    pub fade_v: T,
}

impl<T: Scalar<Base = T>> Law<T, 2, 1, 0> for CurrentLoad<T> {
    #[inline]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 2]) -> ([S; 1], [S; 0]) {
        ([u[1] * (bounded(u[0]) / S::lift(self.fade_v)).tanh()], [])
    }

    fn resistive(&self) -> [bool; 1] {
        [false]
    }
}

/// A driven resistance is held above this, so that a test may name 0 Ω.
const LEAST_OHM: f64 = 1e-9;

/// i = v/level; inputs: voltage, level in Ω.
#[derive(Clone, Copy, Debug)]
pub struct ResistanceLoad<T> {
    /// 4kT in W/Hz.
    pub four_kt: T,
}

impl<T: Scalar<Base = T>> Law<T, 2, 1, 0> for ResistanceLoad<T> {
    #[inline]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 2]) -> ([S; 1], [S; 0]) {
        ([bounded(u[0]) / u[1].maximum(S::splat(LEAST_OHM))], [])
    }

    fn noise(&self, u: &[T; 2]) -> [Noise<T>; 1] {
        let white = self.four_kt / u[1].maximum(T::splat(LEAST_OHM));
        [Noise { cause: NoiseCause::Thermal, white, ..Noise::none() }]
    }
}

/// i = level·v³/√(v⁸ + v_min⁸); inputs: voltage, level in W.
#[derive(Clone, Copy, Debug)]
pub struct PowerLoad<T> {
    /// V
    pub minimum_v: T,
}

impl<T: Scalar<Base = T>> Law<T, 2, 1, 0> for PowerLoad<T> {
    /// With x = v/v_min the law is (level/v_min)·x³/√(1 + x⁸), and with y = 1/x it is
    /// (level/v_min)·y/√(1 + y⁸): each is used where its argument is at most 1, so that no power
    /// overflows.
    #[inline]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 2]) -> ([S; 1], [S; 0]) {
        let one = S::splat(1.0);
        let x = bounded(u[0]) / S::lift(self.minimum_v);
        let near = x.absolute().less(one);
        let small = S::select(near, x, one);
        let inverse = one / S::select(near, one, x);
        let shape = |z: S| one / (one + z.squared().squared().squared()).sqrt();
        let rising = small * small.squared() * shape(small);
        let falling = inverse * shape(inverse);
        ([u[1] / S::lift(self.minimum_v) * S::select(near, rising, falling)], [])
    }

    fn resistive(&self) -> [bool; 1] {
        [false]
    }
}
