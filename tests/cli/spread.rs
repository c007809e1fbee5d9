//! `railstep spread`: what it writes, that it can be repeated, joined, and pasted.

use crate::bench::Bench;
use serde_json::Value;
use std::collections::BTreeMap;

/// A step of 100 mA over R_OUT droops by 40 to 60 mV, evenly: 90 % stay below 58 mV.
const SCATTERED: &str = r#"title = "small scattered rail"
[values]
v_in = "3 V"
r_out = { value = "0.5 Ω", tolerance = "20 %" }
c_out = { value = "10 µF", tolerance = ["-20 %", "10 %"], distribution = "normal" }
[rail]
input = "vin"
output = "vout"
nominal = "3 V"
window = "5 %"
source = "V1"
load = "I_LOAD"
[corners]
v_in = ["2.95 V", "3.05 V"]
ambient = ["-10 °C", "60 °C"]
[parts]
V1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "v_in" }
R_OUT = { kind = "resistor", nodes = ["vin", "vout"], resistance = "r_out" }
C_OUT = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "c_out", esr = "10 mΩ" }
I_LOAD = { kind = "load", nodes = ["vout", "gnd"], current = "10 mA" }
[[tests]]
name = "step"
kind = "load-step"
from = "10 mA"
to = "110 mA"
edge = "0"
hold = "100 µs"
require = { droop = "<= 58 mV" }
[[tests]]
name = "rest"
kind = "operating-point"
require = { output_level = ">= 2.8 V" }
[[tests]]
name = "no requirement"
kind = "operating-point"
"#;

fn spread(bench: &Bench, more: &[&str]) -> Value {
    let told = bench.tell(&[&["spread", "small.toml", "--format", "json"], more].concat());
    serde_json::from_str(&told.expect(1).out).unwrap()
}

fn row<'a>(summary: &'a Value, test: usize, name: &str) -> &'a Value {
    let all = summary["tests"][test]["measurements"].as_array().unwrap();
    all.iter().find(|m| m["name"] == name).unwrap()
}

/// Files by their names alone.
fn files(bench: &Bench, folder: &str) -> BTreeMap<String, Vec<u8>> {
    let all = bench.all_files(folder).into_iter();
    all.map(|(path, bytes)| (path.rsplit('/').next().unwrap().to_owned(), bytes)).collect()
}

#[test]
fn exact_yield_and_worst_case_of_a_drop_over_a_resistor() {
    let bench = Bench::with(SCATTERED);
    let summary = spread(&bench, &["--runs", "600"]);
    // Tests without requirements are left out.
    assert_eq!(summary["tests"].as_array().unwrap().len(), 2);
    assert_eq!((&summary["verdict"], &summary["seed"]), (&"fail".into(), &1.into()));
    let droop = row(&summary, 0, "droop");
    let interval = droop["yield"]["interval"].as_array().unwrap();
    let [low, high] = [0, 1].map(|k| interval[k].as_f64().unwrap());
    assert!(low < 0.9 && 0.9 < high && high - low < 0.06, "{low} {high}");
    // 100 mA over 0.6 Ω; the step settles to e^-16 of it, the solution to 10 µV.
    let vertex = droop["worst_vertex"]["value"].as_f64().unwrap();
    assert!((vertex - 0.06).abs() < 1e-5, "{vertex}");
    assert_eq!(droop["worse"], "vertex");
    // All of it is R_OUT's.
    assert_eq!(droop["contributors"]["list"][0]["path"], "r_out");
    assert!(droop["contributors"]["list"][0]["share"].as_f64().unwrap() > 0.98);
    let level = row(&summary, 1, "output_level");
    assert_eq!(level["yield"]["failing_at_most"], 0.005);
    assert_eq!(summary["without_tolerance"]["values"], serde_json::json!([]));
}

#[test]
fn what_is_printed_as_worst_gives_the_same_figure_when_pasted() {
    let bench = Bench::with(SCATTERED);
    let summary = spread(&bench, &["--runs", "50", "--set", "C_OUT.esr=20mΩ"]);
    for (test, name) in [(0, "droop"), (0, "window"), (1, "output_level")] {
        for worst in ["worst_run", "worst_vertex"] {
            let told = &row(&summary, test, name)[worst];
            let command = told["command_line"].as_str().unwrap();
            assert!(command.contains("--set C_OUT.esr=20mΩ"), "{command}");
            let words: Vec<&str> = command.split(' ').skip(1).collect();
            assert!(!command.contains('\''), "{command}");
            let out = bench.tell(&[&words[..], &["--format", "json"]].concat()).out;
            let again: Value = serde_json::from_str(&out).unwrap();
            let [again, told] =
                [&row(&again, 0, name)["value"], &told["value"]].map(|v| v.as_f64().unwrap());
            // A study reads less off each run, which moves the last digits of a mean over time.
            assert!((again - told).abs() <= 1e-9 * told.abs(), "{again} {told} {command}");
        }
    }
}

#[test]
fn a_row_of_the_table_holds_what_was_drawn_and_what_came_of_it() {
    let bench = Bench::with(SCATTERED);
    spread(&bench, &["--runs", "30"]);
    let text = bench.read("results/small/spread/spread.csv");
    let mut lines = text.lines();
    let heading = lines.next().unwrap();
    assert!(
        heading.starts_with("run,test,v_in [V],rail.ambient [K],r_out [Ω],c_out [F],droop [V],"),
        "{heading}"
    );
    assert!(heading.ends_with(",verdict,reason"), "{heading}");
    assert_eq!(lines.count(), 60);
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    for record in reader.records().map(Result::unwrap).filter(|r| &r[1] == "step") {
        let [r_ohm, droop_v] = [4, 6].map(|k| record[k].parse::<f64>().unwrap());
        assert!((droop_v - 0.1 * r_ohm).abs() < 1e-5, "{record:?}");
        let verdict = record.get(record.len() - 2).unwrap();
        assert_eq!(verdict == "fail", droop_v > 0.058, "{record:?}");
        let reason = record.get(record.len() - 1).unwrap();
        assert_eq!(reason, if verdict == "fail" { "droop: <= 58 mV" } else { "" });
    }
}

#[test]
fn bytes_are_the_same_for_any_number_of_threads_and_for_joined_parts() {
    let bench = Bench::with(SCATTERED);
    spread(&bench, &["--runs", "40", "--threads", "1", "--out", "one"]);
    spread(&bench, &["--runs", "40", "--threads", "3", "--out", "three"]);
    let one = files(&bench, "one");
    let names: Vec<&str> = one.keys().map(String::as_str).collect();
    let expected =
        ["report.html", "spread.csv", "spread.envelope.svg", "spread.json", "spread.svg"];
    assert_eq!(names, expected);
    assert_eq!(one, files(&bench, "three"));
    for part in ["1/2", "2/2"] {
        bench
            .tell(&["spread", "small.toml", "--runs", "40", "--shard", part, "--out", "parts"])
            .expect(0);
    }
    bench.tell(&["study", "merge", "parts", "--out", "joined"]).expect(1);
    assert_eq!(one, files(&bench, "joined"));
}

#[test]
fn another_seed_draws_other_runs_and_a_longer_study_begins_with_the_same() {
    let bench = Bench::with(SCATTERED);
    let drawn = |seed: &str, runs: &str| {
        let out = format!("{seed}-{runs}");
        let more = ["--quick", "--test", "rest", "--seed", seed, "--runs", runs, "--out", &out];
        bench.tell(&[&["spread", "small.toml"], &more[..]].concat()).expect(0);
        assert!(!bench.path(&format!("{out}/spread.envelope.svg")).exists());
        bench.read(&format!("{out}/spread.csv"))
    };
    let (first, longer, other) = (drawn("1", "5"), drawn("1", "9"), drawn("2", "5"));
    assert!(longer.starts_with(&first) && first != other);
    let largest = u64::MAX.to_string();
    assert_ne!(drawn(&largest, "5"), other);
}

#[test]
fn the_text_says_what_it_stands_for() {
    let bench = Bench::with(SCATTERED);
    let told = bench.tell(&["spread", "small.toml", "--runs", "25", "--test", "rest"]).expect(0);
    for words in [
        "none of 25 fails: at most 12 % do, with 95 % confidence on that side alone (3/N)",
        "calculated, not measured",
        "static error budget: output_level of rest",
        "the vertex is worse",
    ] {
        let out = told.out.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(out.contains(words), "{words}\n{}", told.out);
    }
    for line in told.out.lines().filter(|line| !line.contains("railstep run")) {
        assert!(line.chars().count() <= 100, "{line}");
    }
}

#[test]
fn a_run_that_cannot_be_solved_fails_with_its_reason() {
    let text = r#"title = "a part that carries 1 mA at most"
[values]
i_in = { value = "0.9 mA", tolerance = "20 %" }
[rail]
output = "x"
nominal = "1 V"
[parts]
I1 = { kind = "current-source", nodes = ["gnd", "x"], current = "i_in" }
L1 = { kind = "law", nodes = ["x", "gnd"], inputs = { u = ["x", "gnd"] }, current = "1 mA * tanh(u / 1 V)" }
C1 = { kind = "capacitor", nodes = ["x", "gnd"], capacitance = "1 nF" }
[[tests]]
name = "rest"
kind = "operating-point"
require = { output_level = "<= 1000 V" }
"#;
    let bench = Bench::with(text);
    let told = bench.tell(&["spread", "small.toml", "--quick", "--runs", "60", "--format", "json"]);
    let summary: Value = serde_json::from_str(&told.expect(3).out).unwrap();
    // 0.72 mA to 1.08 mA, of which the last 0.08 mA have no solution.
    let failing = summary["yield"]["failing"].as_u64().unwrap();
    assert!((5..=23).contains(&failing), "{failing}");
    let unsolved = summary["tests"][0]["unsolved"].as_array().unwrap();
    let runs: u64 = unsolved.iter().map(|u| u["runs"].as_u64().unwrap()).sum();
    assert_eq!(runs, failing);
}
