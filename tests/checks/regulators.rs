//! Regulators known by their datasheets, taken apart by rule alone: every topology rests at its
//! nominal output, holds its dropout, its limits and its soft start.
//!
//! Dropout points are asked for within 15 %: closed forms of one point, in strong inversion and with
//! abrupt clamps, where the engine solves the whole.

use super::bench::{Bench, measured};
use railstep::analysis::Method;
use railstep::trial::Outcome;

struct Case {
    topology: &'static str,
    /// Keys of the datasheet.
    sheet: &'static str,
    /// Further terminals, and further parts.
    ends: &'static str,
    parts: &'static str,
    input: &'static str,
    nominal_v: f64,
    load: &'static str,
    dropout_v: f64,
    capacitor: &'static str,
}

const NPN: Case = Case {
    topology: "npn",
    sheet: r#"output_voltage = "5 V"
accuracy = "1 %"
rated_current = "0.5 A"
dropouts = [{ current = "0.5 A", dropout = "1.15 V" }]
quiescent_current = "2 mA"
current_limit = "0.8 A"
short_current = "0.3 A"
fold_voltage = "4 V"
rise_time = "200 µs"
load_regulations = [{ from = "5 mA", to = "0.5 A", change = "10 mV" }]
test_input = "8 V""#,
    ends: "",
    parts: "",
    input: "8 V",
    nominal_v: 5.0,
    load: "0.5 A",
    dropout_v: 1.15,
    capacitor: r#"capacitance = "22 µF", esr = "0.1 Ω""#,
};

const DARLINGTON: Case = Case {
    topology: "darlington",
    sheet: r#"output_voltage = "12 V"
accuracy = "1 %"
rated_current = "1.5 A"
dropouts = [{ current = "1.5 A", dropout = "2.1 V" }]
current_limit = "2.2 A"
test_input = "18 V""#,
    ends: "",
    parts: "",
    input: "18 V",
    nominal_v: 12.0,
    load: "1.5 A",
    dropout_v: 2.1,
    capacitor: r#"capacitance = "100 µF", esr = "0.1 Ω""#,
};

const PNP: Case = Case {
    topology: "pnp",
    sheet: r#"output_voltage = "5 V"
accuracy = "1 %"
rated_current = "120 mA"
dropouts = [{ current = "120 mA", dropout = "200 mV" }]
quiescent_current = "1 mA"
ground_current = "3.7 mA"
ground_current_in_dropout = "13 mA"
current_limit = "300 mA"
enable_on = "2 V"
enable_off = "1 V"
test_input = "13 V"
test_capacitor = "47 µF"
test_esr = "1 Ω""#,
    ends: r#"enable = "en", "#,
    parts: r#"VE = { kind = "voltage-source", plus = "en", minus = "gnd", voltage = "3.3 V" }"#,
    input: "13 V",
    nominal_v: 5.0,
    load: "120 mA",
    dropout_v: 0.2,
    capacitor: r#"capacitance = "47 µF", esr = "1 Ω""#,
};

const PMOS: Case = Case {
    topology: "pmos",
    sheet: r#"output_voltage = "2.8 V"
accuracy = "1 %"
rated_current = "0.2 A"
dropouts = [{ current = "180 mA", dropout = "90 mV" }]
quiescent_current = "70 µA"
ground_current = "200 µA"
current_limit = "350 mA"
rise_time = "150 µs"
load_regulations = [{ from = "2 mA", to = "180 mA", change = "0.9 mV" }]
transients = [{ from = "2 mA", to = "180 mA", edge = "100 ns", droop = "20.4 mV" }]
test_input = "3.7 V"
test_capacitor = "2.91 µF"
test_esr = "6 mΩ""#,
    ends: "",
    parts: "",
    input: "3.7 V",
    nominal_v: 2.8,
    load: "180 mA",
    dropout_v: 0.09,
    capacitor: r#"capacitance = "2.91 µF", esr = "6 mΩ""#,
};

const NMOS: Case = Case {
    topology: "nmos-bias",
    sheet: r#"reference_voltage = "0.6 V"
accuracy = "1 %"
rated_current = "2 A"
dropouts = [{ current = "1.8 A", dropout = "70 mV" }]
current_limit = "3 A"
rise_time = "300 µs"
test_input = "1.2 V"
test_output = "1.05 V"
test_bias = "3.3 V""#,
    ends: r#"adjust = "fb", bias = "bias", "#,
    parts: r#"VB = { kind = "voltage-source", plus = "bias", minus = "gnd", voltage = "3.3 V" }
R1 = { kind = "resistor", nodes = ["vout", "fb"], resistance = "7.5 kΩ" }
R2 = { kind = "resistor", nodes = ["fb", "gnd"], resistance = "10 kΩ" }"#,
    input: "1.2 V",
    nominal_v: 1.05,
    load: "1.8 A",
    dropout_v: 0.07,
    capacitor: r#"capacitance = "50 µF", esr = "1 mΩ""#,
};

const ALL: [Case; 5] = [NPN, DARLINGTON, PNP, PMOS, NMOS];

fn bench(case: &Case) -> Bench {
    let Case { topology, sheet, ends, parts, input, nominal_v, load, capacitor, .. } = case;
    Bench::of(&format!(
        r#"title = "{topology}"
[rail]
input = "vin"
output = "vout"
nominal = "{nominal_v} V"
source = "V1"
load = "I1"
pass = "U1"
amplifier = "U1"
feedback = "U1.EA.sense"
[parts]
V1 = {{ kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "{input}" }}
{parts}
U1 = {{ kind = "regulator", input = "vin", output = "vout", ground = "gnd", {ends}model = "sheet" }}
C1 = {{ kind = "capacitor", nodes = ["vout", "gnd"], {capacitor} }}
I1 = {{ kind = "load", nodes = ["vout", "gnd"], current = "{load}" }}
[models.sheet]
kind = "regulator"
topology = "{topology}"
{sheet}
[[tests]]
name = "rest"
kind = "operating-point"
[[tests]]
name = "dropout"
kind = "dropout"
reference_headroom = "3 V"
[[tests]]
name = "overload"
kind = "overload"
[[tests]]
name = "start"
kind = "start-up"
load_level = "1 mA"
ramp = "1 µs"
hold = "2 ms"
[[tests]]
name = "step"
kind = "load-step"
from = "2 mA"
to = "{load}"
edge = "100 ns"
hold = "100 µs"
"#
    ))
}

fn run(case: &Case, test: &str) -> Outcome {
    bench(case).outcome(test, Method::Rodas4p)
}

#[track_caller]
fn near(found: f64, expected: f64, share: f64, what: &str) {
    let off = (found / expected - 1.0).abs();
    assert!(off <= share, "{what}: {found} instead of {expected}");
}

#[test]
fn every_topology_rests_at_its_output_within_its_accuracy() {
    for case in &ALL {
        let level = measured(&run(case, "rest"), "output_level");
        near(level, case.nominal_v, 0.01, case.topology);
    }
}

#[test]
fn every_topology_holds_its_dropout_point_by_rule_alone() {
    for case in &ALL {
        let outcome = run(case, "dropout");
        let is_asked = |m: &&railstep::measure::Measurement| {
            m.name == "dropout" && m.settings.get("definition").is_some_and(|d| d == "2 % below")
        };
        let found = outcome.measurements.iter().find(is_asked).expect("2 % below");
        near(found.value.expect("a dropout"), case.dropout_v, 0.15, case.topology);
    }
}

/// Foldback as the sheet says it: 0.8 A at the normal output, 0.3 A into a short. Steering begins 5 %
/// below and ends where it has taken away all drive.
#[test]
fn a_limit_folds_back_to_its_short_current() {
    let outcome = run(&NPN, "overload");
    near(measured(&outcome, "limit_current"), 0.8, 0.05, "limit");
    near(measured(&outcome, "short_current"), 0.3, 0.15, "short");
}

#[test]
fn limits_of_every_topology_are_those_of_the_sheet() {
    for (case, limit_a) in [(DARLINGTON, 2.2), (PNP, 0.3), (PMOS, 0.35), (NMOS, 3.0)] {
        let found = measured(&run(&case, "overload"), "limit_current");
        near(found, limit_a, 0.05, case.topology);
    }
}

/// 10 to 90 % of a single lag is ln 9 of its time constant, from nothing to 95 % it is ln 20: the
/// output follows the reference, and its loop is faster by far.
#[test]
fn exact_soft_start_takes_its_rise_time() {
    let outcome = run(&PMOS, "start");
    near(measured(&outcome, "start_time"), 150e-6 * 20f64.ln() / 9f64.ln(), 0.05, "95 %");
    assert!(measured(&outcome, "start_overshoot") < 0.01 * 2.8);
}

/// What the base takes flows to ground: in regulation as the sheet says it at the rated load.
#[test]
fn ground_currents_are_those_of_the_sheet() {
    near(measured(&run(&PNP, "rest"), "ground_current"), 3.7e-3, 0.02, "pnp");
    // At 180 of the rated 200 mA: 70 µA and nine tenths of what is added at full load.
    near(measured(&run(&PMOS, "rest"), "ground_current"), 187e-6, 0.02, "pmos");
}

/// An enable held low keeps the output down, and lets it come up once it is high.
#[test]
fn enable_keeps_the_output_down() {
    let mut low = PNP;
    low.parts =
        r#"VE = { kind = "voltage-source", plus = "en", minus = "gnd", voltage = "0.8 V" }"#;
    low.load = "1 mA";
    let level = measured(&run(&low, "rest"), "output_level");
    assert!(level.abs() < 0.01, "{level}");
    let level = measured(&run(&PNP, "rest"), "output_level");
    near(level, 5.0, 0.01, "enabled");
}

/// Droop by the drive plateau alone (common practice, no source), within what the capacitor and the
/// lag take of it.
#[test]
fn the_droop_comes_out_near_its_point_by_rule_alone() {
    near(measured(&run(&PMOS, "step"), "droop"), 20.4e-3, 0.15, "droop");
}
