//! The two integration formulas share no coefficients and no iteration: where they agree on every
//! measurement of a regulator, neither is to blame for the number.

use crate::bench::Bench;
use railstep::analysis::Method;

/// An emitter follower driven by an error amplifier.
const REGULATOR: &str = r#"title = "series regulator"
[values]
accuracy = "1 µV"
[rail]
input = "vin"
output = "vout"
nominal = "2.5 V"
window = "2 %"
transient_window = "8 %"
source = "BT1"
load = "I1"
pass = "Q1"
[parts]
BT1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "5 V", resistance = "0.2 Ω" }
C_IN = { kind = "capacitor", nodes = ["vin", "gnd"], capacitance = "10 µF", esr = "50 mΩ" }
V_REF = { kind = "voltage-source", plus = "ref", minus = "gnd", voltage = "1.25 V" }
EA = { kind = "error-amplifier", reference = "ref", sense = "fb", output = "base", supply = "vin", ground = "gnd", transconductance = "1 mS", stage_current = "200 µA", stage_resistance = "1 MΩ", stage_capacitance = "22 nF", output_resistance = "100 Ω", drive_current = "20 mA" }
Q1 = { kind = "bipolar", collector = "vin", base = "base", emitter = "vout", polarity = "npn", saturation_current = "1e-13 A", forward_gain = 100, early_voltage = "80 V", transit_time = "1 ns", base_emitter_capacitance = "50 pF", base_collector_capacitance = "20 pF" }
R_TOP = { kind = "resistor", nodes = ["vout", "fb"], resistance = "10 kΩ" }
R_BOT = { kind = "resistor", nodes = ["fb", "gnd"], resistance = "10 kΩ" }
C_OUT = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF", esr = "50 mΩ" }
I1 = { kind = "load", nodes = ["vout", "gnd"], current = "5 mA" }
[[tests]]
name = "step"
kind = "load-step"
from = "5 mA"
to = "100 mA"
edge = "10 µs"
before = "200 µs"
hold = "2 ms"
accuracy = "1 µV"
require = { recovery = { limit = "<= 1 ms", band = "5 mV" }, release_recovery = { limit = "<= 2 ms", band = "5 mV" }, total_below = { limit = "<= 1 ms", level = "2.48 V" } }
[[tests]]
name = "fast"
kind = "load-step"
from = "5 mA"
to = "100 mA"
edge = "100 ns"
before = "200 µs"
hold = "1 ms"
accuracy = "1 µV"
require = { recovery = { limit = "<= 1 ms", band = "5 mV" }, release_recovery = { limit = "<= 2 ms", band = "5 mV" } }
[[tests]]
name = "line"
kind = "line-step"
from = "5 V"
to = "6 V"
edge = "10 µs"
before = "200 µs"
hold = "2 ms"
load_level = "50 mA"
accuracy = "1 µV"
require = { recovery = { limit = "<= 1 ms", band = "0.2 mV" } }
"#;

#[test]
fn both_formulas_agree_on_every_measurement_of_a_regulator() {
    let bench = Bench::of(REGULATOR);
    for test in ["step", "fast", "line"] {
        let [one, other] =
            [Method::Rodas4p, Method::TrBdf2].map(|method| bench.outcome(test, method));
        assert_eq!(one.measurements.len(), other.measurements.len());
        let mut compared = 0;
        for (a, b) in one.measurements.iter().zip(&other.measurements) {
            assert_eq!((&a.name, a.value.is_some()), (&b.name, b.value.is_some()), "{test}");
            let (Some(x), Some(y)) = (a.value, b.value) else { continue };
            // Each is asked for 1 µV at the output, and a difference of two readings doubles it.
            // The input stands behind 0.2 Ω: currents agree to 4 µV/0.2 Ω, powers to 5 V times
            // that; crossings have at least 50 V/s (5 mV band) or 5 V/s (0.2 mV band).
            let allowed = match a.unit {
                "V" => 4e-6,
                "A" => 2e-5,
                "W" => 1e-4,
                "s" if test == "line" => 8e-7,
                "s" => 8e-8,
                _ => 1e-5,
            };
            assert!((x - y).abs() <= allowed, "{test} {}: {x} against {y}", a.name);
            compared += 1;
        }
        assert!(compared >= 15, "only {compared} measurements of `{test}` have values");
    }
}

/// A rectifier with stored charge, whose diode turns off every period.
const RECTIFIER: &str = r#"title = "rectifier"
[parts]
V1 = { kind = "voltage-source", plus = "ac", minus = "gnd", resistance = "0.5 Ω", varies = { shape = "sine", amplitude = "10 V", frequency = "1 kHz" } }
D1 = { kind = "diode", anode = "ac", cathode = "out", saturation_current = "1 nA", ideality = 1.8, zero_bias_capacitance = "30 pF", transit_time = "5 µs" }
C1 = { kind = "capacitor", nodes = ["out", "gnd"], capacitance = "47 µF", esr = "50 mΩ", esl = "10 nH" }
I1 = { kind = "load", nodes = ["out", "gnd"], current = "100 mA" }
[[tests]]
name = "watch"
kind = "profile"
duration = "5 ms"
"#;

/// Two transistors that switch each other: saturation, reverse junctions driven far off, and jumps
/// by regeneration.
const MULTIVIBRATOR: &str = r#"title = "multivibrator"
[parts]
V1 = { kind = "voltage-source", plus = "vcc", minus = "gnd", voltage = "5 V" }
R1 = { kind = "resistor", nodes = ["vcc", "c1"], resistance = "1 kΩ" }
R2 = { kind = "resistor", nodes = ["vcc", "c2"], resistance = "1.1 kΩ" }
R3 = { kind = "resistor", nodes = ["vcc", "b1"], resistance = "47 kΩ" }
R4 = { kind = "resistor", nodes = ["vcc", "b2"], resistance = "47 kΩ" }
C1 = { kind = "capacitor", nodes = ["c1", "b2"], capacitance = "10 nF", initial = "0 V" }
C2 = { kind = "capacitor", nodes = ["c2", "b1"], capacitance = "10 nF", initial = "4 V" }
Q1 = { kind = "bipolar", collector = "c1", base = "b1", emitter = "gnd", model = "npn" }
Q2 = { kind = "bipolar", collector = "c2", base = "b2", emitter = "gnd", model = "npn" }
[models.npn]
kind = "bipolar"
polarity = "npn"
saturation_current = "1e-14 A"
forward_gain = 150
reverse_gain = 3
early_voltage = "80 V"
transit_time = "0.5 ns"
reverse_transit_time = "50 ns"
base_emitter_capacitance = "20 pF"
base_collector_capacitance = "8 pF"
[[tests]]
name = "watch"
kind = "profile"
duration = "2 ms"
start = "initial-values"
"#;

/// Compared where the curves are steep: some hundred tolerances of 1e-7 V, as TR-BDF2 adds them up;
/// in the multivibrator a switching instant besides, which the slow crossing of a threshold (10
/// mV/µs) makes late by ten nanoseconds for every 1e-4 V.
#[test]
fn both_formulas_agree_where_junctions_switch() {
    let cases = [
        (RECTIFIER, "out", [0.2e-3, 0.9e-3, 1.3e-3, 3.77e-3, 5e-3], 1e-5),
        (MULTIVIBRATOR, "b2", [0.1e-3, 0.5e-3, 1e-3, 1.5e-3, 2e-3], 1e-4),
    ];
    for (text, node, times, allowed) in cases {
        let bench = Bench::of(text);
        let [one, other] = [Method::Rodas4p, Method::TrBdf2]
            .map(|method| bench.solve("watch", method, 1e-7, &times));
        for t in times {
            let (x, y) = (one.at(node, t), other.at(node, t));
            assert!((x - y).abs() < allowed, "{node} at {t}: {x} against {y}");
        }
    }
}
