//! The river gauge: what its file announces, and that its one page of a datasheet decides the telegram
//! and leaves the loop open.
//!
//! The models here were put together by hand: the gain of the amplifier's middle band and the time of
//! its lag, moved together so that the page's load step stays what it is. That they do make the
//! page's figures is tested on the page's own bench.

use super::announced::check;
use super::{GAUGE, NoFiles, named, outcomes, value};
use railstep::analysis::Method;
use railstep::circuit::{Change, Changes};
use railstep::measure::{OverModels, Verdict};
use railstep::plan::{self, Plan};
use railstep::study::ensemble::{Ensemble, Model};
use railstep::study::{Ground, Models, over_models};
use railstep::trial::{Outcome, RunOptions};

/// Middle gain and time of the lag.
const INSIDES: [(&str, &str, &str); 4] = [
    ("middle", "35.5", "12 µs"),
    ("lag shortest", "28.5", "5 µs"),
    ("lag long", "40.5", "24 µs"),
    ("lag longest", "45", "48 µs"),
];
/// What a figure read off a curve is worth (common practice, no source).
const OF_THE_PAGE: f64 = 0.10;

fn set(mid_gain: &str, lag_time: &str) -> [Change; 2] {
    [Change::new("U1.mid_gain", mid_gain), Change::new("U1.lag_time", lag_time)]
}

fn models(plan: &Plan) -> Models {
    let model = |(name, gain, lag): &(&str, &str, &str)| Model {
        name: (*name).to_owned(),
        set: set(gain, lag).iter().map(|c| format!("{}={}", c.path, c.text)).collect(),
        misfit: 1.0,
        missed: 0,
    };
    let ensemble = Ensemble::new("U1", INSIDES.iter().map(model).collect());
    Models::of(&ensemble, &plan.circuit, &Changes::default()).expect("its values are there")
}

/// Tests of the demo, judged with all models.
fn judged(names: &[&str]) -> Vec<Outcome> {
    let plan = plan::read("demo.toml", GAUGE, &NoFiles, &Changes::default()).plan.unwrap();
    let models = models(&plan);
    let changes = models.under(&Changes::default());
    let options = RunOptions { changes, quick: true, ..RunOptions::default() };
    let index = |name: &&str| plan.tests.iter().position(|t| t.name == *name).unwrap();
    let tests: Vec<usize> = names.iter().map(index).collect();
    let run = |k: &usize| plan.run(&plan.tests[*k], &options).unwrap();
    let outcomes: Vec<Outcome> = tests.iter().map(run).collect();
    let (circuit, all, threads) = (&plan.circuit, plan.tests.as_slice(), 2);
    let ground = Ground { circuit, tests: all, options: options.clone(), threads };
    over_models(&ground, &tests, &outcomes, &options, &models).unwrap()
}

fn over<'a>(outcome: &'a Outcome, name: &str) -> &'a OverModels {
    let line = outcome.measurements.iter().find(|m| m.name == name && m.limit.is_some());
    line.unwrap().over_models.as_ref().unwrap()
}

/// The circuit that the page's load step was measured in.
fn bench() -> String {
    let from = GAUGE.find("[models.page]").unwrap();
    let sheet = &GAUGE[from..from + GAUGE[from..].find("[[tests]]").unwrap()];
    let head = r#"title = "the bench of the page"
[rail]
input = "vin"
output = "vout"
nominal = "3.30 V"
source = "V1"
load = "I1"
pass = "U1"
feedback = "U1.EA.sense"
[parts]
V1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "4.5 V" }
U1 = { kind = "regulator", input = "vin", output = "vout", ground = "gnd", model = "page" }
C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF", esr = "5 mΩ", esl = "0.5 nH" }
I1 = { kind = "load", nodes = ["vout", "gnd"], current = "1 mA" }
"#;
    let tests = r#"
[[tests]]
name = "step"
kind = "load-step"
from = "1 mA"
to = "100 mA"
edge = "1 µs"
hold = "500 µs"
"#;
    [head, sheet, tests].concat()
}

#[test]
fn the_gauge_has_the_verdicts_its_file_announces() {
    check(
        GAUGE,
        &[
            ("gauge alone", Verdict::Pass, &[]),
            ("telegram", Verdict::Pass, &[]),
            ("telegram, cells spent and cold", Verdict::Pass, &[]),
            ("cells run down", Verdict::Pass, &[]),
            ("purge", Verdict::Pass, &[]),
            ("ripple of the compressor", Verdict::Pass, &[]),
            ("stable with the radio", Verdict::Fail, &["phase_margin"]),
            ("stable, half an ohm in front of the radio's capacitor", Verdict::Pass, &[]),
            ("telegram, half an ohm in front of the radio's capacitor", Verdict::Pass, &[]),
        ],
    );
}

#[test]
fn every_inside_makes_the_load_step_of_the_page() {
    let text = bench();
    let plan = plan::read("bench.toml", &text, &NoFiles, &Changes::default()).plan.unwrap();
    for (name, gain, lag) in INSIDES {
        let changes = Changes { list: set(gain, lag).to_vec() };
        let options = RunOptions { changes, quick: true, ..RunOptions::default() };
        let outcome = plan.run(&plan.tests[0], &options).unwrap();
        for (what, page_v) in [("droop", 0.032), ("overshoot", 0.024)] {
            let found = value(&outcome, what);
            assert!((found / page_v - 1.0).abs() < OF_THE_PAGE, "{name}: {what} {found}");
        }
    }
}

#[test]
fn the_page_decides_the_telegram_and_not_the_loop() {
    let radio = "stable with the radio";
    let cured = "stable, half an ohm in front of the radio's capacitor";
    let ripple = "ripple of the compressor";
    let all = judged(&["telegram", ripple, radio, cured]);
    assert_eq!(over(named(&all, ripple), "ripple_rejection").failing().count(), 0);
    for name in ["droop", "overshoot", "recovery"] {
        let of = over(named(&all, "telegram"), name);
        assert!(of.agree() && of.failing().count() == 0, "{name}: {of:?}");
    }
    let loop_of = over(named(&all, radio), "phase_margin");
    let failing: Vec<&str> = loop_of.failing().collect();
    assert!(!loop_of.agree() && failing.contains(&"lag shortest"), "{failing:?}");
    assert!(!failing.contains(&"lag longest"), "{failing:?}");
    // It rises with both, which were moved together; the lag's time differs more.
    let with = loop_of.goes_with.as_ref().unwrap();
    assert!(with.path == "U1.lag_time" && with.rank_correlation > 0.99, "{with:?}");
    // A resistor for a few cents makes it hold whatever is inside.
    assert_eq!(over(named(&all, cured), "phase_margin").failing().count(), 0);
}

/// The cure costs the telegram little: the regulator's plateau decides the droop, not the capacitor.
#[test]
fn half_an_ohm_costs_less_than_a_quarter_of_the_droop() {
    let all = outcomes(GAUGE, Method::Rodas4p, true);
    let droop = |test: &str| value(named(all, test), "droop");
    let cured = droop("telegram, half an ohm in front of the radio's capacitor");
    assert!(cured < 1.25 * droop("telegram"), "{cured}");
}
