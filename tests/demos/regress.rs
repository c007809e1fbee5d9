//! What the demos give, dated: work counts, so that a change that keeps the answers but costs more
//! shows, and the text and summary that people and programs read.

use super::{BUOY, DEMOS, SENSOR, is_timed, outcomes, plan};
use insta::assert_snapshot;
use railstep::analysis::Method;
use railstep::output::report::{Report, json};
use railstep::output::text::run_text;
use railstep::output::{summary, understood};
use serde_json::Value;

/// Counts may differ by this share between machines, whose exponentials differ in the last digit.
const ALLOWED_SHARE: f64 = 0.05;

pub(crate) fn hold(text: &'static str, rows: &[(&str, usize)]) {
    let outcomes = outcomes(text, Method::Rodas4p, true);
    let timed = outcomes.iter().filter(|o| is_timed(o.kind));
    let got: Vec<(&str, usize)> = timed.map(|o| (o.name.as_str(), o.work.attempts())).collect();
    assert_eq!(got.len(), rows.len(), "{got:?}");
    for ((test, attempts), (expected_test, expected)) in got.iter().zip(rows) {
        let apart = attempts.abs_diff(*expected) as f64;
        let close = apart <= ALLOWED_SHARE * *expected as f64;
        assert!(test == expected_test && close, "{got:#?}");
    }
}

/// Step attempts of 2026-11-25.
#[test]
fn regress_attempts_of_the_buoy() {
    hold(
        BUOY,
        &[
            ("transmit burst", 309),
            ("transmit burst, filtered edge", 180),
            ("transmit burst, end of discharge", 387),
            ("transmit burst, cold aged cell", 471),
            ("charger connected", 137),
            ("receive then transmit", 276),
        ],
    );
}

/// Step attempts of 2026-11-25.
#[test]
fn regress_attempts_of_the_sensor_supply() {
    hold(
        SENSOR,
        &[
            ("sensor pulse", 139),
            ("sensor pulse, ceramic instead", 1132),
            ("sensor pulse, cold", 219),
            ("crank to 5.4 V", 346),
            ("crank to 5.0 V", 382),
            ("crank to 5.4 V, cold", 387),
            ("fast return", 155),
            ("fast return, idle", 168),
            ("fast return, cold", 164),
        ],
    );
}

/// The report of a demo, solved once: uncertainties and residuals are rounding, which may differ
/// from machine to machine.
fn report(file: &str, text: &'static str) -> (Report, Vec<String>) {
    let plan = plan(text);
    let outcomes = outcomes(text, Method::Rodas4p, true);
    (summary::report(file, &plan, outcomes), understood::lines(&plan, outcomes))
}

fn page(file: &str, text: &'static str) -> String {
    let (report, understood) = report(file, text);
    let page = run_text(&report, 100, &understood);
    page.lines().filter(|l| !l.starts_with("  books: ")).collect::<Vec<_>>().join("\n")
}

/// The summary with numbers of four digits, without definitions, work, residuals and listings, which
/// are long: the text has those that people read.
fn figures(file: &str, text: &'static str) -> String {
    let mut summary: Value = serde_json::from_slice(&json(&report(file, text).0)).unwrap();
    shorten(&mut summary);
    serde_json::to_string_pretty(&summary).unwrap()
}

/// Below this everything is noise of a solution good to 10 µV.
const NOISE: f64 = 1e-7;

fn shorten(value: &mut Value) {
    const LEFT_OUT: [&str; 5] = ["definition", "work", "balance", "cautions", "listings"];
    match value {
        Value::Object(entries) => {
            entries.retain(|key, _| !LEFT_OUT.contains(&key.as_str()));
            entries.values_mut().for_each(shorten);
        }
        Value::Array(items) => items.iter_mut().for_each(shorten),
        Value::Number(number) => {
            let x = number.as_f64().unwrap_or(0.0);
            let short = if x.abs() < NOISE { 0.0 } else { format!("{x:.3e}").parse().unwrap_or(x) };
            *value = Value::from(short);
        }
        _ => {}
    }
}

/// Our own output of 2026-11-26; of the first two demos of 2026-11-25.
#[test]
fn regress_text_of_the_demos() {
    for (name, text, _) in DEMOS {
        let file = format!("netlists/{name}.toml");
        assert_snapshot!(format!("{name}-text"), page(&file, text));
    }
}

/// Our own output of 2026-11-26; of the first two demos of 2026-11-25.
#[test]
fn regress_summary_of_the_demos() {
    for (name, text, _) in DEMOS {
        let file = format!("netlists/{name}.toml");
        assert_snapshot!(format!("{name}-summary"), figures(&file, text));
    }
}
