//! A rail and its mirror image below ground: the same figures, and the same verdict.

use crate::bench::Bench;
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
"#,
        nominal = 5.0 * sign,
        input = 9.0 * sign,
    )
}

#[test]
fn exact_a_rail_below_ground_has_the_figures_of_its_mirror_image() {
    let [above, below] =
        [1.0, -1.0].map(|sign| Bench::of(&rail(sign)).outcome("step", Method::Rodas4p));
    for name in [
        "droop",
        "ring_back",
        "overshoot",
        "headroom_minimum",
        "ground_current",
        "source_current_peak",
        "efficiency",
    ] {
        let [a, b] = [&above, &below].map(|outcome| {
            let row = outcome.measurements.iter().find(|m| m.name == name);
            let row = row.unwrap_or_else(|| panic!("no {name}"));
            row.value.unwrap_or_else(|| panic!("{row:?}"))
        });
        // The same numbers but for the order of roundings: within a nanovolt and a nanoampere.
        assert!((a - b).abs() <= 1e-9 + 1e-9 * a.abs(), "{name}: {a} and {b}");
        if name == "droop" {
            assert!(a > 0.05, "{a}: the step is to be felt");
        }
    }
    let verdicts = [&above, &below].map(|outcome| {
        let judged = outcome.measurements.iter().filter(|m| m.limit.is_some());
        judged.map(|m| m.verdict).collect::<Vec<_>>()
    });
    assert_eq!(verdicts[0], verdicts[1]);
    assert_eq!(above.verdict, below.verdict);
}
