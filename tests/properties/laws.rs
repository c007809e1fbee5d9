//! What physics says of every circuit, on random ones: currents balance at every accepted step, nothing passive
//! gains energy, units of impedance do not matter, and a circuit with every polarity turned round is the same
//! circuit upside down.

use crate::bench::{BOTH, Bench, Solved, unknown};
use crate::network::{Network, Style};
use crate::networks::Random;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use railstep::analysis::Method;
use std::fmt::Write;

/// Node tolerance in V.
const S: f64 = 1e-6;

fn settings(cases: u32) -> ProptestConfig {
    // The same circuits in every run; `RngSeed::Random` looks at others.
    let rng_seed = RngSeed::Fixed(20_261_126);
    ProptestConfig { cases, failure_persistence: None, rng_seed, ..ProptestConfig::default() }
}

/// Transistors, diodes, coils and capacitors around four nodes, moved by a pulse; every polarity turned round
/// where `mirrored`.
fn nonlinear(seed: u64, mirrored: bool) -> String {
    let mut random = Random(seed);
    let sign = if mirrored { -1.0 } else { 1.0 };
    let mut text = format!(
        "title = \"moved\"\n[parts]\n\
        V1 = {{ kind = \"voltage-source\", plus = \"in\", minus = \"gnd\", voltage = \"{:e} V\", varies = {{ shape = \"pulse\", change = \"{:e} V\", delay = \"1 µs\", edge = \"0.5 µs\", width = \"5 µs\" }} }}\n\
        V2 = {{ kind = \"voltage-source\", plus = \"s\", minus = \"gnd\", voltage = \"{:e} V\" }}\n",
        sign * (4.0 * random.unit() - 2.0),
        sign * (8.0 * random.unit() - 4.0),
        sign * 5.0,
    );
    // Both sources feed something, whatever is drawn.
    let ohm = 1e3 * random.decades(1.0);
    let _ = writeln!(
        text,
        "RI = {{ kind = \"resistor\", nodes = [\"in\", \"n1\"], resistance = \"{ohm:e} Ω\" }}\nRS = {{ kind = \"resistor\", nodes = [\"s\", \"n2\"], resistance = \"{ohm:e} Ω\" }}"
    );
    let nodes = ["n1", "n2", "n3", "n4"];
    let any = |random: &mut Random| ["in", "s", "gnd", "n1", "n2", "n3", "n4"][random.below(7)];
    for node in nodes {
        let k = text.lines().count();
        let other = any(&mut random);
        let other = if other == node { "gnd" } else { other };
        let (ohm, farad) = (1e3 * random.decades(1.5), 1e-9 * random.decades(1.5));
        let _ = writeln!(
            text,
            "R{k} = {{ kind = \"resistor\", nodes = [\"{node}\", \"gnd\"], resistance = \"{:e} Ω\" }}\n\
            S{k} = {{ kind = \"resistor\", nodes = [\"{node}\", \"{other}\"], resistance = \"{ohm:e} Ω\" }}\n\
            C{k} = {{ kind = \"capacitor\", nodes = [\"{node}\", \"gnd\"], capacitance = \"{farad:e} F\", esr = \"1 Ω\" }}",
            30.0 * ohm
        );
    }
    for k in 0..2 + random.below(6) {
        let (a, b) = (nodes[random.below(4)], any(&mut random));
        let b = if a == b { "gnd" } else { b };
        let (first, second) = if mirrored { (b, a) } else { (a, b) };
        let farad = 1e-11 * random.decades(1.0);
        let _ = match random.below(5) {
            0 => writeln!(
                text,
                "D{k} = {{ kind = \"diode\", anode = \"{first}\", cathode = \"{second}\", saturation_current = \"1e-14 A\", series_resistance = \"1 Ω\", zero_bias_capacitance = \"{farad:e} F\", transit_time = \"5 ns\" }}"
            ),
            1 => writeln!(
                text,
                "Z{k} = {{ kind = \"zener\", anode = \"{first}\", cathode = \"{second}\", breakdown_voltage = \"3.3 V\", test_current = \"5 mA\", resistance = \"20 Ω\", zero_bias_capacitance = \"{farad:e} F\" }}"
            ),
            2 => writeln!(
                text,
                "L{k} = {{ kind = \"inductor\", nodes = [\"{a}\", \"{b}\"], inductance = \"{:e} H\", series_resistance = \"2 Ω\" }}",
                1e-4 * random.decades(1.0)
            ),
            3 => {
                let npn = (random.unit() < 0.5) != mirrored;
                let word = if npn { "npn" } else { "pnp" };
                writeln!(
                    text,
                    "Q{k} = {{ kind = \"bipolar\", collector = \"{a}\", base = \"{}\", emitter = \"{b}\", polarity = \"{word}\", saturation_current = \"1e-15 A\", forward_gain = 120, base_resistance = \"10 Ω\", emitter_resistance = \"1 Ω\", early_voltage = \"60 V\", transit_time = \"1 ns\", base_emitter_capacitance = \"{farad:e} F\", base_collector_capacitance = \"{farad:e} F\" }}",
                    nodes[random.below(4)]
                )
            }
            _ => {
                let n = (random.unit() < 0.5) != mirrored;
                let word = if n { "n" } else { "p" };
                writeln!(
                    text,
                    "M{k} = {{ kind = \"mosfet\", drain = \"{a}\", gate = \"{}\", source = \"{b}\", channel = \"{word}\", threshold = \"0.7 V\", transconductance = \"2 mA/V^2\", output_slope = \"0.02 1/V\", gate_source_capacitance = \"{farad:e} F\", gate_drain_capacitance = \"{farad:e} F\" }}",
                    nodes[random.below(4)]
                )
            }
        };
    }
    text + "[[tests]]\nname = \"watch\"\nkind = \"profile\"\nduration = \"15 µs\"\n"
}

/// Largest sum of currents into any node over all points, against what is allowed.
fn worst_sum(run: &mut Solved) -> f64 {
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
        let worst = sums.iter().skip(1).fold(0.0_f64, |a, sum| a.max(sum.abs()));
        // A step errs by a tolerance at most, across no less than 1 Ω.
        most = most.max(worst / (1e-9 * largest + S));
    }
    most
}

proptest! {
    #![proptest_config(settings(10))]

    /// Kirchhoff's current law, over terminal currents as they are reported.
    #[test]
    fn exact_currents_balance_at_every_accepted_step_of_random_circuits(seed in any::<u64>()) {
        let text = nonlinear(seed, false);
        for method in BOTH {
            let mut run = Bench::of(&text).solve("watch", method, S, &[]);
            let worst = worst_sum(&mut run);
            prop_assert!(worst <= 1.0, "{method:?}: {worst:e}\n{text}");
        }
    }

    /// Every polarity turned round, every voltage and current has the other sign: from the search for rest to
    /// the last step everything is odd but for sums in another order. A rounding of these may turn the verdict on
    /// a step, so that the runs agree as far as each is exact: RODAS4P to two tolerances, TR-BDF2 to twenty.
    #[test]
    fn exact_a_circuit_upside_down_is_the_same_circuit(seed in any::<u64>()) {
        let texts = [false, true].map(|mirrored| nonlinear(seed, mirrored));
        for method in BOTH {
            let times = [1.2e-6, 3e-6, 7e-6, 15e-6];
            let [one, other] = [0, 1].map(|k| Bench::of(&texts[k]).solve("watch", method, S, &times));
            for node in ["n1", "n2", "n3", "n4"] {
                for t in times {
                    let (a, b) = (one.at(node, t), other.at(node, t));
                    let exact_v = if method == Method::Rodas4p { 2.0 * S } else { 20.0 * S };
                    prop_assert!((a + b).abs() < 2.0 * exact_v, "{method:?} {node} at {t:e}: {a} and {b}\n{}", texts[0]);
                }
            }
        }
    }
}

const PASSIVE: Style = Style { decades: 2.0, active: false, driven: false };

/// J in capacitors and coils.
fn energy(network: &Network, run: &Solved, k: usize, places: &[usize]) -> f64 {
    let n = network.c.nrows();
    let x = |u: usize| run.record.value(k, places[u]);
    let mut sum = 0.0;
    for row in 0..n {
        for column in 0..n {
            // Rows of coils carry −L.
            sum +=
                0.5 * network.c[(row, column)].abs().copysign(if row < network.nodes {
                    network.c[(row, column)]
                } else {
                    1.0
                }) * x(row)
                    * x(column);
        }
    }
    sum
}

fn places(network: &Network, run: &Solved) -> Vec<usize> {
    let currents = network.lines.iter().filter_map(|line| {
        let (part, rest) = line.split_once(' ')?;
        let has = ["\"inductor\"", "\"voltage-source\"", "\"controlled-voltage-source\""];
        has.iter().any(|kind| rest.contains(kind)).then(|| format!("{part}.current"))
    });
    let nodes = (1..=network.nodes).map(|k| format!("n{k}"));
    nodes.chain(currents).map(|name| unknown(&run.system, &name)).collect()
}

proptest! {
    #![proptest_config(settings(16))]

    /// Stored energy of linear passive circuits never rises under an A-stable formula, whatever the step
    /// (J. von Neumann, Math. Nachr. 4 (1951) 258–281, on contractions; from memory).
    #[test]
    fn exact_random_passive_circuits_gain_no_energy(seed in any::<u64>()) {
        let network = Network::draw(&mut Random(seed), PASSIVE);
        let bench = Bench::of(&network.text(3e-5));
        for method in BOTH {
            let run = bench.solve("watch", method, 1e-4, &[]);
            let places = places(&network, &run);
            for k in 1..run.record.len() {
                let (before, after) = (energy(&network, &run, k - 1, &places), energy(&network, &run, k, &places));
                let start = energy(&network, &run, 0, &places);
                // Rounding of sums of squares as large as those at the start.
                prop_assert!(after <= before + 1e-12 * start, "{method:?} {k}: {before:e} to {after:e} J\n{}", network.text(3e-5));
            }
        }
    }

    /// All resistances and inductances times k, all capacitances over k: no voltage changes at any time.
    #[test]
    fn exact_the_unit_of_impedance_of_random_circuits_does_not_matter(seed in any::<u64>(), decades in -3.0..3.0_f64) {
        let style = Style { driven: true, ..PASSIVE };
        let network = Network::draw(&mut Random(seed), style);
        let text = network.text(2e-5);
        let scaled = scaled(&text, 10_f64.powf(decades));
        for method in BOTH {
            let times = [1e-6, 7e-6, 2e-5];
            let [one, other] = [&text, &scaled].map(|t| Bench::of(t).solve("watch", method, S, &times));
            for node in 1..=network.nodes {
                let name = format!("n{node}");
                for t in times {
                    let off = (one.at(&name, t) - other.at(&name, t)).abs();
                    // Currents of coils are in the error norm and in amperes: steps differ, and each run is
                    // within some tolerances of the truth.
                    prop_assert!(off < 60.0 * S, "{method:?} {name} at {t:e}: {off:e}\n{text}");
                }
            }
        }
    }
}

/// The same file with all impedances times `k`: initial currents of coils over k.
fn scaled(text: &str, k: f64) -> String {
    let mut out = String::new();
    for line in text.lines() {
        let mut line = line.to_owned();
        for (key, unit, factor) in [
            ("resistance = \"", " Ω\"", k),
            ("inductance = \"", " H\"", k),
            ("capacitance = \"", " F\"", 1.0 / k),
            ("initial = \"", " A\"", 1.0 / k),
        ] {
            let Some(start) = line.find(key).map(|at| at + key.len()) else { continue };
            let Some(length) = line[start..].find(unit) else { continue };
            let Ok(value) = line[start..start + length].parse::<f64>() else { continue };
            line.replace_range(start..start + length, &format!("{:e}", value * factor));
        }
        out += &line;
        out.push('\n');
    }
    out
}
