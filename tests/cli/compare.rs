//! `compare`: what it writes and prints, its exit codes, and what it refuses.

use crate::bench::{Bench, SMALL, column, table};
use serde_json::Value;
use std::fmt::Write as _;

/// The step of `SMALL`, from 10 µs of its record on, by its closed form, with other values than its
/// file's: R = 0.4 Ω, C = 8 µF, ESR = 10 mΩ. ΔV = −ΔI·(R − R²/(R + ESR)·e^(−t/τ)), τ = (R + ESR)·C.
fn trace(head: &str, delimiter: char) -> String {
    let (r, c, esr, step) = (0.4, 8e-6, 10e-3, 0.1);
    let mut text = format!("# made by a closed form\n{head}\n");
    for k in 0..300 {
        let micros = -8.25 + 0.25 * f64::from(k);
        let t = micros * 1e-6;
        let by = r - r * r / (r + esr) * (-t / ((r + esr) * c)).exp();
        let volt = 3.0 - 0.01 * r - if t >= 0.0 { step * by } else { 0.0 };
        let _ = writeln!(text, "{micros}{delimiter}{}", volt * 1e3);
    }
    text
}

fn bench() -> Bench {
    let bench = Bench::with(SMALL);
    bench.put("scope.csv", trace("time [µs],vout [mV]", ',').as_bytes());
    bench
}

fn json(bench: &Bench) -> Value {
    serde_json::from_str(&bench.read("results/small/compare/compare.json")).unwrap()
}

const FIT: [&str; 6] =
    ["compare", "small.toml", "--measured", "scope.csv", "--fit", "r_out=0.1Ω..1Ω"];

#[test]
fn exact_values_of_a_closed_form_are_found_written_and_told() {
    let bench = bench();
    let more = ["--fit", "C_OUT.capacitance=2uF..50uF"];
    let told = bench.tell(&[&FIT[..], &more].concat()).expect(0);
    let found = json(&bench);
    assert_eq!(found["command"], "compare");
    let files = ["compare.csv", "compare.svg", "report.html", "compare.json"];
    assert_eq!(found["files"], serde_json::json!(files));
    let comparison = &found["comparison"];
    for (k, truth) in [0.4, 8e-6].into_iter().enumerate() {
        let one = &comparison["values"][k];
        let value = one["value"].as_f64().unwrap();
        // Solutions are aimed at 1 µV of 40 mV.
        assert!((value / truth - 1.0).abs() < 2e-4, "{one}");
        assert_eq!(one["state"], "known");
    }
    // The edge is a jump of 1 mV, which hides the shift to a fraction of a sample.
    let shift_s = comparison["shift"]["value"].as_f64().unwrap();
    assert!((shift_s - 10e-6).abs() < 0.25e-6, "{shift_s}");
    for words in [
        "300 samples of `vout [mV]`",
        "fitted, with 95 % intervals",
        "the same by\n    railstep run",
    ] {
        assert!(told.out.contains(words), "{words}\n{}", told.out);
    }
    let (heading, rows) = table(&bench.read("results/small/compare/compare.csv"));
    assert_eq!(heading, ["time [s]", "measured [V]", "simulated [V]", "residual [V]"]);
    let at = |name: &str| column(&heading, name);
    assert!(rows.iter().all(|row| {
        let left = row[at("measured [V]")] - row[at("simulated [V]")];
        (left - row[at("residual [V]")]).abs() < 1e-15
    }));
    let svg = bench.read("results/small/compare/compare.svg");
    assert!(svg.starts_with("<svg") && !svg.contains("NaN"));
}

#[test]
fn the_same_bytes_come_from_any_number_of_threads() {
    let bench = bench();
    let runs = ["1", "2"].map(|threads| {
        let folder = format!("out{threads}");
        bench.tell(&[&FIT[..], &["--threads", threads, "--out", &folder]].concat()).expect(0);
        let files = ["compare.csv", "compare.svg", "report.html", "compare.json"];
        files.map(|name| bench.read(&format!("{folder}/{name}")))
    });
    assert_eq!(runs[0], runs[1]);
}

#[test]
fn a_trace_without_units_is_refused_and_read_once_they_are_named() {
    let bench = bench();
    bench.put("bare.csv", trace("t;v", ';').as_bytes());
    let asked = ["compare", "small.toml", "--measured", "bare.csv"];
    let told = bench.tell(&asked).expect(2);
    assert!(
        told.err.contains("--time \"t [s]\"") && told.err.contains("bare.csv:2"),
        "{}",
        told.err
    );
    bench.tell(&[&asked[..], &["--time", "t [µs]", "--value", "v [mV]"]].concat()).expect(0);
}

#[test]
fn wrong_input_is_refused_with_what_to_type() {
    let bench = bench();
    let told = |arguments: &[&str]| {
        bench.tell(&[&["compare", "small.toml"], arguments].concat()).expect(2).err
    };
    let with = |more: &[&str]| told(&[&["--measured", "scope.csv"], more].concat());
    assert!(told(&[]).contains("--measured CSV"));
    assert!(told(&["--substitute", "C=1uF"]).contains("--verify"));
    assert!(told(&["--measured", "none.csv"]).contains("there is no such file"));
    assert!(with(&["--fit", "r_uot"]).contains("`r_out`"));
    assert!(with(&["--fit", "r_out"]).contains("no `range`"));
    assert!(with(&["--shift", "5V"]).contains("--shift 60us"));
    assert!(with(&["--noise", "0"]).contains("above zero"));
    assert!(with(&["--test", "rest"]).contains("does not run through time"));
    assert!(with(&["--region", "none.json"]).contains("there is no such file"));
    let twice = with(&["--fit", "r_out=0.1Ω..1Ω", "--fit", "r_out=0.1Ω..2Ω"]);
    assert!(twice.contains("fitted twice"));
    assert!(with(&["--verify", "--substitute", "D=3"]).contains("none of C, ESR, ESL"));
}

#[test]
fn exact_a_substitute_is_held_against_the_region_and_run_at_every_corner() {
    let bench = bench();
    let region = r#"{"allowed_region":{"capacitance":{"min":8e-6,"max":2e-5},"esr":[0.0,0.05]}}"#;
    bench.put("tune.json", region.as_bytes());
    let check = |substitute: &str, code: i32, more: &[&str]| {
        let asked = ["compare", "small.toml", "--region", "tune.json", "--substitute", substitute];
        bench.tell(&[&asked[..], more].concat()).expect(code).out
    };
    let told = check("C=10uF,ESR=20mΩ", 0, &["--verify"]);
    assert!(told.contains("every requirement holds") && told.contains("C_OUT: passes"), "{told}");
    // 4 µF is half of the 8 µF allowed at least.
    let told = check("C_OUT:C=4uF,ESR=20mΩ", 1, &[]);
    assert!(told.contains("50 % below the lowest allowed, 8 µF"), "{told}");
    assert_eq!(json(&bench)["substitution"]["passes"], false);
    // With 1.7 Ω in the source the step of 100 mA droops by 170 mV·(1 − 1.7/1.71·e^(−100/17.1)).
    let told = check("C=10uF", 1, &["--verify", "--set", "r_out=1.7Ω"]);
    assert!(told.contains("first requirement missed: droop of Step up: 169.5 mV"), "{told}");
    assert!(told.contains("--set r_out=1.7Ω --set C_OUT.capacitance=10uF"), "{told}");
    // The capacitor as it stands in the file: 10 µF and 10 mΩ.
    let asked = ["compare", "small.toml", "--region", "tune.json"];
    bench.tell(&asked).expect(0);
}

/// The demo as the README has it, from another folder.
#[test]
fn the_demo_trace_of_the_buoy_is_fitted_and_says_that_it_is_no_measurement() {
    let bench = bench();
    let netlist = |name: &str| format!("{}/netlists/{name}", env!("CARGO_MANIFEST_DIR"));
    let (file, measured) = (netlist("buoy-radio.toml"), netlist("buoy-radio.measured.csv"));
    let asked = ["compare", &file, "--measured", &measured, "--fit", "c_out", "--fit", "esr_out"];
    let told = bench.tell(&[&asked[..], &["--out", "here"]].concat()).expect(0);
    for words in
        ["test: transmit burst (load-step), node vout", "agree within the noise", "caution:"]
    {
        assert!(told.out.contains(words), "{words}\n{}", told.out);
    }
    // What is to be pasted is not broken.
    let fits = |line: &str| line.chars().count() <= 100 || line.starts_with("    railstep ");
    assert!(told.out.lines().all(fits), "{}", told.out);
    let found: Value = serde_json::from_str(&bench.read("here/compare.json")).unwrap();
    let fitted = &found["comparison"]["values"][0];
    // 0.86 times 4.7 µF went into the trace; its interval is 1 % wide.
    assert!((fitted["value"].as_f64().unwrap() / 4.042e-6 - 1.0).abs() < 0.02, "{fitted}");
}
