//! `railstep map`: files, journals, parts, refusals.

use crate::bench::{Bench, SMALL};
use serde_json::Value;

const FILES: [&str; 4] = ["map.csv", "map.svg", "report.html", "map.json"];
const ASKED: [&str; 8] = [
    "map",
    "small.toml",
    "--vary",
    "r_out=0.1ohm..2ohm:5",
    "--vary",
    "C_OUT.capacitance=1uF..10uF:4",
    "--of",
    "droop",
];

fn make(bench: &Bench, more: &[&str]) -> String {
    let told = bench.tell(&[&ASKED[..], more].concat()).expect(0);
    format!("{}{}", told.out, told.err)
}

fn json(bench: &Bench, name: &str) -> Value {
    serde_json::from_str(&bench.read(name)).unwrap()
}

/// The droop is 100 mA times r_out: 80 mV at 0.8 Ω, whatever the capacitance.
#[test]
fn exact_edge_of_a_resistive_rail_and_its_reproduction() {
    let bench = Bench::with(SMALL);
    let said = make(&bench, &[]);
    assert!(said.contains("nearest edge: r_out +60 %"), "{said}");
    assert!(
        said.contains("r_out may rise to 0.8 Ω") || said.contains("r_out may rise to 799 mΩ"),
        "{said}"
    );
    let map = json(&bench, "results/small/map/map.json");
    assert_eq!(map["files"], serde_json::json!(FILES));
    let edge = &map["nearest_edge"];
    let [holds, misses] = ["holds", "misses"].map(|side| edge[side]["at"][0].as_f64().unwrap());
    // The transient is over to e^(−12) and less.
    assert!((holds / 0.8 - 1.0).abs() < 2.1e-3 && holds <= 0.800_1 && misses >= 0.799_9);
    // What is printed reproduces the number when it is pasted.
    for (row, key) in [(&edge["holds"], "holds"), (&map["worst"], "worst")] {
        let set = row["set"].as_str().unwrap().to_owned();
        let words: Vec<&str> = ["--test", "Step up"].into_iter().chain(set.split(' ')).collect();
        let told = bench.run(&words);
        assert!(told.code.is_some_and(|code| code < 2), "{}", told.err);
        let droop = crate::bench::measurement(&bench.summary(), 0, "droop")["value"].as_f64();
        let (again, first) = (droop.unwrap(), row["value"].as_f64().unwrap());
        // A map ends steps where the droop is decided, a run where anything is: the curve between them
        // differs by far less than the 10 µV that both are solved to.
        assert!((again - first).abs() < 1e-8, "{key}: {again} {first}");
    }
    let csv = bench.read("results/small/map/map.csv");
    assert!(
        csv.starts_with("r_out [Ω],C_OUT.capacitance [F],droop [V],slack,verdict,reason,kind\n")
    );
    assert_eq!(csv.lines().filter(|l| l.ends_with(",grid")).count(), 20);
    assert_eq!(csv.lines().count() as u64, 1 + map["work"]["runs"].as_u64().unwrap());
    assert!(bench.read("results/small/map/map.svg").starts_with("<svg"));
}

#[test]
fn threads_parts_and_interruptions_change_no_byte() {
    let bench = Bench::with(SMALL);
    make(&bench, &["--out", "one", "--threads", "1"]);
    make(&bench, &["--out", "two", "--threads", "2"]);
    let all = |folder: &str| FILES.map(|file| bench.read(&format!("{folder}/{file}")));
    assert_eq!(all("one"), all("two"));

    let said = make(&bench, &["--out", "parts", "--shard", "1/2"]);
    assert!(said.contains("study merge"), "{said}");
    make(&bench, &["--out", "parts", "--shard", "2/2"]);
    bench.tell(&["study", "merge", "parts", "--out", "joined"]).expect(0);
    assert_eq!(all("one"), all("joined"));

    // A journal as an interruption leaves it: half of the runs, the last line cut off.
    let part = bench.read("parts/map.part-1-of-2.jsonl");
    let lines: Vec<&str> = part.lines().collect();
    let half = lines[..lines.len() / 2].join("\n");
    bench.put("resumed/map.jsonl", format!("{half}\n{{\"key\":\"st").as_bytes());
    let said = make(&bench, &["--out", "resumed"]);
    assert!(said.contains("going on after"), "{said}");
    assert_eq!(all("one"), all("resumed"));
    assert!(!bench.path("resumed/map.jsonl").exists());
}

#[test]
fn a_map_of_one_value_is_a_curve() {
    let bench = Bench::with(SMALL);
    let told = bench.tell(&["map", "small.toml", "--vary", "r_out=0.1ohm..2ohm:5"]).expect(0);
    assert!(told.out.contains("`Step up` is mapped"), "{}", told.out);
    let svg = bench.read("results/small/map/map.svg");
    assert!(svg.contains("present design") && svg.contains("edge: r_out"), "{svg}");
    let map = json(&bench, "results/small/map/map.json");
    assert_eq!(map["edges"].as_array().map(Vec::len), Some(1));
    assert_eq!(map["along"][0]["edge"], Value::Null);
}

#[test]
fn a_measurement_without_a_limit_has_no_boundary() {
    let bench = Bench::with(SMALL);
    let asked = ["map", "small.toml", "--vary", "r_out=0.1ohm..2ohm:3", "--of", "overshoot"];
    let told = bench.tell(&[&asked[..], &["--test", "Step up"]].concat()).expect(0);
    assert!(told.out.contains("nothing is asked"), "{}", told.out);
    assert!(!told.out.contains("nearest edge"), "{}", told.out);
    let map = json(&bench, "results/small/map/map.json");
    assert_eq!((&map["nearest_edge"], &map["boundary"]), (&Value::Null, &serde_json::json!([])));
}

#[test]
fn a_present_design_that_takes_more_steps_than_are_allowed_is_refused() {
    let bench = Bench::with(SMALL);
    let asked = ["map", "small.toml", "--vary", "r_out=0.1ohm..2ohm:3", "--work-limit", "5"];
    let told = bench.tell(&asked).expect(2);
    assert!(told.err.contains("cannot be solved as it stands"), "{}", told.err);
}

#[test]
fn what_is_asked_wrongly_is_refused_with_what_to_type() {
    let bench = Bench::with(SMALL);
    let one = "r_out=0.1ohm..2ohm:3";
    let cases: [(&[&str], &str); 6] = [
        (&["--vary", one, "--of", "drop"], "is `droop` meant?"),
        (&["--vary", one, "--of", "phase_margin", "--test", "Step up"], "belongs to: loop-gain"),
        (&["--vary", one, "--vary", one], "varied twice"),
        (&["--vary", one, "--vary", one, "--vary", one], "one or two values"),
        (&["--vary", one, "--test", "Step up", "--test", "rest"], "one test"),
        (&["--vary", "r_ot=1ohm..2ohm"], "r_out"),
    ];
    for (more, expected) in cases {
        let told = bench.tell(&[&["map", "small.toml"], more].concat()).expect(2);
        assert!(told.err.contains(expected), "{more:?}: {}", told.err);
    }
}
