//! `check` and `explain`.

use crate::bench::{Bench, SMALL, UNSOLVABLE};

#[test]
fn check_tells_what_it_understood_and_writes_nothing() {
    let bench = Bench::with(SMALL);
    let told = bench.tell(&["check", "small.toml"]).expect(0);
    for part in [
        "rail: output vout, nominal 3 V, window 2.85 V to 3.15 V",
        "output bank: C_OUT 10 µF",
        "Step up: load-step of I_LOAD 10 mA → 110 mA",
        // 3 V − 10 mA · 0.5 Ω
        "vout 2.995 V",
        "3 tests ready to run",
    ] {
        assert!(told.out.contains(part), "{part}\n{}", told.out);
    }
    assert!(told.out.lines().all(|line| line.chars().count() <= 100));
    assert!(!bench.path("results").exists());
}

#[test]
fn check_ends_with_the_worst_of_its_files_and_looks_at_all() {
    let bench = Bench::with(SMALL);
    bench.put("broken.toml", b"title = \"x\"\n[parts]\nR1 = { kind = \"resistr\" }\n");
    bench.put("stuck.toml", UNSOLVABLE.replace("0.5 mA", "2 mA").as_bytes());
    assert!(bench.tell(&["check", "stuck.toml"]).expect(3).err.contains("stuck.toml"));
    let told = bench.tell(&["check", "broken.toml", "stuck.toml", "small.toml", "gone.toml"]);
    let told = told.expect(2);
    assert!(told.err.contains("`resistr`") && told.err.contains("\"resistor\""));
    assert!(told.err.contains("stuck.toml") && told.err.contains("gone.toml"));
    assert!(told.out.contains("small bench rail"));
}

#[test]
fn check_takes_values_from_outside() {
    let bench = Bench::with(SMALL);
    let told = bench.tell(&["check", "small.toml", "--set", "r_out=50 Ω"]).expect(0);
    // 3 V − 10 mA · 50 Ω
    assert!(told.out.contains("vout 2.500 V"), "{}", told.out);
    bench.tell(&["check", "small.toml", "--set", "r_uot=50 Ω"]).expect(2);
}

#[test]
fn explain_lists_explains_and_suggests() {
    let bench = Bench::with(SMALL);
    assert!(bench.tell(&["explain"]).expect(0).out.contains("\n  droop "));
    assert!(bench.tell(&["explain", "load-step"]).expect(0).out.contains("\n  hold: "));
    let told = bench.tell(&["explain", "drop"]).expect(2);
    assert!(told.err.contains("`droop`") && told.out.is_empty());
}
