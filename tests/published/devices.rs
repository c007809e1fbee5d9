//! Laws of single devices through circuits as a user writes them: voltages forced, currents read.

#![allow(clippy::unreadable_literal)] // published digits are compared by eye with their source

use crate::bench::{Bench, measured};
use crate::rest::Rest;
use crate::sources::{BANWELL, EBERS_MOLL, EKV, GETREU, GUMMEL_POON, SHICHMAN, SI};
use crate::table::{Check, Figures, Section};
use railstep::analysis::Method;
use railstep::device::temperature::thermal_voltage_v;
use std::f64::consts::TAU;

pub(crate) const SECTION: Section = Section {
    title: "Laws of devices",
    checks: &[
        Check::new("kT/q from -55 °C to 125 °C", (&SI, ""), "V", thermal_voltage),
        Check::new("diode behind a resistor", (&BANWELL, "p. 291"), "A", diode_behind_a_resistor),
        Check::new(
            "bipolar: currents forward, saturated, reverse",
            (&EBERS_MOLL, "p. 1761"),
            "A",
            ebers_moll,
        ),
        Check::new(
            "bipolar: saturation at a forced gain of 10",
            (&EBERS_MOLL, "p. 1761"),
            "V",
            saturated,
        ),
        Check::new(
            "bipolar: Early effect and high injection",
            (&GUMMEL_POON, "p. 827"),
            "A",
            gummel_poon,
        ),
        Check::new(
            "saturation current over temperature",
            (&GETREU, "section 2"),
            "",
            saturation_over_temperature,
        ),
        Check::new(
            "junction capacitance from -5 V to 0.6 V",
            (&GETREU, "section 2"),
            "F",
            junction_capacitance,
        ),
        Check::new("MOS channel from weak to strong inversion", (&EKV, "p. 83"), "A", channel),
        Check::new(
            "MOS square law and body effect, written as a formula",
            (&SHICHMAN, "p. 285"),
            "A",
            square_law,
        ),
    ],
};

/// kT/q, digits from 40-digit evaluation.
fn thermal_voltage() -> Figures {
    let mut f = Figures::default();
    for (kelvin, volt) in [
        (300.15, 0.02586492578632875),
        (218.15, 0.0187987125113697),
        (233.15, 0.02009131250069148),
        (273.15, 0.02353824580554955),
        (290.0, 0.02499026646022101),
        (293.15, 0.02526171245797859),
        (298.15, 0.02569257912108585),
        (300.0, 0.02585199978643553),
        (323.15, 0.02784691243662214),
        (348.15, 0.03000124575215844),
        (358.15, 0.03086297907837295),
        (398.15, 0.03430991238323102),
    ] {
        f.near(thermal_voltage_v(kelvin), volt, 1e-14);
    }
    f
}

/// I = (nV_T/R)·W((I_s R/nV_T)·exp((V + I_s R)/nV_T)) − I_s with Lambert's W; evaluated with 40 digits.
fn diode_behind_a_resistor() -> Figures {
    let cases = [
        (
            "5 V",
            "1 kΩ",
            "saturation_current = \"1e-14 A\", thermal_voltage = \"25 mV\"",
            (0.004330149050323344, 0.6698509496766558),
        ),
        (
            "1 V",
            "100 Ω",
            "saturation_current = \"1e-12 A\", thermal_voltage = \"25.852 mV\"",
            (0.004267501425442028, 0.5732498574557972),
        ),
        // V_T = k·300 K/q with the constants of the SI.
        (
            "0.3 V",
            "50 Ω",
            "saturation_current = \"1 µA\", ideality = 1.05, temperature = \"300 K\", characterised_at = \"300 K\"",
            (0.001900849429607439, 0.204957528519628),
        ),
    ];
    let mut f = Figures::default();
    for (volt, ohm, keys, (ampere, across)) in cases {
        let rest = Rest::of(&format!(
            r#"V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd", voltage = "{volt}" }}
R1 = {{ kind = "resistor", nodes = ["in", "a"], resistance = "{ohm}" }}
D1 = {{ kind = "diode", anode = "a", cathode = "gnd", {keys} }}
"#
        ));
        f.near(rest.enters("D1", 0), ampere, 1e-12);
        f.near(rest.volt("a"), across, 1e-12);
    }
    f
}

/// Currents into collector, base and emitter of a transistor at 300.15 K, v_BE and v_BC forced.
fn forced(keys: &str, v_be: f64, v_bc: f64) -> [f64; 3] {
    let rest = Rest::of(&format!(
        r#"V_B = {{ kind = "voltage-source", plus = "b", minus = "gnd", voltage = "{v_be:?} V" }}
V_C = {{ kind = "voltage-source", plus = "b", minus = "c", voltage = "{v_bc:?} V" }}
Q1 = {{ kind = "bipolar", collector = "c", base = "b", emitter = "gnd", polarity = "npn", saturation_current = "1e-14 A", forward_gain = 100, reverse_gain = 2, thermal_voltage = "0.02586492578632875 V"{keys} }}
"#
    ));
    [0, 1, 2].map(|terminal| rest.enters("Q1", terminal))
}

/// I_S = 1e-14 A, gains 100 and 2, 300.15 K; digits from direct evaluation of the equations.
fn ebers_moll() -> Figures {
    let mut f = Figures::default();
    for (v_be, v_bc, collector, base, emitter) in [
        (0.70, 0.50, 5.6665662719259e-3, 5.794575070016783e-5, -5.724512022626068e-3),
        (0.65, -4.35, 8.204693660199217e-4, 8.204693655049217e-6, -8.28674059674971e-4),
        (0.70, 0.0, 5.67029468352078e-3, 5.67029468352078e-5, -5.726997630355988e-3),
        (0.70, 0.60, 5.492216642232883e-3, 1.160622939311735e-4, -5.608278936164056e-3),
        (-0.50, 0.60, -1.78078041297897e-4, 5.935934709586566e-5, 1.187186942020313e-4),
    ] {
        // A voltage of 5 V between nodes is known to 1e-15 V, 4e-14 of V_T.
        for (got, expected) in forced("", v_be, v_bc).into_iter().zip([collector, base, emitter]) {
            f.near(got, expected, 1e-12);
        }
    }
    f
}

/// V_CE = V_T·ln([1 + (1 + β)/β_R]/[1 − β/β_F]) at a forced gain β = 10 and 10 mA.
fn saturated() -> Figures {
    let mut f = Figures::default();
    let (v_be, v_bc) = (0.7206958065671211, 0.6695566402567013);
    let rest = Rest::of(
        r#"I_C = { kind = "current-source", nodes = ["gnd", "c"], current = "10 mA" }
I_B = { kind = "current-source", nodes = ["gnd", "b"], current = "1 mA" }
Q1 = { kind = "bipolar", collector = "c", base = "b", emitter = "gnd", polarity = "npn", saturation_current = "1e-14 A", forward_gain = 100, reverse_gain = 2, thermal_voltage = "0.02586492578632875 V" }
"#,
    );
    // Rest is solved to 1 nV.
    f.close(rest.volt("c"), 0.05113916631, 2e-9);
    f.close(rest.volt("b"), v_be, 2e-9);
    let [collector, base, _] = forced("", v_be, v_bc);
    // Half a unit in the sixteenth digit of a voltage is 2e-15 of the current, and the two
    // exponentials are subtracted.
    f.near(collector, 10e-3, 1e-11);
    f.near(base, 1e-3, 1e-11);
    f
}

/// Early voltages 50 and 10 V, knee 50 mA; digits from direct evaluation of the equations.
fn gummel_poon() -> Figures {
    let mut f = Figures::default();
    let keys =
        r#", early_voltage = "50 V", reverse_early_voltage = "10 V", knee_current = "50 mA""#;
    for (v_be, v_bc, collector, base, gain) in [
        (0.75, -4.25, 0.02609517564382764, 3.918762007389102e-4, 66.59035581804495),
        (0.65, -4.35, 8.251939569154359e-4, 8.204693655049217e-6, 100.5758400751022),
    ] {
        let [c, b, _] = forced(keys, v_be, v_bc);
        f.near(c, collector, 1e-12);
        f.near(b, base, 1e-12);
        f.near(c / b, gain, 1e-12);
    }
    f
}

/// (T/T_1)^X·e^((q·E_g/k)·(1/T_1 − 1/T)), T_1 = 300.15 K, X = 3, as the reverse current of a diode of 1 mA;
/// digits from direct evaluation.
fn saturation_over_temperature() -> Figures {
    let mut f = Figures::default();
    for (gap, kelvin, ratio) in [
        (1.11, 398.15, 90285.5107221653),
        (1.11, 233.15, 2.065163814436307e-6),
        (1.11, 350.15, 728.0450001218094),
        (1.12, 233.15, 1.848003650230582e-6),
        (1.12, 350.15, 769.3693805770671),
        (1.12, 398.15, 99299.44572271263),
    ] {
        let rest = Rest::of(&format!(
            r#"V1 = {{ kind = "voltage-source", plus = "gnd", minus = "a", voltage = "5 V" }}
D1 = {{ kind = "diode", anode = "a", cathode = "gnd", saturation_current = "1 mA", bandgap = "{gap} V", saturation_exponent = 3, characterised_at = "300.15 K", temperature = "{kelvin} K" }}
"#
        ));
        // Exponents of up to 19, each digit of which counts.
        f.near(-rest.enters("D1", 0) / 1e-3, ratio, 1e-12);
    }
    f
}

/// C = C_0·(1 − V/φ)^(−m), straight on beyond φ/2: 10 pF, 0.75 V, 0.33; digits from direct evaluation.
/// Read as 1/(2πf·|Z|) at 1 MHz, the current of a junction of 1e-24 A being nothing beside it.
fn junction_capacitance() -> Figures {
    let mut f = Figures::default();
    for (volt, picofarad) in [
        (-5.0, 5.105988451153045),
        (-1.0, 7.560798445254401),
        (0.3, 11.83613983486732),
        (0.375, 12.57013374521828),
        (0.6, 15.0590202267715),
    ] {
        let outcome = Bench::of(&format!(
            r#"title = "junction"
[rail]
output = "a"
nominal = "1 V"
load = "I1"
[parts]
V1 = {{ kind = "voltage-source", plus = "bias", minus = "gnd", voltage = "{volt:?} V" }}
L1 = {{ kind = "inductor", nodes = ["bias", "a"], inductance = "1 GH" }}
D1 = {{ kind = "diode", anode = "a", cathode = "gnd", saturation_current = "1e-24 A", zero_bias_capacitance = "10 pF", junction_potential = "0.75 V", grading = 0.33 }}
I1 = {{ kind = "load", nodes = ["a", "gnd"], current = "0 A" }}
[[tests]]
name = "z"
kind = "output-impedance"
window = "none"
lowest = "1 MHz"
highest = "10 MHz"
require = {{ output_impedance = {{ limit = "<= 1 GΩ", at = "1 MHz" }} }}
"#
        ))
        .outcome("z", Method::default());
        let farad = 1.0 / (TAU * 1e6 * measured(&outcome, "output_impedance"));
        // The inductance leaves 1/(ω²LC), 2e-12.
        f.near(farad, picofarad * 1e-12, 1e-10);
    }
    f
}

/// n = 1.3, β = 1 mA/V², threshold 0.5 V, 300 K; digits from direct evaluation of the equations.
fn channel() -> Figures {
    let mut f = Figures::default();
    for (v_gs, v_ds, ampere) in [
        (0.8, 1.0, 3.479335007005018e-5),
        (0.3, 1.0, 4.30287748309272e-9),
        (0.5, 1.0, 8.34857892833064e-7),
        (1.5, 1.2, 3.846154023906181e-4),
        (0.5, 0.05, 6.544314431915194e-7),
    ] {
        for body in ["", r#", body = "gnd""#] {
            let rest = Rest::of(&format!(
                r#"V_G = {{ kind = "voltage-source", plus = "g", minus = "gnd", voltage = "{v_gs} V" }}
V_D = {{ kind = "voltage-source", plus = "d", minus = "gnd", voltage = "{v_ds} V" }}
Q1 = {{ kind = "mosfet", drain = "d", gate = "g", source = "gnd", channel = "n", threshold = "0.5 V", transconductance = "1 mA/V^2", slope_factor = 1.3, thermal_voltage = "{} V"{body} }}
"#,
                thermal_voltage_v(300.0)
            ));
            f.near(rest.enters("Q1", 0), ampere, 1e-12);
        }
    }
    f
}

/// K = 2 mA/V², V_T0 = 0.7 V, γ = 0.4 √V, φ = 0.65 V, λ = 0.02/V: (K/2)·w·(2·(v_GS − V_T) − w)·(1 + λ·v_DS), w the
/// lesser of v_GS − V_T and v_DS; digits from direct evaluation.
fn square_law() -> Figures {
    let mut f = Figures::default();
    for (v_gs, v_ds, v_sb, ampere) in [
        (2.0, 5.0, 1.0, 1.352090932287203e-3),
        (2.0, 5.0, 0.0, 1.859e-3),
        (2.0, 0.5, 0.0, 1.0605e-3),
        (3.0, 1.0, 2.0, 3.001528471619426e-3),
    ] {
        let over = "(g - 0.7 V - 0.4 V * (sqrt((b + 0.65 V) / 1 V) - sqrt(0.65)))";
        let part = format!("min({over}, d)");
        let law = format!("1 mA/V^2 * {part} * (2 * {over} - {part}) * (1 + 0.02 * d / 1 V)");
        let rest = Rest::of(&format!(
            r#"V_S = {{ kind = "voltage-source", plus = "s", minus = "gnd", voltage = "{v_sb} V" }}
V_G = {{ kind = "voltage-source", plus = "g", minus = "s", voltage = "{v_gs} V" }}
V_D = {{ kind = "voltage-source", plus = "d", minus = "s", voltage = "{v_ds} V" }}
K1 = {{ kind = "law", nodes = ["d", "s"], inputs = {{ g = ["g", "s"], d = ["d", "s"], b = ["s", "gnd"] }}, current = "{law}" }}
"#
        ));
        f.near(rest.enters("K1", 0), ampere, 1e-12);
    }
    f
}
