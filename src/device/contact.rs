//! Contacts: conductances that follow a level between 0 (open) and 1 (closed).

// Measured: what is not made part of a loop over variants ends its being done several at once.
#![allow(clippy::inline_always)]

use super::abreast::in_columns;
use super::noise::four_kt_of;
use super::region;
use super::row::quantity;
use super::smooth::bounded;
use super::{Input, Key, Law, Need, Net, Noise, NoiseCause, Parameters, Pin, Range};
use crate::numeric::Scalar;
use crate::quantity::Dimension;

/// How long a contact takes to change over where nothing else is said, in s.
pub(super) const TRANSITION_S: f64 = 100e-9;
/// What the level of a contact is called among the columns of a record.
pub(super) const CLOSED_COLUMN: &str = "closed";
/// Resistance of an open contact where nothing else is said, in Ω.
const OPEN_OHM: f64 = 1e9;

/// How long a contact takes.
pub(super) const TRANSITION: Key = quantity(
    "transition",
    Dimension::SECOND,
    Range::Positive,
    Need::Default(TRANSITION_S),
    "time that the contact takes from open to closed and back",
);

/// What an open contact lets through.
pub(super) const OFF_RESISTANCE: Key = quantity(
    "off_resistance",
    Dimension::OHM,
    Range::Positive,
    Need::Default(OPEN_OHM),
    "resistance of the open contact",
);

/// A contact that passes from one resistance to another by equal factors in equal times.
///
/// g = g_off·(g_on/g_off)^s; inputs: voltage, level s (held within 0 … 1).
#[derive(Clone, Copy, Debug)]
pub struct Contact<T> {
    /// ln of the open conductance in S.
    pub open_ln: T,
    /// ln(g_on/g_off).
    pub span_ln: T,
    /// 4kT in W/Hz.
    pub four_kt: T,
}

impl Contact<f64> {
    /// From `on_resistance` and `off_resistance` in Ω.
    pub fn new(on_ohm: f64, off_ohm: f64, four_kt: f64) -> Self {
        Self { open_ln: -off_ohm.ln(), span_ln: (off_ohm / on_ohm).ln(), four_kt }
    }
}

#[inline(always)]
fn held<S: Scalar>(level: S) -> S {
    level.maximum(S::splat(0.0)).minimum(S::splat(1.0))
}

impl<T: Scalar<Base = T>> Law<T, 2, 1, 0> for Contact<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 2]) -> ([S; 1], [S; 0]) {
        let siemens = (S::lift(self.open_ln) + S::lift(self.span_ln) * held(u[1])).exp();
        ([bounded(u[0]) * siemens], [])
    }

    fn region(&self, u: &[f64; 2]) -> Option<&'static str> {
        Some(match u[1] {
            s if s >= 1.0 => region::CLOSED,
            s if s <= 0.0 => region::OPEN,
            _ => region::CHANGING_OVER,
        })
    }

    fn noise(&self, u: &[T; 2]) -> [Noise<T>; 1] {
        let siemens = (self.open_ln + self.span_ln * held(u[1])).exp();
        [Noise { cause: NoiseCause::Thermal, white: self.four_kt * siemens, ..Noise::none() }]
    }
}

/// A contact that is not there at all when open: i = s·g·(v − v₀); inputs: voltage, level s.
#[derive(Clone, Copy, Debug)]
pub struct Gate<T> {
    /// S when closed.
    pub siemens: T,
    /// V at which nothing flows.
    pub rest_v: T,
    /// Whether it is closed at rest, so that it ties the voltages at its ends.
    pub ties: bool,
    /// 4kT in W/Hz.
    pub four_kt: T,
}

impl<T: Scalar<Base = T>> Law<T, 2, 1, 0> for Gate<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 2]) -> ([S; 1], [S; 0]) {
        let across = bounded(u[0]) - S::lift(self.rest_v);
        ([held(u[1]) * S::lift(self.siemens) * across], [])
    }

    fn noise(&self, u: &[T; 2]) -> [Noise<T>; 1] {
        let white = self.four_kt * self.siemens * held(u[1]);
        [Noise { cause: NoiseCause::Thermal, white, ..Noise::none() }]
    }

    fn resistive(&self) -> [bool; 1] {
        [self.ties]
    }
}

/// Lays a contact between two pins that follows a drive.
pub(super) fn lay_contact(p: &Parameters, pins: [Pin; 2], drive: usize, net: &mut Net) {
    let [a, b] = pins;
    let law = Contact::new(p.number("on_resistance"), p.number("off_resistance"), four_kt_of(p));
    let inputs = [Input::Between(a.unknown, b.unknown), Input::Drive(drive)];
    net.law(law, &inputs, &[[a, b]], &[]);
}

in_columns!(Contact<f64>: 2, open_ln, span_ln);
in_columns!(Gate<f64>: 2, siemens, rest_v);
