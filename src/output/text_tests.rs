//! The text as people see it.

use insta::assert_snapshot;
use serde_json::Value;

use super::{margin_text, run_text};
use crate::output::report::{
    Balance, Condition, ErrorReport, ExplanationReport, MeasurementReport, NodeLevel,
    OperatingPointReport, PartState, Report, TestReport,
};

fn required(name: &str, value: f64, unit: &str, limit: &str, margin: f64) -> MeasurementReport {
    MeasurementReport {
        name: name.to_owned(),
        value: Some(value),
        unit: unit.to_owned(),
        limit: Some(limit.to_owned()),
        margin: Some(margin),
        verdict: "pass".to_owned(),
        ..MeasurementReport::default()
    }
}

fn told(name: &str, value: f64, unit: &str) -> MeasurementReport {
    MeasurementReport {
        name: name.to_owned(),
        value: Some(value),
        unit: unit.to_owned(),
        verdict: "no-requirements".to_owned(),
        ..MeasurementReport::default()
    }
}

fn missing(name: &str, reason: &str) -> MeasurementReport {
    MeasurementReport {
        name: name.to_owned(),
        verdict: "not-evaluated".to_owned(),
        advisory: true,
        reason: Some(reason.to_owned()),
        ..MeasurementReport::default()
    }
}

fn burst() -> TestReport {
    let mut recovery = MeasurementReport {
        at_s: Some(7.42e-5),
        definition: "time from the start of the edge to the last entry into the band about the settled level".to_owned(),
        ..required("recovery", 1.42e-5, "s", "<= 20 µs", 0.29)
    };
    recovery.settings.insert("band".to_owned(), Value::from("0.5 %"));
    recovery.settings.insert("about".to_owned(), Value::from("settled"));
    TestReport {
        name: "transmit burst".to_owned(),
        kind: "load-step".to_owned(),
        verdict: "marginal".to_owned(),
        condition: Condition {
            source_v: Some(3.7),
            load: Some("2 mA to 180 mA and back".to_owned()),
            ambient_c: Some(25.0),
            edge_s: Some(1e-7),
            watched_s: Some(1.06e-3),
            window_v: Some([2.744, 2.856]),
            transient_window_v: Some([2.744, 2.856]),
            ..Condition::default()
        },
        measurements: vec![
            told("before_level", 2.8, "V"),
            MeasurementReport {
                numerical_uncertainty: Some(2e-6),
                at_s: Some(6.06e-5),
                definition: "before_level minus the lowest value after the loading edge".to_owned(),
                ..required("droop", 0.020_41, "V", "<= 30 mV", 0.319_6)
            },
            recovery,
            MeasurementReport {
                verdict: "marginal".to_owned(),
                numerical_uncertainty: Some(1e-6),
                at_s: Some(6.609e-4),
                ..required("overshoot", 0.0291, "V", "<= 30 mV", 0.03)
            },
            told("efficiency", 0.752, "1"),
            missing("headroom_minimum", "no `pass` is named in `[rail]`"),
            missing("pass_power_peak", "no `pass` is named in `[rail]`"),
        ],
        explanation: Some(vec![
            ExplanationReport {
                cause: "charge".to_owned(),
                part: "C_OUT".to_owned(),
                value: 0.0188,
                unit: "V".to_owned(),
            },
            ExplanationReport {
                cause: "esr".to_owned(),
                part: "C_OUT".to_owned(),
                value: 0.0016,
                unit: "V".to_owned(),
            },
        ]),
        of_which_static: Some(0.0008),
        input_sag: Some(0.006),
        limited_by: Some("amplifier drive".to_owned()),
        balance: Some(Balance {
            energy_residual: 1.2e-6,
            charge_residual: 3e-7,
            energy_residual_of_stored: 2e-5,
            charge_residual_of_stored: 4e-6,
        }),
        ..TestReport::default()
    }
}

fn report(tests: Vec<TestReport>, verdict: &str) -> Report {
    let mut report = Report::new(
        "netlists/buoy-radio.toml",
        "Tide-buoy radio rail: 2.80 V from one lithium-ion cell",
    );
    report.tests = tests;
    report.verdict = verdict.to_owned();
    report
}

#[test]
fn a_run_reads_from_what_was_understood_to_the_verdict() {
    let mut report = report(vec![burst()], "marginal");
    report.cautions =
        vec!["nominal values only: tolerances were left out, corners may differ".to_owned()];
    report.files = vec![
        "transmit-burst.csv".to_owned(),
        "transmit-burst.svg".to_owned(),
        "summary.json".to_owned(),
    ];
    report.stale = vec!["old-name.csv".to_owned()];
    let understood = [
        "rail: vout, 2.800 V nominal, window ± 2 %".to_owned(),
        "path: BT1 → vin → Q1 → vout".to_owned(),
    ];
    assert_snapshot!(run_text(&report, 100, &understood), @r#"
    Tide-buoy radio rail: 2.80 V from one lithium-ion cell
    netlists/buoy-radio.toml

    understood
      rail: vout, 2.800 V nominal, window ± 2 %
      path: BT1 → vin → Q1 → vout

    transmit burst (load-step): marginal
      conditions: source 3.70 V; load 2 mA to 180 mA and back; ambient 25 °C; edge 100 ns; watched for
        1.06 ms; window 2.744 V .. 2.856 V; nominal values only
      measurement                           value              limit     margin  verdict   at
      droop                                 20.41 mV ± 2.0 µV  <= 30 mV    31 %  pass      60.60 µs
      recovery (band 0.5 %, about settled)  14.20 µs           <= 20 µs    29 %  pass      74.20 µs
      overshoot                             29.10 mV ± 1.0 µV  <= 30 mV   3.0 %  marginal  660.9 µs
      also: before_level 2.800 V, efficiency 75.20 %
      not evaluated: headroom_minimum, pass_power_peak (no `pass` is named in `[rail]`)
      droop 20.4 mV = charge 18.8 mV (C_OUT) + esr 1.60 mV (C_OUT); of which static 800 µV; the input
        sags by 6.00 mV; limited by amplifier drive
      books: energy 1.2e-6, charge 3.0e-7 of what passed; 2.0e-5, 4.0e-6 of what was stored

    definitions
      droop: before_level minus the lowest value after the loading edge
      recovery: time from the start of the edge to the last entry into the band about the settled
        level

    note: ± is the numerical uncertainty of the solution, not the accuracy of the rail
    note: numerical uncertainty not evaluated where no ± stands
    caution: nominal values only: tolerances were left out, corners may differ
    written: transmit-burst.csv, transmit-burst.svg, summary.json
    stale, from an earlier run: old-name.csv

    verdict: marginal (1 test)
    calculated, not measured
    "#);
}

#[test]
fn what_went_wrong_is_said_where_it_went_wrong() {
    let broken = TestReport {
        name: "cold start".to_owned(),
        kind: "profile".to_owned(),
        verdict: "error".to_owned(),
        error: Some(ErrorReport {
            time_s: Some(1.234e-5),
            node: Some("gate".to_owned()),
            part: Some("EA".to_owned()),
            tried: vec!["shorter steps".to_owned(), "the other method".to_owned()],
            message: "no step is small enough".to_owned(),
        }),
        ..TestReport::default()
    };
    let ringing = TestReport {
        name: "release".to_owned(),
        kind: "load-step".to_owned(),
        verdict: "fail".to_owned(),
        measurements: vec![MeasurementReport {
            value: None,
            margin: None,
            verdict: "fail".to_owned(),
            reason: Some("oscillates: 12 mV peak to peak at 180 kHz".to_owned()),
            ..required("recovery", 0.0, "s", "<= 20 µs", 0.0)
        }],
        condition: Condition { nominal_only: false, quick: true, ..Condition::default() },
        ..TestReport::default()
    };
    let rest = TestReport {
        name: "idle".to_owned(),
        kind: "operating-point".to_owned(),
        verdict: "no-requirements".to_owned(),
        operating_point: Some(OperatingPointReport {
            nodes: vec![
                NodeLevel { node: "vin".to_owned(), voltage: 3.699_7 },
                NodeLevel { node: "vout".to_owned(), voltage: 2.8 },
            ],
            parts: vec![PartState {
                part: "Q1".to_owned(),
                region: Some("weak inversion".to_owned()),
                current: Some(0.002),
                power: Some(0.001_8),
            }],
        }),
        ..TestReport::default()
    };
    assert_snapshot!(run_text(&report(vec![broken, ringing, rest], "fail"), 80, &[]), @r#"
    Tide-buoy radio rail: 2.80 V from one lithium-ion cell
    netlists/buoy-radio.toml

    cold start (profile): error
      conditions: no window given; nominal values only
      could not be solved at 12.34 µs, node `gate`, part `EA`: no step is small
        enough; tried: shorter steps, the other method

    release (load-step): fail
      conditions: no window given; each requirement at its worst corner, all else
        at nominal values
      measurement  value  limit     margin  verdict  at
      recovery     –      <= 20 µs       –  fail
      recovery: oscillates: 12 mV peak to peak at 180 kHz

    idle (operating-point): no-requirements
      conditions: no window given; nominal values only
      nodes: vin 3.700 V, vout 2.800 V
      part   current     power  region
      Q1    2.000 mA  1.800 mW  weak inversion

    verdict: fail (3 tests: 1 fail, 1 error, 1 no-requirements)
      release: recovery not measured, limit <= 20 µs
    calculated, not measured
    "#);
}

#[test]
fn a_margin_never_looks_better_than_it_is() {
    let cases =
        [(0.29, "29 %"), (0.3199, "31 %"), (0.0998, "9.9 %"), (-0.004, "-0.4 %"), (-1.5, "-150 %")];
    for (margin, text) in cases {
        assert_eq!(margin_text(margin), text);
    }
}

#[test]
fn a_voltage_below_the_accuracy_is_told_as_noise() {
    use crate::output::number::above_noise;
    assert_eq!(above_noise(181.4e-12, 1e-5), "< 10 µV");
    assert_eq!(above_noise(-3e-6, 1e-5), "> -10 µV");
    assert_eq!(above_noise(-3e-5, 1e-5), "-30.00 µV");
    assert_eq!(above_noise(0.0, 1e-5), "0 V");
}

#[test]
fn no_line_is_wider_than_asked_for() {
    let mut test = burst();
    test.name = "a name ".repeat(30);
    test.measurements[2].limit = Some("2.744 V .. 2.856 V and a very long text besides".to_owned());
    let report = report(vec![test], "marginal");
    for width in [0, 60, 77, 100, 500] {
        let most = width.clamp(60, 100);
        for line in run_text(&report, width, &["word ".repeat(60)]).lines() {
            assert!(line.chars().count() <= most, "{width}: {line}");
        }
    }
}

#[test]
fn names_cannot_steer_the_terminal() {
    let mut test = burst();
    test.name = "\u{1b}[2Jburst\u{7}".to_owned();
    test.measurements[1].limit = Some("\u{1b}[31m".to_owned());
    let text = run_text(&report(vec![test], "pass"), 100, &["\u{1b}[0m".to_owned()]);
    assert!(!text.contains('\u{1b}') && !text.contains('\u{7}'));
}
