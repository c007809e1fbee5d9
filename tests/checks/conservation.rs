//! Charge, current and energy: what must balance in every circuit at every accepted step.

use crate::bench::{BOTH, Bench, NoFiles, march, point_at, unknown};
use railstep::analysis::Point;
use railstep::circuit::{self, Changes};
use railstep::system::System;

/// A node held by charges alone keeps their sum. Such a node has no rest of its own, so it is
/// stepped from a given point rather than through a test.
#[test]
fn exact_charge_of_a_floating_island_is_kept() {
    let text = r#"title = "island"
[parts]
V1 = { kind = "voltage-source", plus = "in", minus = "gnd", voltage = "1 V", varies = { shape = "sine", amplitude = "2 V", frequency = "1 kHz" } }
R1 = { kind = "resistor", nodes = ["in", "a"], resistance = "1 kΩ" }
C1 = { kind = "capacitor", nodes = ["a", "m"], capacitance = "220 nF" }
Q1 = { kind = "law", nodes = ["m", "b"], inputs = { v = ["m", "b"] }, charge = "100 nF * (v + 0.3 V * tanh(v / 0.4 V) + 0.1 1/V * v^2)" }
R2 = { kind = "resistor", nodes = ["b", "gnd"], resistance = "3.3 kΩ" }
C2 = { kind = "capacitor", nodes = ["m", "gnd"], capacitance = "47 nF" }
"#;
    let circuit = circuit::read("island.toml", text, &NoFiles).circuit.expect("a sound file");
    let variant = circuit.variant(&Changes::default()).expect("sound values");
    let system = System::build(&variant.net(&[]));
    let mut x = vec![0.0; system.unknowns.len()];
    for (node, v) in [("in", 1.0), ("a", 1.0), ("m", 0.4), ("b", 0.0)] {
        x[unknown(&system, node)] = v;
    }
    let island = unknown(&system, "m");
    let held = |point: &Point| {
        let mut z = vec![0.0; system.extent()];
        z[..point.x.len()].copy_from_slice(&point.x);
        let mut rows = vec![0.0; point.x.len()];
        system.linear_charges(&z, &mut rows);
        system.scatter_charges(&point.q, &mut rows);
        rows[island]
    };
    for method in BOTH {
        let from = point_at(&system, &system.pieces(1e-7), 0.0, x.clone());
        let (before, mut moved, mut worst) = (held(&from), 0.0_f64, 0.0_f64);
        march(&system, method, from.clone(), (2e-6, 10_000), |point| {
            worst = worst.max((held(point) - before).abs());
            moved = moved.max((point.x[island] - from.x[island]).abs());
        });
        assert!(moved > 0.1, "the island is moved about by its neighbours");
        // Rounding of charges near 1e-7 C, 1e-23 C a step: 1e4 steps wander 1e2 to 1e4 of that.
        assert!(worst < 1e-19, "{method:?}: {worst:e} of {before:e} C went astray");
    }
}

const REGULATOR: &str = r#"title = "follower"
[rail]
output = "out"
nominal = "2.5 V"
load = "I1"
[parts]
V1 = { kind = "voltage-source", plus = "in", minus = "gnd", voltage = "5 V", resistance = "0.1 Ω" }
R1 = { kind = "resistor", nodes = ["in", "b"], resistance = "1 kΩ" }
D1 = { kind = "diode", anode = "b", cathode = "z", saturation_current = "1e-14 A", series_resistance = "2 Ω", zero_bias_capacitance = "20 pF", transit_time = "5 ns" }
V2 = { kind = "voltage-source", plus = "z", minus = "gnd", voltage = "2.5 V" }
Q1 = { kind = "bipolar", collector = "in", base = "b", emitter = "out", polarity = "npn", saturation_current = "1e-13 A", forward_gain = 120, early_voltage = "60 V", base_resistance = "5 Ω", transit_time = "1 ns", base_emitter_capacitance = "50 pF", base_collector_capacitance = "20 pF" }
M1 = { kind = "mosfet", drain = "out", gate = "z", source = "s", channel = "n", threshold = "0.6 V", transconductance = "2 mA/V^2", gate_source_capacitance = "30 pF", gate_drain_capacitance = "10 pF" }
R2 = { kind = "resistor", nodes = ["s", "gnd"], resistance = "1 kΩ" }
C1 = { kind = "capacitor", nodes = ["out", "gnd"], capacitance = "4.7 µF", esr = "20 mΩ", esl = "1 nH" }
I1 = { kind = "load", nodes = ["out", "gnd"], current = "1 mA" }
[[tests]]
name = "step"
kind = "load-step"
from = "1 mA"
to = "50 mA"
edge = "1 µs"
hold = "100 µs"
"#;

/// Kirchhoff's current law at every node and every accepted step, over the terminal currents as
/// they are reported.
#[test]
fn exact_terminal_currents_sum_to_zero_at_every_node() {
    for (method, s) in BOTH.into_iter().flat_map(|m| [(m, 3e-6), (m, 1e-9)]) {
        let mut run = Bench::of(REGULATOR).solve("step", method, s, &[]);
        let mut most = 0.0_f64;
        for k in 0..run.record.len() {
            let seen = run.look(k);
            let mut sums = vec![0.0; run.system.unknowns.len()];
            let mut largest = 0.0_f64;
            for (index, part) in run.system.parts.iter().enumerate() {
                for (terminal, &node) in part.pins.iter().enumerate() {
                    let current = run.current(&seen, index, terminal);
                    sums[node] += current;
                    largest = largest.max(current.abs());
                }
            }
            let worst = sums.iter().fold(0.0_f64, |a, sum| a.max(sum.abs()));
            most = most.max(worst / largest);
            // Where nothing but a resistance of 0.1 Ω and a transistor meet, the voltages are
            // right within the tolerance, and the currents within a tenth of it times 10 S.
            let allowed = 1e-9 * largest + 0.1 * s * 10.0;
            assert!(worst <= allowed, "{method:?} at point {k}: {worst:e} of {largest:e} A");
        }
    }
}

/// Stored energy of linear passive circuits never rises under an A-stable formula, whatever the
/// step (J. von Neumann, Math. Nachr. 4 (1951) 258–281, on contractions; from memory).
#[test]
fn exact_passive_circuits_gain_no_energy() {
    let text = r#"title = "ringing down"
[parts]
C1 = { kind = "capacitor", nodes = ["a", "gnd"], capacitance = "1 µF", initial = "5 V" }
L1 = { kind = "inductor", nodes = ["a", "b"], inductance = "10 µH" }
C2 = { kind = "capacitor", nodes = ["b", "gnd"], capacitance = "2.2 µF", initial = "-1 V" }
R1 = { kind = "resistor", nodes = ["b", "c"], resistance = "0.05 Ω" }
L2 = { kind = "inductor", nodes = ["c", "gnd"], inductance = "3.3 µH", initial = "0.4 A" }
R2 = { kind = "resistor", nodes = ["a", "gnd"], resistance = "1 kΩ" }
[[tests]]
name = "watch"
kind = "profile"
duration = "300 µs"
start = "initial-values"
"#;
    for method in BOTH {
        for s in [1e-3, 1e-5] {
            let run = Bench::of(text).solve("watch", method, s, &[]);
            let u = |name: &str| unknown(&run.system, name);
            let stores = [
                (u("a"), 1e-6),
                (u("b"), 2.2e-6),
                (u("L1.current"), 10e-6),
                (u("L2.current"), 3.3e-6),
            ];
            let energy = |k: usize| -> f64 {
                stores.iter().map(|&(u, c)| 0.5 * c * run.record.value(k, u).powi(2)).sum()
            };
            // 12.5 µJ + 1.1 µJ + 0.264 µJ, from the initial values.
            assert!((energy(0) - 13.864e-6).abs() < 1e-15, "{}", energy(0));
            for k in 1..run.record.len() {
                let (before, after) = (energy(k - 1), energy(k));
                // Rounding of a sum of four squares.
                assert!(after <= before * (1.0 + 1e-12), "{method:?} {s}: {before:e} to {after:e}");
            }
            let last = energy(run.record.len() - 1);
            assert!(last < 0.9 * energy(0), "{method:?}: it rings down, {last:e}");
        }
    }
}
