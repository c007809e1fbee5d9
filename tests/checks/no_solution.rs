//! Equations that cease to have a solution: when, where and what was tried is told.

use crate::bench::Bench;

/// (u − v)/1 kΩ = −1 mA − 1 mS/V·v² is v² − v + 1 V + u = 0, which has real solutions up to u = −0.75 V:
/// on the way from −2 V by 2 V/ms that is at 0.625 ms, where both meet at half a volt.
const FOLD: &str = r#"title = "a rest that ceases to be"
[parts]
V1 = { kind = "voltage-source", plus = "in", minus = "gnd", voltage = "-2 V", varies = { shape = "ramp", change = "2 V", edge = "1 ms" } }
R1 = { kind = "resistor", nodes = ["in", "v"], resistance = "1 kΩ" }
B1 = { kind = "law", nodes = ["v", "gnd"], inputs = { x = ["v", "gnd"] }, current = "-1 mA - 1 mS/V * x*x" }
[[tests]]
name = "watch"
kind = "profile"
duration = "1 ms"
"#;

#[test]
fn exact_where_a_solution_ceases_to_be() {
    let failure = Bench::of(FOLD).failure("watch");
    let time_s = failure.time_s.expect("it happens in time");
    // The step is shortened until it cannot be told from the time itself; 10 µV of the source are 5 ns.
    assert!((time_s - 0.625e-3).abs() < 5e-9, "{time_s}");
    assert_eq!((failure.node.as_deref(), failure.part.as_deref()), (Some("v"), Some("B1")));
    assert!(failure.message.contains("`v` gives most trouble"), "{}", failure.message);
    assert_eq!(failure.tried.len(), 3, "{:?}", failure.tried);
}
