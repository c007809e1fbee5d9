//! Thermal shutdown over heat paths against closed forms: by turns in time, and at rest.

use super::bench::{Bench, measured};
use super::heat::{AMBIENT_K, BIAS_V, SATURATION_A, WITHIN_K, close, runaway};
use railstep::analysis::{Event, Method};

/// A heater of 10 W on 10 K/W and 1 s over a heat sink that is held at 45 °C, switched off by a
/// shutdown at 80 °C and on again below 60 °C; `releases` in °C.
fn shut_down(releases: &str, test: &str) -> Bench {
    Bench::of(&format!(
        r#"title = "thermal shutdown"
[parts]
V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd", voltage = "10 V" }}
V2 = {{ kind = "voltage-source", plus = "logic", minus = "gnd", voltage = "5 V" }}
R2 = {{ kind = "resistor", nodes = ["logic", "gate"], resistance = "1 kΩ" }}
U1 = {{ kind = "thermal-shutdown", path = "H1", pulls = "gate", to = "gnd", trips_at = "80 °C", releases_at = "{releases}", transition = "1 ns" }}
S1 = {{ kind = "switch", nodes = ["in", "heater"], on_resistance = "1 mΩ", off_resistance = "1000 GΩ", input = ["gate", "gnd"], closes_at = "3 V", opens_at = "2 V", transition = "1 ns" }}
R1 = {{ kind = "resistor", nodes = ["heater", "gnd"], resistance = "10 Ω" }}
SINK = {{ kind = "heat-path", foster = [["1 K/W", "1 s"]], held_at = "45 °C" }}
H1 = {{ kind = "heat-path", part = "R1", foster = [["10 K/W", "1 s"]], sink = "SINK", initial = "45 °C" }}
[[tests]]
name = "watch"
{test}
"#
    ))
}

/// Heats from 45 °C towards 45 °C + 100 K, cools towards 45 °C; between the levels by turns.
#[test]
fn exact_a_shutdown_on_a_heat_path_above_its_sink_goes_by_turns() {
    let test = "kind = \"profile\"\nduration = \"4 s\"\nstart = \"initial-values\"";
    let outcome = shut_down("60 °C", test).outcome("watch", Method::Rodas4p);
    let rise_k = 10.0 * 10.0 * (10.0_f64 / 10.001).powi(2);
    let heats = |from: f64, to: f64| ((rise_k - from) / (rise_k - to)).ln();
    let (first, cools, again) = (heats(0.0, 35.0), (35.0_f64 / 15.0).ln(), heats(15.0, 35.0));
    let mut expected = vec![first];
    while expected[expected.len() - 1] < 4.0 {
        let next = if expected.len() % 2 == 1 { cools } else { again };
        expected.push(expected[expected.len() - 1] + next);
    }
    expected.pop();
    let of_u1 = |e: &&Event| e.part == "U1";
    let events = outcome.events.as_ref().expect("parts with states");
    let found: Vec<f64> = events.list.iter().filter(of_u1).map(|e| e.time_s).collect();
    assert_eq!(found.len(), expected.len(), "{found:?} {expected:?}");
    for (found, expected) in found.iter().zip(&expected) {
        // The slowest crossing has 15 K/s.
        assert!((found - expected).abs() < WITHIN_K / 15.0, "{found} {expected}");
    }
}

/// At 145 °C if it were not for the shutdown. Below the sink it never releases: it rests shut down.
#[test]
fn exact_a_shutdown_rests_shut_down_or_has_no_rest() {
    let rest = "kind = \"operating-point\"";
    let outcome = shut_down("40 °C", rest).outcome("watch", Method::Rodas4p);
    close(measured(&outcome, "junction_temperature"), 273.15 + 45.0, 1e-6);
    let failure = shut_down("60 °C", rest).failure("watch");
    assert!(failure.message.contains("in a circle"), "{failure:?}");
}

/// Where a junction would run away, what watches it cuts in first.
#[test]
fn exact_a_shutdown_keeps_a_junction_from_running_away() {
    let (critical, _) = runaway();
    let circuit = |releases: &str| {
        Bench::of(&format!(
            r#"title = "a watched junction at constant voltage"
[rail]
ambient = "25 °C"
[parts]
V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd", voltage = "{BIAS_V} V" }}
V2 = {{ kind = "voltage-source", plus = "logic", minus = "gnd", voltage = "5 V" }}
R2 = {{ kind = "resistor", nodes = ["logic", "gate"], resistance = "1 kΩ" }}
U1 = {{ kind = "thermal-shutdown", path = "H1", pulls = "gate", to = "gnd", trips_at = "120 °C", releases_at = "{releases}" }}
S1 = {{ kind = "switch", nodes = ["in", "a"], on_resistance = "1 µΩ", off_resistance = "1 GΩ", input = ["gate", "gnd"], closes_at = "3 V", opens_at = "2 V" }}
D1 = {{ kind = "diode", anode = "a", cathode = "gnd", saturation_current = "{SATURATION_A} A" }}
H1 = {{ kind = "heat-path", part = "D1", foster = [["{} K/W", "1 s"]] }}
[[tests]]
name = "rest"
kind = "operating-point"
"#,
            2.0 * critical
        ))
    };
    let outcome = circuit("20 °C").outcome("rest", Method::Rodas4p);
    close(measured(&outcome, "junction_temperature"), AMBIENT_K, 1e-3);
    let failure = circuit("100 °C").failure("rest");
    assert!(failure.message.contains("in a circle"), "{failure:?}");
}
