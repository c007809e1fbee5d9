//! Exit codes follow the verdict of the file, and input that is wrong costs nobody a result.

use crate::bench::{Bench, SMALL, UNSOLVABLE, measurement, requiring};
use std::fs;

#[test]
fn a_rail_that_keeps_its_requirements_ends_with_0() {
    let bench = Bench::with(SMALL);
    let told = bench.run(&[]).expect(0);
    assert!(told.out.contains("\nverdict: pass (3 tests: 3 pass)\n"), "{}", told.out);
    assert!(told.out.ends_with("calculated, not measured\n"));
    assert_eq!(told.err, "");
    assert_eq!(bench.summary()["verdict"], "pass");
}

#[test]
fn a_rail_that_is_asked_for_nothing_ends_with_0_and_says_so() {
    let text = SMALL.replace("window = \"5 %\"\n", "");
    let bench = Bench::with(&text.replace("require = { droop = \"<= 80 mV\" }\n", ""));
    let told = bench.run(&[]).expect(0);
    assert!(told.out.contains("verdict: no-requirements"));
    assert_eq!(bench.summary()["verdict"], "no-requirements");
}

#[test]
fn a_margin_below_a_tenth_is_marginal_and_ends_with_0() {
    let bench = Bench::with(&requiring("droop = \"<= 52 mV\""));
    bench.run(&[]).expect(0);
    assert_eq!(bench.summary()["verdict"], "marginal");
}

#[test]
fn a_requirement_that_fails_ends_with_1_and_an_advisory_one_does_not() {
    let bench = Bench::with(&requiring("droop = \"<= 40 mV\""));
    bench.run(&[]).expect(1);
    let summary = bench.summary();
    assert_eq!(summary["verdict"], "fail");
    assert_eq!(summary["tests"][0]["verdict"], "fail");
    assert_eq!(measurement(&summary, 0, "droop")["verdict"], "fail");

    let bench = Bench::with(&requiring("droop = { limit = \"<= 40 mV\", advisory = true }"));
    bench.run(&[]).expect(0);
    let summary = bench.summary();
    assert_eq!(measurement(&summary, 0, "droop")["advisory"], true);
    assert_eq!(summary["verdict"], "pass");
}

#[test]
fn a_requirement_that_cannot_be_evaluated_ends_with_1_and_an_advisory_one_does_not() {
    let bench = Bench::with(&requiring("pass_power_peak = \"<= 1 W\""));
    let told = bench.run(&[]).expect(1);
    assert!(told.out.contains("verdict: not-evaluated"));
    let summary = bench.summary();
    assert_eq!(summary["verdict"], "not-evaluated");
    let row = measurement(&summary, 0, "pass_power_peak");
    assert!(row["value"].is_null() && row["reason"].as_str().unwrap().contains("pass"));

    let advisory = "pass_power_peak = { limit = \"<= 1 W\", advisory = true }";
    Bench::with(&requiring(advisory)).run(&[]).expect(0);
}

#[test]
fn a_test_that_cannot_be_solved_ends_with_3_and_the_others_are_written() {
    let bench = Bench::with(UNSOLVABLE);
    let told = bench.run(&[]).expect(3);
    assert!(told.out.contains("could not be solved") && told.out.contains("verdict: error"));
    let summary = bench.summary();
    assert_eq!(summary["verdict"], "error");
    assert_eq!(summary["tests"][0]["error"], serde_json::Value::Null);
    let beyond = &summary["tests"][1];
    assert_eq!(beyond["verdict"], "error");
    assert!(!beyond["error"]["tried"].as_array().unwrap().is_empty());
    assert!(bench.path("results/small/within.csv").is_file());
    assert!(!bench.path("results/small/beyond.csv").exists());
}

#[test]
fn a_failing_requirement_weighs_more_than_a_test_that_cannot_be_solved() {
    let failing = "[[tests]]\nname = \"low\"\nkind = \"operating-point\"\n\
                   require = { output_level = \">= 1 V\" }\n";
    let rail = "[rail]\noutput = \"x\"\nnominal = \"0.5 V\"\n";
    let bench = Bench::with(&format!("{UNSOLVABLE}{failing}{rail}"));
    bench.run(&[]).expect(1);
    let summary = bench.summary();
    assert_eq!(
        (&summary["verdict"], &summary["tests"][1]["verdict"]),
        (&"fail".into(), &"error".into())
    );
}

#[test]
fn wrong_input_ends_with_2_and_leaves_earlier_results_alone() {
    let bench = Bench::with(SMALL);
    bench.run(&[]).expect(0);
    let before = bench.all_files("results");
    assert_eq!(before.len(), 6);
    let broken = SMALL.replace("resistance =", "resistanse =").replace("\"10 µF\"", "\"10 µV\"");
    bench.put("small.toml", broken.as_bytes());
    let told = bench.run(&[]).expect(2);
    assert_eq!(told.out, "");
    // Both mistakes are told, each with what to do.
    assert!(told.err.contains("`resistanse`") && told.err.contains("write `resistance`"));
    assert!(told.err.contains("a voltage") && told.err.contains("a capacitance"), "{}", told.err);
    assert_eq!(bench.all_files("results"), before);
}

#[test]
fn wrong_input_makes_no_folder() {
    let bench = Bench::with("title = \n");
    bench.run(&[]).expect(2);
    assert!(!bench.path("results").exists());
}

#[test]
fn a_file_that_cannot_be_read_is_named_with_the_reason() {
    let bench = Bench::with(SMALL);
    let told = bench.tell(&["run", "missing.toml"]).expect(2);
    assert!(told.err.contains("`missing.toml`") && told.err.contains("no such file"));
    fs::create_dir(bench.path("folder.toml")).unwrap();
    assert!(bench.tell(&["run", "folder.toml"]).expect(2).err.contains("it is a folder"));
    bench.put("latin.toml", b"title = \"x\"\n# 4.7 \xb5F\n");
    let told = bench.tell(&["run", "latin.toml"]).expect(2);
    assert!(told.err.contains("not UTF-8") && told.err.contains("line 2"), "{}", told.err);
    bench.put("empty.toml", b"");
    bench.tell(&["run", "empty.toml"]).expect(2);
    assert!(!bench.path("results").exists());
}

#[test]
fn what_cannot_be_written_is_found_before_the_run_and_nothing_is_lost() {
    let bench = Bench::with(SMALL);
    bench.run(&["--test", "rest"]).expect(0);
    fs::create_dir(bench.path("results/small/step-up.csv")).unwrap();
    let before = bench.all_files("results");
    let told = bench.run(&[]).expect(2);
    assert!(told.err.contains("step-up.csv") && told.err.contains("a folder has that name"));
    assert_eq!(told.out, "");
    assert_eq!(bench.all_files("results"), before);

    bench.put("taken", b"mine");
    for out in ["taken", "taken/below"] {
        let told = bench.run(&["--out", out]).expect(2);
        assert!(told.err.contains("`taken") && told.err.contains("cannot be written"));
    }
    assert_eq!(bench.read("taken"), "mine");
}

#[test]
fn a_reader_that_went_away_changes_nothing() {
    let bench = Bench::with(SMALL);
    let mut command = bench.command(&["run", "small.toml"]);
    command.stdout(std::process::Stdio::piped()).stderr(std::process::Stdio::piped());
    let mut child = command.spawn().unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(output.stderr.is_empty());
    assert_eq!(bench.summary()["verdict"], "pass");
}
