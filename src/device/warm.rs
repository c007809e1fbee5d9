//! Laws on a heat path: parameters at the temperature of a junction that is itself an unknown, and
//! the heat that the law makes there.
//!
//! A law of this form is written once over its temperature; at a constant one it is the plain law.

use super::abreast::{Abreast, OneByOne};
use super::smooth::bounded;
use super::temperature::{Linear, kelvin};
use super::{GROUND, Input, Law, Net, Noise, Nonlinear, Parameters, Pin};
use crate::numeric::Scalar;

/// Laws are evaluated no colder and no hotter than this, in K: beyond, nothing is silicon any more,
/// and an iterate may stray there. A circuit that rests or arrives there is told to run away.
pub const WARM_RANGE_K: [f64; 2] = [50.0, 1500.0];

/// The most K that one Newton iteration may move a junction: a few e-folds of leakage.
const LARGEST_RISE_STEP_K: f64 = 40.0;

/// The junction that a part heats and whose temperature it has.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeatedBy {
    /// The unknown that is its rise above ambient, in K.
    pub junction: usize,
    /// K where the rise is zero.
    pub ambient_k: f64,
}

/// Currents and charges of an element whose parameters follow its temperature.
pub trait OverTemperature<const N: usize, const M: usize, const K: usize> {
    /// The law at a constant temperature.
    type Fixed: Law<f64, N, M, K>;

    /// The law at a constant temperature in K: for limits, regions and noise.
    fn at(&self, kelvin: f64) -> Self::Fixed;

    /// As [`Law::evaluate`], at a temperature in K.
    fn evaluate<S: Scalar<Base = f64>>(&self, kelvin: S, u: &[S; N]) -> ([S; M], [S; K]);

    /// The voltage that each current falls through, in V.
    fn across<S: Scalar<Base = f64>>(&self, u: &[S; N]) -> [S; M];
}

/// Implements [`OverTemperature`] for a law of two inputs and one current that does not follow
/// temperature, but heats: its current falls through one of its inputs.
macro_rules! only_heats {
    ($law:ty, current falls through input $input:literal) => {
        impl $crate::device::warm::OverTemperature<2, 1, 0> for $law {
            type Fixed = Self;

            fn at(&self, _: f64) -> Self {
                *self
            }

            #[inline]
            fn evaluate<S: $crate::numeric::Scalar<Base = f64>>(
                &self,
                _: S,
                u: &[S; 2],
            ) -> ([S; 1], [S; 0]) {
                $crate::device::Law::evaluate(self, u)
            }

            #[inline]
            fn across<S: $crate::numeric::Scalar<Base = f64>>(&self, u: &[S; 2]) -> [S; 1] {
                [$crate::device::smooth::bounded(u[$input])]
            }
        }
    };
}
pub(super) use only_heats;

impl<L: Clone> Abreast for Warm<L> {
    type Rank = OneByOne<Self>;
}

/// A law at the temperature of a junction: one more input, the junction's rise above ambient in K,
/// and one more current, the heat in W that the law's currents make.
///
/// What flows into charges is stored and given back, and is no heat here.
#[derive(Clone, Copy, Debug)]
pub struct Warm<L> {
    law: L,
    ambient_k: f64,
}

impl<L> Warm<L> {
    fn kelvin<S: Scalar<Base = f64>>(&self, rise_k: S) -> S {
        let [coldest, hottest] = WARM_RANGE_K;
        let kelvin = S::splat(self.ambient_k) + rise_k;
        kelvin.maximum(S::splat(coldest)).minimum(S::splat(hottest))
    }
}

/// All but the last of some inputs.
fn electrical<T: Copy, const N: usize, const ALL: usize>(u: &[T; ALL]) -> [T; N] {
    std::array::from_fn(|n| u[n])
}

/// Implements [`Law`] for [`Warm`] laws with `inputs` (of which the last is the rise) and `currents`
/// (of which the last is heat); the plain law has one less of each.
macro_rules! warm {
    ($(inputs $n:literal of $all:literal, currents $m:literal of $out:literal, charges $k:literal;)*) => { $(
        impl<L: OverTemperature<$n, $m, $k>> Law<f64, $all, $out, $k> for Warm<L> {
            #[inline]
            fn evaluate<S: Scalar<Base = f64>>(&self, u: &[S; $all]) -> ([S; $out], [S; $k]) {
                let inner: [S; $n] = electrical(u);
                let (currents, charges) = self.law.evaluate(self.kelvin(u[$n]), &inner);
                let across = self.law.across(&inner);
                let heat = currents.iter().zip(&across).fold(S::splat(0.0), |w, (i, v)| w + *i * *v);
                (std::array::from_fn(|m| if m < $m { currents[m] } else { heat }), charges)
            }

            fn limit(&self, previous: &[f64; $all], proposed: &mut [f64; $all]) {
                let rise = proposed[$n];
                let step = LARGEST_RISE_STEP_K;
                proposed[$n] = rise.max(previous[$n] - step).min(previous[$n] + step);
                let mut inner: [f64; $n] = electrical(proposed);
                let fixed = self.law.at(self.kelvin(proposed[$n]));
                fixed.limit(&electrical(previous), &mut inner);
                proposed[..$n].copy_from_slice(&inner);
            }

            fn region(&self, u: &[f64; $all]) -> Option<&'static str> {
                self.law.at(self.kelvin(u[$n])).region(&electrical(u))
            }

            fn noise(&self, u: &[f64; $all]) -> [Noise<f64>; $out] {
                let inner = self.law.at(self.kelvin(u[$n])).noise(&electrical(u));
                std::array::from_fn(|m| if m < $m { inner[m] } else { Noise::none() })
            }

            fn resistive(&self) -> [bool; $out] {
                let inner = self.law.at(self.ambient_k).resistive();
                std::array::from_fn(|m| m < $m && inner[m])
            }
        }
    )* };
}

warm! {
    inputs 1 of 2, currents 1 of 2, charges 0;
    inputs 1 of 2, currents 1 of 2, charges 1;
    inputs 1 of 2, currents 2 of 3, charges 0;
    inputs 1 of 2, currents 2 of 3, charges 1;
    inputs 2 of 3, currents 1 of 2, charges 0;
    inputs 2 of 3, currents 3 of 4, charges 0;
    inputs 2 of 3, currents 3 of 4, charges 2;
    inputs 3 of 4, currents 1 of 2, charges 0;
}

impl Net {
    /// A law at the temperature of a junction, which it heats.
    pub fn warm_law<L>(
        &mut self,
        law: L,
        by: HeatedBy,
        inputs: &[Input],
        currents: &[[Pin; 2]],
        charges: &[[Pin; 2]],
    ) where
        Warm<L>: Into<Nonlinear>,
    {
        let [ground, junction] =
            [GROUND, by.junction].map(|unknown| Pin { unknown, terminal: None });
        let inputs = [inputs, &[Input::Between(by.junction, GROUND)]].concat();
        let currents = [currents, &[[ground, junction]]].concat();
        self.law(Warm { law, ambient_k: by.ambient_k }, &inputs, &currents, charges);
    }

    /// A resistance of a part, given in Ω at `characterised_at`: constant, or on the part's heat
    /// path.
    pub(super) fn resistor_of(&mut self, p: &Parameters, pins: [Pin; 2], ohm: f64, over: Linear) {
        match p.heated_by {
            None => self.resistor(pins, ohm * over.at(kelvin(p)), kelvin(p)),
            Some(by) => {
                let input = Input::Between(pins[0].unknown, pins[1].unknown);
                self.warm_law(Ohmic { ohm, over }, by, &[input], &[pins], &[]);
            }
        }
    }

    /// The same from `from` to a new inner node, or `from` itself when it is zero.
    pub(super) fn series_resistor_of(
        &mut self,
        p: &Parameters,
        from: Pin,
        (ohm, over): (f64, Linear),
        inner: &str,
    ) -> Pin {
        if ohm == 0.0 {
            return from;
        }
        let to = self.inner(inner);
        self.resistor_of(p, [from, to], ohm, over);
        to
    }
}

/// A resistance over temperature; input: voltage.
#[derive(Clone, Copy, Debug)]
pub struct Ohmic {
    ohm: f64,
    over: Linear,
}

/// The same at a constant temperature in K.
#[derive(Clone, Copy, Debug)]
pub struct OhmicAt {
    siemens: f64,
    kelvin: f64,
}

impl Law<f64, 1, 1, 0> for OhmicAt {
    fn evaluate<S: Scalar<Base = f64>>(&self, u: &[S; 1]) -> ([S; 1], [S; 0]) {
        ([S::splat(self.siemens) * bounded(u[0])], [])
    }

    fn noise(&self, _: &[f64; 1]) -> [Noise<f64>; 1] {
        [Noise::thermal(self.siemens, self.kelvin)]
    }
}

impl OverTemperature<1, 1, 0> for Ohmic {
    type Fixed = OhmicAt;

    fn at(&self, kelvin: f64) -> OhmicAt {
        OhmicAt { siemens: 1.0 / (self.ohm * self.over.at(kelvin)), kelvin }
    }

    #[inline]
    fn evaluate<S: Scalar<Base = f64>>(&self, kelvin: S, u: &[S; 1]) -> ([S; 1], [S; 0]) {
        ([bounded(u[0]) / (S::splat(self.ohm) * self.over.at(kelvin))], [])
    }

    #[inline]
    fn across<S: Scalar<Base = f64>>(&self, u: &[S; 1]) -> [S; 1] {
        [bounded(u[0])]
    }
}
