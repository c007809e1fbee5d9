//! A sheet read, written and read again; where its regulator's values and parts are to be found; and
//! the estimates against closed forms.

#![allow(clippy::expect_used)] // a test that cannot go on has failed

use super::inside::{forced_saturation_v, saturation_v};
use super::{Datasheet, Regulator, model_text};
use crate::circuit::tests::{circuit, reading};
use crate::circuit::{Change, Changes, Circuit};
use crate::diagnostic::Diagnostic;

/// Everything that a sheet can say.
const EVERYTHING: &str = r#"topology = "pmos"
compensation = "single-pole"
output_voltage = "2.8 V"
accuracy = "1.5 %"
temperature_coefficient = "30 ppm/K"
rated_current = "0.2 A"
dropouts = [{ current = "180 mA", dropout = "89.3 mV", within = "5 %" }, { current = "90 mA", dropout = "45 mV", definition = "100 mV below" }, { current = "50 mA", dropout = "26 mV", definition = "fully on" }]
quiescent_current = "62.5 µA"
ground_current = "213 µA"
ground_current_in_dropout = "0.3 mA"
current_limit = "350 mA"
short_current = "123.4 mA"
fold_voltage = "2.1 V"
rise_time = "150 µs"
thermal_resistance = "173 K/W"
shutdown_temperature = "160 °C"
restart_temperature = "141.7 °C"
enable_on = "1.2 V"
enable_off = "0.4 V"
load_regulations = [{ from = "0 A", to = "180 mA", change = "0.84 mV", input = "3.3 V", within = "20 %" }]
line_regulations = [{ from = "3 V", to = "4.2 V", load = "12 mA", change = "1.88 mV" }]
transients = [{ from = "2 mA", to = "180 mA", edge = "100 ns", droop = "20.4 mV", overshoot = "17.2 mV", recovery = "3.04 µs", band = "0.5 %", capacitor = "2.91 µF", esr = "0 Ω", esl = "0.6 nH" }]
rejections = [{ frequency = "1 kHz", load = "180 mA", rejection = "52.6 dB", within = "3 dB" }]
impedances = [{ frequency = "104 kHz", load = "0.1 A", impedance = "83.3 mΩ" }]
noise_densities = [{ frequency = "10 kHz", load = "2 mA", density = "201 nV/√Hz" }]
noises = [{ from = "10 Hz", to = "100 kHz", load = "12 mA", noise = "62.3 µV" }]
capacitor_range = ["1 µF", "47 µF"]
esr_range = ["0 Ω", "0.5 Ω"]
test_input = "3.7 V"
test_capacitor = "4.7 µF"
test_esr = "6 mΩ"
test_esl = "0.7 nH"
"#;

/// A file with `U1`, its sheet in a model.
fn with_model(model: &str) -> String {
    format!(
        r#"title = "sheet"
[rail]
input = "vin"
output = "vout"
nominal = "2.8 V"
pass = "U1"
amplifier = "U1"
feedback = "U1.EA.sense"
[parts]
V1 = {{ kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "3.7 V" }}
U1 = {{ kind = "regulator", input = "vin", output = "vout", ground = "gnd", enable = "vin", model = "ldo" }}
I1 = {{ kind = "load", nodes = ["vout", "gnd"], current = "2 mA" }}
{model}"#
    )
}

fn first(circuit: &Circuit) -> &Regulator {
    circuit.regulators.first().expect("a regulator")
}

/// A sheet without the places of its rows, which lie elsewhere in every file.
fn without_places(sheet: &Datasheet) -> String {
    let told = format!("{sheet:#?}");
    let is_place = |line: &&str| {
        !["span", "file", "start", "end"].iter().any(|key| {
            line.trim_start().strip_prefix(key).is_some_and(|rest| rest.starts_with(':'))
        })
    };
    told.lines().filter(is_place).collect::<Vec<_>>().join("\n")
}

#[test]
fn a_sheet_written_as_a_model_reads_back_figure_by_figure() {
    let own = circuit(&with_model(&format!("[models.ldo]\nkind = \"regulator\"\n{EVERYTHING}")));
    let Regulator { sheet, inside, .. } = first(&own);
    assert_eq!(sheet.dropouts.len(), 3);
    let written = model_text("ldo", sheet, inside);
    let again = circuit(&with_model(&written));
    assert_eq!(without_places(&first(&again).sheet), without_places(sheet));
    for (value, back) in inside.iter().zip(&first(&again).inside) {
        assert_eq!((value.name, value.value), (back.name, back.value));
        assert!(!back.free, "`{}` is held in the file", back.name);
    }
    // Without inner values they are free again.
    let free = circuit(&with_model(&model_text("ldo", sheet, &[])));
    assert_eq!(first(&free).inside, *inside);
}

#[test]
fn inner_values_are_values_of_the_circuit() {
    let own = circuit(&with_model(&format!("[models.ldo]\nkind = \"regulator\"\n{EVERYTHING}")));
    let nominal = own.variant(&Changes::default()).expect("a variant");
    let amplifier = |variant: &crate::circuit::Variant| {
        variant.part("U1.EA").expect("U1.EA").parameters.number("stage_resistance")
    };
    let gain = first(&own).inside.iter().find(|v| v.name == "dc_gain").expect("dc_gain").value;
    assert!((amplifier(&nominal) * 200e-6 / gain - 1.0).abs() < 1e-12);
    let set = Changes { list: vec![Change::new("U1.dc_gain", "1234")] };
    let changed = own.variant(&set).expect("a variant");
    assert!((amplifier(&changed) * 200e-6 / 1234.0 - 1.0).abs() < 1e-12);
    let rail = nominal.rail.expect("a rail");
    assert_eq!((rail.pass, rail.amplifier), (vec!["U1.Q".to_owned()], vec!["U1.EA".to_owned()]));
}

#[test]
fn what_it_is_taken_apart_into_can_be_pasted_in_its_place() {
    let text = with_model(&format!("[models.ldo]\nkind = \"regulator\"\n{EVERYTHING}"));
    let own = circuit(&text);
    let Regulator { line, block, .. } = first(&own);
    let is_part = |l: &&str| l.starts_with("U1 = ");
    let part = text.lines().find(is_part).expect("the part");
    let (head, _) = text.split_once("[models.ldo]").expect("the model");
    // A use of a block is no regulator, so the rail names the parts themselves.
    let pasted = head
        .replace(part, line)
        .replace("pass = \"U1\"", "pass = \"U1.Q\"")
        .replace("amplifier = \"U1\"", "amplifier = \"U1.EA\"");
    let pasted = circuit(&format!("{pasted}\n{block}"));
    let [own, pasted] = [&own, &pasted].map(|c| c.variant(&Changes::default()).expect("a variant"));
    assert_eq!(own.parts.len(), pasted.parts.len());
    for (one, other) in own.parts.iter().zip(&pasted.parts) {
        assert_eq!((&one.name, &one.nodes), (&other.name, &other.nodes));
        assert_eq!(one.parameters, other.parameters, "{}", one.name);
    }
}

#[test]
fn regulators_in_blocks_have_their_names_from_there() {
    let text = r#"title = "nested"
[parts]
V1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "3.7 V" }
A = { kind = "block", block = "psu", ports = { in = "vin", out = "a" } }
B = { kind = "block", block = "psu", ports = { in = "vin", out = "b" } }
RA = { kind = "resistor", nodes = ["a", "gnd"], resistance = "1 kΩ" }
RB = { kind = "resistor", nodes = ["b", "gnd"], resistance = "1 kΩ" }
[blocks.psu]
ports = ["in", "out"]
parts = { U1 = { kind = "regulator", input = "in", output = "out", ground = "gnd", topology = "pmos", output_voltage = "2.8 V", rated_current = "0.2 A" } }
[blocks.unused]
ports = ["in", "out"]
parts = { U9 = { kind = "regulator", input = "in", output = "out", ground = "gnd", topology = "npn", output_voltage = "2.8 V", rated_current = "0.2 A" } }
"#;
    let own = circuit(text);
    let names: Vec<&str> = own.regulators.iter().map(|r| r.name.as_str()).collect();
    assert_eq!(names, ["A.U1", "B.U1"]);
    let set = Changes { list: vec![Change::new("B.U1.dc_gain", "77")] };
    let changed = own.variant(&set).expect("a variant");
    let at = |part: &str| changed.part(part).expect("a part").parameters.number("stage_resistance");
    assert!((at("B.U1.EA") * 200e-6 - 77.0).abs() < 1e-9 && at("A.U1.EA") != at("B.U1.EA"));
    assert_eq!(own.regulators[0].pass_devices(), ["A.U1.Q"]);
}

#[test]
fn what_the_part_says_wins_over_its_model() {
    let text = with_model(&format!("[models.ldo]\nkind = \"regulator\"\n{EVERYTHING}"));
    let text = text.replace(
        "model = \"ldo\"",
        "model = \"ldo\", rated_current = \"50 mA\", inside = { mid_gain = \"60\" }, compensation = \"lag\"",
    );
    let own = circuit(&text);
    let Regulator { sheet, inside, .. } = first(&own);
    assert_eq!(sheet.rated_current_a, 0.05);
    let held = inside.iter().find(|value| value.name == "mid_gain").expect("mid_gain");
    assert_eq!((held.value, held.free), (60.0, false));
}

#[test]
fn bounds_hold_the_estimates_of_every_topology() {
    for (topology, more) in [
        ("npn", ""),
        ("darlington", ""),
        ("pnp", ""),
        ("pmos", ""),
        ("nmos-bias", ", bias = \"vin\", test_bias = \"8 V\""),
    ] {
        let text = format!(
            "title = \"t\"\n[parts]\nV1 = {{ kind = \"voltage-source\", plus = \"vin\", minus = \"gnd\", voltage = \"9 V\" }}\nR1 = {{ kind = \"resistor\", nodes = [\"vout\", \"gnd\"], resistance = \"1 kΩ\" }}\nU1 = {{ kind = \"regulator\", input = \"vin\", output = \"vout\", ground = \"gnd\", topology = \"{topology}\", output_voltage = \"5 V\", rated_current = \"0.5 A\"{more} }}\n"
        );
        let told = reading(&text).diagnostics.sorted();
        assert_eq!(told, [], "{topology}");
        for value in &first(&circuit(&text)).inside {
            let fits = value.low <= value.value && value.value <= value.high;
            assert!(fits && value.low > 0.0 && value.high.is_finite(), "{topology} {value:?}");
            assert!(value.spread > 0.0 && value.spread < 4.0, "{topology} {value:?}");
        }
    }
}

/// The sheet with each of its figures in turn put far beyond what any regulator has.
fn absurd(sheet: &str) -> impl Iterator<Item = String> {
    let quoted: Vec<&str> = sheet.split('"').collect();
    let is_figure = |text: &str| text.starts_with(|c: char| c.is_ascii_digit());
    let places: Vec<usize> =
        (1..quoted.len()).step_by(2).filter(|k| is_figure(quoted[*k])).collect();
    places.into_iter().flat_map(move |place| {
        let quoted = quoted.clone();
        ["1e308", "1e-308", "1e-320"].map(move |figure| {
            let unit = quoted[place].split_once(' ').map_or("", |(_, unit)| unit);
            let instead = format!("{figure} {unit}");
            let mut quoted = quoted.clone();
            quoted[place] = &instead;
            quoted.join("\"")
        })
    })
}

#[test]
fn exact_figures_beyond_any_regulator_are_told_or_lead_to_numbers() {
    let (mut beyond, mut apart) = (0, 0);
    for topology in ["npn", "darlington", "pnp", "pmos"] {
        let mut sheet = EVERYTHING.replace("\"pmos\"", &format!("\"{topology}\""));
        if ["npn", "darlington"].contains(&topology) {
            // What junctions need.
            for (of_a_pmos, of_a_follower) in
                [("89.3 mV", "4 V"), ("45 mV", "3 V"), ("26 mV", "2 V")]
            {
                sheet = sheet.replace(of_a_pmos, of_a_follower);
            }
        }
        for sheet in absurd(&sheet) {
            let reading =
                reading(&with_model(&format!("[models.ldo]\nkind = \"regulator\"\n{sheet}")));
            let told = reading.diagnostics.sorted();
            let is_of_form = |m: &Diagnostic| m.message.starts_with("an operator is missing");
            assert!(!told.iter().any(is_of_form), "{told:?}: {sheet}");
            beyond += usize::from(told.iter().any(|m| m.message.contains("beyond all numbers")));
            let regulators = reading.circuit.iter().flat_map(|circuit| &circuit.regulators);
            for value in regulators.flat_map(|regulator| &regulator.inside) {
                let fits = value.low <= value.value && value.value <= value.high;
                assert!(fits && value.low > 0.0 && value.high.is_finite(), "{value:?}: {sheet}");
                apart += 1;
            }
        }
    }
    assert!(beyond > 20 && apart > 500, "{beyond} told, {apart} values");
}

/// Getreu, Modeling the Bipolar Transistor (1976), from memory: v_CEsat = U_T·ln((1 + (f + 1)/β_R)/
/// (1 - f/β_F)), f the forced gain; here 120 mA over 12 mA, β_F = 40, β_R = 4: (1 + 11/4)/(1 - 1/4).
#[test]
fn published_saturation_voltage_by_forced_gain() {
    let expected = 25.69e-3 * (3.75_f64 / 0.75).ln();
    let found = saturation_v(0.12, 0.012, 40.0).expect("saturated");
    assert!((found - expected).abs() < 1e-12, "{found} instead of {expected}");
    let least = forced_saturation_v(0.12, 0.012, 40.0).expect("saturated");
    assert!((least - 25.69e-3 * (1.0_f64 / 0.75).ln()).abs() < 1e-12, "{least}");
    assert_eq!(saturation_v(0.12, 0.002, 40.0), None);
}
