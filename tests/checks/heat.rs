//! Heat paths against closed forms: steps of power through ladders, rests, published junction
//! temperatures, runaway, and the books of heat.

use super::bench::{Bench, measured};
use railstep::analysis::{Failure, Method};
use railstep::curve::Cell;
use railstep::trial::Outcome;
use railstep::waveform::{Side, Window};

/// A temperature may err by 1 mK for each of the 3 µV that a node may, more where it is high; what
/// the engine leaves after several steps is some twenty times that.
pub(crate) const WITHIN_K: f64 = 0.06;
const Q: f64 = 1.602_176_634e-19;
const K: f64 = 1.380_649e-23;

fn run(text: &str, name: &str) -> Outcome {
    Bench::of(text).outcome(name, Method::Rodas4p)
}

pub(crate) fn close(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} instead of {expected}");
}

fn column<'a>(outcome: &'a Outcome, name: &str) -> &'a [f64] {
    &outcome.columns.iter().find(|c| c.name == name).expect(name).values
}

fn heat_cell(outcome: &Outcome, row: usize, column: &str) -> f64 {
    let listing = outcome.listings.iter().find(|l| l.name == "heat").expect("heat");
    let place = listing.columns.iter().position(|c| c.name == column).expect(column);
    match listing.rows[row][place] {
        Cell::Number(value) => value,
        ref other => panic!("{other:?}"),
    }
}

/// 4 W into a heat path from 1 s on, 25 °C around it.
fn stepped(ladder: &str) -> Outcome {
    run(
        &format!(
            r#"title = "a step of power"
[parts]
V1 = {{ kind = "voltage-source", plus = "a", minus = "gnd", varies = {{ shape = "ramp", change = "2 V", delay = "1 s", edge = "0" }} }}
R1 = {{ kind = "resistor", nodes = ["a", "gnd"], resistance = "1 Ω" }}
H1 = {{ kind = "heat-path", part = "R1", {ladder} }}
[[tests]]
name = "step"
kind = "profile"
duration = "60 s"
sample = 240
"#
        ),
        "step",
    )
}

fn follows(outcome: &Outcome, rise_k: impl Fn(f64) -> f64) {
    let junction = column(outcome, "H1.junction");
    for (&t, &celsius) in outcome.times_s.iter().zip(junction) {
        let expected = 25.0 + if t > 1.0 { rise_k(t - 1.0) } else { 0.0 };
        assert!((celsius - expected).abs() < WITHIN_K, "{t} s: {celsius}, not {expected}");
    }
}

/// One-pole Foster: ΔT_J(t) = P·R·(1 − e^(−t/τ)) (JEDEC JESD51 terms; formula from memory).
#[test]
fn exact_a_step_of_power_through_one_stage() {
    let outcome = stepped(r#"foster = [["10 K/W", "4 s"]]"#);
    follows(&outcome, |t| 40.0 * (1.0 - (-t / 4.0).exp()));
    close(measured(&outcome, "junction_rise"), 40.0 * (1.0 - (-59.0_f64 / 4.0).exp()), WITHIN_K);
    let highest = measured(&outcome, "junction_temperature");
    close(highest, 298.15 + measured(&outcome, "junction_rise"), 1e-9);
    close(heat_cell(&outcome, 0, "power"), 4.0, 1e-9);
    close(heat_cell(&outcome, 0, "junction_steady"), 65.0, 1e-6);
    close(heat_cell(&outcome, 0, "junction_before"), 25.0, 1e-9);
}

/// Stages of a Foster ladder add up.
#[test]
fn exact_a_foster_ladder_is_a_sum_of_exponentials() {
    let outcome = stepped(r#"foster = [["2 K/W", "1 ms"], ["5 K/W", "0.2 s"], ["8 K/W", "20 s"]]"#);
    let stages = [(2.0, 1e-3), (5.0, 0.2), (8.0, 20.0)];
    follows(&outcome, |t| {
        stages.iter().map(|(r, tau): &(f64, f64)| 4.0 * r * (1.0 - (-t / tau).exp())).sum()
    });
}

/// One stage is the same in either form, with R·C for the time constant.
#[test]
fn exact_one_cauer_stage_is_one_foster_stage() {
    let outcome = stepped(r#"cauer = [["10 K/W", "0.4 J/K"]]"#);
    follows(&outcome, |t| 40.0 * (1.0 - (-t / 4.0).exp()));
}

/// Two Cauer stages, 2 K/W with 0.5 J/K and 3 K/W with 4 J/K: the impedance at the junction is
/// (5 + 24·s)/(1 + 14.5·s + 12·s²) K/W, whose partial fractions are two Foster stages.
#[test]
fn exact_two_cauer_stages_are_the_foster_stages_of_their_partial_fractions() {
    let root = (14.5_f64 * 14.5 - 48.0).sqrt();
    let stage = |sign: f64| {
        let pole = (-14.5 + sign * root) / 24.0;
        let tau = -1.0 / pole;
        let residue = (5.0 + 24.0 * pole) / (14.5 + 24.0 * pole);
        (residue * tau, tau)
    };
    let [(r1, tau1), (r2, tau2)] = [stage(1.0), stage(-1.0)];
    close(r1 + r2, 5.0, 1e-12);
    let rise = |t: f64| 4.0 * (r1 * (1.0 - (-t / tau1).exp()) + r2 * (1.0 - (-t / tau2).exp()));
    let cauer = stepped(r#"cauer = [["2 K/W", "0.5 J/K"], ["3 K/W", "4 J/K"]]"#);
    follows(&cauer, rise);
    let foster = format!(r#"foster = [["{r1} K/W", "{tau1} s"], ["{r2} K/W", "{tau2} s"]]"#);
    follows(&stepped(&foster), rise);
}

/// From initial values the junction starts where it is told and cools by its own time constant.
#[test]
fn exact_a_junction_cools_from_its_initial_temperature() {
    let text = r#"title = "cooling"
[parts]
V1 = { kind = "voltage-source", plus = "a", minus = "gnd" }
R1 = { kind = "resistor", nodes = ["a", "gnd"], resistance = "1 Ω" }
H1 = { kind = "heat-path", part = "R1", cauer = [["10 K/W", "0.4 J/K"]], initial = "105 °C" }
[[tests]]
name = "cooling"
kind = "profile"
duration = "10 s"
start = "initial-values"
"#;
    let outcome = run(text, "cooling");
    for (&t, &celsius) in outcome.times_s.iter().zip(column(&outcome, "H1.junction")) {
        close(celsius, 25.0 + 80.0 * (-t / 4.0).exp(), WITHIN_K);
    }
}

pub(crate) const BIAS_V: f64 = 0.6;
pub(crate) const SATURATION_A: f64 = 1e-12;
pub(crate) const AMBIENT_K: f64 = 298.15;

/// W of a junction at [`BIAS_V`], by the laws of the handbook written out here again.
fn power(kelvin: f64) -> f64 {
    let gap_k = 1.11 * Q / K;
    let ratio = (kelvin / AMBIENT_K).powi(3) * (gap_k * (1.0 / AMBIENT_K - 1.0 / kelvin)).exp();
    BIAS_V * SATURATION_A * ratio * (BIAS_V / (K * kelvin / Q)).exp_m1()
}

fn power_slope(kelvin: f64) -> f64 {
    (power(kelvin + 1e-3) - power(kelvin - 1e-3)) / 2e-3
}

/// The thermal resistance at which a junction at constant voltage runs away, and the temperature:
/// where T − T_a = R·P(T) has a double root, R·dP/dT = 1 and so T − T_a = P/(dP/dT).
pub(crate) fn runaway() -> (f64, f64) {
    let (mut cold, mut hot) = (AMBIENT_K, AMBIENT_K + 100.0);
    for _ in 0..100 {
        let middle = 0.5 * (cold + hot);
        let is_cold = middle - AMBIENT_K < power(middle) / power_slope(middle);
        if is_cold { cold = middle } else { hot = middle }
    }
    (1.0 / power_slope(cold), cold)
}

fn junction_at_constant_voltage(resistance: f64) -> Bench {
    Bench::of(&format!(
        r#"title = "a junction at constant voltage"
[rail]
ambient = "25 °C"
[parts]
V1 = {{ kind = "voltage-source", plus = "a", minus = "gnd", voltage = "{BIAS_V} V" }}
D1 = {{ kind = "diode", anode = "a", cathode = "gnd", saturation_current = "{SATURATION_A} A" }}
H1 = {{ kind = "heat-path", part = "D1", foster = [["{resistance} K/W", "1 s"]] }}
[[tests]]
name = "rest"
kind = "operating-point"
"#
    ))
}

#[test]
fn exact_a_junction_runs_away_where_power_rises_faster_than_heat_leaves() {
    let (critical, kelvin) = runaway();
    assert!(kelvin > AMBIENT_K + 5.0 && kelvin < AMBIENT_K + 60.0, "{kelvin}");
    // A hair below the threshold: the cold root of T − T_a = R·P(T).
    for share in [0.5, 0.9, 0.99] {
        let outcome =
            junction_at_constant_voltage(share * critical).outcome("rest", Method::Rodas4p);
        let found = measured(&outcome, "junction_temperature");
        close(found - AMBIENT_K, share * critical * power(found), 1e-4);
        assert!(found < kelvin, "{share}: {found}");
    }
    for share in [1.01, 1.1, 2.0, 10.0] {
        let failure = junction_at_constant_voltage(share * critical).failure("rest");
        let told = &failure.message;
        assert!(told.starts_with("thermal runaway: no steady state"), "{share}: {told}");
        assert_eq!(failure.node.as_deref(), Some("H1.junction"));
        // What the path would have to be below, to the three digits that are told.
        let limit = told.rsplit("below about ").next().unwrap().trim_end_matches(" K/W");
        let limit: f64 = limit.parse().unwrap();
        assert!((limit / critical - 1.0).abs() < 0.01, "{share}: {told}, not {critical}");
    }
}

#[test]
fn runaway_in_time_ends_the_run_in_words() {
    let (critical, _) = runaway();
    let text = format!(
        r#"title = "switched on"
[parts]
V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd", varies = {{ shape = "ramp", change = "{BIAS_V} V", delay = "1 s", edge = "1 ms" }} }}
R1 = {{ kind = "resistor", nodes = ["in", "a"], resistance = "1 µΩ" }}
D1 = {{ kind = "diode", anode = "a", cathode = "gnd", saturation_current = "{SATURATION_A} A" }}
H1 = {{ kind = "heat-path", part = "D1", foster = [["{} K/W", "1 s"]], rated_temperature = "150 °C" }}
[[tests]]
name = "on"
kind = "profile"
duration = "1 h"
"#,
        1.5 * critical
    );
    let Failure { message, time_s, part, .. } = Bench::of(&text).failure("on");
    assert!(message.starts_with("thermal runaway: `H1.junction` passes 350 °C"), "{message}");
    assert!(time_s.is_some_and(|t| t > 1.0 && t < 3600.0), "{time_s:?}");
    assert_eq!(part.as_deref(), Some("H1"));
}

/// A follower that takes a load of 1 A for half a minute.
const FOLLOWER: &str = r#"title = "follower"
[rail]
input = "vin"
output = "vout"
nominal = "5 V"
source = "V1"
load = "IL"
pass = "Q1"
ambient = "40 °C"
[parts]
V1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "8 V" }
VB = { kind = "voltage-source", plus = "b", minus = "gnd", voltage = "5.7 V" }
Q1 = { kind = "bipolar", collector = "vin", base = "b", emitter = "vout", polarity = "npn", saturation_current = "10 fA", forward_gain = 120, emitter_resistance = "50 mΩ", KEYS }
H1 = { kind = "heat-path", part = "Q1", foster = [LADDER], rated_temperature = "150 °C" }
IL = { kind = "load", nodes = ["vout", "gnd"], current = "0.1 A" }
C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF", esr = "10 mΩ", esl = "1 nH" }
[[tests]]
name = "half a minute"
kind = "load-step"
from = "0.1 A"
to = "1 A"
edge = "100 ns"
hold = "30 s"
[[tests]]
name = "load"
kind = "load-regulation"
from = "0.1 A"
to = "1 A"
[[tests]]
name = "line"
kind = "line-regulation"
from = "8 V"
to = "12 V"
[[tests]]
name = "light"
kind = "operating-point"
load_level = "0.1 A"
[[tests]]
name = "heavy"
kind = "operating-point"
load_level = "1 A"
"#;
const CHARGES: &str = "transit_time = \"1 ns\", base_emitter_capacitance = \"100 pF\"";
const LADDER: &str = r#"["2 K/W", "1 ms"], ["6 K/W", "1 s"], ["12 K/W", "20 s"]"#;

fn follower(keys: &str, ladder: &str) -> String {
    let text = FOLLOWER.replace("LADDER", ladder);
    text.replace(", KEYS", &if keys.is_empty() { String::new() } else { format!(", {keys}") })
}

#[test]
fn half_a_minute_of_heating_behind_a_fast_edge_takes_few_steps() {
    let outcome = run(&follower(CHARGES, LADDER), "half a minute");
    let attempts = outcome.work.attempts();
    assert!(attempts < 3000, "{attempts} attempts");
    // 3 V and 1 A less what the base takes, through 20 K/W: some 100 °C, by no more than the rise
    // of the output as the base-emitter voltage falls.
    let peak = measured(&outcome, "junction_temperature") - 273.15;
    assert!(peak > 80.0 && peak < 105.0, "{peak} °C");
    let balance = outcome.balance.as_ref().expect("books");
    assert!(balance.energy.residual() < 1e-5, "{balance:?}");
    assert!(balance.charge.residual() < 1e-5, "{balance:?}");
}

/// Heat in is heat stored and heat out: ∫P·dt = C·ΔT + ∫(T − T_a)/R·dt over the whole record, for
/// one stage and a device without charges, so that what it takes up is all heat.
#[test]
fn exact_the_book_of_heat_balances() {
    let outcome = run(&follower("", r#"["20 K/W", "10 s"]"#), "half a minute");
    let waveform = &outcome.waveform;
    let record = waveform.record().expect("a record");
    let signal = |name: &str| waveform.signal(name).expect(name);
    let over = |name: &str, window: Window| {
        waveform.mean(signal(name), window).expect(name) * window.length_s()
    };
    let rise = signal("junction_rise.H1");
    let at = |t: f64, side| waveform.at(rise, t, side).expect("a point");
    for share in [0.3, 0.6, 1.0] {
        let window = Window::new(record.from_s, record.from_s + share * record.length_s());
        let given_j = over("heat.H1", window);
        let stored_j = 0.5 * (at(window.to_s, Side::Before) - at(window.from_s, Side::After));
        let left_j = over("junction_rise.H1", window) / 20.0;
        // The tolerance of the rise, over 0.5 J/K and over 1/20 W/K in a minute.
        let within_j = WITHIN_K * (0.5 + window.length_s() / 20.0);
        close(given_j, stored_j + left_j, 0.2 * within_j);
        assert!(given_j > 30.0, "{given_j} J");
    }
}

#[test]
fn regulation_is_told_with_junctions_held_and_with_heat_settled() {
    let text = follower("", LADDER);
    let bench = Bench::of(&text);
    let level = |name: &str| measured(&bench.outcome(name, Method::Rodas4p), "output_level");
    let (light, heavy) = (level("light"), level("heavy"));
    let load = bench.outcome("load", Method::Rodas4p);
    close(measured(&load, "load_regulation_settled"), light - heavy, 1e-8);
    // The same with the junction where 0.1 A brings it.
    let kelvin = measured(&bench.outcome("light", Method::Rodas4p), "junction_temperature");
    let held =
        text.replace("rated_temperature", &format!("held_at = \"{kelvin} K\", rated_temperature"));
    let held = Bench::of(&held);
    let level = |name: &str| measured(&held.outcome(name, Method::Rodas4p), "output_level");
    let pulsed = measured(&load, "load_regulation");
    close(pulsed, level("light") - level("heavy"), 1e-8);
    // The base-emitter voltage falls by some 1.7 mV/K while the junction gains some 50 K.
    let settled = measured(&load, "load_regulation_settled");
    assert!(pulsed - settled > 0.06 && pulsed - settled < 0.12, "{pulsed} {settled}");
    let line = bench.outcome("line", Method::Rodas4p);
    assert!(measured(&line, "line_regulation_settled") > 10.0 * measured(&line, "line_regulation"));
    assert!(load.notes.iter().any(|n| n.contains("junctions held")), "{:?}", load.notes);
}

#[test]
fn a_circuit_without_heat_paths_says_nothing_of_heat() {
    let text = follower("", LADDER);
    let cold: Vec<&str> = text.lines().filter(|line| !line.starts_with("H1")).collect();
    let bench = Bench::of(&cold.join("\n"));
    for name in bench.names() {
        let outcome = bench.outcome(&name, Method::Rodas4p);
        let told = |what: &str| what.contains("junction") || what.contains("settled");
        assert!(outcome.measurements.iter().all(|m| !told(&m.name)), "{name}");
        assert!(outcome.listings.iter().all(|l| !l.name.contains("heat")), "{name}");
        assert!(outcome.columns.iter().all(|c| !told(&c.name)), "{name}");
    }
}

/// Small signals take part in heat: at frequencies far below the ladder's corner the output
/// impedance is the slope of settled rests, far above it that of rests with the junction held.
#[test]
fn exact_output_impedance_goes_from_the_settled_to_the_held_slope() {
    let tests = r#"
[[tests]]
name = "impedance"
kind = "output-impedance"
load_levels = ["0.5 A"]
lowest = "10 µHz"
highest = "10 Hz"
require = { output_impedance = [{ limit = "<= 1 Ω", at = "10 µHz" }, { limit = "<= 1 Ω", at = "10 Hz" }] }
[[tests]]
name = "below"
kind = "operating-point"
load_level = "0.499 A"
[[tests]]
name = "above"
kind = "operating-point"
load_level = "0.501 A"
[[tests]]
name = "middle"
kind = "operating-point"
load_level = "0.5 A"
"#;
    let text = follower("", r#"["20 K/W", "10 s"]"#) + tests;
    let bench = Bench::of(&text);
    let slope = |bench: &Bench| {
        let level = |name: &str| measured(&bench.outcome(name, Method::Rodas4p), "output_level");
        ((level("above") - level("below")) / 2e-3).abs()
    };
    let impedance = bench.outcome("impedance", Method::Rodas4p);
    let found: Vec<f64> = impedance
        .measurements
        .iter()
        .filter(|m| m.name == "output_impedance" && m.limit.is_some())
        .map(|m| m.value.expect("an impedance"))
        .collect();
    let settled = slope(&bench);
    // Both slopes are chords over 2 mA of 500 mA: the curvature takes some 1e-6 of them.
    close(found[0] / settled, 1.0, 1e-4);
    let kelvin = measured(&bench.outcome("middle", Method::Rodas4p), "junction_temperature");
    let held = format!("held_at = \"{kelvin} K\", rated_temperature");
    let held = slope(&Bench::of(&text.replace("rated_temperature", &held)));
    // The ladder leaves 1/(2π·10 s·10 Hz) of heat's part, in quadrature.
    close(found[1] / held, 1.0, 1e-4);
    assert!((settled - held).abs() > 0.1 * held, "{settled} {held}");
}
