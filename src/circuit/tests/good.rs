//! Good files come to the numbers that stand in them.

use super::*;
use crate::device::{Drive, LawOutput, Role, Shape};
use crate::document::Node;
use crate::quantity::Dimension;

/// The rail of the introduction, shortened.
const RAIL: &str = r#"
title = "radio rail"
[values]
v_cell = "3.70 V"
c_out = { value = "4.7 µF", tolerance = "20 %", range = ["1 µF", "47 µF"], series = "E6" }
r_top = "r_bottom * (rail.nominal / v_ref - 1)"
r_bottom = "120 kΩ"
v_ref = "1.2 V"
[rail]
input = "vin"
output = "vout"
nominal = "2.80 V"
window = "2 %"
transient_window = ["2.7 V", "2.9 V"]
source = "BT1"
load = "I_RADIO"
pass = "Q1"
feedback = "EA.sense"
ambient = "60 °C"
[parts]
BT1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "v_cell", resistance = "0.15 Ω" }
C_IN = { kind = "capacitor", nodes = ["gnd", "vin"], capacitance = "10 µF" }
V_REF = { kind = "voltage-source", plus = "ref", minus = "gnd", voltage = "v_ref" }
EA = { kind = "error-amplifier", reference = "ref", sense = "fb", output = "gate", supply = "vin", ground = "gnd", inverting = "reference", model = "ea" }
Q1 = { kind = "mosfet", source = "vin", gate = "gate", drain = "vout", series_resistance = "0.20 Ω", model = "pass" }
R_TOP = { kind = "resistor", nodes = ["vout", "fb"], resistance = "r_top", tolerance = "1 %" }
R_BOT = { kind = "resistor", nodes = ["fb", "gnd"], resistance = "r_bottom", temperature = "-40 °C" }
C_OUT = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "c_out", remaining = "62 %", esr = "6 mΩ", esl = "0.6 nH" }
I_RADIO = { kind = "load", nodes = ["vout", "gnd"], current = "2 mA", text = "radio" }
[models.ea]
kind = "error-amplifier"
transconductance = "1 mS"
stage_current = "20 µA"
stage_resistance = "1 MΩ"
output_resistance = "10 kΩ"
drive_current = "1 mA"
[models.pass]
kind = "mosfet"
channel = "p"
threshold = "0.70 V"
transconductance = "1.24 A/V^2"
series_resistance = "0.5 Ω"
body_diode = { saturation_current = "1 nA" }
[[tests]]
name = "burst"
"#;

fn number(circuit: &Circuit, part: &str, key: &str) -> f64 {
    let variant = circuit.variant(&Changes::default()).expect("the variant is sound");
    variant.part(part).expect("the part is there").parameters.number(key)
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-12 * b.abs()
}

#[test]
fn exact_values_rail_and_parts_come_to_what_is_written() {
    let circuit = circuit(RAIL);
    assert_eq!(circuit.title, "radio rail");
    assert_eq!(circuit.tests.len(), 1);
    let variant = circuit.variant(&Changes::default()).expect("the variant is sound");
    let rail = variant.rail.clone().expect("there is a rail");
    assert_eq!(rail.nominal_v, Some(2.8));
    let [low, high] = rail.window.expect("there is a window");
    assert!(close(low, 2.744) && close(high, 2.856));
    assert_eq!(rail.transient_window, Some([2.7, 2.9]));
    assert_eq!(rail.ambient_k, 333.15);
    assert_eq!((rail.input.as_deref(), rail.output.as_deref()), (Some("vin"), Some("vout")));
    assert_eq!(rail.amplifier, ["EA"]);
    assert_eq!(rail.output_capacitors, ["C_OUT"]);
    assert_eq!(rail.input_capacitors, ["C_IN"]);
    assert_eq!(rail.feedback.as_deref(), Some("EA.sense"));
    // 120 kΩ · (2.8/1.2 − 1) = 160 kΩ.
    assert!(close(number(&circuit, "R_TOP", "resistance"), 160e3));
    assert_eq!(number(&circuit, "C_OUT", "remaining"), 0.62);
    assert_eq!(number(&circuit, "C_OUT", "tolerance"), 0.0);
    let part = |name: &str| variant.part(name).expect("the part is there");
    assert_eq!(part("R_BOT").parameters.temperature_k, 233.15);
    assert_eq!(part("R_TOP").parameters.temperature_k, 333.15);
    assert_eq!(part("EA").parameters.word("inverting"), "reference");
    assert_eq!(part("EA").parameters.word("stage"), "voltage");
    assert_eq!(part("I_RADIO").parameters.drive, Some(Drive::constant(2e-3)));
    assert_eq!(part("I_RADIO").driven, Some(("current", Dimension::AMPERE)));
    assert_eq!(circuit.driven("BT1"), Some(("voltage", Dimension::VOLT)));
    assert_eq!(circuit.part_text("I_RADIO"), Some("radio"));
}

#[test]
fn what_a_part_says_itself_wins_over_its_model() {
    let circuit = circuit(RAIL);
    let variant = circuit.variant(&Changes::default()).expect("the variant is sound");
    let q1 = variant.part("Q1").expect("Q1 is there");
    assert_eq!(q1.parameters.number("series_resistance"), 0.2);
    assert_eq!(q1.parameters.number("threshold"), 0.7);
    assert_eq!(q1.parameters.number("slope_factor"), 1.3);
    assert_eq!(q1.parameters.word("channel"), "p");
    assert_eq!(q1.parameters.tables["body_diode"].number("saturation_current"), 1e-9);
    assert_eq!(q1.parameters.tables["body_diode"].number("ideality"), 1.0);
    // The body follows the source.
    assert_eq!(q1.nodes[3], "vin");
}

#[test]
fn what_is_said_of_a_value_is_kept() {
    let circuit = circuit(RAIL);
    let spec = circuit.values_told.iter().find(|v| v.name == "c_out").expect("c_out is told");
    assert_eq!(spec.tolerance, Some([0.2, 0.2]));
    let [low, high] = spec.range.expect("a range");
    assert!(close(low, 1e-6) && close(high, 47e-6));
    assert_eq!(spec.series.map(crate::quantity::series::Series::name), Some("E6"));
    assert_eq!(spec.spacing, crate::circuit::Spacing::Logarithmic);
    assert!(close(spec.nominal, 4.7e-6));
}

#[test]
fn changes_reach_values_keys_models_and_the_ambient_and_later_ones_win() {
    let circuit = circuit(RAIL);
    let list = [
        ("r_bottom", "60 kΩ"),
        ("r_bottom", "100 kΩ"),
        ("rail.ambient", "-20 °C"),
        ("models.pass.threshold", "0.8 V"),
        ("models.pass.series_resistance", "9 Ω"),
        ("C_OUT.esr", "2 * 3 mΩ"),
        ("EA.swing_low", "v_ref / 12"),
        ("Q1.body_diode.ideality", "1.5"),
        ("EA.inverting", "sense"),
        ("R_BOT.temperature", "300 K"),
    ];
    let variant = circuit.variant(&changes(&list)).expect("the changes are sound");
    let get = |part: &str, key: &str| variant.part(part).map(|p| p.parameters.number(key));
    assert!(close(get("R_TOP", "resistance").unwrap_or(0.0), 100e3 * (2.8 / 1.2 - 1.0)));
    assert_eq!(variant.rail.as_ref().map(|r| r.ambient_k), Some(253.15));
    assert_eq!(get("Q1", "threshold"), Some(0.8));
    assert_eq!(get("Q1", "series_resistance"), Some(0.2));
    assert_eq!(get("C_OUT", "esr"), Some(6e-3));
    assert!(close(get("EA", "swing_low").unwrap_or(0.0), 0.1));
    let q1 = variant.part("Q1").expect("Q1 is there");
    assert_eq!(q1.parameters.tables["body_diode"].number("ideality"), 1.5);
    assert_eq!(q1.parameters.tables["body_diode"].number("saturation_current"), 1e-9);
    assert_eq!(variant.part("EA").map(|p| p.parameters.word("inverting")), Some("sense"));
    assert_eq!(variant.part("R_BOT").map(|p| p.parameters.temperature_k), Some(300.0));
    // The circuit itself stays as it was.
    assert_eq!(number(&circuit, "Q1", "threshold"), 0.7);
}

#[test]
fn an_expression_of_a_test_uses_values_and_the_rail() {
    let circuit = circuit(&format!("{RAIL}from = \"v_ref / r_bottom\"\nto = 0\n"));
    let test = circuit.tests[0].as_table().expect("a test is a table");
    let from = circuit.compile(test.get("from").expect("from"), Dimension::AMPERE).expect("sound");
    let to = circuit.compile(test.get("to").expect("to"), Dimension::AMPERE).expect("sound");
    let variant = circuit.variant(&Changes::default()).expect("sound");
    assert!(close(variant.evaluate(&from), 1e-5));
    assert_eq!(variant.evaluate(&to), 0.0);
    let wrong = circuit.compile(test.get("from").expect("from"), Dimension::VOLT);
    assert_eq!(wrong.map_err(|mistakes| mistakes.len()), Err(1));
    let window = circuit.compile_window("window", test.get("from").expect("from"));
    assert!(window.is_err());
}

pub(super) const BLOCK: &str = r#"
title = "t"
[values]
r = "1 kΩ"
[parts]
V1 = { kind = "voltage-source", plus = "a", minus = "gnd", voltage = "5 V" }
U1 = { kind = "block", block = "divider", ports = { top = "a", tap = "b" }, values = { r_low = "2 * r" } }
U2 = { kind = "block", block = "pair", ports = { x = "b" }, temperature = "0 °C" }
[blocks.divider]
ports = ["top", "tap"]
values = { r_high = "3 * r_low", r_low = "1 Ω" }
[blocks.divider.parts]
R1 = { kind = "resistor", nodes = ["top", "mid"], resistance = "r_high" }
R2 = { kind = "resistor", nodes = ["mid", "tap"], resistance = "r_low" }
R3 = { kind = "resistor", nodes = ["tap", "gnd"], resistance = "r_low" }
[blocks.pair]
ports = ["x"]
parts = { D = { kind = "block", block = "divider", ports = { top = "x", tap = "y" } }, R = { kind = "resistor", nodes = ["y", "gnd"], resistance = "7 Ω" } }
"#;

#[test]
fn exact_blocks_are_taken_apart_with_scopes_of_their_own() {
    let circuit = circuit(BLOCK);
    let names: Vec<&str> = circuit.part_names().collect();
    assert_eq!(names, ["V1", "U1.R1", "U1.R2", "U1.R3", "U2.D.R1", "U2.D.R2", "U2.D.R3", "U2.R"]);
    assert_eq!(number(&circuit, "U1.R1", "resistance"), 6e3);
    assert_eq!(number(&circuit, "U1.R3", "resistance"), 2e3);
    assert_eq!(number(&circuit, "U2.D.R1", "resistance"), 3.0);
    let variant =
        circuit.variant(&changes(&[("U1.r_low", "r / 10"), ("U2.D.R2.resistance", "8 Ω")]));
    let variant = variant.expect("the changes are sound");
    let part = |name: &str| variant.part(name).expect("the part is there");
    assert_eq!(part("U1.R1").parameters.number("resistance"), 300.0);
    assert_eq!(part("U2.D.R2").parameters.number("resistance"), 8.0);
    assert_eq!(part("U1.R1").nodes, ["a", "U1.mid"]);
    assert_eq!(part("U2.D.R2").nodes, ["U2.D.mid", "U2.y"]);
    assert_eq!(part("U2.D.R3").parameters.temperature_k, 273.15);
    assert_eq!(part("U1.R3").parameters.temperature_k, 298.15);
    let values: Vec<&str> = variant.values.iter().map(|v| v.name.as_str()).collect();
    assert_eq!(values, ["r", "U1.r_high", "U1.r_low", "U2.D.r_high", "U2.D.r_low"]);
}

#[test]
fn exact_time_functions_become_points_and_sines() {
    let text = bench(
        r#"I1 = { kind = "current-source", nodes = ["a", "gnd"], current = "1 mA", varies = { shape = "pulse", change = "2 mA", delay = "1 ms", edge = "1 µs", width = "5 ms", period = "10 ms" } }
I2 = { kind = "current-source", nodes = ["a", "gnd"], varies = { shape = "ramp", change = "2 mA", edge = 0 } }
I3 = { kind = "current-source", nodes = ["a", "gnd"], varies = { shape = "sine", amplitude = "1 mA", frequency = "1 kHz", phase = "90 deg" } }
I4 = { kind = "current-source", nodes = ["a", "gnd"], varies = { shape = "file", file = "data/step.csv", time = "time [ms]", value = "load [mA]", repeat_every = "1 s" } }
I5 = { kind = "current-source", nodes = ["a", "gnd"], varies = { shape = "points", points = [["0 s", "0 A"], ["1 ms", "1 A"], ["1 ms", "2 A"]] } }"#,
    );
    let files = InMemory::of(&[(
        "data/step.csv",
        "time [ms],other,load [mA]\n0,9,1\n0.5,9,1\n0.5,9,3e2\n",
    )]);
    let reading = read("netlists/bench.toml", &text, &files);
    let told = shown(&reading.diagnostics.clone().sorted(), &reading.sources);
    let circuit = reading.circuit.unwrap_or_else(|| panic!("{told:#?}"));
    let variant = circuit.variant(&Changes::default()).expect("sound");
    let drive =
        |name: &str| variant.part(name).and_then(|p| p.parameters.drive.clone()).expect("a drive");
    assert_eq!(drive("I1").constant, 1e-3);
    let points = |name: &str| match drive(name).shape {
        Some(Shape::Points { points, repeat_every_s }) => (points, repeat_every_s),
        other => panic!("{other:?}"),
    };
    let (pulse, period) = points("I1");
    assert_eq!(period, Some(10e-3));
    let expected = [(1e-3, 0.0), (1.001e-3, 2e-3), (6.001e-3, 2e-3), (6.002e-3, 0.0)];
    for (got, want) in pulse.iter().zip(expected) {
        assert!((got.0 - want.0).abs() < 1e-15 && (got.1 - want.1).abs() < 1e-18, "{pulse:?}");
    }
    assert_eq!(points("I2"), (vec![(0.0, 0.0), (0.0, 2e-3)], None));
    let (file, every) = points("I4");
    assert_eq!(every, Some(1.0));
    assert!(close(file[2].1, 0.3) && close(file[1].0, 5e-4) && file[0] == (0.0, 1e-3), "{file:?}");
    assert_eq!(points("I5").0[2], (1e-3, 2.0));
    match drive("I3").shape {
        Some(Shape::Sine { amplitude, frequency_hz, delay_s, phase_rad }) => {
            assert_eq!((amplitude, frequency_hz, delay_s), (1e-3, 1e3, 0.0));
            assert!(close(phase_rad, std::f64::consts::FRAC_PI_2));
        }
        other => panic!("{other:?}"),
    }
}

/// The coefficient is of the source's own voltage; a level that a test asks for stands, also where it is
/// the very number of `voltage`.
#[test]
fn exact_levels_that_a_test_asks_for_are_met_at_any_temperature() {
    let circuit = circuit(
        "title = \"t\"\n[parts]\nR = { kind = \"resistor\", nodes = [\"a\", \"gnd\"], resistance = \"1 Ω\" }\n\
         V = { kind = \"voltage-source\", plus = \"a\", minus = \"gnd\", voltage = \"4 V\", \
         temperature = \"125 °C\", temperature_coefficient = \"-0.1 %/K\" }\n",
    );
    let variant = circuit.variant(&changes(&[])).expect("a sound circuit");
    let level = |drives: &[(String, Drive)]| variant.net(drives).drives[0].initial();
    assert!(close(level(&[]), 3.6));
    for asked in [3.9, 4.0, 4.1] {
        assert_eq!(level(&[("V".to_owned(), Drive::constant(asked))]), asked);
    }
}

#[test]
fn exact_a_law_sees_inputs_time_and_the_values_of_its_variant() {
    let text = bench(
        "B1 = { kind = \"law\", nodes = [\"a\", \"gnd\"], inputs = { v = [\"a\", \"gnd\"], w = [\"gnd\", \"a\"] }, current = \"k * v / r + w / r + t * 1 A/s\" }\n[values]\nk = 3\nr = \"1 kΩ\"",
    );
    let circuit = circuit(&text);
    let law = |list: &[(&str, &str)]| {
        let variant = circuit.variant(&changes(list)).expect("sound");
        let part = variant.part("B1").expect("B1 is there").clone();
        assert_eq!(part.input_nodes, [["a", "gnd"], ["gnd", "a"]].map(|p| p.map(str::to_owned)));
        part.parameters.law.expect("a law")
    };
    let (output, program) = law(&[]);
    assert_eq!(output, LawOutput::Current);
    assert!(close(program.evaluate(&[2.0, 1.0, 0.5]), 0.507));
    assert!(close(law(&[("k", "5")]).1.evaluate(&[2.0, 1.0, 0.5]), 0.511));
}

#[test]
fn sensing_parts_are_laid_after_what_they_sense() {
    let text = bench(
        r#"F1 = { kind = "controlled-current-source", nodes = ["b", "gnd"], sensed = "L1", gain = 2 }
L1 = { kind = "inductor", nodes = ["a", "b"], inductance = "1 µH", series_resistance = "1 Ω" }"#,
    );
    let circuit = circuit(&text);
    let variant = circuit.variant(&Changes::default()).expect("sound");
    let drive = Drive::constant(7.0);
    let net = variant.net(&[("V1".to_owned(), drive.clone())]);
    let order: Vec<&str> = net.parts.iter().map(|p| p.name.as_str()).collect();
    assert_eq!(order, ["V1", "R1", "L1", "F1"]);
    assert_eq!(net.drives, [drive]);
    let current = net.parts[2].branch.expect("an inductor has a branch");
    assert_eq!(net.unknowns[current].role, Role::InductorCurrent);
    let follows = net.elements.iter().any(|(part, element)| {
        *part == 3
            && matches!(element, crate::device::Element::Transfer { control: crate::device::Control::Current(c), .. } if *c == current)
    });
    assert!(follows);
}

#[test]
fn includes_bring_values_models_and_blocks_from_folders_below() {
    let text = "title = \"t\"\ninclude = [\"parts/a.toml\", \"./parts/b.toml\"]\n[parts]\nR1 = { kind = \"resistor\", nodes = [\"x\", \"gnd\"], resistance = \"r\" }\nR2 = { kind = \"resistor\", nodes = [\"x\", \"gnd\"], model = \"m\" }\n";
    let files = InMemory::of(&[
        ("parts/a.toml", "include = \"deep/c.toml\"\n[values]\nr = \"2 * q\"\n"),
        ("parts/b.toml", "[models.m]\nkind = \"resistor\"\nresistance = \"q\"\n"),
        ("parts/deep/c.toml", "values = { q = \"5 Ω\" }\n"),
    ]);
    let reading = read("bench.toml", text, &files);
    let told = shown(&reading.diagnostics.clone().sorted(), &reading.sources);
    let circuit = reading.circuit.unwrap_or_else(|| panic!("{told:#?}"));
    assert_eq!(number(&circuit, "R1", "resistance"), 10.0);
    assert_eq!(number(&circuit, "R2", "resistance"), 5.0);
    assert_eq!(reading.sources.files.len(), 4);
}

#[test]
fn corners_become_changes() {
    let text = bench(
        "[values]\nv = \"1 V\"\n[corners]\nambient = [\"-20 °C\", \"60 °C\"]\nv = [\"1 V\", \"2 V\"]\nR1.resistance = [\"1 Ω\"]",
    );
    let circuit = circuit(&text);
    let paths: Vec<&str> = circuit.corners.iter().map(|c| c.path.as_str()).collect();
    assert_eq!(paths, ["rail.ambient", "v", "R1.resistance"]);
    let set = Changes { list: circuit.corners.iter().map(|c| c.changes[0].clone()).collect() };
    let variant = circuit.variant(&set).expect("sound");
    assert_eq!(variant.rail.as_ref().map(|r| r.ambient_k), Some(253.15));
    assert_eq!(variant.part("R1").map(|p| p.parameters.number("resistance")), Some(1.0));
}

#[test]
fn points_of_a_test_are_compiled() {
    let circuit = circuit(&bench("[[tests]]\npoints = [[\"0 s\", \"0\"], [\"1 ms\", \"2 A\"]]"));
    let node: &Node = circuit.tests[0].as_table().and_then(|t| t.get("points")).expect("points");
    let points = circuit.compile_points("load_points", node, Dimension::AMPERE).expect("sound");
    let variant = circuit.variant(&Changes::default()).expect("sound");
    assert_eq!(variant.evaluate(&points[1].0), 1e-3);
    assert_eq!(variant.evaluate(&points[1].1), 2.0);
    assert!(circuit.compile_points("load_points", node, Dimension::VOLT).is_err());
}
