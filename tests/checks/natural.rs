//! Natural frequencies against closed forms and against dense eigenvalues of nalgebra.

#![allow(clippy::format_push_string)] // a short netlist, written once

use super::bench::Bench;
use nalgebra::{Complex, DMatrix};
use railstep::analysis::operating_point;
use railstep::analysis::small_signal::{Natural, SmallSignal, WireState};

fn natural(bench: &Bench) -> Vec<Natural> {
    let system = bench.system();
    let rest = operating_point(&system, &system.pieces(-1.0), 0.0, None).expect("rest");
    SmallSignal::new(&system, &rest.z).natural_frequencies().expect("few unknowns")
}

/// A ladder of N equal sections: s_j = −(4/RC)·sin²((2j−1)π/(2(2N+1))).
#[test]
fn exact_poles_of_a_uniform_ladder() {
    const N: usize = 5;
    let mut text = String::from(
        "title = \"net\"\n[parts]\nV = { kind = \"voltage-source\", plus = \"n_0\", minus = \"gnd\", voltage = \"1 V\" }\n",
    );
    for k in 1..=N {
        text += &format!(
            "R_{k} = {{ kind = \"resistor\", nodes = [\"n_{}\", \"n_{k}\"], resistance = \"2 kΩ\" }}\n",
            k - 1
        );
        text += &format!(
            "C_{k} = {{ kind = \"capacitor\", nodes = [\"n_{k}\", \"gnd\"], capacitance = \"3 nF\" }}\n"
        );
    }
    let found = natural(&Bench::of(&text));
    assert_eq!(found.len(), N);
    for (j, pole) in (1..=N).zip(&found) {
        let angle = (2 * j - 1) as f64 * std::f64::consts::PI / (2 * (2 * N + 1)) as f64;
        let expected = -4.0 / (2e3 * 3e-9) * angle.sin().powi(2);
        assert!((pole.s.re / expected - 1.0).abs() < 1e-11 && pole.s.im == 0.0, "{pole:?}");
        // All shares together are the pole itself.
        assert!((pole.owners.iter().map(|(_, share)| share).sum::<f64>() - 1.0).abs() < 1e-9);
    }
}

/// Series RLC: s = −R/2L ± j·√(1/LC − (R/2L)²). Both of its stores own it equally.
#[test]
fn exact_poles_of_a_resonant_circuit() {
    let text = r#"title = "net"
[parts]
V = { kind = "voltage-source", plus = "a", minus = "gnd", voltage = "1 V" }
R = { kind = "resistor", nodes = ["a", "b"], resistance = "0.4 Ω" }
L = { kind = "inductor", nodes = ["b", "c"], inductance = "10 µH" }
C = { kind = "capacitor", nodes = ["c", "gnd"], capacitance = "10 µF" }
"#;
    let found = natural(&Bench::of(text));
    assert_eq!(found.len(), 1);
    let pole = &found[0];
    let expected = Complex::new(-2e4, 97_979.589_711_327_12);
    assert!((pole.s - expected).norm() < 1e-7, "{pole:?}");
    assert!((pole.damping() - 0.2).abs() < 1e-12);
    let share = pole.owners[0].1;
    assert!((share - pole.owners[1].1).abs() < 1e-9 && share > 0.5, "{:?}", pole.owners);
}

/// Nets of random resistors, each node with a capacitor: eigenvalues of −C⁻¹·G by nalgebra, from
/// matrices stamped here.
#[test]
fn exact_natural_frequencies_are_the_dense_eigenvalues_of_random_nets() {
    let mut state = 20_261_125_u64;
    let mut draw = || {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    for net in 0..20 {
        let nodes = 3 + net % 8;
        let (mut g, mut c) = (DMatrix::<f64>::zeros(nodes, nodes), DMatrix::zeros(nodes, nodes));
        let mut text = String::from("title = \"net\"\n[parts]\n");
        let name = |k: usize| if k == nodes { "gnd".to_owned() } else { format!("n_{k}") };
        for a in 0..nodes {
            for b in a + 1..=nodes {
                if b != a + 1 && draw() < 0.5 {
                    continue;
                }
                let (ohm, farad) = (10f64.powf(5.0 * draw()), 10f64.powf(-12.0 + 6.0 * draw()));
                let pair = format!("nodes = [\"{}\", \"{}\"]", name(a), name(b));
                text += &format!(
                    "R_{a}_{b} = {{ kind = \"resistor\", {pair}, resistance = \"{ohm:e} Ω\" }}\n"
                );
                stamp(&mut g, a, b, 1.0 / ohm);
                if b == nodes || draw() < 0.3 {
                    text += &format!(
                        "C_{a}_{b} = {{ kind = \"capacitor\", {pair}, capacitance = \"{farad:e} F\" }}\n"
                    );
                    stamp(&mut c, a, b, farad);
                }
            }
            let farad = 10f64.powf(-12.0 + 6.0 * draw());
            text += &format!(
                "C_G_{a} = {{ kind = \"capacitor\", nodes = [\"n_{a}\", \"gnd\"], capacitance = \"{farad:e} F\" }}\n"
            );
            stamp(&mut c, a, nodes, farad);
        }
        // Symmetric: L⁻¹·G·L⁻ᵀ with C = L·Lᵀ has the same eigenvalues, all real.
        let lower = c.cholesky().expect("positive").l();
        let inner = lower.solve_lower_triangular(&g).expect("regular");
        let symmetric = lower.solve_lower_triangular(&inner.transpose()).expect("regular");
        let mut expected: Vec<f64> = symmetric.symmetric_eigenvalues().iter().map(|x| -x).collect();
        expected.sort_by(|a, b| b.total_cmp(a));
        let found = natural(&Bench::of(&text));
        assert_eq!(
            found.len(),
            nodes,
            "{:?} {expected:?}",
            found.iter().map(|n| n.s.re).collect::<Vec<_>>()
        );
        // A symmetric solver is good to rounding of the LARGEST eigenvalue.
        let fastest = expected.last().expect("some").abs();
        for (pole, expected) in found.iter().zip(&expected) {
            let allowed = 1e-9 * expected.abs() + 1e-13 * fastest;
            assert!((pole.s.re - expected).abs() < allowed, "{} {expected}", pole.s);
            assert!(pole.s.im.abs() < allowed);
        }
    }
}

fn stamp(matrix: &mut DMatrix<f64>, a: usize, b: usize, value: f64) {
    matrix[(a, a)] += value;
    if b < matrix.nrows() {
        matrix[(b, b)] += value;
        matrix[(a, b)] -= value;
        matrix[(b, a)] -= value;
    }
}

/// One amplifier with a pole at 1 kHz and a network that adds a pole and a zero: known by hand.
#[test]
fn exact_poles_and_zeros_of_a_loop_gain() {
    let text = r#"title = "loop"
[rail]
output = "o"
nominal = "1 V"
feedback = "E.sense"
[parts]
V_R = { kind = "voltage-source", plus = "r", minus = "gnd", voltage = "1 V" }
V_S = { kind = "voltage-source", plus = "s", minus = "gnd", voltage = "5 V" }
E = { kind = "error-amplifier", reference = "r", sense = "o", output = "g", supply = "s", ground = "gnd", transconductance = "1 mS", stage_current = "1 A", stage_resistance = "100 kΩ", stage_capacitance = "1.5915494309189535 nF", stage = "voltage", output_resistance = "1 mΩ", drive_current = "1000 A" }
R = { kind = "resistor", nodes = ["g", "o"], resistance = "1 kΩ" }
C = { kind = "capacitor", nodes = ["o", "gnd"], capacitance = "1.5915494309189535 nF", esr = "10 Ω" }
"#;
    let (system, wire) = Bench::of(text).bridged();
    let rest = operating_point(&system, &system.pieces(-1.0), 0.0, None).expect("rest");
    let small = SmallSignal::new(&system, &rest.z);
    let hz = |state| -> Vec<(f64, String)> {
        let found = small.with_wire(wire, state).natural_frequencies().expect("few");
        found.iter().map(|n| (n.frequency_hz(), n.owners[0].0.clone())).collect()
    };
    // 1/(2π·100 kΩ·C) = 1 kHz; the swing clamps and the sources' resistances shift it by less
    // than a millionth. 1/(2π·(1 kΩ + 1 mΩ + 10 Ω)·C) and 1/(2π·10 Ω·C) = 10 MHz.
    let (poles, zeros) = (hz(WireState::Cut), hz(WireState::NothingReturns));
    assert!((poles[0].0 / 1e3 - 1.0).abs() < 1e-6 && poles[0].1 == "E", "{poles:?}");
    assert!((poles[1].0 / (1e8 / 1010.001) - 1.0).abs() < 1e-6 && poles[1].1 == "C", "{poles:?}");
    assert_eq!(poles.len(), 2, "{poles:?}");
    assert!((zeros[0].0 / 1e7 - 1.0).abs() < 1e-6 && zeros[0].1 == "C", "{zeros:?}");
    assert_eq!(zeros.len(), 1, "{zeros:?}");
}

/// Two times an RC beside a source: −1/RC of each, whether they are far apart, close or equal. Poles that lie
/// closer than the polishing strays would both go to the same one.
#[test]
fn exact_poles_close_to_one_another_and_equal_ones_are_all_found() {
    for share in [1.0, 1.0 + 1e-6, 1.04, 2.0] {
        let mut text = String::from(
            "title = \"net\"\n[parts]\nV = { kind = \"voltage-source\", plus = \"n_0\", minus = \"gnd\", voltage = \"1 V\" }\n",
        );
        for (k, farad) in [(1, 1e-9), (2, 1e-9 / share)] {
            text += &format!(
                "R_{k} = {{ kind = \"resistor\", nodes = [\"n_0\", \"n_{k}\"], resistance = \"1 kΩ\" }}\n\
                C_{k} = {{ kind = \"capacitor\", nodes = [\"n_{k}\", \"gnd\"], capacitance = \"{farad:e} F\" }}\n"
            );
        }
        let found: Vec<f64> = natural(&Bench::of(&text)).iter().map(|pole| pole.s.re).collect();
        assert_eq!(found.len(), 2, "{share}: {found:?}");
        for (got, expected) in found.iter().zip([-1e6, -1e6 * share]) {
            assert!((got / expected - 1.0).abs() < 1e-9, "{share}: {found:?}");
        }
    }
}
