//! `law`: a part whose current, voltage or charge is an expression the user wrote.

use super::row::absent;
use super::{Form, Kind, Net, Parameters, Pin, Rule, Terminals};
use crate::quantity::Dimension;

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
    source: "definition",
    example: r#"D1 = { kind = "law", nodes = ["a", "b"], inputs = { x = ["a", "b"] }, current = "1 µA * (exp(x / 26 mV) - 1)" }"#,
    lay: lay_law,
};

fn lay_law(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let _ = (p, pins, net);
}
