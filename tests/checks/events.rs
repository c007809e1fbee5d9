//! States with hysteresis against closed forms: when contacts change over, what filter times hold
//! back, periods of oscillations, and charge that is shared.
//!
//! An instant is promised to 1 ns. Voltages are asked for to 0.1 µV, and move by thousands of volts a
//! second where levels are crossed, so that the solver adds some 10 ps.

use crate::bench::{BOTH, Bench, last, measured};
use railstep::analysis::{Event, Method};
use railstep::trial::{Outcome, RunOptions};

/// What is promised of an instant, in s.
const PROMISED_S: f64 = 1e-9;

fn events(outcome: &Outcome) -> &[Event] {
    &outcome.events.as_ref().expect("parts with states").list
}

/// Time and words of all events.
fn told(outcome: &Outcome) -> Vec<(f64, String)> {
    events(outcome).iter().map(|e| (e.time_s, format!("{} {}", e.part, e.what))).collect()
}

#[track_caller]
fn assert_told(outcome: &Outcome, expected: &[(f64, &str)], within_s: f64) {
    let told = told(outcome);
    assert_eq!(told.len(), expected.len(), "{told:?}");
    for ((t, what), (expected_s, words)) in told.iter().zip(expected) {
        assert_eq!(what, words);
        assert!((t - expected_s).abs() < within_s, "{what} at {t:e}, expected {expected_s:e}");
    }
}

/// 10 V over 1 kΩ into 1 µF from 0 V, watched at 6 V.
fn charging(switch: &str) -> Bench {
    Bench::of(&format!(
        r#"title = "charging"
[parts]
V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd", voltage = "10 V" }}
R1 = {{ kind = "resistor", nodes = ["in", "v"], resistance = "1 kΩ" }}
C1 = {{ kind = "capacitor", nodes = ["v", "gnd"], capacitance = "1 µF", initial = "0 V" }}
R2 = {{ kind = "resistor", nodes = ["in", "x"], resistance = "1 kΩ" }}
{switch}
[[tests]]
name = "watch"
kind = "profile"
duration = "3 ms"
start = "initial-values"
accuracy = "0.1 µV"
"#
    ))
}

/// v = 10 V·(1 − e^(−t/τ)) crosses 6 V at τ·ln(10/4), and the contact waits for its filter.
#[test]
fn exact_a_charging_capacitor_moves_a_contact_at_its_level() {
    let crosses_s = 1e-3 * (10.0_f64 / 4.0).ln();
    for (filter, filter_s) in [("0 s", 0.0), ("70 µs", 70e-6)] {
        let bench = charging(&format!(
            r#"S1 = {{ kind = "switch", nodes = ["x", "gnd"], on_resistance = "1 Ω", input = ["v", "gnd"], closes_at = "6 V", opens_at = "2 V", filter = "{filter}" }}"#
        ));
        for method in BOTH {
            let outcome = bench.outcome("watch", method);
            assert_told(&outcome, &[(crosses_s + filter_s, "S1 closes")], PROMISED_S);
            assert_eq!(measured(&outcome, "trips"), 1.0);
            // 10 V over 1 kΩ and 1 Ω.
            assert!((last(&outcome, "x") - 10.0 / 1001.0).abs() < 1e-6);
            assert_eq!(last(&outcome, "S1.closed"), 1.0);
        }
    }
}

/// Two contacts that watch the same voltage move in the same instant; a third that opens on the way
/// up moves with its own level.
#[test]
fn exact_two_states_flip_together() {
    let switch = |name: &str, levels: &str| {
        format!(
            r#"{name} = {{ kind = "switch", nodes = ["x", "gnd"], on_resistance = "1 kΩ", input = ["v", "gnd"], {levels} }}"#
        )
    };
    let both = r#"closes_at = "6 V", opens_at = "2 V""#;
    let other = r#"opens_at = "8 V", closes_at = "7 V""#;
    let all = [("S1", both), ("S2", both), ("S3", other)].map(|(name, l)| switch(name, l));
    let outcome = charging(&all.join("\n")).outcome("watch", Method::Rodas4p);
    let at = |share: f64| 1e-3 * (1.0 / (1.0 - share)).ln();
    let expected = [(at(0.6), "S1 closes"), (at(0.6), "S2 closes"), (at(0.8), "S3 opens")];
    assert_told(&outcome, &expected, PROMISED_S);
    assert_eq!(events(&outcome)[0].time_s, events(&outcome)[1].time_s);
}

/// A source of points, a supervisor on it, and a pull-up.
fn supervised(points: &str, supervisor: &str, duration: &str) -> Bench {
    Bench::of(&format!(
        r#"title = "supervised"
[parts]
V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd", varies = {{ shape = "points", points = {points} }} }}
V2 = {{ kind = "voltage-source", plus = "up", minus = "gnd", voltage = "5 V" }}
R1 = {{ kind = "resistor", nodes = ["up", "reset"], resistance = "10 kΩ" }}
R2 = {{ kind = "resistor", nodes = ["in", "gnd"], resistance = "10 kΩ" }}
U1 = {{ kind = "supervisor", input = "in", ground = "gnd", output = "reset", {supervisor} }}
[[tests]]
name = "watch"
kind = "profile"
duration = "{duration}"
"#
    ))
}

/// 0 to 5 V in 1 ms crosses 3.5 V at 0.7 ms; 5 to 0 V from 2 ms on crosses 3 V at 2.4 ms.
#[test]
fn exact_a_supervisor_waits_before_it_gives_and_before_it_ends_a_reset() {
    let bench = supervised(
        r#"[["0 s", "0 V"], ["1 ms", "5 V"], ["2 ms", "5 V"], ["3 ms", "0 V"]]"#,
        r#"threshold = "3 V", hysteresis = "0.5 V", filter = "10 µs", release_delay = "200 µs""#,
        "4 ms",
    );
    for method in BOTH {
        let outcome = bench.outcome("watch", method);
        let expected = [(0.9e-3, "U1 releases the reset"), (2.41e-3, "U1 gives a reset")];
        assert_told(&outcome, &expected, PROMISED_S);
        let reset_s = 0.9e-3 + (4e-3 - 2.41e-3);
        assert!((measured(&outcome, "reset_time") - reset_s).abs() < 2.0 * PROMISED_S);
    }
}

/// Dips of 3 V: one of 40 µs, which a filter of 50 µs does not see, and one of 80 µs, which it does;
/// then a rise that does not last for the release delay, and one that does.
#[test]
fn exact_what_does_not_last_is_not_seen() {
    let bench = supervised(
        r#"[["0 s", "5 V"], ["1 ms", "5 V"], ["1 ms", "2 V"], ["1.04 ms", "2 V"], ["1.04 ms", "5 V"], ["2 ms", "5 V"], ["2 ms", "2 V"], ["2.08 ms", "2 V"], ["2.08 ms", "5 V"], ["2.2 ms", "5 V"], ["2.2 ms", "2 V"], ["2.3 ms", "2 V"], ["2.3 ms", "5 V"]]"#,
        r#"threshold = "3 V", hysteresis = "0.5 V", filter = "50 µs", release_delay = "200 µs""#,
        "3 ms",
    );
    let outcome = bench.outcome("watch", Method::Rodas4p);
    let expected = [(2.05e-3, "U1 gives a reset"), (2.5e-3, "U1 releases the reset")];
    assert_told(&outcome, &expected, PROMISED_S);
    assert!((measured(&outcome, "reset_time") - 0.45e-3).abs() < PROMISED_S);
}

/// A contact of 1 kΩ discharges 10 nF that 10 kΩ charge from 10 V, between 8 V and 2 V.
fn oscillator(accuracy: &str) -> Bench {
    Bench::of(&format!(
        r#"title = "relaxation oscillator"
[rail]
output = "v"
nominal = "5 V"
[parts]
V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd", voltage = "10 V" }}
R1 = {{ kind = "resistor", nodes = ["in", "v"], resistance = "10 kΩ" }}
C1 = {{ kind = "capacitor", nodes = ["v", "gnd"], capacitance = "10 nF", initial = "0 V" }}
S1 = {{ kind = "switch", nodes = ["v", "gnd"], on_resistance = "1 kΩ", off_resistance = "1000 GΩ", input = ["v", "gnd"], closes_at = "8 V", opens_at = "2 V", transition = "1 ns" }}
[[tests]]
name = "watch"
kind = "profile"
duration = "1 ms"
start = "initial-values"
accuracy = "{accuracy}"
[[tests]]
name = "rest"
kind = "operating-point"
"#
    ))
}

/// Up: RC·ln((10 − 2)/(10 − 8)). Down: towards 10 V/11 with C·(10 kΩ ∥ 1 kΩ).
#[test]
fn exact_period_of_a_relaxation_oscillator() {
    let (up_s, low_v) = (1e-4 * 4.0_f64.ln(), 10.0_f64 / 11.0);
    let down_s = 1e-4 / 11.0 * ((8.0 - low_v) / (2.0 - low_v)).ln();
    let first_s = 1e-4 * 5.0_f64.ln();
    for method in BOTH {
        let outcome = oscillator("0.1 µV").outcome("watch", method);
        let times: Vec<f64> = events(&outcome).iter().map(|e| e.time_s).collect();
        let whole = ((1e-3 - first_s) / (up_s + down_s)).floor() as usize;
        assert!(times.len() > 2 * whole, "{times:?}");
        assert!((times[0] - first_s).abs() < PROMISED_S);
        for (k, pair) in times.windows(2).enumerate() {
            let expected = if k % 2 == 0 { down_s } else { up_s };
            // A contact that takes 1 ns has moved on average within it.
            let allowed = PROMISED_S + 1e-9;
            assert!((pair[1] - pair[0] - expected).abs() < allowed, "{method:?} {k}: {pair:?}");
        }
        // The books close across all of them, at the accuracy asked for.
        let balance = outcome.balance.expect("books");
        assert!(balance.energy.residual() < 1e-6, "{:?}", balance.energy);
        assert!(balance.charge.residual() < 1e-6, "{:?}", balance.charge);
    }
}

/// The same events whatever the steps: 10 µV at 20 kV/s are 0.5 ns for each flip, and they add up.
#[test]
fn events_do_not_depend_on_the_steps() {
    let loose = oscillator("10 µV").outcome("watch", Method::Rodas4p);
    let tight = oscillator("10 nV").outcome("watch", Method::Rodas4p);
    let (loose, tight) = (events(&loose), events(&tight));
    assert_eq!(loose.len(), tight.len());
    for (k, (a, b)) in loose.iter().zip(tight).enumerate() {
        assert_eq!(a.what, b.what);
        let allowed = 0.5e-9 * (k + 1) as f64;
        assert!((a.time_s - b.time_s).abs() < allowed, "{k}: {a:?} {b:?}");
    }
}

#[test]
fn a_circuit_that_cannot_rest_says_so() {
    let failed = oscillator("10 µV").ended("rest", &RunOptions::default());
    let failure = failed.failure.expect("no rest");
    assert!(failure.message.contains("no rest"), "{failure:?}");
    assert_eq!(failure.part.as_deref(), Some("S1"));
}

/// A source behind 100 Ω with 1 µF, a load of 100 Ω that a lock-out lets in at 2.8 V and shuts out at
/// 2 V: up from 2 V to 2.8 V towards 3 V with 100 µs, down towards 1.5 V with 50 µs. The lock-out
/// pulls the gate of the load's switch; both take 1 ns.
#[test]
fn exact_period_of_a_lock_out_that_chatters_on_a_weak_source() {
    let text = r#"title = "chatter"
[parts]
V1 = { kind = "voltage-source", plus = "cell", minus = "gnd", voltage = "3 V" }
R1 = { kind = "resistor", nodes = ["cell", "in"], resistance = "100 Ω" }
C1 = { kind = "capacitor", nodes = ["in", "gnd"], capacitance = "1 µF", initial = "0 V" }
V2 = { kind = "voltage-source", plus = "five", minus = "gnd", voltage = "5 V" }
R2 = { kind = "resistor", nodes = ["five", "gate"], resistance = "10 kΩ" }
U1 = { kind = "lock-out", input = "in", ground = "gnd", pulls = "gate", starts_at = "2.8 V", stops_at = "2 V", transition = "1 ns" }
S1 = { kind = "switch", nodes = ["in", "gnd"], on_resistance = "100 Ω", off_resistance = "1000 GΩ", input = ["gate", "gnd"], closes_at = "3 V", opens_at = "2 V", transition = "1 ns" }
[[tests]]
name = "watch"
kind = "profile"
duration = "1 ms"
start = "initial-values"
accuracy = "0.1 µV"
"#;
    let outcome = Bench::of(text).outcome("watch", Method::Rodas4p);
    let starts: Vec<f64> =
        events(&outcome).iter().filter(|e| e.what == "starts").map(|e| e.time_s).collect();
    assert!((starts[0] - 1e-4 * 15.0_f64.ln()).abs() < PROMISED_S);
    let period_s = 1e-4 * 5.0_f64.ln() + 5e-5 * (1.3_f64 / 0.5).ln();
    assert_eq!(starts.len(), 1 + ((1e-3 - starts[0]) / period_s) as usize);
    for pair in starts.windows(2) {
        // Each way through the levels, two contacts within 1 ns each.
        let error = pair[1] - pair[0] - period_s;
        assert!(error.abs() < 4e-9 + PROMISED_S, "{error:e}");
    }
    assert_eq!(measured(&outcome, "trips") as usize, events(&outcome).len());
}

/// A junction of 10 K/W and 0.1 J/K drawn as a circuit, heated by 10 W from 25 °C: 80 °C after
/// 1 s·ln(100/45), filter 1 ms.
#[test]
fn exact_a_thermal_shutdown_trips_on_a_heat_network() {
    let text = r#"title = "hot"
[parts]
V1 = { kind = "voltage-source", plus = "ambient", minus = "gnd", voltage = "25 V" }
R1 = { kind = "resistor", nodes = ["junction", "ambient"], resistance = "10 Ω" }
C1 = { kind = "capacitor", nodes = ["junction", "gnd"], capacitance = "0.1 F" }
P1 = { kind = "current-source", nodes = ["gnd", "junction"], varies = { shape = "points", points = [["0 s", "0 A"], ["0 s", "10 A"]] } }
V2 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "5 V" }
R2 = { kind = "resistor", nodes = ["vin", "gate"], resistance = "1 kΩ" }
U1 = { kind = "thermal-shutdown", input = ["junction", "gnd"], pulls = "gate", to = "gnd", trips_at = "80 °C", releases_at = "60 °C", filter = "1 ms" }
[[tests]]
name = "watch"
kind = "profile"
duration = "2 s"
accuracy = "0.1 µV"
"#;
    let outcome = Bench::of(text).outcome("watch", Method::Rodas4p);
    // 0.1 µV at 45 V/s, twice: 1e-6 of the record is 2 µs.
    let expected = [((100.0_f64 / 45.0).ln() + 1e-3, "U1 shuts down")];
    assert_told(&outcome, &expected, 20.0 * PROMISED_S);
}

/// 1 µF loses 2 nC with each of ten pulses.
#[test]
fn exact_charge_of_each_pulse() {
    let text = r#"title = "pulses"
[parts]
C1 = { kind = "capacitor", nodes = ["v", "gnd"], capacitance = "1 µF", initial = "5 V" }
R1 = { kind = "resistor", nodes = ["v", "gnd"], resistance = "1000 GΩ" }
I1 = { kind = "pulse-load", nodes = ["v", "gnd"], charge = "2 nC", rate = "100 kHz", width = "20 ns", delay = "1 µs" }
[[tests]]
name = "watch"
kind = "profile"
duration = "100 µs"
start = "initial-values"
accuracy = "10 nV"
"#;
    for method in BOTH {
        let run = Bench::of(text).solve("watch", method, 1e-9, &[0.5e-6, 5e-6]);
        for (t, pulses) in [(0.5e-6, 0.0), (5e-6, 1.0), (100e-6, 10.0)] {
            let (got, expected) = (run.at("v", t), 5.0 - 2e-3 * pulses);
            assert!((got - expected).abs() < 1e-9, "{method:?} at {t}: {got}");
        }
    }
}

/// Between its two levels a state is what it would be had its input come from below: locked out, not
/// shut down.
#[test]
fn between_its_levels_a_state_rests_as_if_it_came_from_below() {
    let text = r#"title = "rests"
[values]
cell = "2.6 V"
[parts]
V1 = { kind = "voltage-source", plus = "in", minus = "gnd", voltage = "cell" }
R1 = { kind = "resistor", nodes = ["in", "off"], resistance = "1 kΩ" }
R2 = { kind = "resistor", nodes = ["in", "hot"], resistance = "1 kΩ" }
V2 = { kind = "voltage-source", plus = "t", minus = "gnd", voltage = "150 V" }
U1 = { kind = "lock-out", input = "in", ground = "gnd", pulls = "off", starts_at = "2.7 V", stops_at = "2.5 V", off_resistance = "1000 GΩ" }
U2 = { kind = "thermal-shutdown", input = ["t", "gnd"], pulls = "hot", to = "gnd", trips_at = "160 °C", releases_at = "140 °C", off_resistance = "1000 GΩ" }
[[tests]]
name = "between"
kind = "profile"
duration = "1 ms"
[[tests]]
name = "above"
kind = "profile"
duration = "1 ms"
values = { cell = "2.8 V" }
"#;
    let bench = Bench::of(text);
    let between = bench.outcome("between", Method::Rodas4p);
    let off_v = 2.6 * 10.0 / 1010.0;
    assert!((last(&between, "off") - off_v).abs() < 1e-6);
    assert!((last(&between, "hot") - 2.6).abs() < 1e-6);
    assert!(events(&between).is_empty());
}

/// A contact that shorts the very node it watches, with nothing to hold that node up: it changes over
/// as fast as it can, for ever.
#[test]
fn endless_flips_end_in_words_at_the_work_limit() {
    let text = r#"title = "limit cycle"
[parts]
V1 = { kind = "voltage-source", plus = "in", minus = "gnd", voltage = "5 V" }
R1 = { kind = "resistor", nodes = ["in", "v"], resistance = "1 kΩ" }
S1 = { kind = "switch", nodes = ["v", "gnd"], on_resistance = "1 Ω", input = ["v", "gnd"], closes_at = "3 V", opens_at = "2 V" }
[[tests]]
name = "watch"
kind = "profile"
duration = "1 s"
start = "initial-values"
"#;
    let options = RunOptions { work_limit: 50_000, ..RunOptions::default() };
    let ended = Bench::of(text).ended("watch", &options);
    let failure = ended.failure.expect("no end");
    assert!(failure.message.contains("limit cycle"), "{failure:?}");
    let events = ended.events.expect("events");
    assert!(events.count >= 1000 && events.list.len() <= events.count);
}
