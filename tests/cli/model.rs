//! `model`: a regulator known by its datasheet alone, through fit, freedom and what is written; what
//! it refuses; exit codes.

use crate::bench::{Bench, SMALL};
use serde_json::Value;

/// An invented low-dropout regulator: few points, so that a fit is quick and leaves much open.
const SHEET: &str = r#"title = "known by its datasheet"
[rail]
input = "vin"
output = "vout"
nominal = "3.3 V"
window = "3 %"
source = "V_IN"
load = "I_LOAD"
pass = "U1"
amplifier = "U1"
feedback = "U1.EA.sense"
[parts]
V_IN = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "4.3 V" }
U1 = { kind = "regulator", input = "vin", output = "vout", ground = "gnd", model = "sheet" }
C_OUT = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "4.7 µF", dielectric = "C0G", esr = "8 mΩ" }
I_LOAD = { kind = "load", nodes = ["vout", "gnd"], current = "10 mA" }
[models.sheet]
kind = "regulator"
topology = "pmos"
output_voltage = "3.3 V"
rated_current = "300 mA"
dropouts = [{ current = "300 mA", dropout = "180 mV" }]
load_regulations = [{ from = "1 mA", to = "300 mA", change = "6 mV" }]
transients = [{ from = "1 mA", to = "150 mA", edge = "1 µs", droop = "60 mV" }]
test_input = "4.3 V"
test_capacitor = "4.7 µF"
test_esr = "5 mΩ"

[[tests]]
name = "burst"
kind = "load-step"
from = "10 mA"
to = "200 mA"
edge = "1 µs"
hold = "1 ms"
require = { droop = "<= 90 mV" }
"#;

fn json(bench: &Bench) -> Value {
    serde_json::from_str(&bench.read("results/small/model/model.json")).unwrap()
}

#[test]
fn a_datasheet_becomes_a_model_whose_points_come_out_when_its_bench_is_run() {
    let bench = Bench::with(SHEET);
    let asked = ["model", "small.toml", "--part", "U1", "--quick", "--write", "parts/U1.toml"];
    let told = bench.tell(&asked).expect(0);
    for words in ["points: what the datasheet says", "values inside", "undetermined", "work: "] {
        assert!(told.out.contains(words), "{words}\n{}", told.out);
    }
    let found = json(&bench);
    assert_eq!(found["meets_all_points"], true);
    assert_eq!(found["points"].as_array().unwrap().len(), 3);
    // Each limit of the bench is what its point accepts.
    bench.tell(&["run", "results/small/model/bench.toml", "--out", "again"]).expect(0);
    let written = bench.read("parts/U1.toml");
    assert!(written.starts_with("# A model written by `railstep model`"), "{written}");
    let including = SHEET.replace("title =", "include = [\"parts/U1.toml\"]\ntitle =");
    let including = including.replace("model = \"sheet\"", "model = \"U1\"");
    bench.put("including.toml", including.as_bytes());
    bench.tell(&["run", "including.toml", "--quick", "--out", "run"]);
    // The model is written over its own earlier file, but over nothing else.
    bench.tell(&asked).expect(0);
    bench.put("parts/U1.toml", b"# mine\n");
    let refused = bench.tell(&asked).expect(2);
    assert!(refused.err.contains("holds no model of this command"), "{}", refused.err);
    assert_eq!(bench.read("parts/U1.toml"), "# mine\n");
}

#[test]
fn a_datasheet_of_one_point_or_none_is_told_as_such_everywhere() {
    let without = |key: &str, text: &str| {
        text.lines().filter(|l| !l.starts_with(key)).collect::<Vec<&str>>().join("\n")
    };
    let one = without("transients", &without("dropouts", SHEET));
    let none = without("load_regulations", &one);
    for (text, words) in [
        (one, "the model gives the one point of the datasheet"),
        (none, "the datasheet gives no point to fit; every inner value is as expected"),
    ] {
        let bench = Bench::with(&text);
        let asked = ["model", "small.toml", "--quick", "--write", "U1.toml"];
        let told = bench.tell(&asked).expect(0);
        let picture = bench.read("results/small/model/model.svg");
        for whole in [&told.out, &bench.read("U1.toml"), &picture] {
            assert!(whole.contains(words), "{words}\n{whole}");
        }
        let head = "points: what the datasheet says";
        assert_eq!(told.out.contains(head), words.contains("one point"), "{}", told.out);
        let table = bench.read("results/small/model/model.csv");
        assert!(table.starts_with("list,row,") && table.contains(",within,within_unit,reason\n"));
    }
}

#[test]
fn models_are_the_same_for_any_number_of_threads() {
    let run = |threads: &str| {
        let bench = Bench::with(SHEET);
        bench.tell(&["model", "small.toml", "--quick", "--threads", threads]).expect(0);
        (
            bench.read("results/small/model/model.json"),
            bench.read("results/small/model/models.json"),
        )
    };
    assert!(run("1") == run("2"));
}

#[test]
fn points_that_contradict_each_other_are_named_and_the_models_are_written_all_the_same() {
    // The same step with twice the droop, and either good to a tenth.
    let row = "{ from = \"1 mA\", to = \"150 mA\", edge = \"1 µs\", droop = \"60 mV\" }";
    let other = row.replace("60 mV", "120 mV");
    let bench = Bench::with(&SHEET.replace(row, &format!("{row}, {other}")));
    let told = bench.tell(&["model", "small.toml", "--quick"]).expect(1);
    assert!(told.out.contains("what does not go together"), "{}", told.out);
    let contradiction = &json(&bench)["contradiction"];
    let points = contradiction["points"].to_string() + &contradiction["against"].to_string();
    for row in ["row 1 of `transients`", "row 2 of `transients`"] {
        assert!(points.contains(row), "{contradiction}");
    }
    assert_eq!(contradiction["resolves"], true);
}

#[test]
fn what_cannot_be_modelled_is_refused_with_what_to_type() {
    let without = Bench::with(SMALL).tell(&["model", "small.toml"]).expect(2);
    assert!(without.err.contains("no part of kind `regulator`"), "{}", without.err);
    let bench = Bench::with(SHEET);
    let misspelt = bench.tell(&["model", "small.toml", "--part", "U2"]).expect(2);
    assert!(misspelt.err.contains("is `U1` meant?"), "{}", misspelt.err);
    let odd = bench.tell(&["model", "small.toml", "--write", "parts/U1.txt"]).expect(2);
    assert!(odd.err.contains("parts/U1.toml"), "{}", odd.err);
}

#[test]
fn a_value_that_is_set_is_held_there() {
    let bench = Bench::with(SHEET);
    bench.tell(&["model", "small.toml", "--quick", "--set", "U1.mid_gain=25"]);
    let found = json(&bench);
    let values = found["values"].as_array().unwrap();
    let held = values.iter().find(|v| v["name"] == "U1.mid_gain").unwrap();
    assert!(held["origin"] == "held" && held["value"] == 25.0, "{held}");
    assert!(!bench.read("results/small/model/models.json").contains("mid_gain"));
}
