//! From value and limit to verdict, rule by rule; and limits from text.

use super::verdict::judge;
use super::*;
use crate::diagnostic::{FileId, Span};
use crate::quantity::{Dimension, Names, NoNames};
use proptest::prelude::*;

fn verdict(value: f64, limit: Limit, uncertainty: Option<f64>) -> (Verdict, Option<f64>) {
    let judged = judge(value, limit, |bound| Some(bound.abs()), uncertainty, None);
    (judged.verdict, judged.margin)
}

#[test]
fn exact_margins_and_the_tenth_that_makes_a_pass() {
    let limit = Limit::AtMost(0.08);
    let (passed, margin) = verdict(0.072, Limit::AtMost(0.08), None);
    close(margin.unwrap(), 0.1, 1e-12);
    assert_eq!(passed, Verdict::Pass);
    let (tight, margin) = verdict(0.0729, limit, None);
    close(margin.unwrap(), 0.0071 / 0.08, 1e-12);
    assert_eq!(tight, Verdict::Marginal);
    assert_eq!(verdict(0.08, limit, None), (Verdict::Marginal, Some(0.0)));
    let (failed, margin) = verdict(0.1, limit, None);
    close(margin.unwrap(), -0.25, 1e-12);
    assert_eq!(failed, Verdict::Fail);
    assert_eq!(verdict(0.5, Limit::AtLeast(0.4), None).0, Verdict::Pass);
    assert_eq!(verdict(0.3, Limit::AtLeast(0.4), None).0, Verdict::Fail);
    // A range takes the smaller of both margins.
    let (inside, margin) = verdict(1.9, Limit::Between(1.0, 2.0), None);
    close(margin.unwrap(), 0.05, 1e-12);
    assert_eq!(inside, Verdict::Marginal);
    assert_eq!(verdict(0.9, Limit::Between(1.0, 2.0), None).0, Verdict::Fail);
}

#[test]
fn a_limit_of_zero_has_no_margin_and_judges_all_the_same() {
    assert_eq!(verdict(-1e-9, Limit::AtMost(0.0), None), (Verdict::Pass, None));
    assert_eq!(verdict(1e-9, Limit::AtMost(0.0), None), (Verdict::Fail, None));
    // No scale to hold the uncertainty against: it cannot be told.
    assert_eq!(verdict(1e-9, Limit::AtMost(0.0), Some(1e-8)).0, Verdict::NotEvaluated);
}

#[test]
fn near_the_limit_the_numerical_uncertainty_decides() {
    let limit = Limit::AtMost(0.1);
    assert_eq!(verdict(0.1005, limit, Some(0.001)).0, Verdict::Marginal);
    assert_eq!(verdict(0.0995, limit, Some(0.001)).0, Verdict::Marginal);
    assert_eq!(verdict(0.102, limit, Some(0.001)).0, Verdict::Fail);
    assert_eq!(verdict(0.05, limit, Some(0.001)).0, Verdict::Pass);
    assert_eq!(verdict(0.105, limit, Some(0.02)).0, Verdict::NotEvaluated);
    assert_eq!(verdict(0.095, limit, Some(0.02)).0, Verdict::NotEvaluated);
    // A tenth of the scale is still allowed.
    assert_eq!(verdict(0.105, limit, Some(0.01)).0, Verdict::Marginal);
    // Solved once, the value alone is judged.
    assert_eq!(verdict(0.1005, limit, None).0, Verdict::Fail);
}

#[test]
fn a_value_that_is_no_number_is_not_evaluated() {
    assert_eq!(verdict(f64::NAN, Limit::AtMost(1.0), None).0, Verdict::NotEvaluated);
    assert_eq!(verdict(f64::NAN, Limit::Between(0.0, 1.0), Some(0.1)).0, Verdict::NotEvaluated);
}

#[test]
fn the_worst_verdict_wins_in_the_stated_order() {
    use Verdict::{Error, Fail, Marginal, NoRequirements, NotEvaluated, Pass};
    let rising = [NoRequirements, Pass, Marginal, NotEvaluated, Error, Fail];
    for pair in rising.windows(2) {
        assert_eq!(Verdict::worst([pair[0], pair[1], NoRequirements]), pair[1]);
    }
    assert_eq!(Verdict::worst([]), NoRequirements);
    let words: Vec<&str> = rising.iter().map(|v| v.word()).collect();
    assert_eq!(words, ["no-requirements", "pass", "marginal", "not-evaluated", "error", "fail"]);
}

/// Steps from 1.0 V to 0.9 V at 10 s along a ramp of 0.1 V/s, and holds; shifted by `shift_v`.
fn ramp(shift_v: f64) -> Waveform {
    let output = [1.0, 1.0, 0.9 + shift_v, 0.9 + shift_v];
    lines(&[0.0, 10.0, 11.0, 110.0], &[("output", "V", &output)])
}

#[test]
fn output_levels_are_scaled_by_their_distance_from_nominal() {
    let waveform = ramp(0.0);
    let scene = steps(&waveform, TestKind::LoadStep, &[(10.0, 1.0)], 110.0);
    let lowest = Requirement::new("output_minimum", Limit::AtLeast(0.88));
    let level = Requirement::new("loaded_level", Limit::Between(0.8, 1.05));
    let rows = measure(&scene, &[lowest, level, at_most("droop", 0.11)]);
    close(row(&rows, "output_minimum").margin.unwrap(), 0.02 / 0.12, 1e-12);
    assert_eq!(row(&rows, "output_minimum").verdict, Verdict::Pass);
    close(row(&rows, "loaded_level").margin.unwrap(), 0.5, 1e-12);
    close(row(&rows, "droop").margin.unwrap(), 0.01 / 0.11, 1e-12);
    assert_eq!(row(&rows, "droop").verdict, Verdict::Marginal);
    // A limit at nominal itself has no scale.
    let at_nominal = Requirement::new("output_maximum", Limit::AtMost(1.0));
    let rows = measure(&scene, &[at_nominal]);
    let found = row(&rows, "output_maximum");
    assert_eq!((found.margin, found.verdict), (None, Verdict::Pass));
}

#[test]
fn advisory_lines_are_judged_and_never_count() {
    let waveform = ramp(0.0);
    let scene = steps(&waveform, TestKind::LoadStep, &[(10.0, 1.0)], 110.0);
    let advisory = Requirement { advisory: true, ..at_most("droop", 0.01) };
    let rows = measure(&scene, std::slice::from_ref(&advisory));
    assert_eq!(row(&rows, "droop").verdict, Verdict::Fail);
    assert_eq!(overall(&rows), Verdict::NoRequirements);
    let rows = measure(&scene, &[advisory, at_most("droop", 0.2)]);
    assert_eq!(overall(&rows), Verdict::Pass);
}

#[test]
fn exact_uncertainty_is_twice_the_difference_with_floors() {
    let (first, again) = (ramp(0.0), ramp(-1e-6));
    let scene = steps(&first, TestKind::LoadStep, &[(10.0, 1.0)], 110.0);
    let tighter = steps(&again, TestKind::LoadStep, &[(10.0, 1.0)], 110.0);
    let asked = [with_band("recovery", 10.0, 0.02), at_most("droop", 0.100_000_5)];
    let rows = measure_twice(&scene, &tighter, &asked, 1e-7);
    let droop = row(&rows, "droop");
    close(droop.numerical_uncertainty.unwrap(), 2e-6, 1e-15);
    assert_eq!(droop.verdict, Verdict::Marginal);
    close(droop.value.unwrap(), 0.1, 1e-15);
    // Unchanged level: half the tolerance.
    close(row(&rows, "before_level").numerical_uncertainty.unwrap(), 5e-8, 1e-20);
    // Recovery ends on the ramp 20 mV above 0.9 V, 0.8 s after the edge, where both differ by
    // 0.8 µV; twice that over 0.1 V/s is 16 µs, more than twice the difference of the times.
    close(row(&rows, "recovery").numerical_uncertainty.unwrap(), 1.6e-5, 1e-9);
    let rows = measure_twice(&scene, &scene, &asked, 1e-6);
    close(row(&rows, "recovery").numerical_uncertainty.unwrap(), 5e-6, 1e-15);
}

fn span(text: &str) -> Span {
    Span { file: FileId(0), start: 100, end: 100 + text.len() }
}

fn limit(text: &str, wanted: Dimension) -> Result<Limit, Vec<crate::diagnostic::Diagnostic>> {
    parse_limit(text, span(text), wanted, &NoNames, &[])
}

#[test]
fn limits_are_read_with_their_units() {
    assert_eq!(limit("<= 30 mV", Dimension::VOLT), Ok(Limit::AtMost(0.03)));
    assert_eq!(limit(" ≤ 84mV", Dimension::VOLT), Ok(Limit::AtMost(0.084)));
    assert_eq!(limit(">= 45 deg", Dimension::DEGREE), Ok(Limit::AtLeast(45.0)));
    assert_eq!(limit(">= 80 %", Dimension::NONE), Ok(Limit::AtLeast(0.8)));
    assert_eq!(limit("2.744 V .. 2.856 V", Dimension::VOLT), Ok(Limit::Between(2.744, 2.856)));
    assert_eq!(limit("<= 0", Dimension::WATT), Ok(Limit::AtMost(0.0)));
}

struct Nominal;
impl Names for Nominal {
    fn find(&self, name: &str) -> Option<(usize, Dimension)> {
        (name == "rail.nominal").then_some((0, Dimension::VOLT))
    }

    fn all(&self) -> Vec<String> {
        vec!["rail.nominal".to_owned()]
    }
}

#[test]
fn limits_may_be_expressions_of_the_files_values() {
    let text = "0.9 * rail.nominal .. rail.nominal + 50 mV";
    let found = parse_limit(text, span(text), Dimension::VOLT, &Nominal, &[2.0]).unwrap();
    assert_eq!(found, Limit::Between(1.8, 2.05));
}

#[test]
fn mistakes_in_limits_are_placed_and_say_what_to_type() {
    for (text, at, part) in [
        ("30 mV", (100, 105), "says no limit"),
        ("< 30 mV", (100, 107), "says no limit"),
        ("<= 30 mA", (103, 108), ""),
        ("<=", (100, 102), "missing"),
        ("2 V .. 1 V", (100, 110), "ends below"),
        ("1 V .. 2 A", (107, 110), ""),
    ] {
        let mistakes = limit(text, Dimension::VOLT).unwrap_err();
        let first = &mistakes[0];
        let place = first.span.unwrap();
        assert!(place.start >= at.0 && place.end <= at.1, "{text}: {place:?}");
        assert!(first.message.contains(part), "{text}: {}", first.message);
    }
}

proptest! {
    #[test]
    fn any_text_is_a_limit_or_a_mistake(text in "\\PC{0,24}") {
        let _ = limit(&text, Dimension::VOLT);
        let _ = limit(&format!("<= {text}"), Dimension::VOLT);
    }

    #[test]
    fn no_waveform_and_no_windows_make_measuring_panic(
        mut times in prop::collection::vec(-1.0..1.0f64, 0..8),
        values in prop::collection::vec(
            prop_oneof![-1e3..1e3f64, Just(f64::NAN), Just(f64::INFINITY), Just(0.0)], 0..8),
        bends in prop::collection::vec((-1.0..1.0f64, -1e300..1e300f64), 0..8),
        ends in prop::collection::vec(-2.0..2.0f64, 6),
        kind in 0..4usize,
    ) {
        times.sort_by(f64::total_cmp);
        let bends = bends.iter().map(|b| [b.0, b.1]).collect();
        let signal = |name: &str| Signal {
            name: name.into(), unit: "V", values: values.clone(), bends: Vec::clone(&bends),
        };
        let names = ["output", "input", "pass_power", "source_current", "load_current"];
        let signals = names.iter().map(|n| signal(n)).collect();
        let waveform = Waveform { time_s: times, signals };
        let dwell = |k: usize, role| Dwell { window: Window::new(ends[k], ends[k + 1]), role };
        let kinds =
            [TestKind::OperatingPoint, TestKind::LoadStep, TestKind::LineStep, TestKind::Profile];
        let scene = Scene {
            kind: kinds[kind],
            waveform: &waveform,
            edges: vec![
                Edge { start_s: ends[0], end_s: ends[1], change: 1.0 },
                Edge { start_s: ends[2], end_s: ends[3], change: -1.0 },
            ],
            dwells: vec![dwell(0, Role::Before), dwell(2, Role::Loaded), dwell(4, Role::Released)],
            rail: RailView {
                nominal_v: Some(1.0),
                window: Bound::Within { low_v: 0.9, high_v: 1.1 },
                ..RailView::default()
            },
            inputs_hold: true,
            stations: &[], watched: None,
        };
        let level = Requirement { level: Some(0.5), ..at_most("total_below", 1.0) };
        let asked = [with_band("recovery", 1.0, 0.01), level];
        for found in measure_twice(&scene, &scene, &asked, 1e-6) {
            prop_assert!(found.value.is_none_or(f64::is_finite), "{found:?}");
        }
        let _ = find(&scene, &asked).instants(&scene);
    }
}
