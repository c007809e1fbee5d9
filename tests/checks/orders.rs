//! Orders of convergence, measured by halving fixed steps.

use crate::bench::{BOTH, Bench, march, point_at, unknown};
use railstep::analysis::{Method, Point, operating_point};
use railstep::system::System;

fn order(method: Method) -> f64 {
    match method {
        Method::Rodas4p => 4.0,
        Method::TrBdf2 => 2.0,
    }
}

/// Slope of log error over log step, by least squares over all halvings.
fn slope(steps: &[f64], errors: &[f64]) -> f64 {
    let mean = |v: &[f64]| v.iter().map(|x| x.ln()).sum::<f64>() / v.len() as f64;
    let (mh, me) = (mean(steps), mean(errors));
    let both = steps.iter().zip(errors);
    let covariance: f64 = both.map(|(h, e)| (h.ln() - mh) * (e.ln() - me)).sum();
    covariance / steps.iter().map(|h| (h.ln() - mh).powi(2)).sum::<f64>()
}

fn measured_order(
    (system, from): (&System, &Point),
    method: Method,
    (first_h, first_count): (f64, usize),
    error: impl Fn(&Point) -> f64,
) -> f64 {
    let steps: Vec<f64> = (0..6).map(|k| first_h / f64::from(1 << k)).collect();
    let errors: Vec<f64> = steps
        .iter()
        .enumerate()
        .map(|(k, &h)| {
            let count = first_count << k;
            error(&march(system, method, from.clone(), (h, count), |_| {}))
        })
        .collect();
    slope(&steps, &errors)
}

/// y' = −y² + (sin t + 2)² + cos t with y(0) = 2, whose solution is 2 + sin t (insert it).
#[test]
fn exact_order_on_a_riccati_equation() {
    let bench = Bench::of(
        r#"title = "y' = -y^2 + (sin t + 2)^2 + cos t"
[parts]
C1 = { kind = "capacitor", nodes = ["y", "gnd"], capacitance = "1 F" }
F1 = { kind = "law", nodes = ["y", "gnd"], inputs = { y = ["y", "gnd"] }, current = "1 A * ((y / 1 V)^2 - (sin(t / 1 s) + 2)^2 - cos(t / 1 s))" }
R1 = { kind = "resistor", nodes = ["y", "gnd"], resistance = "1e30 Ω" }
[[tests]]
name = "watch"
kind = "profile"
duration = "1 s"
"#,
    );
    let system = bench.system();
    let from = point_at(&system, &system.pieces(0.1), 0.0, vec![0.0, 2.0]);
    for method in BOTH {
        let error = |end: &Point| (end.x[1] - 2.0 - end.t.sin()).abs();
        let got = measured_order((&system, &from), method, (0.2, 10), error);
        assert!((got - order(method)).abs() < 0.2, "{method:?}: {got}");
    }
}

/// A rectifying diode with junction capacitance and transit time, driven by a sine. No closed form
/// is known; the reference is RODAS4P at a sixteenth of the shortest step, whose own error is then
/// 16⁴ times smaller than the smallest one measured.
#[test]
fn a_diode_circuit_is_solved_to_the_order_of_the_formula() {
    let bench = Bench::of(
        r#"title = "rectifier"
[parts]
V1 = { kind = "voltage-source", plus = "in", minus = "gnd", voltage = "0.4 V", varies = { shape = "sine", amplitude = "0.3 V", frequency = "1 kHz" } }
R1 = { kind = "resistor", nodes = ["in", "a"], resistance = "1 kΩ" }
D1 = { kind = "diode", anode = "a", cathode = "b", saturation_current = "1 nA", ideality = 1.5, zero_bias_capacitance = "50 nF", transit_time = "20 µs" }
R2 = { kind = "resistor", nodes = ["b", "gnd"], resistance = "2 kΩ" }
C2 = { kind = "capacitor", nodes = ["b", "gnd"], capacitance = "100 nF" }
[[tests]]
name = "watch"
kind = "profile"
duration = "1 ms"
"#,
    );
    let system = bench.system();
    let rest = operating_point(&system, &system.pieces(-1.0), 0.0, None).expect("rest");
    let x = rest.z[..system.unknowns.len()].to_vec();
    let from = point_at(&system, &system.pieces(1e-6), 0.0, x);
    let nodes = ["a", "b"].map(|name| unknown(&system, name));
    let h = 20e-6;
    let reference = march(&system, Method::Rodas4p, from.clone(), (h / 512.0, 30 * 512), |_| {});
    for method in BOTH {
        let error = |end: &Point| {
            nodes.iter().map(|&u| (end.x[u] - reference.x[u]).abs()).fold(0.0, f64::max)
        };
        let got = measured_order((&system, &from), method, (h, 30), error);
        assert!((got - order(method)).abs() < 0.2, "{method:?}: {got}");
    }
}
