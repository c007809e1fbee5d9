//! Every option does what it says, and refuses what it cannot do.

use crate::bench::{Bench, SMALL, measurement, table};
use serde_json::Value;

#[test]
fn results_go_to_a_folder_of_the_files_name_in_the_working_directory() {
    let bench = Bench::with(SMALL);
    bench.put("nets/deep.toml", SMALL.as_bytes());
    bench.tell(&["run", "nets/deep.toml", "--test", "rest"]).expect(0);
    assert!(bench.path("results/deep/summary.json").is_file());
    assert!(!bench.path("nets/results").exists());
    bench.run(&["--test", "rest", "--out", "else/where"]).expect(0);
    assert!(bench.path("else/where/summary.json").is_file());
    assert!(!bench.path("results/small").exists());
}

#[test]
fn exact_set_changes_a_value_or_a_key_by_its_path() {
    let bench = Bench::with(SMALL);
    let droop = |sets: &[&str]| {
        bench.run(&[&["--test", "Step up"], sets].concat()).expect(0);
        measurement(&bench.summary(), 0, "droop")["value"].as_f64().unwrap()
    };
    // 0.2 Ω · 100 mA and 0.3 Ω · 100 mA, to the default accuracy of 10 µV
    assert!((droop(&["--set", "r_out=0.2 Ω"]) - 0.02).abs() < 1e-5);
    assert!((droop(&["--set", "R_OUT.resistance=0.3 Ω"]) - 0.03).abs() < 1e-5);
    // 0R2 is 0.2 Ω in the letter code of IEC 60062; later arguments come over earlier ones.
    assert!((droop(&["--set", "r_out=0.3 Ω", "--set", "r_out=0R2"]) - 0.02).abs() < 1e-5);
}

#[test]
fn set_refuses_what_it_does_not_know_with_a_suggestion() {
    let bench = Bench::with(SMALL);
    for (set, part) in [
        ("r_oút=1 Ω", "r_out"),
        ("r_uot=1 Ω", "`r_out`"),
        ("R_OUT.resistence=1 Ω", "`resistance`"),
        ("r_out=4.7 µF", "a capacitance"),
        ("r_out=-1 Ω", "resistance"),
        ("r_out=", "NAME=VALUE"),
        ("=1 Ω", "NAME=VALUE"),
        ("r_out", "NAME=VALUE"),
    ] {
        let told = bench.run(&["--set", set]).expect(2);
        assert!(told.err.contains(part), "{set}: {}", told.err);
        assert_eq!(told.out, "");
    }
    assert!(!bench.path("results").exists());
}

#[test]
fn test_chooses_by_name_and_suggests_the_nearest() {
    let bench = Bench::with(SMALL);
    bench.run(&["--test", "rest", "--test", "ramp"]).expect(0);
    let summary = bench.summary();
    let names: Vec<&Value> =
        summary["tests"].as_array().unwrap().iter().map(|t| &t["name"]).collect();
    assert_eq!(names, ["ramp", "rest"]);
    let told = bench.run(&["--test", "Step op"]).expect(2);
    assert!(told.err.contains("`Step op`") && told.err.contains("`Step up`"));
}

#[test]
fn accuracy_buys_more_steps_and_must_be_a_voltage_above_zero() {
    let bench = Bench::with(SMALL);
    let rows = |accuracy: &str| {
        bench.run(&["--test", "ramp", "--accuracy", accuracy]).expect(0);
        table(&bench.read("results/small/ramp.csv")).1.len()
    };
    assert!(rows("1nV") > rows("1 mV"));
    assert_eq!(bench.summary()["tests"][0]["condition"]["accuracy_v"], 1e-3);
    for (wrong, part) in
        [("0", "above zero"), ("-1mV", "above zero"), ("10 µF", "10uV"), ("x", "10uV")]
    {
        let told = bench.run(&[&format!("--accuracy={wrong}")]).expect(2);
        assert!(told.err.contains(part), "{wrong}: {}", told.err);
    }
}

#[test]
fn sample_adds_evenly_spaced_rows() {
    let bench = Bench::with(SMALL);
    bench.run(&["--test", "ramp", "--sample", "1000"]).expect(0);
    let (_, rows) = table(&bench.read("results/small/ramp.csv"));
    // 100 µs in thousandths: each is there to the rounding of a time
    for k in 1..=1000 {
        let wanted = f64::from(k) * 1e-7;
        assert!(rows.iter().any(|r| (r[0] - wanted).abs() < 1e-18), "{wanted}");
    }
    assert!(rows.windows(2).all(|pair| pair[0][0] <= pair[1][0]));
    bench.run(&["--sample", "0"]).expect(2);
}

#[test]
fn json_is_the_summary_and_nothing_else() {
    let bench = Bench::with(SMALL);
    let told = bench.run(&["--format", "json"]).expect(0);
    assert_eq!(told.out, bench.read("results/small/summary.json"));
    assert_eq!(told.err, "");
    bench.run(&["--format", "yaml"]).expect(2);
}

#[test]
fn options_of_later_versions_are_refused_by_name_in_one_line() {
    let bench = Bench::with(SMALL);
    let told = bench.run(&["--shard", "1/2"]).expect(2);
    assert!(told.err.contains("`--shard` is not available in this version"));
    assert_eq!((told.err.lines().count(), told.out.as_str()), (1, ""));
    assert!(!bench.path("results").exists());
}

#[test]
fn quick_leaves_the_uncertainty_out_and_a_cross_check_adds_the_other_formula() {
    let bench = Bench::with(SMALL);
    let first = |option: &[&str]| {
        bench.run(option).expect(0);
        bench.summary()["tests"][0]["measurements"][0].clone()
    };
    assert!(first(&[])["numerical_uncertainty"].as_f64().is_some_and(|u| u > 0.0));
    let quick = first(&["--quick"]);
    assert!(quick["numerical_uncertainty"].is_null());
    let (crossed, value) =
        (first(&["--cross-check"])["cross_check"].as_f64(), quick["value"].as_f64());
    let apart = crossed.zip(value).map(|(a, b)| (a - b).abs());
    // Both formulas keep the default accuracy of 10 µV.
    assert!(apart.is_some_and(|volt| volt < 2e-5), "{crossed:?} {value:?}");
}

#[test]
fn wrong_use_ends_with_2_and_asked_for_help_with_0() {
    let bench = Bench::with(SMALL);
    for wrong in [&[][..], &["run"], &["walk"], &["run", "small.toml", "--fast"], &["check"]] {
        bench.tell(wrong).expect(2);
    }
    for right in [
        &["--help"][..],
        &["--version"],
        &["run", "--help"],
        &["run", "-h"],
        &["check", "--help"],
        &["explain", "--help"],
    ] {
        let told = bench.tell(right).expect(0);
        for line in told.out.lines() {
            assert!(line.chars().count() <= 80, "{right:?}: {line}");
        }
        assert!(!told.out.contains("--shard"));
    }
}
