//! Junction diode.

// Measured: what is not made part of a loop over variants ends its being done several at once.
#![allow(clippy::inline_always)]

use super::abreast::in_columns;
use super::junction::{Depletion, JunctionScale};
use super::noise::BarrierNoise;
use super::row::{
    BANDGAP, CHARACTERISED_AT, SATURATION_EXPONENT, THERMAL_VOLTAGE, ZERO, flicker_corner, quantity,
};
use super::smooth::{bounded, limited_exponential};
use super::temperature::{Linear, Saturation, ThermalVoltage, kelvin};
use super::{
    Input, Kind, Law, Need, Net, Noise, OverTemperature, Parameters, Pin, Range, Terminal,
    Terminals, region,
};
use crate::numeric::Scalar;
use crate::quantity::Dimension;

/// `diode`
pub(super) static DIODE: Kind = Kind {
    name: "diode",
    summary: "a junction diode with series resistance, junction and diffusion charge",
    terminals: Terminals::Named(&[
        Terminal { name: "anode", default: None, text: "positive end when conducting" },
        Terminal { name: "cathode", default: None, text: "negative end when conducting" },
    ]),
    keys: &[
        quantity(
            "saturation_current",
            Dimension::AMPERE,
            Range::Positive,
            Need::Required,
            "saturation current I_S",
        ),
        quantity(
            "ideality",
            Dimension::NONE,
            Range::Positive,
            Need::Default(1.0),
            "ideality factor n: the exponent is v/(n·U_T)",
        ),
        quantity(
            "series_resistance",
            Dimension::OHM,
            Range::NonNegative,
            ZERO,
            "resistance in series with the junction, on the anode side",
        ),
        quantity(
            "zero_bias_capacitance",
            Dimension::FARAD,
            Range::NonNegative,
            ZERO,
            "junction capacitance at 0 V",
        ),
        quantity(
            "junction_potential",
            Dimension::VOLT,
            Range::Positive,
            Need::Default(0.75),
            "built-in potential of the junction capacitance",
        ),
        quantity(
            "grading",
            Dimension::NONE,
            Range::Fraction,
            Need::Default(0.5),
            "grading exponent of the junction capacitance",
        ),
        quantity(
            "transit_time",
            Dimension::SECOND,
            Range::NonNegative,
            ZERO,
            "stored charge per ampere of junction current",
        ),
        THERMAL_VOLTAGE,
        BANDGAP,
        SATURATION_EXPONENT,
        CHARACTERISED_AT,
        flicker_corner(
            "frequency below which the flicker noise of its current exceeds its shot noise; without \
             flicker noise when 0",
        ),
    ],
    rules: &[],
    law: "i = I_S·(e^(v/(n·U_T)) - 1), v inside series_resistance; \
          q = transit_time·i + Q_j(v), Q_j = (C_j0·φ/(1 - m))·(1 - (1 - v/φ)^(1 - m)), beyond \
          φ/2 continued with capacitance in a straight line; \
          I_S(T) = I_S·[(T/T_c)^X·exp((E_g·q/k)·(1/T_c - 1/T))]^(1/n), T_c = characterised_at",
    noise: "shot: 2q·i·coth(v/(2kT/q)), which is 2q·|i| beyond a few kT/q and 4kT·g at rest; \
            flicker: 2q·|i|·flicker_corner/f; thermal: 4kT·series_resistance",
    source: "Shockley, Bell Syst. Tech. J. 28 (1949); charges and temperature: \
             Getreu, Modeling the Bipolar Transistor (1976); noise: van der Ziel, Proc. IRE 43 \
             (1955) 1639 (from memory)",
    example: r#"D1 = { kind = "diode", anode = "vin", cathode = "gnd", saturation_current = "10 fA" }"#,
    lay: lay_diode,
};

fn lay_diode(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[anode, cathode] = pins else { return };
    lay_junction(p, [anode, cathode], DiodePlace::Part, net);
}

/// Lays a junction with its series resistance between anode and cathode.
pub(super) fn lay_junction(p: &Parameters, ends: [Pin; 2], place: DiodePlace, net: &mut Net) {
    let [anode, cathode] = ends;
    let series = (p.number("series_resistance"), Linear::constant());
    let anode = net.series_resistor_of(p, anode, series, "inner_anode");
    let junction = Junction::of(p, (p.number("saturation_current"), p.number("ideality")), place);
    let farad = p.number("zero_bias_capacitance");
    let transit_s = p.number("transit_time");
    let ends = [anode, cathode];
    if farad == 0.0 && transit_s == 0.0 {
        junction.lay(p, ends, net);
        return;
    }
    let depletion = Depletion::new(farad, p.number("junction_potential"), p.number("grading"));
    let inputs = [Input::Between(anode.unknown, cathode.unknown)];
    let charged = ChargedJunction { junction, depletion, transit_s };
    match p.heated_by {
        None => net.law(charged.at(kelvin(p)), &inputs, &[ends], &[ends]),
        Some(by) => net.warm_law(charged, by, &inputs, &[ends], &[ends]),
    }
}

/// A junction over temperature; input: voltage.
#[derive(Clone, Copy, Debug)]
pub struct Junction {
    saturation: Saturation,
    ideality: f64,
    thermal: ThermalVoltage,
    place: DiodePlace,
    flicker_corner_hz: f64,
}

impl Junction {
    /// With I_S in A at `characterised_at`, and the ideality.
    pub(super) fn of(p: &Parameters, (ampere, ideality): (f64, f64), place: DiodePlace) -> Self {
        Self {
            saturation: Saturation::of(p, ampere, ideality),
            ideality,
            thermal: ThermalVoltage::of(p),
            place,
            // A zener's forward junction has none.
            flicker_corner_hz: p.optional("flicker_corner").unwrap_or(0.0),
        }
    }

    /// Lays it between two pins, at a constant temperature or on the part's heat path.
    pub(super) fn lay(self, p: &Parameters, ends: [Pin; 2], net: &mut Net) {
        let inputs = [Input::Between(ends[0].unknown, ends[1].unknown)];
        match p.heated_by {
            None => net.law(self.at(kelvin(p)), &inputs, &[ends], &[]),
            Some(by) => net.warm_law(self, by, &inputs, &[ends], &[]),
        }
    }

    /// A at `v` in V.
    #[inline(always)]
    pub(super) fn current<S: Scalar<Base = f64>>(&self, kelvin: S, v: S) -> S {
        let width_v = S::splat(self.ideality) * self.thermal.at(kelvin);
        shockley(v, self.saturation.at(kelvin), S::splat(1.0) / width_v)
    }
}

impl OverTemperature<1, 1, 0> for Junction {
    type Fixed = Diode<f64>;

    fn at(&self, kelvin: f64) -> Diode<f64> {
        let noise = BarrierNoise::at(kelvin, self.flicker_corner_hz);
        let width_v = self.ideality * self.thermal.at(kelvin);
        Diode::new(self.saturation.at(kelvin), width_v, self.place, noise)
    }

    #[inline(always)]
    fn evaluate<S: Scalar<Base = f64>>(&self, kelvin: S, u: &[S; 1]) -> ([S; 1], [S; 0]) {
        ([self.current(kelvin, bounded(u[0]))], [])
    }

    #[inline(always)]
    fn across<S: Scalar<Base = f64>>(&self, u: &[S; 1]) -> [S; 1] {
        [bounded(u[0])]
    }
}

/// A junction with charge over temperature. Its junction charge keeps the size it was given.
#[derive(Clone, Copy, Debug)]
pub struct ChargedJunction {
    junction: Junction,
    depletion: Depletion<f64>,
    transit_s: f64,
}

impl OverTemperature<1, 1, 1> for ChargedJunction {
    type Fixed = ChargedDiode<f64>;

    fn at(&self, kelvin: f64) -> ChargedDiode<f64> {
        let diode = self.junction.at(kelvin);
        ChargedDiode { diode, depletion: self.depletion, transit_s: self.transit_s }
    }

    #[inline(always)]
    fn evaluate<S: Scalar<Base = f64>>(&self, kelvin: S, u: &[S; 1]) -> ([S; 1], [S; 1]) {
        let v = bounded(u[0]);
        let i = self.junction.current(kelvin, v);
        ([i], [S::splat(self.transit_s) * i + self.depletion.charge(v)])
    }

    #[inline(always)]
    fn across<S: Scalar<Base = f64>>(&self, u: &[S; 1]) -> [S; 1] {
        [bounded(u[0])]
    }
}

/// I_S·(e^(v/w) − 1), given 1/w.
#[inline(always)]
fn shockley<S: Scalar>(v: S, saturation_a: S, per_width: S) -> S {
    saturation_a * (limited_exponential(v * per_width) - S::splat(1.0))
}

/// What a junction is part of, which decides whether it has a word to say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DiodePlace {
    /// A diode of its own.
    Part,
    /// The body diode of a MOS transistor.
    Body,
    /// The base leakage of a bipolar transistor.
    Leakage,
}

/// i = I_S·(e^(v/(n·U_T)) − 1); input: voltage.
#[derive(Clone, Copy, Debug)]
pub struct Diode<T> {
    pub(super) saturation_a: T,
    pub(super) per_width: T,
    scale: JunctionScale,
    place: DiodePlace,
    noise: BarrierNoise<T>,
}

impl Diode<f64> {
    /// From I_S in A and n·U_T in V.
    pub fn new(
        saturation_a: f64,
        width_v: f64,
        place: DiodePlace,
        noise: BarrierNoise<f64>,
    ) -> Self {
        let scale = JunctionScale::new(width_v, saturation_a);
        Self { saturation_a, per_width: 1.0 / width_v, scale, place, noise }
    }
}

impl<T: Scalar<Base = T>> Diode<T> {
    /// A at `v` in V.
    #[inline(always)]
    pub(super) fn current<S: Scalar<Base = T>>(&self, v: S) -> S {
        shockley(v, S::lift(self.saturation_a), S::lift(self.per_width))
    }
}

impl<T: Scalar<Base = T>> Law<T, 1, 1, 0> for Diode<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 1]) -> ([S; 1], [S; 0]) {
        ([self.current(bounded(u[0]))], [])
    }

    fn limit(&self, previous: &[f64; 1], proposed: &mut [f64; 1]) {
        proposed[0] = self.scale.limit(previous[0], proposed[0]);
    }

    fn noise(&self, u: &[T; 1]) -> [Noise<T>; 1] {
        let v = bounded(u[0]);
        let exponential = limited_exponential(v * self.per_width);
        [self.noise.of_junction(self.saturation_a, self.per_width, v, exponential)]
    }

    fn region(&self, u: &[f64; 1]) -> Option<&'static str> {
        match (self.place, u[0] > self.scale.on_v) {
            (DiodePlace::Part, true) => Some(region::ON),
            (DiodePlace::Part, false) => Some(region::OFF),
            (DiodePlace::Body, true) => Some(region::BODY_DIODE_ON),
            _ => None,
        }
    }
}

/// A diode with junction and diffusion charge.
#[derive(Clone, Copy, Debug)]
pub struct ChargedDiode<T> {
    /// Its current.
    pub diode: Diode<T>,
    /// Its junction charge.
    pub depletion: Depletion<T>,
    /// s
    pub transit_s: T,
}

impl<T: Scalar<Base = T>> Law<T, 1, 1, 1> for ChargedDiode<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 1]) -> ([S; 1], [S; 1]) {
        let v = bounded(u[0]);
        let i = self.diode.current(v);
        ([i], [S::lift(self.transit_s) * i + self.depletion.charge(v)])
    }

    fn limit(&self, previous: &[f64; 1], proposed: &mut [f64; 1]) {
        self.diode.limit(previous, proposed);
    }

    fn noise(&self, u: &[T; 1]) -> [Noise<T>; 1] {
        self.diode.noise(u)
    }

    fn region(&self, u: &[f64; 1]) -> Option<&'static str> {
        self.diode.region(u)
    }
}

in_columns!(Diode<f64>: 2, saturation_a, per_width);
in_columns!(ChargedDiode<f64>: 9, diode.saturation_a, diode.per_width, transit_s, depletion.scale_c, depletion.power, depletion.per_potential, depletion.knee_v, depletion.knee_farad, depletion.bend_per_v);
