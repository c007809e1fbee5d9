//! Junction diode.

use super::row::{BANDGAP, CHARACTERISED_AT, SATURATION_EXPONENT, THERMAL_VOLTAGE, ZERO, quantity};
use super::{Kind, Need, Net, Parameters, Pin, Range, Terminal, Terminals};
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
    ],
    rules: &[],
    law: "i = I_S·(e^(v/(n·U_T)) - 1), v inside series_resistance; \
          q = transit_time·i + Q_j(v), Q_j = (C_j0·φ/(1 - m))·(1 - (1 - v/φ)^(1 - m)), beyond \
          φ/2 continued with capacitance in a straight line; \
          I_S(T) = I_S·[(T/T_c)^X·exp((E_g·q/k)·(1/T_c - 1/T))]^(1/n), T_c = characterised_at",
    source: "Shockley, Bell Syst. Tech. J. 28 (1949); charges and temperature: \
             Getreu, Modeling the Bipolar Transistor (1976)",
    example: r#"D1 = { kind = "diode", anode = "vin", cathode = "gnd", saturation_current = "10 fA" }"#,
    lay: lay_diode,
};

fn lay_diode(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let _ = (p, pins, net);
}
