//! Operational amplifier: data-sheet figures become a limited input stage into one capacitance, a
//! second pole, and an output stage between its supplies.

// Measured: what is not made part of a loop over variants ends its being done several at once.
#![allow(clippy::inline_always)]

use super::abreast::in_columns;
use super::amplifier_stages::{CLAMP_OHM, CLAMP_WIDTH_V, HOLDS_WITHIN_V, InputStage, VoltageStage};
use super::consumption::consumption;
use super::lag::lagging;
use super::row::{CHARACTERISED_AT, NOISE_CORNER, ZERO, quantity, word};
use super::smooth::{bounded, soft_minimum, softplus};
use super::temperature::rise_k;
use super::{
    Input, Kind, Law, Need, Net, Noise, Parameters, Pin, Range, Rule, Terminal, Terminals, region,
};
use crate::numeric::Scalar;
use crate::quantity::Dimension;
use std::f64::consts::TAU;

/// `operational-amplifier`
pub(super) static OPERATIONAL_AMPLIFIER: Kind = Kind {
    name: "operational-amplifier",
    summary: "an operational amplifier as its data sheet describes it",
    terminals: Terminals::Named(&[
        Terminal { name: "plus", default: None, text: "non-inverting input" },
        Terminal { name: "minus", default: None, text: "inverting input" },
        Terminal { name: "output", default: None, text: "output" },
        Terminal { name: "supply", default: None, text: "positive supply" },
        Terminal { name: "ground", default: None, text: "negative supply" },
    ]),
    keys: &[
        quantity(
            "gain",
            Dimension::NONE,
            Range::Positive,
            Need::Absent,
            "open-loop gain at DC, volts per volt",
        ),
        quantity(
            "gain_decibels",
            Dimension::DECIBEL,
            Range::Any,
            Need::Absent,
            "the same in decibels: 20·log10 of it",
        ),
        quantity(
            "bandwidth",
            Dimension::HERTZ,
            Range::Positive,
            Need::Required,
            "gain-bandwidth product: gain times frequency where the gain falls as 1/f",
        ),
        quantity(
            "second_pole",
            Dimension::HERTZ,
            Range::Positive,
            Need::Absent,
            "frequency of a second pole of the gain",
        ),
        quantity(
            "slew_rate",
            Dimension::VOLT_PER_SECOND,
            Range::Positive,
            Need::Required,
            "fastest change of the output voltage, both ways",
        ),
        quantity(
            "swing_low",
            Dimension::VOLT,
            Range::NonNegative,
            ZERO,
            "how near the unloaded output comes to `ground`",
        ),
        quantity(
            "swing_high",
            Dimension::VOLT,
            Range::NonNegative,
            ZERO,
            "how near the unloaded output comes to `supply`",
        ),
        quantity(
            "output_current",
            Dimension::AMPERE,
            Range::Positive,
            Need::Required,
            "largest output current, both ways",
        ),
        quantity(
            "output_resistance",
            Dimension::OHM,
            Range::Positive,
            Need::Default(100.0),
            "resistance of the output, loop open, far from its largest current",
        ),
        word(
            "returns_to",
            &["ground", "supply"],
            "ground",
            "the supply that the internal capacitance ends at: ripple of the other one is held off, \
             that of this one gets through as the gain falls",
        ),
        quantity(
            "supply_current",
            Dimension::AMPERE,
            Range::NonNegative,
            ZERO,
            "own consumption, from supply to ground",
        ),
        quantity(
            "bias_current",
            Dimension::AMPERE,
            Range::Any,
            ZERO,
            "current into each input, out of `ground`",
        ),
        quantity(
            "offset",
            Dimension::VOLT,
            Range::Any,
            ZERO,
            "offset voltage: what is added to the input voltage",
        ),
        quantity(
            "offset_temperature_coefficient",
            Dimension::VOLT_PER_KELVIN,
            Range::Any,
            ZERO,
            "change of `offset` for each kelvin above `characterised_at`",
        ),
        CHARACTERISED_AT,
        quantity(
            "noise_density",
            Dimension::VOLT_PER_ROOT_HERTZ,
            Range::NonNegative,
            ZERO,
            "white noise of all its stages, as a voltage between plus and minus",
        ),
        NOISE_CORNER,
    ],
    rules: &[Rule::ExactlyOne(&["gain", "gain_decibels"])],
    law: "d = v(plus) - v(minus) + offset(T); input stage into the internal node, out of ground: \
          i = I·tanh(g_m·d/I) with I = 10 µA; the node has C = I/slew_rate and R = gain/g_m with \
          g_m = 2π·bandwidth·C, so that it follows gain·d above ground with its pole at \
          bandwidth/gain and moves no faster than slew_rate; clamp as in the error-amplifier, from \
          swing_low above ground to swing_high below supply, neither limit beyond either supply; \
          then the second pole; output stage as in the error-amplifier: \
          I_o·tanh((v_x - v_out)/(output_resistance·I_o)), I_o = output_current, sourced current \
          from supply, sunk current into ground; own currents i·tanh(v/0.3 V)",
    noise: "source: noise_density²·(1 + noise_corner/f) in series with its input, of no effect as \
            far as the input stage is limited; its resistances make none of their own",
    source: "Solomon, IEEE J. Solid-State Circuits 9 (1974) 314 (from memory): slew rate and \
             bandwidth from one capacitance; stages and clamp: definitions; default of \
             output_resistance: common practice, no source",
    example: r#"U1 = { kind = "operational-amplifier", plus = "ref", minus = "fb", output = "b", supply = "vin", ground = "gnd", gain_decibels = "100 dB", bandwidth = "1 MHz", second_pole = "3 MHz", slew_rate = "0.5 V/µs", swing_high = "1.2 V", output_current = "15 mA", output_resistance = "80 Ω" }"#,
    lay: lay_operational_amplifier,
};

/// The largest current of the input stage. Only its ratio to the internal capacitance is seen from
/// outside; this one makes a fully driven stage hold the clamp within half its width.
const STAGE_A: f64 = CLAMP_WIDTH_V / CLAMP_OHM;

fn lay_operational_amplifier(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[plus, minus, output, supply, ground] = pins else { return };
    let between = |a: Pin, b: Pin| Input::Between(a.unknown, b.unknown);
    let internal = net.inner("internal");
    let farad = STAGE_A / p.number("slew_rate");
    let siemens = TAU * p.number("bandwidth") * farad;
    let gain = p.optional("gain").or(p.optional("gain_decibels").map(|db| 10f64.powf(db / 20.0)));
    let gain = gain.unwrap_or(f64::NAN).max(f64::MIN_POSITIVE);
    let offset_v = p.number("offset") + p.number("offset_temperature_coefficient") * rise_k(p);
    let stage = InputStage::new(siemens, STAGE_A, Noise::given(p));
    let input = [between(plus, minus)];
    if offset_v == 0.0 {
        net.law(stage, &input, &[[ground, internal]], &[]);
    } else {
        let stage = OffsetStage { stage, offset_v, plain_v: offset_v };
        net.law(stage, &input, &[[ground, internal]], &[]);
    }
    let end = if p.word("returns_to") == "supply" { supply } else { ground };
    net.conductance([internal, ground], siemens / gain);
    net.capacitance([internal, end], farad, None);
    let limits = SwingLimits::new(p.number("swing_low"), p.number("swing_high"));
    let inputs = [between(internal, ground), between(supply, ground)];
    net.law(limits, &inputs, &[[internal, ground]], &[]);

    let driven = lagging(net, [internal, ground], p.optional("second_pole"), "driven");
    let output_stage = VoltageStage::new(p.number("output_resistance"), p.number("output_current"));
    let paths = [[supply, output], [ground, output]];
    net.law(output_stage, &[between(driven, output)], &paths, &[]);

    consumption(p.number("supply_current"), [supply, ground], net);
    for input in [plus, minus] {
        consumption(p.number("bias_current"), [input, ground], net);
    }
}

/// An input stage whose balance is off zero; input: the difference d.
#[derive(Clone, Copy, Debug)]
pub struct OffsetStage<T> {
    /// The stage itself.
    pub stage: InputStage<T>,
    /// V added to its input.
    pub offset_v: T,
    /// The same in plain numbers, for words.
    pub plain_v: f64,
}

impl<T: Scalar<Base = T>> Law<T, 1, 1, 0> for OffsetStage<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 1]) -> ([S; 1], [S; 0]) {
        self.stage.evaluate(&[u[0] + S::lift(self.offset_v)])
    }

    fn noise(&self, u: &[T; 1]) -> [Noise<T>; 1] {
        self.stage.noise(&[u[0] + self.offset_v])
    }

    fn region(&self, u: &[f64; 1]) -> Option<&'static str> {
        self.stage.region(&[u[0] + self.plain_v])
    }

    fn resistive(&self) -> [bool; 1] {
        [false]
    }
}

/// i = (s/r)·(softplus((v − hi)/s) − softplus((lo − v)/s)); inputs: internal node and supply, both
/// above ground; current from the internal node to ground.
///
/// hi = supply − swing, but never below ground, and lo never above hi, each rounded over s: an
/// amplifier without supply drives nothing, either way.
#[derive(Clone, Copy, Debug)]
pub struct SwingLimits<T> {
    low_v: T,
    below_supply_v: T,
    levels: [f64; 2],
}

impl SwingLimits<f64> {
    /// From the lower limit above ground and the upper limit below the supply, in V.
    pub fn new(low_v: f64, below_supply_v: f64) -> Self {
        Self { low_v, below_supply_v, levels: [low_v, below_supply_v] }
    }
}

impl<T: Scalar<Base = T>> Law<T, 2, 1, 0> for SwingLimits<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 2]) -> ([S; 1], [S; 0]) {
        let [v, supply] = u.map(bounded);
        let width = S::splat(CLAMP_WIDTH_V);
        let per_width = S::splat(1.0 / CLAMP_WIDTH_V);
        let high = width * softplus((supply - S::lift(self.below_supply_v)) * per_width);
        let low = soft_minimum(S::lift(self.low_v), high, CLAMP_WIDTH_V);
        let (upper, lower) = (softplus((v - high) * per_width), softplus((low - v) * per_width));
        ([S::splat(CLAMP_WIDTH_V / CLAMP_OHM) * (upper - lower)], [])
    }

    fn region(&self, u: &[f64; 2]) -> Option<&'static str> {
        let [low_v, below_supply_v] = self.levels;
        let high_v = (u[1] - below_supply_v).max(0.0);
        if u[0] > high_v - HOLDS_WITHIN_V {
            Some(region::AT_UPPER_SWING)
        } else if u[0] < low_v.min(high_v) + HOLDS_WITHIN_V {
            Some(region::AT_LOWER_SWING)
        } else {
            None
        }
    }
}

in_columns!(OffsetStage<f64>: 3, stage.largest_a, stage.per_volt, offset_v);
in_columns!(SwingLimits<f64>: 2, low_v, below_supply_v);
