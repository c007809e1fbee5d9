//! Starting a rail and letting it down, on circuits whose answers are closed forms.

use crate::bench::{Bench, instant, measured};
use railstep::analysis::Method;
use railstep::trial::Outcome;

/// 100 Ω into 10 µF, τ = 1 ms; the resistor stands for the pass device.
fn rc(test: &str) -> Outcome {
    Bench::of(&format!(
        r#"title = "RC"
[rail]
input = "in"
output = "v"
nominal = "5 V"
window = "5 %"
source = "V1"
pass = "R1"
[parts]
V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd", voltage = "5 V" }}
R1 = {{ kind = "resistor", nodes = ["in", "v"], resistance = "100 Ω" }}
C1 = {{ kind = "capacitor", nodes = ["v", "gnd"], capacitance = "10 µF" }}
[[tests]]
name = "t"
accuracy = "10 nV"
{test}
"#
    ))
    .outcome("t", Method::Rodas4p)
}

const TAU_S: f64 = 1e-3;

/// The source rises by k = 5 V/ms for T = τ: the capacitor's current is kC(1 − e^(−t/τ)) up to T and
/// dies away with τ from there. Closed forms.
#[test]
fn exact_start_of_an_rc_on_a_ramp() {
    let outcome = rc("kind = \"start-up\"\nramp = \"1 ms\"\nhold = \"40 ms\"\n\
                      require = { start_settling = { limit = \"<= 1 s\", band = \"1 %\" } }");
    let e1 = (-1.0_f64).exp();
    // Missing at T: 5 V·(1 − e^(−1)); at 95 % a twentieth of 5 V is missing, at 1 % 50 mV.
    let missing = 1.0 - e1;
    // 10 nV a step under slopes of 250 V/s and 50 V/s: below 1 ns.
    for (name, share) in [("start_time", 0.05), ("start_settling", 0.01)] {
        let wanted = TAU_S * (1.0 + (missing / share).ln());
        let found = measured(&outcome, name);
        assert!((found - wanted).abs() < 1e-9, "{name} {found}, expected {wanted}");
    }
    let (k_c, peak) = (5e3 * 10e-6, measured(&outcome, "inrush_peak"));
    assert!((peak - k_c * missing).abs() < 1e-9, "{peak}");
    // The ramp ends at 10 % of hold + 1 ms.
    assert!((instant(&outcome, "inrush_peak") - 5e-3).abs() < 1e-9);
    let rise = k_c * k_c * TAU_S * (1.0 - 2.0 * missing + 0.5 * (1.0 - e1 * e1));
    let wanted = rise + 0.5 * TAU_S * (k_c * missing).powi(2);
    let found = measured(&outcome, "inrush_i2t");
    assert!((found / wanted - 1.0).abs() < 1e-6, "{found}, expected {wanted}");
    assert!((measured(&outcome, "settled_level") - 5.0).abs() < 1e-7);
    for name in ["start_dip", "start_overshoot", "source_sag", "chatter"] {
        let found = measured(&outcome, name);
        // 10 nV a step, summed.
        assert!(found.abs() < 1e-7, "{name} {found}");
    }
}

/// 0 V to 5 V in 1 ms straight onto 10 µF: C·dV/dt = 50 mA for 1 ms, 2.5 µA²s. Closed form.
#[test]
fn exact_inrush_of_a_capacitor_on_a_ramp() {
    let outcome = Bench::of(
        r#"title = "C"
[rail]
output = "v"
nominal = "5 V"
source = "V1"
[parts]
V1 = { kind = "voltage-source", plus = "v", minus = "gnd", voltage = "5 V" }
C1 = { kind = "capacitor", nodes = ["v", "gnd"], capacitance = "10 µF" }
[[tests]]
name = "t"
kind = "start-up"
ramp = "1 ms"
hold = "4 ms"
"#,
    )
    .outcome("t", Method::Rodas4p);
    let (peak, squares) = (measured(&outcome, "inrush_peak"), measured(&outcome, "inrush_i2t"));
    // Differences of 5 V over steps as short as 10 ps carry rounding into the current of the first.
    assert!((peak / 50e-3 - 1.0).abs() < 1e-4, "{peak}");
    assert!((squares / 2.5e-6 - 1.0).abs() < 1e-6, "{squares}");
    // 95 % of a ramp of 1 ms.
    assert!((measured(&outcome, "start_time") - 0.95e-3).abs() < 1e-9);
}

/// The source jumps to 0 V: v = 5 V·e^(−t/τ), all of it backwards through the resistor, 50 mA at
/// first, (50 mA)²·τ/2 in squares. Closed forms.
#[test]
fn exact_discharge_of_an_rc() {
    let outcome = rc("kind = \"power-down\"\nramp = \"0 s\"\nhold = \"20 ms\"");
    for (name, wanted, allowed) in [
        ("hold_up", TAU_S * (1.0_f64 / 0.95).ln(), 1e-10),
        ("discharge_time", TAU_S * 10.0_f64.ln(), 1e-9),
        ("reverse_current_peak", 50e-3, 1e-8),
        ("reverse_i2t", 50e-3 * 50e-3 * TAU_S / 2.0, 1e-12),
    ] {
        let found = measured(&outcome, name);
        assert!((found - wanted).abs() < allowed, "{name} {found}, expected {wanted}");
    }
    assert!(!outcome.measurements.iter().any(|m| m.name == "transient_window"));
}

/// Started from a capacitor that is charged to 2 V: from there to 5 V·0.95 takes τ·ln(3/0.25). Closed
/// form.
#[test]
fn exact_start_of_a_precharged_rail() {
    let outcome = Bench::of(
        r#"title = "precharged"
[rail]
input = "in"
output = "v"
nominal = "5 V"
window = "5 %"
source = "V1"
[parts]
V1 = { kind = "voltage-source", plus = "in", minus = "gnd", voltage = "5 V" }
R1 = { kind = "resistor", nodes = ["in", "v"], resistance = "100 Ω" }
C1 = { kind = "capacitor", nodes = ["v", "gnd"], capacitance = "10 µF", initial = "2 V" }
[[tests]]
name = "t"
kind = "start-up"
start = "initial-values"
before = "0 s"
ramp = "0 s"
hold = "40 ms"
accuracy = "10 nV"
"#,
    )
    .outcome("t", Method::Rodas4p);
    let found = measured(&outcome, "start_time");
    let wanted = TAU_S * (3.0_f64 / 0.25).ln();
    assert!((found - wanted).abs() < 1e-9, "{found}, expected {wanted}");
    // (5 V − 2 V) / 100 Ω.
    assert!((measured(&outcome, "inrush_peak") - 30e-3).abs() < 1e-8);
}

/// A source that enables the rail moves, the source itself stays at its level.
#[test]
fn a_rail_starts_by_the_source_that_enables_it() {
    let text = r#"title = "enabled"
[rail]
input = "in"
output = "v"
nominal = "2 V"
source = "V1"
[parts]
V1 = { kind = "voltage-source", plus = "in", minus = "gnd", voltage = "5 V", resistance = "1 Ω" }
R0 = { kind = "resistor", nodes = ["in", "gnd"], resistance = "1 kΩ" }
VEN = { kind = "voltage-source", plus = "en", minus = "gnd", voltage = "2 V" }
R2 = { kind = "resistor", nodes = ["en", "gnd"], resistance = "1 kΩ" }
E1 = { kind = "controlled-voltage-source", plus = "v", minus = "gnd", input = ["en", "gnd"], gain = "1" }
R3 = { kind = "resistor", nodes = ["v", "gnd"], resistance = "1 kΩ" }
[[tests]]
name = "t"
kind = "start-up"
by = "VEN"
ramp = "1 ms"
hold = "4 ms"
"#;
    let outcome = Bench::of(text).outcome("t", Method::Rodas4p);
    assert!((measured(&outcome, "start_time") - 0.95e-3).abs() < 1e-9);
    let source = outcome.condition.source_v.expect("a source");
    assert!((source - 5.0).abs() < 1e-12, "{source}");
    assert_eq!(outcome.condition.values, [("VEN".to_owned(), "0 V to 2 V in 1 ms".to_owned())]);
}

/// A contact closes onto 10 µH, 0.4 Ω and 10 µF, ζ = 0.2: the pin peaks at
/// 1 + e^(−πζ/√(1 − ζ²)) of the supply. Closed form, evaluated with 40 digits.
#[test]
fn exact_peak_of_a_hot_plug() {
    let outcome = Bench::of(
        r#"title = "hot plug"
[rail]
input = "pin"
output = "pin"
nominal = "1 V"
source = "V1"
[parts]
V1 = { kind = "voltage-source", plus = "in", minus = "gnd", voltage = "1 V" }
L1 = { kind = "inductor", nodes = ["in", "pin"], inductance = "10 µH", series_resistance = "0.4 Ω" }
C1 = { kind = "capacitor", nodes = ["pin", "gnd"], capacitance = "10 µF", rated_voltage = "2 V" }
[[tests]]
name = "t"
kind = "profile"
accuracy = "3 nV"
source_shape = { shape = "hot-plug", edge = "0 s", after = "200 µs" }
"#,
    )
    .outcome("t", Method::Rodas4p);
    let peak = measured(&outcome, "input_maximum");
    // As for the same step driven by points.
    assert!((peak - 1.526_620_599_330_303).abs() < 3e-9, "{peak}");
    let stress = measured(&outcome, "capacitor_stress");
    assert!((stress - 0.5 * 1.526_620_599_330_303).abs() < 3e-9, "{stress}");
    assert!((instant(&outcome, "input_maximum") - 42.063_745_754e-6).abs() < 1e-9);
}

/// A sine of 2 V peak to peak on the source is there as a sine, not as points: 12 V + 1 V·sin 2πft.
#[test]
fn exact_ripple_is_driven_as_a_sine() {
    let bench = Bench::of(
        r#"title = "ripple"
[rail]
output = "v"
nominal = "12 V"
source = "V1"
[parts]
V1 = { kind = "voltage-source", plus = "v", minus = "gnd", voltage = "12 V" }
R1 = { kind = "resistor", nodes = ["v", "gnd"], resistance = "1 kΩ" }
[[tests]]
name = "t"
kind = "profile"
source_shape = { shape = "ripple", ripple = "2 V", frequency = "1 kHz", ripple_time = "5 ms" }
"#,
    );
    let times = [1.1e-3, 1.25e-3, 2.9e-3, 5.61e-3];
    let run = bench.solve("t", Method::Rodas4p, 1e-7, &times);
    for t in times {
        let wanted = 12.0 + (std::f64::consts::TAU * 1e3 * (t - 1e-3)).sin();
        let found = run.at("v", t);
        assert!((found - wanted).abs() < 1e-9, "{t}: {found}, expected {wanted}");
    }
    let outcome = bench.outcome("t", Method::Rodas4p);
    // Between its ends a step may leave the drive by three tolerances of 10 µV.
    assert!((measured(&outcome, "output_maximum") - 13.0).abs() < 3e-5);
    assert!(
        outcome.notes.iter().any(|n| n.contains("from memory, not checked")),
        "{:?}",
        outcome.notes
    );
}
