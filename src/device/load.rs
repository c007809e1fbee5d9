//! The load of a rail: constant current, resistance or power, each well behaved down to 0 V.

// Measured: what is not made part of a loop over variants ends its being done several at once.
#![allow(clippy::inline_always)]

use super::abreast::{in_columns, one_by_one};
use super::noise::four_kt_of;
use super::row::quantity;
use super::smooth::bounded;
use super::source::drive_of;
use super::{
    Drive, Input, Kind, Law, Need, Net, Noise, NoiseCause, Nonlinear, Parameters, Pin, Range, Rule,
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
            Need::Default(LoadLine::FADE_V),
            "voltage over which a constant current falls to zero",
        ),
        quantity(
            "minimum_voltage",
            Dimension::VOLT,
            Range::Positive,
            Need::Default(LoadLine::MINIMUM_V),
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

/// What a load draws at rest, by the same laws.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LoadLine {
    /// A current that fades below a voltage.
    Current {
        /// A
        ampere: f64,
        /// V; `None`: the same current at any voltage.
        fade_v: Option<f64>,
    },
    /// A resistance.
    Resistance {
        /// Ω
        ohm: f64,
    },
    /// A power that is let go below a voltage.
    Power {
        /// W
        watt: f64,
        /// V
        minimum_v: f64,
    },
}

impl LoadLine {
    /// V over which a constant current falls to zero when nothing is said.
    pub const FADE_V: f64 = 0.1;
    /// V below which a constant power is let go when nothing is said.
    pub const MINIMUM_V: f64 = 0.5;

    /// What a load or current source draws at a level of its own.
    pub fn of(p: &Parameters, key: &str, level: f64) -> Self {
        match key {
            "resistance" => Self::Resistance { ohm: level },
            "power" => Self::Power { watt: level, minimum_v: p.number("minimum_voltage") },
            _ => Self::Current { ampere: level, fade_v: p.optional("fade") },
        }
    }

    /// A at `volt`.
    pub fn current_a(self, volt: f64) -> f64 {
        let [ampere] = match self {
            Self::Current { ampere, fade_v: None } => [ampere],
            Self::Current { ampere, fade_v: Some(fade_v) } => {
                CurrentLoad { fade_v }.evaluate(&[volt, ampere]).0
            }
            Self::Resistance { ohm } => ResistanceLoad { four_kt: 0.0 }.evaluate(&[volt, ohm]).0,
            Self::Power { watt, minimum_v } => PowerLoad { minimum_v }.evaluate(&[volt, watt]).0,
        };
        ampere
    }

    /// V at which its curve bends most; `None` for one that is straight.
    pub fn bends_at_v(self) -> Option<f64> {
        match self {
            Self::Current { fade_v, .. } => fade_v,
            Self::Resistance { .. } => None,
            Self::Power { minimum_v, .. } => Some(minimum_v),
        }
    }
}

/// i = g·v; inputs: voltage, conductance g in S. A contact, from open to closed without a jump.
#[derive(Clone, Copy, Debug)]
pub struct Short;

impl<T: Scalar<Base = T>> Law<T, 2, 1, 0> for Short {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 2]) -> ([S; 1], [S; 0]) {
        ([bounded(u[0]) * u[1]], [])
    }
}

/// Lays a contact whose conductance in S follows a drive, as a part of its own.
pub fn lay_short(net: &mut Net, name: &str, nodes: [&str; 2], siemens: Drive) {
    let pins = net.begin_part(name, &["plus", "minus"], &nodes);
    let &[a, b] = pins.as_slice() else { return };
    let drive = net.drive(siemens);
    let inputs = [Input::Between(a.unknown, b.unknown), Input::Drive(drive)];
    net.law(Short, &inputs, &[[a, b]], &[]);
}

/// i = level·tanh(v/fade); inputs: voltage, level in A.
#[derive(Clone, Copy, Debug)]
pub struct CurrentLoad<T> {
    /// V
    pub fade_v: T,
}

impl<T: Scalar<Base = T>> Law<T, 2, 1, 0> for CurrentLoad<T> {
    #[inline(always)]
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
    #[inline(always)]
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
    #[inline(always)]
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

in_columns!(CurrentLoad<f64>: 1, fade_v);
in_columns!(PowerLoad<f64>: 1, minimum_v);
one_by_one!(Short, ResistanceLoad<f64>);
