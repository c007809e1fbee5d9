//! What moves a circuit, against closed forms: sines with a phase, pulses that repeat, steps that
//! repeat, loads of every kind, and starts from some initial values only.

use crate::bench::{BOTH, Bench, measured};
use railstep::analysis::Method;
use std::f64::consts::{FRAC_PI_3, TAU};

/// Error allowed per method at a node tolerance of 1e-9 V and levels around 1 V: RODAS4P adds up a
/// few tolerances; TR-BDF2, of order 2, takes thousands of steps of one.
fn allowed(method: Method) -> f64 {
    match method {
        Method::Rodas4p => 1e-8,
        Method::TrBdf2 => 2e-6,
    }
}

fn low_pass(varies: &str, duration: &str) -> Bench {
    Bench::of(&format!(
        r#"title = "low pass"
[parts]
V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd", voltage = "0.5 V", varies = {varies} }}
R1 = {{ kind = "resistor", nodes = ["in", "v"], resistance = "1 kΩ" }}
C1 = {{ kind = "capacitor", nodes = ["v", "gnd"], capacitance = "1 µF" }}
[[tests]]
name = "watch"
kind = "profile"
duration = "{duration}"
"#
    ))
}

/// A sine that sets in with a phase jumps. y' = (u − y)/τ with u = A sin(ω(t − d) + φ) from y = 0:
/// y = A/√(1 + (ωτ)²)·(sin(ωs + φ − ψ) − sin(φ − ψ)·e^(−s/τ)), s = t − d, tan ψ = ωτ.
#[test]
fn exact_sine_that_sets_in_with_a_phase() {
    let bench = low_pass(
        r#"{ shape = "sine", amplitude = "2 V", frequency = "300 Hz", delay = "0.4 ms", phase = "60 deg" }"#,
        "5 ms",
    );
    let (tau, omega, delay) = (1e-3, TAU * 300.0, 0.4e-3);
    let lag: f64 = omega * tau;
    let (size, turn) = (2.0 / lag.hypot(1.0), FRAC_PI_3 - lag.atan());
    let times = [0.4e-3, 0.5e-3, 1.1e-3, 2.7e-3, 5e-3];
    for method in BOTH {
        let run = bench.solve("watch", method, 1e-9, &times);
        for t in times {
            let s: f64 = t - delay;
            let y = size * ((omega * s + turn).sin() - turn.sin() * (-s / tau).exp());
            let got = run.at("v", t) - 0.5;
            assert!((got - y).abs() < allowed(method), "{method:?} at {t}: {got}, expected {y}");
        }
    }
}

/// Pulses of 1 V that repeat for twenty time constants: after that, v swings between
/// (1 − e^(−a))/(1 − e^(−p)) at the end of each pulse and that times e^(−(p − a)) before the next,
/// with pulse a and period p in time constants.
#[test]
fn exact_ripple_of_pulses_that_repeat() {
    let bench = low_pass(
        r#"{ shape = "pulse", change = "1 V", edge = 0, width = "0.3 ms", period = "0.8 ms" }"#,
        "20 ms",
    );
    let (a, p) = (0.3_f64, 0.8_f64);
    let high = (1.0 - (-a).exp()) / (1.0 - (-p).exp());
    let low = high * (a - p).exp();
    for method in BOTH {
        // 24 periods: what is left of the start is e^(−19.2) = 5e-9 of the swing.
        let (start, end) = (24.0 * 0.8e-3, 24.0 * 0.8e-3 + 0.3e-3);
        let run = bench.solve("watch", method, 1e-9, &[start, end]);
        for (t, v) in [(start, low), (end, high)] {
            let got = run.at("v", t) - 0.5;
            let allowed = allowed(method) + 5e-9;
            assert!((got - v).abs() < allowed, "{method:?} at {t}: {got}, expected {v}");
        }
    }
}

/// Some capacitors start where they are told, the rest where they would be at rest: two RC
/// branches on one source behind no resistance do not see each other.
#[test]
fn exact_start_from_some_initial_values() {
    let bench = Bench::of(
        r#"title = "told and not told"
[parts]
V1 = { kind = "voltage-source", plus = "in", minus = "gnd", voltage = "3 V" }
R1 = { kind = "resistor", nodes = ["in", "told"], resistance = "1 kΩ" }
C1 = { kind = "capacitor", nodes = ["gnd", "told"], capacitance = "1 µF", initial = "1 V", esr = "250 Ω" }
R2 = { kind = "resistor", nodes = ["in", "rest"], resistance = "1 kΩ" }
R3 = { kind = "resistor", nodes = ["rest", "gnd"], resistance = "2 kΩ" }
C2 = { kind = "capacitor", nodes = ["rest", "gnd"], capacitance = "1 µF" }
R4 = { kind = "resistor", nodes = ["in", "coil"], resistance = "100 Ω" }
L1 = { kind = "inductor", nodes = ["coil", "gnd"], inductance = "20 mH", initial = "-50 mA" }
[[tests]]
name = "watch"
kind = "profile"
duration = "4 ms"
start = "initial-values"
"#,
    );
    let times = [0.1e-3, 1e-3, 4e-3];
    for method in BOTH {
        let run = bench.solve("watch", method, 1e-9, &times);
        for t in [0.0].into_iter().chain(times) {
            // 4 V over 1.25 kΩ at first, since the capacitor begins at −1 V on that side.
            let told = 3.0 - 1e3 * (4.0 / 1.25e3) * (-t / 1.25e-3_f64).exp();
            // 30 mA in the end, from −50 mA, with 20 mH/100 Ω.
            let coil = 100.0 * 0.08 * (-t / 0.2e-3_f64).exp();
            for (node, v) in [("told", told), ("rest", 2.0), ("coil", coil)] {
                let got = run.at(node, t);
                // Up to 8 V: tolerances are 3.4 times as wide there.
                let allowed = 3.4 * allowed(method);
                assert!((got - v).abs() < allowed, "{method:?} {node} at {t}: {got}, expected {v}");
            }
        }
    }
}

fn on_a_resistive_source(load: &str, from: &str, to: &str) -> Bench {
    Bench::of(&format!(
        r#"title = "load on a resistive source"
[rail]
input = "in"
output = "out"
nominal = "3 V"
window = "20 %"
source = "V1"
load = "I1"
pass = "R1"
[parts]
V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd", voltage = "5 V" }}
R1 = {{ kind = "resistor", nodes = ["in", "out"], resistance = "10 Ω" }}
C1 = {{ kind = "capacitor", nodes = ["out", "gnd"], capacitance = "1 µF", esr = "50 mΩ" }}
I1 = {{ kind = "load", nodes = ["out", "gnd"], {load} }}
[[tests]]
name = "step"
kind = "load-step"
from = "{from}"
to = "{to}"
edge = "1 µs"
before = "0.1 ms"
hold = "0.5 ms"
repeat = 3
accuracy = "3 nV"
"#
    ))
}

/// Output with a load current that depends on it: v = 5 V − 10 Ω·i(v), by bisection.
fn level(i: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (2.5, 5.0);
    for _ in 0..60 {
        let v: f64 = 0.5 * (low + high);
        if 5.0 - 10.0 * i(v) > v { low = v } else { high = v }
    }
    low
}

/// Current in A that a load takes at a voltage.
type Law = Box<dyn Fn(f64) -> f64>;

/// Every kind of load settles where its own law meets the source's line, in each of three rounds;
/// efficiency is v/5 V where nothing else draws current, and the pass part takes (5 V − v)·i.
#[test]
fn exact_levels_powers_and_efficiency_with_each_kind_of_load() {
    let current = |amps: f64| move |v: f64| amps * (v / 0.1_f64).tanh();
    let power = |watts: f64| move |v: f64| watts * v.powi(3) / (v.powi(8) + 0.5_f64.powi(8)).sqrt();
    let cases: [(&str, &str, &str, Law, Law); 3] = [
        ("current = 0", "20 mA", "150 mA", Box::new(current(0.02)), Box::new(current(0.15))),
        ("resistance = \"1 kΩ\"", "1 kΩ", "25 Ω", Box::new(|v| v / 1e3), Box::new(|v| v / 25.0)),
        ("power = 0", "50 mW", "400 mW", Box::new(power(0.05)), Box::new(power(0.4))),
    ];
    for (load, from, to, light, heavy) in cases {
        let outcome = on_a_resistive_source(load, from, to).outcome("step", Method::Rodas4p);
        assert_eq!(outcome.excitation.edges.len(), 6);
        let (before, loaded) = (level(&light), level(&heavy));
        let amps = heavy(loaded);
        let expected = [
            ("before_level", before),
            ("loaded_level", loaded),
            ("released_level", before),
            ("static_change", loaded - before),
            // Nothing rings: the lowest and highest are the levels themselves.
            ("droop", before - loaded),
            ("headroom_minimum", 5.0 - before),
            ("pass_power_mean", (5.0 - loaded) * amps),
            ("source_current_peak", amps),
            ("efficiency", loaded / 5.0),
            ("ground_current", 0.0),
        ];
        for (name, value) in expected {
            let got = measured(&outcome, name);
            // 3 nV asked for, twice over in differences, and e^(−45) of the way still to go.
            assert!((got - value).abs() < 6e-9, "{load} {name}: {got}, expected {value}");
        }
    }
}
