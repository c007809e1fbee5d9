//! Round trips: the points of a datasheet are measured on the regulator of a demo, a model is fitted
//! to them alone, and model and demo are compared where there was no point.
//!
//! The demos' regulators stand on a bench of their own here: a stiff source, one capacitor that keeps
//! its label. Nothing but the figures of those tests goes into the datasheet.

use super::{figures, modelled_by, plan};
use railstep::circuit::Change;
use railstep::study::model::Modelled;

/// How near a model must come where there was no point.
const NEAR: f64 = 0.15;
/// What 15 % of an amplitude are in dB.
const NEAR_DB: f64 = 1.214;

/// A measurement at a condition: the keys of a test without its values, what was connected, and the
/// requirements whose figures are read.
struct Look {
    keys: String,
    input: &'static str,
    capacitor: &'static str,
    esr: &'static str,
    require: String,
}

const SINK: &str = "\"<= 9 V\"";

fn look(keys: String, (input, capacitor, esr): Bench, require: &str) -> Look {
    Look { keys, input, capacitor, esr, require: require.to_owned() }
}

type Bench = (&'static str, &'static str, &'static str);

/// Droop, overshoot and, if a band is named, recovery.
fn step(from: &str, to: &str, edge: &str, hold: &str, bench: Bench, band: Option<&str>) -> Look {
    let keys = format!(
        "kind = \"load-step\"\nfrom = \"{from}\"\nto = \"{to}\"\nedge = \"{edge}\"\n\
         hold = \"{hold}\"\ntransient_window = \"none\"\n"
    );
    let recovery =
        band.map(|band| format!(", recovery = {{ limit = \"<= 1 s\", band = \"{band}\" }}"));
    let recovery = recovery.unwrap_or_default();
    look(keys, bench, &format!("droop = {SINK}, overshoot = {SINK}{recovery}"))
}

fn dropout(load: &str, bench: Bench) -> Look {
    let keys = format!("kind = \"dropout\"\nload_levels = [\"{load}\"]\n");
    let require = format!("dropout = {{ limit = {SINK}, definition = \"2 % below\" }}");
    look(keys, bench, &require)
}

fn rejection(load: &str, at: &[&str], bench: Bench) -> Look {
    let keys = format!("kind = \"ripple-rejection\"\nload_levels = [\"{load}\"]\n");
    let each = at.iter().map(|at| format!("{{ limit = \">= -99 dB\", at = \"{at}\" }}"));
    look(keys, bench, &format!("ripple_rejection = [{}]", each.collect::<Vec<_>>().join(", ")))
}

fn impedance(load: &str, at: &[&str], bench: Bench) -> Look {
    let keys = format!("kind = \"output-impedance\"\nload_levels = [\"{load}\"]\n");
    let each = at.iter().map(|at| format!("{{ limit = \"<= 99 Ω\", at = \"{at}\" }}"));
    look(keys, bench, &format!("output_impedance = [{}]", each.collect::<Vec<_>>().join(", ")))
}

fn margin(load: &str, bench: Bench) -> Look {
    let keys = format!("kind = \"loop-gain\"\nload_levels = [\"{load}\"]\n");
    look(keys, bench, "phase_margin = \">= -180 deg\"")
}

fn load_regulation(from: &str, to: &str, bench: Bench) -> Look {
    let keys = format!("kind = \"load-regulation\"\nfrom = \"{from}\"\nto = \"{to}\"\n");
    look(keys, bench, &format!("load_regulation = {SINK}"))
}

fn ground_current(load: &str, bench: Bench) -> Look {
    let keys = format!(
        "kind = \"operating-point\"\nload_level = \"{load}\"\ntransient_window = \"none\"\n"
    );
    look(keys, bench, "ground_current = \"<= 9 A\"")
}

/// A circuit file of these looks; `values` says what stands for input, capacitor and ESR there.
fn file(head: &str, looks: &[Look], values: impl Fn(&Look) -> String) -> String {
    let test = |(k, look): (usize, &Look)| {
        format!(
            "\n[[tests]]\nname = \"look {k}\"\nwindow = \"none\"\n{}values = {{ {} }}\n\
             require = {{ {} }}\n",
            look.keys,
            values(look),
            look.require
        )
    };
    let tests: Vec<String> = looks.iter().enumerate().map(test).collect();
    format!("{head}{}", tests.concat())
}

/// A demo up to its tests.
fn without_tests(demo: &str) -> &str {
    demo.split_once("[[tests]]").expect("a demo has tests").0
}

/// What is compared: what the demo gives, and what the models give.
struct Compared {
    look: String,
    truth: f64,
    best: f64,
    low: f64,
    high: f64,
    decibels: bool,
}

struct RoundTrip {
    compared: Vec<Compared>,
    modelled: Modelled,
}

/// A bench of the regulator under its datasheet, with the looks of which there was no point.
fn round_trip(
    (sheet, quick): (&str, bool),
    bench: &str,
    held_out: &[Look],
    truth: &[Vec<f64>],
) -> RoundTrip {
    let values = |l: &Look| {
        format!("v_in = \"{}\", c_out = \"{}\", esr_out = \"{}\"", l.input, l.capacitor, l.esr)
    };
    let plan = plan(&file(&format!("{bench}{sheet}"), held_out, values));
    let modelled = modelled_by(&plan, false, quick);
    let all: Vec<Vec<Vec<f64>>> =
        modelled.ensemble.changes().iter().map(|set: &Vec<Change>| figures(&plan, set)).collect();
    let mut compared = Vec::new();
    for (k, (look, truth)) in held_out.iter().zip(truth).enumerate() {
        for (j, &truth) in truth.iter().enumerate() {
            let of_models = all.iter().map(|model| model[k][j]);
            compared.push(Compared {
                look: format!("{} {} {}, figure {j}", look.keys, look.input, look.capacitor),
                truth,
                best: all[0][k][j],
                low: of_models.clone().fold(f64::INFINITY, f64::min),
                high: of_models.fold(f64::NEG_INFINITY, f64::max),
                decibels: look.keys.contains("rejection"),
            });
        }
    }
    RoundTrip { compared, modelled }
}

impl RoundTrip {
    fn holds(&self) {
        for told in &self.modelled.points {
            assert!(
                told.is_met(),
                "{}: asked {}, got {:?}",
                told.point.words(),
                told.point.asked,
                told.got
            );
        }
        for c in &self.compared {
            let Compared { look, truth, best, low, high, decibels } = c;
            let off = if *decibels {
                (best - truth).abs() / NEAR_DB
            } else {
                (best / truth - 1.0).abs() / NEAR
            };
            assert!(off <= 1.0, "{look}: {best} against {truth}");
            assert!((*low..=*high).contains(truth), "{look}: {truth} outside {low} .. {high}");
        }
    }

    /// The value that the demo has lies in the interval that is stated.
    fn knows(&self, name: &str, truth: f64) {
        let value = self.modelled.values.iter().find(|v| v.name == name).expect("a value");
        let interval = value.interval.as_ref().expect("it was fitted");
        assert!((interval.low..=interval.high).contains(&truth), "{name}: {truth}, {interval:?}");
    }
}

fn millis(v: f64) -> String {
    format!("{:.5} mV", v * 1e3)
}

/// The datasheet of what was measured there.
fn buoy_sheet(p: &[Vec<f64>]) -> String {
    format!(
        r#"
[models.sheet]
kind = "regulator"
topology = "pmos"
output_voltage = "2.80 V"
rated_current = "180 mA"
test_input = "3.8 V"
test_capacitor = "2.9 µF"
test_esr = "6 mΩ"
test_esl = "0 H"
quiescent_current = "{} µA"
dropouts = [{{ current = "60 mA", dropout = "{}" }}, {{ current = "180 mA", dropout = "{}" }}]
load_regulations = [{{ from = "1 mA", to = "180 mA", change = "{}" }}]
transients = [
  {{ from = "2 mA", to = "180 mA", edge = "100 ns", droop = "{}", overshoot = "{}", recovery = "{} µs", band = "0.2 %" }},
  {{ from = "20 mA", to = "100 mA", edge = "1 µs", droop = "{}", overshoot = "{}" }},
]
rejections = [
  {{ frequency = "100 Hz", load = "50 mA", rejection = "{} dB" }},
  {{ frequency = "10 kHz", load = "50 mA", rejection = "{} dB" }},
  {{ frequency = "1 MHz", load = "50 mA", rejection = "{} dB" }},
]
impedances = [
  {{ frequency = "1 kHz", load = "50 mA", impedance = "{} Ω" }},
  {{ frequency = "100 kHz", load = "50 mA", impedance = "{} Ω" }},
]
"#,
        p[7][0] * 1e6,
        millis(p[2][0]),
        millis(p[3][0]),
        millis(p[4][0]),
        millis(p[0][0]),
        millis(p[0][1]),
        p[0][2] * 1e6,
        millis(p[1][0]),
        millis(p[1][1]),
        p[5][0],
        p[5][1],
        p[5][2],
        p[6][0],
        p[6][1],
    )
}

/// The buoy's PMOS regulator.
#[test]
fn a_blind_fit_finds_the_buoys_regulator_again() {
    const DEMO: &str = include_str!("../../netlists/buoy-radio.toml");
    const AT: Bench = ("3.8 V", "2.9 µF", "6 mΩ");
    const OTHER: Bench = ("3.3 V", "10 µF", "20 mΩ");
    let asked = [
        step("2 mA", "180 mA", "100 ns", "300 µs", AT, Some("0.2 %")),
        step("20 mA", "100 mA", "1 µs", "300 µs", AT, None),
        dropout("60 mA", AT),
        dropout("180 mA", AT),
        load_regulation("1 mA", "180 mA", AT),
        rejection("50 mA", &["100 Hz", "10 kHz", "1 MHz"], AT),
        impedance("50 mA", &["1 kHz", "100 kHz"], AT),
        ground_current("0 mA", AT),
    ];
    let held_out = [
        step("1 mA", "120 mA", "200 ns", "300 µs", OTHER, None),
        dropout("120 mA", AT),
        rejection("50 mA", &["1 kHz", "30 kHz", "100 kHz"], AT),
        rejection("150 mA", &["1 kHz", "30 kHz", "100 kHz"], OTHER),
        margin("10 mA", AT),
        margin("150 mA", AT),
        margin("150 mA", OTHER),
    ];
    let values = |l: &Look| {
        format!(
            "v_cell = \"{}\", c_out = \"{}\", esr_out = \"{}\", r_cell = \"1 µΩ\", \
             \"C_OUT.remaining\" = \"100 %\", \"C_OUT.esl\" = \"0 H\", \"L_TRACE.inductance\" = \"1 pH\", \
             \"L_TRACE.series_resistance\" = \"1 µΩ\"",
            l.input, l.capacitor, l.esr
        )
    };
    let demo = |looks: &[Look]| figures(&plan(&file(without_tests(DEMO), looks, values)), &[]);
    let p = demo(&asked);
    let sheet = buoy_sheet(&p);
    let found = round_trip((&sheet, false), &bench("2.80 V"), &held_out, &demo(&held_out));
    found.holds();
    for (name, truth) in [
        ("U1.dc_gain", 1500.0),
        ("U1.mid_gain", 60.0),
        ("U1.lag_time", 6.6e-6),
        ("U1.strength", 1.736),
        ("U1.metal_resistance", 0.2),
        ("U1.output_slope", 0.1),
        ("U1.bandwidth", 212.2e6), // 200 µS / (2π * 0.15 pF)
        ("U1.stage_range", 0.1),   // 20 µA / 200 µS
        ("U1.drive_current", 1e-3),
        ("U1.driver_resistance", 150.0),
        ("U1.threshold", 0.7),
        ("U1.gate_capacitance", 270e-12),
    ] {
        found.knows(name, truth);
    }
}

fn bench(nominal: &str) -> String {
    format!(
        r#"title = "bench"
[values]
v_in = "5 V"
c_out = "1 µF"
esr_out = "1 mΩ"
[rail]
input = "vin"
output = "vout"
nominal = "{nominal}"
source = "V_IN"
load = "I_OUT"
pass = "U1"
feedback = "U1.EA.sense"
[parts]
V_IN = {{ kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "v_in" }}
U1 = {{ kind = "regulator", input = "vin", output = "vout", ground = "gnd", model = "sheet" }}
C_OUT = {{ kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "c_out", esr = "esr_out" }}
I_OUT = {{ kind = "load", nodes = ["vout", "gnd"], current = "1 mA" }}
"#
    )
}

/// The datasheet of what was measured there.
fn sensor_sheet(p: &[Vec<f64>]) -> String {
    format!(
        r#"
[models.sheet]
kind = "regulator"
topology = "pnp"
output_voltage = "4.99 V"
rated_current = "120 mA"
test_input = "13.5 V"
test_capacitor = "47 µF"
test_esr = "1 Ω"
test_esl = "0 H"
quiescent_current = "{} mA"
ground_current = "{} mA"
ground_current_in_dropout = "{} mA"
dropouts = [{{ current = "50 mA", dropout = "{}" }}, {{ current = "120 mA", dropout = "{}" }}]
load_regulations = [{{ from = "5 mA", to = "120 mA", change = "{}" }}]
transients = [
  {{ from = "20 mA", to = "120 mA", edge = "1 µs", droop = "{}", overshoot = "{}", recovery = "{} µs", band = "0.5 %" }},
]
rejections = [
  {{ frequency = "100 Hz", load = "50 mA", rejection = "{} dB" }},
  {{ frequency = "10 kHz", load = "50 mA", rejection = "{} dB" }},
  {{ frequency = "100 kHz", load = "50 mA", rejection = "{} dB" }},
]
impedances = [
  {{ frequency = "1 kHz", load = "50 mA", impedance = "{} Ω" }},
  {{ frequency = "10 kHz", load = "50 mA", impedance = "{} Ω" }},
]
"#,
        p[6][0] * 1e3,
        p[7][0] * 1e3,
        p[8][0] * 1e3,
        millis(p[1][0]),
        millis(p[2][0]),
        millis(p[3][0]),
        millis(p[0][0]),
        millis(p[0][1]),
        p[0][2] * 1e6,
        p[4][0],
        p[4][1],
        p[4][2],
        p[5][0],
        p[5][1],
    )
}

/// The sensor supply's pnp regulator.
#[test]
fn a_blind_fit_finds_the_sensor_supplys_regulator_again() {
    const DEMO: &str = include_str!("../../netlists/sensor-supply.toml");
    const AT: Bench = ("13.5 V", "47 µF", "1 Ω");
    const LOW: Bench = ("8 V", "100 µF", "0.5 Ω");
    let asked = [
        step("20 mA", "120 mA", "1 µs", "2 ms", AT, Some("0.5 %")),
        dropout("50 mA", AT),
        dropout("120 mA", AT),
        load_regulation("5 mA", "120 mA", AT),
        rejection("50 mA", &["100 Hz", "10 kHz", "100 kHz"], AT),
        impedance("50 mA", &["1 kHz", "10 kHz"], AT),
        ground_current("0 mA", AT),
        ground_current("120 mA", AT),
        ground_current("120 mA", ("4.99 V", "47 µF", "1 Ω")),
    ];
    let held_out = [
        step("10 mA", "100 mA", "2 µs", "2 ms", LOW, None),
        dropout("80 mA", AT),
        rejection("50 mA", &["1 kHz", "3 kHz", "30 kHz"], AT),
        rejection("100 mA", &["1 kHz", "3 kHz"], LOW),
        margin("10 mA", AT),
        margin("100 mA", AT),
        margin("100 mA", LOW),
    ];
    // The diode of the demo is bypassed, and the small capacitor left out.
    let values = |l: &Look| {
        format!(
            "v_bat = \"{}\", c_out = \"{}\", esr_out = \"{}\", \"R_WIRE.resistance\" = \"1 µΩ\", \
             \"L_WIRE.inductance\" = \"1 pH\", \"D1.saturation_current\" = \"1 A\", \
             \"C_OUT1.esl\" = \"0 H\", \"C_OUT2.capacitance\" = \"1 pF\"",
            l.input, l.capacitor, l.esr
        )
    };
    let demo = |looks: &[Look]| figures(&plan(&file(without_tests(DEMO), looks, values)), &[]);
    let p = demo(&asked);
    let sheet = sensor_sheet(&p);
    let found = round_trip((&sheet, true), &bench("4.99 V"), &held_out, &demo(&held_out));
    found.holds();
    // The demo's divider takes 0.2505 of the output, the model's 1.2 V / 4.99 V, and only the product with
    // the gain counts. Its base current is 12 mA over 1 V of internal node, as the model's.
    let share = 0.2505 / (1.2 / 4.99);
    for (name, truth) in [
        ("U1.gain", 40.0),
        ("U1.collector_resistance", 1.3),
        ("U1.dc_gain", 166.6 * share),     // 200 µS * 833 kΩ
        ("U1.bandwidth", 198.9e3 * share), // 200 µS / (2π * 160 pF)
        ("U1.stage_range", 0.1),
        ("U1.drive_current", 12e-3),
        ("U1.saturation_current", 2e-13),
        ("U1.early_voltage", 60.0),
        ("U1.transit_time", 19.9e-9),
    ] {
        found.knows(name, truth);
    }
}
