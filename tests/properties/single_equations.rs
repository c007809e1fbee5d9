//! Rests of small circuits that come down to a single equation, which is solved here by halving intervals or told
//! in closed form: what is at the bottom of random circuits that once were not solved.

use crate::random::circuit as drawn;
use crate::rests::equations;
use railstep::analysis::operating_point;
use railstep::system::{Linearisation, System};

fn circuit(parts: &str) -> System {
    equations(&format!("title = \"one\"\n[rail]\nambient = \"27 °C\"\n[parts]\n{parts}"))
}

fn place(system: &System, name: &str) -> usize {
    system.unknowns.iter().position(|entry| entry.name == name).expect("an unknown")
}

/// A diode of 1 fA and 20 mV and a law of 3 fA and 50 mV in series across an ideal source of 14 V: what flows
/// through both, I_S·(e^x − 1) with its tangent beyond x = 150 and I·(e^(v/V) − 1), is equal at one voltage, here in
/// logarithms. No circuit carries 10⁵² A; the equations have this rest and no other. Beside it an ideal reference
/// of 10 mV into 1 kΩ has its milliamperes all the same.
#[test]
fn exact_junctions_across_an_ideal_source_rest_at_any_current() {
    let system = circuit(
        "V = { kind = \"voltage-source\", plus = \"top\", minus = \"gnd\", voltage = \"14 V\" }\n\
         D = { kind = \"diode\", anode = \"top\", cathode = \"mid\", saturation_current = \"1 fA\", \
             thermal_voltage = \"20 mV\", characterised_at = \"27 °C\" }\n\
         J = { kind = \"law\", nodes = [\"mid\", \"gnd\"], inputs = { x = [\"mid\", \"gnd\"] }, \
             current = \"3 fA * (exp(x / 50 mV) - 1)\" }\n\
         REF = { kind = \"reference\", output = \"mid\", ground = \"low\", voltage = \"10 mV\" }\n\
         R = { kind = \"resistor\", nodes = [\"low\", \"gnd\"], resistance = \"1 kΩ\" }\n",
    );
    let diode_ln = |v: f64| {
        let x = v / 20e-3;
        1e-15_f64.ln() + x.min(150.0) + (1.0 + (x - 150.0).max(0.0)).ln()
    };
    let law_ln = |v: f64| 3e-15_f64.ln() + v / 50e-3;
    let (mut low, mut high) = (1.0, 13.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if diode_ln(14.0 - middle) > law_ln(middle) { low = middle } else { high = middle }
    }
    let rest = operating_point(&system, &system.pieces(-1.0), 0.0, None).expect("a rest");
    let of = |name: &str| rest.z[place(&system, name)];
    assert!((of("mid") - low).abs() < 1e-12 * low, "{} for {low}", of("mid"));
    let ampere = law_ln(low).exp();
    assert!(ampere > 1e52, "{ampere:e}");
    assert!((of("V.current") + ampere).abs() < 1e-9 * ampere, "{:e}", of("V.current"));
    let beside = (low - 10e-3) / 1e3;
    assert!((of("REF.current") - beside).abs() < 1e-9 * beside, "{:e}", of("REF.current"));
}

/// A reference of 20 V that is fed from its own output follows the smaller of 20 V and that, its corners rounded
/// over 10 mV: v = v + w·ln(1 + e^(−v/w)) − w·ln(1 + e^(−(20 V − v)/w)) up to terms smaller still. Both corners
/// are equal at 10 V alone, which is its one rest. There each is w·e^−1000, for which there is no number; already half
/// a volt from either end they are less than the last digit of v. Everything in between solves the equations as
/// well as numbers can, so that what is found is a matter of where the search comes from.
#[test]
fn a_reference_fed_from_itself_has_one_rest_that_no_number_tells_from_its_neighbours() {
    let system = circuit(
        "REF = { kind = \"reference\", output = \"a\", ground = \"gnd\", supply = \"a\", voltage = \"20 V\" }\n\
         R = { kind = \"resistor\", nodes = [\"a\", \"gnd\"], resistance = \"1 kΩ\" }\n",
    );
    let (volt, width) = (20.0_f64, 10e-3_f64);
    let corner_ln = |from_end: f64| width.ln() - from_end / width;
    assert!(corner_ln(0.5 * volt) < f64::from_bits(1).ln());
    let [a, core, current] = ["a", "REF.core", "REF.current"].map(|name| place(&system, name));
    let mut at = Linearisation::new(&system);
    let mut z = vec![0.0; system.extent()];
    system.set_time(&system.pieces(-1.0), 0.0, &mut z);
    let mut left = |v: f64| {
        (z[a], z[core], z[current]) = (v, v, -v / 1e3);
        system.linearise(&z, &vec![0.0; system.extent()], &mut at);
        // The row of the core is in amperes of a conductance of 1 mS.
        [at.f[a], 1e3 * at.f[core], at.f[current]].map(f64::abs).into_iter().fold(0.0, f64::max)
    };
    for tenth in 5..=195 {
        let v = 0.1 * f64::from(tenth);
        assert!(corner_ln(v.min(volt - v)).exp() < 0.5 * f64::EPSILON * v, "{v}");
        // Its rows round a few times.
        assert!(left(v) <= 16.0 * f64::EPSILON * v, "{v}: {:e}", left(v));
    }
    assert!(left(0.05) > 1e-6 && left(19.95) > 1e-6);
    let rest = operating_point(&system, &system.pieces(-1.0), 0.0, None).expect("a rest");
    assert!((0.25..19.7).contains(&rest.z[a]), "{}", rest.z[a]);
}

/// Number 2263 has such a reference with its feet on ideal windings, across 2 mΩ: 10 mV are 5 A there.
#[test]
fn where_such_a_reference_carries_hundreds_of_amperes_it_is_told_by_node_and_part() {
    let system = equations(&drawn(2_263).text);
    let failure = operating_point(&system, &system.pieces(-1.0), 0.0, None).expect_err("no rest");
    // The loop of the reference: P20 from n7 to n2, P25 from n7 to n6, the load P35 from n6 to n8.
    let node = failure.node.as_deref().expect("a node");
    let part = failure.part.as_deref().expect("a part");
    let of_loop = ["n2", "n6", "n7", "n8", "P20.current", "P25.current"];
    assert!(of_loop.contains(&node), "{node}");
    assert!(failure.message.contains(node), "{}", failure.message);
    assert!(["P20", "P25", "P35"].contains(&part), "{part}");
}
