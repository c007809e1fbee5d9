//! Adjustable shunt, current limit and coupled inductors against their definitions.

use super::{assert_close, evaluate, laid, laws, parameters, region};
use crate::device::temperature::overdriven_coefficient;
use crate::device::{Element, Net, Parameters};

const SHUNT: [(&str, f64); 5] = [
    ("reference_voltage", 2.5),
    ("transconductance", 3.0),
    ("full_current", 3e-3),
    ("minimum_current", 1e-3),
    ("highest_current", 60e-3),
];

fn shunt(p: &Parameters) -> Net {
    laid("adjustable-shunt", p, &["k", "r", "a"])
}

/// Cathode current and its slope at a reference pin and a cathode voltage, poles settled.
fn cathode(net: &Net, reference_v: f64, cathode_v: f64) -> (f64, f64) {
    let [input, output] = laws(net)[..] else { panic!("two laws") };
    let input = evaluate(input, &[reference_v]);
    let output = evaluate(output, &[input.currents[0] / 1e-3, cathode_v]);
    let slope = output.current_slopes[0][0] * input.current_slopes[0][0] / 1e-3;
    (output.currents[0], slope)
}

/// Full slope from `full_current` up, falling in a straight line to `minimum_current` below; by
/// definition of the keys.
#[test]
fn exact_transconductance_falls_below_the_full_current() {
    let net = shunt(&parameters("adjustable-shunt", &[], &SHUNT));
    let (ampere, siemens) = cathode(&net, 2.5, 7.5);
    // The corners of x take e^-24 away.
    assert_close(ampere, 3e-3, 1e-9);
    assert_close(siemens, 3.0, 1e-9);
    let (ampere, siemens) = cathode(&net, 2.5 + 15e-3, 7.5);
    assert_close(ampere, 48e-3, 1e-9);
    assert_close(siemens, 3.0, 1e-6);
    for below_v in [0.2e-3, 0.5e-3, 1e-3, 2e-3] {
        let (ampere, siemens) = cathode(&net, 2.5 - below_v, 7.5);
        assert_close(siemens, 3.0 * (ampere - 1e-3) / 2e-3, 1e-3);
        assert_close(ampere, 1e-3 + 2e-3 * (-3.0 * below_v / 2e-3_f64).exp(), 1e-3);
    }
}

#[test]
fn a_shunt_sinks_only_and_within_its_limits() {
    let net = shunt(&parameters("adjustable-shunt", &[], &SHUNT));
    for cathode_v in [-900.0, -1.0, 0.0, 1.0, 2.0, 2.5, 40.0] {
        for reference_v in [-900.0, 0.0, 2.49, 2.5, 2.52, 900.0] {
            let (ampere, _) = cathode(&net, reference_v, cathode_v);
            assert!((0.0..=60e-3 * (1.0 + 1e-9)).contains(&ampere), "{ampere}");
        }
    }
    assert_close(cathode(&net, 900.0, 7.5).0, 60e-3, 1e-9);
    // Its own supply, and 0.25 % of the 2 mA.
    assert_close(cathode(&net, 0.0, 7.5).0, 1.005e-3, 1e-3);
    // Half at 2 V, no more than the forced 5 mA below 1.9 V.
    assert_close(cathode(&net, 900.0, 2.0).0, 30e-3, 1e-9);
    assert!(cathode(&net, 900.0, 1.85).0 < 5e-3);
}

#[test]
fn regions_of_a_shunt_are_told_in_words() {
    let net = shunt(&parameters("adjustable-shunt", &[], &SHUNT));
    let told = |x: f64, v: f64| region(laws(&net)[1], &[x, v]);
    assert_eq!(told(-5.0, 7.5), Some("off"));
    assert_eq!(told(1.0, 7.5), Some("regulating"));
    assert_eq!(told(28.5, 7.5), Some("at its highest current"));
    assert_eq!(told(28.5, 1.95), Some("saturated"));
    assert_eq!(told(-6.0, 0.5), Some("off"));
}

#[test]
fn exact_shunt_reference_follows_temperature() {
    let set = [&SHUNT[..], &[("temperature_coefficient", 50e-6)]].concat();
    let mut p = parameters("adjustable-shunt", &[], &set);
    p.temperature_k = 298.15 + 40.0;
    assert_close(cathode(&shunt(&p), 2.5 * 1.002, 7.5).0, 3e-3, 1e-9);
}

const LIMIT: [(&str, f64); 6] = [
    ("resistance", 0.5),
    ("limit", 1.5),
    ("short_current", 0.5),
    ("fold_voltage", 8.0),
    ("steepness", 2.0),
    ("highest_current", 0.03),
];

fn limit(p: &Parameters) -> Net {
    laid("current-limit", p, &["i", "o", "g", "f", "t"])
}

/// Steering current at a sensed current, an output voltage and a voltage from `from` to `to`.
fn steered(net: &Net, ampere: f64, output_v: f64, downhill_v: f64) -> f64 {
    let asked = evaluate(laws(net)[0], &[ampere * 0.5, output_v]).currents[0] / 1e-3;
    evaluate(laws(net)[1], &[asked, downhill_v]).currents[0]
}

/// i_s = steepness·(i − L), L on the straight line from short-circuit current to limit; half way
/// between its ends the corners take e^-50 away.
#[test]
fn exact_level_folds_back_with_the_output() {
    let net = limit(&parameters("current-limit", &[], &LIMIT));
    for output_v in [1.0, 4.0, 7.0] {
        let level = 0.5 + output_v / 8.0;
        assert_close(steered(&net, level + 7.5e-3, output_v, 0.7), 15e-3, 1e-9);
    }
    // Beyond the ends: e^-100 away from the corners.
    assert_close(steered(&net, 1.5075, 12.0, 0.7), 15e-3, 1e-9);
    assert_close(steered(&net, 0.5075, -4.0, 0.7), 15e-3, 1e-9);
    // On the corners ln 2·0.5 % of 1 A, times the steepness.
    assert_close(steered(&net, 1.5075 - 0.005 * 2f64.ln(), 8.0, 0.7), 15e-3, 1e-9);
    assert_close(steered(&net, 90.0, 4.0, 0.7), 0.03, 1e-12);
    assert!(steered(&net, 0.9, 4.0, 0.7) < 1e-12);
    assert!(steered(&net, 90.0, 4.0, -5.0) < 1e-100);
}

#[test]
fn exact_limit_follows_temperature() {
    let set = [&LIMIT[..], &[("limit_temperature_coefficient", -3e-3)]].concat();
    let mut p = parameters("current-limit", &[], &set);
    p.temperature_k = 298.15 + 50.0;
    assert_close(steered(&limit(&p), 0.85 * 1.0 + 7.5e-3, 4.0, 0.7), 15e-3, 1e-9);
    p.temperature_k = 298.15 + 400.0;
    assert_eq!(overdriven_coefficient(&p), Some("limit_temperature_coefficient"));
}

#[test]
fn a_constant_limit_knows_no_output_voltage() {
    let set: Vec<_> =
        LIMIT.into_iter().filter(|(k, _)| !["short_current", "fold_voltage"].contains(k)).collect();
    let net = limit(&parameters("current-limit", &[], &set));
    for output_v in [-3.0, 0.0, 4.0, 20.0] {
        assert_close(steered(&net, 1.5075, output_v, 0.7), 15e-3, 1e-9);
    }
    let told = |ampere: f64| region(laws(&net)[0], &[0.5 * ampere, 4.0]);
    assert_eq!(told(1.51), Some("limiting"));
    assert_eq!(told(1.49), Some("not limiting"));
}

/// M = k·√(L_1·L_2); both windings keep names of their own.
#[test]
fn exact_mutual_inductance() {
    let set = [
        ("first_inductance", 4e-3),
        ("second_inductance", 1e-3),
        ("coupling", 0.9),
        ("first_resistance", 0.1),
        ("temperature_coefficient", 4e-3),
        ("second_initial", 0.5),
    ];
    let mut p = parameters("coupled-inductors", &[], &set);
    p.temperature_k = 298.15 + 50.0;
    let net = laid("coupled-inductors", &p, &["a", "b", "c", "d"]);
    let [first, second, mutual] = &net.elements[..] else { panic!("three elements") };
    let names: Vec<&str> = net.unknowns[5..].iter().map(|u| u.name.as_str()).collect();
    assert_eq!(names, ["X.first_current", "X.second_current"]);
    assert!(
        matches!(mutual.1, Element::Mutual { currents: [5, 6], henry } if (henry - 1.8e-3).abs() < 1e-18)
    );
    let Element::Branch { resistance_ohm, .. } = first.1 else { panic!("a branch") };
    assert_close(resistance_ohm, 0.12, 1e-12);
    assert!(matches!(second.1, Element::Branch { initial_a: Some(0.5), .. }));
    assert_eq!(net.noise.len(), 1);
}
