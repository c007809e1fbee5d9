//! `law`: a part whose current, voltage or charge is an expression the user wrote.

use super::abreast::one_by_one;
use super::row::absent;
use super::{Form, GROUND, Input, Kind, Law, LawOutput, Net, Parameters, Pin, Rule, Terminals};
use crate::numeric::Scalar;
use crate::quantity::{Dimension, Program};

/// `law`
pub(super) static LAW: Kind = Kind {
    name: "law",
    summary: "a part whose current, voltage or charge is an expression",
    terminals: Terminals::Pair,
    keys: &[
        absent(
            "inputs",
            Form::Inputs,
            "up to four named input voltages: { x = [\"c\", \"d\"] } makes x = v(c) - v(d)",
        ),
        absent(
            "current",
            Form::Expression(Dimension::AMPERE),
            "current from the first node to the second",
        ),
        absent(
            "voltage",
            Form::Expression(Dimension::VOLT),
            "voltage of the first node above the second",
        ),
        absent("charge", Form::Expression(Dimension::COULOMB), "charge on the first node"),
    ],
    rules: &[Rule::ExactlyOne(&["current", "voltage", "charge"])],
    law: "i = current(inputs, t), or v(a) - v(b) = voltage(inputs, t), \
          or i = d/dt charge(inputs, t); `t` is the time since the start of the record",
    noise: "none, whatever the expression stands for: give it by a current-source or voltage-source \
            with noise_density",
    source: "definition",
    example: r#"D1 = { kind = "law", nodes = ["a", "b"], inputs = { x = ["a", "b"] }, current = "1 µA * (exp(x / 26 mV) - 1)" }"#,
    lay: lay_law,
};

fn lay_law(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[a, b] = pins else { return };
    let Some((output, program)) = &p.law else { return };
    let used = p.inputs.len().min(MOST_LAW_INPUTS);
    let mut inputs = [Input::Between(GROUND, GROUND); MOST_LAW_INPUTS + 1];
    for (slot, [c, d]) in inputs.iter_mut().zip(&p.inputs[..used]) {
        *slot = Input::Between(c.unknown, d.unknown);
    }
    inputs[MOST_LAW_INPUTS] = Input::Time;
    let own = [(a.unknown, b.unknown), (b.unknown, a.unknown)];
    let resistive = p.inputs.iter().any(|[c, d]| own.contains(&(c.unknown, d.unknown)));
    let law = ProgramLaw { program: program.clone(), used, resistive };
    match output {
        LawOutput::Current => net.law(ProgramCurrent(law), &inputs, &[[a, b]], &[]),
        LawOutput::Charge => net.law(ProgramCharge(law), &inputs, &[], &[[a, b]]),
        LawOutput::Voltage => net.law_voltage([a, b], ProgramCurrent(law), &inputs),
    }
}

/// The most named inputs of a law.
pub const MOST_LAW_INPUTS: usize = 4;

/// No regulator carries as many amperes, volts or coulombs: a step from below goes no further, …
const LARGEST_RESULT: f64 = 1e6;
/// … and one from there multiplies what there is by no more. Exponentials across an ideal source carry any number,
/// which is a rest nevertheless; held below a fixed one, Newton's method would stand still before it.
const LARGEST_GROWTH: f64 = 1e3;

/// Enough to come back from any double to where the step began.
const MOST_HALVINGS: usize = 64;

/// An expression over up to four input voltages and time. The inputs an expression does not have
/// read zero, so that every law has the same number of inputs, time last.
#[derive(Clone, Debug)]
struct ProgramLaw {
    program: Program,
    used: usize,
    /// Whether the voltage between its own ends is among its inputs.
    resistive: bool,
}

impl ProgramLaw {
    #[inline]
    fn value<S: Scalar>(&self, u: &[S; MOST_LAW_INPUTS + 1]) -> S {
        let mut slots = *u;
        slots[self.used] = u[MOST_LAW_INPUTS];
        self.program.evaluate(&slots[..=self.used])
    }

    /// Halves a Newton step until the expression stays within reason: a user's exponential knows
    /// no limit of its own, and its slope beyond would be no number.
    fn limit(&self, previous: &[f64; 5], proposed: &mut [f64; 5]) {
        if self.value(proposed).abs() <= LARGEST_RESULT {
            return;
        }
        let most = LARGEST_RESULT.max(LARGEST_GROWTH * self.value(previous).abs());
        for _ in 0..MOST_HALVINGS {
            if self.value(proposed).abs() <= most {
                return;
            }
            for (now, before) in proposed.iter_mut().zip(previous) {
                *now = 0.5 * (*now + before);
            }
        }
    }
}

/// A current (or, in a voltage law, a voltage) by expression.
#[derive(Clone, Debug)]
pub struct ProgramCurrent(ProgramLaw);

impl Law<f64, 5, 1, 0> for ProgramCurrent {
    #[inline]
    fn evaluate<S: Scalar<Base = f64>>(&self, u: &[S; 5]) -> ([S; 1], [S; 0]) {
        ([self.0.value(u)], [])
    }

    fn limit(&self, previous: &[f64; 5], proposed: &mut [f64; 5]) {
        self.0.limit(previous, proposed);
    }

    fn resistive(&self) -> [bool; 1] {
        [self.0.resistive]
    }
}

/// A charge by expression.
#[derive(Clone, Debug)]
pub struct ProgramCharge(ProgramLaw);

impl Law<f64, 5, 0, 1> for ProgramCharge {
    #[inline]
    fn evaluate<S: Scalar<Base = f64>>(&self, u: &[S; 5]) -> ([S; 0], [S; 1]) {
        ([], [self.0.value(u)])
    }

    fn limit(&self, previous: &[f64; 5], proposed: &mut [f64; 5]) {
        self.0.limit(previous, proposed);
    }
}

one_by_one!(ProgramCurrent, ProgramCharge);
