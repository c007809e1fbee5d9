//! Closed forms of the calculation, and where its verdicts turn.
#![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

use super::{Assessment, InputRange, Level, Question, assess, duration};
use crate::measure::Verdict;

/// What rounding of a few operations may leave.
const ROUNDING: f64 = 1e-12;

/// 3 V to 4.2 V in, 2.8 V out, at 25 °C with 125 °C allowed, nothing else known.
fn cell(load: &[(f64, f64)]) -> Question {
    Question {
        input: InputRange { low_v: 3.0, typical_v: 3.6, high_v: 4.2, typical_given: true },
        output_v: 2.8,
        load: load.iter().map(|&(current_a, share)| Level { current_a, share }).collect(),
        theta_k_per_w: None,
        ambient_c: 25.0,
        junction_limit_c: 125.0,
        dropout_v: None,
        ground_current_a: 0.0,
        current_limit_a: None,
        battery_c: None,
        switching_efficiency: None,
    }
}

fn steady(input_v: f64, output_v: f64, load_a: f64) -> Question {
    let input =
        InputRange { low_v: input_v, typical_v: input_v, high_v: input_v, typical_given: false };
    Question { input, output_v, ..cell(&[(load_a, 1.0)]) }
}

fn value(assessment: &Assessment, name: &str) -> f64 {
    let found = assessment.figures.iter().find(|f| f.name == name);
    found.unwrap_or_else(|| panic!("no {name}")).value
}

#[track_caller]
fn near(value: f64, expected: f64) {
    assert!((value - expected).abs() <= ROUNDING * expected.abs(), "{value} {expected}");
}

/// Verdict and reason of one judgement.
fn judged(question: &Question, name: &str) -> (Verdict, String) {
    let assessment = assess(question).unwrap();
    let found = assessment.judgements.into_iter().find(|j| j.name == name).unwrap();
    (found.verdict, found.reason)
}

#[test]
fn exact_a_profile_counts_by_its_mean_and_its_highest_level() {
    let question = Question {
        theta_k_per_w: Some(60.0),
        ground_current_a: 1e-3,
        ..cell(&[(2e-3, 0.95), (0.15, 0.05)])
    };
    let told = assess(&question).unwrap();
    // 0.95·2 mA + 0.05·150 mA
    near(value(&told, "load_mean"), 9.4e-3);
    near(value(&told, "load_highest"), 0.15);
    // (3.6 − 2.8)·9.4 mA + 3.6 V·1 mA, (4.2 − 2.8)·150 mA + 4.2 V·1 mA and so on
    near(value(&told, "dissipation_typical"), 0.8 * 9.4e-3 + 3.6e-3);
    near(value(&told, "dissipation_worst"), 1.4 * 0.15 + 4.2e-3);
    near(value(&told, "dissipation_mean_at_highest_input"), 1.4 * 9.4e-3 + 4.2e-3);
    near(value(&told, "dissipation_longest_share"), 1.4 * 2e-3 + 4.2e-3);
    near(value(&told, "efficiency_at_lowest_input"), 2.8 * 9.4 / (3.0 * 10.4));
    near(value(&told, "efficiency_at_highest_input"), 2.8 * 9.4 / (4.2 * 10.4));
    near(value(&told, "efficiency_ceiling_at_typical_input"), 2.8 / 3.6);
    near(value(&told, "junction_worst"), 25.0 + 60.0 * (0.21 + 4.2e-3));
    near(value(&told, "thermal_resistance_needed"), 100.0 / (0.21 + 4.2e-3));
    near(value(&told, "headroom"), 3.0 - 2.8);
}

#[test]
fn exact_the_load_allowed_brings_the_junction_to_its_limit() {
    let question =
        Question { theta_k_per_w: Some(62.5), ground_current_a: 0.03, ..steady(6.0, 5.0, 0.5) };
    let allowed_a = value(&assess(&question).unwrap(), "load_allowed");
    let load = vec![Level { current_a: allowed_a, share: 1.0 }];
    let told = assess(&Question { load, ..question }).unwrap();
    near(value(&told, "junction_worst"), 125.0);
    near(value(&told, "ambient_allowed"), 25.0);
    // A limit met to the last digit holds, without any margin.
    assert_eq!(told.verdict, Verdict::Marginal);
}

#[test]
fn exact_a_battery_lasts_its_charge_over_the_mean_current() {
    // 1000 mAh over 9.4 mA + 0.6 mA; 2.8 V·9.4 mA/(0.9·3.6 V) drawn by the other
    let question = Question {
        battery_c: Some(3600.0),
        ground_current_a: 0.6e-3,
        switching_efficiency: Some(0.9),
        ..cell(&[(2e-3, 0.95), (0.15, 0.05)])
    };
    let told = assess(&question).unwrap();
    near(value(&told, "life_linear"), 100.0 * 3600.0);
    near(value(&told, "life_switching"), 3600.0 / (2.8 * 9.4e-3 / (0.9 * 3.6)));
    let ratio = value(&told, "life_linear") / value(&told, "life_switching");
    near(value(&told, "life_ratio"), ratio);
    near(ratio, value(&told, "efficiency_at_typical_input") / 0.9);
    near(value(&told, "switching_loss"), 2.8 * 9.4e-3 * (1.0 / 0.9 - 1.0));
}

#[test]
fn heat_turns_at_the_resistance_needed_and_within_a_tenth_of_it() {
    // 1 W at 25 °C with 125 °C allowed: 100 K/W
    let with = |theta| Question { theta_k_per_w: Some(theta), ..steady(2.0, 1.0, 1.0) };
    assert_eq!(judged(&with(89.9), "heat").0, Verdict::Pass);
    assert_eq!(judged(&with(90.1), "heat").0, Verdict::Marginal);
    assert_eq!(judged(&with(100.0), "heat").0, Verdict::Marginal);
    let (verdict, reason) = judged(&with(100.1), "heat");
    assert_eq!(verdict, Verdict::Fail);
    assert!(reason.contains("1 W needs at most 100 K/W, 100 K/W is given"), "{reason}");
    assert!(reason.contains("would reach 125.1 °C of 125 °C allowed"), "{reason}");
    assert_eq!(assess(&with(100.1)).unwrap().reason, reason);
}

#[test]
fn short_pulses_that_the_mean_allows_are_marginal() {
    let pulses = |share: f64| Question {
        theta_k_per_w: Some(60.0),
        ..steady(12.0, 5.0, 0.0).loaded(&[(0.01, 1.0 - share), (0.4, share)])
    };
    // 2.8 W lasting needs 35.7 K/W; a tenth of the time it is 0.34 W
    let (verdict, reason) = judged(&pulses(0.1), "heat");
    assert_eq!(verdict, Verdict::Marginal);
    assert!(reason.contains("pulses must be short"), "{reason}");
    assert_eq!(judged(&pulses(0.9), "heat").0, Verdict::Fail);
}

impl Question {
    fn loaded(self, load: &[(f64, f64)]) -> Self {
        Self { load: cell(load).load, ..self }
    }
}

#[test]
fn without_a_thermal_resistance_the_one_needed_is_judged() {
    // 100 K over 0.39 W, 0.41 W, 2.1 W and 2.2 W: 256, 244, 47.6 and 45.5 K/W
    let heat = |watt: f64| judged(&steady(2.0, 1.0, watt), "heat").0;
    assert_eq!(heat(0.39), Verdict::Pass);
    assert_eq!(heat(0.41), Verdict::Marginal);
    assert_eq!(heat(2.1), Verdict::Marginal);
    assert_eq!(heat(2.2), Verdict::Fail);
    let told = assess(&steady(2.0, 1.0, 0.39)).unwrap();
    assert!(told.not_evaluated.iter().any(|(what, _)| *what == "junction_temperature"));
    assert!(!told.figures.iter().any(|f| f.name.starts_with("junction")));
}

#[test]
fn headroom_turns_at_the_dropout_voltage() {
    let with = |dropout_v| Question { dropout_v: Some(dropout_v), ..cell(&[(0.1, 1.0)]) };
    assert_eq!(judged(&with(0.0), "headroom").0, Verdict::Pass);
    assert_eq!(judged(&with(0.18), "headroom").0, Verdict::Pass);
    assert_eq!(judged(&with(0.19), "headroom").0, Verdict::Marginal);
    let (verdict, reason) = judged(&with(0.21), "headroom");
    assert_eq!(verdict, Verdict::Fail);
    assert!(reason.contains("is 200 mV, dropout 210 mV is given"), "{reason}");
    // 3.3 V − 3.1 V is a hair below 0.2 V in binary, and holds 200 mV all the same.
    let met = Question { dropout_v: Some(0.2), ..steady(3.3, 3.1, 0.1) };
    assert_eq!(judged(&met, "headroom").0, Verdict::Marginal);
}

#[test]
fn battery_life_is_judged_by_the_ratio_unless_age_or_a_light_load_decides() {
    let with = |output_v, load_a: f64, efficiency| Question {
        battery_c: Some(500.0 * 3.6),
        switching_efficiency: efficiency,
        ..steady(9.0, output_v, load_a)
    };
    // 9 V to 6 V, 5 V and 3.3 V: 66.7 %, 55.6 % and 36.7 % of 85 %, which is 78 %, 65 % and 43 %
    let life = |output_v, load_a, efficiency| {
        judged(&with(output_v, load_a, efficiency), "battery_life").0
    };
    assert_eq!(life(6.0, 0.01, None), Verdict::Pass);
    assert_eq!(life(5.0, 0.01, None), Verdict::Marginal);
    assert_eq!(life(3.3, 0.01, None), Verdict::Fail);
    assert_eq!(life(3.3, 0.0005, None), Verdict::Marginal);
    assert_eq!(life(3.3, 0.0005, Some(0.85)), Verdict::Fail);
    // 500 mAh over 5 µA is 11.4 years.
    let (verdict, reason) = judged(&with(3.3, 5e-6, Some(0.85)), "battery_life");
    assert_eq!(verdict, Verdict::Pass);
    assert!(reason.contains("11.4 years"), "{reason}");
}

#[test]
fn lost_power_asks_for_a_reason_and_never_fails() {
    // (12 − 5)·I less 5 V·I·(1/0.85 − 1): 6.118 V·I is saved
    let lost = |load_a| judged(&steady(12.0, 5.0, load_a), "lost_power").0;
    assert_eq!(lost(0.163), Verdict::Pass);
    assert_eq!(lost(0.164), Verdict::Marginal);
    assert_eq!(lost(10.0), Verdict::Marginal);
    let (_, reason) = judged(&steady(3.0, 2.8, 0.1), "lost_power");
    assert!(reason.contains("would save nothing"), "{reason}");
}

#[test]
fn an_output_that_is_not_below_the_input_is_refused() {
    let told = assess(&Question { output_v: 3.0, ..cell(&[(0.1, 1.0)]) }).unwrap_err();
    assert!(told.contains("only steps down") && told.contains("up as well as down"), "{told}");
    let told = assess(&Question { output_v: 4.2, ..cell(&[(0.1, 1.0)]) }).unwrap_err();
    assert!(told.contains("that steps up,"), "{told}");
}

#[test]
fn no_two_figures_share_a_name_and_all_are_finite() {
    let question = Question {
        theta_k_per_w: Some(60.0),
        dropout_v: Some(0.1),
        battery_c: Some(3600.0),
        current_limit_a: Some(0.3),
        ..cell(&[(2e-3, 0.95), (0.15, 0.05)])
    };
    let told = assess(&question).unwrap();
    let mut names: Vec<&str> = told.figures.iter().map(|f| f.name.as_str()).collect();
    names.sort_unstable();
    let all = names.len();
    names.dedup();
    assert_eq!(names.len(), all);
    assert!(told.figures.iter().all(|f| f.value.is_finite() && !f.condition.is_empty()));
    assert!(told.not_evaluated.is_empty());
}

#[test]
fn numbers_beyond_all_measure_fail_and_do_not_panic() {
    let told = assess(&Question {
        theta_k_per_w: Some(f64::MAX),
        battery_c: Some(f64::MIN_POSITIVE),
        ..steady(f64::MAX, 1.0, f64::MAX)
    });
    assert_eq!(told.unwrap().verdict, Verdict::Fail);
}

#[test]
fn lives_are_told_in_the_unit_that_people_use() {
    assert_eq!(duration(5.0 * 3600.0), "5 h");
    assert_eq!(duration(10.0 * 86400.0), "10 days");
    assert_eq!(duration(3.0 * 365.25 * 86400.0), "3 years");
}
