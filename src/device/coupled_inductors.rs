//! Two windings on one core.

use super::row::{CHARACTERISED_AT, ZERO, quantity};
use super::temperature::{kelvin, linear_factor};
use super::{
    Element, Key, Kind, Need, Net, Noise, NoisePlace, Parameters, Pin, Range, Role, Terminal,
    Terminals,
};
use crate::quantity::Dimension;

const fn henry(name: &'static str, text: &'static str) -> Key {
    quantity(name, Dimension::HENRY, Range::Positive, Need::Required, text)
}

const fn winding_resistance(name: &'static str, text: &'static str) -> Key {
    quantity(name, Dimension::OHM, Range::NonNegative, ZERO, text)
}

const fn initial(name: &'static str, text: &'static str) -> Key {
    quantity(name, Dimension::AMPERE, Range::Any, Need::Absent, text)
}

/// `coupled-inductors`
pub(super) static COUPLED_INDUCTORS: Kind = Kind {
    name: "coupled-inductors",
    summary: "two windings that share flux: a common-mode choke, a transformer, neighbouring wires",
    terminals: Terminals::Named(&[
        Terminal { name: "first_start", default: None, text: "marked end of the first winding" },
        Terminal { name: "first_end", default: None, text: "its other end" },
        Terminal { name: "second_start", default: None, text: "marked end of the second winding" },
        Terminal { name: "second_end", default: None, text: "its other end" },
    ]),
    keys: &[
        henry("first_inductance", "inductance of the first winding, the other one open"),
        henry("second_inductance", "inductance of the second winding, the other one open"),
        quantity(
            "coupling",
            Dimension::NONE,
            Range::FractionBelowOne,
            Need::Required,
            "share of the flux that both windings have in common",
        ),
        winding_resistance("first_resistance", "resistance of the first winding"),
        winding_resistance("second_resistance", "resistance of the second winding"),
        quantity(
            "temperature_coefficient",
            Dimension::PER_KELVIN,
            Range::Any,
            ZERO,
            "relative change of both resistances for each kelvin above `characterised_at`",
        ),
        CHARACTERISED_AT,
        initial(
            "first_initial",
            "current into first_start at t = 0, read only with start = \"initial-values\"; when \
             absent, taken from the operating point",
        ),
        initial("second_initial", "the same into second_start"),
    ],
    rules: &[],
    law: "v_1 = R_1·i_1 + L_1·di_1/dt + M·di_2/dt, v_2 = R_2·i_2 + L_2·di_2/dt + M·di_1/dt, \
          M = coupling·√(L_1·L_2), voltages from start to end, currents into the starts; \
          R = resistance·(1 + temperature_coefficient·(T - characterised_at)); stored energy \
          L_1·i_1²/2 + L_2·i_2²/2 + M·i_1·i_2",
    noise: "thermal, of both resistances: 4kT·R; the inductances make none",
    source: "Faraday's law, Neumann's mutual inductance; linear temperature coefficient: common \
             practice, no source; noise: Nyquist, Phys. Rev. 32 (1928) 110",
    example: r#"T1 = { kind = "coupled-inductors", first_start = "cell", first_end = "vin", second_start = "x", second_end = "gnd", first_inductance = "1 mH", second_inductance = "1 mH", coupling = "0.98", first_resistance = "30 mΩ", second_resistance = "30 mΩ" }"#,
    lay: lay_coupled_inductors,
};

fn lay_coupled_inductors(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[first_start, first_end, second_start, second_end] = pins else { return };
    let warmth = linear_factor(p, "temperature_coefficient");
    let mut winding = |pins: [Pin; 2], [ohm, henry, initial, name]: [&str; 4]| {
        let (ohm, henry) = (p.number(ohm) * warmth, p.number(henry));
        let current = net.unknown(name, Role::InductorCurrent);
        net.push(Element::Branch {
            pins,
            current,
            resistance_ohm: ohm,
            inductance_h: henry,
            initial_a: p.optional(initial),
            drive: None,
            control: None,
        });
        net.noise(NoisePlace::InBranch(current), Noise::thermal(ohm, kelvin(p)));
        (current, henry)
    };
    let first = ["first_resistance", "first_inductance", "first_initial", "first_current"];
    let second = ["second_resistance", "second_inductance", "second_initial", "second_current"];
    let (first, first_h) = winding([first_start, first_end], first);
    let (second, second_h) = winding([second_start, second_end], second);
    let henry = p.number("coupling") * (first_h * second_h).sqrt();
    if henry != 0.0 {
        net.push(Element::Mutual { currents: [first, second], henry });
    }
}
