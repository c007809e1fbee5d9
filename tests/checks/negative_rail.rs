//! A rail and its mirror image below ground: the same figures, and the same verdict.

use crate::bench::{Bench, measured};
use railstep::analysis::Method;

/// A source behind a wire, a follower, a rail with its capacitor; `sign` turns it upside down, which exchanges
/// the ends of the load.
fn rail(sign: f64) -> String {
    let load = if sign > 0.0 { r#"["vout", "gnd"]"# } else { r#"["gnd", "vout"]"# };
    format!(
        r#"title = "a rail in its sense"
[rail]
nominal = "{nominal} V"
output = "vout"
input = "vin"
source = "V_IN"
load = "LOAD"
pass = "R_PASS"
[parts]
V_IN = {{ kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "{input} V" }}
R_PASS = {{ kind = "resistor", nodes = ["vin", "mid"], resistance = "10 Ω" }}
V_REF = {{ kind = "voltage-source", plus = "set", minus = "gnd", voltage = "{nominal} V", resistance = "1 Ω" }}
G = {{ kind = "law", nodes = ["mid", "set"], inputs = {{ x = ["mid", "set"] }}, current = "1 S * x" }}
L = {{ kind = "inductor", nodes = ["mid", "vout"], inductance = "1 µH", series_resistance = "20 mΩ" }}
C_OUT = {{ kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF", esr = "100 mΩ" }}
LOAD = {{ kind = "load", nodes = {load}, current = "10 mA" }}
[[tests]]
name = "step"
kind = "load-step"
from = "10 mA"
to = "110 mA"
edge = "1 µs"
before = "200 µs"
hold = "400 µs"
settle = "400 µs"
[tests.require]
droop = "<= 1 mV"
overshoot = "<= 1 V"
[[tests]]
name = "train"
kind = "pulse-train"
from = "10 mA"
to = "110 mA"
edge = "1 µs"
period = "100 µs"
duty = "30 %"
before = "400 µs"
[tests.require]
train_droop = "<= 1 mV"
[[tests]]
name = "short"
kind = "short-circuit"
short = "200 µs"
recover = "600 µs"
before = "400 µs"
[tests.require]
short_overshoot = "<= 10 mV"
"#,
        nominal = 5.0 * sign,
        input = 9.0 * sign,
    )
}

/// The rows of each test, the first of which is to be larger than so many V or A.
const ROWS: [(&str, f64, &[&str]); 3] = [
    (
        "step",
        0.05,
        &[
            "droop",
            "ring_back",
            "overshoot",
            "headroom_minimum",
            "ground_current",
            "source_current_peak",
            "efficiency",
        ],
    ),
    ("train", 0.05, &["train_droop", "first_droop", "train_overshoot", "periodic_peak_to_peak"]),
    ("short", 0.05, &["short_current_peak", "short_current_settled", "short_overshoot"]),
];

#[test]
fn exact_a_rail_below_ground_has_the_figures_of_its_mirror_image() {
    for (test, felt_v, names) in ROWS {
        let [above, below] =
            [1.0, -1.0].map(|sign| Bench::of(&rail(sign)).outcome(test, Method::Rodas4p));
        for (k, name) in names.iter().enumerate() {
            let [a, b] = [&above, &below].map(|outcome| measured(outcome, name));
            // The same numbers but for the order of roundings: within a nanovolt and a nanoampere.
            assert!((a - b).abs() <= 1e-9 + 1e-9 * a.abs(), "{name}: {a} and {b}");
            assert!(k > 0 || a > felt_v, "{name}: {a}");
        }
        let verdicts = [&above, &below].map(|outcome| {
            let judged = outcome.measurements.iter().filter(|m| m.limit.is_some());
            judged.map(|m| m.verdict).collect::<Vec<_>>()
        });
        assert_eq!(verdicts[0], verdicts[1], "{test}");
        assert_eq!(above.verdict, below.verdict, "{test}");
    }
}
