//! Noise as a test tells it, against closed forms and handbook figures.

use crate::bench::Bench;
use railstep::analysis::Method;
use railstep::curve::Cell;
use railstep::measure::{Measurement, Verdict};
use railstep::trial::Outcome;
use std::f64::consts::{PI, TAU};

fn outcome(parts: &str, keys: &str) -> Outcome {
    let text = format!(
        "title = \"noise\"\n[rail]\ninput = \"vin\"\noutput = \"vout\"\nnominal = \"1 V\"\n\
         [parts]\n{parts}\n[[tests]]\nname = \"quiet\"\nkind = \"noise\"\n{keys}\n"
    );
    Bench::of(&text).outcome("quiet", Method::default())
}

fn rows<'a>(outcome: &'a Outcome, name: &str) -> Vec<&'a Measurement> {
    outcome.measurements.iter().filter(|m| m.name == name).collect()
}

const RC: &str = r#"V1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "1 V" }
R1 = { kind = "resistor", nodes = ["vin", "vout"], resistance = "1 kΩ" }
C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "1 nF" }"#;

/// 4kT at 300 K (26.85 °C), k = 1.380649e-23 J/K by definition of the kelvin (BIPM 2019).
const FOUR_KT: f64 = 4.0 * 1.380_649e-23 * 300.0;

#[test]
fn exact_density_and_bands_of_a_filtered_resistor() {
    let keys = "ambient = \"26.85 °C\"\nrequire.noise = [{ limit = \"<= 1 mV\" }, \
                { limit = \"<= 1 µV\", band = [\"100 kHz\", \"1 MHz\"] }]\n\
                require.noise_density = { limit = \"<= 1 nV/√Hz\", at = \"200 kHz\" }";
    let outcome = outcome(RC, keys);
    let corner = 1.0 / (TAU * 1e3 * 1e-9);
    let density = |hz: f64| (FOUR_KT * 1e3 / (1.0 + (hz / corner).powi(2))).sqrt();
    let band = |low: f64, high: f64| {
        let turn = (high / corner).atan() - (low / corner).atan();
        (FOUR_KT / 4.0 / 1e-9 * 2.0 / PI * turn).sqrt()
    };
    let [own, other] = rows(&outcome, "noise")[..] else { panic!("two bands") };
    assert!((own.value.unwrap() / band(10.0, 100e3) - 1.0).abs() < 1e-6, "{own:?}");
    assert!((other.value.unwrap() / band(100e3, 1e6) - 1.0).abs() < 1e-6, "{other:?}");
    let at = rows(&outcome, "noise_density")[0];
    assert!((at.value.unwrap() / density(200e3) - 1.0).abs() < 1e-9, "{at:?}");
    assert_eq!(
        (own.verdict, other.verdict, at.verdict),
        (Verdict::Pass, Verdict::Fail, Verdict::Fail)
    );
    for (hz, found) in outcome.curves[0].points("frequency", "density") {
        assert!((found / density(hz) - 1.0).abs() < 1e-9, "{hz}: {found}");
    }
}

#[test]
fn exact_contributors_stand_in_order_and_the_small_ones_together() {
    // Into 1 Ω from the output to ground: each resistance R to a silent source makes i² = 4kT/R.
    let parts = r#"V1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "1 V" }
R1 = { kind = "resistor", nodes = ["vin", "vout"], resistance = "4 Ω" }
R2 = { kind = "resistor", nodes = ["vin", "vout"], resistance = "1 Ω" }
R3 = { kind = "resistor", nodes = ["vin", "vout"], resistance = "5 kΩ" }
R4 = { kind = "resistor", nodes = ["vin", "vout"], resistance = "10 kΩ" }"#;
    let outcome = outcome(parts, "band = [\"1 kHz\", \"2 kHz\"]\nambient = \"26.85 °C\"");
    let siemens = 1.0 + 0.25 + 2e-4 + 1e-4;
    let [listing] = outcome.listings.as_slice() else { panic!("{:?}", outcome.listings) };
    let expected = [("R2", "thermal", 1.0), ("R1", "thermal", 0.25), ("others", "", 3e-4)];
    assert_eq!(listing.rows.len(), expected.len(), "{listing:?}");
    for (row, (part, cause, own)) in listing.rows.iter().zip(expected) {
        let rms = (FOUR_KT * own * 1e3).sqrt() / siemens;
        let [_, Cell::Text(name), Cell::Text(why), Cell::Number(v), Cell::Number(share)] = &row[..]
        else {
            panic!("{row:?}")
        };
        assert_eq!((name.as_str(), why.as_str()), (part, cause));
        // White noise is integrated to rounding.
        assert!((v / rms - 1.0).abs() < 1e-9, "{part}: {v} for {rms}");
        assert!((share - own / siemens).abs() < 1e-9, "{part}: {share}");
    }
}

#[test]
fn a_rest_that_does_not_last_has_no_noise() {
    // 1 kΩ and 1 nF beside −500 Ω: any disturbance grows with 1 µs.
    let parts = format!(
        "{RC}\n{}",
        r#"G1 = { kind = "controlled-current-source", nodes = ["gnd", "vout"], input = ["vout", "gnd"], transconductance = "2 mS" }"#
    );
    let parts = parts.replace("\"1 V\"", "\"0 V\"");
    let outcome = outcome(&parts, "");
    let row = rows(&outcome, "noise")[0];
    assert_eq!((row.value, row.verdict), (None, Verdict::NotEvaluated));
    assert!(row.reason.as_ref().unwrap().contains("grows by itself"), "{row:?}");
}
