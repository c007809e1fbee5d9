//! A diode behind a resistor, whose current is known exactly, and the charge it stores.

use crate::bench::{Bench, unknown};
use railstep::analysis::{Method, operating_point};
use railstep::trial::Outcome;

fn rest(outcome: &Outcome, part: &str, node: &str) -> (f64, f64) {
    let (levels, parts) = outcome.at_rest.as_ref().expect("an operating point");
    let part = parts.iter().find(|p| p.name == part).expect("a part");
    let node = levels.iter().find(|l| l.name == node).expect("a node");
    (part.ampere, node.volt)
}

/// I = (nV_T/R)·W((I_s R/nV_T)·exp((V + I_s R)/nV_T)) − I_s with Lambert's W: Banwell & Jayakumar,
/// Electronics Letters 36(4) (2000) 291–292; evaluated with 40 digits.
#[test]
fn published_diode_behind_a_resistor_at_rest() {
    let cases = [
        (
            "5 V",
            "1 kΩ",
            "saturation_current = \"1e-14 A\", thermal_voltage = \"25 mV\"",
            (0.004_330_149_050_323_344, 0.669_850_949_676_655_8),
        ),
        (
            "1 V",
            "100 Ω",
            "saturation_current = \"1e-12 A\", thermal_voltage = \"25.852 mV\"",
            (0.004_267_501_425_442_028, 0.573_249_857_455_797_2),
        ),
        // V_T = k·300 K/q with the constants of the SI.
        (
            "0.3 V",
            "50 Ω",
            "saturation_current = \"1 µA\", ideality = 1.05, temperature = \"300 K\", characterised_at = \"300 K\"",
            (0.001_900_849_429_607_439, 0.204_957_528_519_628),
        ),
    ];
    for (volt, ohm, keys, (ampere, across)) in cases {
        let bench = Bench::of(&format!(
            r#"title = "diode"
[parts]
V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd", voltage = "{volt}" }}
R1 = {{ kind = "resistor", nodes = ["in", "a"], resistance = "{ohm}" }}
D1 = {{ kind = "diode", anode = "a", cathode = "gnd", {keys} }}
[[tests]]
name = "rest"
kind = "operating-point"
"#
        ));
        let (i, v) = rest(&bench.outcome("rest", Method::Rodas4p), "D1", "a");
        assert!((i - ampere).abs() < 1e-12 * ampere, "{volt} {ohm}: {i}, expected {ampere}");
        assert!((v - across).abs() < 1e-12 * across, "{volt} {ohm}: {v}, expected {across}");
    }
}

/// Charge stored by a forward current is transit time times current, Q = τ·I: 1 ns at 10 mA is
/// 10 pC; it is also what flows back out when the diode is switched off, so it is read here as the
/// charge variable itself.
#[test]
fn exact_diffusion_charge_is_transit_time_times_current() {
    let bench = Bench::of(
        r#"title = "stored charge"
[parts]
I1 = { kind = "current-source", nodes = ["gnd", "a"], current = "10 mA" }
D1 = { kind = "diode", anode = "a", cathode = "gnd", saturation_current = "1e-14 A", transit_time = "1 ns" }
[[tests]]
name = "rest"
kind = "operating-point"
"#,
    );
    let system = bench.system();
    let rest = operating_point(&system, &system.pieces(-1.0), 0.0, None).expect("rest");
    let (mut f, mut q) = (vec![0.0; system.unknowns.len()], vec![0.0; system.law_charges()]);
    system.evaluate(&rest.z, &mut f, &mut q);
    let mut rows = vec![0.0; system.unknowns.len()];
    system.scatter_charges(&q, &mut rows);
    let stored = rows[unknown(&system, "a")];
    // The operating point is good to 1e-9 of the current.
    assert!((stored - 10e-12).abs() < 1e-20, "{stored:e}");
}
