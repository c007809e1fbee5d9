//! Transconductor: an output current that follows an input voltage up to a limit.

// Measured: what is not made part of a loop over variants ends its being done several at once.
#![allow(clippy::inline_always)]

use super::abreast::in_columns;
use super::amplifier_stages::{LIMITED_BEYOND, split_between_rails};
use super::row::{CHARACTERISED_AT, NOISE_CORNER, ZERO, quantity};
use super::smooth::bounded;
use super::temperature::linear_factor;
use super::{
    Input, Kind, Law, Need, Net, Noise, Parameters, Pin, Range, Terminal, Terminals, region,
};
use crate::numeric::{Dual, Scalar};
use crate::quantity::Dimension;

/// `transconductor`
pub(super) static TRANSCONDUCTOR: Kind = Kind {
    name: "transconductor",
    summary: "an amplifier whose output is a current",
    terminals: Terminals::Named(&[
        Terminal {
            name: "plus",
            default: None,
            text: "input whose rise raises the output current",
        },
        Terminal { name: "minus", default: None, text: "input whose rise lowers it" },
        Terminal { name: "output", default: None, text: "gives the current" },
        Terminal { name: "ground", default: None, text: "takes what is sunk" },
        Terminal {
            name: "supply",
            default: Some("ground"),
            text: "gives what is sourced; with ground in its place the part draws on nothing",
        },
    ]),
    keys: &[
        quantity(
            "transconductance",
            Dimension::SIEMENS,
            Range::Positive,
            Need::Required,
            "amperes out of `output` per volt of plus above minus, at balance",
        ),
        quantity(
            "temperature_coefficient",
            Dimension::PER_KELVIN,
            Range::Any,
            ZERO,
            "relative change of `transconductance` for each kelvin above `characterised_at`",
        ),
        CHARACTERISED_AT,
        quantity(
            "highest_current",
            Dimension::AMPERE,
            Range::Positive,
            Need::Required,
            "largest output current, both ways",
        ),
        quantity(
            "output_resistance",
            Dimension::OHM,
            Range::Positive,
            Need::Absent,
            "from output to ground; with transconductance the gain at DC; infinite when absent",
        ),
        quantity(
            "output_capacitance",
            Dimension::FARAD,
            Range::NonNegative,
            ZERO,
            "from output to ground",
        ),
        quantity(
            "noise_density",
            Dimension::VOLT_PER_ROOT_HERTZ,
            Range::NonNegative,
            ZERO,
            "white noise of the whole part, as a voltage between plus and minus",
        ),
        NOISE_CORNER,
    ],
    rules: &[],
    law: "i = I·tanh(g_m·d/I) out of output, d = v(plus) - v(minus), I = highest_current, \
          g_m = transconductance·(1 + temperature_coefficient·(T - characterised_at)); sourced \
          current from supply, sunk current into ground, blended within 1 % of I around zero; \
          output_resistance and output_capacitance from output to ground",
    noise: "source: noise_density²·(1 + noise_corner/f) in series with its input, of no effect as \
            far as it is limited; output_resistance makes none of its own",
    source: "tanh of a bipolar pair: Gray and Meyer, Analysis and Design of Analog Integrated Circuits",
    example: r#"G1 = { kind = "transconductor", plus = "ref", minus = "fb", output = "out", ground = "gnd", transconductance = "1 mS", highest_current = "100 µA", output_resistance = "2 MΩ" }"#,
    lay: lay_transconductor,
};

fn lay_transconductor(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[plus, minus, output, ground, supply] = pins else { return };
    let siemens = p.number("transconductance") * linear_factor(p, "temperature_coefficient");
    let stage = TransconductorStage::new(siemens, p.number("highest_current"), Noise::given(p));
    let input = Input::Between(plus.unknown, minus.unknown);
    net.law(stage, &[input], &[[supply, output], [ground, output]], &[]);
    if let Some(ohm) = p.optional("output_resistance") {
        net.conductance([output, ground], 1.0 / ohm);
    }
    net.capacitance([output, ground], p.number("output_capacitance"), None);
}

/// i = I·tanh(g_m·d/I); input: the difference d; currents: what the supply delivers into the
/// output, then what ground delivers into it.
#[derive(Clone, Copy, Debug)]
pub struct TransconductorStage<T> {
    largest_a: T,
    per_volt: T,
    noise: Noise<T>,
    limited_beyond_v: f64,
}

impl TransconductorStage<f64> {
    /// From g_m in S, I in A, and the noise of d in V²/Hz.
    pub fn new(transconductance_s: f64, largest_a: f64, noise: Noise<f64>) -> Self {
        let per_volt = transconductance_s / largest_a;
        Self { largest_a, per_volt, noise, limited_beyond_v: LIMITED_BEYOND / per_volt }
    }
}

impl<T: Scalar<Base = T>> Law<T, 1, 2, 0> for TransconductorStage<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 1]) -> ([S; 2], [S; 0]) {
        let y = (bounded(u[0]) * S::lift(self.per_volt)).tanh();
        (split_between_rails(y, self.largest_a), [])
    }

    /// All of it is told of the second current: it is the noise of one stage, not of two.
    fn noise(&self, u: &[T; 1]) -> [Noise<T>; 2] {
        let ([up, down], []) = self.evaluate(&Dual::inputs(*u));
        let gain = (up.slope[0] + down.slope[0]).squared();
        let Noise { cause, white, flicker_at_1hz } = self.noise;
        let all = Noise { cause, white: white * gain, flicker_at_1hz: flicker_at_1hz * gain };
        [Noise::none(), all]
    }

    fn region(&self, u: &[f64; 1]) -> Option<&'static str> {
        let limited = u[0].abs() > self.limited_beyond_v;
        Some(if limited { region::AT_DRIVE_LIMIT } else { region::LINEAR })
    }

    fn resistive(&self) -> [bool; 2] {
        [false; 2]
    }
}

in_columns!(TransconductorStage<f64>: 2, largest_a, per_volt);
