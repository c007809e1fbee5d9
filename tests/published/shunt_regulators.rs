//! Shunt regulators of the textbooks, rebuilt as circuits.

#![allow(clippy::unreadable_literal)] // published digits are compared by eye with their source

use crate::rest::{Rest, near, saturation};
use crate::sources::{BELL_5, BOYLESTAD, FRANCO, MALVINO, SEDRA};
use crate::table::{Check, Figures, Section};

pub(crate) const SECTION: Section = Section {
    title: "Shunt regulators of the textbooks",
    checks: &[
        Check::new(
            "6.8 V zener: output, line and load regulation, its knee",
            (&SEDRA, "example 3.8"),
            "V",
            zener_regulator,
        ),
        Check::new(
            "6.2 V zener: line, load and ripple",
            (&BELL_5, "examples 16.5 and 16.6"),
            "V",
            zener_line_and_load_regulation,
        ),
        Check::new(
            "zener from 10 V to 20 V: line regulation per volt",
            (&FRANCO, "example 11.3"),
            "%",
            zener_regulator_over_its_source,
        )
        .but("figures of two digits"),
        Check::new(
            "transistor shunt: output, currents",
            (&BOYLESTAD, "example 15.11"),
            "V",
            transistor_shunt,
        ),
        Check::new(
            "shunt with divider: output, currents",
            (&MALVINO, "examples 24-2 and 24-3"),
            "V",
            shunt_with_divider,
        ),
    ],
};

/// Zener 6.8 V at 5 mA, 20 Ω, knee 0.2 mA, behind 500 Ω.
fn sedra(source_v: f64, load: &str) -> Rest {
    Rest::of(&format!(
        r#"V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd", voltage = "{source_v} V" }}
R1 = {{ kind = "resistor", nodes = ["in", "out"], resistance = "500 Ω" }}
Z1 = {{ kind = "zener", anode = "gnd", cathode = "out", breakdown_voltage = "6.8 V", test_current = "5 mA", resistance = "20 Ω", knee_current = "0.2 mA" }}
{load}
"#
    ))
}

fn ohms(ohm: f64) -> String {
    format!(r#"R_L = {{ kind = "resistor", nodes = ["out", "gnd"], resistance = "{ohm} Ω" }}"#)
}

/// Sedra and Smith, Microelectronic Circuits, 5th ed., example 3.8. The book draws a straight line to
/// the knee; ours leaves it by e^-(ln 2·I/I_k), 6 mV times 2e-5 at the 3.1 mA of the 2 kΩ load. The
/// book's -20 mV/mA and -68 mV take the zener's slope alone; exact is its slope beside 500 Ω.
fn zener_regulator() -> Figures {
    let mut f = Figures::default();
    let open = sedra(10.0, "");
    f.near(open.volt("out"), 6.826923077, 1e-8);
    f.near(open.enters("Z1", 1), 6.346153846e-3, 1e-7);
    assert_eq!(open.region("Z1"), "in breakdown");
    let line = sedra(11.0, "").volt("out") - open.volt("out");
    f.near(line, 38.46153846e-3, 1e-5);
    let drawn = r#"I_L = { kind = "current-source", nodes = ["out", "gnd"], current = "1 mA" }"#;
    f.near(sedra(10.0, drawn).volt("out") - open.volt("out"), -19.23076923e-3, 1e-5);
    f.near(sedra(10.0, &ohms(2e3)).volt("out"), 6.761904762, 1e-7);
    // 6.7 V and 0.2 mA at 9 V: the knee itself, which is where the law puts it.
    let edge = sedra(9.0, &ohms(1522.727));
    f.near(edge.volt("out"), 6.7, 1e-6);
    f.near(edge.enters("Z1", 1), 0.2e-3, 1e-3);
    let off = sedra(10.0, &ohms(500.0));
    f.near(off.volt("out"), 5.0, 1e-9);
    assert_eq!(off.region("Z1"), "off");
    f
}

/// Bell, Electronic Devices and Circuits, 5th ed., examples 16.5 and 16.6: 6.2 V, 7 Ω behind 150 Ω from
/// 15 V: 66.879 mV for 10 % of the source, 367.83 mV for 55 mA, ripple down by (150 + 7)/7, 27.016 dB.
fn zener_line_and_load_regulation() -> Figures {
    let mut f = Figures::default();
    let out = |source_v: f64, load_a: f64| {
        Rest::of(&format!(
            r#"V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd", voltage = "{source_v} V" }}
R1 = {{ kind = "resistor", nodes = ["in", "out"], resistance = "150 Ω" }}
Z1 = {{ kind = "zener", anode = "gnd", cathode = "out", breakdown_voltage = "6.2 V", test_current = "20 mA", resistance = "7 Ω", knee_current = "0.25 mA" }}
I1 = {{ kind = "current-source", nodes = ["out", "gnd"], current = "{load_a} A" }}
"#
        ))
        .volt("out")
    };
    let line_v = out(16.5, 0.0) - out(15.0, 0.0);
    f.near(line_v, 66.879e-3, 1e-5);
    f.near(100.0 * line_v / 6.2, 1.0787, 5e-5);
    f.near(20.0 * (1.5 / line_v).log10(), 27.016, 1e-4);
    // At 3.9 mA of zener current the knee takes 2^-16 of 2.5 mV.
    let load_v = out(15.0, 0.0) - out(15.0, 55e-3);
    f.near(load_v, 367.83e-3, 2e-5);
    f.near(100.0 * load_v / 6.2, 5.9328, 5e-5);
    f
}

/// Franco, Design with Operational Amplifiers and Analog Integrated Circuits, example 11.3 (by textbook
/// companion TBC 929, with corrections there): 10 V to 20 V, 6.5 V + 10 Ω, up to 10 mA, 2.5 mA at least for
/// the zener, so 278 Ω at most, 270 Ω taken: 0.55 %/V and -0.15 %/mA of 6.5 V, 5.5 % and 1.5 % in all.
/// Figures of two digits.
fn zener_regulator_over_its_source() -> Figures {
    let mut f = Figures::default();
    let regulator = |ohm: f64, source_v: f64, load_a: f64| {
        Rest::of(&format!(
            r#"V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd", voltage = "{source_v} V" }}
R1 = {{ kind = "resistor", nodes = ["in", "out"], resistance = "{ohm} Ω" }}
Z1 = {{ kind = "zener", anode = "gnd", cathode = "out", breakdown_voltage = "6.8 V", test_current = "30 mA", resistance = "10 Ω", knee_current = "0.1 mA" }}
I1 = {{ kind = "current-source", nodes = ["out", "gnd"], current = "{load_a} A" }}
"#
        ))
    };
    let out = |source_v: f64, load_a: f64| regulator(270.0, source_v, load_a).volt("out");
    let (line, load) = (out(20.0, 0.0) - out(10.0, 0.0), out(10.0, 10e-3) - out(10.0, 0.0));
    f.near(100.0 * line / 10.0 / 6.5, 0.55, 0.01);
    f.near(100.0 * load / 10.0 / 6.5, -0.15, 0.02);
    f.near(100.0 * line / 6.5, 5.5, 0.01);
    // (10 - 6.525) V / 12.5 mA.
    f.near(regulator(278.0, 10.0, 10e-3).enters("Z1", 1), 2.5e-3, 1e-5);
    assert!(regulator(280.0, 10.0, 10e-3).enters("Z1", 1) < 2.5e-3);
    // Closed form: 10 Ω/280 Ω, and both beside one another.
    f.near(line, 10.0 * 10.0 / 280.0, 1e-6);
    f.near(load, -10e-3 * 2700.0 / 280.0, 1e-5);
    f
}

/// A zener without slope.
fn stiff(name: &str, [anode, cathode]: [&str; 2], volt: f64, ampere: f64) -> String {
    format!(
        r#"{name} = {{ kind = "zener", anode = "{anode}", cathode = "{cathode}", breakdown_voltage = "{volt} V", test_current = "{ampere:e} A", resistance = "1 µΩ" }}
"#
    )
}

fn npn(name: &str, [collector, base, emitter]: [&str; 3], saturation_a: f64, gain: f64) -> String {
    format!(
        r#"{name} = {{ kind = "bipolar", collector = "{collector}", base = "{base}", emitter = "{emitter}", polarity = "npn", saturation_current = "{saturation_a:e} A", forward_gain = {gain}, thermal_voltage = "25 mV" }}
"#
    )
}

/// Boylestad and Nashelsky, Electronic Devices and Circuit Theory, example 15.11: transistor shunt,
/// 8.2 V + 0.7 V from 22 V by 120 Ω into 320 Ω. The book neglects the base current: a gain of 1e4
/// leaves 1e-4 of the collector current.
fn transistor_shunt() -> Figures {
    let mut f = Figures::default();
    let collector_a = 81.35417e-3;
    let rest = Rest::of(&format!(
        r#"V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd", voltage = "22 V" }}
R_S = {{ kind = "resistor", nodes = ["in", "out"], resistance = "120 Ω" }}
R_L = {{ kind = "resistor", nodes = ["out", "gnd"], resistance = "320 Ω" }}
{}{}"#,
        stiff("Z1", ["b", "out"], 8.2, 8e-6),
        npn("Q1", ["out", "b", "gnd"], saturation(collector_a, 0.7, 0.025), 1e4)
    ));
    f.near(rest.volt("out"), 8.9, 1e-6);
    f.near(rest.enters("R_L", 0), 27.8125e-3, 1e-6);
    f.near(rest.enters("R_S", 0), 109.16667e-3, 1e-6);
    f.near(rest.enters("Q1", 0), collector_a, 2e-4);
    f
}

/// Malvino, Electronic Principles, examples 24-2 and 24-3: 6.2 V + 0.81 V by 750 Ω and 250 Ω from 15 V
/// by 10 Ω into 40 Ω. The book lets the transistor take what the load leaves, and forgets the 9.35 mA of
/// the divider; output, load and source currents hold.
fn shunt_with_divider() -> Figures {
    let mut f = Figures::default();
    let divider_a = 9.346667 / 1e3;
    let collector_a = 331.667e-3 - divider_a;
    let rest = Rest::of(&format!(
        r#"V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd", voltage = "15 V" }}
R_S = {{ kind = "resistor", nodes = ["in", "out"], resistance = "10 Ω" }}
R_L = {{ kind = "resistor", nodes = ["out", "gnd"], resistance = "40 Ω" }}
R2 = {{ kind = "resistor", nodes = ["out", "b"], resistance = "250 Ω" }}
R1 = {{ kind = "resistor", nodes = ["b", "gnd"], resistance = "750 Ω" }}
{}{}"#,
        stiff("Z1", ["gnd", "e"], 6.2, collector_a),
        npn("Q1", ["out", "b", "e"], saturation(collector_a, 0.81, 0.025), 1e7)
    ));
    f.near(rest.volt("out"), 9.346667, 1e-6);
    f.near(rest.enters("R_L", 0), 233.667e-3, 2e-6);
    f.near(rest.enters("R_S", 0), 565.333e-3, 2e-6);
    // Efficiency in %, and W that the regulator keeps.
    let (source_a, load_a) = (rest.enters("R_S", 0), rest.enters("R_L", 0));
    let (taken_w, given_w) = (15.0 * source_a, rest.volt("out") * load_a);
    f.near(100.0 * given_w / taken_w, 25.7548, 5e-6);
    f.near(taken_w - given_w, 6.29600, 5e-6);
    // A difference of figures given to 1e-6.
    f.near(rest.enters("Q1", 0) + divider_a, 331.667e-3, 1e-5);
    f
}

/// An adjustable shunt that takes its full current holds V_ref·(1 + R_1/R_2) exactly: 7.5 V from 15 V,
/// and 22.727 mA through 330 Ω less 0.25 mA of the divider and 19.477 mA of load is 3 mA. Closed form.
#[test]
fn exact_adjustable_shunt() {
    let shunt = |load_a: f64| {
        Rest::of(&format!(
            r#"V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd", voltage = "15 V" }}
R_S = {{ kind = "resistor", nodes = ["in", "out"], resistance = "330 Ω" }}
R1 = {{ kind = "resistor", nodes = ["out", "fb"], resistance = "20 kΩ" }}
R2 = {{ kind = "resistor", nodes = ["fb", "gnd"], resistance = "10 kΩ" }}
U1 = {{ kind = "adjustable-shunt", cathode = "out", reference = "fb", anode = "gnd", reference_voltage = "2.5 V", transconductance = "3 S", full_current = "3 mA", first_pole = "6 kHz", second_pole = "5 MHz", minimum_current = "1 mA", highest_current = "60 mA", capacitance = "30 pF" }}
I_L = {{ kind = "current-source", nodes = ["out", "gnd"], current = "{load_a} A" }}
"#
        ))
    };
    let source_a = 7.5 / 330.0;
    let rest = shunt(source_a - 0.25e-3 - 3e-3);
    near(rest.volt("out"), 7.5, 1e-9);
    near(rest.enters("U1", 0), 3e-3, 1e-6);
    assert_eq!(rest.region("U1"), "regulating");
    // 10 mA less load: ΔV_fb = i/3 S, and the output by three times that lowers what 330 Ω brings.
    let rest = shunt(source_a - 0.25e-3 - 13e-3);
    let more_v = 10e-3 / (1.0 + 1.0 / 330.0 + 1.0 / 30e3);
    near(rest.volt("out") - 7.5, more_v, 1e-6);
    // Too much load: it keeps its own milliampere, and the resistor decides.
    let rest = shunt(25e-3);
    assert_eq!(rest.region("U1"), "off");
    near(rest.enters("U1", 0), 1e-3, 6e-3);
    near((15.0 - rest.volt("out")) / 330.0, 25e-3 + 1e-3 + rest.volt("out") / 30e3, 1e-3);
}
