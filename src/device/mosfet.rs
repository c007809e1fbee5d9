//! MOS transistor: one expression from weak to strong inversion, with body diode and gate charge.

use super::diode::DIODE;
use super::row::{CHARACTERISED_AT, THERMAL_VOLTAGE, ZERO, absent, quantity};
use super::{Form, Key, Kind, Need, Net, Parameters, Pin, Range, Terminal, Terminals};
use crate::quantity::Dimension;

/// `mosfet`
pub(super) static MOSFET: Kind = Kind {
    name: "mosfet",
    summary: "an n- or p-channel MOS transistor",
    terminals: Terminals::Named(&[
        Terminal { name: "drain", default: None, text: "drain" },
        Terminal { name: "gate", default: None, text: "gate" },
        Terminal { name: "source", default: None, text: "source" },
        Terminal { name: "body", default: Some("source"), text: "body (back gate)" },
    ]),
    keys: &[
        Key {
            name: "channel",
            form: Form::Word(&["n", "p"]),
            need: Need::Required,
            text: "carrier type; a p channel has all voltages and currents mirrored",
        },
        quantity(
            "threshold",
            Dimension::VOLT,
            Range::Any,
            Need::Required,
            "gate-source threshold; positive for an enhancement device of either channel",
        ),
        quantity(
            "transconductance",
            Dimension::AMPERE_PER_VOLT_SQUARED,
            Range::Positive,
            Need::Required,
            "β: the saturation current is β·(v_GS - threshold)²/(2·slope_factor)",
        ),
        quantity(
            "slope_factor",
            Dimension::NONE,
            Range::Positive,
            Need::Default(1.3),
            "n: gate volts per volt of pinch-off; also sets the slope in weak inversion",
        ),
        quantity(
            "output_slope",
            Dimension::PER_VOLT,
            Range::NonNegative,
            ZERO,
            "λ: relative rise of the current per volt of drain-source voltage",
        ),
        quantity(
            "gate_source_capacitance",
            Dimension::FARAD,
            Range::NonNegative,
            ZERO,
            "capacitance from gate to source",
        ),
        quantity(
            "gate_drain_capacitance",
            Dimension::FARAD,
            Range::NonNegative,
            ZERO,
            "capacitance from gate to the drain inside series_resistance",
        ),
        quantity(
            "series_resistance",
            Dimension::OHM,
            Range::NonNegative,
            ZERO,
            "metal and package resistance, on the drain side",
        ),
        absent(
            "body_diode",
            Form::KeysOf(&DIODE),
            "the diode between body and the inner drain, with the keys of a diode",
        ),
        THERMAL_VOLTAGE,
        quantity(
            "threshold_temperature_coefficient",
            Dimension::VOLT_PER_KELVIN,
            Range::Any,
            ZERO,
            "change of `threshold` for each kelvin above `characterised_at`",
        ),
        quantity(
            "transconductance_exponent",
            Dimension::NONE,
            Range::Any,
            Need::Default(-1.5),
            "power of T/`characterised_at` that `transconductance` follows",
        ),
        quantity(
            "series_resistance_temperature_coefficient",
            Dimension::PER_KELVIN,
            Range::Any,
            ZERO,
            "relative change of `series_resistance` for each kelvin above `characterised_at`",
        ),
        CHARACTERISED_AT,
    ],
    rules: &[],
    law: "i_D = I_0·(F((v_P - v_S)/U_T) - F((v_P - v_D)/U_T))·(1 + λ·|v_DS|), voltages from the \
          body; F(u) = ln²(1 + e^(u/2)), I_0 = 2·n·β·U_T², v_P = (v_G - threshold)/n; \
          threshold(T) = threshold + coefficient·(T - T_c), \
          β(T) = transconductance·(T/T_c)^transconductance_exponent, T_c = characterised_at",
    source: "Enz, Krummenacher and Vittoz, Analog Integr. Circuits Signal Process. 8 (1995) 83",
    example: r#"Q1 = { kind = "mosfet", source = "vin", gate = "gate", drain = "vout", channel = "p", threshold = "0.7 V", transconductance = "1.24 A/V^2" }"#,
    lay: lay_mosfet,
};

fn lay_mosfet(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let _ = (p, pins, net);
}
