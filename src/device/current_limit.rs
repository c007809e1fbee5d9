//! Current limit: senses the current of a pass device and steers it back, at a constant level or one
//! that folds back with the output voltage.

// Measured: what is not made part of a loop over variants ends its being done several at once.
#![allow(clippy::inline_always)]

use super::abreast::in_columns;
use super::lag::LAG_S;
use super::row::{CHARACTERISED_AT, ZERO, quantity};
use super::smooth::{bounded, held_within, logistic};
use super::temperature::{kelvin, linear_factor};
use super::{
    Input, Kind, Law, Need, Net, Parameters, Pin, Range, Rule, Terminal, Terminals, region,
};
use crate::numeric::Scalar;
use crate::quantity::Dimension;

/// `current-limit`
pub(super) static CURRENT_LIMIT: Kind = Kind {
    name: "current-limit",
    summary: "a current limit, constant or folding back, that takes away the drive of a pass device",
    terminals: Terminals::Named(&[
        Terminal { name: "input", default: None, text: "where the sensed current enters" },
        Terminal { name: "output", default: None, text: "where it leaves, towards the load" },
        Terminal { name: "ground", default: None, text: "the output voltage counts from here" },
        Terminal {
            name: "from",
            default: None,
            text: "gives the steering current: the base of an npn, the source side of a PMOS or pnp",
        },
        Terminal {
            name: "to",
            default: None,
            text: "takes it: the output behind an npn, the gate of a PMOS, the base of a pnp",
        },
    ]),
    keys: &[
        quantity(
            "resistance",
            Dimension::OHM,
            Range::Positive,
            Need::Required,
            "sense resistance between input and output",
        ),
        quantity(
            "limit",
            Dimension::AMPERE,
            Range::Positive,
            Need::Required,
            "sensed current at which it begins to steer, at the normal output voltage",
        ),
        quantity(
            "short_current",
            Dimension::AMPERE,
            Range::NonNegative,
            Need::Absent,
            "the same with the output at ground; constant at `limit` when absent",
        ),
        quantity(
            "fold_voltage",
            Dimension::VOLT,
            Range::Positive,
            Need::Absent,
            "output voltage from which up the whole `limit` holds",
        ),
        quantity(
            "steepness",
            Dimension::NONE,
            Range::Positive,
            Need::Required,
            "steering current over sensed current beyond the limit",
        ),
        quantity(
            "highest_current",
            Dimension::AMPERE,
            Range::Positive,
            Need::Required,
            "largest steering current: more than what drives the pass device",
        ),
        quantity(
            "response_time",
            Dimension::SECOND,
            Range::NonNegative,
            Need::Default(100e-9),
            "time constant with which the steering current follows",
        ),
        quantity(
            "limit_temperature_coefficient",
            Dimension::PER_KELVIN,
            Range::Any,
            ZERO,
            "relative change of both limits for each kelvin above `characterised_at`",
        ),
        CHARACTERISED_AT,
    ],
    rules: &[
        Rule::Together(&["short_current", "fold_voltage"]),
        Rule::NotAbove("short_current", "limit"),
    ],
    law: "v(input) - v(output) = resistance·i; level L = limit, or short_current + (limit - \
          short_current)·f, f = (v(output) - v(ground))/fold_voltage held between 0 and 1, corners \
          rounded over 0.5 %; both times (1 + limit_temperature_coefficient·(T - characterised_at)); \
          steering current from `from` to `to`: steepness·(i - L) held between 0 and I = \
          highest_current, corners rounded over 1 % of I, lagging by response_time, and faded out as 1/(1 + e^-u), u = (v(from) \
          - v(to) - 0.1 V)/20 mV, for it flows downhill only; so i = L + (steering \
          current)/steepness",
    noise: "thermal, of resistance: 4kT/R; the steering current makes none",
    source: "foldback as a straight line of the output voltage: Franco, Design with Operational \
             Amplifiers and Analog Integrated Circuits (from memory); corners and fading: definitions; default of \
             response_time, that of a small transistor: common practice, no source",
    example: r#"LIM = { kind = "current-limit", input = "x", output = "vout", ground = "gnd", from = "b", to = "vout", resistance = "0.5 Ω", limit = "1.5 A", short_current = "0.5 A", fold_voltage = "12 V", steepness = "1", highest_current = "30 mA", limit_temperature_coefficient = "-0.3 %/K" }"#,
    lay: lay_current_limit,
};

fn lay_current_limit(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[input, output, ground, from, to] = pins else { return };
    let ohm = p.number("resistance");
    net.resistor([input, output], ohm, kelvin(p));
    let warmth = linear_factor(p, "limit_temperature_coefficient");
    let limit_a = p.number("limit") * warmth;
    let short_a = p.optional("short_current").map_or(limit_a, |short| short * warmth);
    let law = LimitDemand {
        per_ohm: 1.0 / ohm,
        short_a,
        fold_a: limit_a - short_a,
        per_fold_v: p.optional("fold_voltage").map_or(1.0, |v| 1.0 / v),
        per_ampere: p.number("steepness") / p.number("highest_current"),
        plain: [1.0 / ohm, short_a, limit_a - short_a, p.optional("fold_voltage").unwrap_or(1.0)],
    };
    let between = |a: Pin, b: Pin| Input::Between(a.unknown, b.unknown);
    let steering = net.inner("steering");
    let inputs = [between(input, output), between(output, ground)];
    net.law(law, &inputs, &[[ground, steering]], &[]);
    net.conductance([steering, ground], LAG_S);
    net.capacitance([steering, ground], LAG_S * p.number("response_time"), None);
    let law = Steering { highest_a: p.number("highest_current") };
    net.law(law, &[between(steering, ground), between(from, to)], &[[from, to]], &[]);
}

/// The share of its span over which the steering current bends into its limits.
const STEERING_BEND: f64 = 0.01;
/// The share of its range over which the fold bends into its ends: the level is off by ln 2 of it
/// there, a third of a percent.
const FOLD_BEND: f64 = 0.005;
/// The steering current flows where `from` is above `to` by this, …
const DOWNHILL_V: f64 = 0.1;
/// … and fades out over this.
const DOWNHILL_WIDTH_V: f64 = 20e-3;

/// The share of the highest steering current that is asked for, as a current into the node that holds
/// it; inputs: voltage across the sense resistance, output above ground.
#[derive(Clone, Copy, Debug)]
pub struct LimitDemand<T> {
    per_ohm: T,
    short_a: T,
    /// Limit less short-circuit current, in A.
    fold_a: T,
    per_fold_v: T,
    /// 1/A: steepness over the highest current.
    per_ampere: T,
    /// 1/Ω, A, A, V: the level again in plain numbers, for words.
    plain: [f64; 4],
}

impl<T: Scalar<Base = T>> Law<T, 2, 1, 0> for LimitDemand<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 2]) -> ([S; 1], [S; 0]) {
        let [sensed, output] = u.map(bounded);
        let folded = output * S::lift(self.per_fold_v) * S::splat(1.0 / FOLD_BEND);
        let share = S::splat(FOLD_BEND) * held_within(folded, S::splat(1.0 / FOLD_BEND));
        let level = S::lift(self.short_a) + S::lift(self.fold_a) * share;
        let beyond = sensed * S::lift(self.per_ohm) - level;
        let widths = S::lift(self.per_ampere) * beyond * S::splat(1.0 / STEERING_BEND);
        let asked = held_within(widths, S::splat(1.0 / STEERING_BEND));
        ([S::splat(LAG_S * STEERING_BEND) * asked], [])
    }

    fn region(&self, u: &[f64; 2]) -> Option<&'static str> {
        let [per_ohm, short_a, fold_a, fold_v] = self.plain;
        let level_a = short_a + fold_a * (u[1] / fold_v).clamp(0.0, 1.0);
        let limiting = u[0] * per_ohm > level_a;
        Some(if limiting { region::LIMITING } else { region::NOT_LIMITING })
    }

    fn resistive(&self) -> [bool; 1] {
        [false]
    }
}

/// i = share·highest, downhill only; inputs: the share in V, `from` above `to`.
#[derive(Clone, Copy, Debug)]
pub struct Steering<T> {
    highest_a: T,
}

impl<T: Scalar<Base = T>> Law<T, 2, 1, 0> for Steering<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 2]) -> ([S; 1], [S; 0]) {
        let [share, downhill] = u.map(bounded);
        let per_width = S::splat(1.0 / DOWNHILL_WIDTH_V);
        let there = logistic((downhill - S::splat(DOWNHILL_V)) * per_width);
        ([S::lift(self.highest_a) * share * there], [])
    }

    fn resistive(&self) -> [bool; 1] {
        [false]
    }
}

in_columns!(LimitDemand<f64>: 5, per_ohm, short_a, fold_a, per_fold_v, per_ampere);
in_columns!(Steering<f64>: 1, highest_a);
