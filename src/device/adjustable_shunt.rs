//! Adjustable shunt regulator: a reference, an amplifier and a shunt device in one part of three
//! terminals.

// Measured: what is not made part of a loop over variants ends its being done several at once.
#![allow(clippy::inline_always)]

use super::abreast::in_columns;
use super::consumption::consumption_of;
use super::lag::{LAG_S, lagging};
use super::row::{CHARACTERISED_AT, NOISE_CORNER, TOLERANCE, ZERO, quantity};
use super::smooth::{bounded, held_within, logistic};
use super::temperature::{Linear, kelvin};
use super::warm::only_heats;
use super::{
    Input, Kind, Law, Need, Net, Noise, OverTemperature, Parameters, Pin, Range, Rule, Terminal,
    Terminals, region,
};
use crate::numeric::{Dual, Scalar};
use crate::quantity::Dimension;
use std::f64::consts::TAU;

/// `adjustable-shunt`
pub(super) static ADJUSTABLE_SHUNT: Kind = Kind {
    name: "adjustable-shunt",
    summary: "a shunt regulator that draws current into its cathode to hold its reference pin",
    terminals: Terminals::Named(&[
        Terminal { name: "cathode", default: None, text: "takes the current" },
        Terminal { name: "reference", default: None, text: "held at the reference voltage" },
        Terminal { name: "anode", default: None, text: "gives the current back" },
    ]),
    keys: &[
        quantity(
            "reference_voltage",
            Dimension::VOLT,
            Range::Positive,
            Need::Required,
            "voltage of reference above anode at which the cathode takes `full_current`",
        ),
        TOLERANCE,
        quantity(
            "temperature_coefficient",
            Dimension::PER_KELVIN,
            Range::Any,
            ZERO,
            "relative change of `reference_voltage` for each kelvin above `characterised_at`",
        ),
        CHARACTERISED_AT,
        quantity(
            "transconductance",
            Dimension::SIEMENS,
            Range::Positive,
            Need::Required,
            "cathode current per volt at the reference pin, above `full_current`",
        ),
        quantity(
            "full_current",
            Dimension::AMPERE,
            Range::Positive,
            Need::Required,
            "cathode current below which the transconductance falls, in a straight line to nothing \
             at `minimum_current`",
        ),
        quantity(
            "first_pole",
            Dimension::HERTZ,
            Range::Positive,
            Need::Absent,
            "first pole from the reference pin to the cathode current",
        ),
        quantity(
            "second_pole",
            Dimension::HERTZ,
            Range::Positive,
            Need::Absent,
            "second pole from the reference pin to the cathode current",
        ),
        quantity(
            "minimum_current",
            Dimension::AMPERE,
            Range::NonNegative,
            ZERO,
            "what it takes for itself; with less it holds nothing",
        ),
        quantity(
            "highest_current",
            Dimension::AMPERE,
            Range::Positive,
            Need::Required,
            "largest cathode current",
        ),
        quantity(
            "saturation_voltage",
            Dimension::VOLT,
            Range::Positive,
            Need::Default(2.0),
            "cathode voltage below which it takes no current",
        ),
        quantity(
            "capacitance",
            Dimension::FARAD,
            Range::NonNegative,
            ZERO,
            "from cathode to anode",
        ),
        quantity(
            "reference_current",
            Dimension::AMPERE,
            Range::Any,
            ZERO,
            "current into the reference pin, out of the anode",
        ),
        quantity(
            "noise_density",
            Dimension::VOLT_PER_ROOT_HERTZ,
            Range::NonNegative,
            ZERO,
            "white noise of the whole part, as a voltage at the reference pin",
        ),
        NOISE_CORNER,
    ],
    rules: &[
        Rule::Below("minimum_current", "full_current"),
        Rule::Below("full_current", "highest_current"),
    ],
    law: "d = v(reference) - v(anode) - reference_voltage·(1 + temperature_coefficient·(T - \
          characterised_at)); x = transconductance·d/w, w = full_current - minimum_current, held \
          between -6 and (highest_current - full_current)/w with corners rounded over 0.25; x then \
          lags by first_pole and second_pole; cathode current \
          i = (minimum_current + w·L(x))/(1 + e^-u), u = 40·(v(cathode) - \
          v(anode))/saturation_voltage - 40, where L(x) = 1 + x above 0 and e^x below: the slope is \
          transconductance·(i - minimum_current)/w below full_current; reference_current·tanh(v/0.3 \
          V) into the reference pin; on a heat path T is its junction's, and both currents heat it",
    noise: "source: noise_density²·(1 + noise_corner/f) in series with the reference pin, of no \
            effect as far as x is held",
    source: "transconductance, poles and least current as measured of such parts: common practice, no \
             source; form of the fall at small currents: that of a junction; corners: definitions",
    example: r#"U1 = { kind = "adjustable-shunt", cathode = "vout", reference = "fb", anode = "gnd", reference_voltage = "2.5 V", tolerance = "1 %", transconductance = "3 S", full_current = "3 mA", first_pole = "6 kHz", second_pole = "5 MHz", minimum_current = "1 mA", highest_current = "60 mA", capacitance = "30 pF" }"#,
    lay: lay_adjustable_shunt,
};

fn lay_adjustable_shunt(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[cathode, reference, anode] = pins else { return };
    let above = |pin: Pin| Input::Between(pin.unknown, anode.unknown);
    let full_a = p.number("full_current");
    let minimum_a = p.number("minimum_current");
    let width_a = full_a - minimum_a;
    let input = ShuntInputOverTemperature {
        reference_v: p.number("reference_voltage"),
        over: Linear::of(p, "temperature_coefficient"),
        per_volt: p.number("transconductance") / width_a,
        highest: (p.number("highest_current") - full_a) / width_a,
        noise: Noise::given(p),
    };
    let levels = ShuntLevels {
        highest: input.highest,
        saturated_v: p.number("saturation_voltage") * (1.0 + SATURATED_WITHIN / STEEPNESS),
    };
    let drive = net.inner("drive");
    let (inputs, currents) = ([above(reference)], [[anode, drive]]);
    match p.heated_by {
        None => net.law(input.at(kelvin(p)), &inputs, &currents, &[]),
        Some(by) => net.warm_law(input, by, &inputs, &currents, &[]),
    }
    net.conductance([drive, anode], LAG_S);
    if let Some(pole_hz) = p.optional("first_pole") {
        net.capacitance([drive, anode], LAG_S / (TAU * pole_hz), None);
    }
    let lagged = lagging(net, [drive, anode], p.optional("second_pole"), "lagged");
    let per_volt = STEEPNESS / p.number("saturation_voltage");
    let output = ShuntOutput { minimum_a, width_a, per_volt, levels };
    let (inputs, currents) = ([above(lagged), above(cathode)], [[cathode, anode]]);
    match p.heated_by {
        None => net.law(output, &inputs, &currents, &[]),
        Some(by) => net.warm_law(output, by, &inputs, &currents, &[]),
    }
    net.capacitance([cathode, anode], p.number("capacitance"), None);
    consumption_of(p, p.number("reference_current"), [reference, anode], net);
}

/// x is held above this, where the driven current is 0.25 % of what flows at balance: the amplifier
/// does not wind up without bound while there is too little voltage.
const LOWEST: f64 = -6.0;
/// Over how much of x it is held: at balance this moves nothing by more than e^-24.
const CORNER: f64 = 0.25;
/// e-folds of current over the saturation voltage.
const STEEPNESS: f64 = 40.0;
/// So many e-folds above the saturation voltage 95 % of the current flows.
const SATURATED_WITHIN: f64 = 3.0;
/// Below this x less than 2 % of the current at balance is driven.
const OFF_BELOW: f64 = -4.0;

/// The comparison over temperature; input and current as [`ShuntInput`].
#[derive(Clone, Copy, Debug)]
pub struct ShuntInputOverTemperature {
    reference_v: f64,
    over: Linear,
    per_volt: f64,
    highest: f64,
    noise: Noise<f64>,
}

impl OverTemperature<1, 1, 0> for ShuntInputOverTemperature {
    type Fixed = ShuntInput<f64>;

    fn at(&self, kelvin: f64) -> ShuntInput<f64> {
        let Self { reference_v, over, per_volt, highest, noise } = *self;
        ShuntInput { reference_v: reference_v * over.at(kelvin), per_volt, highest, noise }
    }

    #[inline(always)]
    fn evaluate<S: Scalar<Base = f64>>(&self, kelvin: S, u: &[S; 1]) -> ([S; 1], [S; 0]) {
        let reference_v = S::splat(self.reference_v) * self.over.at(kelvin);
        let (per_volt, highest) = (S::splat(self.per_volt), S::splat(self.highest));
        ([driving(bounded(u[0]) - reference_v, per_volt, highest)], [])
    }

    /// Its current stands for x and heats nothing.
    #[inline(always)]
    fn across<S: Scalar<Base = f64>>(&self, _: &[S; 1]) -> [S; 1] {
        [S::splat(0.0)]
    }
}

/// g·x, x = `above_v`·`per_volt` held between its limits.
#[inline(always)]
fn driving<S: Scalar>(above_v: S, per_volt: S, highest: S) -> S {
    let (lowest, corner) = (S::splat(LOWEST), S::splat(CORNER));
    let span = (highest - lowest) / corner;
    let held = lowest + corner * held_within((above_v * per_volt - lowest) / corner, span);
    S::splat(LAG_S) * held
}

/// i = g·x, x = (d − V)·per_volt held between its limits; input: d; current into the drive node.
#[derive(Clone, Copy, Debug)]
pub struct ShuntInput<T> {
    reference_v: T,
    per_volt: T,
    highest: T,
    noise: Noise<T>,
}

impl<T: Scalar<Base = T>> Law<T, 1, 1, 0> for ShuntInput<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 1]) -> ([S; 1], [S; 0]) {
        let above_v = bounded(u[0]) - S::lift(self.reference_v);
        ([driving(above_v, S::lift(self.per_volt), S::lift(self.highest))], [])
    }

    fn noise(&self, u: &[T; 1]) -> [Noise<T>; 1] {
        let gain = self.evaluate(&Dual::inputs(*u)).0[0].slope[0].squared();
        let Noise { cause, white, flicker_at_1hz } = self.noise;
        [Noise { cause, white: white * gain, flicker_at_1hz: flicker_at_1hz * gain }]
    }

    fn resistive(&self) -> [bool; 1] {
        [false]
    }
}

/// i = (I_min + w·L(x))·logistic(40·(v/V_sat − 1)), L(x) = e^x below 0 and 1 + x above; inputs: x and
/// the cathode above the anode; current from cathode to anode.
#[derive(Clone, Copy, Debug)]
pub struct ShuntOutput<T> {
    minimum_a: T,
    width_a: T,
    per_volt: T,
    levels: ShuntLevels,
}

/// Where its regions begin, in plain numbers: they steer words, not values.
#[derive(Clone, Copy, Debug)]
struct ShuntLevels {
    highest: f64,
    saturated_v: f64,
}

impl<T: Scalar<Base = T>> Law<T, 2, 1, 0> for ShuntOutput<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 2]) -> ([S; 1], [S; 0]) {
        let [x, v] = u.map(bounded);
        let below = x.minimum(S::splat(0.0));
        let driven = below.exp() * (S::splat(1.0) + (x - below));
        let there = logistic(v * S::lift(self.per_volt) - S::splat(STEEPNESS));
        ([(S::lift(self.minimum_a) + S::lift(self.width_a) * driven) * there], [])
    }

    fn region(&self, u: &[f64; 2]) -> Option<&'static str> {
        let [x, v] = *u;
        Some(if x < OFF_BELOW {
            region::OFF
        } else if v < self.levels.saturated_v {
            region::SATURATED
        } else if x > self.levels.highest - CORNER {
            region::AT_HIGHEST_CURRENT
        } else {
            region::REGULATING
        })
    }

    fn resistive(&self) -> [bool; 1] {
        [false]
    }
}

only_heats!(ShuntOutput<f64>, current falls through input 1);

in_columns!(ShuntInput<f64>: 3, reference_v, per_volt, highest);
in_columns!(ShuntOutput<f64>: 3, minimum_a, width_a, per_volt);
