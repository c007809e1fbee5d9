//! Diode and junction charge against closed forms.

use super::{assert_close, bisect, evaluate, laid, laws, limit, parameters, region};
use crate::device::temperature::thermal_voltage_v;

/// Banwell and Jayakumar, Electronics Letters 36 (2000) 291: the current of a diode behind a
/// resistance in closed form by the Lambert function; digits from a 40-digit evaluation of it.
#[test]
fn exact_diode_behind_a_resistance() {
    let rows = [
        (5.0, 1000.0, 1e-14, 1.0, 0.025, 0.004330149050323344, 0.6698509496766558),
        (1.0, 100.0, 1e-12, 1.0, 0.025852, 0.004267501425442028, 0.5732498574557972),
        (0.3, 50.0, 1e-6, 1.05, thermal_voltage_v(300.0), 0.001900849429607439, 0.204957528519628),
    ];
    for (volt, ohm, saturation, ideality, thermal, current, across) in rows {
        let set = [
            ("saturation_current", saturation),
            ("ideality", ideality),
            ("thermal_voltage", thermal),
        ];
        let net = laid("diode", &parameters("diode", &[], &set), &["a", "gnd"]);
        let law = laws(&net)[0];
        let i = |v: f64| evaluate(law, &[v]).currents[0];
        let v = bisect(0.0, volt, |v| i(v) - (volt - v) / ohm);
        assert_close(v, across, 1e-12);
        assert_close((volt - v) / ohm, current, 1e-12);
    }
}

/// Junction charge of the depletion approximation: Getreu, Modeling the Bipolar Transistor (1976), section
/// 2; digits from direct evaluation. C0 = 10 pF, potential 0.75 V, grading 0.33. Its slope, the capacitance,
/// stands in `tests/published/devices.rs`.
#[test]
fn published_junction_charge() {
    let set = [
        ("saturation_current", 1e-14),
        ("zero_bias_capacitance", 10e-12),
        ("junction_potential", 0.75),
        ("grading", 0.33),
    ];
    let net = laid("diode", &parameters("diode", &[], &set), &["a", "gnd"]);
    for (v, picocoulomb) in
        [(-5.0, -32.62602028974629), (-1.0, -8.554324297306272), (0.3, 3.244383692999559)]
    {
        let charge = evaluate(laws(&net)[0], &[v]).charges[0];
        assert_close(charge, picocoulomb * 1e-12, 1e-12);
    }
}

/// The charge has no step where the power law hands over to the straight continuation.
#[test]
fn exact_junction_charge_is_seamless() {
    let set = [("saturation_current", 1e-14), ("zero_bias_capacitance", 10e-12)];
    let net = laid("diode", &parameters("diode", &[], &set), &["a", "gnd"]);
    let at = |v: f64| evaluate(laws(&net)[0], &[v]);
    let (below, above) = (at(0.375 - 1e-9), at(0.375 + 1e-9));
    let capacitance = at(0.375).charge_slopes[0][0];
    assert_close(above.charges[0] - below.charges[0], 2e-9 * capacitance, 1e-6);
    assert_close(below.charge_slopes[0][0], above.charge_slopes[0][0], 1e-7);
}

/// Stored charge is transit time times current (charge control: Gummel, Poon 1970).
#[test]
fn exact_diffusion_charge() {
    let set = [("saturation_current", 1e-14), ("transit_time", 5e-9)];
    let net = laid("diode", &parameters("diode", &[], &set), &["a", "gnd"]);
    let all = evaluate(laws(&net)[0], &[0.7]);
    assert_close(all.charges[0], 5e-9 * all.currents[0], 1e-15);
}

/// At a grading of one the power law tends to a logarithm:
/// Q = −C0·φ·ln(1 − v/φ).
#[test]
fn exact_steepest_grading_is_the_logarithm() {
    let set = [("saturation_current", 1e-14), ("zero_bias_capacitance", 10e-12), ("grading", 1.0)];
    let net = laid("diode", &parameters("diode", &[], &set), &["a", "gnd"]);
    for v in [-10.0_f64, -1.0, 0.2] {
        let expected = -10e-12 * 0.75 * (1.0 - v / 0.75).ln();
        // A grading of 1 is taken as 0.9999, which is 1.4e-4 of the charge at −10 V.
        assert_close(evaluate(laws(&net)[0], &[v]).charges[0], expected, 2e-4);
    }
}

#[test]
fn a_newton_step_onto_a_junction_is_shortened_only_upwards() {
    let set = [("saturation_current", 1e-14), ("thermal_voltage", 0.025)];
    let net = laid("diode", &parameters("diode", &[], &set), &["a", "gnd"]);
    let law = laws(&net)[0];
    let step = |from: f64, to: f64| limit(law, &[from], &[to])[0];
    assert_eq!(step(0.7, 0.2), 0.2);
    assert_eq!(step(0.0, 0.5), 0.5);
    let far = step(0.0, 1000.0);
    assert!((0.7..1.1).contains(&far), "{far}");
    assert!(evaluate(law, &[far]).currents[0] < 1e5);
    let near = step(0.8, 0.8 + 1e-6);
    assert_close(near, 0.8 + 1e-6, 1e-9);
    // The tangent at 0.8 V and the curve carry the same current at the two ends.
    let at = evaluate(law, &[0.8]);
    let tangent = at.currents[0] + at.current_slopes[0][0] * 0.5;
    assert_close(evaluate(law, &[step(0.8, 1.3)]).currents[0], tangent, 1e-9);
}

#[test]
fn a_diode_is_on_or_off() {
    let p = parameters("diode", &[], &[("saturation_current", 1e-14)]);
    let net = laid("diode", &p, &["a", "gnd"]);
    assert_eq!(region(laws(&net)[0], &[0.6]), Some("on"));
    assert_eq!(region(laws(&net)[0], &[0.1]), Some("off"));
    assert_eq!(region(laws(&net)[0], &[-5.0]), Some("off"));
}
