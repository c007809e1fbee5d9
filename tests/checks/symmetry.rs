//! What must not depend on how a circuit is written down: the unit of impedance, the sides of a
//! two-ended part, the node called ground, the order of parts.

use crate::bench::{BOTH, Bench, Solved};
use proptest::prelude::*;
use railstep::analysis::Method;

/// Node tolerance of all runs here.
const S: f64 = 1e-7;

fn settings() -> ProptestConfig {
    ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() }
}

fn watch(parts: &[String]) -> Bench {
    Bench::of(&format!(
        "title = \"symmetry\"\n[parts]\n{}\n[[tests]]\nname = \"watch\"\nkind = \"profile\"\nduration = \"50 µs\"\n",
        parts.join("\n")
    ))
}

const INSTANTS: [f64; 4] = [3e-6, 11e-6, 23e-6, 50e-6];

/// The largest difference of `a − b` of one run from `c − d` of another.
fn apart(one: &Solved, (a, b): (&str, &str), other: &Solved, (c, d): (&str, &str)) -> f64 {
    let each =
        INSTANTS.map(|t| ((one.at(a, t) - one.at(b, t)) - (other.at(c, t) - other.at(d, t))).abs());
    each.into_iter().fold(0.0, f64::max)
}

fn source(plus: &str, minus: &str) -> String {
    format!(
        "V1 = {{ kind = \"voltage-source\", plus = \"{plus}\", minus = \"{minus}\", voltage = \"0.5 V\", varies = {{ shape = \"pulse\", change = \"2 V\", delay = \"2 µs\", edge = \"1 µs\", width = \"15 µs\" }} }}"
    )
}

fn two(kind: &str, name: &str, [a, b]: [&str; 2], keys: &str) -> String {
    format!("{name} = {{ kind = \"{kind}\", nodes = [\"{a}\", \"{b}\"], {keys} }}")
}

fn diode([a, c]: [&str; 2]) -> String {
    format!(
        "D1 = {{ kind = \"diode\", anode = \"{a}\", cathode = \"{c}\", saturation_current = \"1e-12 A\", zero_bias_capacitance = \"100 pF\", transit_time = \"50 ns\" }}"
    )
}

/// Two-ended parts with the side they are written from given by the bits of `turned`, and the node
/// `ground` called gnd.
fn mixed(turned: u32, ground: &str) -> Vec<String> {
    let name = |node: &'static str| if node == ground { "gnd" } else { node };
    let parts: [(&str, &str, [&'static str; 2], &str); 6] = [
        ("resistor", "R1", ["p", "a"], "resistance = \"100 Ω\""),
        ("capacitor", "C1", ["a", "n"], "capacitance = \"10 nF\", esr = \"1 Ω\""),
        ("inductor", "L1", ["a", "b"], "inductance = \"20 µH\", series_resistance = \"5 Ω\""),
        ("capacitor", "C2", ["b", "n"], "capacitance = \"22 nF\""),
        ("resistor", "R2", ["b", "n"], "resistance = \"330 Ω\""),
        ("resistor", "R3", ["c", "n"], "resistance = \"470 Ω\""),
    ];
    let mut written = vec![source(name("p"), name("n")), diode([name("b"), name("c")])];
    for (k, (kind, part, [a, b], keys)) in parts.into_iter().enumerate() {
        let ends = if turned >> k & 1 == 1 { [name(b), name(a)] } else { [name(a), name(b)] };
        written.push(two(kind, part, ends, keys));
    }
    written
}

proptest! {
    #![proptest_config(settings())]

    /// All R times k and all C over k leaves every time constant alone, and with it every voltage
    /// behind a voltage source.
    #[test]
    fn exact_impedance_scaling_leaves_voltages_alone(decades in -2.0..3.0_f64) {
        let ladder = |k: f64| {
            let ohm = |r: f64| format!("resistance = \"{:e} Ω\"", r * k);
            let farad = |c: f64| format!("capacitance = \"{:e} F\"", c / k);
            watch(&[
                source("p", "gnd"),
                two("resistor", "R1", ["p", "a"], &ohm(1e3)),
                two("capacitor", "C1", ["a", "gnd"], &farad(1e-9)),
                two("resistor", "R2", ["a", "b"], &ohm(4.7e3)),
                two("capacitor", "C2", ["b", "p"], &farad(0.47e-9)),
                two("resistor", "R3", ["b", "gnd"], &ohm(10e3)),
            ])
        };
        let (one, other) = (ladder(1.0), ladder(10_f64.powf(decades)));
        for method in BOTH {
            let [one, other] = [&one, &other].map(|b| b.solve("watch", method, S, &INSTANTS));
            for node in ["a", "b"] {
                let off = apart(&one, (node, "gnd"), &other, (node, "gnd"));
                // Only nodes are in the error norm, so the steps are the same up to rounding; a
                // rung taken differently for it stays within the tolerance.
                prop_assert!(off < S, "{method:?} {node}: {off:e}");
            }
        }
    }

    /// A resistor, capacitor or inductor has no sides.
    #[test]
    fn exact_two_ended_parts_may_be_turned_round(turned in 0..64_u32) {
        for method in BOTH {
            let straight = watch(&mixed(0, "n")).solve("watch", method, S, &INSTANTS);
            let other = watch(&mixed(turned, "n")).solve("watch", method, S, &INSTANTS);
            for node in ["a", "b", "c"] {
                let off = apart(&straight, (node, "gnd"), &other, (node, "gnd"));
                prop_assert!(off < S, "{method:?} {node} turned {turned:b}: {off:e}");
            }
        }
    }

    /// Parts may be written in any order.
    #[test]
    fn exact_the_order_of_parts_does_not_matter(
        parts in Just(mixed(0, "n")).prop_shuffle(),
    ) {
        for method in BOTH {
            let straight = watch(&mixed(0, "n")).solve("watch", method, S, &INSTANTS);
            let other = watch(&parts).solve("watch", method, S, &INSTANTS);
            for node in ["a", "b", "c"] {
                let off = apart(&straight, (node, "gnd"), &other, (node, "gnd"));
                prop_assert!(off < S, "{method:?} {node}: {off:e}");
            }
        }
    }
}

/// Which node is called ground shifts all voltages alike. Tolerances grow with a node's own
/// voltage, so that the steps differ and the runs agree only within their global error.
#[test]
fn exact_any_node_may_be_ground() {
    let straight = watch(&mixed(0, "n")).solve("watch", Method::Rodas4p, S, &INSTANTS);
    for ground in ["p", "a", "b", "c"] {
        let other = watch(&mixed(0, ground)).solve("watch", Method::Rodas4p, S, &INSTANTS);
        for node in ["p", "a", "b", "c"] {
            let called = |name: &'static str| if name == ground { "gnd" } else { name };
            let off = apart(&straight, (node, "gnd"), &other, (called(node), "n"));
            // Twice the 1.5 to 1.9 tolerances that one run errs by.
            assert!(off < 4.0 * S, "{node} with ground at {ground}: {off:e}");
        }
    }
}
