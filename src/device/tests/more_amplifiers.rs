//! Operational amplifier, transconductor and reference: figures against what their laws make of them.

use super::{assert_close, evaluate, laid, laws, parameters, region, terminal_currents};
use crate::device::{Element, Net};
use std::f64::consts::TAU;

const SET: [(&str, f64); 5] = [
    ("gain", 1e5),
    ("bandwidth", 1e6),
    ("slew_rate", 0.5e6),
    ("output_current", 15e-3),
    ("output_resistance", 80.0),
];
const NODES: [&str; 5] = ["p", "m", "out", "vin", "gnd"];

fn amplifier(more: &[(&'static str, f64)]) -> Net {
    let set = [&SET, more].concat();
    laid("operational-amplifier", &parameters("operational-amplifier", &[], &set), &NODES)
}

/// The internal capacitance, and the conductance beside it.
fn internal(net: &Net) -> (f64, f64) {
    let farad = net.elements.iter().find_map(|(_, e)| match e {
        Element::Capacitance { farad, .. } => Some(*farad),
        _ => None,
    });
    let siemens = net.elements.iter().find_map(|(_, e)| match e {
        Element::Conductance { siemens, .. } => Some(*siemens),
        _ => None,
    });
    (farad.expect("a capacitance"), siemens.expect("a conductance"))
}

/// Slew rate = largest current/C, bandwidth = g_m/(2π·C), gain = g_m/G: all three by definition.
#[test]
fn exact_slew_rate_bandwidth_and_gain_come_from_one_node() {
    for slew_rate in [1.0, 0.5e6, 2e9] {
        let net = amplifier(&[("slew_rate", slew_rate)]);
        let (farad, siemens) = internal(&net);
        let stage = laws(&net)[0];
        assert_close(evaluate(stage, &[1e9]).currents[0] / farad, slew_rate, 1e-9);
        let g_m = evaluate(stage, &[0.0]).current_slopes[0][0];
        assert_close(g_m / (TAU * farad), 1e6, 1e-12);
        assert_close(g_m / siemens, 1e5, 1e-12);
    }
}

#[test]
fn exact_gain_in_decibels() {
    let mut p = parameters("operational-amplifier", &[], &SET[1..]);
    p.numbers.insert("gain_decibels", 100.0);
    let net = laid("operational-amplifier", &p, &NODES);
    assert_close(internal(&net).1, internal(&amplifier(&[])).1, 1e-12);
}

/// An offset balances the opposite input voltage, and drifts.
#[test]
fn exact_offset() {
    let set = [&SET[..], &[("offset", 2e-3), ("offset_temperature_coefficient", 5e-6)]].concat();
    let mut p = parameters("operational-amplifier", &[], &set);
    p.temperature_k = 298.15 + 40.0;
    let net = laid("operational-amplifier", &p, &NODES);
    assert!(evaluate(laws(&net)[0], &[-2.2e-3]).currents[0].abs() < 1e-19);
    assert!(evaluate(laws(&net)[0], &[0.0]).currents[0] > 0.0);
}

/// The clamp takes the whole current of the stage within half its width of either limit, and both
/// limits close up where there is no supply.
#[test]
fn swing_follows_the_supply() {
    let net = amplifier(&[("swing_low", 0.5), ("swing_high", 1.2)]);
    let clamp = laws(&net)[1];
    let held = |v: f64, supply: f64| evaluate(clamp, &[v, supply]).currents[0];
    for supply in [5.0, 23.0] {
        let high = supply - 1.2;
        assert!(held(high + 5.5e-3, supply) > 10e-6 && held(high - 0.1, supply) < 1e-9);
        assert!(held(0.5 - 5.5e-3, supply) < -10e-6 && held(0.6, supply) > -1e-9);
        assert_eq!(region(clamp, &[high, supply]), Some("wound up at its upper swing"));
        assert_eq!(region(clamp, &[0.5, supply]), Some("wound up at its lower swing"));
        assert_eq!(region(clamp, &[2.0, supply]), None);
    }
    assert!(held(0.05, 0.0) > 10e-6 && held(-0.05, 0.0) < -10e-6);
}

/// 7 mA out of the output come from the supply, 7 mA into it go to ground: 1 % of the largest current
/// blends them, y²/√(y² + 0.01²) = |y|·(1 − 0.5·(0.01/y)²…).
#[test]
fn output_current_is_drawn_from_the_right_supply() {
    let net = amplifier(&[("supply_current", 1e-3), ("bias_current", 1e-6)]);
    // Terminals at 1 to 4 and ground at 0; the internal node at 5 drives the output at 3.
    let into = |internal: f64| {
        let x = [0.0, 2.5, 2.5, 2.0, 5.0, internal];
        terminal_currents(&net, &x)
    };
    let drive_v = 15e-3 * 80.0 * (7.0_f64 / 15.0).atanh();
    let [sourcing, sinking] = [into(2.0 + drive_v), into(2.0 - drive_v)];
    assert_close(sourcing[2], -7e-3, 1e-12);
    assert_close(sourcing[3], 8e-3, 1e-3);
    assert_close(sinking[2], 7e-3, 1e-12);
    assert_close(sinking[3], 1e-3, 1e-3);
    assert_close(sinking[0], 1e-6, 1e-6);
}

#[test]
fn exact_transconductor() {
    let set = [
        ("transconductance", 1e-3),
        ("highest_current", 1e-4),
        ("temperature_coefficient", -2e-3),
        ("output_resistance", 2e6),
    ];
    let mut p = parameters("transconductor", &[], &set);
    p.temperature_k = 298.15 + 50.0;
    let net = laid("transconductor", &p, &["p", "m", "out", "gnd", "vin"]);
    let out = |d: f64, v: f64| terminal_currents(&net, &[0.0, d, 0.0, v, 5.0])[2];
    assert_close(out(1e-7, 0.0), -0.9e-10, 1e-5);
    assert_close(out(0.05, 0.0), -1e-4 * (0.9e-3 * 0.05 / 1e-4_f64).tanh(), 1e-12);
    assert_close(out(-9.0, 0.0), 1e-4, 1e-12);
    assert_close(out(0.0, 2.0), 1e-6, 1e-12);
    let stage = laws(&net)[0];
    assert_eq!(region(stage, &[0.0]), Some("linear"));
    assert_eq!(region(stage, &[1.0]), Some("at its drive limit"));
}

/// Settled, short of headroom, and without supply; the lag is rise/ln 9 by the definition of 10 to
/// 90 % on a single lag.
#[test]
fn exact_reference_with_a_supply() {
    let set = [("voltage", 1.2), ("headroom", 0.3), ("rise", 150e-6)];
    let mut p = parameters("reference", &[], &set);
    p.numbers.insert("temperature_coefficient", 1e-3);
    p.temperature_k = 298.15 + 10.0;
    let net = laid("reference", &p, &["ref", "gnd", "vin"]);
    let core = laws(&net)[0];
    let balanced = |v: f64, supply: f64| evaluate(core, &[v, supply, 1.0]).currents[0] / 1e-3;
    assert!(balanced(1.212, 5.0).abs() < 1e-12);
    assert!(balanced(0.7, 1.0).abs() < 1e-12);
    assert!(balanced(0.0, -5.0).abs() < 1e-12);
    assert_close(internal_lag_s(&net) * 9f64.ln(), 150e-6, 1e-12);
    assert_eq!(region(core, &[1.212, 5.0, 1.0]), Some("settled"));
    assert_eq!(region(core, &[0.7, 1.0, 1.0]), Some("below its voltage"));
    // Off it goes for nothing, whatever its supply.
    assert_eq!(evaluate(core, &[0.7, 5.0, 0.0]).currents[0], 0.7 * 1e-3);
    assert_eq!(region(core, &[0.7, 5.0, 0.0]), Some("off"));
    assert_eq!(net.drives[0].initial(), 1.0);
    let alone = laid("reference", &p, &["ref", "gnd", "gnd"]);
    assert_close(alone.drives[0].initial(), 1.212, 1e-14);
}

fn internal_lag_s(net: &Net) -> f64 {
    let farad = net.elements.iter().find_map(|(_, e)| match e {
        Element::Capacitance { farad, .. } => Some(*farad),
        _ => None,
    });
    farad.expect("a capacitance") / evaluate(laws(net)[0], &[0.0, 5.0, 1.0]).current_slopes[0][0]
}
