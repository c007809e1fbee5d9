//! Bipolar transistor: integral charge control at DC, junction and diffusion charges.

// Measured: what is not made part of a loop over variants ends its being done several at once.
#![allow(clippy::inline_always)]

use super::abreast::in_columns;
use super::diode::{DiodePlace, Junction};
use super::junction::{Depletion, JunctionScale};
use super::noise::{BarrierNoise, TWO_Q};
use super::row::{
    BANDGAP, CHARACTERISED_AT, SATURATION_EXPONENT, THERMAL_VOLTAGE, ZERO, flicker_corner, quantity,
};
use super::smooth::{bounded, limited_exponential, limited_reciprocal};
use super::temperature::{Linear, Saturation, ThermalVoltage, kelvin};
use super::{
    Form, Input, Key, Kind, Law, Need, Net, Noise, NoiseCause, OverTemperature, Parameters, Pin,
    Range, Terminal, Terminals, region,
};
use crate::numeric::Scalar;
use crate::quantity::Dimension;

const fn ohm(name: &'static str, text: &'static str) -> Key {
    quantity(name, Dimension::OHM, Range::NonNegative, ZERO, text)
}

const fn bound(name: &'static str, unit: Dimension, text: &'static str) -> Key {
    quantity(name, unit, Range::Positive, Need::Absent, text)
}

const fn plain(name: &'static str, default: Need, text: &'static str) -> Key {
    quantity(name, Dimension::NONE, Range::Positive, default, text)
}

const fn seconds(name: &'static str, text: &'static str) -> Key {
    quantity(name, Dimension::SECOND, Range::NonNegative, ZERO, text)
}

const fn junction_capacitance(name: &'static str, text: &'static str) -> Key {
    quantity(name, Dimension::FARAD, Range::NonNegative, ZERO, text)
}

const fn junction_potential(name: &'static str, text: &'static str) -> Key {
    quantity(name, Dimension::VOLT, Range::Positive, Need::Default(0.75), text)
}

const fn junction_grading(name: &'static str, text: &'static str) -> Key {
    quantity(name, Dimension::NONE, Range::Fraction, Need::Default(0.33), text)
}

/// `bipolar`
pub(super) static BIPOLAR: Kind = Kind {
    name: "bipolar",
    summary: "an npn or pnp transistor",
    terminals: Terminals::Named(&[
        Terminal { name: "collector", default: None, text: "collector" },
        Terminal { name: "base", default: None, text: "base" },
        Terminal { name: "emitter", default: None, text: "emitter" },
    ]),
    keys: &[
        Key {
            name: "polarity",
            form: Form::Word(&["npn", "pnp"]),
            need: Need::Required,
            text: "which way it conducts; a pnp has all voltages and currents mirrored",
        },
        quantity(
            "saturation_current",
            Dimension::AMPERE,
            Range::Positive,
            Need::Required,
            "transport saturation current I_S",
        ),
        plain("forward_gain", Need::Required, "collector over base current, forward, at low level"),
        plain("reverse_gain", Need::Default(1.0), "emitter over base current, reversed"),
        plain("forward_ideality", Need::Default(1.0), "ideality of the base-emitter exponent"),
        plain("reverse_ideality", Need::Default(1.0), "ideality of the base-collector exponent"),
        bound("early_voltage", Dimension::VOLT, "Early voltage; infinite when absent"),
        bound(
            "reverse_early_voltage",
            Dimension::VOLT,
            "Early voltage of reversed operation; infinite when absent",
        ),
        bound(
            "knee_current",
            Dimension::AMPERE,
            "collector current beyond which the gain falls; infinite when absent",
        ),
        bound(
            "reverse_knee_current",
            Dimension::AMPERE,
            "the same for reversed operation; infinite when absent",
        ),
        quantity(
            "base_leakage_current",
            Dimension::AMPERE,
            Range::NonNegative,
            ZERO,
            "saturation current of the base-emitter leakage that lowers the gain at small currents",
        ),
        plain("base_leakage_ideality", Need::Default(1.5), "ideality of that leakage"),
        ohm("base_resistance", "resistance in series with the base"),
        ohm("emitter_resistance", "resistance in series with the emitter"),
        ohm("collector_resistance", "resistance in series with the collector"),
        seconds("transit_time", "base charge per ampere of forward transport current"),
        seconds("reverse_transit_time", "base charge per ampere of reverse transport current"),
        junction_capacitance("base_emitter_capacitance", "base-emitter capacitance at 0 V"),
        junction_potential("base_emitter_potential", "its built-in potential"),
        junction_grading("base_emitter_grading", "its grading exponent"),
        junction_capacitance("base_collector_capacitance", "base-collector capacitance at 0 V"),
        junction_potential("base_collector_potential", "its built-in potential"),
        junction_grading("base_collector_grading", "its grading exponent"),
        THERMAL_VOLTAGE,
        BANDGAP,
        SATURATION_EXPONENT,
        quantity(
            "forward_gain_temperature_coefficient",
            Dimension::PER_KELVIN,
            Range::Any,
            ZERO,
            "relative change of `forward_gain` for each kelvin above `characterised_at`",
        ),
        CHARACTERISED_AT,
        flicker_corner(
            "frequency below which the flicker noise of the base current exceeds its shot noise; \
             without flicker noise when 0",
        ),
    ],
    rules: &[],
    law: "I_CC = I_S·(e^(v_BE/(n_F·U_T)) - 1), I_EC = I_S·(e^(v_BC/(n_R·U_T)) - 1); \
          i_C = (I_CC - I_EC)/q_b - I_EC/reverse_gain, \
          i_B = I_CC/forward_gain + I_EC/reverse_gain + base leakage; \
          q_b = (q_1/2)·(1 + √(1 + 4·q_2)), q_1 = 1/(1 - v_BC/early - v_BE/reverse_early), \
          q_2 = I_CC/knee + I_EC/reverse_knee; base-emitter charge transit_time·I_CC/q_b + Q_j, \
          base-collector charge reverse_transit_time·I_EC + Q_j (Q_j as in the diode); \
          temperature as in the diode; the leakage follows with its own ideality",
    noise: "shot, of the current from collector to emitter: 2q·(I_CC + I_EC + 2·I_S)/q_b, which is \
            2q·|i_C| when active; shot, of each part of the base current: as in the diode, 2q·|i_B| \
            when active; flicker, of each part of the base current: 2q·|i|·flicker_corner/f; \
            thermal: 4kT·R of each resistance",
    source: "Gummel and Poon, Bell Syst. Tech. J. 49 (1970) 827; Ebers and Moll, Proc. IRE 42 \
             (1954) 1761; Getreu, Modeling the Bipolar Transistor (1976); noise: van der Ziel, Proc. \
             IRE 43 (1955) 1639 (from memory)",
    example: r#"Q1 = { kind = "bipolar", collector = "out", base = "b", emitter = "vin", polarity = "pnp", saturation_current = "10 fA", forward_gain = "120" }"#,
    lay: lay_bipolar,
};

fn lay_bipolar(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[collector, base, emitter] = pins else { return };
    let mut inside = |pin, key, inner| {
        net.series_resistor_of(p, pin, (p.number(key), Linear::constant()), inner)
    };
    let c = inside(collector, "collector_resistance", "inner_collector");
    let b = inside(base, "base_resistance", "inner_base");
    let e = inside(emitter, "emitter_resistance", "inner_emitter");
    // A pnp is an npn with every pair of ends exchanged: inputs, currents and charges all change
    // sign, which is the mirror, and the law itself needs to know nothing of it.
    let pnp = p.word("polarity") == "pnp";
    let ends = |x: Pin, y: Pin| if pnp { [y, x] } else { [x, y] };
    let between = |[x, y]: [Pin; 2]| Input::Between(x.unknown, y.unknown);
    let (be, bc) = (ends(b, e), ends(b, c));
    let inputs = [between(be), between(bc)];
    let currents = [ends(c, e), be, bc];

    let bipolar = BipolarOverTemperature::of(p);
    let charges = charges_of(p).map(|charges| ChargedOverTemperature { bipolar, charges });
    let held = [be, bc];
    match (charges, p.heated_by) {
        (None, None) => net.law(bipolar.at(kelvin(p)), &inputs, &currents, &[]),
        (None, Some(by)) => net.warm_law(bipolar, by, &inputs, &currents, &[]),
        (Some(charged), None) => net.law(charged.at(kelvin(p)), &inputs, &currents, &held),
        (Some(charged), Some(by)) => net.warm_law(charged, by, &inputs, &currents, &held),
    }
    let leakage_a = p.number("base_leakage_current");
    if leakage_a > 0.0 {
        let ideality = p.number("base_leakage_ideality");
        Junction::of(p, (leakage_a, ideality), DiodePlace::Leakage).lay(p, be, net);
    }
}

/// The charges, or nothing if every one of them is zero.
fn charges_of(p: &Parameters) -> Option<BipolarCharges<f64>> {
    let transit_s = p.number("transit_time");
    let reverse_transit_s = p.number("reverse_transit_time");
    let emitter_farad = p.number("base_emitter_capacitance");
    let collector_farad = p.number("base_collector_capacitance");
    let any = [transit_s, reverse_transit_s, emitter_farad, collector_farad];
    any.iter().any(|&x| x > 0.0).then(|| BipolarCharges {
        transit_s,
        reverse_transit_s,
        emitter: Depletion::new(
            emitter_farad,
            p.number("base_emitter_potential"),
            p.number("base_emitter_grading"),
        ),
        collector: Depletion::new(
            collector_farad,
            p.number("base_collector_potential"),
            p.number("base_collector_grading"),
        ),
    })
}

/// The denominator of q₁ is used as it is down to this; below, 1/x goes on along its tangent, so
/// that forward voltages beyond the Early voltages cannot turn the current over.
const LEAST_EARLY_DENOMINATOR: f64 = 0.0625;

/// 1 + 4·q₂ is held above this; only a saturation current near a knee current comes there.
const LEAST_KNEE_TERM: f64 = 0.01;

/// Where one transport current outweighs the other by this factor, the transistor counts as
/// active (or reversed) and no longer as saturated.
const ACTIVE_RATIO: f64 = 100.0;

/// Integral charge control at one temperature, without charges.
#[derive(Clone, Copy, Debug)]
struct Flow<S> {
    saturation_a: S,
    per_forward_width: S,
    per_reverse_width: S,
    per_forward_gain: S,
    per_reverse_gain: S,
    per_early: S,
    per_reverse_early: S,
    per_knee: S,
    per_reverse_knee: S,
}

/// What flows through the base, before it is split up.
struct Transport<S> {
    forward_a: S,
    reverse_a: S,
    base_charge: S,
}

impl<T: Scalar<Base = T>> Flow<T> {
    #[inline(always)]
    fn lifted<S: Scalar<Base = T>>(&self) -> Flow<S> {
        Flow {
            saturation_a: S::lift(self.saturation_a),
            per_forward_width: S::lift(self.per_forward_width),
            per_reverse_width: S::lift(self.per_reverse_width),
            per_forward_gain: S::lift(self.per_forward_gain),
            per_reverse_gain: S::lift(self.per_reverse_gain),
            per_early: S::lift(self.per_early),
            per_reverse_early: S::lift(self.per_reverse_early),
            per_knee: S::lift(self.per_knee),
            per_reverse_knee: S::lift(self.per_reverse_knee),
        }
    }
}

impl<S: Scalar> Flow<S> {
    #[inline(always)]
    fn transport(&self, v_be: S, v_bc: S) -> Transport<S> {
        let one = S::splat(1.0);
        let diode =
            |v: S, per_width: S| self.saturation_a * (limited_exponential(v * per_width) - one);
        let forward_a = diode(v_be, self.per_forward_width);
        let reverse_a = diode(v_bc, self.per_reverse_width);
        let early = one - v_bc * self.per_early - v_be * self.per_reverse_early;
        let knee = forward_a * self.per_knee + reverse_a * self.per_reverse_knee;
        let under_root = (one + S::splat(4.0) * knee).maximum(S::splat(LEAST_KNEE_TERM));
        let base_charge = S::splat(0.5)
            * limited_reciprocal(early, LEAST_EARLY_DENOMINATOR)
            * (one + under_root.sqrt());
        Transport { forward_a, reverse_a, base_charge }
    }

    #[inline(always)]
    fn currents(&self, flow: &Transport<S>) -> [S; 3] {
        [
            (flow.forward_a - flow.reverse_a) / flow.base_charge,
            flow.forward_a * self.per_forward_gain,
            flow.reverse_a * self.per_reverse_gain,
        ]
    }
}

/// A bipolar transistor over temperature, without charge; inputs and currents as [`Bipolar`].
#[derive(Clone, Copy, Debug)]
pub struct BipolarOverTemperature {
    saturation: Saturation,
    thermal: ThermalVoltage,
    idealities: [f64; 2],
    forward_gain: f64,
    forward_gain_over: Linear,
    per_reverse_gain: f64,
    per_early: [f64; 2],
    per_knee: [f64; 2],
    flicker_corner_hz: f64,
}

impl BipolarOverTemperature {
    /// From the keys of the kind.
    fn of(p: &Parameters) -> Self {
        let inverse = |key: &str| p.optional(key).map_or(0.0, |x| 1.0 / x);
        Self {
            saturation: Saturation::of(p, p.number("saturation_current"), 1.0),
            thermal: ThermalVoltage::of(p),
            idealities: ["forward_ideality", "reverse_ideality"].map(|key| p.number(key)),
            forward_gain: p.number("forward_gain"),
            forward_gain_over: Linear::of(p, "forward_gain_temperature_coefficient"),
            per_reverse_gain: 1.0 / p.number("reverse_gain"),
            per_early: ["early_voltage", "reverse_early_voltage"].map(inverse),
            per_knee: ["knee_current", "reverse_knee_current"].map(inverse),
            flicker_corner_hz: p.number("flicker_corner"),
        }
    }

    #[inline(always)]
    fn flow<S: Scalar>(&self, kelvin: S) -> Flow<S> {
        let thermal_v = self.thermal.at(kelvin);
        let one = S::splat(1.0);
        let per_width = |ideality: f64| one / (S::splat(ideality) * thermal_v);
        let gain = S::splat(self.forward_gain) * self.forward_gain_over.at(kelvin);
        let ([forward, reverse], constant) = (self.idealities, S::splat);
        Flow {
            saturation_a: self.saturation.at(kelvin),
            per_forward_width: per_width(forward),
            per_reverse_width: per_width(reverse),
            per_forward_gain: one / gain,
            per_reverse_gain: constant(self.per_reverse_gain),
            per_early: constant(self.per_early[0]),
            per_reverse_early: constant(self.per_early[1]),
            per_knee: constant(self.per_knee[0]),
            per_reverse_knee: constant(self.per_knee[1]),
        }
    }
}

impl OverTemperature<2, 3, 0> for BipolarOverTemperature {
    type Fixed = Bipolar<f64>;

    fn at(&self, kelvin: f64) -> Bipolar<f64> {
        let flow = self.flow(kelvin);
        let thermal_v = self.thermal.at(kelvin);
        let [forward, reverse] = self.idealities.map(|ideality| ideality * thermal_v);
        Bipolar {
            flow,
            forward: JunctionScale::new(forward, flow.saturation_a),
            reverse: JunctionScale::new(reverse, flow.saturation_a),
            noise: BarrierNoise::at(kelvin, self.flicker_corner_hz),
        }
    }

    #[inline(always)]
    fn evaluate<S: Scalar<Base = f64>>(&self, kelvin: S, u: &[S; 2]) -> ([S; 3], [S; 0]) {
        let flow = self.flow(kelvin);
        (flow.currents(&flow.transport(bounded(u[0]), bounded(u[1]))), [])
    }

    #[inline(always)]
    fn across<S: Scalar<Base = f64>>(&self, u: &[S; 2]) -> [S; 3] {
        let [v_be, v_bc] = u.map(bounded);
        [v_be - v_bc, v_be, v_bc]
    }
}

/// The same with charges, which keep the sizes they were given.
#[derive(Clone, Copy, Debug)]
pub struct ChargedOverTemperature {
    bipolar: BipolarOverTemperature,
    charges: BipolarCharges<f64>,
}

impl OverTemperature<2, 3, 2> for ChargedOverTemperature {
    type Fixed = ChargedBipolar<f64>;

    fn at(&self, kelvin: f64) -> ChargedBipolar<f64> {
        ChargedBipolar { bipolar: self.bipolar.at(kelvin), charges: self.charges }
    }

    #[inline(always)]
    fn evaluate<S: Scalar<Base = f64>>(&self, kelvin: S, u: &[S; 2]) -> ([S; 3], [S; 2]) {
        let (v_be, v_bc) = (bounded(u[0]), bounded(u[1]));
        let flow = self.bipolar.flow(kelvin);
        let transport = flow.transport(v_be, v_bc);
        (flow.currents(&transport), self.charges.charges(&transport, v_be, v_bc))
    }

    #[inline(always)]
    fn across<S: Scalar<Base = f64>>(&self, u: &[S; 2]) -> [S; 3] {
        self.bipolar.across(u)
    }
}

/// DC law; inputs v_BE, v_BC; currents collector to emitter (transport), base to emitter, base to
/// collector.
#[derive(Clone, Copy, Debug)]
pub struct Bipolar<T> {
    flow: Flow<T>,
    forward: JunctionScale,
    reverse: JunctionScale,
    noise: BarrierNoise<T>,
}

impl<T: Scalar<Base = T>> Bipolar<T> {
    /// The streams from either side cross the base independently of each other, so their shot
    /// noises add up, also where their currents cancel; each carries I_S more than it nets.
    fn noise_of(&self, v_be: T, v_bc: T) -> [Noise<T>; 3] {
        let own = &self.flow;
        let flow = own.transport(v_be, v_bc);
        let one = T::splat(1.0);
        let crossing_a = flow.forward_a + flow.reverse_a + T::splat(2.0) * own.saturation_a;
        let white = T::splat(TWO_Q) * crossing_a / flow.base_charge;
        let base = |net_a: T, per_gain: T, per_width: T, v: T| {
            let exponential = net_a / own.saturation_a + one;
            self.noise.of_junction(own.saturation_a * per_gain, per_width, v, exponential)
        };
        [
            Noise { cause: NoiseCause::Shot, white, ..Noise::none() },
            base(flow.forward_a, own.per_forward_gain, own.per_forward_width, v_be),
            base(flow.reverse_a, own.per_reverse_gain, own.per_reverse_width, v_bc),
        ]
    }
}

impl<T: Scalar<Base = T>> Law<T, 2, 3, 0> for Bipolar<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 2]) -> ([S; 3], [S; 0]) {
        let flow = self.flow.lifted();
        (flow.currents(&flow.transport(bounded(u[0]), bounded(u[1]))), [])
    }

    fn limit(&self, previous: &[f64; 2], proposed: &mut [f64; 2]) {
        proposed[0] = self.forward.limit(previous[0], proposed[0]);
        proposed[1] = self.reverse.limit(previous[1], proposed[1]);
    }

    fn noise(&self, u: &[T; 2]) -> [Noise<T>; 3] {
        self.noise_of(bounded(u[0]), bounded(u[1]))
    }

    fn region(&self, u: &[f64; 2]) -> Option<&'static str> {
        if u[0] <= self.forward.on_v && u[1] <= self.reverse.on_v {
            return Some(region::OFF);
        }
        let lead = u[0] / self.forward.width_v - u[1] / self.reverse.width_v;
        let margin = ACTIVE_RATIO.ln();
        Some(if lead > margin {
            region::ACTIVE
        } else if lead < -margin {
            region::REVERSE
        } else {
            region::SATURATED
        })
    }
}

/// Parameters of the stored charges.
#[derive(Clone, Copy, Debug)]
pub struct BipolarCharges<T> {
    transit_s: T,
    reverse_transit_s: T,
    emitter: Depletion<T>,
    collector: Depletion<T>,
}

impl<T: Scalar<Base = T>> BipolarCharges<T> {
    #[inline(always)]
    fn charges<S: Scalar<Base = T>>(&self, flow: &Transport<S>, v_be: S, v_bc: S) -> [S; 2] {
        let forward_c = S::lift(self.transit_s) * flow.forward_a / flow.base_charge;
        let reverse_c = S::lift(self.reverse_transit_s) * flow.reverse_a;
        [forward_c + self.emitter.charge(v_be), reverse_c + self.collector.charge(v_bc)]
    }
}

/// A bipolar transistor with charges on base–emitter and base–collector.
#[derive(Clone, Copy, Debug)]
pub struct ChargedBipolar<T> {
    bipolar: Bipolar<T>,
    charges: BipolarCharges<T>,
}

impl<T: Scalar<Base = T>> Law<T, 2, 3, 2> for ChargedBipolar<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 2]) -> ([S; 3], [S; 2]) {
        let (v_be, v_bc) = (bounded(u[0]), bounded(u[1]));
        let flow = self.bipolar.flow.lifted();
        let transport = flow.transport(v_be, v_bc);
        (flow.currents(&transport), self.charges.charges(&transport, v_be, v_bc))
    }

    fn limit(&self, previous: &[f64; 2], proposed: &mut [f64; 2]) {
        self.bipolar.limit(previous, proposed);
    }

    fn noise(&self, u: &[T; 2]) -> [Noise<T>; 3] {
        self.bipolar.noise(u)
    }

    fn region(&self, u: &[f64; 2]) -> Option<&'static str> {
        self.bipolar.region(u)
    }
}

in_columns!(Bipolar<f64>: 9, flow.saturation_a, flow.per_forward_width, flow.per_reverse_width, flow.per_forward_gain, flow.per_reverse_gain, flow.per_early, flow.per_reverse_early, flow.per_knee, flow.per_reverse_knee);
in_columns!(ChargedBipolar<f64>: 23, bipolar.flow.saturation_a, bipolar.flow.per_forward_width, bipolar.flow.per_reverse_width, bipolar.flow.per_forward_gain, bipolar.flow.per_reverse_gain, bipolar.flow.per_early, bipolar.flow.per_reverse_early, bipolar.flow.per_knee, bipolar.flow.per_reverse_knee, charges.transit_s, charges.reverse_transit_s, charges.emitter.scale_c, charges.emitter.power, charges.emitter.per_potential, charges.emitter.knee_v, charges.emitter.knee_farad, charges.emitter.bend_per_v, charges.collector.scale_c, charges.collector.power, charges.collector.per_potential, charges.collector.knee_v, charges.collector.knee_farad, charges.collector.bend_per_v);
