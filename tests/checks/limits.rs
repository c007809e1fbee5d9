//! Rails at their limits whose figures can be written down: a source behind a resistance into every
//! load, foldback by a transistor, a short across a capacitor, and trains of pulses into a resonance.

use super::bench::Bench;
use nalgebra::Complex;
use railstep::analysis::Method;
use railstep::curve::Cell;
use railstep::measure::{Measurement, Verdict};
use railstep::trial::Outcome;

fn run(text: &str, name: &str) -> Outcome {
    Bench::of(text).outcome(name, Method::Rodas4p)
}

fn row<'a>(outcome: &'a Outcome, name: &str) -> &'a Measurement {
    outcome.measurements.iter().find(|m| m.name == name).expect(name)
}

fn measured(outcome: &Outcome, name: &str) -> f64 {
    let found = row(outcome, name);
    found.value.unwrap_or_else(|| panic!("{:?} {found:#?}", outcome.failure))
}

#[track_caller]
fn close(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} instead of {expected}");
}

/// (output, stable) of every rest with a load.
fn rests(outcome: &Outcome, load: &str) -> Vec<(f64, bool)> {
    let listing = outcome.listings.iter().find(|l| l.name == "rests").expect("rests");
    let rows = listing.rows.iter().filter(|row| row[2] == Cell::Text(load.to_owned()));
    let told = |row: &Vec<Cell>| match &row[3] {
        Cell::Number(volt) => (*volt, row[6] == Cell::Text("stable".to_owned())),
        other => panic!("{other:?}"),
    };
    rows.map(told).collect()
}

fn note<'a>(outcome: &'a Outcome, part: &str) -> &'a str {
    let found = outcome.notes.iter().find(|n| n.contains(part));
    found.unwrap_or_else(|| panic!("no `{part}` in {:#?}", outcome.notes))
}

// 10 V behind 1 Ω: I(V) = (10 V - V)/1 Ω.
const RESISTANCE: &str = r#"title = "resistance"
[rail]
output = "vout"
nominal = "8 V"
window = "5 %"
source = "V1"
load = "I1"
[parts]
V1 = { kind = "voltage-source", plus = "in", minus = "gnd", voltage = "10 V" }
R1 = { kind = "resistor", nodes = ["in", "vout"], resistance = "1 Ω" }
C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "100 µF", esr = "0.1 Ω" }
I1 = { kind = "load", nodes = ["vout", "gnd"], current = "2 A" }
[[tests]]
name = "limits"
kind = "overload"
lowest = "-2 V"
highest = "11 V"
loads = [{ power = "16 W", minimum_voltage = "10 mV" }, { resistance = "4 Ω" }, { current = "4 A", fade = "50 mV" }]
require = { limit_current = { limit = "<= 5 A", share = "25 %" }, loads_not_started = "<= 2" }
[[tests]]
name = "own load"
kind = "overload"
"#;

#[test]
fn exact_a_resistance_meets_every_kind_of_load_where_it_must() {
    let found = run(RESISTANCE, "limits");
    // (10 - 6)/1, and 10/1 at 0 V. The curve is straight: what is left is the solution itself.
    close(measured(&found, "limit_current"), 4.0, 1e-9);
    close(measured(&found, "short_current"), 10.0, 1e-9);
    // 5 % below 8 V is 7.6 V: 10/2.4.
    close(measured(&found, "foldback_ratio"), 10.0 / 2.4, 1e-9);
    // Constant power: V² - 10·V + 16 = 0 at 2 V and 8 V. Far above 10 mV the law's own fading is
    // (10 mV/2 V)⁸/2. Below it 16 W·v³/(10 mV)⁴ = 10 A - v, so v = 1.842 mV.
    let power = rests(&found, "16 W");
    assert_eq!(power.iter().map(|r| r.1).collect::<Vec<_>>(), [true, false, true]);
    close(power[0].0, (10.0 * 1e-8 / 16.0_f64).cbrt(), 1e-6);
    close(power[1].0, 2.0, 1e-8);
    close(power[2].0, 8.0, 1e-8);
    // 10 V·4/5, and a current of 4 A at 6 V, where tanh(6/0.05) is 1.
    let resistance = rests(&found, "4 Ω");
    assert_eq!(resistance.len(), 1);
    close(resistance[0].0, 8.0, 1e-8);
    assert!(resistance[0].1);
    let current = rests(&found, "4 A");
    assert_eq!(current.len(), 1);
    close(current[0].0, 6.0, 1e-8);
    // The power sticks, the current rests below the window of 7.6 V, the resistance starts.
    close(measured(&found, "loads_not_started"), 2.0, 0.0);
    close(measured(&found, "stuck_voltage"), power[0].0, 1e-9);
    let words = note(&found, "16 W");
    assert!(words.contains("sticks at 1.84 mV") && words.contains("below 2 V"), "{words}");
    assert!(note(&found, "4 Ω").contains("starts: rests at 8 V"), "{:?}", found.notes);
    assert!(note(&found, "4 A").contains("never reaches the window"), "{:?}", found.notes);
    assert_eq!(row(&found, "limit_current").verdict, Verdict::Pass);
}

#[test]
fn exact_without_loads_the_rails_own_is_taken() {
    let found = run(RESISTANCE, "own load");
    let own = rests(&found, "2 A");
    assert_eq!(own.len(), 1);
    close(own[0].0, 8.0, 1e-8);
    close(measured(&found, "loads_not_started"), 0.0, 0.0);
}

#[test]
fn exact_an_output_below_ground_counts_in_the_sense_of_nominal() {
    let text = RESISTANCE
        .replace("voltage = \"10 V\"", "voltage = \"-10 V\"")
        .replace("nominal = \"8 V\"", "nominal = \"-8 V\"");
    let found = run(&text, "limits");
    close(measured(&found, "short_current"), 10.0, 1e-9);
    close(rests(&found, "4 Ω")[0].0, 8.0, 1e-8);
    assert_eq!(rests(&found, "16 W").len(), 3);
}

// Franco, Design with Operational Amplifiers and Analog Integrated Circuits, Ex. 11.10, as
// published-checks C.5 has it: R_fb 0.608696 Ω, R3 163.333 Ω, R4 536.667 Ω, V_BE 0.7 V: 4.000 A at
// 5 V, 1.500 A shorted. A limit transistor with a thermal voltage of 5 mV has 0.7 V whatever it
// carries (5 mV·ln(1/0.92) = 0.4 mV of it), and takes the whole drive of 1 mA, for the pass device's
// gain is 50 000. Nominal is 6.25 V, so that a fall by 20 % is 5 V, in the limit.
const FOLDBACK: &str = r#"title = "foldback"
[rail]
input = "vin"
output = "vout"
nominal = "6.25 V"
window = "5 %"
source = "V1"
load = "I1"
pass = "Q1"
[parts]
V1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "14 V" }
V_REF = { kind = "voltage-source", plus = "ref", minus = "gnd", voltage = "6.25 V" }
EA = { kind = "error-amplifier", reference = "ref", sense = "vout", output = "base", supply = "vin", ground = "gnd", transconductance = "10 mS", stage_current = "1 mA", stage_resistance = "1 MΩ", stage_capacitance = "1 nF", stage = "current", direction = "source", output_transconductance = "1 mA/V", highest_current = "1 mA" }
Q1 = { kind = "bipolar", polarity = "npn", collector = "vin", base = "base", emitter = "e", saturation_current = "1e-12 A", forward_gain = "50000" }
R_SENSE = { kind = "resistor", nodes = ["e", "vout"], resistance = "0.608696 Ω" }
R_3 = { kind = "resistor", nodes = ["e", "tap"], resistance = "163.333 Ω" }
R_4 = { kind = "resistor", nodes = ["tap", "gnd"], resistance = "536.667 Ω" }
Q2 = { kind = "bipolar", polarity = "npn", collector = "base", base = "tap", emitter = "vout", saturation_current = "SATURATION", forward_gain = "100000", thermal_voltage = "5 mV" }
C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF", esr = "10 mΩ" }
I1 = { kind = "load", nodes = ["vout", "gnd"], current = "1 A" }
[[tests]]
name = "limits"
kind = "overload"
loads = [{ resistance = "1 Ω" }, { current = "2.5 A" }, { current = "1 A" }, { resistance = "3 Ω" }]
require = { limit_current = { limit = "<= 5 A", share = "20 %" } }
[[tests]]
name = "slipped"
kind = "short-circuit"
short = "2 ms"
recover = "2 ms"
[[tests]]
name = "slipped into much"
kind = "short-circuit"
short = "2 ms"
recover = "2 ms"
load_level = "2.5 A"
require = { recovered = "<= 1 ms" }
"#;

fn foldback() -> String {
    // 0.7 V at 1 mA.
    FOLDBACK.replace("SATURATION", &format!("{:e} A", 1e-3 * (-0.7_f64 / 5e-3).exp()))
}

#[test]
fn published_foldback_by_a_transistor_has_the_limits_of_the_book() {
    let found = run(&foldback(), "limits");
    // What V_BE moves by, 0.4 mV, over R·(1 - k) = 0.467 Ω is 0.9 mA; the drive of 1 mA reaches the
    // output through the limit transistor; together 2 mA.
    close(measured(&found, "limit_current"), 4.0, 2e-3);
    close(measured(&found, "short_current"), 1.5, 2e-3);
    // I(V) = (V_BE + k·V)/(R·(1 - k)) meets V/1 Ω at 3 V; stable, its slope 0.5 A/V is below 1 A/V.
    let one_ohm = rests(&found, "1 Ω");
    assert_eq!(one_ohm.len(), 1, "{one_ohm:?}");
    close(one_ohm[0].0, 3.0, 4e-3);
    assert!(one_ohm[0].1);
    // It meets 2.5 A at 2 V, from below: unstable. Far below the load has faded to what is left:
    // 2.5 A·tanh(v/0.1 V) = 1.5 A + 0.5 S·v, at 0.0726 V by iteration.
    let much = rests(&found, "2.5 A");
    assert_eq!(much.iter().map(|r| r.1).collect::<Vec<_>>(), [true, false, true], "{much:?}");
    let mut v = 0.07_f64;
    for _ in 0..50 {
        v = 0.1 * ((1.5 + 0.5 * v) / 2.5).atanh();
    }
    close(much[0].0, v, 2e-4);
    close(much[1].0, 2.0, 5e-3);
    close(much[2].0, 6.25, 1e-2);
    let words = note(&found, ": 2.5 A");
    assert!(words.contains("sticks at") && words.contains("does not come back"), "{words}");
    assert!(note(&found, ": 1 A: starts").contains("rests at 6.2"), "{:?}", found.notes);
    assert!(note(&found, ": 3 Ω: starts").contains("rests at 6.2"), "{:?}", found.notes);
    close(measured(&found, "loads_not_started"), 2.0, 0.0);
    // Pass power over the law on a fine grid: from 14 V to the emitter, the current of the sense
    // resistor and that of the 700 Ω beside it. What V_BE moves by is 0.9 mA of 7 V, 6 mW.
    let law = |v: f64| (0.7 + 0.233_333 * v) / 0.466_667;
    let emitter = |v: f64| v + 0.608_696 * law(v);
    let power = |v: f64| (14.0 - emitter(v)) * (law(v) + emitter(v) / 700.0);
    let hottest = (0..=6250).map(|k| power(1e-3 * f64::from(k))).fold(0.0, f64::max);
    close(measured(&found, "pass_power_worst"), hottest, 0.015);
}

#[test]
fn a_rail_comes_back_from_a_short_or_latches_as_its_characteristic_says() {
    let back = run(&foldback(), "slipped");
    assert!(measured(&back, "recovered") < 1e-3);
    // The regulator's 1.5 A + 0.5 S·v, less what the load of 1 A still takes at v = 10 mΩ·i.
    let mut i = 1.5_f64;
    for _ in 0..50 {
        let v = 0.01 * i;
        i = 1.5 + 0.5 * v - (v / 0.1).tanh();
    }
    close(measured(&back, "short_current_settled"), i, 2e-3);
    // Hardly anything moves while the capacitor is emptied: 15 µs of the 2 ms.
    let mean = measured(&back, "pass_power_mean");
    close(measured(&back, "short_energy") / (mean * 2.002e-3), 1.0, 0.02);
    let latched = run(&foldback(), "slipped into much");
    let words = row(&latched, "recovered").reason.clone().unwrap_or_default();
    assert!(words.starts_with("latched: after the short the output rests at 7"), "{words}");
    assert_eq!(row(&latched, "recovered").verdict, Verdict::Fail);
    let balance = back.balance.expect("books");
    assert!(balance.energy.residual() < 1e-4, "{balance:?}");
}

#[test]
fn exact_a_short_empties_a_capacitor_and_lets_it_fill_again() {
    let text = r#"title = "short"
[rail]
output = "vout"
nominal = "10 V"
window = "5 %"
[parts]
V1 = { kind = "voltage-source", plus = "in", minus = "gnd", voltage = "10 V" }
R1 = { kind = "resistor", nodes = ["in", "vout"], resistance = "10 Ω" }
C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "100 µF", esr = "0.1 Ω" }
[[tests]]
name = "short"
kind = "short-circuit"
short = "5 ms"
short_resistance = "0.1 Ω"
edge = "0 s"
before = "1 ms"
recover = "10 ms"
"#;
    let found = run(text, "short");
    // At the first instant the capacitor still has 10 V behind 0.1 Ω: the node is at
    // (10/10 + 10/0.1)/(1/10 + 1/0.1 + 1/0.1) V.
    let touched = 101.0 / 20.1;
    close(measured(&found, "short_current_peak"), touched / 0.1, 1e-3);
    // After 5 ms, 250 time constants, only the source feeds it.
    close(measured(&found, "short_current_settled"), 10.0 / 10.1, 1e-6);
    // Filling from 10·0.1/10.1 V with 10.1 Ω·100 µF, the source's current falls to 0.5 V/10 Ω at the
    // window's edge.
    let start = (10.0 - 1.0 / 10.1) / 10.1;
    close(measured(&found, "recovered"), 10.1e-4 * (start / 0.05_f64).ln(), 2e-7);
    assert!(measured(&found, "short_overshoot") <= 0.0);
}

// B.8b of published-checks: an ideal source, 1 Ω beside 1 µH, 10 µF with 10 mΩ, and a step of 0.5 A.
const RESONANT: &str = r#"title = "resonant"
[rail]
output = "vout"
nominal = "5 V"
window = "0.1 %"
load = "I1"
[parts]
V1 = { kind = "voltage-source", plus = "in", minus = "gnd", voltage = "5 V" }
R1 = { kind = "resistor", nodes = ["in", "vout"], resistance = "1 Ω" }
L1 = { kind = "inductor", nodes = ["in", "vout"], inductance = "1 µH" }
C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF", esr = "10 mΩ" }
I1 = { kind = "load", nodes = ["vout", "gnd"], current = "0 A" }
[[tests]]
name = "one rate"
kind = "pulse-train"
from = "0 A"
to = "0.5 A"
edge = "0 s"
period = "20 µs"
[[tests]]
name = "many rates"
kind = "pulse-train"
from = "0 A"
to = "0.5 A"
edge = "0 s"
scan = { from = "20 kHz", to = "120 kHz", points = 5 }
"#;

const STEP_A: f64 = 0.5;

/// Pole p and residue k of Z(s)/s = L·R·(1 + s·ESR·C)/(R + s·(L + R·ESR·C) + s²·L·C·(R + ESR)).
fn pole(ohm: f64) -> (Complex<f64>, Complex<f64>) {
    let (l, c, esr) = (1e-6, 10e-6, 0.01);
    let (b, a) = (l + ohm * esr * c, l * c * (ohm + esr));
    let p = (Complex::new(b * b - 4.0 * a * ohm, 0.0).sqrt() - b) / (2.0 * a);
    (p, l * ohm * (1.0 + p * esr * c) / (2.0 * a * p + b))
}

/// Peak to peak in the periodic state at a rate in Hz, half the period loaded. All former edges sum
/// up to e^(pt)/(1 + e^(pT/2)), the geometric series; each half mirrors the other.
fn periodic(ohm: f64, hz: f64) -> f64 {
    let (p, k) = pole(ohm);
    let half = 0.5 / hz;
    let at = |t: f64| 2.0 * (k * (p * t).exp() / (1.0 + (p * half).exp())).re * STEP_A;
    let highest =
        (0..=20_000).map(|n| at(half * f64::from(n) / 20_000.0).abs()).fold(0.0, f64::max);
    2.0 * highest
}

#[test]
fn exact_a_train_into_a_resonance_grows_to_the_sum_of_its_steps() {
    let found = run(RESONANT, "one rate");
    // The first period is the single step: B.8b, ΔV = -0.123149 V at 4.41 µs, ahead of the release at
    // 10 µs.
    close(measured(&found, "first_droop"), 0.123_148_625_336, 2e-5);
    // Three periods alike within 1 % of 5 mV leave at most 50 µV·q/(1 - q), q = e^(-54455·20 µs) =
    // 0.34: 25 µV on either side; 20 µV are the solver's.
    close(measured(&found, "periodic_peak_to_peak"), periodic(1.0, 50e3), 7e-5);
    let droop = measured(&found, "train_droop");
    close(droop, 0.5 * periodic(1.0, 50e3), 5e-5);
    assert!(droop > 1.2 * measured(&found, "first_droop"));
    assert!(measured(&found, "periods") < 20.0);
    let balance = found.balance.expect("books");
    assert!(balance.energy.residual() < 1e-4, "{balance:?}");
}

#[test]
fn exact_a_scan_finds_the_rate_at_which_the_train_is_worst() {
    let found = run(RESONANT, "many rates");
    let (mut worst, mut worst_hz) = (0.0, 0.0);
    for k in 0..=1000 {
        let hz = 20e3 * 6.0_f64.powf(f64::from(k) / 1000.0);
        let peak_to_peak = periodic(1.0, hz);
        if peak_to_peak > worst {
            (worst, worst_hz) = (peak_to_peak, hz);
        }
    }
    // At the top of a peak the height moves by the square of the rate: 2 % aside are 1e-3 of it.
    close(measured(&found, "periodic_peak_to_peak"), worst, 2e-3 * worst);
    close(measured(&found, "worst_rate"), worst_hz, 0.03 * worst_hz);
    let curve = &found.curves[0];
    let (hz, found) =
        (curve.column("rate").expect("rate"), curve.column("periodic_peak_to_peak").expect("V"));
    assert!(hz.values.len() > 10);
    for (hz, found) in hz.values.iter().zip(&found.values) {
        close(*found, periodic(1.0, *hz), 1e-4);
    }
}

#[test]
fn exact_a_damped_rail_does_not_grow() {
    // 0.1 Ω beside 1 µH with 10 µF: critically damped would be half of √(L/C), 0.158 Ω.
    let text = RESONANT.replace("resistance = \"1 Ω\"", "resistance = \"0.1 Ω\"");
    let found = run(&text, "one rate");
    let (p, _) = pole(0.1);
    assert!(p.im == 0.0, "{p}");
    let first = measured(&found, "first_droop");
    assert!(measured(&found, "train_droop") <= first + 2e-5);
    assert!(measured(&found, "periodic_peak_to_peak") < 2.2 * first);
}
