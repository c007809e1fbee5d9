//! Series regulators of the textbooks, rebuilt as circuits: followers, discrete feedback, operational
//! amplifiers, Darlingtons; and their current limits.

#![allow(clippy::unreadable_literal)] // published digits are compared by eye with their source

use crate::rest::{Rest, near, saturation};
use crate::sources::{BELL_5, BOYLESTAD, FLOYD, FRANCO, MALVINO, SALIVAHANAN};
use crate::table::{Check, Figures, Section};

pub(crate) const SECTION: Section = Section {
    title: "Series regulators of the textbooks, and their current limits",
    checks: &[
        Check::new("zener and follower: output", (&BOYLESTAD, "example 15.8"), "V", follower)
            .but("the book takes the load's current for the collector's"),
        Check::new(
            "discrete feedback: output",
            (&BOYLESTAD, "example 15.9"),
            "V",
            discrete_feedback,
        ),
        Check::new(
            "operational amplifier of gain 3: output",
            (&BOYLESTAD, "example 15.10"),
            "V",
            || operational_amplifier_regulator(6.2, [30e3, 15e3], 18.6),
        ),
        Check::new(
            "operational amplifier of gain 2: output",
            (&FLOYD, "example 17.3"),
            "V",
            || operational_amplifier_regulator(5.1, [10e3, 10e3], 10.2),
        ),
        Check::new(
            "Darlington at 1 A: output and each base",
            (&FRANCO, "example 11.9"),
            "V",
            darlington,
        ),
        Check::new(
            "12 V at 40 mA: output, currents, heat of the pass device",
            (&BELL_5, "example 16.8"),
            "V",
            discrete_regulator,
        ),
        Check::new("adjustable, 240 Ω and 1.8 kΩ", (&BOYLESTAD, "example 15.15"), "V", || {
            adjustable_regulator([240.0, 1.8e3], 100e-6, 10.805)
        }),
        Check::new("adjustable, 240 Ω and 2 kΩ", (&SALIVAHANAN, "example 8.4"), "V", || {
            adjustable_regulator([240.0, 2e3], 50e-6, 11.766667)
        }),
        Check::new("adjustable, 2 kΩ and 22 kΩ", (&MALVINO, "example 24-13"), "V", || {
            adjustable_regulator([2e3, 22e3], 0.0, 15.0)
        }),
        Check::new(
            "limit by 1 Ω: current",
            (&FLOYD, "examples 17.4 and 17.7"),
            "A",
            limit_of_one_ohm,
        ),
        Check::new(
            "limit at 0.5 A: output into 10 Ω",
            (&SALIVAHANAN, "example 8.6"),
            "V",
            constant_limit,
        )
        .but("the book leaves out the drive, which flows into the load too"),
        Check::new(
            "foldback: current at 5 V and shorted",
            (&FRANCO, "example 11.10"),
            "A",
            foldback_of_the_book,
        ),
        Check::new(
            "foldback: its law from 0 V to 5 V",
            (&FRANCO, "example 11.10"),
            "A",
            foldback_by_its_law,
        ),
    ],
};

const THERMAL_V: f64 = 0.025;

fn source(name: &str, node: &str, volt: f64) -> String {
    format!(
        r#"{name} = {{ kind = "voltage-source", plus = "{node}", minus = "gnd", voltage = "{volt} V" }}
"#
    )
}

fn ohms(name: &str, [a, b]: [&str; 2], ohm: f64) -> String {
    format!(
        r#"{name} = {{ kind = "resistor", nodes = ["{a}", "{b}"], resistance = "{ohm} Ω" }}
"#
    )
}

/// A transistor with `volt` from base to emitter at `ampere`.
fn npn(name: &str, nodes: [&str; 3], (ampere, volt): (f64, f64), gain: f64) -> String {
    let [collector, base, emitter] = nodes;
    let saturation_a = saturation(ampere, volt, THERMAL_V);
    format!(
        r#"{name} = {{ kind = "bipolar", collector = "{collector}", base = "{base}", emitter = "{emitter}", polarity = "npn", saturation_current = "{saturation_a:e} A", forward_gain = {gain}, thermal_voltage = "{THERMAL_V} V" }}
"#
    )
}

fn zener(name: &str, [anode, cathode]: [&str; 2], volt: f64, ampere: f64) -> String {
    format!(
        r#"{name} = {{ kind = "zener", anode = "{anode}", cathode = "{cathode}", breakdown_voltage = "{volt} V", test_current = "{ampere:e} A", resistance = "1 µΩ" }}
"#
    )
}

/// An operational amplifier between `in` and ground that drives `b`.
fn amplifier(plus: &str, minus: &str, output_a: f64) -> String {
    format!(
        r#"U1 = {{ kind = "operational-amplifier", plus = "{plus}", minus = "{minus}", output = "b", supply = "in", ground = "gnd", gain = 1e8, bandwidth = "1 MHz", slew_rate = "1 V/µs", output_current = "{output_a:e} A", output_resistance = "1 Ω" }}
"#
    )
}

/// Boylestad and Nashelsky, example 15.8: 12 V zener, follower, 20 V by 220 Ω, 5 kΩ, β = 50. The book
/// takes the load's 2.26 mA for the collector current; the base takes 1/51 of it, not 1/50.
fn follower() -> Figures {
    let mut f = Figures::default();
    let collector_a = 2.26e-3 * 50.0 / 51.0;
    let parts = [
        source("V1", "in", 20.0),
        ohms("R1", ["in", "b"], 220.0),
        zener("Z1", ["gnd", "b"], 12.0, 36.3e-3),
        npn("Q1", ["in", "b", "out"], (collector_a, 0.7), 50.0),
        ohms("R_L", ["out", "gnd"], 5e3),
    ];
    let rest = Rest::of(&parts.concat());
    f.near(rest.volt("out"), 11.3, 1e-6);
    f.near(rest.enters("R1", 0), 36.3636e-3, 1e-5);
    f.near(rest.enters("Q1", 0), 2.26e-3, 1.0 / 50.0);
    f.near(rest.enters("Q1", 1), 45.2e-6, 1.0 / 50.0);
    f.near(rest.enters("Z1", 1), 36.3184e-3, 1e-4);
    f
}

/// Boylestad and Nashelsky, example 15.9: discrete feedback over 20 kΩ and 30 kΩ, 8.3 V + 0.7 V: 15 V.
/// The book neglects base currents.
fn discrete_feedback() -> Figures {
    let mut f = Figures::default();
    let control_a = (20.0 - 15.7) / 1e3;
    let parts = [
        source("V1", "in", 20.0),
        ohms("R4", ["in", "b"], 1e3),
        npn("Q1", ["in", "b", "out"], (15.0 / 1e3 + 0.3e-3, 0.7), 1e8),
        npn("Q2", ["b", "fb", "e"], (control_a, 0.7), 1e8),
        zener("Z1", ["gnd", "e"], 8.3, control_a),
        ohms("R1", ["out", "fb"], 20e3),
        ohms("R2", ["fb", "gnd"], 30e3),
        ohms("R_L", ["out", "gnd"], 1e3),
    ];
    f.near(Rest::of(&parts.concat()).volt("out"), 15.0, 1e-6);
    f
}

/// Boylestad and Nashelsky, example 15.10: 6.2 V·(1 + 30/15) = 18.6 V; Floyd, Electronic Devices,
/// example 17.3: 5.1 V·(1 + 10/10) = 10.2 V.
fn operational_amplifier_regulator(volt: f64, [upper, lower]: [f64; 2], expected: f64) -> Figures {
    let mut f = Figures::default();
    let parts = [
        source("V1", "in", 36.0),
        ohms("R3", ["in", "ref"], 1e3),
        zener("Z1", ["gnd", "ref"], volt, 20e-3),
        amplifier("ref", "fb", 20e-3),
        npn("Q1", ["in", "b", "out"], (10e-3, 0.7), 50.0),
        ohms("R1", ["out", "fb"], upper),
        ohms("R2", ["fb", "gnd"], lower),
        ohms("R_L", ["out", "gnd"], 1e3),
    ];
    // 1 µΩ of zener and a gain of 1e8 leave some 1e-7 V.
    f.near(Rest::of(&parts.concat()).volt("out"), expected, 1e-7);
    f
}

/// Franco, example 11.9: 5 V at 1 A by a Darlington of 20 and 100 with 3.3 kΩ from base to emitter,
/// 510 Ω from the amplifier: base 47.619 mA, 47.9221 mA from the driver, 0.474476 mA and 6.94198 V at
/// the amplifier. The divider of the book draws nothing here; 1.282 V are scaled by it.
fn darlington() -> Figures {
    let mut f = Figures::default();
    let output_a = 1.0 * 20.0 / 21.0;
    let driver_a = 47.9221e-3 * 100.0 / 101.0;
    let parts = [
        source("V1", "in", 12.0),
        source("V_REF", "ref", 1.282),
        r#"E1 = { kind = "controlled-voltage-source", plus = "fb", minus = "gnd", input = ["out", "gnd"], gain = 0.2564 }
"#
        .to_owned(),
        amplifier("ref", "fb", 50e-3),
        ohms("R_B", ["b", "b2"], 510.0),
        npn("Q2", ["in", "b2", "b1"], (driver_a, 0.7), 100.0),
        npn("Q1", ["in", "b1", "out"], (output_a, 1.0), 20.0),
        ohms("R_E", ["b1", "out"], 3.3e3),
        r#"I_L = { kind = "current-source", nodes = ["out", "gnd"], current = "1.00030303 A" }
"#
        .to_owned(),
    ];
    let rest = Rest::of(&parts.concat());
    f.near(rest.volt("out"), 5.0, 1e-6);
    f.near(rest.enters("Q1", 1), 47.619e-3, 1e-5);
    f.near(-rest.enters("Q2", 2), 47.9221e-3, 1e-5);
    f.near(rest.enters("Q2", 1), 0.474476e-3, 1e-5);
    f.near(rest.volt("b"), 6.94198, 1e-6);
    f
}

/// Bell, Electronic Devices and Circuits, 5th ed., example 16.8: 12 V at 40 mA from 20 V with a zener of
/// 6.2 V and a gain of 50. By the values of its arithmetic, before they are rounded to preferred ones
/// (580 Ω, 1.2167 kΩ, 6.9 kΩ, 5.1 kΩ): base 1 mA, 400 mW in the pass device, 6 mA through the resistor
/// that feeds base and error transistor. The base current of that one is neglected in the book.
fn discrete_regulator() -> Figures {
    let mut f = Figures::default();
    let parts = [
        source("V1", "in", 20.0),
        ohms("R1", ["in", "b"], 7.3 / 6e-3),
        npn("Q1", ["in", "b", "out"], (50e-3, 0.7), 50.0),
        npn("Q2", ["b", "fb", "e"], (5e-3, 0.7), 1e8),
        zener("Z1", ["gnd", "e"], 6.2, 15e-3),
        ohms("R2", ["out", "e"], 580.0),
        ohms("R3", ["out", "fb"], 5.1e3),
        ohms("R4", ["fb", "gnd"], 6.9e3),
        ohms("R_L", ["out", "gnd"], 12.0 / 40e-3),
    ];
    let rest = Rest::of(&parts.concat());
    f.near(rest.volt("out"), 12.0, 1e-6);
    f.near(rest.enters("Q1", 1), 1e-3, 1e-5);
    f.near(rest.enters("R1", 0), 6e-3, 1e-6);
    f.near(rest.enters("Q1", 0) * (20.0 - rest.volt("out")), 0.4, 1e-5);
    f
}

/// An adjustable regulator with 1.25 V between output and adjusting pin, out of which a small current
/// flows: V_o = 1.25 V·(1 + R_2/R_1) + I·R_2. Boylestad and Nashelsky, example 15.15: 240 Ω, 1.8 kΩ,
/// 100 µA, 10.805 V; Salivahanan, example 8.4: 240 Ω, 2 kΩ, 50 µA, 11.766667 V; Malvino, example 24-13:
/// 2 kΩ, 22 kΩ, no current, 15.0 V.
fn adjustable_regulator(
    [first_ohm, second_ohm]: [f64; 2],
    adjusting_a: f64,
    expected: f64,
) -> Figures {
    let mut f = Figures::default();
    let parts = [
        source("V1", "in", 24.0),
        r#"V_REF = { kind = "voltage-source", plus = "ref", minus = "adj", voltage = "1.25 V" }
"#
        .to_owned(),
        amplifier("ref", "out", 20e-3),
        npn("Q1", ["in", "b", "out"], (10e-3, 0.7), 50.0),
        ohms("R1", ["out", "adj"], first_ohm),
        ohms("R2", ["adj", "gnd"], second_ohm),
        format!(
            r#"I_ADJ = {{ kind = "current-source", nodes = ["in", "adj"], current = "{adjusting_a:e} A" }}
"#
        ),
        ohms("R_L", ["out", "gnd"], 1e3),
    ];
    // A gain of 1e8 leaves up to 16 V/1e8, times 12 at the output.
    f.near(Rest::of(&parts.concat()).volt("out"), expected, 2e-7);
    f
}

/// What an amplifier of the limits below can drive, in A.
const DRIVE_A: f64 = 1e-3;

/// A source of 20 V whose current is limited by a transistor across `sense_ohm`.
fn limited(sense_ohm: f64, load_ohm: f64) -> Rest {
    let parts = [
        source("V1", "in", 30.0),
        source("V_REF", "ref", 20.0),
        amplifier("ref", "out", DRIVE_A),
        npn("Q1", ["in", "b", "e"], (0.5, 0.8), 1e5),
        ohms("R_SC", ["e", "out"], sense_ohm),
        npn("Q2", ["b", "e", "out"], (DRIVE_A, 0.7), 1e5),
        ohms("R_L", ["out", "gnd"], load_ohm),
    ];
    Rest::of(&parts.concat())
}

/// Salivahanan and Bhaaskaran, example 8.6: 0.7 V over 1.4 Ω limit at 0.5 A: 20 V into 100 Ω, 0.2 A;
/// 5 V into 10 Ω. What the limit takes from the base, 1 mA, goes into the load as well: 2e-3 of 0.5 A,
/// which the book leaves out.
fn constant_limit() -> Figures {
    let mut f = Figures::default();
    let short = limited(1.4, 10.0);
    f.near(short.volt("out"), 5.0, 2.5e-3);
    f.near(short.enters("R_SC", 0), 0.5, 1e-3);
    assert_eq!(short.region("Q2"), "active");
    let normal = limited(1.4, 100.0);
    f.near(normal.volt("out"), 20.0, 1e-6);
    f.near(normal.enters("R_SC", 0), 0.2, 1e-4);
    f
}

/// Floyd, examples 17.4 and 17.7: 0.7 V over 1 Ω is 0.7 A. The transistor takes what the pass device's base
/// leaves of 1 mA, 7 µA less, which moves its voltage by 0.2 mV.
fn limit_of_one_ohm() -> Figures {
    let mut f = Figures::default();
    f.near(limited(1.0, 10.0).enters("R_SC", 0), 0.7, 1e-3);
    f
}

/// Foldback by Franco, example 11.10: 4 A at 5 V, 1.5 A into a short, by 0.608696 Ω and a divider of
/// 163.333 Ω and 536.667 Ω; from 12 V instead of his 8 V, of which an ideal drive would be left.
fn foldback(output_v: f64) -> Rest {
    let parts = [
        source("V1", "in", 12.0),
        source("V_REF", "ref", 7.0),
        amplifier("ref", "out", DRIVE_A),
        npn("Q1", ["in", "b", "e"], (4.0, 0.8), 1e5),
        ohms("R_FB", ["e", "out"], 0.608696),
        ohms("R3", ["e", "tap"], 163.333),
        ohms("R4", ["tap", "gnd"], 536.667),
        npn("Q2", ["b", "tap", "out"], (DRIVE_A, 0.7), 1e6),
        source("V_OUT", "out", output_v),
    ];
    Rest::of(&parts.concat())
}

/// I(V_O) = (V_BE + k·V_O)/(R·(1 − k)), k = R_3/(R_3 + R_4), with V_BE as the transistor has it: its
/// base current of 1 nA through 125 Ω is all that is neglected. With the book's 0.7 V the published
/// currents: the drive of 1 mA less the base current of Q1, up to 40 µA, moves V_BE by 1 mV, 0.15 %.
fn foldback_by_its_law() -> Figures {
    let mut f = Figures::default();
    let k = 163.333 / (163.333 + 536.667);
    for output_v in [0.0, 1.0, 2.5, 4.0, 5.0] {
        let rest = foldback(output_v);
        let base_emitter_v = rest.volt("tap") - rest.volt("out");
        let law = (base_emitter_v + k * output_v) / (0.608696 * (1.0 - k));
        f.near(rest.enters("R_FB", 0), law, 1e-6);
    }
    f
}

fn foldback_of_the_book() -> Figures {
    let mut f = Figures::default();
    f.near(foldback(5.0).enters("R_FB", 0), 4.0, 2e-3);
    f.near(foldback(0.0).enters("R_FB", 0), 1.5, 2e-3);
    f
}

/// The part that stands for such a limit, on the base of the same pass device.
fn folding_part(output_v: f64, keys: &str) -> Rest {
    let parts = [
        source("V1", "in", 12.0),
        source("V_REF", "ref", 7.0),
        amplifier("ref", "out", DRIVE_A),
        npn("Q1", ["in", "b", "e"], (4.0, 0.8), 1e5),
        format!(
            r#"LIM = {{ kind = "current-limit", input = "e", output = "out", ground = "gnd", from = "b", to = "out", resistance = "0.1 Ω", steepness = 1, highest_current = "10 mA", {keys} }}
"#
        ),
        source("V_OUT", "out", output_v),
    ];
    Rest::of(&parts.concat())
}

/// Against its own law, i = L + steered/steepness, and against the transistors: both follow one line,
/// the part 1 mA beyond it by its steepness, the transistors within 0.2 % as above.
#[test]
fn exact_limit_part_follows_its_law_and_the_transistors() {
    let keys = r#"limit = "4 A", short_current = "1.5 A", fold_voltage = "5 V""#;
    for output_v in [1.0, 2.5, 4.0] {
        let rest = folding_part(output_v, keys);
        assert_eq!(rest.region("LIM"), "limiting");
        // `from` and `to` are the fourth and fifth terminal.
        let steered = rest.enters("LIM", 3);
        // 1 nV over 0.1 Ω.
        near(rest.enters("LIM", 0), 1.5 + 0.5 * output_v + steered, 1e-8);
        near(rest.enters("LIM", 0), foldback(output_v).enters("R_FB", 0), 3e-3);
    }
    let constant = folding_part(0.0, r#"limit = "2 A""#);
    near(constant.enters("LIM", 0), 2.0 + constant.enters("LIM", 3), 1e-8);
    let free = folding_part(7.0, r#"limit = "5 A""#);
    assert_eq!(free.region("LIM"), "not limiting");
}

/// The same part on the base of a pnp and on the gate of a PMOS, pulled down by a fixed current: what is
/// steered from the input pin to base or gate is that current less what the device itself needs.
#[test]
fn exact_limit_part_steers_pnp_and_pmos() {
    let pnp = r#"Q1 = { kind = "bipolar", collector = "out", base = "b", emitter = "vin", polarity = "pnp", saturation_current = "0.1 pA", forward_gain = 50 }"#;
    let pmos = r#"Q1 = { kind = "mosfet", drain = "out", gate = "b", source = "vin", channel = "p", threshold = "0.7 V", transconductance = "2 A/V^2" }"#;
    for device in [pnp, pmos] {
        let rest = Rest::of(&format!(
            r#"V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd", voltage = "8 V" }}
LIM = {{ kind = "current-limit", input = "in", output = "vin", ground = "gnd", from = "in", to = "b", resistance = "0.1 Ω", limit = "0.4 A", steepness = 1, highest_current = "60 mA" }}
{device}
R_B = {{ kind = "resistor", nodes = ["in", "b"], resistance = "1 kΩ" }}
I_B = {{ kind = "current-source", nodes = ["b", "gnd"], current = "20 mA" }}
R_L = {{ kind = "resistor", nodes = ["out", "gnd"], resistance = "1 Ω" }}
"#
        ));
        assert_eq!(rest.region("LIM"), "limiting");
        let steered = rest.enters("LIM", 3);
        assert!(steered > 5e-3, "{steered}");
        near(rest.enters("LIM", 0), 0.4 + steered, 1e-7);
    }
}
