//! What is told back of small circuits, against what stands in them.

#![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

use super::lines;
use crate::circuit::{Change, Changes};
use crate::document::NoFiles;
use crate::plan::{self, Plan};

const RAIL: &str = r#"title = "small"
[values]
v_cell = "3.70 V"
[rail]
input = "vin"
output = "vout"
nominal = "2.80 V"
window = "2 %"
source = "BT1"
load = "I_RADIO"
pass = "Q1"
[parts]
BT1 = { kind = "voltage-source", plus = "cell", minus = "gnd", voltage = "v_cell" }
R_CELL = { kind = "resistor", nodes = ["trace", "cell"], resistance = "0.15 Ω" }
L_TRACE = { kind = "inductor", nodes = ["trace", "vin"], inductance = "4 nH" }
C_IN = { kind = "capacitor", nodes = ["vin", "gnd"], capacitance = "10 µF" }
V_REF = { kind = "voltage-source", plus = "ref", minus = "gnd", voltage = "1.200 V" }
EA = { kind = "error-amplifier", reference = "ref", sense = "fb", output = "gate", supply = "vin", ground = "gnd", inverting = "reference", transconductance = "200 µS", stage_current = "20 µA", stage_resistance = "5 MΩ", output_resistance = "1 kΩ", drive_current = "2 mA" }
Q1 = { kind = "mosfet", source = "vin", gate = "gate", drain = "vout", channel = "p", threshold = "0.7 V", transconductance = "1.24 A/V^2" }
R_TOP = { kind = "resistor", nodes = ["vout", "fb"], resistance = "160 kΩ" }
R_BOT = { kind = "resistor", nodes = ["fb", "gnd"], resistance = "120 kΩ" }
C_OUT = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "4.7 µF", remaining = "62 %", esr = "6 mΩ", esl = "0.6 nH" }
I_RADIO = { kind = "load", nodes = ["vout", "gnd"], current = "2 mA" }
[[tests]]
name = "idle"
kind = "operating-point"
load_level = "5 mA"
[[tests]]
name = "burst"
kind = "load-step"
from = "2 mA"
to = "180 mA"
edge = "100 ns"
hold = "600 µs"
values = { v_cell = "2.95 V" }
ambient = "60 °C"
[[tests]]
name = "sag"
kind = "profile"
duration = "2 ms"
source_points = [["0 s", "3.7 V"], ["1 ms", "3.2 V"]]
"#;

fn plan_with(text: &str, changes: &Changes) -> Plan {
    let reading = plan::read("x.toml", text, &NoFiles, changes);
    reading.plan.unwrap_or_else(|| panic!("{:#?}", reading.diagnostics))
}

fn told(text: &str) -> Vec<String> {
    lines(&plan_with(text, &Changes::default()), &[])
}

fn starting<'a>(told: &'a [String], start: &str) -> Option<&'a str> {
    told.iter().map(String::as_str).find(|line| line.starts_with(start))
}

#[test]
fn a_series_regulator_is_told_back_in_full() {
    assert_eq!(
        told(RAIL),
        [
            "rail: output vout, nominal 2.8 V, window 2.744 V to 2.856 V, ambient 25 °C",
            "path: BT1 → R_CELL → L_TRACE → vin → Q1 → vout",
            // 1.2 V · (1 + 160/120) = 2.8 V
            "set voltage: 2.8 V = V_REF 1.2 V · (1 + R_TOP 160 kΩ / R_BOT 120 kΩ)",
            // 4.7 µF · 0.62 = 2.914 µF
            "output bank: C_OUT 4.7 µF on the label,",
            "  2.914 µF effective: 62 % left at the working bias as given, ESR 6 mΩ, ESL 600 pH",
            "input bank: C_IN 10 µF, all of it effective, ESR 0 Ω, ESL 0 H",
            "idle: operating-point, BT1 3.7 V, I_RADIO 5 mA",
            "burst: load-step of I_RADIO 2 mA → 180 mA, edge 100 ns, hold 600 µs, with BT1 2.95 V;",
            "  v_cell = 2.95 V; ambient 60 °C",
            "sag: profile for 2 ms, BT1 2 points, 3.2 V to 3.7 V, I_RADIO 2 mA",
        ]
    );
}

#[test]
fn a_capacitor_is_told_at_its_bias_with_the_reason() {
    let text = RAIL.replace(
        "capacitance = \"10 µF\" }",
        "capacitance = \"10 µF\", dielectric = \"X7R\", rated_voltage = \"3.7 V\" }",
    );
    let text = text.replace(
        "remaining = \"62 %\"",
        "bias_curve = [[\"0 V\", \"100 %\"], [\"4 V\", \"50 %\"]], age = \"10000 h\", ageing = \"2 %\"",
    );
    let told = told(&text);
    // At rest 3.7 V less 0.3 mV in the cell: half is left at the rating.
    let input = told.iter().position(|l| l.starts_with("input bank")).unwrap();
    assert!(told[input].starts_with("input bank: C_IN X7R 10 µF on the label"), "{told:#?}");
    assert!(told[input + 1].contains("5 µF effective: 50 % left at 3.7 V by what X7R commonly"));
    let output = told.iter().position(|l| l.starts_with("output bank")).unwrap();
    let both = told[output..input].join(" ");
    // 2.805 V, as a loop of finite gain holds it: 1 - 2.805/8 is left, times 0.98 of that.
    assert!(
        both.contains("64.9 % left at 2.81 V by its bias curve, 98 % at an age of 10000 h"),
        "{both}"
    );
}

#[test]
fn changes_from_outside_are_in_what_is_told() {
    let changes = Changes { list: vec![Change::new("R_TOP.resistance", "170 kΩ")] };
    let told = lines(&plan_with(RAIL, &changes), &[]);
    // 1.2 V · (1 + 170/120) = 2.9 V, 3.571 % above 2.8 V
    let line = starting(&told, "set voltage").unwrap();
    assert!(line.starts_with("set voltage: 2.9 V") && line.ends_with(", 3.571 % above nominal"));
}

#[test]
fn a_divider_of_several_resistors_in_series_is_followed() {
    let text = RAIL.replace(
        r#"nodes = ["vout", "fb"], resistance = "160 kΩ" }"#,
        "nodes = [\"vout\", \"mid\"], resistance = \"100 kΩ\" }\n\
         R_MID = { kind = \"resistor\", nodes = [\"fb\", \"mid\"], resistance = \"60 kΩ\" }",
    );
    let told = told(&text);
    assert_eq!(
        starting(&told, "set voltage"),
        Some("set voltage: 2.8 V = V_REF 1.2 V · (1 + R_MID + R_TOP 160 kΩ / R_BOT 120 kΩ)")
    );
}

#[test]
fn what_the_plain_formula_does_not_cover_is_not_recognised() {
    let second =
        "R_X = { kind = \"resistor\", nodes = [\"fb\", \"cell\"], resistance = \"1 MΩ\" }\n";
    let text =
        RAIL.replace("[[tests]]\nname = \"idle\"", &format!("{second}[[tests]]\nname = \"idle\""));
    assert!(told(&text).contains(&"set voltage not recognised".to_owned()));
    let follower = RAIL.replace("sense = \"fb\"", "sense = \"vout\"");
    assert!(
        told(&follower).contains(&"set voltage: V_REF 1.2 V, sensed without a divider".to_owned())
    );
}

#[test]
fn places_are_named_where_no_series_path_joins_them() {
    let text = RAIL.replace("pass = \"Q1\"\n", "").replace("window = \"2 %\"\n", "");
    let told = told(&text);
    assert_eq!(starting(&told, "path"), Some("path: source BT1, input vin, output vout"));
    assert!(starting(&told, "rail").unwrap().contains("no window given"));
}

#[test]
fn a_file_without_a_rail_says_so() {
    let text = "title = \"t\"\n[parts]\n\
        V1 = { kind = \"voltage-source\", plus = \"a\", minus = \"gnd\", voltage = \"5 V\" }\n\
        R1 = { kind = \"resistor\", nodes = [\"a\", \"gnd\"], resistance = \"1 kΩ\" }\n\
        [[tests]]\nname = \"look\"\nkind = \"operating-point\"\n";
    assert_eq!(
        told(text),
        [
            "rail: none described, so nothing of it is measured",
            "look: operating-point, nothing driven"
        ]
    );
}

#[test]
fn no_line_is_wider_than_a_hundred_columns() {
    let text = RAIL.replace("name = \"burst\"", &format!("name = \"{}\"", "burst ".repeat(30)));
    for line in told(&text) {
        assert!(line.chars().count() <= 100, "{line}");
    }
}
