//! Circuits whose equations have no answer, and those that only look so.

use super::*;
use crate::circuit::Start;
use crate::device::Drive;

/// Messages and places for a bench with these lines, as a test drives it.
fn told(lines: &str, drives: &[(&str, Drive)], start: Start) -> Vec<String> {
    let text = bench(lines);
    let reading = reading(&text);
    let mistakes = shown(&reading.diagnostics.clone().sorted(), &reading.sources);
    let circuit = reading.circuit.unwrap_or_else(|| panic!("{mistakes:#?}"));
    let variant = circuit.variant(&Changes::default()).expect("the variant is sound");
    let drives: Vec<(String, Drive)> =
        drives.iter().map(|(name, drive)| ((*name).to_owned(), drive.clone())).collect();
    let found = circuit.check_topology_of_test(&variant, &drives, start);
    assert!(found.iter().all(|d| d.hint.is_some() && d.span.is_some()), "{found:#?}");
    shown(&found, &reading.sources)
}

fn at_rest(lines: &str) -> Vec<String> {
    told(lines, &[], Start::OperatingPoint)
}

#[test]
fn a_plain_circuit_has_no_mistakes() {
    assert!(at_rest("").is_empty());
    assert!(
        at_rest(
            r#"R2 = { kind = "resistor", nodes = ["a", "b"], resistance = "1 Ω" }
L1 = { kind = "inductor", nodes = ["b", "c"], inductance = "1 µH" }
C1 = { kind = "capacitor", nodes = ["c", "gnd"], capacitance = "1 µF", esl = "1 nH", esr = "1 mΩ" }
D1 = { kind = "diode", anode = "c", cathode = "d", saturation_current = "1 fA" }
I1 = { kind = "load", nodes = ["d", "gnd"], current = "1 mA" }"#
        )
        .is_empty()
    );
}

#[test]
fn nodes_reached_only_through_capacitors_have_no_dc_path() {
    let lines = r#"C1 = { kind = "capacitor", nodes = ["a", "b"], capacitance = "1 µF", initial = "1 V" }
C2 = { kind = "capacitor", nodes = ["b", "gnd"], capacitance = "1 µF" }"#;
    assert_eq!(
        at_rest(lines),
        ["bench.toml:6:1 node `b` has no DC path to `gnd`: only capacitors reach it"]
    );
    // One initial voltage settles the node from which both capacitors hang.
    assert!(told(lines, &[], Start::InitialValues).is_empty());
    let none = lines.replace(", initial = \"1 V\"", "");
    assert_eq!(told(&none, &[], Start::InitialValues).len(), 1);
}

#[test]
fn a_gate_held_only_by_a_capacitor_floats() {
    let lines = r#"M1 = { kind = "mosfet", drain = "a", gate = "g", source = "gnd", channel = "n", threshold = "1 V", transconductance = "1 A/V^2" }
C1 = { kind = "capacitor", nodes = ["g", "gnd"], capacitance = "1 nF" }"#;
    let found = at_rest(lines);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].starts_with("bench.toml:6:1 node `g` has no DC path to `gnd`"), "{found:?}");
    let held = format!(
        "{lines}\nR2 = {{ kind = \"resistor\", nodes = [\"g\", \"gnd\"], resistance = \"1 MΩ\" }}"
    );
    assert!(at_rest(&held).is_empty());
}

#[test]
fn nodes_fed_only_by_current_sources_have_no_dc_path() {
    let lines = r#"I1 = { kind = "current-source", nodes = ["a", "b"], current = "1 mA" }
R2 = { kind = "resistor", nodes = ["b", "c"], resistance = "1 Ω" }
I2 = { kind = "current-source", nodes = ["c", "gnd"], current = "1 mA" }"#;
    assert_eq!(
        at_rest(lines),
        ["bench.toml:6:1 nodes `b`, `c` have no DC path to `gnd`: only current sources reach them"]
    );
}

#[test]
fn voltage_sources_and_inductors_without_resistance_form_loops() {
    let sources = r#"V2 = { kind = "voltage-source", plus = "a", minus = "b", voltage = "1 V" }
V3 = { kind = "voltage-source", plus = "b", minus = "gnd", voltage = "4 V" }"#;
    assert_eq!(
        at_rest(sources),
        ["bench.toml:7:1 `V1`, `V2`, `V3` form a loop without resistance"]
    );
    let inductor = r#"L1 = { kind = "inductor", nodes = ["a", "gnd"], inductance = "1 µH" }"#;
    assert_eq!(at_rest(inductor), ["bench.toml:6:1 `V1`, `L1` form a loop without resistance"]);
    // In time an inductor across a source is well defined.
    assert!(told(inductor, &[], Start::InitialValues).is_empty());
    let wound = r#"L1 = { kind = "inductor", nodes = ["a", "gnd"], inductance = "1 µH", series_resistance = "1 mΩ" }"#;
    assert!(at_rest(wound).is_empty());
}

#[test]
fn a_source_across_one_node_short_circuits_itself() {
    let found =
        at_rest(r#"V2 = { kind = "voltage-source", plus = "a", minus = "a", voltage = "1 V" }"#);
    assert_eq!(found, ["bench.toml:6:1 `V2` short-circuits itself: both its ends are at `a`"]);
}

#[test]
fn a_jump_of_current_into_inductors_alone_is_told() {
    let jump = || Drive::points(vec![(0.0, 0.0), (1e-3, 0.0), (1e-3, 1.0)]);
    let edge = Drive::points(vec![(0.0, 0.0), (1e-3, 0.0), (2e-3, 1.0)]);
    let lines = r#"L1 = { kind = "inductor", nodes = ["a", "b"], inductance = "1 µH", series_resistance = "1 Ω" }
I1 = { kind = "current-source", nodes = ["b", "gnd"], current = "1 mA" }"#;
    let driven = |lines: &str, drive: Drive| told(lines, &[("I1", drive)], Start::OperatingPoint);
    let message = "bench.toml:7:1 the current of `I1` jumps at node `b`, where only inductors could carry the jump";
    assert_eq!(driven(lines, jump()), [message]);
    assert!(driven(lines, edge).is_empty());
    assert!(at_rest(lines).is_empty());
    let capacitor =
        "\nC1 = { kind = \"capacitor\", nodes = [\"b\", \"gnd\"], capacitance = \"1 nF\" }";
    assert!(driven(&format!("{lines}{capacitor}"), jump()).is_empty());
    let behind_esl = capacitor.replace("\"1 nF\"", "\"1 nF\", esl = \"1 nH\"");
    assert_eq!(driven(&format!("{lines}{behind_esl}"), jump()), [message]);
    let load = lines.replace("current-source", "load");
    assert_eq!(driven(&load, jump()), [message]);
    let resistance = load.replace("current = \"1 mA\"", "resistance = \"1 kΩ\"");
    let ohms = Drive::points(vec![(0.0, 1.0), (1e-3, 1.0), (1e-3, 2.0)]);
    assert!(driven(&resistance, ohms).is_empty());
}
