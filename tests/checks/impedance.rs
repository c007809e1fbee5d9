//! Output impedance against closed forms, in circuits small enough to write them down.

use crate::bench::Bench;
use nalgebra::Complex;
use railstep::analysis::Method;
use railstep::curve::{Cell, Curve};
use railstep::measure::{Measurement, Verdict};
use railstep::trial::Outcome;
use std::f64::consts::TAU;

type C = Complex<f64>;

fn s(hz: f64) -> C {
    C::new(0.0, TAU * hz)
}

/// A circuit around the output `vout`, with one test `z` whose further keys are given.
fn outcome(parts: &str, keys: &str) -> Outcome {
    let text = format!(
        "title = \"impedance\"\n[rail]\noutput = \"vout\"\nnominal = \"1 V\"\nload = \"I1\"\n\
         [parts]\n{parts}\n[[tests]]\nname = \"z\"\nkind = \"output-impedance\"\n{keys}\n"
    );
    Bench::of(&text).outcome("z", Method::default())
}

fn row<'a>(outcome: &'a Outcome, name: &str) -> &'a Measurement {
    outcome.measurements.iter().find(|m| m.name == name).unwrap()
}

/// Holds every point of a curve's column to a closed form.
fn hold(curve: &Curve, column: &str, share: f64, form: impl Fn(f64) -> f64) {
    let points = curve.points("frequency", column);
    assert!(points.len() > 50, "{} points", points.len());
    for (hz, found) in points {
        let exact = form(hz);
        assert!((found / exact - 1.0).abs() < share, "{column} at {hz} Hz: {found} for {exact}");
    }
}

/// A source behind a resistance, a capacitor across the output.
const RC: &str = r#"V1 = { kind = "voltage-source", plus = "a", minus = "gnd", voltage = "1 V" }
R1 = { kind = "resistor", nodes = ["a", "vout"], resistance = "2 Ω" }
C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF", remaining = "50 %", esr = "0.1 Ω" }"#;

#[test]
fn exact_resistance_beside_a_capacitor_with_esr() {
    let load = r#"I1 = { kind = "load", nodes = ["vout", "gnd"], current = "10 mA" }"#;
    let outcome = outcome(&format!("{RC}\n{load}"), "");
    // Z = R ∥ (1/sC + ESR) with 5 µF; 10⁻⁹ for the solution, which is checked to rounding.
    let capacitor = |hz: f64| (s(hz) * 5e-6).inv() + 0.1;
    let z = |hz: f64| (capacitor(hz).inv() + 0.5).inv();
    let [curve] = outcome.curves.as_slice() else { panic!("{:?}", outcome.curves.len()) };
    hold(curve, "impedance", 1e-9, |hz| z(hz).norm());
    hold(curve, "phase", 1e-7, |hz| z(hz).arg().to_degrees());
    hold(curve, "C1.impedance", 1e-12, |hz| capacitor(hz).norm());
    hold(curve, "regulator.impedance", 1e-8, |_| 2.0);
    // It falls all the way: the peak is at the low end, where the plain figure is read too.
    let peak = row(&outcome, "output_impedance_peak");
    assert!((peak.value.unwrap() / z(10.0).norm() - 1.0).abs() < 1e-9, "{peak:?}");
    assert_eq!(peak.settings["frequency"], "10 Hz");
    assert_eq!(row(&outcome, "output_impedance").value, peak.value);
}

#[test]
fn exact_the_loads_own_conductance_is_left_out_unless_asked_for() {
    let across = |load: &str| format!("{RC}\n{load}");
    let capacitor = |hz: f64| (s(hz) * 5e-6).inv() + 0.1;
    let bare = |hz: f64| (capacitor(hz).inv() + 0.5).inv();
    // 3 Ω; and 0.1 W, which takes less when there is more: −P/V² but for its fading, at V where
    // (1 V − V)/2 Ω = 0.1 W/V: V = (1 + √0.2)/2 V.
    let v = 0.5 * (1.0 + f64::sqrt(0.2));
    // Below `minimum_voltage` = 20 mV it fades: (1 + (0.02/V)⁸)^(-1/2) is 1 to 10⁻¹³ here.
    for (load, siemens) in [
        (r#"I1 = { kind = "load", nodes = ["vout", "gnd"], resistance = "3 Ω" }"#, 1.0 / 3.0),
        (
            r#"I1 = { kind = "load", nodes = ["vout", "gnd"], power = "0.1 W", minimum_voltage = "20 mV" }"#,
            -0.1 / (v * v),
        ),
    ] {
        let without = outcome(&across(load), "");
        hold(&without.curves[0], "impedance", 1e-9, |hz| bare(hz).norm());
        let with = outcome(&across(load), "include_load = true");
        let loaded = |hz: f64| (bare(hz).inv() + siemens).inv();
        hold(&with.curves[0], "impedance", 1e-8, |hz| loaded(hz).norm());
    }
}

#[test]
fn exact_a_load_at_the_end_of_a_wire_is_left_out_and_its_wire_and_capacitor_stay() {
    let parts = format!(
        "{RC}\n{}",
        r#"R2 = { kind = "resistor", nodes = ["vout", "far"], resistance = "0.3 Ω" }
C2 = { kind = "capacitor", nodes = ["far", "gnd"], capacitance = "1 µF" }
I1 = { kind = "load", nodes = ["far", "gnd"], resistance = "3 Ω" }"#
    );
    let near = |hz: f64| ((s(hz) * 5e-6).inv() + 0.1).inv() + 0.5;
    let far = |hz: f64, siemens: f64| ((s(hz) * 1e-6 + siemens).inv() + 0.3).inv();
    let without = outcome(&parts, "");
    hold(&without.curves[0], "impedance", 1e-9, |hz| (near(hz) + far(hz, 0.0)).inv().norm());
    let with = outcome(&parts, "include_load = true");
    hold(&with.curves[0], "impedance", 1e-9, |hz| (near(hz) + far(hz, 1.0 / 3.0)).inv().norm());
}

/// R + sL beside C + ESR.
const A1: &str = r#"V1 = { kind = "voltage-source", plus = "a", minus = "gnd", voltage = "1 V" }
L1 = { kind = "inductor", nodes = ["a", "vout"], inductance = "100 nH", series_resistance = "20 mΩ" }
C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF", esr = "5 mΩ" }
I1 = { kind = "load", nodes = ["vout", "gnd"], current = "0.5 A" }"#;

fn a1(hz: f64) -> C {
    ((s(hz) * 100e-9 + 20e-3).inv() + ((s(hz) * 10e-6).inv() + 5e-3).inv()).inv()
}

#[test]
fn exact_the_peak_lies_between_grid_points_and_is_met() {
    let outcome = outcome(A1, "per_decade = 3");
    // The greatest of the closed form by a thousand times finer scan around f0.
    let scan = (0..200_000).map(|k| 1.2e5 * f64::powf(2.0, f64::from(k) / 2e5));
    let (hz, ohm) = scan
        .map(|hz| (hz, a1(hz).norm()))
        .fold((0.0, 0.0), |best, here| if here.1 > best.1 { here } else { best });
    let peak = row(&outcome, "output_impedance_peak");
    // The scan is off by (2·Q·step)²/8 of the peak at most, 1e-10.
    assert!((peak.value.unwrap() / ohm - 1.0).abs() < 1e-9, "{peak:?} for {ohm}");
    let [listing] = outcome.listings.as_slice() else { panic!("{:?}", outcome.listings) };
    let Cell::Number(found_hz) = listing.rows[0][5] else { panic!("{listing:?}") };
    // The scan's step is 3.5e-6 of the frequency.
    assert!((found_hz / hz - 1.0).abs() < 4e-6, "{found_hz} for {hz}");
    // Both solutions find the same peak: all that is left is the share that every figure at rest has.
    assert!(peak.numerical_uncertainty.unwrap() < 1.5e-8 * ohm, "{peak:?}");
}

#[test]
fn exact_a_mask_is_held_at_its_tightest_even_between_points_of_the_grid() {
    // |Z| of a pure resistance of 2 Ω against a mask that dips to 1.6 Ω at 3.3 kHz alone.
    let parts = r#"V1 = { kind = "voltage-source", plus = "a", minus = "gnd", voltage = "1 V" }
R1 = { kind = "resistor", nodes = ["a", "vout"], resistance = "2 Ω" }
I1 = { kind = "load", nodes = ["vout", "gnd"], current = "10 mA" }"#;
    let mask = r#"per_decade = 2
mask = [["3.2 kHz", "4 Ω"], ["3.3 kHz", "1.6 Ω"], ["3.4 kHz", "4 Ω"]]"#;
    let outcome = outcome(parts, mask);
    let row = row(&outcome, "impedance_mask");
    assert!((row.value.unwrap() - (1.6 - 2.0) / 1.6).abs() < 1e-12, "{row:?}");
    assert_eq!((row.verdict, row.settings["frequency"].as_str()), (Verdict::Fail, "3.3 kHz"));
    assert_eq!(outcome.verdict, Verdict::Fail);
}

#[test]
fn exact_a_resonance_between_far_grid_points_is_not_stepped_over() {
    // 100 pF and 25 µH across 10 nF: a peak 0.5 % wide near 3.18 MHz, on a grid of one a decade.
    let parts = r#"V1 = { kind = "voltage-source", plus = "a", minus = "gnd", voltage = "1 V" }
R1 = { kind = "resistor", nodes = ["a", "vout"], resistance = "1 kΩ" }
C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 nF" }
C2 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "100 pF", esr = "1 Ω", esl = "25 µH" }
I1 = { kind = "load", nodes = ["vout", "gnd"], current = "10 µA" }"#;
    let outcome = outcome(parts, "lowest = \"1 MHz\"\nhighest = \"100 MHz\"\nper_decade = 2");
    let z = |hz: f64| {
        let series = ((s(hz) * 100e-12).inv() + s(hz) * 25e-6 + 1.0).inv();
        (series + s(hz) * 10e-9 + 1e-3).inv().norm()
    };
    // The peak of the closed form, by a scan around √((C1 + C2)/(C1·C2·L))/2π = 3.199 MHz.
    let scan = (0..100_000).map(|k| 3.15e6 + 1e5 * f64::from(k) / 1e5);
    let (hz, ohm) = scan
        .map(|hz| (hz, z(hz)))
        .fold((0.0, 0.0), |best, here| if here.1 > best.1 { here } else { best });
    let Cell::Number(found) = outcome.listings[0].rows[0][4] else { panic!("no resonance") };
    let Cell::Number(found_hz) = outcome.listings[0].rows[0][5] else { panic!("no resonance") };
    assert!((found / ohm - 1.0).abs() < 1e-6, "{found} for {ohm}");
    assert!((found_hz - hz).abs() < 2.0, "{found_hz} for {hz}");
}
