//! `run --corners`: requirements judged where they are worst.

use crate::bench::Bench;
use serde_json::Value;

/// At rest the output is `v_in` less the load's current times `r_out`; a step of 100 mA droops by
/// 0.1 A times `r_out`.
const CIRCUIT: &str = r#"title = "bench rail with tolerances"
[values]
v_in = { value = "3 V", tolerance = "2 %" }
r_out = { value = "0.5 Ω", tolerance = ["-20 %", "10 %"] }
[rail]
input = "vin"
output = "vout"
nominal = "3 V"
source = "V1"
load = "I_LOAD"
[corners]
"I_LOAD.current" = ["10 mA", "30 mA"]
ambient = ["-20 °C", "25 °C"]
[parts]
V1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "v_in" }
R_OUT = { kind = "resistor", nodes = ["vin", "vout"], resistance = "r_out", temperature_coefficient = "0.4 %/K" }
C_OUT = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF", esr = "10 mΩ" }
I_LOAD = { kind = "load", nodes = ["vout", "gnd"], current = "10 mA" }

[[tests]]
name = "rest"
kind = "operating-point"
require = { output_level = "2.9 V .. 3.1 V" }

[[tests]]
name = "rest as designed"
kind = "operating-point"
values = { v_in = "3 V" }
require = { output_level = "2.9 V .. 3.1 V" }

[[tests]]
name = "step"
kind = "load-step"
from = "10 mA"
to = "110 mA"
edge = "0"
hold = "100 µs"
require = { droop = "<= 56 mV" }
"#;

fn line<'a>(summary: &'a Value, test: usize, name: &str) -> &'a Value {
    let all = summary["tests"][test]["measurements"].as_array().unwrap();
    all.iter().find(|m| m["name"] == name).unwrap()
}

fn near(value: &Value, expected: f64) {
    let value = value.as_f64().unwrap();
    // The load's fade takes 2e-13 of its current, the solution of a step ends within 10 µV.
    assert!((value - expected).abs() < 10e-6, "{value} {expected}");
}

#[test]
fn exact_worst_corner_of_a_resistive_rail() {
    let bench = Bench::with(CIRCUIT);
    let _ = bench.run(&["--corners"]).expect(0);
    let summary = bench.summary();
    // The lower limit is nearer: least source, most resistance, most current. At -20 °C the
    // resistance is 18 % less, so 25 °C is worse.
    let rest = line(&summary, 0, "output_level");
    near(&rest["value"], 2.94 - 0.55 * 0.03);
    let corner = "--set I_LOAD.current=30mA --set rail.ambient=25°C --set v_in=2.94V \
                  --set r_out=550mΩ";
    assert_eq!(rest["corner"], corner);
    assert_eq!(summary["tests"][0]["condition"]["nominal_only"], false);
    // What a test sets itself does not scatter in it.
    let designed = line(&summary, 1, "output_level");
    near(&designed["value"], 3.0 - 0.55 * 0.03);
    // The current at rest is the test's own in a load step.
    let step = line(&summary, 2, "droop");
    near(&step["value"], 0.055);
    assert_eq!(step["verdict"], "marginal");
    assert!(!step["corner"].as_str().unwrap().contains("I_LOAD"), "{step}");
}

#[test]
fn printed_arguments_make_the_worst_corner_again() {
    let bench = Bench::with(CIRCUIT);
    let _ = bench.run(&["--corners", "--test", "step"]).expect(0);
    let worst = line(&bench.summary(), 0, "droop").clone();
    let corner = worst["corner"].as_str().unwrap();
    let words: Vec<&str> = ["--test", "step"].into_iter().chain(corner.split(' ')).collect();
    let _ = bench.run(&words).expect(0);
    let again = line(&bench.summary(), 0, "droop").clone();
    assert_eq!(worst["value"], again["value"]);
    assert_eq!(again.get("corner"), None);
}

#[test]
fn the_table_names_the_worst_corner_and_lists_the_environment() {
    let bench = Bench::with(CIRCUIT);
    let told = bench.run(&["--corners", "--test", "rest"]).expect(0).out;
    let plain = told.replace("\n    ", " ");
    assert!(
        plain.contains("each requirement at its worst corner, all else at nominal values"),
        "{told}"
    );
    assert!(plain.contains("also, at nominal values: "), "{told}");
    assert!(told.contains("worst at --set I_LOAD.current=30mA"), "{told}");
    assert!(told.contains("4 corners of the environment"), "{told}");
    assert!(told.contains("I_LOAD.current 10 mA, rail.ambient -20 °C"), "{told}");
    assert!(!told.contains("nominal values only"), "{told}");
}

#[test]
fn corners_do_not_depend_on_threads() {
    let summaries = ["1", "2", "5"].map(|threads| {
        let bench = Bench::with(CIRCUIT);
        let _ = bench.run(&["--corners", "--threads", threads]).expect(0);
        bench.summary()
    });
    assert!(summaries.iter().all(|s| *s == summaries[0]));
}

/// A level that a test gives in figures follows no corner, which is said; one that names a value does, as
/// does the source's own.
#[test]
fn exact_levels_of_a_start_follow_values_and_corners() {
    let circuit = CIRCUIT.split("[[tests]]").next().unwrap().replace(
        "\"I_LOAD.current\" = [\"10 mA\", \"30 mA\"]\nambient = [\"-20 °C\", \"25 °C\"]",
        "v_in = [\"2.9 V\", \"3.1 V\"]\nv_bus = [\"2.95 V\", \"3.05 V\"]",
    );
    // Without its tolerance, which would be searched around each corner.
    let circuit = circuit
        .replace("{ value = \"3 V\", tolerance = \"2 %\" }", "\"3 V\"")
        .replace("[values]", "[values]\nv_bus = \"3 V\"");
    let test = |name: &str, kind: &str, level: &str| {
        format!(
            "[[tests]]\nname = \"{name}\"\nkind = \"{kind}\"\n{level}\nramp = \"1 ms\"\nhold = \"5 ms\"\n\
             require = {{ input_maximum = \"<= 3.2 V\" }}\n"
        )
    };
    let mut text = circuit;
    for (kind, key) in [("start-up", "to"), ("power-down", "from")] {
        text += &test(&format!("{kind} own"), kind, "");
        text += &test(&format!("{kind} named"), kind, &format!("{key} = \"v_bus\""));
        text += &test(&format!("{kind} in figures"), kind, &format!("{key} = \"3 V\""));
    }
    let bench = Bench::with(&text);
    let highest = |more: &[&str]| -> Vec<f64> {
        let _ = bench.run(more).expect(0);
        let summary = bench.summary();
        (0..6).map(|k| line(&summary, k, "input_maximum")["value"].as_f64().unwrap()).collect()
    };
    let close = |found: Vec<f64>, wanted: [f64; 3]| {
        for (found, wanted) in found.iter().zip(wanted.iter().chain(&wanted)) {
            // The solution of a step ends within 10 µV.
            assert!((found - wanted).abs() < 10e-6, "{found} {wanted}");
        }
    };
    close(highest(&[]), [3.0, 3.0, 3.0]);
    close(highest(&["--set", "v_in=2.8V"]), [2.8, 3.0, 3.0]);
    close(highest(&["--set", "v_bus=2.7V"]), [3.0, 2.7, 3.0]);
    close(highest(&["--corners"]), [3.1, 3.05, 3.0]);
    let told = bench.run(&["--corners"]).expect(0).out;
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    for said in [
        "of `[corners]`, v_bus moves nothing in this test",
        "of `[corners]`, v_in moves nothing in this test",
        "of `[corners]`, v_in, v_bus move nothing in this test",
    ] {
        assert_eq!(told.matches(said).count(), 2, "{said}: {told}");
    }
}
