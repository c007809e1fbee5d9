//! What tests at rest and over frequency leave behind: one table, one picture, and those on demand.

use crate::bench::{Bench, SMALL, column, measurement, table};

/// An amplifier of 40 dB that drives 1 Ω into 10 µF, and a load of 10 Ω.
const LOOP: &str = r#"title = "small loop"
[rail]
input = "vin"
output = "vout"
nominal = "1 V"
source = "V1"
load = "R_LOAD"
feedback = "EA.sense"
[parts]
V1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "5 V" }
V_REF = { kind = "voltage-source", plus = "ref", minus = "gnd", voltage = "1 V" }
EA = { kind = "error-amplifier", reference = "ref", sense = "vout", output = "drive", supply = "vin", ground = "gnd", transconductance = "1 mS", stage_current = "1 A", stage_resistance = "100 kΩ", stage = "voltage", output_resistance = "1 mΩ", drive_current = "10 A" }
R_OUT = { kind = "resistor", nodes = ["drive", "vout"], resistance = "1 Ω" }
C_OUT = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF" }
R_LOAD = { kind = "load", nodes = ["vout", "gnd"], resistance = "10 Ω" }

[[tests]]
name = "loop"
kind = "loop-gain"
nyquist = true
load_levels = ["10 Ω", "100 Ω"]
highest = "10 MHz"

[[tests]]
name = "ripple"
kind = "ripple-rejection"
source_levels = ["3 V", "4 V", "5 V"]
highest = "1 MHz"

[[tests]]
name = "impedance"
kind = "output-impedance"
mask = [["10 Hz", "50 mΩ"], ["100 kHz", "500 mΩ"]]
"#;

#[test]
fn a_plane_and_a_picture_against_headroom_are_drawn_where_they_are_asked_for() {
    // Without a way from input to output there is no ripple to be rejected.
    let leaking = "R_IN = { kind = \"resistor\", nodes = [\"vin\", \"vout\"], resistance = \"1 MΩ\" }\nR_LOAD";
    let bench = Bench::with(&LOOP.replacen("R_LOAD = {", &format!("{leaking} = {{"), 1));
    bench.run(&[]).expect(0);
    let files = [
        "loop.csv",
        "loop.svg",
        "loop.nyquist.svg",
        "ripple.csv",
        "ripple.svg",
        "ripple.headroom.svg",
        "impedance.csv",
        "impedance.svg",
        "report.html",
        "summary.json",
    ];
    assert_eq!(bench.summary()["files"], serde_json::json!(files));
    assert_eq!(bench.all_files("results").len(), files.len());
    for file in files.iter().filter(|f| f.contains("svg")) {
        let svg = bench.read(&format!("results/small/{file}"));
        assert!(svg.starts_with("<svg") && !svg.contains("NaN"), "{file}");
    }
    let plane = bench.read("results/small/loop.nyquist.svg");
    assert!(plane.contains("real part") && plane.contains("−1"));
}

#[test]
fn a_table_of_curves_has_what_was_held_ahead_of_its_axis() {
    let bench = Bench::with(LOOP);
    bench.run(&["--test", "loop"]).expect(0);
    let (heading, rows) = table(&bench.read("results/small/loop.csv"));
    assert_eq!(
        heading[..5],
        ["load [Ω]", "source [V]", "ambient [°C]", "frequency [Hz]", "gain [dB]"]
    );
    // 25 a decade over six decades, ends included, for each load.
    assert_eq!(rows.len(), 2 * 151);
    let load = column(&heading, "load [Ω]");
    assert!(rows[..151].iter().all(|r| r[load] == 10.0) && rows[151][load] == 100.0);
}

/// T = 100/(1 + jf/f1) with the output's pole f1 = 1/(2π·(1.001 Ω ∥ R)·10 µF) and a divider R/(R +
/// 1.001 Ω): |T| = 1 at f1·√((100·k)² − 1), where the phase margin is 180° − atan √((100·k)² − 1).
#[test]
fn exact_crossover_of_a_loop_with_one_pole() {
    let bench = Bench::with(LOOP);
    bench.run(&["--test", "loop"]).expect(0);
    let summary = bench.summary();
    let value = |name: &str| measurement(&summary, 0, name)["value"].as_f64().unwrap();
    let at = |load: f64| {
        let (series, farad) = (1.001, 10e-6);
        let k = load / (load + series);
        let pole_hz = (1.0 / load + 1.0 / series) / (2.0 * std::f64::consts::PI * farad);
        let over = ((100.0 * k).powi(2) - 1.0).sqrt();
        (pole_hz * over, 180.0 - over.atan().to_degrees())
    };
    // The worst of both loads: the lowest crossover and margin. Both stages are straight to 1e-6 and the
    // swing clamps' tails shift the gain by less.
    let worst = [10.0, 100.0].map(at);
    let crossover = worst.map(|w| w.0).into_iter().fold(f64::INFINITY, f64::min);
    let margin = worst.map(|w| w.1).into_iter().fold(f64::INFINITY, f64::min);
    assert!((value("crossover") / crossover - 1.0).abs() < 1e-5, "{}", value("crossover"));
    assert!((value("phase_margin") - margin).abs() < 1e-4, "{}", value("phase_margin"));
}

/// The same rail with a pulse train in which the worst rate is looked for.
const SCAN: &str = r#"
[[tests]]
name = "scan"
kind = "pulse-train"
from = "10 mA"
to = "20 mA"
edge = "1 µs"
scan = { from = "1 kHz", to = "10 kHz", points = 4 }
"#;

#[test]
fn a_scan_of_rates_leaves_the_record_at_the_worst_beside_its_table() {
    let bench = Bench::with(&format!("{SMALL}{SCAN}"));
    bench.run(&["--test", "scan"]).expect(0);
    let files =
        ["scan.csv", "scan.svg", "scan.rates.csv", "scan.rates.svg", "report.html", "summary.json"];
    assert_eq!(bench.summary()["files"], serde_json::json!(files));
    assert_eq!(bench.all_files("results").len(), files.len());
    let (heading, _) = table(&bench.read("results/small/scan.csv"));
    assert_eq!(heading[0], "time [s]");
    let (heading, rows) = table(&bench.read("results/small/scan.rates.csv"));
    assert_eq!(heading[0], "rate [Hz]");
    assert!(rows.len() >= 4, "{rows:?}");
}
