//! Capacitor: its row, and how it is laid out. What it comes to stands beside, in `effective`.

use super::dielectric;
use super::effective::{Ladder, OverBias, REFERENCE_AGE_S, capacitor_figures};
use super::row::{CHARACTERISED_AT, TOLERANCE, ZERO, absent, quantity};
use super::temperature::kelvin;
use super::{Form, Input, Key, Kind, Need, Net, Noise, Parameters, Pin, Range, Rule, Terminals};
use crate::quantity::Dimension;

/// `capacitor`
pub(super) static CAPACITOR: Kind = Kind {
    name: "capacitor",
    summary: "a capacitance as it is: bias, temperature, age, series resistance and inductance, \
              leakage",
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
        absent(
            "dielectric",
            Form::Word(dielectric::WORDS),
            "gives temperature limits and band (EIA-198 letter codes), and where the keys below say \
             so a default that is common practice, no source",
        ),
        REMAINING,
        BIAS_CURVE,
        AGEING,
        quantity(
            "age",
            Dimension::SECOND,
            Range::Positive,
            Need::Default(REFERENCE_AGE_S),
            "time since it was last heated above its Curie point (soldered); 1000 h is where \
             makers state the capacitance",
        ),
        quantity("esr", Dimension::OHM, Range::NonNegative, ZERO, "series resistance (ESR)"),
        ESR_LOW,
        quantity(
            "esr_corner",
            Dimension::HERTZ,
            Range::Positive,
            Need::Absent,
            "frequency at which the ESR has fallen half-way from `esr_low` to `esr`",
        ),
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
            Need::Absent,
            "relative change of the value for each kelvin above `characterised_at`; when absent, \
             that of a class 1 `dielectric`, else none",
        ),
        quantity(
            "temperature_drift",
            Dimension::NONE,
            Range::LeavesSomething,
            ZERO,
            "relative change by which this part differs at its temperature, within the band of its \
             `dielectric`; what a spread scatters",
        ),
        quantity(
            "esr_temperature_factor",
            Dimension::NONE,
            Range::Positive,
            Need::Absent,
            "what esr and esr_low are multiplied by at the part's temperature",
        ),
        ESR_CURVE,
        CHARACTERISED_AT,
        quantity(
            "rated_voltage",
            Dimension::VOLT,
            Range::Positive,
            Need::Absent,
            "voltage it may bear for ever; without it no stress is judged",
        ),
        quantity(
            "derating",
            Dimension::NONE,
            Range::PositiveFraction,
            Need::Default(1.0),
            "share of `rated_voltage` that your rules let it see",
        ),
        quantity(
            "rated_ripple",
            Dimension::AMPERE,
            Range::Positive,
            Need::Absent,
            "ripple current it may carry for ever, rms",
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
    rules: &[
        Rule::AtMostOne(&["remaining", "bias_curve"]),
        Rule::AtMostOne(&["esr_temperature_factor", "esr_curve"]),
        Rule::Together(&["esr_low", "esr_corner"]),
        Rule::NotAbove("esr", "esr_low"),
    ],
    law: "v(a) - v(b) = esl·di/dt + esr·i + v_l + v_c; i = dq/dt + v_c/leakage_resistance, q = \
          ∫ C dv from 0 to v_c; \
          C = capacitance·(1 + temperature_coefficient·(T - characterised_at))·\
          (1 + temperature_drift)·(1 - ageing·log10(age/1000 h), at least 0.1)·b(|v_c|); b is \
          `remaining`, or `bias_curve` as a monotone cubic (Fritsch and Carlson), held outside its \
          points, or 1/√(1 + (v/w)²) with the class's share left at rated_voltage, or 1; \
          v_l: esr_low - esr in parallel with 1/(2π·esr_corner·(esr_low - esr)), which lets the \
          capacitance too fall above the corner, as that of a foil does; \
          esr and esr_low times `esr_temperature_factor` or `esr_curve`, straight in ln(factor); of `count` in \
          parallel C is so many times that, every resistance and inductance that share",
    noise: "thermal, of esr, esr_low - esr and leakage_resistance: 4kT·R each; the capacitance \
            makes none",
    source: "series equivalent circuit of a capacitor, IEC 60384-1; letter codes: EIA-198; curve: \
             Fritsch and Carlson, SIAM J. Numer. Anal. 17 (1980) 238; bands inside a class's \
             limits, losses by bias and age, figures of electrolytics and film: common practice, no \
             source; noise: Nyquist, Phys. Rev. 32 (1928) 110",
    example: r#"C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "4.7 µF", dielectric = "X5R", bias_curve = [["0 V", "100 %"], ["2.8 V", "62 %"], ["6.3 V", "25 %"]], esr = "6 mΩ", esl = "0.6 nH", rated_voltage = "6.3 V" }"#,
    lay: lay_capacitor,
};

const REMAINING: Key = quantity(
    "remaining",
    Dimension::NONE,
    Range::PositiveFraction,
    Need::Absent,
    "what is left of `capacitance` at the working bias, instead of a law; when absent, what \
     `bias_curve` says, else the default of a class 2 `dielectric` with a `rated_voltage` (50 % \
     left there for limits from 125 °C up, 40 % below, 20 % for last letters U and V; common \
     practice: look yours up), else 100 %",
);

const BIAS_CURVE: Key = absent(
    "bias_curve",
    Form::Points(Dimension::VOLT, Range::NonNegative, Range::PositiveFraction),
    "what is left of `capacitance` over the voltage across it, whichever way round",
);

const AGEING: Key = quantity(
    "ageing",
    Dimension::NONE,
    Range::Fraction,
    Need::Absent,
    "share lost in each tenfold of `age`; when absent, by the `dielectric`: 2.5 % for class 2, 5 % \
     and 7 % for last letters U and V (common practice), else none",
);

const ESR_LOW: Key = quantity(
    "esr_low",
    Dimension::OHM,
    Range::NonNegative,
    Need::Absent,
    "series resistance far below `esr_corner`, where `esr` is that far above it",
);

const ESR_CURVE: Key = absent(
    "esr_curve",
    Form::Points(Dimension::KELVIN, Range::AboveAbsoluteZero, Range::Positive),
    "what esr and esr_low are multiplied by over the part's temperature; there is no default: a \
     wet aluminium electrolytic has five to fifteen times its ESR at -40 °C (common practice)",
);

fn lay_capacitor(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[a, b] = pins else { return };
    let figures = capacitor_figures(p);
    let (esr, esl) = (figures.esr_ohm, figures.esl_henry);
    let inner = if figures.ladder.is_some() { "ladder" } else { "plate" };
    let mut plate = if esl > 0.0 {
        let plate = net.inner(inner);
        let _ = net.branch([a, plate], esr, esl).noisy(Noise::thermal(esr, kelvin(p)));
        plate
    } else {
        net.series_resistor(a, esr, kelvin(p), inner)
    };
    if let Some(Ladder { ohm, farad }) = figures.ladder {
        let head = plate;
        plate = net.inner("plate");
        net.resistor([head, plate], ohm, kelvin(p));
        net.capacitance([head, plate], farad, None);
    }
    let initial_v = p.optional("initial");
    let initial_c = initial_v.map(|v| figures.charge_c(v));
    let input = Input::Between(plate.unknown, b.unknown);
    match figures.over_bias {
        OverBias::Constant => net.capacitance([plate, b], figures.farad, initial_v),
        OverBias::Curve(law) => net.charge([plate, b], law, input, initial_c),
        OverBias::Class(law) => net.charge([plate, b], law, input, initial_c),
    }
    if let Some(ohm) = figures.leakage_ohm {
        net.resistor([plate, b], ohm, kelvin(p));
    }
}
