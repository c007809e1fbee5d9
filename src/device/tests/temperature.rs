//! Temperature laws.

use super::{assert_close, bisect, evaluate, laid, laws, parameters, terminal_currents};
use crate::device::temperature::{SMALLEST_FACTOR, overdriven_coefficient, thermal_voltage_v};
use crate::device::{Drive, Element, Parameters};

fn junction_at(ideality: f64, kelvin: f64) -> Parameters {
    let saturation = 1e-3 / (0.65 / (ideality * thermal_voltage_v(300.15))).exp_m1();
    let set =
        [("saturation_current", saturation), ("ideality", ideality), ("characterised_at", 300.15)];
    Parameters { temperature_k: kelvin, ..parameters("diode", &[], &set) }
}

/// Slope of the forward voltage at constant current in V/K, by a central difference.
fn slope_v_per_k(ideality: f64) -> f64 {
    let forward = |kelvin: f64| {
        let net = laid("diode", &junction_at(ideality, kelvin), &["a", "gnd"]);
        bisect(0.0, 1.0, |v| evaluate(laws(&net)[0], &[v]).currents[0] - 1e-3)
    };
    (forward(300.15 + 0.05) - forward(300.15 - 0.05)) / 0.1
}

/// dV/dT = (V − (E_g + X·U_T))/T at constant current: −1.791087047672784 mV/K at 0.65 V, E_g =
/// 1.11 V, X = 3, 300.15 K (Getreu 1976).
#[test]
fn published_forward_voltage_over_temperature() {
    // The difference over 0.1 K is good to some 1e-8; the −1 of the exponential is 1e-11.
    assert_close(slope_v_per_k(1.0), -1.791087047672784e-3, 1e-7);
}

/// With ideality n the forward voltage still heads for the bandgap at 0 K, from X·U_T above it:
/// the n-th root of the ratio leaves (V − (E_g + X·U_T))/T as it is.
#[test]
fn exact_forward_voltage_heads_for_the_bandgap_at_any_ideality() {
    assert_close(slope_v_per_k(1.7), -1.791087047672784e-3, 1e-6);
}

#[test]
fn exact_linear_coefficients() {
    let at = |kelvin: f64, name: &'static str, set: &[(&'static str, f64)], nodes: &[&str]| {
        let p = Parameters { temperature_k: kelvin, ..parameters(name, &[], set) };
        laid(name, &p, nodes)
    };
    let coefficient = ("temperature_coefficient", 4e-3);
    let resistor = at(348.15, "resistor", &[("resistance", 100.0), coefficient], &["a", "gnd"]);
    assert_close(terminal_currents(&resistor, &[0.0, 12.0])[0], 0.1, 1e-14);
    let capacitor = at(348.15, "capacitor", &[("capacitance", 1e-6), coefficient], &["a", "gnd"]);
    assert!(matches!(capacitor.elements[0].1,
        Element::Capacitance { farad, .. } if (farad - 1.2e-6).abs() < 1e-20));
    let set = [("inductance", 1e-6), ("series_resistance", 0.1), coefficient];
    let inductor = at(348.15, "inductor", &set, &["a", "gnd"]);
    assert!(matches!(inductor.elements[0].1,
        Element::Branch { resistance_ohm, .. } if (resistance_ohm - 0.12).abs() < 1e-15));
    let source = at(348.15, "voltage-source", &[("voltage", 1.2), coefficient], &["a", "gnd"]);
    assert_close(source.drives[0].constant, 1.44, 1e-14);
    let set = [("voltage", 1.2), coefficient];
    let asked = Parameters {
        temperature_k: 348.15,
        drive: Some(Drive::constant(3.0)),
        ..parameters("voltage-source", &[], &set)
    };
    assert_eq!(laid("voltage-source", &asked, &["a", "gnd"]).drives[0].constant, 3.0);
}

#[test]
fn exact_gain_threshold_and_mobility() {
    let set = [
        ("saturation_current", 1e-14),
        ("forward_gain", 100.0),
        ("forward_gain_temperature_coefficient", 5e-3),
    ];
    let p = parameters("bipolar", &[("polarity", "npn")], &set);
    let net = laid("bipolar", &Parameters { temperature_k: 338.15, ..p }, &["c", "b", "e"]);
    let at = evaluate(laws(&net)[0], &[0.55, 0.0]);
    assert_close(at.currents[0] / at.currents[1], 120.0, 1e-12);

    let set = [
        ("threshold", 0.7),
        ("transconductance", 1e-3),
        ("threshold_temperature_coefficient", -2e-3),
    ];
    let p = parameters("mosfet", &[("channel", "n")], &set);
    let net = laid("mosfet", &Parameters { temperature_k: 348.15, ..p }, &["d", "g", "s", "s"]);
    let beta = 1e-3 * (348.15_f64 / 298.15).powf(-1.5);
    let expected = beta * 2.4_f64.powi(2) / 2.6;
    assert_close(evaluate(laws(&net)[0], &[3.0, 5.0]).currents[0], expected, 1e-12);
}

#[test]
fn a_given_thermal_voltage_stands_at_any_temperature() {
    let set = [("saturation_current", 1e-14), ("thermal_voltage", 0.026), ("bandgap", 1.11)];
    let p = parameters("diode", &[], &set);
    let net = laid("diode", &p, &["a", "gnd"]);
    let expected = 1e-14 * (0.6_f64 / 0.026).exp_m1();
    assert_close(evaluate(laws(&net)[0], &[0.6]).currents[0], expected, 1e-12);
}

#[test]
fn a_coefficient_cannot_turn_a_resistance_over() {
    let set = [("resistance", 100.0), ("temperature_coefficient", -0.02)];
    let p = Parameters { temperature_k: 400.0, ..parameters("resistor", &[], &set) };
    assert_eq!(overdriven_coefficient(&p), Some("temperature_coefficient"));
    let net = laid("resistor", &p, &["a", "gnd"]);
    assert_close(terminal_currents(&net, &[0.0, 1.0])[0], 0.01 / SMALLEST_FACTOR, 1e-12);
    assert_eq!(overdriven_coefficient(&parameters("resistor", &[], &set)), None);
}

#[test]
fn no_temperature_makes_anything_but_a_number() {
    for kelvin in [0.0, 1e-300, 4.0, 5e3, 1e300] {
        let diode = [("saturation_current", 1e-14), ("ideality", 1.7)];
        let channel = [("threshold", 0.5), ("transconductance", 1e-3)];
        let bipolar = [("saturation_current", 1e-14), ("forward_gain", 100.0)];
        let parts = [
            ("diode", parameters("diode", &[], &diode), vec!["a", "b"]),
            (
                "mosfet",
                parameters("mosfet", &[("channel", "n")], &channel),
                vec!["d", "g", "s", "s"],
            ),
            (
                "bipolar",
                parameters("bipolar", &[("polarity", "npn")], &bipolar),
                vec!["c", "b", "e"],
            ),
        ];
        for (name, p, nodes) in parts {
            let net = laid(name, &Parameters { temperature_k: kelvin, ..p }, &nodes);
            let inputs = nodes.len().min(3) - 1;
            let e = evaluate(laws(&net)[0], &[0.7, 0.3][..inputs]);
            let all = e.currents.iter().chain(e.current_slopes.iter().flatten());
            assert!(all.into_iter().all(|x| x.is_finite()), "{name} at {kelvin} K: {e:?}");
        }
    }
}
