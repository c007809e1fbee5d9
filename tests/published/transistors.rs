//! Transistors in pairs: the differential pair, Widlar's source, the difference of two base-emitter
//! voltages, Brokaw's cell, and how they follow temperature.

#![allow(clippy::unreadable_literal)] // published digits are compared by eye with their source

use crate::rest::{Rest, saturation};
use crate::sources::{BANDGAP, FRANCO, GETREU, GRAY_MEYER, RAJA, SEDRA, WIDLAR};
use crate::table::{Check, Figures, Section};

pub(crate) const SECTION: Section = Section {
    title: "Transistors in pairs: differential pair, current sources, bandgap",
    checks: &[
        Check::new(
            "differential pair: share of the tail's current over its input",
            (&GRAY_MEYER, "tanh law"),
            "",
            differential_pair,
        ),
        Check::new("Widlar's source: five currents", (&WIDLAR, "p. 586"), "A", widlar_source),
        Check::new(
            "10 µA by a plain mirror",
            (&SEDRA, "example 6.14"),
            "A",
            mirror_of_10_microamperes,
        ),
        Check::new(
            "10 µA by Widlar's source",
            (&SEDRA, "example 6.14"),
            "A",
            widlar_design_of_10_microamperes,
        ),
        Check::new(
            "20 µA and 40 µA by Widlar's source",
            (&RAJA, "example 1.18"),
            "A",
            widlar_designs_from_20_v,
        ),
        Check::new(
            "20 µA from 0.5 mA, as in a 741",
            (&RAJA, "example 2.2"),
            "A",
            widlar_design_of_20_microamperes,
        ),
        Check::new(
            "6 µA with a gain of 120",
            (&RAJA, "example 1.17"),
            "A",
            widlar_design_with_base_currents,
        ),
        Check::new(
            "V_T·ln N of areas 2 to 24 at two temperatures",
            (&BANDGAP, "p. 388"),
            "V",
            difference_of_base_emitter_voltages,
        ),
        Check::new(
            "Brokaw's cell: output of no slope",
            (&FRANCO, "example 11.5"),
            "V",
            brokaw_cell,
        )
        .but("how it bends over 10 K, by the leading term alone"),
        Check::new(
            "slope of V_BE over temperature",
            (&GETREU, "section 2"),
            "V/K",
            base_emitter_voltage_over_temperature,
        ),
    ],
};

/// k/q in V/K, exact (SI 2019).
const K_OVER_Q: f64 = 8.617333262145177e-5;

/// Collector currents of a pair with a tail of 1 mA and this difference of base voltages.
fn pair(difference_v: f64) -> [f64; 2] {
    let transistor = |n: usize| {
        format!(
            r#"Q{n} = {{ kind = "bipolar", collector = "c{n}", base = "b{n}", emitter = "e", polarity = "npn", saturation_current = "1 fA", forward_gain = 100, thermal_voltage = "25 mV" }}
R{n} = {{ kind = "resistor", nodes = ["vcc", "c{n}"], resistance = "1 kΩ" }}
"#
        )
    };
    let rest = Rest::of(&format!(
        r#"V1 = {{ kind = "voltage-source", plus = "vcc", minus = "gnd", voltage = "5 V" }}
VB1 = {{ kind = "voltage-source", plus = "b1", minus = "gnd", voltage = "{difference_v:e} V" }}
VB2 = {{ kind = "voltage-source", plus = "b2", minus = "gnd" }}
I1 = {{ kind = "current-source", nodes = ["e", "gnd"], current = "1 mA" }}
{}{}"#,
        transistor(1),
        transistor(2)
    ));
    [rest.enters("Q1", 0), rest.enters("Q2", 0)]
}

/// I_C1 − I_C2 = αI·tanh(V_id/2V_T), I_C1 = αI/(1 + e^(−V_id/V_T)): Gray and Meyer, Analysis and
/// Design of Analog Integrated Circuits (from memory); digits from 40-digit evaluation. α = β/(1 + β)
/// holds exactly for the law; the reversed junctions carry 1 fA of 1 mA.
fn differential_pair() -> Figures {
    let mut f = Figures::default();
    let alpha_i = 100.0 / 101.0 * 1e-3;
    let rows = [
        (0.1, 0.04995837495787997, 0.52497918747894),
        (0.5, 0.2449186624037091, 0.6224593312018546),
        (1.0, 0.4621171572600098, 0.7310585786300049),
        (2.0, 0.7615941559557649, 0.8807970779778824),
        (4.0, 0.9640275800758169, 0.9820137900379084),
    ];
    for (share, difference, first) in rows {
        let [one, two] = pair(share * 0.025);
        f.near((one - two) / alpha_i, difference, 1e-9);
        f.near(one / alpha_i, first, 1e-9);
    }
    let [one, two] = pair(10_f64.ln() * 0.025);
    f.near(one / two, 10.0, 1e-9);
    f
}

/// Widlar's source: reference current into a diode-connected transistor, `ohm` in the other's emitter.
fn widlar(feed: &str, (thermal_v, saturation_a, gain): (f64, f64, f64), ohm: f64) -> Rest {
    let transistor = |name: &str, collector: &str, emitter: &str| {
        format!(
            r#"{name} = {{ kind = "bipolar", collector = "{collector}", base = "b", emitter = "{emitter}", polarity = "npn", saturation_current = "{saturation_a:e} A", forward_gain = {gain}, thermal_voltage = "{thermal_v} V" }}
"#
        )
    };
    Rest::of(&format!(
        r#"{feed}
{}{}R_E = {{ kind = "resistor", nodes = ["e", "gnd"], resistance = "{ohm} Ω" }}
V_C = {{ kind = "voltage-source", plus = "c", minus = "gnd", voltage = "2 V" }}
"#,
        transistor("Q1", "b", "gnd"),
        transistor("Q2", "c", "e")
    ))
}

fn fed_by(ampere: f64) -> String {
    format!(
        r#"I_REF = {{ kind = "current-source", nodes = ["gnd", "b"], current = "{ampere:e} A" }}"#
    )
}

fn fed_from(volt: f64, ohm: f64) -> String {
    format!(
        r#"V_CC = {{ kind = "voltage-source", plus = "vcc", minus = "gnd", voltage = "{volt} V" }}
R_REF = {{ kind = "resistor", nodes = ["vcc", "b"], resistance = "{ohm} Ω" }}"#
    )
}

/// Base currents are neglected in the closed form.
const NO_BASE_CURRENT: f64 = 1e9;

/// I_o = (V_T/R)·W(I_ref·R/V_T), Widlar, IEEE Trans. Circuit Theory 12 (1965) 586 (from memory);
/// digits from 40-digit evaluation. A gain of 1e9 leaves 2e-9, I_S adds 1e-15 A to 1e-5 A.
fn widlar_source() -> Figures {
    let mut f = Figures::default();
    let kt_q = |kelvin: f64| K_OVER_Q * kelvin;
    let rows = [
        (0.025, 1e-3, 11.5e3, 1.000923323569481e-5),
        (0.026, 1e-3, 5e3, 2.027221982163744e-5),
        (kt_q(300.0), 1e-3, 10e3, 1.153591270047225e-5),
        (kt_q(300.15), 0.73e-3, 5e3, 1.890116238129507e-5),
        (0.025, 0.5e-3, 4e3, 2.008993287888731e-5),
    ];
    for (thermal_v, ampere, ohm, expected) in rows {
        let rest = widlar(&fed_by(ampere), (thermal_v, 1e-16, NO_BASE_CURRENT), ohm);
        f.near(rest.enters("Q2", 0), expected, 1e-8);
    }
    f
}

/// Sedra and Smith, Microelectronic Circuits, 5th ed., example 6.14: 10 µA from a reference of 1 mA
/// (9.3 kΩ at 10 V, 0.7 V at 1 mA, 25 mV) by 11 512.925 Ω.
fn widlar_design_of_10_microamperes() -> Figures {
    let mut f = Figures::default();
    let device = (0.025, saturation(1e-3, 0.7, 0.025), NO_BASE_CURRENT);
    let rest = widlar(&fed_from(10.0, 9.3e3), device, 11512.92546497);
    f.near(rest.enters("Q2", 0), 10e-6, 1e-8);
    f.near(rest.enters("R_REF", 0), 1e-3, 1e-8);
    f
}

/// The same by a mirror of two alike: 0.584871 V at 10 µA leave 941 512.925 Ω from 10 V.
fn mirror_of_10_microamperes() -> Figures {
    let mut f = Figures::default();
    let device = (0.025, saturation(1e-3, 0.7, 0.025), NO_BASE_CURRENT);
    // Nothing in the emitter: a resistance too small to be seen. A rest that takes more than twenty steps to
    // find, the last of them halved: the current was 1.3e-5 off while these were taken for the whole way.
    let rest = widlar(&fed_from(10.0, 941512.925465), device, 1e-6);
    f.near(rest.enters("Q2", 0), 10e-6, 1e-8);
    f.near(rest.volt("b"), 0.5848707453502977, 1e-9);
    f
}

/// P. Raja, example 1.18 (by textbook companion TBC 2582): 1 mA by 19.3 kΩ from 20 V, 0.7 V, 26 mV: 20 µA
/// by 5085.62990706 Ω and 0.59828740 V, 40 µA by 2092.26928616 Ω and 0.61630923 V.
fn widlar_designs_from_20_v() -> Figures {
    let mut f = Figures::default();
    let device = (0.026, saturation(1e-3, 0.7, 0.026), NO_BASE_CURRENT);
    for (ohm, ampere, volt) in
        [(5085.62990706, 20e-6, 0.59828740), (2092.26928616, 40e-6, 0.61630923)]
    {
        let rest = widlar(&fed_from(20.0, 19.3e3), device, ohm);
        f.near(rest.enters("Q2", 0), ampere, 1e-8);
        // Given to eight digits.
        f.near(rest.volt("b") - rest.volt("e"), volt, 1e-8);
    }
    f
}

/// P. Raja, example 2.2 (by textbook companion TBC 2582), the source in an operational amplifier of type 741:
/// 0.5 mA and 20 µA at 25 mV need 4023.594781 Ω.
fn widlar_design_of_20_microamperes() -> Figures {
    let mut f = Figures::default();
    let device = (0.025, 1e-16, NO_BASE_CURRENT);
    f.near(widlar(&fed_by(0.5e-3), device, 4023.594781).enters("Q2", 0), 20e-6, 1e-8);
    f
}

/// P. Raja, example 1.17 (by textbook companion TBC 2582), with a gain of 120 (20 V, 16 083.33 Ω, 0.7 V, 26 mV):
/// I_C1 = 1.190033 mA, and 6 µA by 22 923 Ω. The book lets the collector current flow through that
/// resistor, which carries the base current as well: the source gives less, by 1/β over
/// 1 + ln(I_C1/I_o) = 6.3, times ln(…) = 5.3.
fn widlar_design_with_base_currents() -> Figures {
    let mut f = Figures::default();
    let device = (0.026, saturation(1.190033058e-3, 0.7, 0.026), 120.0);
    let rest = widlar(&fed_from(20.0, 16083.333333), device, 22923.2332);
    let (first, second) = (rest.enters("Q1", 0), rest.enters("Q2", 0));
    f.near(second, 6e-6 * (1.0 - 1.0 / 120.0 * 5.29 / 6.29), 1e-4);
    f.near(first, 1.190033058e-3, 1e-5);
    // The loop itself: V_BE1 − V_BE2 = I_E2·R.
    f.near(-rest.enters("Q2", 2) * 22923.2332, 0.026 * (first / second).ln(), 1e-8);
    f
}

/// V_T·ln N between two transistors of N times the area at one current: Brokaw, IEEE J. Solid-State
/// Circuits 9 (1974) 388 (from memory); digits from 40-digit evaluation.
fn difference_of_base_emitter_voltages() -> Figures {
    let mut f = Figures::default();
    let rows = [
        (2.0, 0.0179192407638041, 0.01780873877909397),
        (4.0, 0.03583848152760819, 0.03561747755818794),
        (8.0, 0.05375772229141229, 0.05342621633728192),
        (10.0, 0.05952642933233171, 0.05915934968478233),
        (24.0, 0.08215904694343572, 0.08165239948728453),
    ];
    for (area, at_300, at_298) in rows {
        let difference = |kelvin: f64| {
            let one = |n: usize, area: f64| {
                format!(
                    r#"I{n} = {{ kind = "current-source", nodes = ["gnd", "b{n}"], current = "100 µA" }}
Q{n} = {{ kind = "bipolar", collector = "b{n}", base = "b{n}", emitter = "gnd", polarity = "npn", saturation_current = "{area:e} fA", forward_gain = 100, temperature = "{kelvin} K" }}
"#
                )
            };
            let rest = Rest::of(&format!("{}{}", one(1, 1.0), one(2, area)));
            rest.volt("b1") - rest.volt("b2")
        };
        // Rest is solved to 1 nV.
        f.close(difference(300.0), at_300, 2e-9);
        f.close(difference(298.15), at_298, 2e-9);
    }
    f
}

/// Brokaw's cell at a temperature: four areas to one, equal collector currents kept by an amplifier
/// that drives the bases.
fn brokaw(kelvin: f64) -> f64 {
    let at_k = 0.0257 / K_OVER_Q;
    let collector_a = 0.0257 * 4f64.ln() / 1e3;
    let saturation_a = saturation(collector_a, 0.65, 0.0257);
    let transistor = |name: &str, emitter: &str, area: f64| {
        format!(
            r#"{name} = {{ kind = "bipolar", collector = "c_{name}", base = "out", emitter = "{emitter}", polarity = "npn", saturation_current = "{:e} A", forward_gain = 1e9, bandgap = "1.205 V", saturation_exponent = 4, characterised_at = "{at_k} K", temperature = "{kelvin} K" }}
R_{name} = {{ kind = "resistor", nodes = ["vcc", "c_{name}"], resistance = "50 kΩ" }}
"#,
            area * saturation_a
        )
    };
    let ohm = 8.87089042e3;
    let rest = Rest::of(&format!(
        r#"V1 = {{ kind = "voltage-source", plus = "vcc", minus = "gnd", voltage = "5 V" }}
{}{}R3 = {{ kind = "resistor", nodes = ["low", "common"], resistance = "1 kΩ" }}
R4 = {{ kind = "resistor", nodes = ["common", "gnd"], resistance = "{ohm} Ω" }}
U1 = {{ kind = "operational-amplifier", plus = "c_Q2", minus = "c_Q1", output = "out", supply = "vcc", ground = "gnd", gain = 1e7, bandwidth = "1 MHz", slew_rate = "1 V/µs", output_current = "10 mA", offset = "1 µV" }}
"#,
        transistor("Q1", "low", 4.0),
        transistor("Q2", "common", 1.0)
    ));
    rest.volt("out")
}

/// V_ref = V_BE + 2·(R_4/R_3)·V_T·ln N: Franco, Design with Operational Amplifiers and Analog
/// Integrated Circuits, example 11.5: N = 4, V_BE = 0.65 V, V_G0 = 1.205 V, V_T = 25.7 mV give 1.2821 V
/// with no slope over temperature there. The offset of 1 µV, without which no current at all is a rest
/// too, is 20 pA in 50 kΩ of 36 µA, so 14 nV of V_T·ln N, 0.3 µV of the output.
fn brokaw_cell() -> Figures {
    let mut f = Figures::default();
    let kelvin = 0.0257 / K_OVER_Q;
    f.near(brokaw(kelvin), 1.2821, 2e-6);
    // Curvature: −(X − 1)·V_T/2·(ΔT/T)² with X − 1 = 3 (the published form's 3 V_T).
    let [warm, cold] = [10.0, -10.0].map(|more| brokaw(kelvin + more));
    f.close((warm - cold) / 20.0, 0.0, 0.2e-6);
    let bend = -1.5 * 0.0257 * (10.0 / kelvin).powi(2);
    f.near(0.5 * (warm + cold) - 1.2821, bend, 0.02);
    f
}

/// dV_BE/dT = (V_BE − (E_g + X·V_T))/T at constant current: −1.791087047672784 mV/K at 0.65 V,
/// E_g = 1.11 V, X = 3, 300.15 K (Getreu, Modeling the Bipolar Transistor, 1976; from memory). A
/// difference over ±0.5 K of a curve that bends by 1.5 µV/K².
fn base_emitter_voltage_over_temperature() -> Figures {
    let mut f = Figures::default();
    let saturation_a = saturation(1e-3, 0.65, K_OVER_Q * 300.15);
    let forward = |kelvin: f64| {
        Rest::of(&format!(
            r#"I1 = {{ kind = "current-source", nodes = ["gnd", "b"], current = "1 mA" }}
Q1 = {{ kind = "bipolar", collector = "b", base = "b", emitter = "gnd", polarity = "npn", saturation_current = "{saturation_a:e} A", forward_gain = 1e9, characterised_at = "300.15 K", temperature = "{kelvin} K" }}
"#
        ))
        .volt("b")
    };
    f.near(forward(300.65) - forward(299.65), -1.791087047672784e-3, 1e-5);
    f.near(forward(300.15), 0.65, 1e-8);
    f
}
