//! Resistor, capacitor and inductor, with the parasitics that decide a transient.

use super::row::{CHARACTERISED_AT, TOLERANCE, ZERO, quantity};
use super::temperature::{kelvin, linear_factor};
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

/// `capacitor`
pub(super) static CAPACITOR: Kind = Kind {
    name: "capacitor",
    summary: "a capacitance with series resistance, series inductance and leakage",
    terminals: Terminals::Pair,
    keys: &[
        quantity(
            "capacitance",
            Dimension::FARAD,
            Range::Positive,
            Need::Required,
            "capacitance printed on the part",
        ),
        quantity(
            "count",
            Dimension::NONE,
            Range::Count,
            Need::Default(1.0),
            "so many equal capacitors in parallel; the other keys are those of one",
        ),
        quantity(
            "remaining",
            Dimension::NONE,
            Range::PositiveFraction,
            Need::Default(1.0),
            "what is left of `capacitance` at the working bias",
        ),
        quantity("esr", Dimension::OHM, Range::NonNegative, ZERO, "series resistance (ESR)"),
        quantity("esl", Dimension::HENRY, Range::NonNegative, ZERO, "series inductance (ESL)"),
        quantity(
            "leakage_resistance",
            Dimension::OHM,
            Range::Positive,
            Need::Absent,
            "resistance across the capacitance, inside esr and esl; when absent it does not leak",
        ),
        TOLERANCE,
        quantity(
            "temperature_coefficient",
            Dimension::PER_KELVIN,
            Range::Any,
            ZERO,
            TEMPERATURE_COEFFICIENT_TEXT,
        ),
        quantity(
            "esr_temperature_factor",
            Dimension::NONE,
            Range::Positive,
            Need::Absent,
            "what esr is multiplied by at the part's temperature; when absent, esr stays as given",
        ),
        CHARACTERISED_AT,
        quantity(
            "rated_voltage",
            Dimension::VOLT,
            Range::Positive,
            Need::Absent,
            "voltage it may bear for ever; without it no stress is judged",
        ),
        quantity(
            "initial",
            Dimension::VOLT,
            Range::Any,
            Need::Absent,
            "voltage of the first node above the second across the capacitance itself at t = 0, \
             read only with start = \"initial-values\"; when absent, taken from the operating point",
        ),
    ],
    rules: &[],
    law: "v(a) - v(b) = esr·i + esl·di/dt + v_c; i = C·dv_c/dt + v_c/leakage_resistance; \
          C = capacitance·remaining·(1 + temperature_coefficient·(T - characterised_at)); of `count` \
          in parallel C is so many times that, esr, esl and leakage_resistance that share",
    noise: "thermal, of esr and leakage_resistance: 4kT·R each; the capacitance makes none",
    source: "series equivalent circuit of a capacitor, IEC 60384-1; noise: Nyquist, Phys. Rev. 32 \
             (1928) 110",
    example: r#"C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "4.7 µF", remaining = "62 %", esr = "6 mΩ", esl = "0.6 nH" }"#,
    lay: lay_capacitor,
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
    let ohm = p.number("resistance") * linear_factor(p, "temperature_coefficient");
    net.resistor([a, b], ohm, kelvin(p));
}

/// What a capacitor comes to at its temperature and bias, as it is laid out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CapacitorFigures {
    /// F, what is left of the label.
    pub farad: f64,
    /// Ω
    pub esr_ohm: f64,
    /// H
    pub esl_henry: f64,
}

/// The figures of a part of kind `capacitor`, all that are in parallel together.
pub fn capacitor_figures(p: &Parameters) -> CapacitorFigures {
    let count = p.number("count");
    CapacitorFigures {
        farad: p.number("capacitance")
            * p.number("remaining")
            * linear_factor(p, "temperature_coefficient")
            * count,
        esr_ohm: p.number("esr") * p.optional("esr_temperature_factor").unwrap_or(1.0) / count,
        esl_henry: p.number("esl") / count,
    }
}

fn lay_capacitor(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[a, b] = pins else { return };
    let CapacitorFigures { farad, esr_ohm: esr, esl_henry: esl } = capacitor_figures(p);
    let plate = if esl > 0.0 {
        let plate = net.inner("plate");
        let _ = net.branch([a, plate], esr, esl).noisy(Noise::thermal(esr, kelvin(p)));
        plate
    } else {
        net.series_resistor(a, esr, kelvin(p), "plate")
    };
    net.capacitance([plate, b], farad, p.optional("initial"));
    if let Some(ohm) = p.optional("leakage_resistance") {
        net.resistor([plate, b], ohm / p.number("count"), kelvin(p));
    }
}

fn lay_inductor(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[a, b] = pins else { return };
    let ohm = p.number("series_resistance") * linear_factor(p, "temperature_coefficient");
    let _ = net
        .branch([a, b], ohm, p.number("inductance"))
        .starting_at(p.optional("initial"))
        .noisy(Noise::thermal(ohm, kelvin(p)));
}
