//! Laws on a heat path against the same laws at a constant temperature.

use super::{Evaluated, evaluate, laid, laws, parameters};
use crate::device::{Element, GROUND, HeatedBy, Input, Net, Nonlinear, kind};

const AMBIENT_K: f64 = 310.0;
const JUNCTION: usize = 1;

type Keys = [(&'static str, f64)];
type Words = [(&'static str, &'static str)];
/// Points of a law's inputs, and the voltage that each of its currents falls through there.
type Branches<'a> = (&'a [&'a [f64]], &'a dyn Fn(&[f64]) -> Vec<f64>);

fn part(name: &str, words: &Words, set: &Keys, nodes: &[&str], at: Result<f64, HeatedBy>) -> Net {
    let mut p = parameters(name, words, set);
    match at {
        Ok(kelvin) => p.temperature_k = kelvin,
        Err(by) => (p.temperature_k, p.heated_by) = (by.ambient_k, Some(by)),
    }
    if name == "mosfet" {
        let mut table = kind("diode").expect("a kind").defaults(300.0);
        table.numbers.insert("saturation_current", 1e-12);
        p.tables.insert("body_diode", table);
    }
    laid(name, &p, nodes)
}

fn close(a: f64, b: f64, what: &str) {
    assert!((a - b).abs() <= 1e-12 * a.abs().max(b.abs()) + 1e-300, "{what}: {a:e} and {b:e}");
}

/// Both forms share their formulas but for the lifting of constants, so they agree to rounding;
/// the heat is the sum of voltage times current.
#[test]
fn a_law_on_a_heat_path_is_the_plain_law_at_that_temperature_and_makes_its_power() {
    let bipolar = [
        ("saturation_current", 1e-14),
        ("forward_gain", 100.0),
        ("forward_gain_temperature_coefficient", 5e-3),
        ("early_voltage", 50.0),
        ("base_leakage_current", 1e-12),
        ("transit_time", 1e-9),
    ];
    let mosfet = [
        ("threshold", 0.5),
        ("transconductance", 1e-3),
        ("threshold_temperature_coefficient", -2e-3),
    ];
    let diode = [("saturation_current", 1e-14), ("ideality", 1.4)];
    let cases: [(&str, &Words, &Keys, &[&str]); 5] = [
        ("bipolar", &[("polarity", "npn")], &bipolar, &["c", "b", "e"]),
        ("mosfet", &[("channel", "p")], &mosfet, &["d", "g", "s", "s"]),
        ("mosfet", &[("channel", "n")], &mosfet, &["d", "g", "s", "b"]),
        ("diode", &[], &diode, &["a", "b"]),
        ("diode", &[], &[("saturation_current", 1e-14), ("transit_time", 1e-9)], &["a", "b"]),
    ];
    let by = HeatedBy { junction: JUNCTION, ambient_k: AMBIENT_K };
    for (name, words, set, nodes) in cases {
        for rise in [-30.0, 0.0, 45.0, 160.0] {
            let plain = part(name, words, set, nodes, Ok(AMBIENT_K + rise));
            let warm = part(name, words, set, nodes, Err(by));
            let (plain, warm) = (laws(&plain), laws(&warm));
            assert_eq!(plain.len(), warm.len(), "{name}");
            for (plain, warm) in plain.iter().zip(&warm) {
                let volts = [0.62, -1.5, -0.2];
                let inputs = input_count(plain);
                let u = &volts[..inputs];
                let warm = evaluate(warm, &[u, &[rise]].concat());
                let plain = evaluate(plain, u);
                for (a, b) in plain.currents.iter().zip(&warm.currents) {
                    close(*a, *b, name);
                }
                for (a, b) in plain.charges.iter().zip(&warm.charges) {
                    close(*a, *b, name);
                }
                let across: Vec<f64> = match (inputs, plain.currents.len()) {
                    (2, 3) => vec![u[0] - u[1], u[0], u[1]],
                    (1, 1) => vec![u[0]],
                    _ => vec![u[1]],
                };
                let watt: f64 = plain.currents.iter().zip(&across).map(|(i, v)| i * v).sum();
                close(watt, warm.currents[plain.currents.len()], "heat");
            }
        }
    }
}

fn input_count(law: &crate::device::Nonlinear) -> usize {
    struct Count;
    impl crate::device::Visitor for Count {
        type Output = usize;
        fn visit<
            L: crate::device::Law<f64, N, M, K>,
            const N: usize,
            const M: usize,
            const K: usize,
        >(
            self,
            _: &L,
        ) -> usize {
            N
        }
    }
    law.visit(Count)
}

/// Zeners and shunts: each law at points on all its branches, and the voltage that each current
/// falls through.
#[test]
fn a_zener_and_a_shunt_on_a_heat_path_are_the_plain_ones_and_make_their_power() {
    let zener = [
        ("breakdown_voltage", 9.1),
        ("test_current", 5e-3),
        ("resistance", 12.0),
        ("voltage_temperature_coefficient", 4.9e-3),
    ];
    let soft = [
        ("breakdown_voltage", 2.7),
        ("test_current", 5e-3),
        ("resistance", 300.0),
        ("knee_current", 3e-3),
        ("voltage_temperature_coefficient", -2e-3),
        ("zero_bias_capacitance", 1e-10),
    ];
    let shunt = [
        ("reference_voltage", 2.5),
        ("temperature_coefficient", 50e-6),
        ("transconductance", 3.0),
        ("full_current", 3e-3),
        ("minimum_current", 1e-3),
        ("highest_current", 60e-3),
        ("reference_current", 2e-6),
    ];
    let in_breakdown: &[&[f64]] = &[&[-9.6], &[-9.1], &[-3.0], &[-2.7], &[0.0], &[0.6]];
    let at_reference: &[&[f64]] = &[&[0.0], &[2.499], &[2.5], &[2.51]];
    let at_output: &[&[f64]] = &[&[-2.0, 5.0], &[0.0, 2.0], &[10.0, 7.5]];
    let taken: &[&[f64]] = &[&[0.1, 2e-6], &[2.5, 2e-6]];
    let of_zener: Branches<'_> = (in_breakdown, &|u| vec![-u[0], u[0]]);
    let cases: [(&str, &Keys, &[&str], Vec<_>); 3] = [
        ("zener", &zener, &["a", "k"], vec![of_zener]),
        ("zener", &soft, &["a", "k"], vec![of_zener]),
        (
            "adjustable-shunt",
            &shunt,
            &["k", "r", "a"],
            vec![
                (at_reference, &|_| vec![0.0]),
                (at_output, &|u| vec![u[1]]),
                (taken, &|u| vec![u[0]]),
            ],
        ),
    ];
    let by = HeatedBy { junction: JUNCTION, ambient_k: AMBIENT_K };
    for (name, set, nodes, points) in cases {
        for rise in [-30.0, 0.0, 45.0, 160.0] {
            let plain = part(name, &[], set, nodes, Ok(AMBIENT_K + rise));
            let warm = part(name, &[], set, nodes, Err(by));
            let (plain, warm) = (laws(&plain), laws(&warm));
            assert_eq!((plain.len(), warm.len()), (points.len(), points.len()), "{name}");
            for ((plain, warm), (points, across)) in plain.iter().zip(&warm).zip(&points) {
                for u in *points {
                    same_but_for_heat(name, plain, warm, u, rise, &across(u));
                }
            }
        }
    }
}

fn same_but_for_heat(
    what: &str,
    plain: &Nonlinear,
    warm: &Nonlinear,
    u: &[f64],
    rise: f64,
    across: &[f64],
) {
    let (plain, warm) = (evaluate(plain, u), evaluate(warm, &[u, &[rise]].concat()));
    let all = |e: &Evaluated, count: usize| [&e.currents[..count], &e.charges[..]].concat();
    let count = plain.currents.len();
    for (a, b) in all(&plain, count).iter().zip(&all(&warm, count)) {
        close(*a, *b, what);
    }
    assert_eq!(across.len(), count, "{what}");
    let watt: f64 = plain.currents.iter().zip(across).map(|(i, v)| i * v).sum();
    close(watt, warm.currents[count], "heat");
}

/// A part's series resistances heat its junction too.
#[test]
fn every_current_of_a_part_on_a_heat_path_makes_heat_in_its_junction() {
    let by = HeatedBy { junction: JUNCTION, ambient_k: AMBIENT_K };
    let set = [
        ("saturation_current", 1e-14),
        ("forward_gain", 100.0),
        ("base_resistance", 5.0),
        ("emitter_resistance", 0.1),
        ("collector_resistance", 0.2),
        ("base_leakage_current", 1e-12),
    ];
    let net = part("bipolar", &[("polarity", "pnp")], &set, &["c", "b", "e"], Err(by));
    assert_eq!(net.elements.len(), 5);
    for (_, element) in &net.elements {
        let Element::Law { inputs, currents, .. } = element else { panic!("{element:?}") };
        assert_eq!(inputs.last(), Some(&Input::Between(JUNCTION, GROUND)));
        let heat = currents.last().expect("heat").map(|pin| (pin.unknown, pin.terminal));
        assert_eq!(heat, [(GROUND, None), (JUNCTION, None)]);
    }
}
