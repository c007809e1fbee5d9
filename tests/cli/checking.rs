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

const DATASHEET: &str = r#"title = "datasheet"
[rail]
input = "vin"
output = "vout"
nominal = "2.8 V"
pass = "U1"
[parts]
V1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "3.7 V" }
U1 = { kind = "regulator", input = "vin", output = "vout", ground = "gnd", topology = "pmos", output_voltage = "2.8 V", rated_current = "0.2 A" }
C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "4.7 µF", esr = "6 mΩ" }
I1 = { kind = "load", nodes = ["vout", "gnd"], current = "2 mA" }
"#;

#[test]
fn check_tells_what_is_assumed_of_a_datasheet_and_prints_its_parts_for_pasting() {
    let bench = Bench::with(DATASHEET);
    bench.put("sheet.toml", DATASHEET.as_bytes());
    let told = bench.tell(&["check", "sheet.toml"]).expect(0);
    for part in ["U1: a pmos of 2.8 V", "assumed inside", "dc_gain 1000", "railstep model FILE"] {
        assert!(told.out.contains(part), "{part}\n{}", told.out);
    }
    let printed = bench.tell(&["check", "sheet.toml", "--expand"]).expect(0).out;
    let line = printed.lines().find_map(|l| l.strip_prefix("# U1 = ")).expect("the line");
    let is_part = |l: &&str| l.starts_with("U1 = ");
    let part = DATASHEET.lines().find(is_part).expect("the part");
    let pasted = DATASHEET
        .replace(part, &format!("U1 = {line}"))
        .replace("pass = \"U1\"", "pass = \"U1.Q\"");
    bench.put("pasted.toml", format!("{pasted}\n{printed}").as_bytes());
    let pasted = bench.tell(&["check", "pasted.toml"]).expect(0).out;
    let rest = |text: &str| text.lines().skip_while(|l| !l.contains("at rest")).collect::<String>();
    assert_eq!(rest(&pasted), rest(&told.out));
    let none = Bench::with(SMALL).tell(&["check", "small.toml", "--expand"]).expect(0).out;
    assert!(none.contains("nothing to take apart"), "{none}");
    let refused = bench.tell(&["check", "sheet.toml", "--set", "U1.rated_current=1 A"]).expect(2);
    assert!(refused.err.contains("a figure of a datasheet"), "{}", refused.err);
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
