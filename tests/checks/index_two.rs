//! Quantities that are determined only through a derivative: the current of a source straight
//! across a capacitor, the voltage of an inductor in series with a current source.

use crate::bench::{Bench, unknown};
use railstep::analysis::Method;
use std::f64::consts::TAU;

fn across_a_capacitor() -> Bench {
    Bench::of(
        r#"title = "source across a capacitor"
[parts]
V1 = { kind = "voltage-source", plus = "a", minus = "gnd", varies = { shape = "sine", amplitude = "1 V", frequency = "1 kHz" } }
C1 = { kind = "capacitor", nodes = ["a", "gnd"], capacitance = "1 mF" }
R1 = { kind = "resistor", nodes = ["a", "b"], resistance = "1 kΩ" }
C2 = { kind = "capacitor", nodes = ["b", "gnd"], capacitance = "100 nF" }
[[tests]]
name = "ten periods"
kind = "profile"
duration = "10 ms"
"#,
    )
}

fn into_an_inductor() -> Bench {
    Bench::of(
        r#"title = "current source into an inductor"
[parts]
I1 = { kind = "current-source", nodes = ["gnd", "a"], varies = { shape = "sine", amplitude = "1 A", frequency = "1 kHz" } }
L1 = { kind = "inductor", nodes = ["a", "b"], inductance = "1 mH" }
R1 = { kind = "resistor", nodes = ["b", "gnd"], resistance = "1 Ω" }
[[tests]]
name = "ten periods"
kind = "profile"
duration = "10 ms"
"#,
    )
}

fn marked(bench: &Bench) -> Vec<String> {
    let system = bench.system();
    let both = system.unknowns.iter().zip(&system.index_two);
    both.filter(|(_, marked)| **marked).map(|(u, _)| u.name.clone()).collect()
}

/// Conditions on the graph: Tischendorf, Surv. Math. Ind. 8 (1999) 187–199 (from memory).
#[test]
fn published_structure_tells_what_a_derivative_determines() {
    assert_eq!(marked(&across_a_capacitor()), ["V1.current"]);
    assert_eq!(marked(&into_an_inductor()), ["a"]);
}

/// i = ωC·cos ωt into the capacitor besides the current of the RC branch, whose transient has
/// died out: A·ωC₂/(1 + (ωR C₂)²)·(cos ωt + ωRC₂ sin ωt).
#[test]
fn exact_current_of_a_source_across_a_capacitor() {
    let end = 10e-3;
    let omega = TAU * 1e3;
    let lag: f64 = omega * 1e3 * 100e-9;
    let capacitor = omega * 1e-3;
    let branch = omega * 100e-9 / (1.0 + lag * lag);
    let run = across_a_capacitor().solve("ten periods", Method::Rodas4p, 3e-6, &[]);
    assert!(run.work.steps < 2000, "{} steps", run.work.steps);
    // The current into `plus` is negative while the source charges. An index-2 current is held at
    // 300 times the node tolerance of 3 µV, taken as 10 A/V: 9 mA a step, and scales with 6.3 A.
    let got = run.at("V1.current", end);
    assert!((got + capacitor + branch).abs() < 0.03, "{got}, expected {}", -capacitor - branch);
    // What is not index 2 is not relaxed: b follows the sine filtered.
    let t = 9.8e-3;
    let b = ((omega * t).sin() - lag * (omega * t).cos()) / (1.0 + lag * lag);
    let got = run.at("b", t);
    assert!((got - b).abs() < 2e-5, "{got}, expected {b}");
}

/// v = L·di/dt + R·i at the driven node.
#[test]
fn exact_voltage_of_an_inductor_behind_a_current_source() {
    let end = 10e-3;
    let mut run = into_an_inductor().solve("ten periods", Method::Rodas4p, 3e-6, &[]);
    assert!(run.work.steps < 2000, "{} steps", run.work.steps);
    let expected = 1e-3 * TAU * 1e3;
    let got = run.at("a", end);
    // 300 times the node tolerance of 3 µV a step, and three times that with 6.3 V.
    assert!((got - expected).abs() < 3e-3, "{got}, expected {expected}");
    let last = run.record.len() - 1;
    let seen = run.look(last);
    let part = run.system.parts.iter().position(|p| p.name == "R1").expect("R1");
    let current = run.current(&seen, part, 0);
    // The drive itself, at a zero of its sine.
    assert!(current.abs() < 1e-6, "{current}");
    assert_eq!(unknown(&run.system, "gnd"), 0);
}
