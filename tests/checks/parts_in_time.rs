//! Coupled inductors, operational amplifier and reference in time, against closed forms; and the books
//! beside them.

#![allow(clippy::unreadable_literal)] // published digits are compared by eye with their source

use crate::bench::{BOTH, Bench};
use railstep::analysis::{Books, Method};

/// 1 V jumps onto the first winding; the second feeds 10 Ω.
fn transformer(coupling: f64) -> Bench {
    Bench::of(&format!(
        r#"title = "transformer"
[rail]
output = "s"
nominal = "1 V"
source = "V1"
[parts]
V1 = {{ kind = "voltage-source", plus = "p", minus = "gnd" }}
T1 = {{ kind = "coupled-inductors", first_start = "p", first_end = "gnd", second_start = "s", second_end = "gnd", first_inductance = "4 mH", second_inductance = "1 mH", coupling = {coupling}, first_resistance = "1 nΩ" }}
R1 = {{ kind = "resistor", nodes = ["s", "gnd"], resistance = "10 Ω" }}
[[tests]]
name = "jump"
kind = "profile"
duration = "500 µs"
accuracy = "3 nV"
source_points = [["0 s", "0 V"], ["0 s", "1 V"]]
"#
    ))
}

/// With v_1 = V the second winding gives M/L_1·V behind the leakage L_2·(1 − k²):
/// v_2 = (M·V/L_1)·(1 − e^(−t/τ)), τ = L_2·(1 − k²)/R, and
/// i_1 = V·t/L_1 + (M/L_1)·v_2/R. Closed form of the two equations. The 1 nΩ that lets the winding rest
/// at 0 V changes nothing: 1e-9·500 µs/4 mH.
#[test]
fn exact_coupled_inductors() {
    for coupling in [0.3, 0.9, 0.999] {
        let tau = 1e-3 * (1.0 - coupling * coupling) / 10.0;
        let ratio = coupling * (1e-3_f64 / 4e-3).sqrt();
        let mut times = [0.2 * tau, tau, 3.0 * tau, 150e-6];
        times.sort_by(f64::total_cmp);
        for method in BOTH {
            let run = transformer(coupling).solve("jump", method, 1e-9, &times);
            for t in times {
                let second_v = -ratio * (-t / tau).exp_m1();
                let first_a = t / 4e-3 + ratio * second_v / 10.0;
                // Ten times that of a resonant circuit's step: currents are solved as well as voltages
                // are, and 10 Ω make the voltage of one.
                let within = if method == Method::Rodas4p { 1e-7 } else { 2e-5 };
                let (v, i) = (run.at("s", t), run.at("T1.first_current", t));
                assert!((v - second_v).abs() < within, "{method:?} {coupling} {t}: {v} {second_v}");
                assert!((i - first_a).abs() < within, "{method:?} {coupling} {t}: {i} {first_a}");
            }
        }
    }
}

/// The ideal transformer: with all flux shared but 1e-6 of it the second winding has half the voltage of
/// the first at once, within its leakage of 1 mH·2e-6/10 Ω = 0.2 ns.
#[test]
fn exact_ideal_transformer_limit() {
    let run = transformer(1.0 - 1e-6).solve("jump", Method::Rodas4p, 1e-9, &[10e-9]);
    let v = run.at("s", 10e-9);
    assert!((v - 0.5).abs() < 1e-6, "{v}");
}

/// Energy goes from winding to winding through the field they share: none goes missing.
#[test]
fn the_books_of_coupled_inductors_balance() {
    for method in BOTH {
        let run = transformer(0.9).solve("jump", method, 1e-6, &[]);
        let books = Books::of(&run.system, &run.record);
        // Of a wave of 0.45 V by 1 µV.
        assert!(books.energy.passed > 0.0);
        assert!(books.energy.residual() < 1e-5, "{method:?}: {:?}", books.energy);
    }
}

/// A follower of 1 MHz and 0.5 V/µs at a jump of its input.
fn follower(from: &str, to: &str, supply: &str, gain: &str) -> Bench {
    Bench::of(&format!(
        r#"title = "follower"
[rail]
output = "out"
nominal = "1 V"
source = "V1"
[parts]
V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd", voltage = "{from}" }}
V2 = {{ kind = "voltage-source", plus = "vcc", minus = "gnd", voltage = "{supply}" }}
U1 = {{ kind = "operational-amplifier", plus = "in", minus = "out", output = "out", supply = "vcc", ground = "gnd", {gain}, bandwidth = "1 MHz", slew_rate = "0.5 V/µs", swing_low = "0.2 V", swing_high = "1.5 V", output_current = "20 mA", output_resistance = "50 Ω" }}
[[tests]]
name = "jump"
kind = "profile"
duration = "40 µs"
accuracy = "30 nV"
source_points = [["0 s", "{from}"], ["0 s", "{to}"]]
"#
    ))
}

/// A small step settles as 1 − e^(−2π·f·t): f = 1 MHz, gain 1e6 (1e-6 of the step is left). 1 mV of
/// 10 µA/(g_m) = 80 mV bends tanh by 5e-5.
#[test]
fn exact_unity_gain_bandwidth() {
    let times = [0.05e-6, 0.159154943e-6, 0.4e-6];
    let bench = follower("2 V", "2.001 V", "12 V", "gain = 1e6");
    let run = bench.solve("jump", Method::Rodas4p, 1e-8, &times);
    let start = run.at("out", 0.0);
    for t in times {
        let expected = -1e-3 * (-std::f64::consts::TAU * 1e6 * t).exp_m1();
        let found = run.at("out", t) - start;
        assert!((found - expected).abs() < 1e-7, "{t}: {found} instead of {expected}");
    }
}

/// 5 V at 0.5 V/µs: far from balance the internal node takes the whole current less what its own
/// resistance lets off: it heads for slew_rate·gain/(2π·bandwidth) = 79.6 kV with the pole's time
/// constant. tanh(d/80 mV) is 1 within 1e-9 as long as more than 0.9 V are to go.
#[test]
fn exact_slew_time() {
    let times = [1e-6, 8e-6];
    let bench = follower("2 V", "7 V", "12 V", "gain_decibels = \"120 dB\"");
    let run = bench.solve("jump", Method::Rodas4p, 1e-7, &times);
    let [from, to] = times.map(|t| run.at("out", t));
    let pole = std::f64::consts::TAU * 1e6 / 1e6;
    let rise = -(0.5e6 / pole - from) * (-pole * (times[1] - times[0])).exp_m1();
    assert!((rise - 3.5).abs() < 2e-4);
    assert!((to - from - rise).abs() < 1e-6, "{from} {to} {rise}");
}

/// The output stops 1.5 V below a supply of 8 V and 0.2 V above ground: half a width of the clamp, 5 mV,
/// is how far a fully driven stage pushes it.
#[test]
fn swing_ends_where_it_is_said_to() {
    let high = follower("2 V", "7.9 V", "8 V", "gain = 1e5").solve(
        "jump",
        Method::Rodas4p,
        1e-6,
        &[40e-6],
    );
    assert!((high.at("out", 40e-6) - 6.5).abs() < 6e-3, "{}", high.at("out", 40e-6));
    let low =
        follower("2 V", "0 V", "8 V", "gain = 1e5").solve("jump", Method::Rodas4p, 1e-6, &[40e-6]);
    assert!((low.at("out", 40e-6) - 0.2).abs() < 6e-3, "{}", low.at("out", 40e-6));
}

/// Behind a supply that comes up at once a reference rises as a single lag: 10 to 90 % in `rise` by
/// definition, so V·(1 − 9^(−t/rise)).
#[test]
fn exact_reference_rise() {
    let bench = Bench::of(
        r#"title = "reference"
[rail]
output = "ref"
nominal = "1.2 V"
source = "V1"
[parts]
V1 = { kind = "voltage-source", plus = "vin", minus = "gnd" }
R1 = { kind = "resistor", nodes = ["ref", "gnd"], resistance = "1 GΩ" }
REF = { kind = "reference", output = "ref", ground = "gnd", supply = "vin", voltage = "1.2 V", rise = "150 µs", resistance = "100 Ω" }
[[tests]]
name = "jump"
kind = "profile"
duration = "500 µs"
accuracy = "30 nV"
source_points = [["0 s", "0 V"], ["0 s", "5 V"]]
"#,
    );
    let times = [50e-6, 150e-6, 450e-6];
    let run = bench.solve("jump", Method::Rodas4p, 1e-8, &times);
    // Without supply the rounded corner leaves ln 2·10 mV, less what the other corner takes.
    let start = run.at("ref", 0.0);
    assert!((start - 6.9e-3).abs() < 1e-4, "{start}");
    for t in times {
        let left = 9f64.powf(-t / 150e-6);
        let expected = 1.2 + (start - 1.2) * left;
        // 100 Ω into 1 GΩ take 1e-7 of it.
        assert!((run.at("ref", t) - expected).abs() < 3e-7, "{t}: {}", run.at("ref", t));
    }
}
