//! The split against closed forms, and the limits on circuits made to run into each.

#![allow(missing_docs, clippy::unwrap_used)] // a failed unwrap is a failed test

use railstep::circuit::Changes;
use railstep::document::Files;
use railstep::plan;
use railstep::trial::{CauseKind, Explanation, Outcome, RunOptions};

struct NoFiles;

impl Files for NoFiles {
    fn read(&self, _path: &str) -> Result<String, String> {
        Err("there is no such file".to_owned())
    }
}

/// The first test of a file, or the one of that name.
fn outcome(text: &str, name: Option<&str>) -> Outcome {
    let reading = plan::read("circuit.toml", text, &NoFiles, &Changes::default());
    assert!(reading.plan.is_some(), "{:?}", reading.diagnostics);
    let plan = reading.plan.unwrap();
    let test = plan.tests.iter().find(|t| name.is_none_or(|n| t.name == n)).unwrap();
    plan.run(test, &RunOptions::default()).unwrap()
}

fn droop(outcome: &Outcome) -> f64 {
    outcome.measurements.iter().find(|m| m.name == "droop").unwrap().value.unwrap()
}

fn told(outcome: &Outcome) -> &Explanation {
    outcome.explanation.as_ref().unwrap()
}

fn term(outcome: &Outcome, kind: CauseKind, part: &str) -> f64 {
    let found = told(outcome).causes.iter().find(|c| c.kind == kind && c.part == part);
    found.unwrap_or_else(|| panic!("no {kind:?} in {part}")).volt
}

fn limited_by(outcome: &Outcome) -> &str {
    told(outcome).limited_by.as_deref().unwrap()
}

/// All terms together are the droop: levels of some volts, whose differences err by a few ulps.
fn assert_adds_up(outcome: &Outcome) {
    let oscillates = outcome.notes.iter().any(|note| note.contains("the droop is not taken apart"));
    if oscillates {
        return assert!(told(outcome).causes.is_empty() && told(outcome).estimate.is_none());
    }
    let sum: f64 = told(outcome).causes.iter().map(|c| c.volt).sum();
    assert!((sum - droop(outcome)).abs() < 1e-14, "{sum} is not {}", droop(outcome));
}

/// A source whose current is frozen for the time of the test: 3 V behind 1 H. The load takes 0.5 A
/// within `edge` and lets go `hold` later.
fn frozen(bank: &str, edge: &str, hold: &str) -> Outcome {
    let text = format!(
        r#"title = "frozen source"
[rail]
output = "vout"
nominal = "3 V"
source = "V0"
load = "I1"
[parts]
V0 = {{ kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "3 V" }}
L1 = {{ kind = "inductor", nodes = ["vin", "vout"], inductance = "1 H", series_resistance = "1 mΩ" }}
{bank}
I1 = {{ kind = "current-source", nodes = ["vout", "gnd"] }}
[[tests]]
name = "step"
kind = "load-step"
from = "0 A"
to = "0.5 A"
before = "1 µs"
edge = "{edge}"
hold = "{hold}"
edge_back = "100 ns"
accuracy = "10 nV"
"#
    );
    outcome(&text, None)
}

/// 10 µF with 20 mΩ and 1 nH.
const ONE: &str = r#"C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF", esr = "20 mΩ", esl = "1 nH" }"#;

fn assert_terms(run: &Outcome, expected: [(CauseKind, f64); 3], allowed: f64) {
    assert_adds_up(run);
    for (kind, volt) in expected {
        let got = term(run, kind, "C1");
        assert!((got - volt).abs() < allowed, "{kind:?}: {got}, expected {volt}");
    }
}

/// The capacitor takes all of the load current I: a time T after an edge of t_r the terms are
/// I·ESR, I·(t_r/2 + T)/C and nothing.
#[test]
fn exact_split_after_the_edge() {
    let expected = [
        (CauseKind::Esr, 0.5 * 20e-3),
        (CauseKind::Charge, 0.5 * 1.05e-6 / 10e-6),
        (CauseKind::Esl, 0.0),
    ];
    // The droop of 62 mV over 1 µs moves the current of 1 H by some 30 nA, 1 nV of the terms.
    assert_terms(&frozen(ONE, "100 ns", "1 µs"), expected, 5e-8);
}

/// Just before the edge ends: I·ESR, I·t_r/2/C and ESL·I/t_r, of which the charge of the next
/// 20 ns does not make up the last.
#[test]
fn exact_split_at_the_end_of_the_edge() {
    let expected = [
        (CauseKind::Esr, 0.5 * 20e-3),
        (CauseKind::Charge, 0.5 * 50e-9 / 10e-6),
        (CauseKind::Esl, 1e-9 * 0.5 / 100e-9),
    ];
    assert_terms(&frozen(ONE, "100 ns", "20 ns"), expected, 5e-8);
}

/// A capacitor laid with its first node at ground sees the same.
#[test]
fn exact_split_of_a_capacitor_the_other_way_round() {
    let turned = ONE.replace(r#"["vout", "gnd"]"#, r#"["gnd", "vout"]"#);
    let expected = [
        (CauseKind::Esr, 0.5 * 20e-3),
        (CauseKind::Charge, 0.5 * 50e-9 / 10e-6),
        (CauseKind::Esl, 1e-9 * 0.5 / 100e-9),
    ];
    assert_terms(&frozen(&turned, "100 ns", "20 ns"), expected, 5e-8);
}

/// C1 behind R beside C2 alone, at a step of I: i1 = I·C1/(C1 + C2)·(1 − e^(−t/τ)),
/// τ = R·C1·C2/(C1 + C2), and C2 gives the rest. Each one's terms count by its charge.
#[test]
fn exact_split_over_two_capacitors() {
    let bank = r#"C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF", esr = "0.5 Ω" }
C2 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "1 µF" }"#;
    let run = frozen(bank, "0 s", "1 µs");
    assert_adds_up(&run);
    let (i, r, c1, c2, t) = (0.5, 0.5, 10e-6, 1e-6, 1e-6);
    let tau: f64 = r * c1 * c2 / (c1 + c2);
    let rest = 1.0 - (-t / tau).exp();
    let i1 = i * c1 / (c1 + c2) * rest;
    let q1 = i * c1 / (c1 + c2) * (t - tau * rest);
    let (w1, w2) = (q1 / (i * t), 1.0 - q1 / (i * t));
    let expected = [
        (CauseKind::Charge, "C1", w1 * q1 / c1),
        (CauseKind::Esr, "C1", w1 * r * i1),
        (CauseKind::Charge, "C2", w2 * (i * t - q1) / c2),
    ];
    assert_eq!(told(&run).causes.len(), expected.len());
    for (kind, part, volt) in expected {
        let got = term(&run, kind, part);
        // 1 H moves by 0.2 µA, 0.1 µV of the terms.
        assert!((got - volt).abs() < 2e-7, "{kind:?} in {part}: {got}, expected {volt}");
    }
}

/// 3 V behind R = 20 mΩ and L = 100 nH, 10 µF with 5 mΩ, 0.5 A at once. The voltage on the plates
/// has the poles of the output, starts at 0 with −I/C and ends at −I·R:
/// −I·(R + e^(−αt)(A·cos ω_d t + B·sin ω_d t)), A = −R, B = (1/C + αA)/ω_d; the rest of the droop is
/// the ESR's. Droop and its instant: that closed form for the output, worked out to 40 digits.
#[test]
fn exact_split_of_a_source_behind_resistance_and_inductance() {
    let text = r#"title = "regulator with inductive output impedance"
[rail]
input = "vin"
output = "vout"
nominal = "3 V"
source = "V0"
load = "I1"
[parts]
V0 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "3 V" }
L1 = { kind = "inductor", nodes = ["vin", "vout"], inductance = "100 nH", series_resistance = "20 mΩ" }
C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF", esr = "5 mΩ" }
I1 = { kind = "current-source", nodes = ["vout", "gnd"] }
[[tests]]
name = "step"
kind = "load-step"
from = "0 A"
to = "0.5 A"
before = "20 µs"
edge = "0 s"
hold = "300 µs"
accuracy = "3 nV"
"#;
    let run = outcome(text, None);
    assert_adds_up(&run);
    let (droop_v, t) = (0.050_481_670_648_370_22, 1.608_986_995_914_357e-6);
    let (alpha, omega, r) = (125_000.0_f64, 992_156.741_649_221_5_f64, 0.02);
    let b = (1.0 / 10e-6 - alpha * r) / omega;
    let plates = 0.5 * (r + (-alpha * t).exp() * (b * (omega * t).sin() - r * (omega * t).cos()));
    // The output bends by some 5e10 V/s² where it is lowest, so 3 nV leave the instant open by
    // √(2·3 nV/5e10 V/s²) = 0.35 ns; there the plates fall by 2.5 mV/µs and the ESR's voltage rises
    // by as much: 0.9 µV may go from one term to the other.
    for (kind, volt) in [(CauseKind::Charge, plates), (CauseKind::Esr, droop_v - plates)] {
        let got = term(&run, kind, "C1");
        assert!((got - volt).abs() < 1e-6, "{kind:?}: {got}, expected {volt}");
    }
    let told = told(&run);
    assert!((told.of_which_static_v.unwrap() - 0.5 * r).abs() < 1e-8);
    assert!(told.input_sag_v.unwrap().abs() < 1e-12);
    assert_eq!(told.limited_by, None, "there is no amplifier");
}

const BUOY: &str = include_str!("../netlists/buoy-radio.toml");

/// A test of the buoy's radio rail, with some of its text changed.
fn buoy(test: &str, changes: &[(&str, &str)]) -> Outcome {
    let mut text = BUOY.to_owned();
    for (from, to) in changes {
        assert!(text.contains(from), "{from}");
        text = text.replace(from, to);
    }
    let run = outcome(&text, Some(test));
    assert!(run.failure.is_none());
    assert_adds_up(&run);
    run
}

/// 178 mA make the gate travel 0.5 V at 0.8 V/µs, with 0.25 mA of the 1 mA there is.
#[test]
fn a_burst_within_all_limits_of_the_amplifier_is_limited_by_the_loop() {
    assert_eq!(limited_by(&buoy("transmit burst", &[])), "loop bandwidth");
}

/// 178 mA in 2 s: the lag of 6.6 µs costs a few millionths of the gate's travel, far less than the
/// static change.
#[test]
fn an_edge_slow_enough_to_follow_is_limited_by_nothing() {
    let slow = [("edge = \"5 µs\"", "edge = \"2 s\""), ("hold = \"600 µs\"", "hold = \"1 s\"")];
    let run = buoy("transmit burst, filtered edge", &slow);
    assert!(limited_by(&run).starts_with("nothing ("), "{}", limited_by(&run));
}

/// 10 µA into 300 pF: 33 mV/µs for a travel of 0.5 V.
#[test]
fn an_amplifier_with_little_drive_current_is_limited_by_it() {
    let run = buoy("transmit burst", &[("drive_current = \"1 mA\"", "drive_current = \"10 µA\"")]);
    assert!(limited_by(&run).starts_with("amplifier drive current"), "{}", limited_by(&run));
}

/// 0.3 µA into 22 pF: 14 mV/µs at the internal node, for 0.5 V.
#[test]
fn an_amplifier_with_a_small_input_stage_is_limited_by_its_current() {
    let run =
        buoy("transmit burst", &[("stage_current = \"20 µA\"", "stage_current = \"0.3 µA\"")]);
    assert!(limited_by(&run).contains("of its input stage"), "{}", limited_by(&run));
}

/// 81 mV of 150 mV across 0.458 Ω of source at 180 mA: dropout by the source; meanwhile the
/// amplifier winds up and has to come back when the burst ends.
#[test]
fn a_cold_aged_cell_is_the_limit_and_the_wound_up_amplifier_that_of_the_release() {
    let run = buoy("transmit burst, cold aged cell", &[]);
    let (loading, release) = limited_by(&run).split_once("; on release by ").unwrap();
    assert!(loading.starts_with("source (dropout: "), "{loading}");
    assert_eq!(release, "amplifier swing (wound up at its lower swing when the load was released)");
}

/// 0.9 Ω takes 162 mV of the 150 mV there are.
#[test]
fn a_source_of_large_resistance_is_the_limit() {
    let run = buoy("transmit burst, end of discharge", &[("\"0.15 Ω\"", "\"0.9 Ω\"")]);
    assert!(limited_by(&run).starts_with("source ("), "{}", limited_by(&run));
}

/// 2 Ω in the pass device take 360 mV, the source 28 mV.
#[test]
fn a_pass_device_of_large_resistance_is_in_dropout() {
    let metal = ("series_resistance = \"0.20 Ω\"", "series_resistance = \"2 Ω\"");
    let run = buoy("transmit burst, end of discharge", &[metal]);
    assert!(limited_by(&run).starts_with("dropout; on release by amplifier swing"));
    assert!(told(&run).of_which_static_v.unwrap() > 0.1);
}
