//! Load steps on outputs with a closed form: a source behind R and L, or R beside L, with a
//! capacitor and its series resistance. The load is an ideal current source, so that nothing but
//! the closed form remains.

use crate::bench::{BOTH, Bench, instant, measured};
use railstep::analysis::Method;

const BEFORE_S: f64 = 20e-6;

/// 3 V behind 20 mΩ and 100 nH, 10 µF with 5 mΩ; 0.5 A taken at once.
const DROOP_RESISTOR: &str = r#"title = "regulator with inductive output impedance"
[rail]
output = "vout"
nominal = "3 V"
window = "2 %"
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
require = { recovery = { limit = "<= 100 µs", band = "1 mV" }, release_recovery = { limit = "<= 100 µs", band = "1 mV" } }
"#;

fn droop_resistor(edge: &str) -> Bench {
    Bench::of(&DROOP_RESISTOR.replace("edge = \"0 s\"", &format!("edge = \"{edge}\"")))
}

/// ΔV = −ΔI·(R + e^(−αt)(A cos ω_d t + B sin ω_d t)) for that circuit.
fn droop(t: f64) -> f64 {
    let (alpha, omega, a, b) = (125_000.0, 992_156.741_649_221_5, -0.015, 0.098_648_727_455_408_31);
    let x: f64 = omega * t;
    -0.5 * (0.02 + (-alpha * t).exp() * (a * x.cos() + b * x.sin()))
}

/// When the curve enters ±`band` around `settled` for the last time, from the closed form.
fn last_entry(curve: impl Fn(f64) -> f64, settled: f64, band: f64, end: f64) -> f64 {
    let outside = |t: f64| (curve(t) - settled).abs() > band;
    let step = 1e-9;
    let mut inside = end;
    while !outside(inside - step) {
        inside -= step;
    }
    let mut out = inside - step;
    for _ in 0..60 {
        let middle = 0.5 * (out + inside);
        if outside(middle) { out = middle } else { inside = middle }
    }
    inside
}

/// Error allowed per method at a node tolerance of 1e-9 V, 1.9e-9 V at 3 V. RODAS4P errs by a few
/// times that; TR-BDF2 takes some 500 steps while it rings, and their errors add up.
fn allowed(method: Method) -> f64 {
    match method {
        Method::Rodas4p => 1e-8,
        Method::TrBdf2 => 1e-6,
    }
}

/// Closed form above; extremes and values evaluated with 40 digits.
#[test]
fn exact_abrupt_load_step_behind_resistance_and_inductance() {
    let values = [
        (0.1e-6, -0.007_454_625_799_559_784),
        (0.5e-6, -0.025_858_707_517_186_08),
        (1e-6, -0.042_822_779_553_941_17),
        (2e-6, -0.047_523_177_711_858_93),
        (5e-6, 0.016_578_073_502_086_65),
        (10e-6, -0.005_153_803_923_665_873),
        (20e-6, -0.013_056_872_998_876_07),
    ];
    for method in BOTH {
        let times = values.map(|row| BEFORE_S + row.0);
        let run = droop_resistor("0 s").solve("step", method, 1e-9, &times);
        for (t, dv) in values {
            let got = run.at("vout", BEFORE_S + t) - 3.0;
            assert!((droop(t) - dv).abs() < 1e-14, "the closed form itself at {t}");
            assert!((got - dv).abs() < allowed(method), "{method:?} at {t}: {got}, expected {dv}");
        }
    }
}

/// The same circuit: what the trade calls droop, ring-back, overshoot and recovery is read off
/// the closed form.
#[test]
fn exact_measurements_of_an_abrupt_load_step() {
    let outcome = droop_resistor("0 s").outcome("step", Method::Rodas4p);
    let (lowest, next) = (-0.050_481_670_648_370_22, 0.017_249_790_266_498_57);
    let expected = [
        ("before_level", 3.0),
        ("loaded_level", 2.99),
        ("released_level", 3.0),
        ("static_change", -0.01),
        ("droop", -lowest),
        ("ring_back", next + 0.01),
        // The way back is the same curve upside down.
        ("overshoot", -lowest),
        ("output_minimum", 3.0 + lowest),
        ("output_maximum", 2.99 - lowest),
        ("window", 0.05),
        ("transient_window", 0.06 + lowest),
        ("late_ripple", 0.0),
    ];
    for (name, value) in expected {
        let got = measured(&outcome, name);
        // The accuracy asked for is 3 nV; a difference of two readings may err twice as much.
        assert!((got - value).abs() < 6e-9, "{name} = {got}, expected {value}");
    }
    let found = instant(&outcome, "droop") - BEFORE_S;
    let at = 1.608_986_995_914_357e-6;
    // v'' at the minimum is 4.1e10 V/s²: 6 nV under it is √(2·6 nV/v'') = 0.5 ns wide.
    assert!((found - at).abs() < 5e-10, "{found}, expected {at}");
    let recovery = last_entry(droop, -0.01, 1e-3, 300e-6);
    for name in ["recovery", "release_recovery"] {
        let got = measured(&outcome, name);
        // It crosses the band with some 100 V/s or more: 6 nV is 60 ps.
        assert!((got - recovery).abs() < 6e-11, "{name} = {got}, expected {recovery}");
    }
}

/// A load that ramps over 1 µs: ΔV = (F(t) − F(t − t_r))/t_r with F the integral of the step
/// response; evaluated with 40 digits.
#[test]
fn exact_ramped_load_step_behind_resistance_and_inductance() {
    let values = [
        (0.5e-6, -0.007_259_586_909_705_173),
        (1e-6, -0.024_780_917_939_570_8),
        (1.5e-6, -0.041_216_808_705_471_44),
        (2e-6, -0.048_536_817_009_346_52),
        (5e-6, 0.015_041_976_137_119_98),
        (10e-6, -0.012_337_563_569_770_02),
    ];
    for method in BOTH {
        let run =
            droop_resistor("1 µs").solve("step", method, 1e-9, &values.map(|r| BEFORE_S + r.0));
        for (t, dv) in values {
            let got = run.at("vout", BEFORE_S + t) - 3.0;
            assert!((got - dv).abs() < allowed(method), "{method:?} at {t}: {got}, expected {dv}");
        }
    }
}

/// R beside L, both from the source: no static error.
/// Z(s) = sLR(1 + sR_eC)/(R + s(L + R R_e C) + s²LC(R + R_e)); evaluated with 40 digits.
#[test]
fn exact_load_step_behind_resistance_beside_inductance() {
    let bench = Bench::of(
        r#"title = "regulator without static error"
[rail]
output = "vout"
nominal = "3 V"
source = "V0"
load = "I1"
[parts]
V0 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "3 V" }
L1 = { kind = "inductor", nodes = ["vin", "vout"], inductance = "1 µH" }
R1 = { kind = "resistor", nodes = ["vin", "vout"], resistance = "1 Ω" }
C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF", esr = "10 mΩ" }
I1 = { kind = "current-source", nodes = ["vout", "gnd"] }
[[tests]]
name = "step"
kind = "load-step"
from = "0 A"
to = "0.5 A"
before = "20 µs"
edge = "0 s"
hold = "600 µs"
accuracy = "3 nV"
"#,
    );
    let root = 1e-11_f64.sqrt();
    let values = [
        (0.1, -0.020_121_913_976_712_91),
        (0.5, -0.072_608_953_313_228_94),
        (1.0, -0.113_391_801_441_831_5),
        (2.0, -0.102_828_441_388_329_1),
        (5.0, 0.065_588_861_812_278),
        (10.0, 0.011_233_609_180_837_77),
    ];
    for method in BOTH {
        let run = bench.solve("step", method, 1e-9, &values.map(|r| BEFORE_S + r.0 * root));
        for (t, dv) in values {
            let got = run.at("vout", BEFORE_S + t * root) - 3.0;
            assert!((got - dv).abs() < allowed(method), "{method:?} at {t}: {got}, expected {dv}");
        }
    }
    let outcome = bench.outcome("step", Method::Rodas4p);
    let lowest = -0.123_148_625_336_217_9;
    let expected = [("droop", -lowest), ("overshoot", -lowest), ("static_change", 0.0)];
    for (name, value) in expected {
        let got = measured(&outcome, name);
        assert!((got - value).abs() < 6e-9, "{name} = {got}, expected {value}");
    }
    let found = instant(&outcome, "droop") - BEFORE_S;
    assert!((found - 4.406_781_666_801_345e-6).abs() < 1e-9, "{found}");
}

/// The largest distance of the output from the closed form over the whole dwell, and of the droop.
fn errors_at(accuracy: &str, method: Method) -> [f64; 2] {
    let text = DROOP_RESISTOR.replace("3 nV", accuracy);
    let outcome = Bench::of(&text).outcome("step", method);
    let output = outcome.columns.iter().find(|c| c.name == "vout").expect("a column");
    let rows = outcome.times_s.iter().zip(&output.values);
    let during = rows.filter(|(t, _)| **t > BEFORE_S && **t < BEFORE_S + 300e-6);
    let off = during.map(|(t, v)| (v - 3.0 - droop(t - BEFORE_S)).abs());
    let of_droop = (measured(&outcome, "droop") - 0.050_481_670_648_370_22).abs();
    [off.fold(0.0, f64::max), of_droop]
}

/// `accuracy` is what the output may err by at every instant.
#[test]
fn exact_output_errs_less_than_the_accuracy_asked_for() {
    for (accuracy, allowed) in [("100 µV", 1e-4), ("10 µV", 1e-5), ("1 µV", 1e-6), ("0.1 µV", 1e-7)]
    {
        let errors = errors_at(accuracy, Method::Rodas4p);
        assert!(errors.iter().all(|e| *e < allowed), "{accuracy}: {errors:?}");
    }
}

/// TR-BDF2 is the cross-check. Its errors are held step by step while they add up as the square
/// of the step, so that on a ringing output the error falls as accuracy^(2/3) only: it stays
/// within ten times what is asked for from 1 µV up.
#[test]
fn exact_output_by_the_cross_check_errs_less_than_ten_times_the_accuracy() {
    let mut before = f64::INFINITY;
    for (accuracy, asked) in [("100 µV", 1e-4), ("10 µV", 1e-5), ("1 µV", 1e-6)] {
        let errors = errors_at(accuracy, Method::TrBdf2);
        assert!(errors.iter().all(|e| *e < 10.0 * asked), "{accuracy}: {errors:?}");
        assert!(errors[0] < before / 3.0, "{accuracy}: {errors:?} after {before}");
        before = errors[0];
    }
}

/// The first instants with the regulator standing still (all of the load current comes from the
/// capacitor): the jump ΔI·ESR, then the slope ΔI/C − ESR²·ΔI/L of the closed form above.
#[test]
fn exact_first_instant_is_the_series_resistance_times_the_step() {
    for method in BOTH {
        let run = droop_resistor("0 s").solve("step", method, 1e-9, &[]);
        let times = run.record.times_s();
        let k = times.iter().rposition(|&t| t <= BEFORE_S).expect("a point at the jump");
        let out = run.record.value(k, crate::bench::unknown(&run.system, "vout"));
        assert_eq!(times[k], BEFORE_S);
        // The jump is resolved over 10 fs, in which the slope of 47.5 kV/s moves it 0.5 nV.
        assert!((out - 3.0 + 0.5 * 5e-3).abs() < 1e-9, "{method:?}: {out}");
    }
}
