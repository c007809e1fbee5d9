//! A reference that waits for its supply: instants at which it starts and stops, and its course
//! between them, against closed forms.

use crate::bench::{BOTH, Bench, last, measured};
use railstep::trial::RunOptions;

/// What is promised of an instant, in s.
const PROMISED_S: f64 = 1e-9;
/// 10 to 90 %, in s.
const RISE_S: f64 = 20e-6;
/// In which it goes over, in s.
const OVER_S: f64 = 100e-9;

fn bench(points: &str) -> Bench {
    Bench::of(&format!(
        r#"title = "a reference with start levels"
[parts]
V1 = {{ kind = "voltage-source", plus = "vin", minus = "gnd", varies = {{ shape = "points", points = {points} }} }}
R1 = {{ kind = "resistor", nodes = ["ref", "gnd"], resistance = "1 GΩ" }}
REF = {{ kind = "reference", output = "ref", ground = "gnd", supply = "vin", voltage = "1.2 V", starts_at = "2.7 V", stops_at = "2.5 V", rise = "{RISE_S} s", resistance = "1 Ω" }}
[[tests]]
name = "watch"
kind = "profile"
duration = "4 ms"
accuracy = "0.1 µV"
sample = 4000
"#
    ))
}

/// How much of a step is left t after it began, behind a lag of rise/ln 9, when it takes `OVER_S` in a
/// straight line: 1 while nothing has happened.
fn left(t: f64) -> f64 {
    let tau = RISE_S / 9f64.ln();
    let ramp = |t: f64| if t > 0.0 { t + tau * (-t / tau).exp_m1() } else { 0.0 };
    1.0 - (ramp(t) - ramp(t - OVER_S)) / OVER_S
}

/// 0 to 5 V in 1 ms passes 2.7 V at 0.54 ms; 5 V to 0 from 2 ms to 3 ms passes 2.5 V at 2.5 ms. The
/// supply is then 1.3 V above the reference, 130 widths of what rounds its corner.
#[test]
fn exact_a_reference_starts_at_one_level_and_stops_at_another() {
    let points = r#"[["0 s", "0 V"], ["1 ms", "5 V"], ["2 ms", "5 V"], ["3 ms", "0 V"]]"#;
    let bench = bench(points);
    for method in BOTH {
        let outcome = bench.outcome("watch", method);
        let events = &outcome.events.as_ref().expect("a state").list;
        let told: Vec<(&str, &str)> = events.iter().map(|e| (&*e.part, e.what)).collect();
        assert_eq!(told, [("REF", "starts"), ("REF", "stops")]);
        for (event, expected_s) in events.iter().zip([0.54e-3, 2.5e-3]) {
            assert!((event.time_s - expected_s).abs() < PROMISED_S, "{:e}", event.time_s);
        }
        assert_eq!(measured(&outcome, "trips"), 2.0);
        assert_eq!(last(&outcome, "REF.on"), 0.0);
        let column = outcome.columns.iter().find(|c| c.name == "ref").expect("ref");
        for (&t, &found) in outcome.times_s.iter().zip(&column.values) {
            let on = (1.0 - left(t - 0.54e-3)) - (1.0 - left(t - 2.5e-3));
            // 1 Ω into 1 GΩ take 1e-9 of it; 1 ns of an instant is 132 µV where it is steepest; the
            // rest is what the tolerance leaves.
            assert!((found - 1.2 * on).abs() < 140e-6, "{t:e} s: {found}, not {}", 1.2 * on);
        }
        let at_peak = column.values.iter().fold(0.0_f64, |m, v| m.max(*v));
        assert!((at_peak - 1.2).abs() < 1e-6, "{at_peak}");
    }
}

/// Between the two levels it stays as it is: at rest off, as if its supply came from below.
#[test]
fn exact_a_reference_between_its_levels_rests_off_and_once_started_stays() {
    let from_below = bench(r#"[["0 s", "2.6 V"], ["4 ms", "2.6 V"]]"#);
    let outcome = from_below.ended("watch", &RunOptions::default());
    assert_eq!(last(&outcome, "ref"), 0.0);
    let dips = r#"[["0 s", "2.6 V"], ["1 ms", "2.8 V"], ["2 ms", "2.6 V"], ["4 ms", "2.6 V"]]"#;
    let outcome = bench(dips).ended("watch", &RunOptions::default());
    assert!((last(&outcome, "ref") - 1.2).abs() < 1e-6);
    assert_eq!(measured(&outcome, "trips"), 1.0);
}
