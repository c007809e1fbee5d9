//! Heat in what shunts: a zener diode and an adjustable shunt at rest and in time, against closed
//! forms.

use crate::bench::{Bench, measured};
use crate::heat::{WITHIN_K, close};
use railstep::analysis::Method;
use railstep::trial::Outcome;

/// A rest is iterated to 1e-8 K and 1e-9 of itself.
const AT_REST_K: f64 = 1e-6;
const AMBIENT_K: f64 = 313.15;
/// K/W
const PATH: f64 = 300.0;
const BREAKDOWN_V: f64 = 9.1;
const PER_K: f64 = 5e-3;

fn column<'a>(outcome: &'a Outcome, name: &str) -> &'a [f64] {
    &outcome.columns.iter().find(|c| c.name == name).expect(name).values
}

/// A zener characterised at 25 °C, in an ambient of 40 °C, through which a source drives its test
/// current, 5 mA: its curve does not enter.
fn zener(keys: &str, source: &str) -> Outcome {
    Bench::of(&format!(
        r#"title = "a zener at its test current"
[rail]
ambient = "40 °C"
[parts]
I1 = {{ kind = "current-source", nodes = ["gnd", "k"], {source} }}
Z1 = {{ kind = "zener", anode = "gnd", cathode = "k", breakdown_voltage = "{BREAKDOWN_V} V", test_current = "5 mA", resistance = "12 Ω", voltage_temperature_coefficient = "{PER_K} V/K"{keys} }}
H1 = {{ kind = "heat-path", part = "Z1", cauer = [["{PATH} K/W", "0.05 J/K"]] }}
[[tests]]
name = "test"
kind = "profile"
duration = "60 s"
sample = 240
"#
    ))
    .outcome("test", Method::Rodas4p)
}

/// ΔT = R·I·(V_0 + TC·ΔT), V_0 the voltage at ambient: ΔT = R·I·V_0/(1 − R·I·TC).
fn warm_zener_rise_k(ampere: f64) -> f64 {
    let cold_v = BREAKDOWN_V + PER_K * (AMBIENT_K - 298.15);
    PATH * ampere * cold_v / (1.0 - PATH * ampere * PER_K)
}

/// 300 K/W · 5 mA · 5 mV/K is 0.75 %, by which the rise is more than that of the cold power. The
/// reversed junction adds some pA.
#[test]
fn exact_a_zener_rests_where_its_drift_and_its_heat_agree() {
    for keys in ["", ", zero_bias_capacitance = \"100 pF\""] {
        let outcome = zener(keys, r#"current = "5 mA""#);
        let rise_k = warm_zener_rise_k(5e-3);
        close(measured(&outcome, "junction_temperature"), AMBIENT_K + rise_k, AT_REST_K);
        let expected_v = BREAKDOWN_V + PER_K * (AMBIENT_K + rise_k - 298.15);
        let found_v = *column(&outcome, "k").last().expect("a row");
        // A node may err by 1 nV at rest, and 1e-9 of itself.
        close(found_v, expected_v, 2e-8);
        assert!(rise_k > 13.0, "{rise_k} K");
    }
}

/// From 2.5 mA to 5 mA. The curve is a straight line of r = R·(1 − 2^−10) but for 2^−5 of a knee at
/// half the test current, 0.26 mV of 9 V. With V = V_c + TC·ΔT at the new current,
/// C·dΔT/dt = I·V − ΔT/R is one exponential: 1/τ = (1/R − I·TC)/C.
#[test]
fn exact_a_zener_heats_by_one_exponential_that_its_drift_makes_longer() {
    let source = r#"current = "2.5 mA", varies = { shape = "ramp", change = "2.5 mA", delay = "1 s", edge = "0" }"#;
    let outcome = zener("", source);
    let end_k = warm_zener_rise_k(5e-3);
    let tau_s = 0.05 / (1.0 / PATH - 5e-3 * PER_K);
    assert!(tau_s > 15.1, "{tau_s} s");
    let celsius = column(&outcome, "H1.junction");
    // At half the current the voltage is 2.5 mA · r lower and what the knee takes.
    let slope_ohm = 12.0 * (1.0 - 2f64.powi(-10));
    let width_v = slope_ohm * 0.5e-3 / 2f64.ln();
    let folded = |folds: f64| width_v * folds.exp_m1().ln();
    let lower_v = folded(10.0 * 2f64.ln()) - folded(5.0 * 2f64.ln());
    let cold_v = BREAKDOWN_V + PER_K * (AMBIENT_K - 298.15) - lower_v;
    let start_k = PATH * 2.5e-3 * cold_v / (1.0 - PATH * 2.5e-3 * PER_K);
    close(celsius[0] - 40.0, start_k, AT_REST_K);
    for (&t, &celsius) in outcome.times_s.iter().zip(celsius) {
        let gone = if t > 1.0 { ((1.0 - t) / tau_s).exp() } else { 1.0 };
        close(celsius - 40.0, end_k + (start_k - end_k) * gone, WITHIN_K);
    }
}

/// All that the shunt takes heats it. With the pin at the cathode it holds
/// V = V_r·(1 + α·ΔT) at the full current, which a source drives: ΔT = R·I·V_r/(1 − R·I·V_r·α), here
/// with what the pin takes beside, tanh(2.5/0.3) short of 2 µA by 1e-7 of it, and a resistor that takes 2.5 pA.
#[test]
fn exact_a_shunt_regulator_rests_where_its_drift_and_its_heat_agree() {
    let (ampere, pin_a, reference_v, per_k) = (10e-3, 2e-6, 2.5, 200e-6);
    let outcome = Bench::of(&format!(
        r#"title = "a shunt at its full current"
[rail]
output = "k"
nominal = "2.5 V"
pass = "U1"
ambient = "25 °C"
[parts]
I1 = {{ kind = "current-source", nodes = ["gnd", "k"], current = "{} A" }}
R1 = {{ kind = "resistor", nodes = ["k", "gnd"], resistance = "1000 GΩ" }}
U1 = {{ kind = "adjustable-shunt", cathode = "k", reference = "k", anode = "gnd", reference_voltage = "{reference_v} V", temperature_coefficient = "{per_k} 1/K", transconductance = "3 S", full_current = "{ampere} A", minimum_current = "1 mA", highest_current = "60 mA", saturation_voltage = "1.5 V", reference_current = "{pin_a} A" }}
H1 = {{ kind = "heat-path", part = "U1", foster = [["250 K/W", "5 s"]], rated_temperature = "125 °C" }}
[[tests]]
name = "rest"
kind = "operating-point"
"#,
        ampere + pin_a
    ))
    .outcome("rest", Method::Rodas4p);
    let all = ampere + pin_a;
    let rise_k = 250.0 * all * reference_v / (1.0 - 250.0 * all * reference_v * per_k);
    let found = measured(&outcome, "junction_temperature");
    close(found - 298.15, rise_k, AT_REST_K);
    // Ambient and R times the power that is told of it.
    let watt = measured(&outcome, "pass_power_mean");
    close(watt, all * reference_v * (1.0 + per_k * rise_k), 1e-9);
    close(found - 298.15, 250.0 * watt, AT_REST_K);
}
