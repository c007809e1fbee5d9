//! `tune` as a user meets it.

use crate::bench::{Bench, SMALL};
use serde_json::Value;

#[test]
fn a_choice_is_written_and_its_arguments_can_be_pasted() {
    let text = SMALL.replace(
        "r_out = \"0.5 Ω\"",
        "r_out = { value = \"0.9 Ω\", range = [\"0.1 Ω\", \"1 Ω\"], series = \"E3\", tolerance = \"10 %\" }",
    );
    let bench = Bench::with(&text);
    let told = bench.tell(&["tune", "small.toml", "--test", "Step up"]).expect(0);
    assert!(told.out.contains("verdict: pass"), "{}", told.out);
    for file in ["tune.csv", "tune.svg", "report.html", "tune.json"] {
        assert!(bench.path(&format!("results/small/tune/{file}")).is_file(), "{file}");
    }
    let json: Value = serde_json::from_str(&bench.read("results/small/tune/tune.json")).unwrap();
    // A droop of R · 100 mA: of 0.1, 0.22, 0.47 and 1 Ω the last misses 80 mV, and most margin is left
    // by the first, 10 % of tolerance counted.
    let choice = &json["choice"];
    assert_eq!(choice["set"], "--set r_out=100mΩ");
    let margin = choice["nearest_limit"]["margin"].as_f64().unwrap();
    assert!((margin - (1.0 - 0.11 * 0.1 / 0.08)).abs() < 2e-3, "{margin}");
    assert_eq!(json["rejected"].as_array().unwrap().len(), 2, "1 Ω, and 0.9 Ω as it stands");
    let arguments = choice["nearest_limit"]["set"].as_str().unwrap();
    let mut run = vec!["run", "small.toml", "--quick", "--test", "Step up"];
    run.extend(arguments.split(' '));
    bench.tell(&run).expect(0);
    let droop = crate::bench::measurement(&bench.summary(), 0, "droop")["margin"].as_f64().unwrap();
    assert!((droop - margin).abs() < 1e-12, "{droop} {margin}");
}

#[test]
fn what_reproduces_a_figure_has_what_was_set_and_the_accuracy_asked_for() {
    let ranged = "r_out = { value = \"0.5 Ω\", range = [\"0.1 Ω\", \"1 Ω\"], series = \"E3\" }";
    let bench = Bench::with(&SMALL.replace("r_out = \"0.5 Ω\"", ranged));
    let asked = ["tune", "small.toml", "--test", "Step up", "--nominal"];
    let set = ["--set", "C_OUT.esr=11mΩ", "--accuracy", "1mV"];
    let told = bench.tell(&[&asked[..], &set[..]].concat()).expect(0);
    let json: Value = serde_json::from_str(&bench.read("results/small/tune/tune.json")).unwrap();
    let command = "railstep run small.toml --test 'Step up' --accuracy 1mV --set C_OUT.esr=11mΩ --set r_out=100mΩ";
    assert_eq!(json["choice"]["nearest_limit"]["command"], command);
    assert!(told.out.contains("--set C_OUT.esr=11mΩ"), "{}", told.out);
}

#[test]
fn nothing_to_tune_is_refused_with_what_to_type() {
    let told = Bench::with(SMALL).tell(&["tune", "small.toml"]).expect(2);
    assert!(told.err.contains("--vary NAME=LOW..HIGH"), "{}", told.err);
}
