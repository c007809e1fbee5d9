//! Ripple rejection against closed forms.

use crate::bench::Bench;
use railstep::analysis::Method;
use railstep::curve::Cell;
use railstep::measure::Measurement;
use railstep::trial::Outcome;
use std::f64::consts::TAU;

fn outcome(parts: &str, keys: &str) -> Outcome {
    let text = format!(
        "title = \"rejection\"\n[rail]\ninput = \"vin\"\noutput = \"vout\"\nnominal = \"1 V\"\n\
         source = \"V1\"\nload = \"I1\"\n[parts]\n{parts}\n\
         [[tests]]\nname = \"ripple\"\nkind = \"ripple-rejection\"\n{keys}\n"
    );
    Bench::of(&text).outcome("ripple", Method::default())
}

fn row<'a>(outcome: &'a Outcome, name: &str) -> &'a Measurement {
    outcome.measurements.iter().find(|m| m.name == name).unwrap()
}

/// A source of 10 Ω with 1 µF at the input pin, and 1 kΩ with 100 nF behind it.
const FILTERS: &str = r#"V1 = { kind = "voltage-source", plus = "cell", minus = "gnd", voltage = "5 V" }
R1 = { kind = "resistor", nodes = ["cell", "vin"], resistance = "10 Ω" }
C1 = { kind = "capacitor", nodes = ["vin", "gnd"], capacitance = "1 µF" }
R2 = { kind = "resistor", nodes = ["vin", "vout"], resistance = "1 kΩ" }
C2 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "100 nF" }
I1 = { kind = "load", nodes = ["vout", "gnd"], current = "10 µA" }"#;

#[test]
fn exact_two_filters_in_a_row() {
    let outcome = outcome(FILTERS, "");
    let [curve] = outcome.curves.as_slice() else { panic!("{} curves", outcome.curves.len()) };
    let a = |hz: f64| TAU * hz * 1e3 * 100e-9;
    // |1 + jωR2C2|, and |(1 + jωR1C1)(1 + jωR2C2) + jωR1C2| from the source.
    let from_pin = |hz: f64| 10.0 * (1.0 + a(hz) * a(hz)).log10();
    let from_source = |hz: f64| {
        let b = TAU * hz * 10.0 * 1e-6;
        let c = TAU * hz * 10.0 * 100e-9;
        20.0 * (1.0 - a(hz) * b).hypot(a(hz) + b + c).log10()
    };
    for (hz, found) in curve.points("frequency", "rejection_from_pin") {
        assert!((found - from_pin(hz)).abs() < 1e-8, "{hz}: {found} for {}", from_pin(hz));
    }
    let points = curve.points("frequency", "rejection_from_source");
    assert!(points.len() > 100);
    for (hz, found) in points {
        assert!((found - from_source(hz)).abs() < 1e-8, "{hz}: {found} for {}", from_source(hz));
    }
    // The load at 10 µA takes hardly more with more voltage; the least is at the lowest frequency.
    let least = row(&outcome, "ripple_rejection");
    assert!((least.value.unwrap() - from_pin(10.0)).abs() < 1e-8, "{least:?}");
    assert_eq!(outcome.notes, Vec::<String>::new());
}

#[test]
fn exact_the_requirement_is_held_at_its_frequency_and_from_where_the_test_says() {
    let ask = "require = { ripple_rejection = { limit = \">= 20 dB\", at = \"30 kHz\" } }";
    let out = outcome(FILTERS, ask);
    let within = outcome(FILTERS, &format!("input_network = \"in\"\n{ask}"));
    let a = TAU * 3e4 * 1e-4;
    let (b, c) = (TAU * 3e4 * 1e-5, TAU * 3e4 * 1e-6);
    let from_pin = 10.0 * (1.0 + a * a).log10();
    let from_source = 20.0 * (1.0 - a * b).hypot(a + b + c).log10();
    assert!((row(&out, "ripple_rejection").value.unwrap() - from_pin).abs() < 1e-9);
    assert!((row(&within, "ripple_rejection").value.unwrap() - from_source).abs() < 1e-9);
    assert_eq!(row(&out, "ripple_rejection").settings["at"], "30 kHz");
}

#[test]
fn a_second_way_around_the_input_pin_is_told() {
    // A bias resistor from the source itself: with the pin still, the output ripples on.
    let parts = format!(
        "{FILTERS}\n{}",
        r#"R3 = { kind = "resistor", nodes = ["cell", "vout"], resistance = "10 kΩ" }"#
    );
    let outcome = outcome(&parts, "");
    let [note] = outcome.notes.as_slice() else { panic!("{:?}", outcome.notes) };
    assert!(note.contains("another way"), "{note}");
    // From the source itself there is nothing approximate in it.
    let from_source = self::outcome(&parts, "input_network = \"in\"");
    assert!(from_source.notes.is_empty(), "{:?}", from_source.notes);
}

/// A follower whose pass device saturates: less headroom, less rejection.
const FOLLOWER: &str = r#"V1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "5 V" }
VB = { kind = "voltage-source", plus = "vb", minus = "gnd", voltage = "3.3 V" }
Q1 = { kind = "bipolar", collector = "vin", base = "vb", emitter = "vout", polarity = "npn", saturation_current = "1e-14 A", forward_gain = 100, early_voltage = "50 V" }
I1 = { kind = "load", nodes = ["vout", "gnd"], current = "10 mA" }"#;

#[test]
fn less_headroom_costs_rejection_and_is_told() {
    let keys = "highest = \"10 kHz\"\nsource_levels = [\"5 V\", \"4 V\", \"2.8 V\", \"2.7 V\"]";
    let outcome = outcome(FOLLOWER, keys);
    let [listing] = outcome.listings.as_slice() else { panic!("{:?}", outcome.listings) };
    // 100 Hz, 1 kHz and 10 kHz at each of four sources.
    assert_eq!(listing.rows.len(), 12);
    let number = |row: usize, column: usize| match listing.rows[row][column] {
        Cell::Number(x) => x,
        _ => panic!("{listing:?}"),
    };
    for row in [0, 3, 6] {
        assert!(number(row, 1) > number(row + 3, 1), "headroom falls");
        assert!(number(row, 3) > number(row + 3, 3), "and so does rejection");
    }
    let [note] = outcome.notes.as_slice() else { panic!("{:?}", outcome.notes) };
    assert!(note.starts_with("10 mA, 25 °C: ripple rejection at "), "{note}");
    assert!(note.contains("more than 3 dB are lost between"), "{note}");
}

#[test]
fn exact_a_follower_rejects_by_its_early_effect() {
    // With base and load held, di_C/dv_CE · r: the emitter follows the collector by g_o/(g_m + g_π +
    // g_o), g_o = I_S·e^(v_BE/V_T)/V_A, g_m + g_o... read off by two rests 2 mV apart.
    let level = |source: &str| {
        let text = format!(
            "title = \"rest\"\n[rail]\ninput = \"vin\"\noutput = \"vout\"\nnominal = \"1 V\"\n\
             source = \"V1\"\nload = \"I1\"\n[parts]\n{FOLLOWER}\n\
             [[tests]]\nname = \"rest\"\nkind = \"operating-point\"\nsource_level = \"{source}\"\n"
        );
        let outcome = Bench::of(&text).outcome("rest", Method::default());
        row(&outcome, "output_level").value.unwrap()
    };
    let slope = (level("5.1 V") - level("4.9 V")) / 0.2;
    let found = row(&outcome(FOLLOWER, "highest = \"1 kHz\""), "ripple_rejection").value.unwrap();
    // A difference over 0.2 V of a law whose bend is (0.1 V/50 V)² of its slope, and two rests known
    // to 1e-12 V of 1e-3.
    assert!((found + 20.0 * slope.log10()).abs() < 1e-3, "{found} dB for {slope}");
}
