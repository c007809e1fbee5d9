//! The books beside every test in time: what went missing of energy and charge.

use crate::bench::{BOTH, Bench};
use railstep::analysis::{Accuracy, Books, Method};
use railstep::trial::Balance;

const BUOY: &str = include_str!("../../netlists/buoy-radio.toml");

/// The accuracy where nothing else is asked, in V.
const DEFAULT_ACCURACY_V: f64 = 10e-6;
/// What may be missing of what passed.
const OF_PASSED: f64 = 1e-5;

#[test]
fn the_books_of_every_test_of_the_buoy_balance() {
    let bench = Bench::of(BUOY);
    let names = bench.names_in_time();
    assert!(!names.is_empty());
    for (name, method) in names.iter().flat_map(|name| BOTH.map(|method| (name, method))) {
        let Balance { energy, charge } = bench.outcome(name, method).balance.expect("books");
        assert!(energy.passed > 0.0 && charge.passed > 0.0, "`{name}` by {method:?}");
        assert!(energy.residual() <= OF_PASSED, "`{name}` by {method:?}: {energy:?}");
        assert!(charge.residual() <= OF_PASSED, "`{name}` by {method:?}: {charge:?}");
        // 10 µV of voltages that swing by 20 mV and more, and back.
        let of_stored = DEFAULT_ACCURACY_V / 20e-3;
        assert!(energy.residual_of_stored() <= of_stored, "`{name}` by {method:?}: {energy:?}");
        assert!(charge.residual_of_stored() <= of_stored, "`{name}` by {method:?}: {charge:?}");
    }
}

/// A capacitor that holds 1 % more than the equations were solved with.
#[test]
fn a_wrong_charge_shows_in_the_books() {
    let right = Bench::of(BUOY);
    let text = BUOY.replacen(r#"value = "4.7 µF""#, r#"value = "4.747 µF""#, 1);
    assert_ne!(text, BUOY);
    for method in BOTH {
        let tolerance_v = method.node_tolerance_v(Accuracy(DEFAULT_ACCURACY_V));
        let run = right.solve("transmit burst", method, tolerance_v, &[]);
        let other = Bench::of(&text).solve("transmit burst", method, 1e-3, &[]);
        let sound = Books::of(&run.system, &run.record);
        let wrong = Books::of(&other.system, &run.record);
        let plate = run.system.unknowns.iter().position(|u| u.name == "C_OUT.plate").unwrap();
        // 1 % of a swing against 10 µV of 20 mV, the most that a sound run may miss.
        let (before, after) = (sound.charge[plate], wrong.charge[plate]);
        assert!(after.worst > 10.0 * before.worst, "{method:?}: {before:?} {after:?}");
        assert!(
            wrong.energy.worst > 3.0 * sound.energy.worst,
            "{method:?}: {:?} {:?}",
            sound.energy,
            wrong.energy
        );
    }
}

/// What is missing is an error of the waveform and of its integral, not of the books: it goes away
/// with the tolerance, the body diode's charge and the gate's included.
#[test]
fn tighter_tolerances_leave_less_missing() {
    let bench = Bench::of(BUOY);
    let missing = |node_tolerance_v: f64| {
        let run = bench.solve("transmit burst", Method::Rodas4p, node_tolerance_v, &[]);
        Books::of(&run.system, &run.record).energy.residual()
    };
    let (loose, tight) = (missing(1e-4), missing(1e-8));
    assert!(tight < 0.1 * loose, "{loose:e} {tight:e}");
    // 10 nV of 2.8 V is 4e-9.
    assert!(tight < 4e-9, "{tight:e}");
}
