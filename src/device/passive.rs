//! Resistor and inductor.

use super::row::{CHARACTERISED_AT, TOLERANCE, ZERO, quantity};
use super::temperature::{Linear, kelvin, linear_factor};
use super::{Kind, Need, Net, Noise, Parameters, Pin, Range, Terminals};
use crate::quantity::Dimension;

const TEMPERATURE_COEFFICIENT_TEXT: &str =
    "relative change of the value for each kelvin above `characterised_at`";

/// `resistor`
pub(super) static RESISTOR: Kind = Kind {
    name: "resistor",
    summary: "a resistance",
    terminals: Terminals::Pair,
    keys: &[
        quantity("resistance", Dimension::OHM, Range::Positive, Need::Required, "resistance"),
        TOLERANCE,
        quantity(
            "temperature_coefficient",
            Dimension::PER_KELVIN,
            Range::Any,
            ZERO,
            TEMPERATURE_COEFFICIENT_TEXT,
        ),
        CHARACTERISED_AT,
        quantity(
            "rated_power",
            Dimension::WATT,
            Range::Positive,
            Need::Absent,
            "power it may dissipate for ever; without it no stress is judged",
        ),
    ],
    rules: &[],
    law: "v(a) - v(b) = R·i, R = resistance·(1 + temperature_coefficient·(T - characterised_at))",
    noise: "thermal: 4kT/R as a current in parallel, at the part's temperature",
    source: "Ohm's law; linear temperature coefficient: common practice, no source; noise: \
             Nyquist, Phys. Rev. 32 (1928) 110",
    example: r#"R1 = { kind = "resistor", nodes = ["a", "b"], resistance = "4k7" }"#,
    lay: lay_resistor,
};

/// `inductor`
pub(super) static INDUCTOR: Kind = Kind {
    name: "inductor",
    summary: "an inductance with series resistance; also wiring and traces",
    terminals: Terminals::Pair,
    keys: &[
        quantity("inductance", Dimension::HENRY, Range::Positive, Need::Required, "inductance"),
        quantity(
            "series_resistance",
            Dimension::OHM,
            Range::NonNegative,
            ZERO,
            "resistance of the winding or trace",
        ),
        TOLERANCE,
        quantity(
            "temperature_coefficient",
            Dimension::PER_KELVIN,
            Range::Any,
            ZERO,
            "relative change of `series_resistance` for each kelvin above `characterised_at`",
        ),
        CHARACTERISED_AT,
        quantity(
            "initial",
            Dimension::AMPERE,
            Range::Any,
            Need::Absent,
            "current from the first node to the second at t = 0, read only with \
             start = \"initial-values\"; when absent, taken from the operating point",
        ),
    ],
    rules: &[],
    law: "v(a) - v(b) = R·i + inductance·di/dt, \
          R = series_resistance·(1 + temperature_coefficient·(T - characterised_at))",
    noise: "thermal, of series_resistance: 4kT·R; the inductance makes none",
    source: "Faraday's law; linear temperature coefficient: common practice, no source; noise: \
             Nyquist, Phys. Rev. 32 (1928) 110",
    example: r#"L1 = { kind = "inductor", nodes = ["cell", "vin"], inductance = "4 nH", series_resistance = "8 mΩ" }"#,
    lay: lay_inductor,
};

fn lay_resistor(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[a, b] = pins else { return };
    net.resistor_of(p, [a, b], p.number("resistance"), Linear::of(p, "temperature_coefficient"));
}

fn lay_inductor(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[a, b] = pins else { return };
    let ohm = p.number("series_resistance") * linear_factor(p, "temperature_coefficient");
    let _ = net
        .branch([a, b], ohm, p.number("inductance"))
        .starting_at(p.optional("initial"))
        .noisy(Noise::thermal(ohm, kelvin(p)));
}
