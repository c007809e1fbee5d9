//! The bench supply: verdicts that its file announces, and its figures against an independent
//! integration and solution (how: see `independent` and `steady`; here with tolerances of 1e-8 V and
//! 1e-9 V, between which voltages move by less than 4e-8 V, times by less than 1e-11 s). Where limit
//! and load cross is found by bisection on the same equations at rest, the output held. Our own work,
//! not published.

use super::announced::check;
use super::independent::{ACCURACY_V, Row, hold_found};
use super::steady::{self, share};
use super::{BENCH, named, outcomes, value};
use railstep::analysis::Method;
use railstep::measure::Verdict;

#[test]
fn the_bench_supply_has_the_verdicts_its_file_announces() {
    let narrow = &["phase_margin", "loop_distance"];
    let stuck = &["window", "settled_level", "start_time"];
    check(
        BENCH,
        &[
            ("full load", Verdict::Pass, &[]),
            ("motor switched", Verdict::Pass, &[]),
            ("stable, alone", Verdict::Pass, &[]),
            ("stable, 10 µF connected", Verdict::Pass, &[]),
            ("stable, 220 µF connected", Verdict::Fail, narrow),
            ("stable, 1000 µF connected", Verdict::Fail, narrow),
            ("stable, 220 µF connected, with C_FF", Verdict::Pass, &[]),
            ("static load", Verdict::Pass, &[]),
            ("mains falls", Verdict::Pass, &[]),
            ("hum", Verdict::Pass, &[]),
            ("impedance", Verdict::Pass, &[]),
            ("limits", Verdict::Fail, &["pass_power_worst", "loads_not_started"]),
            ("start into a lamp", Verdict::Pass, &[]),
            ("start into 0.5 A", Verdict::Pass, &[]),
            ("start into 0.9 A", Verdict::Fail, stuck),
            ("start into 0.9 A, cold room", Verdict::Pass, &[]),
            ("start into 1.2 A", Verdict::Fail, stuck),
            ("short for 30 s", Verdict::Pass, &[]),
            ("raw side shorted", Verdict::Marginal, &[]),
            ("raw side shorted, 4700 µF connected", Verdict::Fail, &["reverse_current_peak"]),
        ],
    );
}

const LEVELS_V: &[Row] = &[
    ("full load", "output_level", 11.999_277_24),
    ("motor switched", "droop", 0.128_875_168),
    ("motor switched", "overshoot", 0.125_138_094),
    ("start into a lamp", "settled_level", 11.999_277_24),
    ("start into 0.5 A", "settled_level", 11.999_331_5),
    ("start into 0.9 A", "output_maximum", 0.182_857_929),
    ("start into 0.9 A, cold room", "settled_level", 11.999_306_4),
    ("start into 1.2 A", "output_maximum", 0.087_268_071),
];

/// s; the band of 60 mV is entered at 10 mV/µs.
const TIMES_S: &[Row] = &[
    ("motor switched", "recovery", 7.840_957e-6),
    ("motor switched", "release_recovery", 7.636_991e-6),
];

/// s; 10 to 15 ms after the edge begins. The first formula agrees to 50 ns, the second, of a lower
/// order, to 0.5 µs.
const STARTS_S: &[Row] = &[
    ("start into a lamp", "start_time", 10.129_156e-3),
    ("start into 0.5 A", "start_time", 10.145_254e-3),
    ("start into 0.9 A, cold room", "start_time", 15.404_846e-3),
];

/// s; alone the output leaves its window at 0.46 mV/µs, and 10 µV are 22 ns (the second formula, of a
/// lower order, is 52 ns off); with 4700 µF it falls by 19 V/s, what divider and amplifier draw, and 10 µV are 0.5 µs.
const HOLDS_S: &[Row] = &[
    ("raw side shorted", "hold_up", 6.173_504e-3),
    ("raw side shorted", "discharge_time", 24.213_144e-3),
];
const HOLDS_LOADED_S: &[Row] = &[("raw side shorted, 4700 µF connected", "hold_up", 12.644_561e-3)];

/// A; 10 µV are 45 nA through 220 Ω.
const BACKWARDS_A: &[Row] = &[
    ("raw side shorted", "reverse_current_peak", 0.022_544_463),
    ("raw side shorted, 4700 µF connected", "reverse_current_peak", 0.043_683_281),
];

#[test]
fn the_bench_supply_agrees_with_an_independent_integration_by_both_formulas() {
    let allowed = [(Method::Rodas4p, 50e-9, 22e-9), (Method::TrBdf2, 0.5e-6, 0.1e-6)];
    for (method, start_s, hold_s) in allowed {
        let all = outcomes(BENCH, method, true);
        hold_found(all, LEVELS_V, ACCURACY_V);
        hold_found(all, TIMES_S, 5e-9);
        hold_found(all, STARTS_S, start_s);
        hold_found(all, HOLDS_S, hold_s);
        hold_found(all, HOLDS_LOADED_S, 0.5e-6);
        hold_found(all, BACKWARDS_A, 1e-6);
    }
}

const LINEAR: &[steady::Row] = &[
    ("stable, alone", "phase_margin", "", 59.932_354_17),
    ("stable, alone", "loop_distance", "", 0.963_248_009_4),
    ("stable, 10 µF connected", "phase_margin", "", 55.198_405_61),
    ("stable, 10 µF connected", "gain_margin", "", 49.674_268_09),
    ("stable, 220 µF connected", "phase_margin", "", 25.598_992_02),
    ("stable, 220 µF connected", "loop_distance", "", 0.441_049_254_4),
    ("stable, 1000 µF connected", "phase_margin", "", 27.604_620_2),
    ("stable, 220 µF connected, with C_FF", "phase_margin", "", 68.590_252_98),
    ("stable, 220 µF connected, with C_FF", "gain_margin", "", 41.277_123_63),
    ("impedance", "output_impedance_peak", "", 0.168_859_560_1),
    ("impedance", "output_impedance", "at 100 Hz", 0.002_176_351_709),
    ("hum", "ripple_rejection", "at 100 Hz", 66.360_881_74),
];

/// V: a tenth of a microvolt of the levels' 87 µV.
const REGULATION: &[steady::Row] = &[("static load", "load_regulation", "", 86.542_1e-6)];

const USABLE: &[steady::Row] = &[("mains falls", "usable_input", "", 17.115_213_83)];

/// At a ten-thousandth: the regulator feeds 1 MΩ as well, and the power's peak is found among points.
const LIMITS: &[steady::Row] = &[
    ("limits", "limit_current", "", 2.195_857_0),
    ("limits", "short_current", "", 0.832_838_0),
    ("limits", "pass_power_worst", "", 22.338_520),
    ("limits", "stuck_voltage", "", 0.087_268_071),
    ("limits", "loads_not_started", "", 2.0),
];

/// A load of 0.9 A sticks where limit and load cross, and the tool says so in words, with the place.
#[test]
fn a_constant_current_sticks_where_it_meets_the_limit_and_is_told_to() {
    let all = outcomes(BENCH, Method::Rodas4p, true);
    for (test, place) in [("start into 0.9 A", "182.9 mV"), ("start into 1.2 A", "87.27 mV")] {
        let outcome = named(all, test);
        let found = outcome.measurements.iter().find(|m| m.name == "settled_level").unwrap();
        let told = found.reason.as_deref().unwrap();
        assert_eq!(told, format!("stuck at {place}"), "{test}");
    }
}

/// Closed form: before the short the ladder rests at 1.10 W, in it 16.92 W flow (both by the
/// estimate), P·R·(1 - e^(-t/τ)) of the slowest stage; at the end 79.7 °C. On the way back up the
/// limit more flows for 2 ms: at most 31 W, which 0.9 K/W with 3 ms turn into less than 6.3 K.
#[test]
fn exact_the_junction_warms_as_its_ladder_says() {
    let all = outcomes(BENCH, Method::Rodas4p, true);
    let fast = f64::exp(-30.0 / 120.0);
    let end_k = 273.15 + 45.0 + 16.92 * 1.4 + 2.4 * (16.92 * (1.0 - fast) + 1.10 * fast);
    let peak_k = value(named(all, "short for 30 s"), "junction_temperature");
    assert!(peak_k > end_k - 0.05 && peak_k < end_k + 6.3, "{peak_k} after {end_k}");
    let settled = value(named(all, "short for 30 s"), "short_current_settled");
    assert!((settled - 0.7857).abs() < 2e-4, "{settled}");
}

#[test]
fn the_bench_supply_at_rest_agrees_with_an_independent_solution() {
    let all = outcomes(BENCH, Method::Rodas4p, true);
    steady::hold_found(all, LINEAR, share(steady::LINEAR_SHARE));
    steady::hold_found(all, REGULATION, |_| 0.1e-6);
    steady::hold_found(all, USABLE, |_| steady::USABLE_V);
    steady::hold_found(all, LIMITS, share(1e-4));
}
