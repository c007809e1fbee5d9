//! Temperatures of junctions and what they do to a base voltage.

#![allow(clippy::unreadable_literal)] // published digits are compared by eye with their source

use crate::bench::{Bench, measured};
use crate::rest::{Rest, saturation};
use crate::sources::{FRANCO, GETREU, TOSHIBA_BASICS};
use crate::table::{Check, Figures, Section};
use railstep::analysis::Method;
use railstep::curve::Cell;
use railstep::trial::Outcome;

pub(crate) const SECTION: Section = Section {
    title: "Heat",
    checks: &[
        Check::new(
            "junction of a 600 mW regulator, in °C",
            (&TOSHIBA_BASICS, "chapter 4-2"),
            "°C",
            small_regulator,
        ),
        Check::new(
            "junction and case over a common path",
            (&FRANCO, "example 11.14"),
            "°C",
            junction_and_case,
        ),
        Check::new(
            "slope of V_BE through a heated transistor",
            (&GETREU, "section 2"),
            "V/K",
            slope_of_a_heated_transistor,
        ),
        Check::new(
            "thermal shutdown by a transistor at 175 °C: what it draws",
            (&FRANCO, "example 11.11"),
            "A",
            shutdown_by_a_transistor,
        ),
    ],
};

const Q: f64 = 1.602_176_634e-19;
const K: f64 = 1.380_649e-23;

fn run(text: &str, name: &str) -> Outcome {
    Bench::of(text).outcome(name, Method::Rodas4p)
}

fn heat_cell(outcome: &Outcome, row: usize, column: &str) -> f64 {
    let listing = outcome.listings.iter().find(|l| l.name == "heat").expect("heat");
    let place = listing.columns.iter().position(|c| c.name == column).expect(column);
    match listing.rows[row][place] {
        Cell::Number(value) => value,
        ref other => panic!("{other:?}"),
    }
}

fn linear(v_in: f64, v_out: f64, load_a: f64, ambient_c: f64, paths: &str) -> Outcome {
    let text = format!(
        r#"title = "pass device on a heat path"
[rail]
input = "vin"
output = "vout"
nominal = "{v_out} V"
source = "V_IN"
load = "I_OUT"
pass = "Q1"
ambient = "{ambient_c} °C"
[parts]
V_IN = {{ kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "{v_in} V" }}
V_REF = {{ kind = "voltage-source", plus = "ref", minus = "gnd", voltage = "{v_out} V" }}
E1 = {{ kind = "controlled-voltage-source", plus = "gate", minus = "gnd", input = ["ref", "vout"], gain = 1e6 }}
Q1 = {{ kind = "mosfet", drain = "vin", gate = "gate", source = "vout", channel = "n", threshold = "0.7 V", transconductance = "2 A/V^2" }}
I_OUT = {{ kind = "load", nodes = ["vout", "gnd"], current = "{load_a} A" }}
C_OUT = {{ kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "1 µF" }}
{paths}
[[tests]]
name = "rest"
kind = "operating-point"
"#
    );
    run(&text, "rest")
}

/// Toshiba e-learning, "Basics of LDO regulators", chapter 4-2: 3.6 V to 1.8 V at 100 mA, 40 °C
/// around it, 600 mW allowed from 25 °C to 150 °C, so 208.33 K/W: 77.5 °C. A gain of 1e6 leaves
/// some µV of error, and so less than a millikelvin.
fn small_regulator() -> Figures {
    let mut f = Figures::default();
    let path = format!(
        r#"H1 = {{ kind = "heat-path", part = "Q1", foster = [["{} K/W", "1 s"]] }}"#,
        125.0 / 0.6
    );
    let outcome = linear(3.6, 1.8, 0.1, 40.0, &path);
    f.close(measured(&outcome, "junction_temperature") - 273.15, 77.5, 1e-3);
    f.close(measured(&outcome, "pass_power_mean"), 0.18, 1e-5);
    f
}

/// Franco, Design with Operational Amplifiers, example 11.14: junction 150 °C allowed, 50 °C around
/// it, 60 K/W to ambient of which 3 K/W to the case, 8 V to 5 V: 1.6667 W, case 145 °C at 0.5556 A.
fn junction_and_case() -> Figures {
    let mut f = Figures::default();
    let paths = r#"H1 = { kind = "heat-path", part = "Q1", cauer = [["3 K/W", "0.1 J/K"]], sink = "H2" }
H2 = { kind = "heat-path", foster = [["57 K/W", "60 s"]] }"#;
    let outcome = linear(8.0, 5.0, 100.0 / 60.0 / 3.0, 50.0, paths);
    f.close(measured(&outcome, "junction_temperature") - 273.15, 150.0, 1e-3);
    // The sink stands first: what ends in it follows.
    f.close(heat_cell(&outcome, 0, "junction_peak"), 145.0, 1e-3);
    f.close(heat_cell(&outcome, 1, "power"), 1.6667, 1e-4);
    f
}

/// A diode-connected transistor at 1 mA and a heater of `heater_w` beside it, 0.65 V at 300.15 K.
fn heated_reference(heater_w: f64, ambient_k: f64) -> (f64, f64) {
    let thermal_v = K * 300.15 / Q;
    let saturation = 1e-3 / (0.65_f64 / thermal_v).exp_m1();
    let volt = heater_w.sqrt();
    let text = format!(
        r#"title = "reference"
[rail]
ambient = "{ambient_k} K"
[parts]
I1 = {{ kind = "current-source", nodes = ["gnd", "b"], current = "1 mA" }}
Q1 = {{ kind = "bipolar", collector = "b", base = "b", emitter = "gnd", polarity = "npn", saturation_current = "{saturation} A", forward_gain = 1e12, reverse_gain = 1e12, characterised_at = "300.15 K" }}
V1 = {{ kind = "voltage-source", plus = "a", minus = "gnd", voltage = "{volt} V" }}
R1 = {{ kind = "resistor", nodes = ["a", "gnd"], resistance = "1 Ω" }}
H1 = {{ kind = "heat-path", parts = ["Q1", "R1"], foster = [["100 K/W", "1 s"]] }}
[[tests]]
name = "rest"
kind = "operating-point"
"#
    );
    let outcome = run(&text, "rest");
    let (levels, _) = outcome.at_rest.as_ref().expect("a rest");
    let volt = levels.iter().find(|l| l.name == "b").expect("b").volt;
    let kelvin = measured(&outcome, "junction_temperature");
    let heated_k = ambient_k + 100.0 * (heater_w + volt * 1e-3);
    // What a rest leaves of a temperature.
    assert!((kelvin - heated_k).abs() < 1e-6, "{kelvin} instead of {heated_k}");
    (volt, kelvin)
}

/// dV_BE/dT at constant I_C = (V_BE − (E_g + X·V_T))/T = −1.791087047672784 mV/K at 0.65 V,
/// 300.15 K, E_g = 1.11 V, X = 3 (derivative of the saturation current's law).
fn slope_of_a_heated_transistor() -> Figures {
    let mut f = Figures::default();
    // 10 mW more heat one kelvin.
    let ambient_k = 300.15 - 100.0 * (0.05 + 0.65e-3);
    let (middle_v, middle_k) = heated_reference(0.05, ambient_k);
    let (cold_v, cold_k) = heated_reference(0.045, ambient_k);
    let (hot_v, hot_k) = heated_reference(0.055, ambient_k);
    let slope = (hot_v - cold_v) / (hot_k - cold_k);
    // The chord over 1 K differs from the tangent by X·k/(q·T²)/24 of a kelvin squared: 1e-10 V/K.
    f.close(slope, -1.791_087_047_672_784e-3, 2e-9);
    f.close(middle_k, 300.15, 1e-5);
    f.close(middle_v, 0.65, 1e-7);
    f
}

/// What the ideal junction of the next test has, in K and V.
const ROOM_K: f64 = 298.15;
const THERMAL_V: f64 = 1.380_649e-23 / 1.602_176_634e-19 * ROOM_K;

/// Franco, Design with Operational Amplifiers and Analog Integrated Circuits, example 11.11: a transistor
/// with 0.7 V at 25 °C and -2 mV/K, which takes the drive away at 175 °C: its base stands at 0.4 V, of
/// 1.282 V by 882 Ω and 400 Ω (the book takes 880 Ω, which makes 0.6 mV more, 0.3 K). A bandgap of
/// 0.7 V + 2 mV/K·298.15 K and an exponent of 0 make the slope a straight line.
fn shutdown_by_a_transistor() -> Figures {
    let mut f = Figures::default();
    let bandgap_v = 0.7 + 2e-3 * ROOM_K;
    let saturation_a = saturation(1e-3, 0.7, THERMAL_V);
    let drawn_a = |upper_ohm: f64, celsius: f64| {
        Rest::of(&format!(
            r#"V_REF = {{ kind = "voltage-source", plus = "ref", minus = "gnd", voltage = "1.282 V" }}
R7 = {{ kind = "resistor", nodes = ["ref", "b"], resistance = "{upper_ohm} Ω" }}
R8 = {{ kind = "resistor", nodes = ["b", "gnd"], resistance = "400 Ω" }}
V_C = {{ kind = "voltage-source", plus = "drive", minus = "gnd", voltage = "2 V" }}
Q1 = {{ kind = "bipolar", collector = "drive", base = "b", emitter = "gnd", polarity = "npn", saturation_current = "{saturation_a:e} A", forward_gain = 1e9, reverse_gain = 1e9, bandgap = "{bandgap_v} V", saturation_exponent = 0, characterised_at = "{ROOM_K} K", temperature = "{celsius} °C" }}
"#
        ))
        .enters("Q1", 0)
    };
    // 10 nV of 38.6 mV.
    f.near(drawn_a(882.0, 175.0), 1e-3, 1e-6);
    // With 880 Ω it has 0.40063 V, which is where it would be at 174.69 °C.
    let book_v = 1.282 * 400.0 / 1280.0;
    f.near(drawn_a(880.0, 25.0 + (0.7 - book_v) / 2e-3), 1e-3, 1e-6);
    // Cold it draws nothing to speak of: 0.3 V less, at 25.7 mV to the factor e.
    assert!(drawn_a(882.0, 25.0) < 1e-8);
    f
}
