//! `--models` of run, map and spread: several models of one regulator.

use crate::bench::{Bench, measurement};
use serde_json::{Value, json};

/// A step droops by its height times `r_out`.
const CIRCUIT: &str = r#"title = "bench rail with an unknown inside"
[values]
r_out = "0.5 Ω"
c_in = "1 µF"
step = { value = "100 mA", range = ["50 mA", "200 mA"] }
[rail]
input = "vin"
output = "vout"
nominal = "3 V"
source = "V1"
load = "I_LOAD"
[parts]
V1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "3 V" }
R_OUT = { kind = "resistor", nodes = ["vin", "vout"], resistance = "r_out" }
C_IN = { kind = "capacitor", nodes = ["vin", "gnd"], capacitance = "c_in" }
C_OUT = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF", esr = "10 mΩ" }
I_LOAD = { kind = "load", nodes = ["vout", "gnd"], current = "10 mA" }

[[tests]]
name = "step"
kind = "load-step"
from = "10 mA"
to = "10 mA + step"
edge = "0"
hold = "100 µs"

[tests.require]
droop = "<= 56 mV"
overshoot = "<= 100 mV"
output_minimum = ">= 2.99 V"
"#;

/// Inner values of four models: droops of 50, 40, 60 and 45 mV.
const MODELS: [(&str, &str, &str); 4] = [
    ("best", "0.5", "3uF"),
    ("least", "0.4", "2uF"),
    ("most", "0.6", "1uF"),
    ("between", "0.45", "4uF"),
];

fn ensemble(models: &[(&str, &[String])]) -> String {
    let model = |(name, set): &(&str, &[String])| json!({"name": name, "set": set, "misfit": 0.5});
    let models: Vec<Value> = models.iter().map(model).collect();
    json!({ "format": 1, "regulator": "U1", "models": models }).to_string()
}

fn bench_with(circuit: &str) -> Bench {
    let bench = Bench::with(circuit);
    let sets = MODELS.map(|(_, r, c)| [format!("r_out={r} ohm"), format!("c_in={c}")]);
    let models: Vec<(&str, &[String])> =
        MODELS.iter().zip(&sets).map(|((name, ..), set)| (*name, set.as_slice())).collect();
    bench.put("models.json", ensemble(&models).as_bytes());
    bench
}

fn close(value: &Value, expected: f64) {
    let value = value.as_f64().unwrap();
    // The load's fade takes 2e-13 of its current, the solution of a step ends within 10 µV.
    assert!((value - expected).abs() < 10e-6, "{value} {expected}");
}

#[test]
fn exact_droops_of_four_models_are_told_and_the_worst_one_judges() {
    let bench = bench_with(CIRCUIT);
    let told = bench.run(&["--models", "models.json"]).expect(1);
    let summary = bench.summary();
    let droop = measurement(&summary, 0, "droop");
    let of = &droop["over_models"];
    close(&of["lowest"], 0.04);
    close(&of["highest"], 0.06);
    close(&droop["value"], 0.06);
    assert_eq!((&droop["verdict"], &of["rests_on"]), (&json!("fail"), &json!("inside")));
    assert_eq!((&of["failing"], &of["worst_model"]), (&json!(["most"]), &json!("most")));
    assert_eq!(of["set"], "--set r_out=0.6ohm --set c_in=1uF");
    // The droop goes with r_out in order, with c_in against it in part: ranks 3 1 4 2 and 3 2 1 4.
    assert_eq!(of["goes_with"]["path"], "r_out");
    assert!((of["goes_with"]["rank_correlation"].as_f64().unwrap() - 1.0).abs() < 1e-12);
    // What holds, and what fails, with each of them rests on the datasheet.
    let sure = ["overshoot", "output_minimum"].map(|name| measurement(&summary, 0, name));
    assert_eq!(sure.map(|m| m["over_models"]["rests_on"].clone()), ["datasheet", "datasheet"]);
    assert_eq!(sure.map(|m| m["verdict"].clone()), ["pass", "fail"]);
    assert_eq!(summary["models"]["names"][0], "best");
    assert_eq!(summary["models"]["file"], "models.json");
    let flat = told.out.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in [
        "worst of 4 models",
        "rest on the datasheet: holds with every model: overshoot (about before) <= 100 mV",
        "rest on the datasheet: holds with no model: output_minimum >= 2.99 V",
        "rest on what is assumed inside: droop <= 56 mV: does not hold with 1 of 4 models (`most`); it \
         goes most with r_out (rank correlation 1.00",
        "40.00 .. 60.00 mV",
    ] {
        assert!(flat.contains(words), "{words}\n{}", told.out);
    }
}

/// Models that agree with one another but not with their datasheet prove nothing about it.
#[test]
fn nothing_rests_on_a_datasheet_that_the_models_miss() {
    let bench = bench_with(CIRCUIT);
    let missing = bench.read("models.json").replace("\"misfit\":0.5", "\"misfit\":3,\"missed\":2");
    bench.put("models.json", missing.as_bytes());
    let told = bench.run(&["--models", "models.json"]).expect(1);
    let over = measurement(&bench.summary(), 0, "overshoot")["over_models"].clone();
    assert_eq!(over["rests_on"], "models");
    let flat = told.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(!flat.contains("rest on the datasheet"), "{}", told.out);
    for words in [
        "the best of which misses 2 points of its datasheet, so that no verdict rests on it",
        "the same with all models, which miss points of the datasheet: holds with every model: overshoot",
    ] {
        assert!(flat.contains(words), "{words}\n{}", told.out);
    }
}

#[test]
fn what_is_printed_as_the_worst_model_makes_it_again() {
    let bench = bench_with(CIRCUIT);
    let _ = bench.run(&["--models", "models.json"]).expect(1);
    let first = measurement(&bench.summary(), 0, "droop").clone();
    let set = first["over_models"]["set"].as_str().unwrap().to_owned();
    let words: Vec<&str> = ["--test", "step"].into_iter().chain(set.split(' ')).collect();
    let _ = bench.run(&words).expect(1);
    let again = measurement(&bench.summary(), 0, "droop").clone();
    assert_eq!(again["value"], first["value"]);
    assert!(again.get("over_models").is_none() && bench.summary().get("models").is_none());
}

#[test]
fn exact_droop_where_the_user_sets_what_the_models_vary() {
    let bench = bench_with(CIRCUIT);
    let _ = bench.run(&["--models", "models.json", "--set", "r_out=0.55ohm"]).expect(1);
    let summary = bench.summary();
    let of = &measurement(&summary, 0, "droop")["over_models"];
    close(&of["lowest"], 0.055);
    close(&of["highest"], 0.055);
    assert_eq!((&of["rests_on"], &of["set"]), (&json!("datasheet"), &json!("--set c_in=3uF")));
}

/// The corner of the best model, +10 % of 0.5 Ω, is +10 % of 0.6 Ω with another one.
#[test]
fn exact_corner_of_the_best_model_is_tried_with_the_others() {
    let bench = bench_with(&CIRCUIT.replace(
        "r_out = \"0.5 Ω\"",
        "r_out = { value = \"0.5 Ω\", tolerance = [\"-20 %\", \"10 %\"] }",
    ));
    let told = bench.run(&["--models", "models.json", "--corners"]).expect(1);
    let summary = bench.summary();
    let droop = measurement(&summary, 0, "droop");
    close(&droop["value"], 0.066);
    close(&droop["over_models"]["lowest"], 0.044);
    assert_eq!(droop["corner"], "--set r_out=550mΩ");
    let set = "--set r_out=0.6ohm --set c_in=1uF --set r_out=660mΩ";
    assert_eq!(droop["over_models"]["set"], set);
    assert!(told.out.contains("worst with the best model"), "{}", told.out);
}

/// 56 mV over 0.6 Ω is 93.3 mA with the worst model; over 0.4 Ω it is 140 mA with the best-natured one.
#[test]
fn exact_boundary_of_a_map_is_that_of_the_worst_model() {
    let bench = bench_with(CIRCUIT);
    let asked = ["map", "small.toml", "--of", "droop", "--models", "models.json"];
    let told =
        bench.tell(&[&asked[..], &["--vary", "step=50mA..200mA:16:linear"]].concat()).expect(0);
    let map: Value = serde_json::from_str(&bench.read("results/small/map/map.json")).unwrap();
    let edge = map["edges"][0]["holds"]["at"][0].as_f64().unwrap();
    assert!((edge / (0.056 / 0.6) - 1.0).abs() < 2.1e-3, "{edge}");
    // Of 50, 60 … 200 mA the worst holds to 90, the last one to 140.
    assert_eq!(map["places"]["hold"], 5);
    assert_eq!(map["places"]["hold_with_some_models_only"], 5);
    assert_eq!(map["present"]["worst_model"], "most");
    assert_eq!(map["present"]["models_passing"], 3);
    let csv = bench.read("results/small/map/map.csv");
    assert!(csv.lines().next().unwrap().ends_with("kind,models passing,worst model"), "{csv}");
    let flat = told.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("at 5 places some models hold and some do not"), "{flat}");
    let picture = bench.read("results/small/map/map.svg");
    assert!(picture.contains("4 models of U1"), "{picture}");
}

/// One model of four fails whenever it is drawn, the others never.
#[test]
fn exact_yields_of_a_spread_that_mixes_models() {
    let circuit = CIRCUIT.replace("output_minimum = \">= 2.99 V\"\n", "");
    let bench = bench_with(&circuit);
    let asked = ["spread", "small.toml", "--runs", "60", "--models", "models.json"];
    let told = bench.tell(&asked).expect(1);
    let spread: Value =
        serde_json::from_str(&bench.read("results/small/spread/spread.json")).unwrap();
    let test = &spread["tests"][0];
    let yields = test["yield_by_model"].as_array().unwrap();
    let holding: Vec<f64> = yields.iter().map(|y| y["yield"]["yield"].as_f64().unwrap()).collect();
    assert_eq!(holding, [1.0, 1.0, 0.0, 1.0]);
    let runs = |y: &Value| y["yield"]["runs"].as_u64().unwrap();
    assert_eq!(yields.iter().map(runs).sum::<u64>(), 60);
    assert_eq!(test["yield"]["failing"], yields[2]["yield"]["runs"]);
    assert_eq!(test["worst_model"], "most");
    // Nothing else scatters.
    let droop = &test["measurements"][0];
    assert_eq!(droop["variance_between_models"], 1.0);
    close(&droop["worst_vertex"]["value"], 0.06);
    assert_eq!(droop["worst_vertex"]["set"][0], json!({ "path": "r_out", "text": "0.6 ohm" }));
    let csv = bench.read("results/small/spread/spread.csv");
    assert!(csv.starts_with("run,test,model,"), "{csv}");
    let flat = told.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("mixes them in evenly") && flat.contains("worst with `most`"), "{flat}");
}

#[test]
fn models_that_do_not_fit_the_file_are_refused_with_model_and_path() {
    let bench = Bench::with(CIRCUIT);
    let asked = |models: &[(&str, &[String])]| {
        bench.put("odd.json", ensemble(models).as_bytes());
        let told = bench.tell(&["run", "small.toml", "--models", "odd.json"]).expect(2);
        assert!(told.err.starts_with("error: `odd.json`: "), "{}", told.err);
        told.err
    };
    let set = |path: &str| [format!("{path}=1ohm")];
    let said = asked(&[("best", &set("r_out")), ("odd", &set("r_uot"))]);
    assert!(said.contains("model `odd` sets `r_uot=1ohm`") && said.contains("r_out"), "{said}");
    let said = asked(&[("best", &set("r_out")), ("odd", &set("R_OUT.resistance"))]);
    assert!(said.contains("model `best` sets `r_out`, model `odd` does not"), "{said}");
    bench.put("odd.json", b"[]");
    let told =
        bench.tell(&["map", "small.toml", "--models", "odd.json", "--vary", "step"]).expect(2);
    assert!(told.err.contains("railstep model FILE --part NAME"), "{}", told.err);
    let told = bench.tell(&["run", "small.toml", "--models", "none.json"]).expect(2);
    assert!(told.err.contains("there is no such file"), "{}", told.err);
}
