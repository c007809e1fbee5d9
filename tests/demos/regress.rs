//! Work counts of the demos, dated: a change that keeps the answers but costs more shows here.

use super::{BUOY, SENSOR, outcomes};
use railstep::analysis::Method;

/// Counts may differ by this share between machines, whose exponentials differ in the last digit.
const ALLOWED_SHARE: f64 = 0.05;

fn hold(text: &str, rows: &[(&str, usize)]) {
    let outcomes = outcomes(text, Method::Rodas4p, true);
    let timed = outcomes.iter().filter(|o| o.at_rest.is_none());
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
