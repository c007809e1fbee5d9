//! MOS transistor: symmetries and limits of its law, whose published currents stand in
//! `tests/published/devices.rs`.

use super::{assert_close, evaluate, laid, laws, parameters, region, terminal_currents};
use crate::device::temperature::thermal_voltage_v;
use crate::device::{Net, kind};

fn set(more: &[(&'static str, f64)]) -> Vec<(&'static str, f64)> {
    let mut set = vec![
        ("threshold", 0.5),
        ("transconductance", 1e-3),
        ("slope_factor", 1.3),
        ("thermal_voltage", thermal_voltage_v(300.0)),
    ];
    set.extend_from_slice(more);
    set
}

fn mosfet(channel: &'static str, more: &[(&'static str, f64)], nodes: [&str; 4]) -> Net {
    laid("mosfet", &parameters("mosfet", &[("channel", channel)], &set(more)), &nodes)
}

/// Voltages count from the body: lifting all three others leaves the source-referred law
/// behind, and the law in body-referred voltages is F(v_P − v_S) − F(v_P − v_D).
#[test]
fn exact_body_voltage() {
    let net = mosfet("n", &[], ["d", "g", "s", "b"]);
    let thermal = thermal_voltage_v(300.0);
    let f = |u: f64| (u / 2.0).exp().ln_1p().powi(2);
    let (v_g, v_s, v_d) = (1.9, 0.6, 2.0);
    let pinch_off = (v_g - 0.5) / 1.3;
    let scale = 2.0 * 1.3 * 1e-3 * thermal * thermal;
    let expected = scale * (f((pinch_off - v_s) / thermal) - f((pinch_off - v_d) / thermal));
    let into = terminal_currents(&net, &[0.0, v_d + 3.0, v_g + 3.0, v_s + 3.0, 3.0]);
    assert_close(into[0], expected, 1e-11);
    assert_eq!(into[0], -into[2]);
}

/// Saturation in strong inversion is β·(v_GS − V_T)²/(2n), times 1 + λ·v_DS.
#[test]
fn exact_strong_inversion_limit() {
    let net = mosfet("n", &[("output_slope", 0.02)], ["d", "g", "s", "s"]);
    let expected = 1e-3 * 4.0 / 2.6 * 1.1;
    // What weak inversion adds to the square at 2 V of overdrive is e^-30.
    assert_close(evaluate(laws(&net)[0], &[2.5, 5.0]).currents[0], expected, 1e-12);
}

/// Source and drain are alike: exchanging them turns the current round.
#[test]
fn exact_source_and_drain_are_alike() {
    let net = mosfet("n", &[("output_slope", 0.05)], ["d", "g", "s", "b"]);
    let forward = terminal_currents(&net, &[0.0, 1.3, 1.6, 0.2, 0.0]);
    let backward = terminal_currents(&net, &[0.0, 0.2, 1.6, 1.3, 0.0]);
    assert_close(forward[0], -backward[0], 1e-13);
    assert_eq!(terminal_currents(&net, &[0.0, 0.7, 1.6, 0.7, 0.0])[0], 0.0);
}

#[test]
fn a_p_channel_mirrors_an_n_channel() {
    let more = [("output_slope", 0.05), ("gate_source_capacitance", 1e-12)];
    let both = ["n", "p"].map(|channel| {
        let mut p = parameters("mosfet", &[("channel", channel)], &set(&more));
        let mut table = kind("diode").expect("a kind").defaults(300.0);
        table.numbers.insert("saturation_current", 1e-12);
        p.tables.insert("body_diode", table);
        laid("mosfet", &p, &["d", "g", "s", "b"])
    });
    for x in [[0.0, 1.3, 1.6, 0.2, 0.0], [0.0, -0.6, 0.3, 0.0, 0.0], [0.0, 0.1, 2.0, 0.0, -1.0]] {
        let n = terminal_currents(&both[0], &x);
        let p: Vec<f64> = terminal_currents(&both[1], &x.map(|v| -v)).iter().map(|i| -i).collect();
        assert_eq!(n, p);
    }
}

#[test]
fn the_body_diode_conducts_from_body_to_inner_drain() {
    let mut p = parameters("mosfet", &[("channel", "n")], &set(&[("series_resistance", 0.1)]));
    let mut table = kind("diode").expect("a kind").defaults(0.0);
    table.numbers.insert("saturation_current", 1e-12);
    p.tables.insert("body_diode", table);
    let net = laid("mosfet", &p, &["d", "g", "s", "s"]);
    let diode = laws(&net)[1];
    assert_eq!(region(diode, &[0.7]), Some("body diode on"));
    assert_eq!(region(diode, &[-3.0]), None);
    // Unknowns: d, g, s, inner drain. The transistor is off and its inner drain 0.6 V below.
    let into = terminal_currents(&net, &[0.0, -0.6, 0.0, 0.0, -0.6]);
    let expected = 1e-12 * (0.6 / thermal_voltage_v(298.15)).exp_m1();
    assert_close(into[3], expected, 1e-12);
    assert_eq!(into[0], 0.0);
}

#[test]
fn regions_are_told_in_words() {
    let net = mosfet("n", &[], ["d", "g", "s", "b"]);
    let told = |u: [f64; 3]| region(laws(&net)[0], &u);
    assert_eq!(told([1.5, 3.0, 0.0]), Some("saturated"));
    assert_eq!(told([1.5, 0.1, 0.0]), Some("ohmic"));
    assert_eq!(told([0.45, 3.0, 0.0]), Some("weak inversion"));
    assert_eq!(told([0.0, 3.0, 0.0]), Some("off"));
    assert_eq!(told([1.5, -3.0, 0.0]), Some("ohmic"));
}
