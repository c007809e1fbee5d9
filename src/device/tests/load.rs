//! Loads against their definitions.

use super::{assert_close, evaluate, laid, laws, parameters, terminal_currents};
use crate::device::{Drive, Law, ResistanceLoad};

/// Current of a load at a voltage, with its level from the key or from a drive.
fn current(key: &'static str, level: f64, v: f64, more: &[(&'static str, f64)]) -> f64 {
    let mut set = vec![(key, level)];
    set.extend_from_slice(more);
    let net = laid("load", &parameters("load", &[], &set), &["a", "gnd"]);
    let into = terminal_currents(&net, &[0.0, v]);
    assert_eq!(into[0], -into[1]);
    into[0]
}

/// i = I·tanh(v/fade), fade 0.1 V by default.
#[test]
fn exact_constant_current() {
    assert_eq!(current("current", 0.15, 2.8, &[]), 0.15);
    assert_close(current("current", 0.15, 0.05, &[]), 0.15 * 0.5_f64.tanh(), 1e-15);
    assert_close(current("current", 0.15, -0.05, &[]), -0.15 * 0.5_f64.tanh(), 1e-15);
    assert_close(current("current", 0.15, 0.05, &[("fade", 0.05)]), 0.15 * 1_f64.tanh(), 1e-15);
}

#[test]
fn exact_resistance() {
    assert_eq!(current("resistance", 50.0, 2.5, &[]), 0.05);
    assert_eq!(current("resistance", 50.0, 0.0, &[]), 0.0);
}

/// i = P·v³/√(v⁸ + v_min⁸): 0.2 % below P/v at twice v_min, namely 1/√(1 + 2^-8).
#[test]
fn exact_constant_power() {
    let law = |v: f64| 0.4 * v.powi(3) / (v.powi(8) + 0.5_f64.powi(8)).sqrt();
    for v in [-3.0, -0.5, -0.2, 0.0, 1e-3, 0.1, 0.4999, 0.5, 0.5001, 1.0, 2.8, 12.0] {
        let i = current("power", 0.4, v, &[]);
        assert!((i - law(v)).abs() <= 1e-15 * law(v).abs(), "{i} at {v} V");
    }
    let missing = 1.0 - current("power", 0.4, 1.0, &[]) / 0.4;
    assert_close(missing, 1.0 - 1.0 / (1.0 + 1.0 / 256.0_f64).sqrt(), 1e-12);
    assert!((0.0019..0.0021).contains(&missing));
}

#[test]
fn a_drive_takes_the_place_of_the_level() {
    let mut p = parameters("load", &[], &[("current", 1e-3)]);
    p.drive = Some(Drive::points(vec![(0.0, 0.2), (1e-6, 0.3)]));
    let net = laid("load", &p, &["a", "gnd"]);
    assert_eq!(net.parts[0].drive, Some(0));
    assert_eq!(terminal_currents(&net, &[0.0, 5.0])[0], 0.2);
    let both = evaluate(laws(&net)[0], &[5.0, 0.25]);
    assert_eq!((both.currents[0], both.current_slopes[0][1]), (0.25, 1.0));
}

#[test]
fn only_a_resistance_ties_its_ends_together() {
    let resistive = |key: &'static str| {
        let net = laid("load", &parameters("load", &[], &[(key, 1.0)]), &["a", "gnd"]);
        laws(&net)[0].resistive()
    };
    assert_eq!(resistive("current"), [false]);
    assert_eq!(resistive("power"), [false]);
    assert_eq!(resistive("resistance"), [true]);
}

#[test]
fn a_resistance_driven_to_zero_stays_finite() {
    let load = ResistanceLoad { four_kt: 1.6e-20 };
    let (current, _) = load.evaluate(&[1.0, 0.0]);
    assert!(current[0].is_finite() && load.noise(&[1.0, 0.0])[0].white.is_finite());
}
